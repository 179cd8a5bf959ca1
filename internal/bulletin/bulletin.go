// Package bulletin makes the one publication of a season from all ranches' values: the cells that members see beside
// their own figures.
//
// # One season, once
//
// A bulletin is a function of one season's rows, as they were at its cut-off, and of the roster as it stood at the season's
// opening; from earlier bulletins it takes who was in them, and no result. It is composed once. What compares
// seasons (trends, windows, long-run means) is made by whoever reads, from published cells.
//
// # Who counts
//
// Rows of ranches whose owner lets them be counted (level 1 or above). Ranches of one owner are one entity. Each
// measure has its own number of entities: those with nests that were looked at, with belts, or with taken nests that left remains.
// An owner who publishes figures under the own name (level 3) is counted in the figures and in no number; so is one of whom it is
// not settled that there is somebody behind it.
//
// # What is published
//
// Every published number is a Cell. Survival to day 28 is given over all standard covers, each weighing the same; by cover; by
// cover at five densities of clumps; and by place. Clumps an acre, what the taken nests show, and how well the season was carried
// out and whether the model of survival fits are given for the whole cooperative, clumps by place too. The standard covers are those that pass the rules and
// hold a
// tenth of the nests; nests in other plants are in no figure.
//
// All figures on survival have one budget: what they tell together of any owner (disclosure.Policy.Learned). They are taken in
// that order, each where it fits beside those before it. Where not even the first fits, it is given by a wide
// range alone. Places are given where readers can tell something by them, else not at all.
//
// # Ranges
//
// A range holds the truth of landowners like these, and of seasons' lines like these, 95 times in 100: see span. It is
// reckoned from the estimate, numbers of nests, and two numbers that are published on coarse steps themselves, the design effect of lines and
// the spread between landowners. So it tells nothing that these do not.
package bulletin

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// The measures of a bulletin.
const (
	Survival28    = "survival_28"           // the share of simulated nests intact on day 28
	SurvivalAt    = "survival_28_at_clumps" // the same in a cover where there are Clumps an acre
	ClumpsPerAcre = "clumps_per_acre"       // clumps big enough to nest in, an acre
	PredatorShare = "predator_share"        // the share of a predator in the taken nests that left remains
	SignShare     = "sign_share"            // the share of taken nests by what they showed: Predator is one of Signs

	// DesignEffect is how many times lines widen the variance that nests with luck of their own would have, 1 at least.
	DesignEffect = "design_effect"
	// OwnerSpread is the standard deviation of the logarithm of the daily hazard between landowners.
	OwnerSpread = "owner_spread"
	// MixWeight is how many nests the cooperative's mix is worth where a landowner's own mix begins.
	MixWeight = "mix_weight"
)

// Measures are all of them, in the order of a bulletin.
var Measures = slices.Concat([]string{Survival28, SurvivalAt, ClumpsPerAcre, PredatorShare, SignShare, DesignEffect, OwnerSpread, MixWeight}, QualityMeasures, FitMeasures, LeftMeasures)

// OtherOrUnknown is the part of a predator mix that is not named: animals too rare to name.
const OtherOrUnknown = predator.Rest

// Signs are what a taken nest may show, in the order in which they are told.
var Signs = []string{NoSign, FitsSeveral, FitsOne}

// What a taken nest may show.
const (
	NoSign      = predator.NoSign
	FitsSeveral = predator.FitsSeveral
	FitsOne     = predator.FitsOne
)

// Clumps are the densities that SurvivalAt is given for, clumps an acre.
var Clumps = []float64{150, 225, 300, 375, 450}

// A Member is one ranch on the roster of a season.
type Member struct {
	Ranch   string
	Entity  string // the person or company behind it; the ranch itself where empty
	Area    string // the cooperative's own area, "" where none is given
	Consent int    // the owner's consent level: 0 is private and counted nowhere
	// Unsettled is an owner of whom it is not settled that somebody of its own is behind it: in no number of entities.
	Unsettled bool
	New       bool   // its owner was counted in no earlier season, and did not begin the cooperative
	ID        string // stays where the ranch is renamed; the name where empty
}

