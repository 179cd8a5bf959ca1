package postgres

import (
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// A Season is the four dates of a season, each midnight in UTC. Roster, areas and owners count as they stand when it opens; results as
// they stand at the cut-off; the bulletin is composed from these once, and published on its day if coordinators have said yes.
type Season struct {
	Year                               int
	Opens, CutOff, Composed, Published time.Time
	SetBy                              string // "" for somebody who has gone
	Opened                             bool
}

// An Edition is a bulletin, or (2) its final revision, from the cut-off on, as coordinators see it.
type Edition struct {
	Season, Edition int
	CutAt           time.Time
	Ranches         int // on the roster when the season opened
	Owners          int // that count: two people had vouched for them, and they had said yes
	Sheets          int // ranches with results
	Tries           int // how often it was composed
	ComposedAt      time.Time
	Held            int              // figures that are withheld
	PublishedAt     time.Time        // zero until then
	Note            string           // why there is none
	Words           int              // coordinators who must say yes
	Key             bulletin.KeyNote // with which it was made
	Approvals       []Approval
}

// An Approval is what a coordinator said.
type Approval struct {
	Name string
	Yes  bool
	At   time.Time
	Mine bool
}

// FinalAfter is how long a bulletin is out before its season is copied once more for the final revision: late sheets are waited for, so
// that there are enough of them.
const FinalAfter = 30 * 24 * time.Hour

// SeasonDates lists the seasons whose dates are set, latest first: everybody may.
func (tx *Tx) SeasonDates() ([]Season, error) {
	var rows []struct {
		Year                                       int
		OpensOn, CutOffOn, ComposedOn, PublishedOn time.Time
		SetBy                                      string
		Opened                                     bool
	}
	err := tx.rows(&rows, `SELECT s.year, s.opens_on, s.cut_off_on, s.composed_on, s.published_on, coalesce(p.name, '') AS set_by, s.opened_at IS NOT NULL AS opened
		FROM tussock.season s LEFT JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.set_by
		WHERE s.coop_id = @coop ORDER BY s.year DESC`, nil)
	list := make([]Season, len(rows))
	for i, r := range rows {
		list[i] = Season{Year: r.Year, Opens: r.OpensOn, CutOff: r.CutOffOn, Composed: r.ComposedOn, Published: r.PublishedOn, SetBy: r.SetBy, Opened: r.Opened}
	}
	return list, err
}

// SetSeason sets the dates of a season that does not open within 14 days. The coordinator; others get errs.Forbidden. errs.Conflict where it
// does, has opened or has its bulletin; errs.Invalid where the new opening is within 14 days or after its year, or where the dates are out of
// order or too near each other. Every member reads it among the changes.
func (tx *Tx) SetSeason(s Season) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	var open bool
	if _, err := tx.row(&open, "SELECT tussock.season_open(@year) AND NOT EXISTS (SELECT 1 FROM tussock.season WHERE coop_id = @coop AND year = @year AND (opened_at IS NOT NULL OR opens_on <= tussock.today()))",
		map[string]any{"year": s.Year}); err != nil {
		return err
	}
	if !open {
		return errs.New(errs.Conflict, words.Mark("That season has opened. Its dates stand."))
	}
	_, err := tx.exec(`INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on, set_by)
		VALUES (@coop, @year, @opens, @cut, @composed, @published, @me)
		ON CONFLICT (coop_id, year) DO UPDATE SET opens_on = @opens, cut_off_on = @cut, composed_on = @composed, published_on = @published, set_by = @me`,
		map[string]any{"year": s.Year, "opens": s.Opens, "cut": s.CutOff, "composed": s.Composed, "published": s.Published})
	return err
}

// DropSeason takes the dates of a season back that has not opened. The coordinator; others get errs.Forbidden. errs.NotFound where
// there is none.
func (tx *Tx) DropSeason(year int) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	return tx.must(errNoSeason, "DELETE FROM tussock.season WHERE coop_id = @coop AND year = @year AND opened_at IS NULL AND opens_on > tussock.today()", map[string]any{"year": year})
}

