package postgres

import (
	"crypto/sha256"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// The states of an upload. Only the rows of a current one count.
const (
	Current  = "current"
	Replaced = "replaced" // by a later upload that said so
	Undone   = "undone"   // taken back by those who may send for the ranch
)

// An Upload is one file somebody sent for one ranch, and what reading it gave.
type Upload struct {
	ID, Ranch access.ID
	RanchName string
	Season    int
	File      string // the name it was sent under
	Size      int    // bytes
	SHA256    string // of the bytes, in hexadecimal
	SentBy    string
	SentAt    time.Time
	State     string
	Replaces  access.ID // the upload it stands in for, or ""
	Seasons   Years     // of its rows, latest first
	Sending   access.ID // shared by the files that came together, or ""
	SentFor   bool      // the coordinator sent it for the owner
	Same      string    // SentFor: the file with the very same bytes that the ranch's own people sent, or ""
	Waits     bool      // it is to be read, or being read
	Accepted  *time.Time
	Nests     int // rows read
	Belts     int
	Refused   int // rows refused
	Open      int // questions without an answer

	StateBy    string     // who took it back, or let it count again, last; "" where they are not known here any more
	StateAt    *time.Time // when; nil where nobody did
	Changeable bool       // by the actor
	Rank       int        // which of two with the same nest counts: 3 an owner's, or accepted by one; 2 sent for an owner who accepted it; 1 a hand's; 0 counts nowhere until an owner accepts it: sent for one, or a hand's of a season of which an owner took a sheet back
}

// Unaccepted tells that nothing of it counts until an owner accepts it.
func (u Upload) Unaccepted() bool { return u.State == Current && u.Rank == 0 }

// Years are seasons, latest first.
type Years []int

// Scan reads years from a JSON array.
func (y *Years) Scan(value any) error {
	switch v := value.(type) {
	case string:
		return json.Unmarshal([]byte(v), y)
	case []byte:
		return json.Unmarshal(v, y)
	}
	return fmt.Errorf("years come as text, not as %T", value)
}

// Value writes years as a JSON array.
func (y Years) Value() (driver.Value, error) {
	b, err := json.Marshal(y)
	return string(b), err
}

// Settings are the sender's answers to how a file is to be read as a whole.
type Settings struct {
	Season         int    `json:"season,omitempty"`     // the season of dates without a year; 0 where none is given
	DateOrder      string `json:"date_order,omitempty"` // "", "month", "day"
	Zero           string `json:"zero,omitempty"`       // what a 0 means: "", "intact", "taken"
	PartLossIntact bool   `json:"part_loss_intact,omitempty"`
}

// A Sending is a file, with what is known of what it says.
type Sending struct {
	Ranch    access.ID
	File     string
	Data     []byte
	Together access.ID      // shared by files that come together, or ""
	Language words.Language // of the sender: in it the reading is said first
	Season   int            // 0: the latest season among the rows
	Rows     *survey.Data   // nil: the clerk is to read the file
	Refused  int            // rows refused
	Open     int            // questions without an answer
	Answers  map[string]string
	Undone   []string // the tidied notes that the sender took back
	Settings Settings
	Replaces access.ID // an upload of the same ranch that this one stands in for, or ""
}

// Answers are what a sender has settled about how a file is read.
type Answers struct {
	Given    map[string]string // by question
	Undone   []string          // tidied notes that were taken back
	Settings Settings
	Settled  []string   // the words that answers to this file explained
	Said     string     // what was said last, in words, for the owners' log
	By       string     // who said it; "" where nobody did, or they are not known here any more
	At       *time.Time // when
}

// A Status is what the coordinator sees of an upload: that it came, and whether it has been read. What is on it, and what is asked about it, tells
// what was found.
type Status struct {
	Upload    access.ID
	Ranch     access.ID
	RanchName string
	Season    int // one of those that its rows are of; an upload of several has a status for each
	Seasons   Years
	Sending   access.ID
	Called    string // the file's name, where the coordinator sent it for the owner
	Waits     bool   // it has not been read yet
	SentAt    time.Time
	State     string
	Counts    bool // none that was taken back or replaced, nor one sent for an owner who has not accepted it
}

const uploadColumns = `SELECT u.id, u.ranch_id AS ranch, r.name AS ranch_name, u.season, f.name AS file, f.size, encode(f.sha256, 'hex') AS sha256,
		coalesce(p.name, '') AS sent_by, u.sent_at, u.state, coalesce(u.replaces::text, '') AS replaces, g.nests, g.belts, g.refused, u.open_count AS open,
		to_jsonb(u.seasons)::text AS seasons, coalesce(u.sending_id::text, '') AS sending, u.called <> '' AS sent_for,
		CASE WHEN f.own THEN '' ELSE coalesce((SELECT o.name FROM tussock.upload_file o WHERE o.coop_id = f.coop_id AND o.ranch_id = f.ranch_id AND o.own AND o.sha256 = f.sha256), '') END AS same,
		u.accepted_at AS accepted,
		coalesce(b.name, '') AS state_by, u.state_at, u.rank,
		u.ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) OR u.sent_by = @me AND u.owners_since IS NULL AS changeable,
		EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest) AS waits
	FROM tussock.upload u
	JOIN tussock.ranch r ON r.coop_id = u.coop_id AND r.id = u.ranch_id
	JOIN tussock.upload_file f ON f.coop_id = u.coop_id AND f.ranch_id = u.ranch_id AND f.upload_id = u.id
	JOIN tussock.reading g ON g.coop_id = u.coop_id AND g.ranch_id = u.ranch_id AND g.upload_id = u.id
	LEFT JOIN tussock.person p ON p.coop_id = u.coop_id AND p.id = u.sent_by
	LEFT JOIN tussock.person b ON b.coop_id = u.coop_id AND b.id = u.state_by
	WHERE u.coop_id = @coop`

// Uploads lists what was sent for a ranch, latest first. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Uploads(ranch access.ID) ([]Upload, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var list []Upload
	err := tx.rows(&list, uploadColumns+" AND u.ranch_id = @ranch ORDER BY u.seq DESC", map[string]any{"ranch": ranch})
	return list, err
}

