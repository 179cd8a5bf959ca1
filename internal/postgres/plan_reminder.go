package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Feed is a calendar under a secret address.
type Feed struct {
	ID     access.ID
	Named  bool // says the ranch and the pasture
	MadeAt time.Time
	UsedAt time.Time // zero where no calendar program ever asked
}

// Reminders are what a member chose about letters.
type Reminders struct {
	Wanted   bool
	Named    bool // they say which ranch
	Language words.Language
}

// feedsMost is how many calendars one member may have: one a device, and some to spare.
const feedsMost = 5

var errNoFeed = errs.New(errs.NotFound, "There is no such calendar.")

// MakeFeed makes a calendar for the actor and returns its secret, which is stored nowhere. One that says names is a line of each ranch's log. Landowners and hands; others get
// errs.NotFound. errs.Conflict where the actor has too many.
func (tx *Tx) MakeFeed(named bool, language words.Language) (secret string, err error) {
	list, err := tx.Feeds()
	if err != nil {
		return "", err
	}
	if len(list) >= feedsMost {
		return "", errs.Tell(errs.Conflict, words.Later("You have %d calendars already. Take back one that no device uses any more.", feedsMost), nil)
	}
	secret = NewToken()
	if _, err := tx.exec(`INSERT INTO tussock.calendar (coop_id, person_id, token_hash, named, language) VALUES (@coop, @me, @hash, @named, @language)`,
		map[string]any{"hash": hashOf(secret), "named": named, "language": string(language)}); err != nil || !named {
		return secret, err
	}
	ranches, err := tx.Ranches()
	for _, r := range ranches {
		err = errors.Join(err, tx.Took(r.ID, MadeCalendar, ""))
	}
	return secret, err
}

// Feeds lists the actor's own calendars that are still good, latest first.
func (tx *Tx) Feeds() ([]Feed, error) {
	var rows []struct {
		ID     access.ID
		Named  bool
		MadeAt time.Time
		UsedAt *time.Time
	}
	err := tx.rows(&rows, `SELECT id, named, made_at, used_at FROM tussock.calendar
		WHERE coop_id = @coop AND person_id = @me AND revoked_at IS NULL ORDER BY made_at DESC`, nil)
	list := make([]Feed, len(rows))
	for i, r := range rows {
		list[i] = Feed{ID: r.ID, Named: r.Named, MadeAt: r.MadeAt}
		if r.UsedAt != nil {
			list[i].UsedAt = *r.UsedAt
		}
	}
	return list, err
}

// A NamedFeed is a calendar that says a ranch's name.
type NamedFeed struct {
	ID     access.ID
	Name   string // whose
	Role   access.Role
	Hand   bool // on the ranch: an owner can end it
	MadeAt time.Time
	UsedAt time.Time // zero where no calendar program ever asked
}

// NamedFeeds lists the calendars that say the name of one of the actor's own ranches, whoever has them; others see none.
func (tx *Tx) NamedFeeds(ranch access.ID) ([]NamedFeed, error) {
	var rows []struct {
		ID     access.ID
		Name   string
		Role   access.Role
		Hand   bool
		MadeAt time.Time
		UsedAt *time.Time
	}
	err := tx.rows(&rows, "SELECT id, name, role, hand, made_at, used_at FROM tussock.named_calendars(@ranch)", map[string]any{"ranch": ranch})
	list := make([]NamedFeed, len(rows))
	for i, r := range rows {
		list[i] = NamedFeed{ID: r.ID, Name: r.Name, Role: r.Role, Hand: r.Hand, MadeAt: r.MadeAt}
		if r.UsedAt != nil {
			list[i].UsedAt = *r.UsedAt
		}
	}
	return list, err
}

// EndFeed takes the address of a calendar back that a hand of one of the actor's own ranches made and that says its name: it then answers nobody.
// Any other is errs.NotFound.
func (tx *Tx) EndFeed(ranch, id access.ID) error {
	if !isID(ranch) || !isID(id) {
		return errNoFeed
	}
	var whose *string
	if _, err := tx.row(&whose, "SELECT tussock.end_calendar(@ranch, @id)", map[string]any{"ranch": ranch, "id": id}); err != nil {
		return err
	}
	if whose == nil {
		return errNoFeed
	}
	return tx.Took(ranch, EndedCalendar, *whose)
}

