package postgres

import (
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/survey"
)

// A Sharing lets one biologist read one ranch's results under its name, for a purpose and until a day.
type Sharing struct {
	ID        access.ID
	Ranch     access.ID
	RanchName string
	Area      string    // the ranch's, "" where none is given
	Person    access.ID // the biologist
	Name      string    // theirs; "" for the biologist's own view
	Purpose   string
	By        string // the owner who gave it; "" where they are not known to the reader
	GivenAt   time.Time
	Through   time.Time // the last day, midnight in UTC
	EndedAt   time.Time // zero where nobody has ended it
	EndedBy   string    // who did; "" where they are not known to the reader
	Open      bool      // whether the biologist may read now
	// LastLooked is when the biologist last opened the ranch's results, in this sharing or an earlier one; zero where
	// they never did.
	LastLooked time.Time
}

// A Biologist is whom a landowner can share with.
type Biologist struct {
	ID                   access.ID
	Name, Email, Inviter string // Inviter is "" where nobody in the cooperative invited them
	Since                time.Time
}

var errNoSharing = errs.New(errs.NotFound, "There is no such sharing.")

// Biologists lists the cooperative's biologists by name. Landowners; for others there are none.
func (tx *Tx) Biologists() ([]Biologist, error) {
	var list []Biologist
	err := tx.rows(&list, "SELECT b.id, b.name, b.email, b.inviter, b.since FROM tussock.known_biologists() b ORDER BY b.name, b.id", nil)
	return list, err
}

// Share lets a biologist read a ranch's results from now on through the given day, at most two years ahead. An earlier
// sharing of the ranch with the same person ends. Only the owner: anybody else gets errs.NotFound, and so does who names
// somebody that is no biologist of the cooperative. errs.Invalid without a purpose, with a day that is past or too far
// ahead, or while the ranch is private (consent level 0).
func (tx *Tx) Share(s Sharing) (access.ID, error) {
	r, err := tx.Ranch(s.Ranch)
	if err != nil {
		return "", err
	}
	if !isID(s.Person) {
		return "", errNoMember
	}
	s.Purpose = strings.TrimSpace(s.Purpose)
	switch {
	case r.Consent < 1:
		return "", errs.New(errs.Invalid, r.Name+" is private. Let it be counted in the comparisons first, then share it by name.")
	case s.Purpose == "":
		return "", errs.New(errs.Invalid, "Say what the results are for.")
	case len([]rune(s.Purpose)) > 300:
		return "", errs.New(errs.Invalid, "Say what the results are for in 300 letters or fewer.")
	}
	args := map[string]any{"ranch": s.Ranch, "person": s.Person, "id": newID(), "purpose": s.Purpose, "through": s.Through.Format(time.DateOnly)}
	if _, err := tx.exec(`UPDATE tussock.sharing SET ended_at = now()
		WHERE coop_id = @coop AND ranch_id = @ranch AND person_id = @person AND ended_at IS NULL`, args); err != nil {
		return "", err
	}
	if err := tx.must(errNoMember, `INSERT INTO tussock.sharing (coop_id, ranch_id, id, person_id, entity_id, purpose, given_by, through)
		SELECT r.coop_id, r.id, @id, b.id, r.entity_id, @purpose, @me, CAST(@through AS date)
		FROM tussock.ranch r JOIN tussock.biologists() b ON b.id = @person
		WHERE r.coop_id = @coop AND r.id = @ranch`, args); err != nil {
		return "", err
	}
	return args["id"].(access.ID), tx.Took(s.Ranch, GaveShare, s.Purpose)
}

// EndSharing ends a sharing at once. What the biologist has seen they still know: the bulletin's gate goes on counting
// it. Only the ranch's owner: anybody else gets errs.NotFound, as for a sharing that has ended.
func (tx *Tx) EndSharing(id access.ID) error {
	if !isID(id) {
		return errNoSharing
	}
	var s struct {
		Ranch   access.ID
		Purpose string
	}
	ok, err := tx.rowOfMine(&s, "SELECT ranch_id AS ranch, purpose FROM tussock.sharing WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND ended_at IS NULL", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoSharing
	}
	if err == nil {
		err = tx.mustOfMine(errNoSharing, "UPDATE tussock.sharing SET ended_at = now() WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND ended_at IS NULL", map[string]any{"id": id})
	}
	if err != nil {
		return err
	}
	return tx.Took(s.Ranch, EndedShare, s.Purpose)
}

// endSharings ends all of a ranch's.
func (tx *Tx) endSharings(ranch access.ID) error {
	_, err := tx.exec("UPDATE tussock.sharing SET ended_at = now() WHERE coop_id = @coop AND ranch_id = @ranch AND ended_at IS NULL", map[string]any{"ranch": ranch})
	return err
}