// Editions lists the editions that are cut, latest first. The coordinator; others get errs.Forbidden.
func (tx *Tx) Editions() ([]Edition, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []struct {
		Season, Edition                int
		CutAt                          time.Time
		Ranches, Owners, Sheets, Tries int
		ComposedAt, PublishedAt        *time.Time
		Held, Words                    int
		Note                           string
		KeyVersion                     int
		KeySource                      string
		KeyCounted                     bool
	}
	err := tx.rows(&rows, `SELECT e.season, e.edition, e.cut_at, e.on_roster AS ranches, e.owners, e.sheets, e.tries, e.composed_at, e.note, s.words,
			coalesce(r.held, b.held, 0) AS held, coalesce(b.key_version, 0) AS key_version, coalesce(b.key_source, '') AS key_source, coalesce(b.key_counted, false) AS key_counted, CASE e.edition WHEN 1 THEN b.published_at ELSE r.published_at END AS published_at
		FROM tussock.edition e JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
		LEFT JOIN pub.bulletin b ON b.coop_id = e.coop_id AND b.season = e.season
		LEFT JOIN pub.revision r ON r.coop_id = e.coop_id AND r.season = e.season AND r.edition = e.edition
		WHERE e.coop_id = @coop ORDER BY e.season DESC, e.edition DESC`, nil)
	if err != nil {
		return nil, err
	}
	var said []struct {
		Season, Edition int
		Approval
	}
	err = tx.rows(&said, `SELECT a.season, a.edition, coalesce(p.name, '') AS name, a.yes, a.said_at AS at, a.person_id = @me AS mine
		FROM tussock.approval a LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
		WHERE a.coop_id = @coop ORDER BY a.said_at`, nil)
	list := make([]Edition, len(rows))
	for i, r := range rows {
		e := Edition{Season: r.Season, Edition: r.Edition, CutAt: r.CutAt, Ranches: r.Ranches, Owners: r.Owners, Sheets: r.Sheets, Tries: r.Tries, Note: r.Note, Held: r.Held, Words: r.Words, Key: bulletin.KeyNote{Version: r.KeyVersion, Source: r.KeySource, Counted: r.KeyCounted}}
		if r.ComposedAt != nil {
			e.ComposedAt = *r.ComposedAt
		}
		if r.PublishedAt != nil {
			e.PublishedAt = *r.PublishedAt
		}
		for _, a := range said {
			if a.Season == e.Season && a.Edition == e.Edition {
				e.Approvals = append(e.Approvals, a.Approval)
			}
		}
		list[i] = e
	}
	return list, err
}

// Print returns the cells of an edition that is composed, whether it is out or not: the bulletin itself, and nothing of what is held.
// The coordinator; others get errs.Forbidden.
func (tx *Tx) Print(season, edition int) ([]bulletin.Cell, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []cellRow
	err := tx.rows(&rows, "SELECT "+cellColumns+" FROM pub.cell c WHERE c.coop_id = @coop AND c.season = @season AND c.edition = @edition ORDER BY c.row",
		map[string]any{"season": season, "edition": edition})
	return cellsOf(rows), err
}

// Approve says yes or no to an edition that is composed and not yet out. It comes out once its day has come and enough coordinators
// have said yes and none no. The coordinator; others get errs.Forbidden. errs.Conflict where there is nothing to say, or the
// coordinator came after the cut-off.
func (tx *Tx) Approve(season, edition int, yes bool) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	var ok bool
	if _, err := tx.row(&ok, "SELECT tussock.approve(@season, CAST(@edition AS smallint), @yes)", map[string]any{"season": season, "edition": edition, "yes": yes}); err != nil {
		return err
	}
	if !ok {
		return errs.New(errs.Conflict, words.Mark("There is nothing to say yes or no to, or you became a coordinator after the cut-off: then your word counts once you have been one for 30 days, and the bulletin has been due for 30 days."))
	}
	return nil
}
