package postgres

import (
	"encoding/json"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// An Unfiled sheet waits until it is known which of its sender's ranches it is of.
type Unfiled struct {
	ID      access.ID
	File    string
	SentAt  time.Time
	Begun   bool              // a clerk is at it
	Why     string            // why it is not filed: UnclearRanch and so on; "" while it waits to be read
	Held    access.ID         // the upload that has the same bytes, or ""
	Problem map[string]string // by language: what is wrong with it
}

// What one member may have unfiled.
const (
	unfiledMost      = 400
	unfiledBytesMost = 200 << 20
)

// NewSending returns the id that files share which come together.
func NewSending() access.ID { return newID() }

// SendUnfiled keeps a file for the actor alone until the clerk has read which of their ranches it is of. Those who may send
// for a ranch; others get errs.NotFound.
func (tx *Tx) SendUnfiled(s Sending) error {
	if !tx.actor.Role.Has(access.SendResults) || len(tx.actor.Ranches) == 0 || !isID(s.Together) {
		return errNoRanch
	}
	if err := tx.alone("unfiled of " + string(tx.actor.Person)); err != nil {
		return err
	}
	var kept struct{ Files, Bytes int64 }
	if _, err := tx.row(&kept, "SELECT count(*) AS files, coalesce(sum(size), 0) AS bytes FROM tussock.unfiled WHERE coop_id = @coop AND person_id = @me", nil); err != nil {
		return err
	}
	if kept.Files >= unfiledMost || kept.Bytes+int64(len(s.Data)) > unfiledBytesMost {
		return errs.New(errs.TooLarge, words.Mark("Many files that you sent wait for you to say which ranch they are of. Settle those first, then send more."))
	}
	language := s.Language
	if language == "" {
		language = words.English
	}
	args := map[string]any{"id": newID(), "together": s.Together, "name": s.File, "size": len(s.Data), "data": s.Data, "language": string(language)}
	if err := asJSON(args, map[string]any{"settings": s.Settings}); err != nil {
		return err
	}
	_, err := tx.exec(`INSERT INTO tussock.unfiled (coop_id, person_id, id, sending_id, name, size, data, settings, language)
		VALUES (@coop, @me, @id, @together, @name, @size, @data, @settings, @language)`, args)
	if err == nil {
		_, err = tx.exec("NOTIFY "+sheets, nil)
	}
	return err
}

// Unfiled lists the actor's own files of a sending that are not filed under a ranch, in the order of their names.
func (tx *Tx) Unfiled(sending access.ID) ([]Unfiled, error) {
	if !isID(sending) {
		return nil, nil
	}
	var rows []struct {
		ID, Held access.ID
		File     string
		SentAt   time.Time
		Begun    bool
		Unclear  string
		Problem  string
	}
	err := tx.rows(&rows, `SELECT id, coalesce(held::text, '') AS held, name AS file, sent_at, coalesce(taken_until > now(), false) AS begun, unclear, problem
		FROM tussock.unfiled WHERE coop_id = @coop AND person_id = @me AND sending_id = @sending ORDER BY name, id`, map[string]any{"sending": sending})
	list := make([]Unfiled, len(rows))
	for i, r := range rows {
		list[i] = Unfiled{ID: r.ID, File: r.File, SentAt: r.SentAt, Begun: r.Begun, Why: r.Unclear, Held: r.Held}
		if err == nil {
			err = json.Unmarshal([]byte(r.Problem), &list[i].Problem)
		}
	}
	return list, err
}

// FileUnder files one of the actor's unfiled sheets under one of their ranches. already is true where the ranch has the very
// bytes; the upload that has them is returned. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) FileUnder(id, ranch access.ID) (upload access.ID, already bool, err error) {
	if !isID(id) {
		return "", false, errNoUpload
	}
	var r struct {
		Name, Settings, Language string
		Sending                  access.ID
		Data                     []byte
	}
	ok, err := tx.row(&r, "DELETE FROM tussock.unfiled WHERE coop_id = @coop AND person_id = @me AND id = @id RETURNING name, data, settings, language, sending_id AS sending", map[string]any{"id": id})
	if err != nil {
		return "", false, err
	}
	if !ok {
		return "", false, errNoUpload
	}
	s := Sending{Ranch: ranch, File: r.Name, Data: r.Data, Together: r.Sending, Language: words.Language(r.Language)}
	if err := json.Unmarshal([]byte(r.Settings), &s.Settings); err != nil {
		return "", false, err
	}
	return tx.Send(s)
}

// DropUnfiled forgets one of the actor's unfiled sheets; where there is none, errs.NotFound.
func (tx *Tx) DropUnfiled(id access.ID) error {
	if !isID(id) {
		return errNoUpload
	}
	return tx.must(errNoUpload, "DELETE FROM tussock.unfiled WHERE coop_id = @coop AND person_id = @me AND id = @id", map[string]any{"id": id})
}

