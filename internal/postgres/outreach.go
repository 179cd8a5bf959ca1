package postgres

import (
	"encoding/json"
	"slices"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/names"
	"tussock/internal/words"
)

// The states of a request to be introduced.
const (
	AskWaiting  = "waiting"
	AskPassedOn = "passed on" // the coordinator asked landowners, who answer the planner themselves if they like
	AskDeclined = "declined"
)

// An Introduction is a planner's request to be introduced to ranches. It names none: whom the coordinator asks is not
// kept.
type Introduction struct {
	ID         access.ID
	By         string // the planner; for the planner their own name
	Email      string // how landowners reach the planner
	Place      string // a published place, "" for the whole cooperative
	Purpose    string
	AskedAt    time.Time
	State      string
	Reply      string // a few words for the planner; never with the name of a ranch or a landowner
	AnsweredAt time.Time
}

// A Welcome is a ranch whose owner is glad to hear from planners.
type Welcome struct {
	Ranch, Owner, Area string
	Since              time.Time
}

// Shapes returns the outlines of areas that have one, by area. Everybody who sees bulletins.
func (tx *Tx) Shapes() ([]geo.Named, error) {
	var rows []struct{ Name, Shape string }
	err := tx.rows(&rows, `SELECT a.name, s.shape::text AS shape FROM tussock.area_shape s
		JOIN tussock.area a ON a.coop_id = s.coop_id AND a.id = s.area_id WHERE s.coop_id = @coop ORDER BY a.name`, nil)
	if err != nil {
		return nil, err
	}
	list := make([]geo.Named, len(rows))
	for i, r := range rows {
		list[i].Name = r.Name
		if err := json.Unmarshal([]byte(r.Shape), &list[i].Shape); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// SaveShapes puts these outlines in place of all there were; no outlines take the map away. The coordinator; others
// get errs.Forbidden. errs.Invalid where one is of an area that is not there. Every member reads it among the changes.
func (tx *Tx) SaveShapes(list []geo.Named) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if _, err := tx.exec("DELETE FROM tussock.area_shape WHERE coop_id = @coop", nil); err != nil {
		return err
	}
	if len(list) == 0 {
		return nil
	}
	areas, err := tx.Areas()
	if err != nil {
		return err
	}
	for _, n := range list {
		if !slices.ContainsFunc(areas, func(a Area) bool { return a.Name == n.Name }) {
			return errs.Tell(errs.Invalid, words.Later("There is no area %s. Add the area first.", n.Name), nil)
		}
	}
	shapes, err := json.Marshal(list)
	if err != nil {
		return err
	}
	_, err = tx.exec(`INSERT INTO tussock.area_shape (coop_id, area_id, shape)
		SELECT a.coop_id, a.id, s."Shape" FROM jsonb_to_recordset(CAST(@shapes AS jsonb)) s ("Name" text, "Shape" jsonb)
		JOIN tussock.area a ON a.coop_id = @coop AND a.name = s."Name"`, map[string]any{"shapes": string(shapes)})
	return err
}

// Welcoming lists the actor's own ranches that are glad to hear from planners.
func (tx *Tx) Welcoming() ([]access.ID, error) {
	if len(tx.actor.Ranches) == 0 {
		return nil, nil
	}
	var list []string
	err := tx.rows(&list, "SELECT ranch_id FROM tussock.welcome WHERE coop_id = @coop AND ranch_id IN @ranches", map[string]any{"ranches": tx.actor.Ranches})
	ids := make([]access.ID, len(list))
	for i, id := range list {
		ids[i] = access.ID(id)
	}
	return ids, err
}

// SetWelcome says that a ranch's owner is glad to hear from planners, or no longer. Only the owner: anybody else gets
// errs.NotFound.
func (tx *Tx) SetWelcome(ranch access.ID, glad bool) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	query := statement("DELETE FROM tussock.welcome WHERE coop_id = @coop AND ranch_id = @ranch")
	if glad {
		query = "INSERT INTO tussock.welcome (coop_id, ranch_id, given_by) VALUES (@coop, @ranch, @me) ON CONFLICT DO NOTHING"
	}
	_, err := tx.exec(query, map[string]any{"ranch": ranch})
	return err
}

// Welcomes lists the ranches that are glad to hear from planners, by area. The coordinator; others get errs.Forbidden.
func (tx *Tx) Welcomes() ([]Welcome, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var list []Welcome
	err := tx.rows(&list, `SELECT r.name AS ranch, e.name AS owner, coalesce(a.name, '') AS area, w.given_at AS since
		FROM tussock.welcome w
		JOIN tussock.ranch r ON r.coop_id = w.coop_id AND r.id = w.ranch_id
		JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
		LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
		WHERE w.coop_id = @coop ORDER BY a.name, r.name`, nil)
	return list, err
}

