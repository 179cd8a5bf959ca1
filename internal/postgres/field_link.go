package postgres

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/names"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A FieldLink lets somebody without an account work on named lines for a while.
type FieldLink struct {
	ID, Ranch access.ID
	Name      string // whom it is for
	Lines     []access.ID
	From      survey.Date
	Through   survey.Date // the last day on which it shows the lines
	MadeAt    time.Time
	Revoked   bool
	Phones    int       // on which it was opened
	SeenAt    time.Time // when looks last came by it, or it was opened; zero where it never was
}

// A FieldOffer is what a field link says of itself to whoever has it: no names where it was cut off or its maker owns the
// ranch no more.
type FieldOffer struct {
	Cooperative, Ranch, Name string
	Lines                    []string
	From, Through            survey.Date
	State                    string // "open", "early", "over", "revoked"
}

// A Field is what a field link shows to a phone that opened it.
type Field struct {
	Ranch   access.ID
	Name    string
	Through survey.Date
	Lines   []season.Line
	Looks   []fieldwork.Look // its own; of others where nests were put, and of each either the last day looked at or "done"
}

var errNoFieldLink = errs.New(errs.NotFound, "This link does not work, or not any more. Ask for a new one.")

const fieldLinksMax = 60 // open ones of a ranch

// MakeFieldLink makes a link for lines of one ranch and returns its secret, which is stored nowhere: it can be shown
// once only. The ranch's owner; others get errs.NotFound. errs.Invalid for a name, lines or days that cannot be.
func (tx *Tx) MakeFieldLink(l FieldLink) (secret string, err error) {
	if l.Name, err = names.Name(l.Name); err != nil {
		return "", err
	}
	switch {
	case l.Name == "":
		return "", errs.New(errs.Invalid, words.Mark("Say in a few words whom the link is for: you will know it by that."))
	case len(l.Lines) == 0 || len(l.Lines) > 60:
		return "", errs.New(errs.Invalid, words.Mark("Choose the lines that the link is for."))
	case l.From == 0 || l.Through < l.From || l.Through > l.From+400:
		return "", errs.New(errs.Invalid, words.Mark("Choose a first and a last day, at most 400 days apart."))
	}
	for _, id := range l.Lines {
		line, err := tx.Line(id)
		if err != nil {
			return "", err
		}
		if line.Ranch != l.Ranch {
			return "", errNoLine
		}
	}
	if err := tx.alone("links of " + string(l.Ranch)); err != nil {
		return "", err
	}
	open, err := tx.FieldLinks(l.Ranch)
	if err != nil {
		return "", err
	}
	if len(open) >= fieldLinksMax {
		return "", errs.New(errs.Conflict, words.Mark("There are too many links already. Cut off those that nobody uses any more, then make another."))
	}
	lines, err := json.Marshal(l.Lines)
	if err != nil {
		return "", err
	}
	secret = NewToken()
	_, err = tx.exec(`INSERT INTO tussock.field_link (coop_id, ranch_id, id, token_hash, name, lines, from_on, through, made_by)
		VALUES (@coop, @ranch, @id, @hash, @name, ARRAY(SELECT jsonb_array_elements_text(CAST(@lines AS jsonb))::uuid), @from, @through, @me)`,
		map[string]any{"ranch": l.Ranch, "id": newID(), "hash": hashOf(secret), "name": l.Name, "lines": string(lines), "from": l.From.Time(), "through": l.Through.Time()})
	return secret, err
}