// RevokeFeed takes a calendar's address back at once. Only one's own: any other is errs.NotFound.
func (tx *Tx) RevokeFeed(id access.ID) error {
	if !isID(id) {
		return errNoFeed
	}
	return tx.must(errNoFeed, "UPDATE tussock.calendar SET revoked_at = now() WHERE coop_id = @coop AND person_id = @me AND id = @id AND revoked_at IS NULL", map[string]any{"id": id})
}

// Reminders returns what the actor chose; nothing wanted where they never chose.
func (tx *Tx) Reminders() (Reminders, error) {
	var r Reminders
	var row struct {
		Named    bool
		Language words.Language
	}
	ok, err := tx.row(&row, "SELECT named, language FROM tussock.reminder WHERE coop_id = @coop AND person_id = @me", nil)
	if ok {
		r = Reminders{true, row.Named, row.Language}
	}
	return r, err
}

// SetReminders keeps what the actor chooses.
func (tx *Tx) SetReminders(r Reminders) error {
	if !r.Wanted {
		_, err := tx.exec("DELETE FROM tussock.reminder WHERE coop_id = @coop AND person_id = @me", nil)
		return err
	}
	_, err := tx.exec(`INSERT INTO tussock.reminder (coop_id, person_id, named, language) VALUES (@coop, @me, @named, @language)
		ON CONFLICT (coop_id, person_id) DO UPDATE SET named = EXCLUDED.named, language = EXCLUDED.language`,
		map[string]any{"named": r.Named, "language": string(r.Language)})
	return err
}

// A FeedLine is one line of a calendar.
type FeedLine struct {
	season.Line
	RanchName string
	Changed   time.Time
}

// FeedLines returns what the calendar with a secret shows, in which language, and whether it says names; errs.NotFound where
// there is none. Nobody is signed in here: the secret is all there is.
func (db *DB) FeedLines(ctx context.Context, secret string) (list []FeedLine, named bool, language words.Language, err error) {
	if !isToken(secret) {
		return nil, false, "", errNoFeed
	}
	rows, err := db.door.QueryContext(ctx, `SELECT named, language, coalesce(ranch_id::text, ''), coalesce(ranch_name, ''), coalesce(line_id::text, ''),
		coalesce(line, ''), coalesce(pasture, ''), set_on, first_check, last_check, coalesce(slack, 0), coalesce(closed, false), changed FROM tussock.calendar_lines($1)`, hashOf(secret))
	if err != nil {
		return nil, false, "", translate(err)
	}
	defer rows.Close()
	found := false
	for rows.Next() {
		var l FeedLine
		var set, first, last, changed *time.Time
		if err := rows.Scan(&named, &language, &l.Ranch, &l.RanchName, &l.ID, &l.Name, &l.Pasture, &set, &first, &last, &l.Slack, &l.Closed, &changed); err != nil {
			return nil, false, "", translate(err)
		}
		if found = true; l.ID == "" {
			continue // nothing planned, or no ranch any more
		}
		l.SetOn, l.FirstCheck, l.LastCheck = dayOf(set), dayOf(first), dayOf(last)
		if changed != nil {
			l.Changed = *changed
		}
		list = append(list, l)
	}
	if err := rows.Err(); err != nil {
		return nil, false, "", translate(err)
	}
	if !found {
		return nil, false, "", errNoFeed
	}
	return list, named, language, nil
}

// A ReminderLetter is due to one reader.
type ReminderLetter struct {
	Email       string
	Cooperative string
	Named       bool
	Language    words.Language
	Days        []ReminderDay
}

// A ReminderDay is one line's day that has come, or is over.
type ReminderDay struct {
	Ranch  string // its name
	Line   string
	What   string // as season.Check names it
	Due    survey.Date
	Closes survey.Date
	Late   bool
}

