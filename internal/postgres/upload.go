package postgres

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
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
	Nests     int       // rows read
	Belts     int
	Refused   int // rows refused
	Open      int // questions without an answer
}

// Settings are the sender's answers to how a file is to be read as a whole.
type Settings struct {
	Season         int    `json:"season,omitempty"`     // the season of dates without a year; 0 where none is given
	DateOrder      string `json:"date_order,omitempty"` // "", "month", "day"
	Zero           string `json:"zero,omitempty"`       // what a 0 means: "", "intact", "taken"
	PartLossIntact bool   `json:"part_loss_intact,omitempty"`
}

// A Sending is a file with what was read from it.
type Sending struct {
	Ranch     access.ID
	File      string
	Data      []byte
	Season    int // 0: the latest season among the rows
	Rows      *survey.Data
	Refused   int            // rows refused
	Open      int            // questions without an answer
	OpenKinds map[string]int // the kinds of those questions: stable words without data, which the coordinator sees
	Answers   map[string]string
	Undone    []string // the tidied notes that the sender took back
	Settings  Settings
	Replaces  access.ID // an upload of the same ranch that this one stands in for, or ""
}

// A Reading is what a file gave when it was read again after answers.
type Reading struct {
	Season    int // 0: the latest season among the rows
	Rows      *survey.Data
	Refused   int
	Open      int
	OpenKinds map[string]int
	Answers   map[string]string
	Undone    []string
	Settings  Settings
}

// A Status is what the coordinator sees of an upload: that it is there and what still waits, no values.
type Status struct {
	Ranch     access.ID
	RanchName string
	Season    int
	SentAt    time.Time
	State     string
	Open      int
	OpenKinds map[string]int
}