// Upload returns one upload. Those who may open its ranch; others get errs.NotFound.
func (tx *Tx) Upload(id access.ID) (Upload, error) {
	if !isID(id) {
		return Upload{}, errNoUpload
	}
	var u Upload
	ok, err := tx.rowOfMine(&u, uploadColumns+" AND u.ranch_id = @ranch AND u.id = @id", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoUpload
	}
	return u, err
}

// UploadFile returns the file as it was sent. Those who may open its ranch; others get errs.NotFound.
func (tx *Tx) UploadFile(id access.ID) (name string, data []byte, err error) {
	if !isID(id) {
		return "", nil, errNoUpload
	}
	var f struct {
		Name string
		Data []byte
	}
	ok, err := tx.rowOfMine(&f, "SELECT name, data FROM tussock.upload_file WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoUpload
	}
	return f.Name, f.Data, err
}

// Send keeps a file and what is known of its rows; without any, the clerk is asked to read it. The same bytes sent again for
// the same ranch change nothing: the upload that has them is returned, with already true; but an owner's take the place of a hand's
// (tussock.own_file). Where it replaces another upload, that one's rows no longer count. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) Send(s Sending) (id access.ID, already bool, err error) {
	if !isID(s.Ranch) || !tx.actor.CanRanch(access.SendResults, s.Ranch) {
		return "", false, errNoRanch
	}
	if err := tx.alone("files of " + string(s.Ranch)); err != nil {
		return "", false, err
	}
	sum := sha256.Sum256(s.Data)
	args := map[string]any{"ranch": s.Ranch, "name": s.File, "size": len(s.Data), "sha256": sum[:], "data": s.Data}
	var same string
	ok, err := tx.row(&same, `SELECT f.upload_id FROM tussock.upload_file f JOIN tussock.upload u ON u.coop_id = f.coop_id AND u.ranch_id = f.ranch_id AND u.id = f.upload_id
		WHERE f.coop_id = @coop AND f.ranch_id = @ranch AND f.sha256 = @sha256 AND f.own AND (u.rank >= 2 OR NOT f.ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))`, args)
	if err != nil || ok {
		return access.ID(same), ok, err
	}
	if err := tx.roomFor(s.Ranch, len(s.Data)); err != nil {
		return "", false, err
	}
	id = newID()
	args["id"] = id
	args["replaces"] = nullID(s.Replaces)
	if s.Replaces != "" {
		if err := tx.supersede(s.Replaces, s.Ranch); err != nil {
			return "", false, err
		}
	}
	if err := s.arguments(args); err != nil {
		return "", false, err
	}
	for _, statement := range []statement{
		`INSERT INTO tussock.upload (coop_id, ranch_id, id, season, seasons, sending_id, sent_by, sent_at, replaces, open_count)
		 VALUES (@coop, @ranch, @id, @season, ARRAY(SELECT jsonb_array_elements_text(CAST(@seasons AS jsonb))::integer), @together, @me, @now, @replaces, @open)`,
		`INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data)
		 VALUES (@coop, @ranch, @id, @name, @size, @sha256, @data)`,
		`INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, answers, undone, settings)
		 VALUES (@coop, @ranch, @id, @nests, @belts, @refused, @answers, @undone, @settings)`,
	} {
		if _, err := tx.exec(statement, args); err != nil {
			return "", false, err
		}
	}
	if s.Rows == nil {
		err = tx.toRead(s.Ranch, id, s.Language, len(s.Data))
	} else {
		err = tx.insertRows(s.Ranch, id, s.Rows)
	}
	if err == nil && (s.Rows != nil || s.Replaces != "") {
		err = tx.keepFindings(s.Ranch)
	}
	if err == nil && tx.actor.Role != access.Landowner { // owners read what others send
		err = tx.Took(s.Ranch, SentSheet, s.File)
	}
	return id, false, err
}

