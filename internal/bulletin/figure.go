package bulletin

import (
	"encoding/json"
	"fmt"
)

// The kinds of figures that a bulletin freezes beside its cells.
const (
	StandardisedKind = "standardised" // body: Standardised
	TrendKind        = "trend"        // body: Trend
	CoverKind        = "cover"        // body: Cover
	LimitsKind       = "limits"       // body: Limits
	QualityKind      = "quality"      // body: Quality
)

// A Figure is one frozen figure from a model, or from counts that are no totals of cells: of the whole cooperative or of
// a place with ten landowners at least, none with more than a quarter of the nests.
type Figure struct {
	Season int             `json:"season"`
	Kind   string          `json:"kind"`
	Place  *string         `json:"place"` // the label of a place; nil is the whole cooperative
	Body   json.RawMessage `json:"body"`  // the JSON of the kind's type
	// N is the number of entities behind the figure, for the reader's gate in the database. It is never shown.
	N int `json:"-"`
}

// Into decodes the body into the type of the figure's kind.
func (f Figure) Into(body any) error {
	if err := json.Unmarshal(f.Body, body); err != nil {
		return fmt.Errorf("figure %s of %d: %w", f.Kind, f.Season, err)
	}
	return nil
}

// Rewritten returns the figure with its body as its type writes it: the same values, in the order and spelling that the
// hash of a bulletin is made of.
func (f Figure) Rewritten() (Figure, error) {
	body := map[string]any{
		StandardisedKind: &Standardised{}, TrendKind: &Trend{}, CoverKind: &Cover{}, LimitsKind: &Limits{}, QualityKind: &Quality{},
	}[f.Kind]
	if body == nil {
		return f, fmt.Errorf("there is no kind of figure %q", f.Kind)
	}
	err := f.Into(body)
	if err == nil {
		f.Body, err = json.Marshal(body)
	}
	return f, err
}