const uploadColumns = `SELECT u.id, u.ranch_id AS ranch, r.name AS ranch_name, u.season, f.name AS file, f.size, encode(f.sha256, 'hex') AS sha256,
		coalesce(p.name, '') AS sent_by, u.sent_at, u.state, coalesce(u.replaces::text, '') AS replaces, g.nests, g.belts, g.refused, u.open_count AS open
	FROM tussock.upload u
	JOIN tussock.ranch r ON r.coop_id = u.coop_id AND r.id = u.ranch_id
	JOIN tussock.upload_file f ON f.coop_id = u.coop_id AND f.ranch_id = u.ranch_id AND f.upload_id = u.id
	JOIN tussock.reading g ON g.coop_id = u.coop_id AND g.ranch_id = u.ranch_id AND g.upload_id = u.id
	LEFT JOIN tussock.person p ON p.coop_id = u.coop_id AND p.id = u.sent_by
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

// Send keeps a file and the rows read from it. The same bytes sent again for the same ranch change nothing: the
// upload that has them is returned, with already true. Where it replaces another upload, that one's rows no longer
// count. Those who may send for the ranch; others get errs.NotFound.
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
	ok, err := tx.row(&same, "SELECT upload_id FROM tussock.upload_file WHERE coop_id = @coop AND ranch_id = @ranch AND sha256 = @sha256", args)
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
	read := Reading{s.Season, s.Rows, s.Refused, s.Open, s.OpenKinds, s.Answers, s.Undone, s.Settings}
	if err := read.arguments(args); err != nil {
		return "", false, err
	}
	for _, statement := range []statement{
		`INSERT INTO tussock.upload (coop_id, ranch_id, id, season, sent_by, sent_at, replaces, open_count, open_kinds)
		 VALUES (@coop, @ranch, @id, @season, @me, @now, @replaces, @open, @open_kinds)`,
		`INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data)
		 VALUES (@coop, @ranch, @id, @name, @size, @sha256, @data)`,
		`INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, answers, undone, settings)
		 VALUES (@coop, @ranch, @id, @nests, @belts, @refused, @answers, @undone, @settings)`,
	} {
		if _, err := tx.exec(statement, args); err != nil {
			return "", false, err
		}
	}
	return id, false, tx.insertRows(s.Ranch, id, s.Rows)
}

// What may be kept of one ranch: many seasons' sheets, and no member's dump.
const (
	filesMost = 1000
	bytesMost = 500 << 20
)

// roomFor is errs.TooLarge where a ranch has as many files, or as much in them, as it may.
func (tx *Tx) roomFor(ranch access.ID, size int) error {
	var kept struct{ Files, Bytes int64 }
	_, err := tx.row(&kept, "SELECT count(*) AS files, coalesce(sum(size), 0) AS bytes FROM tussock.upload_file WHERE coop_id = @coop AND ranch_id = @ranch", map[string]any{"ranch": ranch})
	if err != nil {
		return err
	}
	if kept.Files >= filesMost || kept.Bytes+int64(size) > bytesMost {
		return errs.Tell(errs.TooLarge, words.Later("This ranch has sent %d files already, and no more fit. Ask your coordinator; nothing that was sent before is lost.", kept.Files), nil)
	}
	return nil
}

// arguments adds what both a first and a later reading write.
func (r Reading) arguments(args map[string]any) error {
	rows := r.Rows
	if rows == nil {
		rows = &survey.Data{}
	}
	args["season"] = seasonOf(r.Season, rows)
	args["nests"], args["belts"], args["refused"], args["open"] = len(rows.Nests), len(rows.Belts), r.Refused, r.Open
	for name, value := range map[string]any{"open_kinds": r.OpenKinds, "answers": r.Answers, "undone": r.Undone, "settings": r.Settings} {
		b, err := json.Marshal(value)
		if err != nil {
			return err
		}
		if string(b) == "null" && name == "undone" {
			b = []byte("[]")
		} else if string(b) == "null" {
			b = []byte("{}")
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

// supersede takes the rows of an upload out of the count because a later one stands in for it.
func (tx *Tx) supersede(id, ranch access.ID) error {
	return tx.must(errNoUpload, `UPDATE tussock.upload SET state = 'replaced'
		WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND state = 'current'`, map[string]any{"id": id, "ranch": ranch})
}

// Reread puts what a second reading of the same file gave in place of the first one's rows. Those who may send for
// the ranch; others get errs.NotFound.
func (tx *Tx) Reread(id access.ID, r Reading) error {
	u, err := tx.Upload(id)
	if err != nil {
		return err
	}
	args := map[string]any{"id": id, "ranch": u.Ranch}
	if err := r.arguments(args); err != nil {
		return err
	}
	for _, statement := range []statement{
		`UPDATE tussock.upload SET season = @season, open_count = @open, open_kinds = @open_kinds
		 WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id`,
		`UPDATE tussock.reading SET nests = @nests, belts = @belts, refused = @refused, answers = @answers, undone = @undone, settings = @settings
		 WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id`,
	} {
		if err := tx.must(errNoUpload, statement, args); err != nil {
			return err
		}
	}
	for _, table := range []statement{"nest", "belt", "site"} {
		if _, err := tx.exec("DELETE FROM tussock."+table+" WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id", args); err != nil {
			return err
		}
	}
	return tx.insertRows(u.Ranch, id, r.Rows)
}

// Answers returns the answers and settings that an upload was last read with. Those who may open its ranch; others
// get errs.NotFound.
func (tx *Tx) Answers(id access.ID) (answers map[string]string, undone []string, settings Settings, err error) {
	if !isID(id) {
		return nil, nil, settings, errNoUpload
	}
	var r struct{ Answers, Undone, Settings string }
	ok, err := tx.rowOfMine(&r, "SELECT answers, undone, settings FROM tussock.reading WHERE coop_id = @coop AND ranch_id = @ranch AND upload_id = @id", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoUpload
	}
	if err != nil {
		return nil, nil, settings, err
	}
	err = errors.Join(json.Unmarshal([]byte(r.Answers), &answers), json.Unmarshal([]byte(r.Undone), &undone), json.Unmarshal([]byte(r.Settings), &settings))
	return answers, undone, settings, err
}

// UndoUpload takes an upload out of the count and brings back the one it had replaced. Nothing is deleted. Undoing
// what is undone changes nothing; one that another upload has replaced is errs.Conflict. Those who may send for the
// ranch; others get errs.NotFound.
func (tx *Tx) UndoUpload(id access.ID) error {
	u, err := tx.uploadAlone(id)
	switch {
	case err != nil:
		return err
	case u.State == Undone:
		return nil
	case u.State == Replaced:
		return errs.New(errs.Conflict, words.Mark("A later file has replaced this one. Undo the later file first."))
	}
	if err := tx.setState(u, Undone, id); err != nil {
		return err
	}
	if u.Replaces == "" {
		return nil
	}
	return tx.setState(u, Current, u.Replaces)
}

// RestoreUpload brings an undone upload back, and takes the one it replaces out of the count again. Restoring a
// current one changes nothing. Those who may send for the ranch; others get errs.NotFound.
func (tx *Tx) RestoreUpload(id access.ID) error {
	u, err := tx.uploadAlone(id)
	switch {
	case err != nil:
		return err
	case u.State == Current:
		return nil
	case u.State == Replaced:
		return errs.New(errs.Conflict, words.Mark("A later file has replaced this one. Undo the later file to bring this one back."))
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
	return tx.setState(u, Current, id)
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
	return tx.must(errNoUpload, "UPDATE tussock.upload SET state = @state WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id",
		map[string]any{"state": state, "ranch": u.Ranch, "id": id})
}

// UploadStatus lists, for the coordinator, what has come in for a season (0: all): that it is there and the kinds of
// question that wait, no values.
func (tx *Tx) UploadStatus(season int) ([]Status, error) {
	var rows []struct {
		Ranch     access.ID
		RanchName string
		Season    int
		SentAt    time.Time
		State     string
		Open      int
		OpenKinds string
	}
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	err := tx.rows(&rows, `SELECT u.ranch_id AS ranch, r.name AS ranch_name, u.season, u.sent_at, u.state, u.open_count AS open, u.open_kinds
		FROM tussock.upload u JOIN tussock.ranch r ON r.coop_id = u.coop_id AND r.id = u.ranch_id
		WHERE u.coop_id = @coop AND (@season = 0 OR u.season = @season)
		ORDER BY r.name, u.season DESC, u.seq DESC`, map[string]any{"season": season})
	if err != nil {
		return nil, err
	}
	list := make([]Status, len(rows))
	for i, r := range rows {
		list[i] = Status{Ranch: r.Ranch, RanchName: r.RanchName, Season: r.Season, SentAt: r.SentAt, State: r.State, Open: r.Open}
		if err := json.Unmarshal([]byte(r.OpenKinds), &list[i].OpenKinds); err != nil {
			return nil, err
		}
	}
	return list, nil
}