// toRead asks the clerk to read a file, once more where it waits already: what a clerk has in hand is then not kept.
func (tx *Tx) toRead(ranch, id access.ID, language words.Language, size int) error {
	if language == "" {
		language = words.English
	}
	_, err := tx.exec(`INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) VALUES (@coop, @ranch, @id, @language, @size)
		ON CONFLICT ON CONSTRAINT to_read_pkey DO UPDATE SET asked = to_read.asked + 1, language = EXCLUDED.language, tries = 0, taken_until = NULL, rest = false`,
		map[string]any{"ranch": ranch, "id": id, "language": string(language), "size": size})
	if err == nil {
		_, err = tx.exec("NOTIFY "+sheets, nil)
	}
	return err
}

// What may be kept of one ranch: many seasons' sheets, and no member's dump.
const (
	filesMost = 1000
	bytesMost = 500 << 20
)

// roomFor is errs.TooLarge where a ranch has as many files, or as much in them, as it may.
func (tx *Tx) roomFor(ranch access.ID, size int) error {
	var kept struct{ Files, Bytes int64 }
	_, err := tx.row(&kept, "SELECT count(*) AS files, coalesce(sum(size), 0) AS bytes FROM tussock.upload_file WHERE coop_id = @coop AND ranch_id = @ranch AND own", map[string]any{"ranch": ranch})
	if err != nil {
		return err
	}
	if kept.Files >= filesMost || kept.Bytes+int64(size) > bytesMost {
		return errs.Tell(errs.TooLarge, words.Later("This ranch has sent %d files already, and no more fit. Ask your coordinator; nothing that was sent before is lost.", kept.Files), nil)
	}
	return nil
}

// arguments adds what a sending writes of its rows and answers.
func (s *Sending) arguments(args map[string]any) error {
	rows := s.Rows
	if rows == nil {
		rows = &survey.Data{}
	}
	args["season"], args["together"] = seasonOf(s.Season, rows), nullID(s.Together)
	args["nests"], args["belts"], args["refused"], args["open"] = len(rows.Nests), len(rows.Belts), s.Refused, s.Open
	return asJSON(args, map[string]any{"answers": s.Answers, "undone": s.Undone, "settings": s.Settings, "seasons": seasonsOf(rows)})
}