// Together lists the uploads of the actor's ranches that came in one sending, by ranch and file.
func (tx *Tx) Together(sending access.ID) ([]Upload, error) {
	if !isID(sending) || len(tx.actor.Ranches) == 0 {
		return nil, nil
	}
	var list []Upload
	err := tx.rows(&list, uploadColumns+" AND u.ranch_id IN @ranches AND u.sending_id = @sending ORDER BY r.name, f.name, u.id", map[string]any{"ranches": tx.actor.Ranches, "sending": sending})
	return list, err
}

// A SendingConsent says until when an owner lets the coordinator send old sheets for a ranch.
type SendingConsent struct {
	ID      access.ID
	Ranch   access.ID
	By      string // who said so; "" for somebody the reader does not know
	At      time.Time
	Through time.Time // the last day, midnight in UTC
}

const sendingConsents = `SELECT s.id, s.ranch_id AS ranch, coalesce(p.name, '') AS by, s.given_at AS at, s.through
	FROM tussock.sending_consent s LEFT JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.given_by
	WHERE s.coop_id = @coop AND s.ended_at IS NULL AND s.through >= (CAST(@now AS timestamptz) AT TIME ZONE 'UTC')::date`

// LetSend lets the coordinator send old sheets for a ranch, for 90 days. Only the owner: anybody else gets errs.NotFound.
func (tx *Tx) LetSend(ranch access.ID) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	if _, err := tx.exec("INSERT INTO tussock.sending_consent (coop_id, ranch_id, id, given_by) VALUES (@coop, @ranch, @id, @me)", map[string]any{"ranch": ranch, "id": newID()}); err != nil {
		return err
	}
	return tx.Took(ranch, GaveSending, "")
}

// StopSending ends it, whoever of the owners began it. Only the owner: anybody else gets errs.NotFound.
func (tx *Tx) StopSending(ranch access.ID) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	if err := tx.must(errNoRanch, "UPDATE tussock.sending_consent SET ended_at = @now WHERE coop_id = @coop AND ranch_id = @ranch AND ended_at IS NULL", map[string]any{"ranch": ranch}); err != nil {
		return err
	}
	return tx.Took(ranch, EndedSending, "")
}

// SendingConsents lists for which of the actor's ranches the coordinator may send old sheets.
func (tx *Tx) SendingConsents() ([]SendingConsent, error) {
	if len(tx.actor.Ranches) == 0 {
		return nil, nil
	}
	var list []SendingConsent
	err := tx.rows(&list, sendingConsents+" AND s.ranch_id IN @ranches ORDER BY s.given_at", map[string]any{"ranches": tx.actor.Ranches})
	return list, err
}

// Sendable lists the ranches whose owners let the coordinator send old sheets for them: their names and nothing else. The
// coordinator; others get errs.Forbidden.
func (tx *Tx) Sendable() ([]Ranch, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var list []Ranch
	err := tx.rows(&list, "SELECT r.id, r.name FROM tussock.ranch r WHERE r.coop_id = @coop AND r.id = ANY ((SELECT tussock.my_sendable())::uuid[]) AND r.erased_at IS NULL ORDER BY r.name", nil)
	return list, err
}

// SendForOwner sends a sheet for a ranch whose owner said yes. What it answers and leaves behind is the same whether the ranch has the very bytes
// or not. The coordinator; others get errs.Forbidden, errs.NotFound for a ranch whose owner did not, and errs.TooMany after forty in a day.
func (tx *Tx) SendForOwner(s Sending) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(s.Ranch) || !isID(s.Together) {
		return errNoRanch
	}
	args := map[string]any{"ranch": s.Ranch, "together": s.Together, "name": s.File, "data": s.Data, "language": string(s.Language)}
	if err := asJSON(args, map[string]any{"settings": s.Settings}); err != nil {
		return err
	}
	var r struct{ Came string }
	if _, err := tx.row(&r, "SELECT coalesce(tussock.send_for_owner(@ranch, @together, @name, @data, @language, CAST(@settings AS jsonb)), '') AS came", args); err != nil {
		return err
	}
	switch r.Came {
	case "sent":
		return nil
	case "many":
		return errs.New(errs.TooMany, words.Mark("No more than 40 sheets can be sent for a ranch’s owner within 24 hours. None of these was kept. Send fewer, or go on tomorrow."))
	case "full":
		return errs.New(errs.TooLarge, words.Mark("As many sheets as can be kept were sent for this ranch’s owner. None of these was kept; nothing that was sent before is lost."))
	}
	return errNoRanch
}

// Twins lists the uploads of others of the actor's ranches that have the very bytes of one.
func (tx *Tx) Twins(u Upload) ([]Upload, error) {
	var list []Upload
	err := tx.rows(&list, uploadColumns+" AND u.ranch_id IN @ranches AND u.ranch_id <> @ranch AND f.sha256 = decode(@sha256, 'hex') AND u.state <> 'undone' ORDER BY u.sent_at",
		map[string]any{"ranches": tx.actor.Ranches, "ranch": u.Ranch, "sha256": u.SHA256})
	return list, err
}