// AskIntroduction keeps a planner's request; anybody else's is errs.Forbidden. errs.Invalid without a purpose.
func (tx *Tx) AskIntroduction(place, purpose string) (access.ID, error) {
	if !tx.actor.Role.Has(access.AskIntroduction) {
		return "", errs.New(errs.Forbidden, words.Mark("Only a planner can ask to be introduced."))
	}
	purpose, err := names.Text(purpose)
	if err != nil {
		return "", err
	}
	id := newID()
	_, err = tx.exec(`INSERT INTO tussock.introduction (coop_id, id, asked_by, asked_at, place, purpose) VALUES (@coop, @id, @me, @now, @place, @purpose)`,
		map[string]any{"id": id, "place": place, "purpose": purpose})
	return id, err
}

// Introductions lists requests, latest first: to a planner their own, to the coordinator all. Others have none.
func (tx *Tx) Introductions() ([]Introduction, error) {
	var rows []struct {
		ID                           access.ID
		By, Email                    string
		Place, Purpose, State, Reply string
		AskedAt                      time.Time
		AnsweredAt                   *time.Time
	}
	err := tx.rows(&rows, `SELECT i.id, coalesce(p.name, '') AS by, coalesce(a.email, '') AS email, i.place, i.purpose, i.state, i.reply, i.asked_at, i.answered_at
		FROM tussock.introduction i
		LEFT JOIN tussock.person p ON p.coop_id = i.coop_id AND p.id = i.asked_by
		LEFT JOIN tussock.account a ON a.coop_id = i.coop_id AND a.person_id = i.asked_by
		WHERE i.coop_id = @coop ORDER BY i.asked_at DESC, i.id`, nil)
	list := make([]Introduction, len(rows))
	for i, r := range rows {
		list[i] = Introduction{ID: r.ID, By: r.By, Email: r.Email, Place: r.Place, Purpose: r.Purpose, AskedAt: r.AskedAt, State: r.State, Reply: r.Reply}
		if r.AnsweredAt != nil {
			list[i].AnsweredAt = *r.AnsweredAt
		}
	}
	return list, err
}

// AnswerIntroduction says what became of a request. A reply that names a ranch or a landowner is errs.Invalid: the
// planner learns a name from the landowner alone. The coordinator; others get errs.Forbidden. errs.NotFound where there
// is no such request.
func (tx *Tx) AnswerIntroduction(id access.ID, state, reply string) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(id) {
		return errNoRequest
	}
	var there bool
	ok, err := tx.row(&there, "SELECT true FROM tussock.introduction WHERE coop_id = @coop AND id = @id", map[string]any{"id": id})
	if err != nil {
		return err
	}
	if !ok {
		return errNoRequest
	}
	if state != AskPassedOn && state != AskDeclined {
		return errs.New(errs.Invalid, words.Mark("Choose whether you pass the request on or decline it."))
	}
	if reply, err = names.Text(reply); err != nil {
		return err
	}
	if err := tx.nameless(reply); err != nil {
		return err
	}
	return tx.must(errNoRequest, "UPDATE tussock.introduction SET state = @state, reply = @reply, answered_at = @now WHERE coop_id = @coop AND id = @id",
		map[string]any{"id": id, "state": state, "reply": reply})
}

var errNoRequest = errs.New(errs.NotFound, "There is no such request.")

// nameless refuses a text of a coordinator's that planners or biologists read and that has an e-mail address in it, or names a ranch, an owner or a member who is one or a
// hand: they learn a name from the landowner alone. Every such text passes here. errs.Invalid with the name.
func (tx *Tx) nameless(texts ...string) error {
	var rows []struct {
		Name   string
		Person bool
	}
	if err := tx.rows(&rows, "SELECT name, person FROM tussock.names_within()", nil); err != nil {
		return err
	}
	for _, text := range texts {
		if names.Address(text) {
			return errs.New(errs.Invalid, words.Mark("That has an e-mail address in it. Planners and biologists read it, and they learn from the landowner alone how to reach them: say it without."))
		}
		for _, r := range rows {
			if names.Gives(text, r.Name) {
				return errs.Tell(errs.Invalid, words.Later("That names %s. Planners and biologists read it, and they learn a name from the landowner alone: say it without.", r.Name), nil)
			}
			if family := names.Family(r.Name); r.Person && family != "" && names.Gives(text, family) {
				return errs.Tell(errs.Invalid, words.Later("That has “%s” in it, which is a member’s family name. Planners and biologists read it, and they learn a name from the landowner alone: say it without.", family), nil)
			}
		}
	}
	return nil
}