// asJSON adds values as JSON text, an empty map or list where there is none.
func asJSON(args, values map[string]any) error {
	for name, value := range values {
		b, err := json.Marshal(value)
		if err != nil {
			return err
		}
		if string(b) == "null" {
			if b = []byte("{}"); reflect.TypeOf(value).Kind() == reflect.Slice {
				b = []byte("[]")
			}
		}
		args[name] = string(b)
	}
	return nil
}

// seasonOf is the season an upload is listed under: the one named, else the latest among its rows.
func seasonOf(season int, rows *survey.Data) int {
	if season != 0 {
		return season
	}
	for i := range rows.Nests {
		season = max(season, rows.Nests[i].Season)
	}
	for i := range rows.Belts {
		season = max(season, rows.Belts[i].Season)
	}
	return season
}

// ErrNotYourSheet refuses a change of a sheet that is not the sender's any more, or was never.
var ErrNotYourSheet = errs.New(errs.Forbidden, words.Mark("Only an owner of the ranch can change this sheet: somebody else sent it, or an owner has accepted it."))

// Supersede takes the rows of an upload out of the count because another one has them too. Those who may undo it.
func (tx *Tx) Supersede(id access.ID) error {
	u, err := tx.uploadAlone(id)
	if err != nil {
		return err
	}
	return tx.supersede(id, u.Ranch)
}

// supersede takes the rows of an upload out of the count because a later one stands in for it.
func (tx *Tx) supersede(id, ranch access.ID) error {
	u, err := tx.Upload(id)
	switch {
	case err != nil:
		return err
	case !u.Changeable:
		return ErrNotYourSheet
	}
	return tx.must(errNoUpload, `UPDATE tussock.upload SET state = 'replaced'
		WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND state = 'current'`, map[string]any{"id": id, "ranch": ranch})
}

// ReadAgain keeps what the sender has settled and asks the clerk to read the file with it. Until that is done the rows of the
// reading before count. Where that changes how it is read, it is a line of the owners' log. Those who may undo it.
func (tx *Tx) ReadAgain(id access.ID, a Answers, language words.Language) error {
	u, err := tx.Upload(id)
	if err != nil {
		return err
	}
	if !u.Changeable {
		return ErrNotYourSheet
	}
	args := map[string]any{"id": id, "ranch": u.Ranch, "said": cut(a.Said, saidMost)}
	if err := asJSON(args, map[string]any{"answers": a.Given, "undone": a.Undone, "settings": a.Settings, "settled": a.Settled}); err != nil {
		return err
	}
	if err := tx.must(errNoUpload, `UPDATE tussock.reading SET answers = @answers, undone = @undone, settings = @settings, settled = @settled, answered = @said
		WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id`, args); err != nil {
		return err
	}
	return tx.toRead(u.Ranch, id, language, u.Size)
}

// saidMost is how much of what was said is kept, in characters.
const saidMost = 300

// Answers returns what an upload was last read with, or is to be read with. Those who may open its ranch; others get
// errs.NotFound.
func (tx *Tx) Answers(id access.ID) (a Answers, err error) {
	if !isID(id) {
		return a, errNoUpload
	}
	var r struct {
		Answers, Undone, Settings, Settled, Said, By string
		At                                           *time.Time
	}
	ok, err := tx.rowOfMine(&r, `SELECT g.answers, g.undone, g.settings, g.settled, g.answered AS said, coalesce(p.name, '') AS by, g.answered_at AS at
		FROM tussock.reading g LEFT JOIN tussock.person p ON p.coop_id = g.coop_id AND p.id = g.answered_by
		WHERE g.coop_id = @coop AND g.ranch_id = @ranch AND g.upload_id = @id`, map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoUpload
	}
	if err != nil {
		return a, err
	}
	a.Said, a.By, a.At = r.Said, r.By, r.At
	return a, errors.Join(json.Unmarshal([]byte(r.Answers), &a.Given), json.Unmarshal([]byte(r.Undone), &a.Undone), json.Unmarshal([]byte(r.Settings), &a.Settings),
		json.Unmarshal([]byte(r.Settled), &a.Settled))
}

