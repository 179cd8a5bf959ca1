// Package bulletin makes the one frozen publication of a season from all ranches' values: the cells that members see
// beside their own figures.
//
// A bulletin is computed once, the same for every reader, and never computed again for a season that has one. What
// may stand in it is decided by package disclosure; this package decides what to ask it about.
//
// # What is counted
//
// Rows of ranches whose owner lets them be counted (level 1 or above). Ranches of one owner are one entity. Each
// measure has its own n: entities with nests that were looked at, with belts, or with taken nests that left remains.
// An owner who publishes figures under the own name (level 3) is counted in the figures and in no n; so is one who is
// new and whom no coordinator has vouched for.
//
// # What is published
//
// Survival is cut into atoms of substrate by place. A place is an area; or a group of neighbouring areas where one
// of them could not show every standard substrate by itself; or, where a place without neighbours could not, that with
// the next smallest, if it makes more figures. The standard substrates are those that pass the rules for the whole
// cooperative and hold a tenth of its nests; nests in other plants are in no figure, so that no total minus the rest
// leads to them. Where one place fails in a substrate, that substrate is given for the whole cooperative only.
//
// "All substrates" is the plain mean of the standard substrates' figures, given where all of them pass the rules: it is
// a function of the same atoms' totals. Standardising over substrates that fail would be another matter: with weights
// that differ from cell to cell, a combination of such figures can leave one substrate, and in it one owner. Beside it
// stands the crude rate, of the nests in all standard substrates as they were put out, where the mean is not held for what
// it could tell: it is a function of the same totals too. It moves with the mix of plants, and no ranch is held against it.
//
// Density counts the clumps of all plants, by place where every place passes, else for the whole cooperative. It is
// finer than a band only from ten entities on, and then only for a fixed roster of ranches: see density.go.
//
// The predator mix is given for the whole cooperative only. By place, an animal that is named for the whole and for
// all places but one would be known for that one; naming only what is common in every place leaves little.
//
// # What is checked
//
// Each cell by the rules of package disclosure on its amounts, and by the interval audit; all totals of all bulletins
// together by the span audit. A season's bulletin is made once. Its one final revision must change enough entities'
// results: see revise.go. What the gate decided is in the log, for the next bulletins.
//
// # Intervals
//
// Nests of one owner share luck, so an interval is wider than for independent nests. How much wider is one number for a
// measure and season, rounded up, and where owners are few a fixed one (disclosure.Scatter): the scatter of each cell by
// itself would tell two insiders whether the others are alike. Survival has two, for one substrate and for all together:
// in all of them an owner has more nests, and they share luck across substrates too.
//
// # Figures
//
// Beside the cells stand figures from models over all seasons up to the bulletin's, which read more than totals: the
// proof for cells says nothing about them. They are given for the whole cooperative and for places that have cells, from
// ten landowners on, none with more than a quarter of the nests. Every landowner in turn is left out and everything
// fitted again; a number that moves by more than one step of its grid goes to a coarser grid, and where it moves on
// the coarsest too, it is not shown. From sixty landowners on, one step of the models, with room for its error, tells
// for most that they move nothing, and only the others are left out in full: three hundred ranches of five seasons take
// a few seconds.
//
// The JSON bodies, one type a kind, with null for what is not shown; each has nests, transects and belts as well (Basis):
//
//	standardised  {entities, substrates, rates: [{season, substrate, estimate, low, high}]}      Standardised
//	trend         {entities, seasons, yearly: {estimate, low, high}, verdict,
//	               ranks: {tau, slope, chance}}                                                   Trend
//	cover         {entities, gaps: [{a, b, curve: [{density, estimate, low, high}],
//	               crossing: {said, estimate, low, high}}], mark, gain: {estimate, low, high}}    Cover
//	limits        {entities, survival, cover, cover_short, losses_high, lasting_well, verdict,
//	               talk: {first, not_first}}                                                      Limits
//	quality       {entities, first_on_day, second_on_day, lost_from_view, known_end,
//	               open_questions, ranches: [{season, ranches}]}                                  Quality
package bulletin

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"tussock/internal/survey"
)

// The measures of a bulletin.
const (
	Survival28    = "survival_28"     // the share of simulated nests intact on day 28
	ClumpsPerAcre = "clumps_per_acre" // clumps big enough to nest in, an acre
	PredatorShare = "predator_share"  // the share of a predator in the taken nests that left remains
	// SurvivalCrude is that share of the nests in all standard substrates, each nest weighing the same.
	SurvivalCrude = "survival_28_crude"
	// SurvivalSpread is how landowners' own survivals to day 28 lie apart: the estimate is the median, the ends are the
	// quartiles, where there are enough landowners for those.
	SurvivalSpread = "survival_28_spread"
)

// OtherOrUnknown is the part of a predator mix that is not named: animals too rare to name, and remains that tell none.
const OtherOrUnknown = "other or unknown"

