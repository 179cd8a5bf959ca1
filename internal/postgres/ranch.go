package postgres

import (
	"fmt"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/words"
)

// A Ranch as those see it who may open it, and the coordinator's roster.
type Ranch struct {
	ID      access.ID
	Name    string
	Area    string // the cooperative's own area, "" where none is given
	Owner   string // the entity: the person or company behind the ranch
	Consent int    // 1 where it is in the anonymous comparisons now, 0 where it is private
}

// A Consent is what an owner chose for a ranch, and when.
type Consent struct {
	Level int
	By    string // their name; "" for somebody who has gone
	At    time.Time
	Paper bool // given on paper, and written down by a coordinator
	Over  bool // Paper: it ended when the ranch's first owner came in
}

// A Person is somebody who can open a ranch's results.
type Person struct {
	ID         access.ID
	Name       string
	Role       access.Role
	Since      time.Time
	LastLooked time.Time // zero where they never did
}

// A ranch's consent is yes where no present owner's latest word is no (tussock.owners_say); a roster's owner column is the entity. What was erased is nobody's any more.
const ranchColumns = `SELECT r.id, r.name, coalesce(a.name, '') AS area, coalesce(e.name, '') AS owner,
		CASE WHEN r.id = ANY ((SELECT tussock.my_counted())::uuid[]) THEN 1 ELSE 0 END AS consent
	FROM tussock.ranch r
	LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
	LEFT JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
	WHERE r.coop_id = @coop AND r.erased_at IS NULL`

// Ranches lists the ranches that the actor may open, by name: owned, or assigned to a hand. Others have none.
func (tx *Tx) Ranches() ([]Ranch, error) {
	if len(tx.actor.Ranches) == 0 {
		return nil, nil
	}
	var list []Ranch
	err := tx.rows(&list, ranchColumns+" AND r.id IN @ranches ORDER BY r.name", map[string]any{"ranches": tx.actor.Ranches})
	return list, err
}

// Ranch returns a ranch the actor may open; any other is errs.NotFound.
func (tx *Tx) Ranch(id access.ID) (Ranch, error) {
	if !isID(id) || !tx.actor.CanRanch(access.ViewRanch, id) {
		return Ranch{}, errNoRanch
	}
	var r Ranch
	ok, err := tx.row(&r, ranchColumns+" AND r.id = @id", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoRanch
	}
	return r, err
}

// Seasons lists the seasons of a ranch's current rows, latest first. Those who may open it; others get errs.NotFound.
func (tx *Tx) Seasons(ranch access.ID) ([]int, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var list []int
	err := tx.rows(&list, `SELECT DISTINCT x.season FROM (
			SELECT n.coop_id, n.ranch_id, n.upload_id, n.season FROM tussock.nest n WHERE n.coop_id = @coop AND n.ranch_id = @ranch
			UNION SELECT b.coop_id, b.ranch_id, b.upload_id, b.season FROM tussock.belt b WHERE b.coop_id = @coop AND b.ranch_id = @ranch) x
		JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
		WHERE u.state = 'current' AND u.rank > 0 ORDER BY x.season DESC`, map[string]any{"ranch": ranch})
	return list, err
}

// LandownersOnRecord counts those of the roster, names that look alike once. The coordinator; others get errs.Forbidden.
func (tx *Tx) LandownersOnRecord() (n int, err error) {
	if err := tx.coordinator(); err != nil {
		return 0, err
	}
	_, err = tx.row(&n, "SELECT tussock.landowners_on_record()", nil)
	return n, err
}

// Words returns what a ranch's own words mean, as its people explained them: "substrate/tasajillo" is "shrub". Those
// who may open it; others get errs.NotFound.
func (tx *Tx) Words(ranch access.ID) (map[string]string, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var rows []struct{ Word, Meaning string }
	if err := tx.rows(&rows, "SELECT word, meaning FROM tussock.word WHERE coop_id = @coop AND ranch_id = @ranch ORDER BY owners", map[string]any{"ranch": ranch}); err != nil {
		return nil, err
	}
	words := make(map[string]string, len(rows))
	for _, r := range rows {
		words[r.Word] = r.Meaning
	}
	return words, nil
}