// A Progress tells how far the reading of an upload is.
type Progress struct {
	Waits bool      // it is to be read, or being read
	Rest  bool      // it is read, and what it says is still to be written in other languages than that of whoever asked
	Begun time.Time // since when a clerk has been at it; zero where none is
}

// Progress tells how far the reading of an upload is. Those who may open its ranch; others get errs.NotFound.
func (tx *Tx) Progress(id access.ID) (p Progress, err error) {
	if !isID(id) {
		return p, errNoUpload
	}
	var r struct {
		Waits, Rest bool
		Begun       *time.Time
	}
	ok, err := tx.rowOfMine(&r, `SELECT w.upload_id IS NOT NULL AND NOT w.rest AS waits, coalesce(w.rest, false) AS rest, CASE WHEN w.taken_until > now() THEN w.begun_at END AS begun
		FROM tussock.reading g LEFT JOIN tussock.to_read w ON w.coop_id = g.coop_id AND w.ranch_id = g.ranch_id AND w.upload_id = g.upload_id
		WHERE g.coop_id = @coop AND g.ranch_id = @ranch AND g.upload_id = @id`, map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoUpload
	}
	p = Progress{Waits: r.Waits, Rest: r.Rest}
	if err == nil && r.Begun != nil {
		p.Begun = *r.Begun
	}
	return p, err
}

// Readback returns what the sender sees of a reading in a language; nil where nothing is kept: the file waits, or its rows
// came in without the clerk. Those who may open its ranch; others get errs.NotFound.
func (tx *Tx) Readback(id access.ID, language words.Language) ([]byte, error) {
	return tx.body("SELECT body FROM tussock.readback WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id AND language = @language", id, map[string]any{"language": string(language)})
}

// ReadbackPart returns one part of the rows of a long sheet, nil where there is none. Those who may open its ranch; others
// get errs.NotFound.
func (tx *Tx) ReadbackPart(id access.ID, part int) ([]byte, error) {
	return tx.body("SELECT body FROM tussock.readback_part WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id AND part = @part", id, map[string]any{"part": part})
}

func (tx *Tx) body(query statement, id access.ID, args map[string]any) ([]byte, error) {
	u, err := tx.Upload(id)
	if err != nil {
		return nil, err
	}
	args["id"], args["ranch"] = id, u.Ranch
	var r struct{ Body []byte }
	_, err = tx.row(&r, query, args)
	return r.Body, err
}

// Accept notes that somebody looked at what was read of an upload and found it right: after one of the ranch's owners has,
// hands cannot change it, and it stands as an owner's own. Those who may undo it.
func (tx *Tx) Accept(id access.ID) error {
	u, err := tx.Upload(id)
	switch {
	case err != nil:
		return err
	case !u.Changeable:
		return ErrNotYourSheet
	}
	if err := tx.mustOfMine(errNoUpload, "UPDATE tussock.upload SET accepted_at = @now, accepted_by = @me WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id", map[string]any{"id": id}); err != nil {
		return err
	}
	if err := tx.keepFindings(u.Ranch); err != nil {
		return err
	}
	return tx.Took(u.Ranch, TookOver, u.File)
}

// UndoUpload takes an upload out of the count and brings back the one it had replaced. Nothing is deleted. Undoing
// what is undone changes nothing; one that another upload has replaced is errs.Conflict. The ranch's owners,
// and hands for what they sent while no owner has accepted or changed it: else errs.Forbidden. Others get errs.NotFound.
func (tx *Tx) UndoUpload(id access.ID) error {
	u, err := tx.uploadAlone(id)
	switch {
	case err != nil:
		return err
	case !u.Changeable:
		return ErrNotYourSheet
	case u.State == Undone:
		return nil
	case u.State == Replaced:
		return errs.New(errs.Conflict, words.Mark("A later file has replaced this one. Undo the later file first."))
	}
	if err := tx.setState(u, Undone, id); err != nil {
		return err
	}
	if u.Replaces != "" {
		if err := tx.setState(u, Current, u.Replaces); err != nil {
			return err
		}
	}
	if err := tx.keepFindings(u.Ranch); err != nil {
		return err
	}
	return tx.Took(u.Ranch, UndidSheet, u.File)
}

