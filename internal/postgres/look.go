package postgres

import (
	"encoding/json"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/words"
)

// looksAtOnce is how many looks one call keeps: more than a line has.
const looksAtOnce = 2000

var errTooManyLooks = errs.New(errs.TooLarge, words.Mark("Those are too many looks at once. Send them in parts."))

// lookRow is a look as the database has it.
type lookRow struct {
	ID         access.ID
	RanchID    access.ID
	Season     int
	LineID     access.ID
	Stop       int
	Kind       fieldwork.Kind
	Who        string
	Device     string
	Seq        int
	At         time.Time
	Answers    string
	Undoes     string
	ReceivedAt time.Time
	Sender     string
	Owner      bool
	Link       string
}

func (r *lookRow) look() (fieldwork.Look, error) {
	l := fieldwork.Look{
		ID: r.ID, Ranch: r.RanchID, Season: r.Season, Line: r.LineID, Stop: r.Stop, Kind: r.Kind, Who: r.Who, Device: r.Device,
		Seq: r.Seq, At: r.At, Undoes: access.ID(r.Undoes), Received: r.ReceivedAt,
		Sender: r.Sender, Owner: r.Owner, Link: r.Link,
	}
	return l, json.Unmarshal([]byte(r.Answers), &l.Answers)
}

// KeepLooks adds looks and returns how many were new: one that is there already stays as it is, so that sending again
// is harmless. Those who may send for their ranches; a look of any other ranch is errs.NotFound and nothing is kept.
// errs.Invalid for one that no form of ours makes, and for a choice that is an owner's: where one of theirs is among the looks, or they have
// chosen.
func (tx *Tx) KeepLooks(looks []fieldwork.Look) (kept int, err error) {
	if len(looks) > looksAtOnce {
		return 0, errTooManyLooks
	}
	for i := range looks {
		if err := looks[i].Validate(); err != nil {
			return 0, err
		}
		if !tx.actor.CanRanch(access.SendResults, looks[i].Ranch) {
			return 0, errNoRanch
		}
	}
	rows, err := json.Marshal(looks)
	if err != nil || len(looks) == 0 {
		return 0, err
	}
	n, err := tx.exec(`INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, sent_by)
		SELECT @coop, l.ranch, l.id, l.season, l.line, coalesce(l.stop, 0), l.kind, l.who, l.device, l.seq, l.at, coalesce(l.answers, '{}'), l.undoes, @me
		FROM jsonb_to_recordset(CAST(@looks AS jsonb)) AS l (ranch uuid, id uuid, season integer, line uuid, stop integer, kind text,
			who text, device text, seq integer, at timestamptz, answers jsonb, undoes uuid)
		ON CONFLICT ON CONSTRAINT look_pkey DO NOTHING`, map[string]any{"looks": string(rows)})
	return int(n), err
}

// Looks returns all looks of a ranch's season in the order in which each device wrote them down. Those who may open the
// ranch; others get errs.NotFound.
func (tx *Tx) Looks(ranch access.ID, season int) ([]fieldwork.Look, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var rows []lookRow
	err := tx.rows(&rows, `SELECT k.id, k.ranch_id, k.season, k.line_id, k.stop, k.kind, k.who, k.device, k.seq, k.at, k.answers::text AS answers,
			coalesce(k.undoes::text, '') AS undoes, k.received_at, coalesce(p.name, '') AS sender, EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = k.coop_id AND o.ranch_id = k.ranch_id AND o.person_id = k.sent_by
				AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL) AS owner,
			CASE WHEN k.link_id IS NULL THEN '' ELSE coalesce(f.name, '-') END AS link
		FROM tussock.look k
		LEFT JOIN tussock.person p ON p.coop_id = k.coop_id AND p.id = k.sent_by
		LEFT JOIN tussock.field_link f ON f.coop_id = k.coop_id AND f.ranch_id = k.ranch_id AND f.id = k.link_id
		WHERE k.coop_id = @coop AND k.ranch_id = @ranch AND k.season = @season ORDER BY k.at, k.device, k.seq, k.id`,
		map[string]any{"ranch": ranch, "season": season})
	if err != nil {
		return nil, err
	}
	return looksOf(rows)
}

// LooksToCount tells how many looks of a ranch's latest season with any came in after the sheet made of them was counted
// last, and which season that is; where an owner looked too, after an owner counted last. None where the ranch is not the actor's.
func (tx *Tx) LooksToCount(ranch access.ID) (looks, season int, err error) {
	var r struct{ Looks, Season int }
	_, err = tx.row(&r, `SELECT k.season, count(*) AS looks FROM tussock.look k
		WHERE k.coop_id = @coop AND k.ranch_id = @ranch
		  AND k.season = (SELECT max(m.season) FROM tussock.look m WHERE m.coop_id = @coop AND m.ranch_id = @ranch)
		  AND k.received_at > coalesce((SELECT max(u.sent_at) FROM tussock.upload u
			JOIN tussock.upload_file f ON f.coop_id = u.coop_id AND f.ranch_id = u.ranch_id AND f.upload_id = u.id
			WHERE u.coop_id = @coop AND u.ranch_id = @ranch AND u.season = k.season AND f.name = 'field work ' || k.season || '.xlsx' AND u.state = 'current'
			  AND (u.rank >= 2 OR NOT EXISTS (SELECT 1 FROM tussock.look o JOIN tussock.assignment a ON a.coop_id = o.coop_id AND a.ranch_id = o.ranch_id AND a.person_id = o.sent_by
				WHERE o.coop_id = k.coop_id AND o.ranch_id = k.ranch_id AND o.line_id = k.line_id AND o.stop = k.stop AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL))), '-infinity')
		GROUP BY k.season`, map[string]any{"ranch": ranch})
	return r.Looks, r.Season, err
}

func looksOf(rows []lookRow) (looks []fieldwork.Look, err error) {
	looks = make([]fieldwork.Look, len(rows))
	for i := range rows {
		if looks[i], err = rows[i].look(); err != nil {
			return nil, err
		}
	}
	return looks, nil
}

var errNoPhoto = errs.New(errs.NotFound, "There is no such photo.")

// KeepPhoto adds a photo made clean (fieldwork.CleanPhoto) under an id made where it was taken; the same id again changes
// nothing. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) KeepPhoto(ranch, line, id access.ID, data []byte) error {
	if !isID(id) || !isID(line) {
		return errNoPhoto
	}
	if !tx.actor.CanRanch(access.SendResults, ranch) {
		return errNoRanch
	}
	_, err := tx.exec(`INSERT INTO tussock.photo (coop_id, ranch_id, id, line_id, data, sent_by) VALUES (@coop, @ranch, @id, @line, @data, @me)
		ON CONFLICT ON CONSTRAINT photo_pkey DO NOTHING`, map[string]any{"ranch": ranch, "id": id, "line": line, "data": data})
	return err
}

// Photo returns a photo as JPEG, and its ranch. Those who may open its ranch; others get errs.NotFound.
func (tx *Tx) Photo(id access.ID) (ranch access.ID, data []byte, err error) {
	if !isID(id) {
		return "", nil, errNoPhoto
	}
	var photo struct {
		RanchID access.ID
		Data    []byte
	}
	ok, err := tx.rowOfMine(&photo, "SELECT ranch_id, data FROM tussock.photo WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoPhoto
	}
	return photo.RanchID, photo.Data, err
}