// FieldLinks lists a ranch's links that are not cut off, latest first. The owner; others see none.
func (tx *Tx) FieldLinks(ranch access.ID) ([]FieldLink, error) {
	var rows []struct {
		ID, RanchID     access.ID
		Name, Lines     string
		FromOn, Through time.Time
		MadeAt          time.Time
		Phones          int
		SeenAt          *time.Time
	}
	err := tx.rows(&rows, `SELECT l.id, l.ranch_id, l.name, to_jsonb(l.lines)::text AS lines, l.from_on, l.through, l.made_at, count(s.link_id) AS phones, max(s.seen_at) AS seen_at
		FROM tussock.field_link l
		LEFT JOIN tussock.field_session s ON s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.link_id = l.id
		WHERE l.coop_id = @coop AND l.ranch_id = @ranch AND l.revoked_at IS NULL
		GROUP BY l.coop_id, l.ranch_id, l.id ORDER BY l.made_at DESC, l.id`, map[string]any{"ranch": ranch})
	if err != nil {
		return nil, err
	}
	list := make([]FieldLink, len(rows))
	for i, r := range rows {
		list[i] = FieldLink{ID: r.ID, Ranch: r.RanchID, Name: r.Name, From: survey.DateFrom(r.FromOn), Through: survey.DateFrom(r.Through), MadeAt: r.MadeAt, Phones: r.Phones}
		if r.SeenAt != nil {
			list[i].SeenAt = *r.SeenAt
		}
		if err := json.Unmarshal([]byte(r.Lines), &list[i].Lines); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// RevokeFieldLink cuts a link off at once on every phone. The ranch's owner; any other is errs.NotFound.
func (tx *Tx) RevokeFieldLink(id access.ID) error {
	if !isID(id) {
		return errNoFieldLink
	}
	return tx.mustOfMine(errNoFieldLink, "UPDATE tussock.field_link SET revoked_at = now() WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND revoked_at IS NULL", map[string]any{"id": id})
}

// FieldOffer returns what a link is for, to whoever has it: errs.NotFound where there is no such link. One that cannot be
// opened says so in its state.
func (db *DB) FieldOffer(ctx context.Context, secret string) (FieldOffer, error) {
	if !isToken(secret) {
		return FieldOffer{}, errNoFieldLink
	}
	var o FieldOffer
	var lines string
	var from, through time.Time
	err := db.door.QueryRowContext(ctx, "SELECT coop_name, ranch_name, name, to_jsonb(line_names), from_on, through, state FROM tussock.field_link_of($1)", hashOf(secret)).
		Scan(&o.Cooperative, &o.Ranch, &o.Name, &lines, &from, &through, &o.State)
	if errors.Is(err, sql.ErrNoRows) {
		return FieldOffer{}, errNoFieldLink
	}
	if err != nil {
		return FieldOffer{}, translate(err)
	}
	o.From, o.Through = survey.DateFrom(from), survey.DateFrom(through)
	return o, json.Unmarshal([]byte(lines), &o.Lines)
}

// OpenField opens a link on one more phone and returns the secret of its session. errs.NotFound where it is not open.
func (db *DB) OpenField(ctx context.Context, secret, agent string) (session string, err error) {
	if !isToken(secret) {
		return "", errNoFieldLink
	}
	var opened sql.NullString
	err = db.door.QueryRowContext(ctx, "SELECT tussock.open_field($1, $2)", hashOf(secret), strings.ToValidUTF8(agent, "")).Scan(&opened)
	if err == nil && !opened.Valid {
		return "", errNoFieldLink
	}
	return opened.String, translate(err)
}

// fieldViewer returns whose link the session is of: errs.Unauthenticated where it has ended or was cut off.
func (tx *Tx) fieldViewer() (f Field, err error) {
	var v struct {
		RanchID access.ID
		Name    string
		Through time.Time
	}
	ok, err := tx.row(&v, "SELECT ranch_id, name, through FROM tussock.field_viewer()", nil)
	if err == nil && !ok {
		err = errs.New(errs.Unauthenticated, words.Mark("This link was cut off or is over. Ask for a new one."))
	}
	return Field{Ranch: v.RanchID, Name: v.Name, Through: survey.DateFrom(v.Through)}, err
}

// FieldName returns whom the link of a session is for, likewise.
func (db *DB) FieldName(ctx context.Context, session string) (name string, err error) {
	err = db.As(ctx, access.Actor{Session: session}, func(tx *Tx) error {
		f, err := tx.fieldViewer()
		name = f.Name
		return err
	})
	return name, err
}

// Field returns what the session of a link may see: errs.Unauthenticated where it has ended or was cut off. On days that
// are not the link's there are no lines.
func (db *DB) Field(ctx context.Context, session string) (Field, error) {
	var f Field
	err := db.As(ctx, access.Actor{Session: session}, func(tx *Tx) error {
		v, err := tx.fieldViewer()
		if err != nil {
			return err
		}
		f = v
		if _, err := tx.exec("SELECT tussock.field_looked()", nil); err != nil {
			return err
		}
		var rows []lineRow
		if err := tx.rows(&rows, `SELECT id, ranch_id, season, name, code, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers,
			set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, coalesce(walked::text, '') AS walked, closed
			FROM tussock.field_lines() ORDER BY pasture, length(name), name`, nil); err != nil {
			return err
		}
		for _, r := range rows {
			l, err := r.line()
			if err != nil {
				return err
			}
			f.Lines = append(f.Lines, l)
		}
		var looks []lookRow
		if err := tx.rows(&looks, "SELECT * FROM tussock.field_looks()", nil); err != nil {
			return err
		}
		f.Looks, err = looksOf(looks)
		return err
	})
	return f, err
}

// KeepFieldLooks adds looks that come by a link, as KeepLooks does for members. errs.Unauthenticated where the link was cut
// off or is over; errs.NotFound, and nothing is kept, where
// one is not of the link's lines, chooses between looks or takes back what did not come by this link; errs.Invalid where one
// is dated before the link's first day.
func (db *DB) KeepFieldLooks(ctx context.Context, session string, looks []fieldwork.Look) (kept int, err error) {
	if len(looks) > looksAtOnce {
		return 0, errTooManyLooks
	}
	for i := range looks {
		if err := looks[i].Validate(); err != nil {
			return 0, err
		}
	}
	rows, err := json.Marshal(looks)
	if err != nil || len(looks) == 0 {
		return 0, err
	}
	err = db.As(ctx, access.Actor{Session: session}, func(tx *Tx) error {
		if _, err := tx.fieldViewer(); err != nil {
			return err
		}
		_, err := tx.row(&kept, "SELECT tussock.field_keep(CAST(@looks AS jsonb))", map[string]any{"looks": string(rows)})
		return err
	})
	return kept, err
}

// KeepFieldPhoto adds a photo made clean that comes by a link.
func (db *DB) KeepFieldPhoto(ctx context.Context, session string, line, id access.ID, data []byte) error {
	if !isID(id) || !isID(line) {
		return errNoPhoto
	}
	return db.As(ctx, access.Actor{Session: session}, func(tx *Tx) error {
		if _, err := tx.fieldViewer(); err != nil {
			return err
		}
		_, err := tx.exec("SELECT tussock.field_photo(@id, @line, @data)", map[string]any{"id": id, "line": line, "data": data})
		return err
	})
}

// LeaveField ends the session of a link on one phone.
func (db *DB) LeaveField(ctx context.Context, session string) error {
	return db.As(ctx, access.Actor{Session: session}, func(tx *Tx) error {
		_, err := tx.exec("SELECT tussock.leave_field()", nil)
		return err
	})
}
