package postgres

import (
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
)

// What an owner can show of a season under the ranch's own name.
const (
	ShowSurvival = "survival" // of 100 simulated nests, those that lasted four weeks
	ShowCover    = "cover"    // clumps an acre
)

// A Showing is one figure of one season under a ranch's own name, as it was on the day its owner chose to show it.
type Showing struct {
	ID        access.ID
	Ranch     access.ID
	RanchName string
	Season    int
	Item      string
	Estimate  float64
	Low, High float64 // 0 where the figure has no range
	PutAt     time.Time
	// Out tells that it can be seen: the season's bulletin is out, and was made as if everybody knew the owner's numbers.
	Out bool
}

var errNoShowing = errs.New(errs.NotFound, "There is no such figure.")

const showingColumns = `SELECT s.id, s.ranch_id AS ranch, s.name AS ranch_name, s.season, s.item, coalesce(s.estimate, 0) AS estimate, coalesce(s.low, 0) AS low, coalesce(s.high, 0) AS high, s.put_at,
		EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = s.coop_id AND b.season = s.season AND b.published_at > s.put_at) AS out
	FROM tussock.showcase s WHERE s.coop_id = @coop AND s.ended_at IS NULL`

// Showings lists what owners show under their ranch's name and is out, the latest season first. Everybody who sees
// bulletins.
func (tx *Tx) Showings() ([]Showing, error) {
	var list []Showing
	err := tx.rows(&list, "SELECT * FROM ("+showingColumns+") x WHERE x.out ORDER BY x.season DESC, x.ranch_name, x.item", nil)
	return list, err
}

// OwnShowings lists what is shown of a ranch, or will be. Those who may open it; others get errs.NotFound.
func (tx *Tx) OwnShowings(ranch access.ID) ([]Showing, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var list []Showing
	err := tx.rows(&list, showingColumns+" AND s.ranch_id = @ranch ORDER BY s.season DESC, s.item", map[string]any{"ranch": ranch})
	return list, err
}

// SeasonOpen tells whether a season's bulletin is neither out nor being made.
func (tx *Tx) SeasonOpen(season int) (open bool, err error) {
	_, err = tx.row(&open, "SELECT tussock.season_open(@season)", map[string]any{"season": season})
	return open, err
}

// Show puts a figure up. It appears with the season's bulletin, in which the owner protects nobody: errs.Conflict where
// that is out or being made. Only the owner: anybody else gets errs.NotFound.
func (tx *Tx) Show(s Showing) error {
	if _, err := tx.Ranch(s.Ranch); err != nil {
		return err
	}
	open, err := tx.SeasonOpen(s.Season)
	if err != nil {
		return err
	}
	if !open {
		return errs.New(errs.Conflict, "That season’s bulletin is out or being made. A figure beside it would show something of the neighbors who stand in it with you.")
	}
	return tx.must(errNoRanch, `INSERT INTO tussock.showcase (coop_id, ranch_id, entity_id, name, season, item, estimate, low, high, put_by)
		SELECT r.coop_id, r.id, r.entity_id, r.name, @season, @item, @estimate, @low, @high, @me FROM tussock.ranch r WHERE r.coop_id = @coop AND r.id = @ranch`,
		map[string]any{"ranch": s.Ranch, "season": s.Season, "item": s.Item, "estimate": s.Estimate, "low": s.Low, "high": s.High})
}

// TakeDown takes a figure down: as if it had never been up where nobody could see it yet, else from now on, and the gate
// goes on counting its owner as known. Only the owner; others get errs.NotFound.
func (tx *Tx) TakeDown(id access.ID) error {
	if !isID(id) {
		return errNoShowing
	}
	args := map[string]any{"id": id}
	n, err := tx.execOfMine("DELETE FROM tussock.showcase WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND ended_at IS NULL", args)
	if err != nil || n > 0 {
		return err
	}
	return tx.mustOfMine(errNoShowing, "UPDATE tussock.showcase SET ended_at = now() WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND ended_at IS NULL", args)
}