// An Area is a part of the cooperative. Areas of one Group are neighbours that are published together under its name where
// they cannot stand alone.
type Area struct {
	Name, Group string
}

// Input is what a bulletin is composed from.
type Input struct {
	Data       *survey.Data // the season's rows as they were at its cut-off; others are not looked at
	Roster     []Member     // as it stood at the season's opening
	Areas      []Area       // likewise
	Season     int
	Before     *Log            // of the newest bulletin before; nil where there is none
	Key        predator.Table  // to remains; the zero value is that of common practice
	KeyVersion int             // of Key; 0 is common practice
	Open       map[string]bool // the ranches whose sheets have questions left open; nil where nobody knows

	First, Last int // the days after set-out of the cooperative's checks; 0 is day 14 and day 28

	Version string // of the program that composes
	Salt    string // a secret of the cooperative for the hash and the tokens in logs, "" where no press composes
}

// A Bulletin is the publication of one season.
type Bulletin struct {
	Season  int
	Edition int      // 1, or 2 for the final revision
	Covers  []string // the standard covers, over which survival is standardised in equal shares
	Places  []Place  // which published place each area belongs to, by area
	Cells   []Cell   // published and withheld, in a fixed order
	Version string   // the program that composed it, "" where nobody said
	Key     KeyNote  // with which remains were read

	First, Last int    // the days of the checks that it counts by
	Hash        string // HMAC-SHA-256 of the JSON of season, version, covers, places and published cells, in hexadecimal
	Log         Log    `json:"-"` // for the press alone
}

// A KeyNote says with which key to remains a bulletin was made. The zero value is common practice.
type KeyNote struct {
	Version int    // of the cooperative's own
	Source  string // of its strengths, "" for common practice
	Counted bool   // at nests whose animal a camera settled; else they are assumed
}

// Held is how many cells are withheld.
func (b Bulletin) Held() (n int) {
	for _, c := range b.Cells {
		if !c.Published {
			n++
		}
	}
	return n
}

// A Place says under which label an area's figures are published: its own name, that of its group,
// or "" where only the whole cooperative is published.
type Place struct {
	Area, Label string
}

// A Cell is one published number, or the fact that it is withheld. Its JSON is all a reader may ever be given.
type Cell struct {
	Season    int      `json:"season"`
	Area      *string  `json:"area"`      // the label of a place; nil is the whole cooperative
	Substrate *string  `json:"substrate"` // nil is all substrates, standardised
	Measure   string   `json:"measure"`
	Predator  string   `json:"predator"` // for PredatorShare and SignShare, else ""
	Clumps    *float64 `json:"clumps"`   // for SurvivalAt, else nil
	Published bool     `json:"published"`
	// Estimate, Low and High are on the grids of package disclosure: rates as fractions of 1, density in clumps an
	// acre. All are nil where the cell is withheld. Estimate alone is nil where only a range or a band is published: Low and
	// High are then its ends, and a nil High means "or more", a nil Low "or less". Shares of how the season was carried out have no range.
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	Entities string   `json:"entities"` // "5-9", "10-19", "20-49", "50+"; "" where withheld
	Basis
	// HeldBecause is for the eyes of whoever runs the command line on files of their own, and is kept nowhere.
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
		Covers  []string
		Places  []Place
		Cells   []Cell
	}{b.Season, b.Version, b.Covers, b.Places, published})
	if err != nil {
		return fmt.Errorf("seal bulletin %d: %w", b.Season, err)
	}
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write(text)
	b.Hash = hex.EncodeToString(mac.Sum(nil))
	return nil
}

// A Log is who was in the bulletins so far, for the next one to be held against: no result is in it. It stays with the press, for it says
// who is counted. Entities and ranches are in it as tokens.
type Log struct {
	Cover  [][]Walked        // the ranches that clumps an acre was given for, each time: of places, then of the whole
	Places map[string]string // the place of each ranch
}

// Walked is a ranch with belts.
type Walked struct{ Entity, Ranch string }

// token stands for an entity or a ranch in the log. The salt keeps whoever only has the log from trying names.
func (c *composer) token(kind, name string) string {
	sum := sha256.Sum256([]byte(c.salt + "\n" + kind + "\n" + name))
	return hex.EncodeToString(sum[:])[:20]
}
