package postgres

import (
	"context"
	"encoding/json"
	"time"

	"tussock/internal/access"
)

// What was done with a ranch's results, or a bulletin's: the kinds of note in the log.
const (
	LookPage      = "page"     // opened the ranch's page
	LookSent      = "sent"     // opened what was sent for it
	LookNamed     = "named"    // read its results under its name, as a biologist
	TookFile      = "file"     // took its rows or results as a file
	TookSheet     = "sheet"    // took a sheet as it was sent
	TookProgram   = "program"  // read with a program
	TookBulletin  = "bulletin" // took a bulletin's figures as a file
	TookPhone     = "phone"    // took its lines, and what was written down on them, onto a phone; by a field link item is whom it is for
	LookKeyed     = "keyed"    // opened a line's sheet, to key it or to see what was keyed
	UndidSheet    = "undone"   // took a sheet back
	LetSheet      = "restored" // let a sheet that was taken back count again
	SentSheet     = "came"     // sent a sheet
	TookOver      = "accepted" // accepted a sheet
	GaveShare     = "share"    // shared it by name
	EndedShare    = "share ended"
	GaveSending   = "letting" // let the coordinator send old sheets
	EndedSending  = "letting ended"
	ReadSheet     = "answered"       // changed how a sheet is read: item is its file, and what they said
	ChoseLook     = "chose"          // said which of contradicting looks holds
	WroteLooks    = "looks"          // wrote looks down on Line, in the field; as the looks themselves tell, so no note
	TookLooksBack = "looks back"     // took looks back that were written down on Line
	SaidYes       = "yes"            // said that the ranch is counted
	SaidNo        = "no"             // said that it is not
	CameOnto      = "owner"          // came onto the ranch as a further owner
	EndedPlace    = "place ended"    // ended the place of the person Item on it
	MadeCalendar  = "calendar"       // made a calendar address that says its name
	EndedCalendar = "calendar ended" // ended one of the hand Item

	// Asked for it to be deleted, or handed over, and called that off: as the kinds of change.
	AskedErase, EndedErase = EraseAsked, EraseNot
	AskedSell, EndedSell   = Sells, SellsNot
)

// Limits of what one person takes before it is called much (migration 00021): files, answers to a program and looks at
// ranches that are shared by name.
const (
	MuchInHour = 30
	MuchInDay  = 100
)

// itemMost is how much of a file's name the log keeps, in characters.
const itemMost = 80

// A Note is what one person did with a ranch's results on one day.
type Note struct {
	Ranch access.ID
	Name  string      // who; "" where they are no longer known to the reader
	Link  bool        // by a field link, with no member
	Role  access.Role // what they are to the cooperative
	What  string      // LookPage and so on
	Item  string      // which file; by a field link whom it is for
	Line  string      // WroteLooks, TookLooksBack: which line
	Times int         // on that day, in UTC
	Last  time.Time
}

// notesMost is how many notes a page can show; older ones stay in the database.
const notesMost = 400

// Looked notes that the actor opened a ranch's results. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Looked(ranch access.ID) error { return tx.Took(ranch, LookPage, "") }

// Took notes what the actor did with a ranch's results, before they get them. The note cannot be changed or deleted.
// item says which file. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Took(ranch access.ID, what, item string) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	return tx.note(ranch, what, item)
}

// TookFigures notes that the actor takes a bulletin's figures as a file. Everybody who sees bulletins; others get
// errs.NotFound.
func (tx *Tx) TookFigures(item string) error { return tx.note("", TookBulletin, item) }

func (tx *Tx) note(ranch access.ID, what, item string) error {
	item = cut(item, itemMost)
	_, err := tx.exec(`INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (@coop, @ranch, @me, @now, @what, @item)`,
		map[string]any{"ranch": nullID(ranch), "what": what, "item": item})
	return err
}

// cut is a text's first characters, as many as there is room for.
func cut(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return string(r[:most])
	}
	return text
}