// RememberWords adds words or changes their meaning. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) RememberWords(ranch access.ID, words map[string]string) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	for word, meaning := range words {
		_, err := tx.exec(`INSERT INTO tussock.word (coop_id, ranch_id, word, meaning) VALUES (@coop, @ranch, @word, @meaning)
			ON CONFLICT (coop_id, ranch_id, word, owners) DO UPDATE SET meaning = EXCLUDED.meaning`,
			map[string]any{"ranch": ranch, "word": word, "meaning": meaning})
		if err != nil {
			return err
		}
	}
	return nil
}

// SetConsent records an owner's word: 0 private, 1 in all anonymous comparisons. A ranch takes part where no present owner's latest
// word is no. A yes counts from the next season
// that opens, a no until a bulletin is composed; those published stay as they are. Level 0 ends every sharing by name at once.
// Only the owner: anybody else gets errs.NotFound.
func (tx *Tx) SetConsent(ranch access.ID, level int) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	args := map[string]any{"ranch": ranch, "level": level}
	var said, last int
	if _, err := tx.row(&said, "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (@coop, @ranch, @level, @me) RETURNING seq", args); err != nil {
		return err
	}
	if _, err := tx.row(&last, "SELECT max(seq) FROM tussock.consent WHERE coop_id = @coop AND ranch_id = @ranch", args); err != nil {
		return err
	}
	if said != last { // an owner who was thanked for a no must not find a yes in force
		return fmt.Errorf("what was said for ranch %s is number %d, and %d is the last", ranch, said, last)
	}
	if level == 0 {
		return tx.endSharings(ranch)
	}
	return nil
}

// A Word is the latest that one present owner of a ranch said.
type Word struct {
	Person access.ID
	By     string
	Yes    bool
	At     time.Time
}

// OwnersWords returns what each present owner of a ranch said last, by name; who has said nothing is not there. Those who may open
// the ranch; others get errs.NotFound.
func (tx *Tx) OwnersWords(ranch access.ID) ([]Word, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var list []Word
	err := tx.rows(&list, `SELECT * FROM (SELECT DISTINCT ON (c.given_by) c.given_by AS person, coalesce(p.name, '') AS by, c.level > 0 AS yes, c.given_at AS at
		FROM tussock.consent c LEFT JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.given_by
		WHERE c.coop_id = @coop AND c.ranch_id = @ranch AND NOT c.over AND NOT c.paper ORDER BY c.given_by, c.seq DESC) w ORDER BY w.by, w.person`, map[string]any{"ranch": ranch})
	return list, err
}

// Consent returns what was chosen last for a ranch, on paper too, where that has ended since; the zero Consent, private, where nobody has chosen yet. Those who may
// open it; others get errs.NotFound.
func (tx *Tx) Consent(ranch access.ID) (Consent, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return Consent{}, err
	}
	var row struct {
		Level   int
		By      string
		GivenAt time.Time
		Paper   bool
		Over    bool
	}
	ok, err := tx.row(&row, `SELECT c.level, coalesce(p.name, '') AS by, c.given_at, c.paper, c.paper AND c.over AS over
		FROM tussock.consent c LEFT JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.given_by
		WHERE c.coop_id = @coop AND c.ranch_id = @ranch ORDER BY c.seq DESC LIMIT 1`, map[string]any{"ranch": ranch})
	if err != nil || !ok {
		return Consent{}, err
	}
	return Consent{Level: row.Level, By: row.By, At: row.GivenAt, Paper: row.Paper, Over: row.Over}, nil
}

// People lists who can open a ranch now, owners first and biologists it is shared with last, and when they last looked.
// A hand sees their own looks only.
// Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) People(ranch access.ID) ([]Person, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var rows []struct {
		ID         access.ID
		Name       string
		Role       access.Role
		Since      time.Time
		LastLooked *time.Time
	}
	err := tx.rows(&rows, `SELECT p.id, p.name, p.role, a.since,
			(SELECT max(v.looked_at) FROM tussock.view_log v WHERE v.coop_id = p.coop_id AND v.ranch_id = @ranch AND v.person_id = p.id) AS last_looked
		FROM (SELECT o.coop_id, o.person_id, o.since, o.kind = 'owner' AS owns, o.kind = 'hand' AS works FROM tussock.assignment o
		      WHERE o.coop_id = @coop AND o.ranch_id = @ranch AND o.until IS NULL AND o.confirmed_at IS NOT NULL
		      UNION ALL
		      SELECT s.coop_id, s.person_id, s.given_at, false, false FROM tussock.sharing s
		      WHERE s.coop_id = @coop AND s.ranch_id = @ranch AND `+openSharing+`) a
		JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
		WHERE p.left_at IS NULL
		ORDER BY a.owns DESC, a.works DESC, p.name`, map[string]any{"ranch": ranch})
	list := make([]Person, len(rows))
	for i, r := range rows {
		list[i] = Person{ID: r.ID, Name: r.Name, Role: r.Role, Since: r.Since}
		if r.LastLooked != nil {
			list[i].LastLooked = *r.LastLooked
		}
	}
	return list, err
}

