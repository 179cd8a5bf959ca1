package postgres

import (
	"strconv"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// An Entity is the person or company behind ranches, as the disclosure rules count them.
type Entity struct {
	ID      access.ID
	Name    string
	Vouched bool
}

// Entities lists the owners of ranches by name, and whether a coordinator vouched for them. The coordinator; others get
// errs.Forbidden.
func (tx *Tx) Entities() ([]Entity, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var list []Entity
	err := tx.rows(&list, `SELECT e.id, e.name, e.vouched_at IS NOT NULL AS vouched FROM tussock.entity e
		WHERE e.coop_id = @coop AND EXISTS (SELECT 1 FROM tussock.ranch r WHERE r.coop_id = e.coop_id AND r.entity_id = e.id AND r.erased_at IS NULL) ORDER BY e.name`, nil)
	return list, err
}

// Vouch says that each of these owners is somebody of their own, not another name of a member. Until then, or until a
// bulletin has had results of theirs, they are in no number of landowners. The coordinator; others get errs.Forbidden.
func (tx *Tx) Vouch(owners ...access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	for _, id := range owners {
		if !isID(id) {
			return errNoMember
		}
		if err := tx.must(errNoMember, `UPDATE tussock.entity SET vouched_at = coalesce(vouched_at, now()), vouched_by = coalesce(vouched_by, @me)
			WHERE coop_id = @coop AND id = @id`, map[string]any{"id": id}); err != nil {
			return err
		}
	}
	return nil
}

// VouchAll vouches for every owner there is now.
func (tx *Tx) VouchAll() error {
	list, err := tx.Entities()
	if err != nil {
		return err
	}
	var ids []access.ID
	for _, e := range list {
		ids = append(ids, e.ID)
	}
	return tx.Vouch(ids...)
}

// ApproveOrder gives an order that waits for a second coordinator its second word, and wakes the press. The coordinator, and
// not the one who ordered: others get errs.Forbidden. errs.NotFound where nothing waits.
func (tx *Tx) ApproveOrder(order access.ID) error {
	if err := tx.decide("approve_order", order); err != nil {
		return err
	}
	_, err := tx.exec("NOTIFY "+orders, nil)
	return err
}

// DeclineOrder turns such an order down. Any coordinator, the one who ordered too.
func (tx *Tx) DeclineOrder(order access.ID) error { return tx.decide("decline_order", order) }

func (tx *Tx) decide(function statement, order access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(order) {
		return errNoOrder
	}
	var ok bool
	if _, err := tx.row(&ok, "SELECT tussock."+function+"(CAST(@order AS uuid))", map[string]any{"order": order}); err != nil {
		return err
	}
	if ok {
		return nil
	}
	var mine bool
	if found, err := tx.row(&mine, "SELECT state = 'asked' AND ordered_by = @me FROM tussock.press_order WHERE coop_id = @coop AND id = @order", map[string]any{"order": order}); err != nil {
		return err
	} else if found && mine {
		return errs.New(errs.Forbidden, words.Mark("You ordered it, so another coordinator must approve it."))
	}
	return errNoOrder
}

// A Retraction is a cell that was taken back, or a figure from models, without its values.
type Retraction struct {
	Season      int
	RetractedAt time.Time
	bulletin.Cell
	Figure string // the kind of figure, whose place is the cell's Area; "" for a cell
}

// Retract takes back, for good and without replacement, the published cell, every other that it is part of, and the figures
// from models that read its rows, of later seasons too. It returns how many cells it took. The coordinator; others get errs.Forbidden. errs.NotFound where the coordinator sees
// no such cell.
func (tx *Tx) Retract(season int, cell bulletin.Cell) (int, error) {
	if err := tx.coordinator(); err != nil {
		return 0, err
	}
	var rows []struct {
		Row, Season       int
		Area, Substrate   *string
		Measure, Predator string
	}
	err := tx.rows(&rows, `SELECT row, season, area, substrate, measure, predator FROM pub.cell
		WHERE coop_id = @coop AND season = @season ORDER BY row`, map[string]any{"season": season})
	if err != nil {
		return 0, err
	}
	var cells []bulletin.Cell
	for _, r := range rows {
		cells = append(cells, bulletin.Cell{Season: r.Season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator})
	}
	var which []string
	for _, i := range bulletin.Containing(cells, cell) {
		which = append(which, strconv.Itoa(rows[i].Row))
	}
	if len(which) == 0 {
		return 0, errs.New(errs.NotFound, "There is no such figure.")
	}
	var n int
	_, err = tx.row(&n, "SELECT tussock.retract(@season, CAST(CAST(@rows AS text) AS integer[]))", map[string]any{"season": season, "rows": "{" + strings.Join(which, ",") + "}"})
	return n, err
}

// Retractions lists what was taken back of what the actor could see, latest first. Everybody who sees bulletins.
func (tx *Tx) Retractions() ([]Retraction, error) {
	var rows []struct {
		RetractedAt       time.Time
		Season            int
		Area, Substrate   *string
		Measure, Predator string
		Figure            string
	}
	err := tx.rows(&rows, `SELECT * FROM (
			SELECT retracted_at, season, row, area, substrate, measure, predator, '' AS figure FROM pub.retraction WHERE coop_id = @coop
			UNION ALL SELECT retracted_at, season, row, place, NULL, '', '', kind FROM pub.figure_retraction WHERE coop_id = @coop) x
		ORDER BY retracted_at DESC, season, figure, row`, nil)
	list := make([]Retraction, len(rows))
	for i, r := range rows {
		list[i] = Retraction{Season: r.Season, RetractedAt: r.RetractedAt, Figure: r.Figure,
			Cell: bulletin.Cell{Season: r.Season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator}}
	}
	return list, err
}