// A Member is one ranch on the roster of a season.
type Member struct {
	Ranch   string
	Entity  string // the person or company behind it; the ranch itself where empty
	Area    string // the cooperative's own area, "" where none is given
	Consent int    // the owner's consent level: 0 is private and counted nowhere
	// Unvouched is an owner that the coordinator has not vouched for: not in any number of entities before a bulletin
	// has had results of theirs.
	Unvouched bool
	ID        string // stays where the ranch is renamed; the name where empty
}

// An Area is a part of the cooperative. Areas of one Group are neighbours that are published together where one of
// them has too few landowners to stand alone; an area without a Group has no such neighbours.
type Area struct {
	Name, Group string
}

// Input is what a bulletin is composed from.
type Input struct {
	Data   *survey.Data // of any number of seasons; only rows of Season and of ranches on the Roster count
	Roster []Member     // as it stands at the season's opening
	Areas  []Area
	Season int
	// Earlier are the bulletins already frozen, each with its log: the newest before Season says which season's rows the
	// partition is planned from, and all together what may not be given away beside them.
	Earlier []Bulletin
	// Final asks for the one revision of a season that has its bulletin.
	Final bool
	// WithFigures asks for the figures from models, which take seconds where cells take none.
	WithFigures bool
	Open        map[string]bool // the ranches whose sheets of the season have questions left open; nil where nobody knows
	Version     string          // of the program that composes
	Seed        uint64          // of random numbers
	Salt        string          // a secret of the cooperative for the hash and the tokens in logs, "" where no press composes
}

// A Bulletin is the publication of one season.
type Bulletin struct {
	Season int
	Places []Place // which published place each area belongs to, by area
	Cells  []Cell  // published and withheld, in a fixed order
	// Figures are those from models, for the whole cooperative first, each place's together. A final revision has those
	// of the first edition.
	Figures []Figure
	Version string // the program that composed it, "" where nobody said
	Seed    uint64 // of random numbers. No figure of today's uses any; a bulletin says so with its 0
	Hash    string // HMAC-SHA-256 of the JSON of season, version, seed, places, published cells and figures, in hexadecimal
	// Edition is 1, or 2 for the final revision of a season.
	Edition int
	Log     Log `json:"-"` // for the press alone
	// Verdicts are for the coordinator's preview: which numbers of figures are shown and which held.
	Verdicts []Verdict `json:"-"`
}

// A Place says under which label an area's figures are published: its own name, its group's areas joined by " + ",
// or "" where only the whole cooperative is published.
type Place struct {
	Area, Label string
}

// A Cell is one published number, or the fact that it is withheld. Its JSON is all a reader may ever be given.
type Cell struct {
	Season    int     `json:"season"`
	Area      *string `json:"area"`      // the label of a place; nil is the whole cooperative
	Substrate *string `json:"substrate"` // nil is all substrates, standardised but for SurvivalCrude
	Measure   string  `json:"measure"`
	Predator  string  `json:"predator"` // for PredatorShare, else ""
	Published bool    `json:"published"`
	// Estimate, Low and High are on the grids of package disclosure: rates as fractions of 1, density in clumps an
	// acre. All are nil where the cell is withheld. Estimate alone is nil where only a band is published (density at
	// five to nine landowners, survival where all do nearly alike at an end of the scale): Low and High are then the
	// ends of the band, and a nil High means "or more".
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	Entities string   `json:"entities"` // "5-9", "10-19", "20-49", "50+"; "" where withheld
	Basis
	// HeldBecause is for the eyes of whoever runs the cooperative or the command line, never for a members' page.
	HeldBecause string `json:"held_because"`
	// N is the number of entities behind the cell, and Gate the number that the reader's gate in the database goes by: the
	// same, or fewer where the cell with others tells of fewer (see gates). They are never shown.
	N    int `json:"-"`
	Gate int `json:"-"`
}

// MarshalJSON writes the contract's form: null where there is nothing to say.
func (c Cell) MarshalJSON() ([]byte, error) {
	type plain Cell // without this method
	orNull := func(s string) *string {
		if s == "" {
			return nil
		}
		return &s
	}
	return json.Marshal(struct {
		plain
		Predator    *string `json:"predator"`
		Entities    *string `json:"entities"`
		HeldBecause *string `json:"held_because"`
	}{plain(c), orNull(c.Predator), orNull(c.Entities), orNull(c.HeldBecause)})
}

// seal fills the hash. What is held is not in it. What some readers may not see is: so it is keyed with the cooperative's
// secret, which the press alone has, and confirms no reader's guess of what is hidden from them.
func (b *Bulletin) seal(secret string) error {
	published := slices.DeleteFunc(slices.Clone(b.Cells), func(c Cell) bool { return !c.Published })
	text, err := json.Marshal(struct {
		Season  int
		Version string
		Seed    uint64
		Places  []Place
		Cells   []Cell
		Figures []Figure
	}{b.Season, b.Version, b.Seed, b.Places, published, b.Figures})
	if err != nil {
		return fmt.Errorf("seal bulletin %d: %w", b.Season, err)
	}
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write(text)
	b.Hash = hex.EncodeToString(mac.Sum(nil))
	return nil
}