// Addresses are those that the people of a ranch, and the biologists it is or was shared with, sign in with. Its owners; for others
// there are none.
func (tx *Tx) Addresses(ranch access.ID) (map[access.ID]string, error) {
	var rows []struct {
		Person access.ID
		Email  string
	}
	if !isID(ranch) {
		return nil, errNoRanch
	}
	err := tx.rows(&rows, "SELECT person, email FROM tussock.addresses_on(@ranch)", map[string]any{"ranch": ranch})
	address := map[access.ID]string{}
	for _, r := range rows {
		address[r.Person] = r.Email
	}
	return address, err
}

// AllRanches is the coordinator's roster: every ranch by name, with area, owner and consent and no result. Others get
// errs.Forbidden.
func (tx *Tx) AllRanches() ([]Ranch, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var list []Ranch
	err := tx.rows(&list, ranchColumns+" ORDER BY r.name", nil)
	return list, err
}

// SaveRanch adds a ranch (ID "") or changes its name, area and owner, making the owner known where new. Consent is
// the owner's and is left alone. The coordinator; others get errs.Forbidden. errs.Invalid without a name or with an
// area that is not there, or for what is no name (names.Name), errs.Conflict where the name is taken.
func (tx *Tx) SaveRanch(r Ranch) (access.ID, error) {
	if err := tx.coordinator(); err != nil {
		return "", err
	}
	var err error
	if r.Name, err = names.Name(r.Name); err != nil {
		return "", err
	}
	if r.Owner, err = names.Name(r.Owner); err != nil {
		return "", err
	}
	r.Area = strings.TrimSpace(r.Area)
	if r.Name == "" {
		return "", errs.New(errs.Invalid, words.Mark("Give the ranch a name."))
	}
	if r.Owner == "" {
		r.Owner = r.Name
	}
	entity, err := tx.entity(r.Owner)
	if err != nil {
		return "", err
	}
	var area string
	if r.Area != "" {
		ok, err := tx.row(&area, "SELECT id FROM tussock.area WHERE coop_id = @coop AND name = @name", map[string]any{"name": r.Area})
		if err != nil {
			return "", err
		}
		if !ok {
			return "", errs.Tell(errs.Invalid, words.Later("There is no area %s. Add the area first.", r.Area), nil)
		}
	}
	args := map[string]any{"id": r.ID, "name": r.Name, "area": nullID(access.ID(area)), "entity": entity}
	if r.ID == "" {
		args["id"] = newID()
		_, err := tx.exec("INSERT INTO tussock.ranch (coop_id, id, name, area_id, entity_id) VALUES (@coop, @id, @name, @area, @entity)", args)
		return args["id"].(access.ID), err
	}
	if !isID(r.ID) {
		return "", errNoRanch
	}
	return r.ID, tx.must(errNoRanch, "UPDATE tussock.ranch SET name = @name, area_id = @area, entity_id = @entity WHERE coop_id = @coop AND id = @id", args)
}

// entity returns the id of an owner by name, making it where new.
func (tx *Tx) entity(name string) (access.ID, error) {
	var known string
	ok, err := tx.row(&known, "SELECT id FROM tussock.entity WHERE coop_id = @coop AND name = @name", map[string]any{"name": name})
	if err != nil || ok {
		return access.ID(known), err
	}
	id := newID()
	_, err = tx.exec("INSERT INTO tussock.entity (coop_id, id, name) VALUES (@coop, @id, @name)", map[string]any{"id": id, "name": name})
	return id, err
}

// coordinator refuses everybody else. The policies do too; this gives the sentence.
func (tx *Tx) coordinator() error {
	if tx.actor.Role.Has(access.RunCooperative) {
		return nil
	}
	return errs.New(errs.Forbidden, words.Mark("Only the coordinator can do this."))
}