// ReminderLetters returns the letters that are due on a day, each once. For whoever sends them alone.
func (db *DB) ReminderLetters(ctx context.Context, today survey.Date) ([]ReminderLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, named, language, days FROM tussock.reminder_letters($1)", today.String())
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []ReminderLetter
	for rows.Next() {
		var l ReminderLetter
		var days []byte
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Named, &l.Language, &days); err != nil {
			return nil, translate(err)
		}
		if err := json.Unmarshal(days, &l.Days); err != nil {
			return nil, err
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// A LateLine is a line of a ranch that has sent no sheet of the season, on which a day is over: of setting out and the first check nobody tapped
// anything, of a last check by the plan alone, whatever was tapped and though the line is closed, since both tell what was found.
type LateLine struct {
	Ranch     access.ID
	RanchName string
	Season    int
	Line      string
	What      string
	Due       survey.Date
	Closes    survey.Date
}

// LateLines lists what is late on a day, by ranch; the coordinator. Others get errs.Forbidden.
func (tx *Tx) LateLines(today survey.Date) ([]LateLine, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []struct {
		RanchID         access.ID
		RanchName, Line string
		Season          int
		What            string
		Due, Closes     *time.Time
	}
	err := tx.rows(&rows, `SELECT ranch_id, ranch_name, season, line, what, due, closes FROM tussock.late_lines(CAST(@today AS date))
		ORDER BY due, ranch_name, ranch_id, length(line), line`, map[string]any{"today": today.String()})
	list := make([]LateLine, len(rows))
	for i, r := range rows {
		list[i] = LateLine{r.RanchID, r.RanchName, r.Season, r.Line, r.What, dayOf(r.Due), dayOf(r.Closes)}
	}
	return list, err
}

// A LateCall is a note of a call about a ranch's late lines.
type LateCall struct {
	Ranch  access.ID
	Season int
	By     string
	At     time.Time
}

// LateCalls lists the calls that were noted, latest first; the coordinator. Others get errs.Forbidden.
func (tx *Tx) LateCalls() ([]LateCall, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []struct {
		RanchID  access.ID
		Season   int
		Name     string
		CalledAt time.Time
	}
	err := tx.rows(&rows, `SELECT c.ranch_id, c.season, p.name, c.called_at FROM tussock.late_call c
		JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.called_by WHERE c.coop_id = @coop ORDER BY c.called_at DESC`, nil)
	list := make([]LateCall, len(rows))
	for i, r := range rows {
		list[i] = LateCall{r.RanchID, r.Season, r.Name, r.CalledAt}
	}
	return list, err
}

// NoteCall keeps that the actor called about a ranch's late lines, and nothing of what was said. The coordinator; others get errs.Forbidden.
// errs.NotFound where there is no such ranch.
func (tx *Tx) NoteCall(ranch access.ID, year int) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(ranch) {
		return errNoRanch
	}
	_, err := tx.exec("INSERT INTO tussock.late_call (coop_id, ranch_id, season, called_by) VALUES (@coop, @ranch, @season, @me)",
		map[string]any{"ranch": ranch, "season": year})
	return err
}

// A Phone is somebody's telephone number.
type Phone struct {
	Ranch access.ID
	Name  string
	Role  access.Role
	Phone string
}

// Phones lists the numbers of the people on the actor's ranches, of those who gave one.
func (tx *Tx) Phones() ([]Phone, error) {
	var rows []struct {
		RanchID access.ID
		Name    string
		Role    access.Role
		Phone   string
	}
	err := tx.rows(&rows, "SELECT ranch_id, name, role, phone FROM tussock.my_phones()", nil)
	list := make([]Phone, len(rows))
	for i, r := range rows {
		list[i] = Phone{r.RanchID, r.Name, r.Role, r.Phone}
	}
	return list, err
}

// SetPhone keeps the actor's own telephone number, "" for none. errs.Invalid for what is none.
func (tx *Tx) SetPhone(number string) error {
	number = strings.Join(strings.Fields(number), " ")
	digits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, number)
	if number != "" && (len(digits) < 7 || len(digits) > 15 || len(number) > 30 || strings.Trim(number, "0123456789 +-()./x") != "") {
		return errs.New(errs.Invalid, words.Mark("A telephone number has 7 to 15 digits, such as 580 555 0134.")) // ITU-T E.164: 15 at most
	}
	_, err := tx.exec("UPDATE tussock.account SET phone = @phone WHERE coop_id = @coop AND person_id = @me", map[string]any{"phone": number})
	return err
}