// RestoreUpload brings an undone upload back, and takes the one it replaces out of the count again. Restoring a
// current one changes nothing. Those who may undo it.
func (tx *Tx) RestoreUpload(id access.ID) error {
	u, err := tx.uploadAlone(id)
	switch {
	case err != nil:
		return err
	case !u.Changeable:
		return ErrNotYourSheet
	case u.State == Current:
		return nil
	case u.State == Replaced:
		var later access.ID
		replaced, err := tx.row(&later, "SELECT id FROM tussock.upload WHERE coop_id = @coop AND ranch_id = @ranch AND replaces = @id AND state <> 'undone' LIMIT 1", map[string]any{"ranch": u.Ranch, "id": id})
		if err != nil {
			return err
		}
		if replaced {
			return errs.New(errs.Conflict, words.Mark("A later file has replaced this one. Undo the later file to bring this one back."))
		}
	}
	if u.Replaces != "" {
		old, err := tx.Upload(u.Replaces)
		if err != nil {
			return err
		}
		if old.State == Replaced {
			return errs.New(errs.Conflict, words.Mark("Another file has taken this one's place meanwhile. Undo that file first."))
		}
		if err := tx.setState(u, Replaced, u.Replaces); err != nil {
			return err
		}
	}
	if err := tx.setState(u, Current, id); err != nil {
		return err
	}
	if err := tx.keepFindings(u.Ranch); err != nil {
		return err
	}
	return tx.Took(u.Ranch, LetSheet, u.File)
}

// uploadAlone is Upload while nothing else of its ranch is sent, undone or restored: one of two that replace the same counts.
func (tx *Tx) uploadAlone(id access.ID) (Upload, error) {
	u, err := tx.Upload(id)
	if err != nil {
		return u, err
	}
	if err := tx.alone("files of " + string(u.Ranch)); err != nil {
		return u, err
	}
	return tx.Upload(id)
}

// setState changes the state of an upload of u's ranch.
func (tx *Tx) setState(u Upload, state string, id access.ID) error {
	return tx.must(ErrNotYourSheet, "UPDATE tussock.upload SET state = @state WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id",
		map[string]any{"state": state, "ranch": u.Ranch, "id": id})
}

// UploadStatus lists, for the coordinator, what has come in for a season (0: all). An upload whose rows are of several seasons is there
// once for each.
func (tx *Tx) UploadStatus(season int) ([]Status, error) {
	var rows []struct {
		Upload, Ranch, Sending access.ID
		RanchName, Called      string
		Season                 int
		Seasons                Years
		SentAt                 time.Time
		State                  string
		Waits, Counts          bool
	}
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	err := tx.rows(&rows, `SELECT u.upload, u.ranch, r.name AS ranch_name, s.season, to_jsonb(u.seasons)::text AS seasons, u.sent_at, u.state, coalesce(u.sending::text, '') AS sending, u.called, u.waits, u.counts
		FROM tussock.came_in() u JOIN tussock.ranch r ON r.coop_id = @coop AND r.id = u.ranch
		CROSS JOIN LATERAL unnest(CASE WHEN cardinality(u.seasons) = 0 THEN ARRAY[u.season] ELSE u.seasons END) AS s (season)
		WHERE @season = 0 OR s.season = @season
		ORDER BY r.name, s.season DESC, u.sent_at DESC, u.upload`, map[string]any{"season": season})
	if err != nil {
		return nil, err
	}
	list := make([]Status, len(rows))
	for i, r := range rows {
		list[i] = Status{Upload: r.Upload, Ranch: r.Ranch, RanchName: r.RanchName, Season: r.Season, Seasons: r.Seasons, SentAt: r.SentAt, State: r.State,
			Sending: r.Sending, Called: r.Called, Waits: r.Waits, Counts: r.Counts}
	}
	return list, nil
}