// A Value is a published number with its 95 % interval, rounded to its grid, the interval outward on steps twice as wide. The
// interval is chance's, widened by one effect on coarse steps for how much landowners differ, and not the model's own: see
// ranges. Where it is not shown all three are nil; the reader is told "not shown" and no reason.
type Value struct {
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

// Standardised is the survival of simulated nests to day 28 on a ranch and transect of which nothing is known, from
// the regional model of all seasons up to the bulletin's.
type Standardised struct {
	Basis
	Entities   string   `json:"entities"`   // the band
	Substrates []string `json:"substrates"` // the standard ones
	// Rates has every season, rising, and in each first all substrates in equal shares, then each of Substrates: a
	// row that is not shown stands there without a number.
	Rates []StandardisedRate `json:"rates"`
}

// A StandardisedRate is the survival of a season and substrate, as a fraction of 1.
type StandardisedRate struct {
	Season    int     `json:"season"`
	Substrate *string `json:"substrate"` // nil is all of them, in equal shares
	Value
}

// Verdicts on a trend. They follow from the published interval.
const (
	Better        = "better"          // nests are lost more slowly from year to year
	Worse         = "worse"           // faster
	NoClearChange = "no clear change" // the interval holds both
	CannotTell    = "can't tell yet"  // fewer than three seasons, or not shown
)

// Trend is the change from year to year.
type Trend struct {
	Basis
	Entities string `json:"entities"`
	Seasons  []int  `json:"seasons"`
	// Yearly is the daily hazard of a year as a multiple of the year's before, from the regional model with the season
	// as a number: above 1, nests are lost faster.
	Yearly  Value  `json:"yearly"`
	Verdict string `json:"verdict"`
	// Ranks is the Regional Kendall test with the ranches as locations, which takes no model.
	Ranks TrendRanks `json:"ranks"`
}

// TrendRanks is what the order of the years within each ranch says. Its three numbers are shown together or not at all.
type TrendRanks struct {
	Tau   *float64 `json:"tau"`   // pairs of years that go up less those that go down, as a share
	Slope *float64 `json:"slope"` // Sen's: the median change of survival to day 28 a year, as a fraction of 1
	// Chance is the two-sided p, rounded up to 0.01, 0.05, 0.1, 0.2, 0.5 or 1, as if good and bad years came to all ranches
	// alike: the covariance between ranches is at its upper bound.
	Chance *float64 `json:"chance"`
}

// What is said of a crossing.
const (
	CrossingFound = "found"
	NoCrossing    = "no crossing in the range seen"
	NotShown      = "not shown"
)

// Cover is what the density of cover goes together with. It is an association, never a promise.
type Cover struct {
	Basis
	Entities string `json:"entities"`
	// Gaps holds bunchgrass, or the commonest substrate where that is no standard one, against each other standard
	// substrate; for the whole cooperative only.
	Gaps []CoverGap `json:"gaps"`
	Mark float64    `json:"mark"` // the density that is commonly called enough, clumps an acre; common practice, no source
	// Gain is what survival to day 28 would change by, as a fraction of 1, were every site of the place below Mark at it,
	// going by sites of that density elsewhere.
	Gain Value `json:"gain"`
}

// A CoverGap holds two substrates against each other along the density of all clumps.
type CoverGap struct {
	A        string        `json:"a"`
	B        string        `json:"b"`
	Curve    []CoverPoint  `json:"curve"` // by density, rising; empty where not shown
	Crossing CoverCrossing `json:"crossing"`
}

// A CoverPoint is the daily hazard in A as a multiple of that in B at a density: above 1, nests in A are lost faster.
type CoverPoint struct {
	Density float64 `json:"density"` // clumps an acre, of a fixed list
	Value
}

// A CoverCrossing is the density at which the two do alike, in clumps an acre. Low and High are Fieller's interval, both
// nil where the data do not close it; an end far beyond the curve is given as 1.4 times beyond it.
type CoverCrossing struct {
	Said string `json:"said"` // CrossingFound, NoCrossing or NotShown; Value has numbers in the first case only
	Value
}

// Verdicts on what limits nests.
const (
	CoverShort  = "cover short"
	LossesHigh  = "cover fine but losses high"
	LastingWell = "lasting well"
	// CannotTell as well
)

// Limits is what seems to hold simulated nests back in a place and season. With D the density of all clumps and S the
// survival to day 28 over substrates, taken as independent,
//
//	P(cover short)  = P(D < 300)
//	P(losses high)  = P(D ≥ 300) · P(S ≤ ½)
//	P(lasting well) = P(D ≥ 300) · P(S > ½)
//
// each in steps of 0.1 between 0.1 and 0.9: none is certain. The verdict is the one
// whose published probability is four in five or more; else nobody can tell. Short cover
// comes first whatever survives: where there are few clumps, there are few places for nests. 300 and one half are common
// practice, no source.
type Limits struct {
	Basis
	Entities    string      `json:"entities"`
	Survival    Value       `json:"survival"` // as in Standardised
	Cover       Value       `json:"cover"`    // as in the cell of clumps an acre
	CoverShort  *float64    `json:"cover_short"`
	LossesHigh  *float64    `json:"losses_high"`
	LastingWell *float64    `json:"lasting_well"`
	Verdict     string      `json:"verdict"`
	Talk        *LimitsTalk `json:"talk"` // what to talk over; null with CannotTell
}

// LimitsTalk is what people commonly talk over first, and what is not the first thing. Never a prescription.
type LimitsTalk struct {
	First    string `json:"first"`
	NotFirst string `json:"not_first"` // "" where nothing is
}

// Quality is how well a season was carried out. Shares are fractions of 1 in steps of 0.05, so that 0 is less than 1 in
// 40; each is nil where not shown.
type Quality struct {
	Basis
	Entities      string   `json:"entities"`
	FirstOnDay    *float64 `json:"first_on_day"`   // of first checks, those on day 11 to 17
	SecondOnDay   *float64 `json:"second_on_day"`  // of second checks, those on day 25 to 31
	LostFromView  *float64 `json:"lost_from_view"` // of nests, those not found again
	KnownEnd      *float64 `json:"known_end"`      // of nests, those followed to a known end: a loss, or intact on day 25 or later
	SecondLooks   *float64 `json:"second_looks"`   // of nests, those that a second person looked at on their own
	SecondAgree   *float64 `json:"second_agree"`   // of second looks, those that found what the first person did
	OpenQuestions *float64 `json:"open_questions"` // of ranches with results, those whose sheets have questions left open
	// Ranches gives the band of the number of ranches with results, by season up to the bulletin's.
	Ranches []QualitySeason `json:"ranches"`
}

// A QualitySeason is the number of ranches with results in a season, as a band.
type QualitySeason struct {
	Season  int    `json:"season"`
	Ranches string `json:"ranches"` // "5-9", "10-19", "20-49", "50+"; "" where not shown
}
