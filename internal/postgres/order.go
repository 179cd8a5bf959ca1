package postgres

import (
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// What a press order asks for.
const (
	PreviewKind = "preview" // what would be published and what held, and why: no figures
	PublishKind = "publish" // freeze the season's bulletin
	FinalKind   = "final"   // the one final revision of a season whose bulletin is out
)

// The states of a press order.
const (
	Unapproved = "asked" // waits for a second coordinator's word
	Waiting    = "waiting"
	Working    = "working"
	Done       = "done"
	Failed     = "failed"
)

// A PressOrder asks the press for a preview or for the season's bulletin.
type PressOrder struct {
	ID         access.ID
	Season     int
	Kind       string
	State      string
	OrderedBy  string
	Mine       bool // ordered by the actor
	OrderedAt  time.Time
	ApprovedBy string    // the second coordinator, "" where none was needed or none has
	FinishedAt time.Time // zero until then
	Note       string    // why it failed: a sentence for the coordinator
}

// A BulletinHead says that a season's bulletin exists.
type BulletinHead struct {
	Season      int
	Number      int // counts a cooperative's bulletins from 1
	PublishedAt time.Time
	Hash        string    // of the newest edition
	Version     string    // of the program that made that edition, "" for one from before it was kept
	Seed        uint64    // of random numbers; 0 where none were used
	RevisedAt   time.Time // zero where it was not
}

// FinalAfter is how long a bulletin has been out before its final revision may be ordered: late sheets are waited for, so
// that there are enough of them.
const FinalAfter = 30 * 24 * time.Hour

// OrderPress asks the press for a preview, a season's bulletin or its final revision, and wakes it. Where there are two
// coordinators or more, what is to be published waits for another's approval first (Unapproved); where there is one, their
// own confirmation does. The coordinator; others get errs.Forbidden. errs.Conflict where the season's bulletin is
// published already, where one such order waits, or where a final revision has no place.
func (tx *Tx) OrderPress(season int, kind string) (access.ID, error) {
	if err := tx.coordinator(); err != nil {
		return "", err
	}
	args := map[string]any{"id": newID(), "season": season, "kind": kind}
	var err error
	switch kind {
	case PreviewKind, PublishKind:
		err = tx.unpublished(args)
	case FinalKind:
		err = tx.revisable(season)
	default:
		err = errs.New(errs.Invalid, "Choose a preview or the bulletin itself.")
	}
	if err != nil {
		return "", err
	}
	var there bool
	ok, err := tx.row(&there, "SELECT true FROM tussock.press_order WHERE coop_id = @coop AND season = @season AND kind = @kind AND state = 'asked' LIMIT 1", args)
	if err != nil {
		return "", err
	}
	if ok {
		return "", errs.New(errs.Conflict, words.Mark("That waits for another coordinator's approval already."))
	}
	_, err = tx.exec(`INSERT INTO tussock.press_order (coop_id, id, season, kind, state, ordered_by, ordered_at)
		VALUES (@coop, @id, @season, @kind, CASE WHEN @kind = 'preview' OR tussock.coordinators() < 2 THEN 'waiting' ELSE 'asked' END, @me, @now)`, args)
	if err != nil {
		return "", err
	}
	_, err = tx.exec("NOTIFY "+orders, nil)
	return args["id"].(access.ID), err
}

func (tx *Tx) unpublished(args map[string]any) error {
	var there bool
	ok, err := tx.row(&there, "SELECT true FROM pub.bulletin WHERE coop_id = @coop AND season = @season", args)
	if err == nil && ok {
		err = errs.New(errs.Conflict, sentences["bulletin_pkey"])
	}
	return err
}

// revisable tells whether a season may have its final revision: its bulletin is the newest, has been out long enough and
// was not revised.
func (tx *Tx) revisable(season int) error {
	heads, err := tx.Bulletins()
	if err != nil {
		return err
	}
	for i, h := range heads { // latest season first
		switch {
		case h.Season != season:
			continue
		case i > 0:
			return errs.New(errs.Conflict, words.Mark("The next bulletin is out; what came late counts there."))
		case !h.RevisedAt.IsZero():
			return errs.New(errs.Conflict, sentences["revision_pkey"])
		case tx.now.Before(h.PublishedAt.Add(FinalAfter)):
			return errs.New(errs.Conflict, words.Mark("A final revision can be ordered once the bulletin has been out for 30 days."))
		}
		return nil
	}
	return errs.New(errs.Conflict, words.Mark("That season has no bulletin to revise."))
}

// orders is the channel on which a waiting press hears of a new order.
const orders = "tussock_press"

// PressOrders lists the orders, latest first. The coordinator; others get errs.Forbidden.
func (tx *Tx) PressOrders() ([]PressOrder, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []struct {
		ID          access.ID
		Season      int
		Kind, State string
		OrderedBy   string
		ApprovedBy  string
		Mine        bool
		OrderedAt   time.Time
		FinishedAt  *time.Time
		Note        string
	}
	err := tx.rows(&rows, `SELECT o.id, o.season, o.kind, o.state, coalesce(p.name, '') AS ordered_by, coalesce(q.name, '') AS approved_by,
			o.ordered_by = @me AS mine, o.ordered_at, o.finished_at, o.note
		FROM tussock.press_order o LEFT JOIN tussock.person p ON p.coop_id = o.coop_id AND p.id = o.ordered_by
		LEFT JOIN tussock.person q ON q.coop_id = o.coop_id AND q.id = o.approved_by
		WHERE o.coop_id = @coop ORDER BY o.ordered_at DESC, o.id`, nil)
	list := make([]PressOrder, len(rows))
	for i, r := range rows {
		list[i] = PressOrder{ID: r.ID, Season: r.Season, Kind: r.Kind, State: r.State, OrderedBy: r.OrderedBy, Mine: r.Mine,
			OrderedAt: r.OrderedAt, ApprovedBy: r.ApprovedBy, Note: r.Note}
		if r.FinishedAt != nil {
			list[i].FinishedAt = *r.FinishedAt
		}
	}
	return list, err
}

// Preview returns the cells of a finished preview, published or held and why, without figures. The coordinator;
// others get errs.Forbidden. errs.NotFound where there is no such order.
func (tx *Tx) Preview(order access.ID) ([]bulletin.Cell, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	if !isID(order) {
		return nil, errNoOrder
	}
	args := map[string]any{"order": order}
	var there bool
	ok, err := tx.row(&there, "SELECT true FROM tussock.press_order WHERE coop_id = @coop AND id = @order", args)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, errNoOrder
	}
	var rows []cellRow
	err = tx.rows(&rows, `SELECT season, area, substrate, measure, predator, published, entities, held_because
		FROM tussock.press_preview WHERE coop_id = @coop AND order_id = @order ORDER BY row`, args)
	return cellsOf(rows), err
}

