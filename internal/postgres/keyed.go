package postgres

import (
	"encoding/json"
	"errors"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/season"
	"tussock/internal/words"
)

// KeyDraft returns what the actor has begun to key of a line's paper sheet and not saved yet.
func (tx *Tx) KeyDraft(l season.Line) (d fieldwork.Draft, err error) {
	var r struct{ Boxes, Photos string }
	ok, err := tx.row(&r, "SELECT boxes::text, photos::text FROM tussock.key_draft WHERE coop_id = @coop AND ranch_id = @ranch AND line_id = @line AND person_id = @me",
		map[string]any{"ranch": l.Ranch, "line": l.ID})
	if err != nil || !ok {
		return d, err
	}
	return d, errors.Join(json.Unmarshal([]byte(r.Boxes), &d.Boxes), json.Unmarshal([]byte(r.Photos), &d.Photos))
}

// SaveKeyDraft saves it in place of the one before; an empty one is forgotten. Those who may send for the ranch; others get
// errs.NotFound.
func (tx *Tx) SaveKeyDraft(l season.Line, d fieldwork.Draft) error {
	if !tx.actor.CanRanch(access.SendResults, l.Ranch) {
		return errNoRanch
	}
	args := map[string]any{"ranch": l.Ranch, "line": l.ID}
	if d.Empty() {
		_, err := tx.exec("DELETE FROM tussock.key_draft WHERE coop_id = @coop AND ranch_id = @ranch AND line_id = @line AND person_id = @me", args)
		return err
	}
	if d.Boxes == nil {
		d.Boxes = fieldwork.Keyed{}
	}
	boxes, err := json.Marshal(d.Boxes)
	if err != nil {
		return err
	}
	photos, err := json.Marshal(append([]fieldwork.SheetPhoto{}, d.Photos...))
	if err != nil {
		return err
	}
	if len(boxes) > 50_000 || len(photos) > 50_000 {
		return errs.New(errs.TooLarge, words.Mark("That is more than a sheet holds. Shorten the notes and save it again."))
	}
	args["boxes"], args["photos"] = string(boxes), string(photos)
	_, err = tx.exec(`INSERT INTO tussock.key_draft (coop_id, ranch_id, line_id, person_id, boxes, photos)
		VALUES (@coop, @ranch, @line, @me, CAST(@boxes AS jsonb), CAST(@photos AS jsonb))
		ON CONFLICT ON CONSTRAINT key_draft_pkey DO UPDATE SET boxes = EXCLUDED.boxes, photos = EXCLUDED.photos, saved_at = now()`, args)
	return err
}

// A KeyedAgain is how a second keying of some of a sheet's rows came out.
type KeyedAgain struct {
	By              string
	At              time.Time
	Rows, Differing int
}

// KeyedAgain lists the second keyings of a line's sheet, latest first.
func (tx *Tx) KeyedAgain(l season.Line) ([]KeyedAgain, error) {
	var list []KeyedAgain
	err := tx.rows(&list, `SELECT coalesce(p.name, '') AS by, k.keyed_at AS at, k.rows, k.differing
		FROM tussock.key_again k LEFT JOIN tussock.person p ON p.coop_id = k.coop_id AND p.id = k.person_id
		WHERE k.coop_id = @coop AND k.ranch_id = @ranch AND k.line_id = @line ORDER BY k.keyed_at DESC`, map[string]any{"ranch": l.Ranch, "line": l.ID})
	return list, err
}

// SaveKeyedAgain keeps how one came out. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) SaveKeyedAgain(l season.Line, rows, differing int) error {
	if !tx.actor.CanRanch(access.SendResults, l.Ranch) {
		return errNoRanch
	}
	_, err := tx.exec(`INSERT INTO tussock.key_again (coop_id, ranch_id, line_id, person_id, rows, differing)
		VALUES (@coop, @ranch, @line, @me, @rows, @differing)`, map[string]any{"ranch": l.Ranch, "line": l.ID, "rows": rows, "differing": differing})
	return err
}
