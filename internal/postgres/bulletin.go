package postgres

import (
	"strconv"
	"strings"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
)

// A BulletinHead says that a season's bulletin is out.
type BulletinHead struct {
	Season      int
	Number      int // counts a cooperative's bulletins from 1
	PublishedAt time.Time
	Hash        string    // of the newest edition
	Version     string    // of the program that made that edition, "" for one from before it was kept
	Covers      []string  // over which survival is standardized
	Held        int       // how many figures are withheld
	First, Last int       // the days of the checks that it counts by
	RevisedAt   time.Time // zero where it was not
	Key         bulletin.KeyNote
}

type cellRow struct {
	Row, Season         int
	Area, Substrate     *string
	Measure, Predator   string
	Clumps              *float64
	Estimate, Low, High *float64
	Entities            string

	Nests, Transects, Belts *int
}

const cellColumns = "c.row, c.season, c.area, c.substrate, c.measure, c.predator, c.clumps, c.estimate, c.low, c.high, c.entities, c.nests, c.transects, c.belts"

func cellsOf(rows []cellRow) []bulletin.Cell {
	cells := make([]bulletin.Cell, len(rows))
	for i, r := range rows {
		cells[i] = bulletin.Cell{Season: r.Season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator, Clumps: r.Clumps,
			Published: true, Estimate: r.Estimate, Low: r.Low, High: r.High, Entities: r.Entities,
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
		Covers         string
		Held           int
		FirstCheck     int
		LastCheck      int
		RevisedAt      *time.Time
		KeyVersion     int
		KeySource      string
		KeyCounted     bool
	}
	err := tx.rows(&rows, `SELECT b.season, b.number, b.published_at, coalesce(r.hash, b.hash) AS hash, coalesce(r.version, b.version) AS version,
			array_to_string(b.covers, ',') AS covers, coalesce(r.held, b.held) AS held, b.first_check, b.last_check, r.published_at AS revised_at,
			b.key_version, b.key_source, b.key_counted
		FROM pub.bulletin b LEFT JOIN pub.revision r ON r.coop_id = b.coop_id AND r.season = b.season AND r.published_at IS NOT NULL
		WHERE b.coop_id = @coop AND b.published_at IS NOT NULL ORDER BY b.season DESC`, nil)
	list := make([]BulletinHead, len(rows))
	for i, r := range rows {
		list[i] = BulletinHead{Season: r.Season, Number: r.Number, PublishedAt: r.PublishedAt, Hash: r.Hash, Version: r.Version, Held: r.Held, First: r.FirstCheck, Last: r.LastCheck,
			Key: bulletin.KeyNote{Version: r.KeyVersion, Source: r.KeySource, Counted: r.KeyCounted}}
		if r.Covers != "" {
			list[i].Covers = strings.Split(r.Covers, ",")
		}
		if r.RevisedAt != nil {
			list[i].RevisedAt = *r.RevisedAt
		}
	}
	return list, err
}

// Cells returns the published cells of a season (0: of all) that the actor may see, of its newest edition that is out and without
// what was taken back, in the order of the bulletin. A cell on too few landowners for this actor, or known to them but for too few,
// is not there: as if never published.
func (tx *Tx) Cells(season int) ([]bulletin.Cell, error) {
	var rows []cellRow
	err := tx.rows(&rows, "SELECT "+cellColumns+` FROM pub.cell c
		JOIN pub.bulletin b ON b.coop_id = c.coop_id AND b.season = c.season AND b.published_at IS NOT NULL
		LEFT JOIN pub.revision r ON r.coop_id = c.coop_id AND r.season = c.season AND r.published_at IS NOT NULL
		WHERE c.coop_id = @coop AND (@season = 0 OR c.season = @season) AND c.edition = coalesce(r.edition, 1) ORDER BY c.season, c.row`, map[string]any{"season": season})
	return cellsOf(rows), err
}

// Places returns under which label each area's figures of a season are published. Everybody who sees bulletins.
func (tx *Tx) Places(season int) ([]bulletin.Place, error) {
	var list []bulletin.Place
	err := tx.rows(&list, "SELECT area, label FROM pub.place WHERE coop_id = @coop AND season = @season ORDER BY area", map[string]any{"season": season})
	return list, err
}

// A Retraction is a cell that was taken back, without its values.
type Retraction struct {
	RetractedAt time.Time
	bulletin.Cell
}

// Retract is a coordinator's yes to taking back, for good and without replacement, the published cell and every other that it is part
// of. It returns how many cells it took: none while another coordinator's yes is awaited. Others get errs.Forbidden. errs.NotFound where the
// coordinator sees no such cell.
func (tx *Tx) Retract(season int, cell bulletin.Cell) (int, error) {
	if err := tx.coordinator(); err != nil {
		return 0, err
	}
	var rows []cellRow
	err := tx.rows(&rows, "SELECT "+cellColumns+` FROM pub.cell c
		JOIN pub.bulletin b ON b.coop_id = c.coop_id AND b.season = c.season AND b.published_at IS NOT NULL
		LEFT JOIN pub.revision r ON r.coop_id = c.coop_id AND r.season = c.season AND r.published_at IS NOT NULL
		WHERE c.coop_id = @coop AND c.season = @season AND c.edition = coalesce(r.edition, 1) ORDER BY c.row`, map[string]any{"season": season})
	if err != nil {
		return 0, err
	}
	var which []string
	cells, chosen := cellsOf(rows), 0
	for _, i := range bulletin.Containing(cells, cell) {
		which = append(which, strconv.Itoa(rows[i].Row))
		if cells[i].Names(cell) {
			chosen = rows[i].Row
		}
	}
	if chosen == 0 {
		return 0, errs.New(errs.NotFound, "There is no such figure.")
	}
	var n int
	_, err = tx.row(&n, "SELECT tussock.retract(@season, @chosen, CAST(CAST(@rows AS text) AS integer[]))", map[string]any{"season": season, "chosen": chosen, "rows": "{" + strings.Join(which, ",") + "}"})
	return n, err
}

// A TakingBack is a coordinator's yes to taking a published cell back.
type TakingBack struct {
	By   string
	Mine bool
	At   time.Time
	bulletin.Cell
}

// TakingsBack lists the yeses to taking back what of a season still stands, first given first. The coordinator; others get errs.Forbidden.
func (tx *Tx) TakingsBack(season int) ([]TakingBack, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []struct {
		By                string
		Mine              bool
		At                time.Time
		Area, Substrate   *string
		Measure, Predator string
		Clumps            *float64
	}
	err := tx.rows(&rows, `SELECT coalesce(p.name, '') AS by, t.person_id = @me AS mine, t.said_at AS at, c.area, c.substrate, c.measure, c.predator, c.clumps
		FROM tussock.take_back t
		JOIN pub.cell c ON c.coop_id = t.coop_id AND c.season = t.season AND c.edition = t.edition AND c.row = t.row
		LEFT JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
		WHERE t.coop_id = @coop AND t.season = @season ORDER BY t.said_at`, map[string]any{"season": season})
	list := make([]TakingBack, len(rows))
	for i, r := range rows {
		list[i] = TakingBack{r.By, r.Mine, r.At, bulletin.Cell{Season: season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator, Clumps: r.Clumps}}
	}
	return list, err
}

// Retractions lists what was taken back of what the actor could see, latest first. Everybody who sees bulletins.
func (tx *Tx) Retractions() ([]Retraction, error) {
	var rows []struct {
		RetractedAt       time.Time
		Season            int
		Area, Substrate   *string
		Measure, Predator string
		Clumps            *float64
	}
	err := tx.rows(&rows, `SELECT DISTINCT ON (x.season, x.measure, x.area, x.substrate, x.predator, x.clumps) x.retracted_at, x.season, x.area, x.substrate, x.measure, x.predator, x.clumps
		FROM pub.retraction x WHERE x.coop_id = @coop
		ORDER BY x.season DESC, x.measure, x.area, x.substrate, x.predator, x.clumps, x.retracted_at`, nil)
	list := make([]Retraction, len(rows))
	for i, r := range rows {
		list[i] = Retraction{r.RetractedAt, bulletin.Cell{Season: r.Season, Area: r.Area, Substrate: r.Substrate, Measure: r.Measure, Predator: r.Predator, Clumps: r.Clumps}}
	}
	return list, err
}