// PreviewFigures returns which numbers of figures from models a finished preview would show or hold and why, without
// values, in the order of the bulletin. The coordinator; others get errs.Forbidden. errs.NotFound where there is no such
// order.
func (tx *Tx) PreviewFigures(order access.ID) ([]bulletin.Verdict, error) {
	if _, err := tx.Preview(order); err != nil {
		return nil, err
	}
	var list []bulletin.Verdict
	err := tx.rows(&list, `SELECT kind, place, number, held_because FROM tussock.press_preview_figure
		WHERE coop_id = @coop AND order_id = @order ORDER BY row`, map[string]any{"order": order})
	return list, err
}

type cellRow struct {
	Season              int
	Area, Substrate     *string
	Measure, Predator   string
	Published           bool
	Estimate, Low, High *float64
	Entities            string
	HeldBecause         string

	Nests, Transects, Belts *int
}

func cellsOf(rows []cellRow) []bulletin.Cell {
	cells := make([]bulletin.Cell, len(rows))
	for i, r := range rows {
		cells[i] = bulletin.Cell{Season: r.Season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator,
			Published: r.Published, Estimate: r.Estimate, Low: r.Low, High: r.High, Entities: r.Entities, HeldBecause: r.HeldBecause,
			Basis: bulletin.Basis{Nests: r.Nests, Transects: r.Transects, Belts: r.Belts}}
	}
	return cells
}

// Bulletins lists what is published, latest season first. Everybody who sees bulletins; a hand has none.
func (tx *Tx) Bulletins() ([]BulletinHead, error) {
	var rows []struct {
		Season, Number int
		PublishedAt    time.Time
		Hash, Version  string
		Seed           int64
		RevisedAt      *time.Time
	}
	err := tx.rows(&rows, `SELECT b.season, b.number, b.published_at, coalesce(r.hash, b.hash) AS hash, coalesce(r.version, b.version) AS version,
			coalesce(r.seed, b.seed) AS seed, r.published_at AS revised_at
		FROM pub.bulletin b LEFT JOIN pub.revision r ON r.coop_id = b.coop_id AND r.season = b.season
		WHERE b.coop_id = @coop ORDER BY b.season DESC`, nil)
	list := make([]BulletinHead, len(rows))
	for i, r := range rows {
		list[i] = BulletinHead{Season: r.Season, Number: r.Number, PublishedAt: r.PublishedAt, Hash: r.Hash, Version: r.Version, Seed: uint64(r.Seed)}
		if r.RevisedAt != nil {
			list[i].RevisedAt = *r.RevisedAt
		}
	}
	return list, err
}

// Cells returns the published cells of a season (0: of all) that the actor may see, of its newest edition and without
// what was taken back, in the order of the bulletin. A
// cell on too few landowners for this actor, or known to them but for too few, is not there: as if never published.
func (tx *Tx) Cells(season int) ([]bulletin.Cell, error) {
	var rows []cellRow
	err := tx.rows(&rows, `SELECT season, area, substrate, measure, predator, true AS published, estimate, low, high, entities, nests, transects, belts
		FROM pub.cell WHERE coop_id = @coop AND (@season = 0 OR season = @season) ORDER BY season, row`, map[string]any{"season": season})
	return cellsOf(rows), err
}

// Places returns under which label each area's figures of a season are published. Everybody who sees bulletins.
func (tx *Tx) Places(season int) ([]bulletin.Place, error) {
	var list []bulletin.Place
	err := tx.rows(&list, "SELECT area, label FROM pub.place WHERE coop_id = @coop AND season = @season ORDER BY area", map[string]any{"season": season})
	return list, err
}