// openSharing tells of a sharing s whether it lets its biologist read now, as the policies have it.
const openSharing = `(s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
	AND EXISTS (SELECT 1 FROM tussock.person b WHERE b.coop_id = s.coop_id AND b.id = s.person_id AND b.role = 'biologist' AND b.left_at IS NULL)
	AND EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = s.coop_id AND o.ranch_id = s.ranch_id AND o.person_id = s.given_by
	            AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
	AND s.ranch_id = ANY ((SELECT tussock.my_counted())::uuid[]))`

type sharingRow struct {
	ID, RanchID, PersonID access.ID
	RanchName, Area, Name string
	Purpose, ByName       string
	EndedByName           string
	GivenAt, Through      time.Time
	EndedAt, LastLooked   *time.Time
	Open                  bool
}

func (r sharingRow) sharing() Sharing {
	s := Sharing{ID: r.ID, Ranch: r.RanchID, RanchName: r.RanchName, Area: r.Area, Person: r.PersonID, Name: r.Name, Purpose: r.Purpose, By: r.ByName, EndedBy: r.EndedByName,
		GivenAt: r.GivenAt, Through: r.Through, Open: r.Open}
	if r.EndedAt != nil {
		s.EndedAt = *r.EndedAt
	}
	if r.LastLooked != nil {
		s.LastLooked = *r.LastLooked
	}
	return s
}

// Sharings lists a ranch's, also those that have ended, latest first. Those who may open the ranch, where a hand sees
// nobody's looks but their own; others get errs.NotFound.
func (tx *Tx) Sharings(ranch access.ID) ([]Sharing, error) {
	r, err := tx.Ranch(ranch)
	if err != nil {
		return nil, err
	}
	var rows []sharingRow
	err = tx.rows(&rows, `SELECT s.id, s.ranch_id, s.person_id, coalesce(p.name, '') AS name, coalesce(g.name, '') AS by_name, coalesce(x.name, '') AS ended_by_name, s.purpose, s.given_at, s.through, s.ended_at, `+openSharing+` AS open,
			(SELECT max(v.looked_at) FROM tussock.view_log v WHERE v.coop_id = s.coop_id AND v.ranch_id = s.ranch_id AND v.person_id = s.person_id) AS last_looked
		FROM tussock.sharing s LEFT JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
		LEFT JOIN tussock.person g ON g.coop_id = s.coop_id AND g.id = s.given_by
		LEFT JOIN tussock.person x ON x.coop_id = s.coop_id AND x.id = s.ended_by
		WHERE s.coop_id = @coop AND s.ranch_id = @ranch ORDER BY s.given_at DESC, s.id`, map[string]any{"ranch": ranch})
	list := make([]Sharing, len(rows))
	for i, row := range rows {
		list[i] = row.sharing()
		list[i].RanchName, list[i].Area = r.Name, r.Area
	}
	return list, err
}

// Named lists the ranches that are shared with the actor by name now, by name. Biologists; for others there are none.
func (tx *Tx) Named() ([]Sharing, error) {
	if !tx.actor.Role.Has(access.ViewNamed) {
		return nil, nil
	}
	var rows []sharingRow
	err := tx.rows(&rows, `SELECT DISTINCT ON (r.name, r.id) s.id, s.ranch_id, r.name AS ranch_name, coalesce(a.name, '') AS area, s.person_id, s.purpose,
			s.given_at, s.through, true AS open
		FROM tussock.sharing s
		JOIN tussock.ranch r ON r.coop_id = s.coop_id AND r.id = s.ranch_id
		LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
		WHERE s.coop_id = @coop AND s.person_id = @me ORDER BY r.name, r.id, s.through DESC`, nil)
	list := make([]Sharing, len(rows))
	for i, row := range rows {
		list[i] = row.sharing()
	}
	return list, err
}

// NamedSurvey returns the current rows of ranches that are shared with the actor by name, of all seasons, without what
// only leads back to a nest and without notes. Each ranch gets a note in its view log, which its owner sees: without
// the note the database shows no row. A ranch that is not shared is errs.NotFound.
func (tx *Tx) NamedSurvey(ranches []access.ID) (*survey.Data, error) {
	named, err := tx.Named()
	if err != nil {
		return nil, err
	}
	roster := map[access.ID]Ranch{}
	for _, id := range ranches {
		at := slices.IndexFunc(named, func(s Sharing) bool { return s.Ranch == id })
		if at < 0 {
			return nil, errNoRanch
		}
		// now() is the transaction's, by which the policies know the note.
		if _, err := tx.exec(`INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what) VALUES (@coop, @ranch, @me, now(), 'named')`, map[string]any{"ranch": id}); err != nil {
			return nil, err
		}
		roster[id] = Ranch{ID: id, Name: named[at].RanchName, Area: named[at].Area}
	}
	if len(roster) == 0 {
		return &survey.Data{}, nil
	}
	from := current(tx.actor.Coop, roster, 0)
	from.nests, from.private = "shared_nest()", false
	var d *survey.Data
	err = native(tx.conn, func(c *pgx.Conn) (err error) {
		d, err = load(tx.ctx, c, from, roster)
		return err
	})
	return d, err
}
