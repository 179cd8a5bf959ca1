package findings

import (
	"strconv"
	"strings"

	"tussock/internal/stat/mixed"
	"tussock/internal/stat/trend"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Pooled is the regional model: all ranches and seasons together, ranches and transects as random effects.
type Pooled struct {
	Nests      int `json:"nests"`
	Intervals  int `json:"intervals"`
	RanchCount int `json:"ranch_count"`
	Transects  int `json:"transects"`

	Fixed        []Effect      `json:"fixed"`    // on the complementary log-log scale
	RanchSD      *float64      `json:"ranch_sd"` // nil of one ranch, and where no model could be fitted
	TransectSD   *float64      `json:"transect_sd"`
	LogLik       *float64      `json:"loglik"`
	Converged    bool          `json:"converged"`
	Standardised []Prediction  `json:"standardised"`
	Ranches      []RanchEffect `json:"ranches"`
	Note         string        `json:"note"`

	Trend YearlyTrend `json:"trend"`
	Key   KeyScore    `json:"key"`
}

// YearlyTrend is the daily hazard of a year as a multiple of the year's before: above 1, nests are lost faster. It is nil
// where there is no trend to speak of. Said is the answer in words.
type YearlyTrend struct {
	HazardRatio Range  `json:"hazard_ratio"`
	Said        string `json:"said"`
}

// KeyScore is how well the key to remains tells who took the nests that a camera settled: the mean log probability of the
// right animal, at most 0, higher being better. See predator.Score.
type KeyScore struct {
	Cases   int      `json:"cases"`
	Tuned   *float64 `json:"tuned"`   // taught by the other camera nests
	Untuned *float64 `json:"untuned"` // by the table alone
	Flat    *float64 `json:"flat"`    // knowing nothing
}

// Effect is a fixed effect, nil where the data cannot tell it.
type Effect struct {
	Term     string   `json:"term"`
	Level    string   `json:"level"`
	Estimate *float64 `json:"estimate"`
	SE       *float64 `json:"se"`
	Low      float64  `json:"-"` // the ends of its interval
	High     float64  `json:"-"`
}

// Prediction is survival to day 28 in a season and substrate, averaged over ranches and transects.
type Prediction struct {
	Season    int              `json:"season"`
	Substrate survey.Substrate `json:"substrate"`
	Range
}

// RanchEffect is one ranch's steadied difference from the mean ranch on the complementary log-log scale: below 0 fewer are lost.
type RanchEffect struct {
	Ranch  string   `json:"ranch"`
	Effect *float64 `json:"effect"`
	SE     *float64 `json:"se"`
	Day28  Range    `json:"day28"`
}

// Pool fits the regional model.
func Pool(d *survey.Data, opt Options) *Pooled {
	intervals, nests := visitIntervals(d, nil)
	var mix map[string]float64
	if opt.Mix != nil {
		mix = map[string]float64{}
		for s, share := range opt.Mix {
			mix[string(s)] = share
		}
	}
	m := mixed.Pool(intervals, mixed.Options{SubstrateMix: mix})

	if n := len(opt.Waiting); n > 0 {
		var waits note
		waits.say(words.LaterCount("%d nest waits for an answer and is not counted yet.", "%d nests wait for answers and are not counted yet.", n))
		m.Notes = append(m.Notes, waits.String())
	}
	p := &Pooled{
		Nests: nests, Intervals: m.Intervals, RanchCount: m.Ranches, Transects: m.Transects,
		LogLik: number(m.LogLik), Converged: m.Converged,
		Fixed: []Effect{}, Standardised: []Prediction{}, Ranches: []RanchEffect{}, Note: strings.Join(m.Notes, " "),
	}
	if fitted := len(m.Fixed) > 0 && m.Fixed[0].Known; fitted {
		p.TransectSD = number(m.TransectSD)
		if m.Ranches > 1 {
			p.RanchSD = number(m.RanchSD)
		}
	}
	for _, e := range m.Fixed {
		effect := Effect{Term: e.Term, Level: e.Level}
		if e.Known {
			effect.Estimate, effect.SE = number(e.Estimate), number(e.SE)
			effect.Low, effect.High = e.Low, e.High
		}
		p.Fixed = append(p.Fixed, effect)
	}
	for _, s := range m.Standardised {
		p.Standardised = append(p.Standardised, Prediction{s.Season, survey.Substrate(s.Substrate), rangeOf(s.Estimate)})
	}
	for _, r := range m.RanchEffects {
		p.Ranches = append(p.Ranches, RanchEffect{r.Ranch, number(r.Effect), number(r.SE), rangeOf(r.Day28)})
	}
	last := 0 // the season whose key is asked
	for i := range d.Nests {
		last = max(last, d.Nests[i].Season)
	}
	y := trend.Fit(intervals)
	p.Trend = YearlyTrend{Said: TrendSaid(y.Line).String()}
	if y.Known {
		p.Trend.HazardRatio = Range{number(y.Yearly), number(y.Low), number(y.High)}
	}
	k := startKey(opt.table(last))
	if s := k.Score(k.cases(d.Nests)); s.Cases > 0 {
		p.Key = KeyScore{s.Cases, number(s.Tuned), number(s.Untuned), number(s.Flat)}
	}
	return p
}

func rangeOf(e mixed.Estimate) Range { return Range{number(e.Value), number(e.Low), number(e.High)} }

// Intervals returns each interval between two looks at a nest, as the regional model takes them. measure gives X of
// them; nil is none.
func Intervals(d *survey.Data, measure func(*survey.Nest) float64) []mixed.Interval {
	list, _ := visitIntervals(d, measure)
	return list
}

// visitIntervals is Intervals with the number of nests that have one.
func visitIntervals(d *survey.Data, measure func(*survey.Nest) float64) (list []mixed.Interval, nests int) {
	first := FirstChecksOf(d.Nests)
	kinds := map[[2]string]string{}
	for _, s := range d.Sites {
		kinds[[2]string{s.Ranch, s.Name}] = s.Type
	}
	for i := range d.Nests {
		n := &d.Nests[i]
		kind := kinds[[2]string{n.Ranch, n.Site}]
		if kind == "" {
			kind = kinds[[2]string{n.Ranch, ""}]
		}
		before := len(list)
		from, x := 0, 0.0
		if measure != nil {
			x = measure(n)
		}
		for _, v := range n.Visits {
			if v.State == survey.Lost {
				break
			}
			to := max(int(v.On-n.SetOn), from)
			if v.State != survey.Intact {
				to = first.LostBy(n, to, from)
			}
			if to > from {
				list = append(list, mixed.Interval{
					Ranch: n.Ranch, Transect: strings.Join([]string{n.Site, strconv.Itoa(n.Season), n.Transect}, "\x00"),
					Substrate: string(n.Substrate), SiteType: kind, Season: n.Season, X: x,
					From: float64(from), To: float64(to), Intact: v.State == survey.Intact,
				})
			}
			if v.State != survey.Intact {
				break
			}
			from = to
		}
		if len(list) > before {
			nests++
		}
	}
	return list, nests
}