// Notes lists what was done with the results of the actor's own ranches, latest first. Landowners; for others there is
// nothing.
func (tx *Tx) Notes() ([]Note, error) {
	var list []Note
	err := tx.rows(&list, `SELECT * FROM (
		SELECT l.ranch_id AS ranch, coalesce(p.name, '') AS name, coalesce(p.role, '') AS role, l.person_id IS NULL AS link, l.what, l.item, '' AS line, count(*) AS times, max(l.looked_at) AS last
		FROM tussock.view_log l LEFT JOIN tussock.person p ON p.coop_id = l.coop_id AND p.id = l.person_id
		WHERE l.coop_id = @coop AND l.ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])
		GROUP BY l.ranch_id, l.person_id, p.id, p.name, p.role, l.what, l.item, (l.looked_at AT TIME ZONE 'UTC')::date
		UNION ALL
		SELECT k.ranch_id, coalesce(p.name, ''), coalesce(p.role, ''), k.link_id IS NOT NULL, CASE k.kind WHEN 'undo' THEN '`+TookLooksBack+`' ELSE '`+WroteLooks+`' END, coalesce(f.name, ''), coalesce(s.name, ''), count(*), max(k.received_at)
		FROM tussock.look k LEFT JOIN tussock.person p ON p.coop_id = k.coop_id AND p.id = k.sent_by
		LEFT JOIN tussock.field_link f ON f.coop_id = k.coop_id AND f.ranch_id = k.ranch_id AND f.id = k.link_id
		LEFT JOIN tussock.season_line s ON s.coop_id = k.coop_id AND s.ranch_id = k.ranch_id AND s.id = k.line_id
		WHERE k.coop_id = @coop AND k.ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND k.kind <> 'choose'
		GROUP BY k.ranch_id, k.sent_by, p.id, p.name, p.role, k.link_id, f.name, k.line_id, s.name, 5, (k.received_at AT TIME ZONE 'UTC')::date) n
		ORDER BY last DESC, name, what, item LIMIT @most`, map[string]any{"most": notesMost})
	return list, err
}

// An Alarm says that one person took much in a short time.
type Alarm struct {
	Name    string // who
	Role    access.Role
	InHour  bool // more than MuchInHour in an hour; else more than MuchInDay in a day
	At      time.Time
	Ranches []access.ID // those concerned, for their owners
}

// Alarms lists those of the last 30 days, latest first: for the coordinator all but those of owners who took what is of their own ranches,
// for an owner those that concern their ranches, for others none.
func (tx *Tx) Alarms() ([]Alarm, error) {
	var rows []struct {
		Name    string
		Role    access.Role
		InHour  bool
		RungAt  time.Time
		Ranches string // a JSON array
	}
	err := tx.rows(&rows, `SELECT coalesce(p.name, '') AS name, coalesce(p.role, '') AS role, a.span = 'hour' AS in_hour, a.rung_at, to_jsonb(a.ranches) AS ranches
		FROM tussock.alarm a LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
		WHERE a.coop_id = @coop AND a.rung_at > CAST(@now AS timestamptz) - interval '30 days' ORDER BY a.rung_at DESC, a.id`, nil)
	list := make([]Alarm, len(rows))
	for i, r := range rows {
		list[i] = Alarm{Name: r.Name, Role: r.Role, InHour: r.InHour, At: r.RungAt}
		if err := json.Unmarshal([]byte(r.Ranches), &list[i].Ranches); err != nil {
			return nil, err
		}
	}
	return list, err
}

// A Denial counts what was refused, by kind and by the part in the cooperative of those who tried.
type Denial struct {
	Kind  string
	Role  access.Role // "" for nobody who was signed in
	Week  int         // in the last 7 days
	Month int         // in the last 30 days
}

// Denials counts what was refused in the last 30 days, most first. The coordinator; others get errs.Forbidden.
func (tx *Tx) Denials() ([]Denial, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var list []Denial
	err := tx.rows(&list, `SELECT kind, part AS role, coalesce(sum(times) FILTER (WHERE day > (CAST(@now AS timestamptz) AT TIME ZONE 'UTC')::date - 7), 0) AS week, sum(times) AS month
		FROM tussock.denial WHERE coop_id = @coop AND day > (CAST(@now AS timestamptz) AT TIME ZONE 'UTC')::date - 30
		GROUP BY kind, part ORDER BY month DESC, kind, part`, nil)
	return list, err
}

// A Denied is what was refused: without a name and without what it was about.
type Denied struct {
	Kind  string // what kind of thing: at most 40 characters, of our own making
	Actor access.Actor
	Link  string // what the hash of a link or token was made of; only to find the cooperative
	Email string // likewise
}

// NoteDenied counts it, for the cooperative that it can be told to be of.
func (db *DB) NoteDenied(ctx context.Context, d Denied) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.note_denied($1, $2, $3, $4, $5, $6)", nullID(d.Actor.Coop), hashOf(d.Link), handleOf(d.Link), d.Email, d.Kind, string(d.Actor.Role))
	return translate(err)
}

// An AlarmLetter is due to somebody about an alarm.
type AlarmLetter struct {
	Email       string
	Cooperative string
	Name        string // who took much
	Role        access.Role
	InHour      bool
	Ranches     []string // the reader's own that are concerned; none for a coordinator
}

// AlarmLetters returns the letters that are due, each once. For package account alone.
func (db *DB) AlarmLetters(ctx context.Context) ([]AlarmLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, called, part, span = 'hour', to_jsonb(ranch_names) FROM tussock.alarm_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []AlarmLetter
	for rows.Next() {
		var l AlarmLetter
		var ranches []byte
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Name, &l.Role, &l.InHour, &ranches); err != nil {
			return nil, translate(err)
		}
		if err := json.Unmarshal(ranches, &l.Ranches); err != nil {
			return nil, err
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}
