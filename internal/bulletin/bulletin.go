// Package bulletin makes the one frozen publication of a season from all ranches' values: the cells that members see
// beside their own figures.
//
// A bulletin is computed once, the same for every reader, and never computed again for a season that has one. What
// may stand in it is decided by package disclosure.
package bulletin

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"tussock/internal/survey"
)

// The measures of a bulletin.
const (
	Survival28    = "survival_28"     // the share of simulated nests intact on day 28
	ClumpsPerAcre = "clumps_per_acre" // clumps big enough to nest in, an acre
	PredatorShare = "predator_share"  // the share of taken nests that a predator took
)

// A Member is one ranch on the roster of a season.
type Member struct {
	Ranch   string
	Entity  string // the person or company behind it; the ranch itself where empty
	Area    string // the cooperative's own area, "" where none is given
	Consent int    // the owner's consent level: 0 is private and counted nowhere
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
	// Earlier are the bulletins already frozen, oldest first.
	Earlier []Bulletin
}

// A Bulletin is the publication of one season.
type Bulletin struct {
	Season int
	Places []Place // which published place each area belongs to, by area
	Cells  []Cell  // published and withheld, in a fixed order
	Hash   string  // SHA-256 of the canonical JSON of season, places and cells, in hexadecimal
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
	Substrate *string `json:"substrate"` // nil is all substrates, standardised
	Measure   string  `json:"measure"`
	Predator  string  `json:"predator"` // for PredatorShare, else ""
	Published bool    `json:"published"`
	// Estimate, Low and High are on the grids of package disclosure: rates as fractions of 1, density in clumps an
	// acre. All are nil where the cell is withheld. Estimate alone is nil where only a band is published (density at
	// five to nine landowners): Low and High are then the ends of the band, and a nil High means "or more".
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	Entities string   `json:"entities"` // "5-9", "10-19", "20-49", "50+"; "" where withheld
	// HeldBecause is for the eyes of whoever runs the cooperative or the command line, never for a members' page.
	HeldBecause string `json:"held_because"`
	// N is the number of entities behind the cell, for the reader's gate in the database. It is never shown.
	N int `json:"-"`
}

// seal fills the hash.
func (b *Bulletin) seal() error {
	text, err := json.Marshal(struct {
		Season int
		Places []Place
		Cells  []Cell
	}{b.Season, b.Places, b.Cells})
	if err != nil {
		return fmt.Errorf("seal bulletin %d: %w", b.Season, err)
	}
	sum := sha256.Sum256(text)
	b.Hash = hex.EncodeToString(sum[:])
	return nil
}
