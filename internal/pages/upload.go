package pages

import (
	"fmt"
	"maps"
	"mime"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// maxQuestions is the most one screen asks; people give up on longer lists. The rest follow when these are answered.
const maxQuestions = 7

// errNothing is the answer for what does not exist and for what is somebody else's.
var errNothing = errs.New(errs.NotFound, "There is nothing here, or it is not yours to open.")

// uploadsPage lists what was sent for the actor's ranches.
type uploadsPage struct {
	base
	Ranches []ranchUploads
}

type ranchUploads struct {
	ID   access.ID
	Name string
	Sent []sentUpload // newest first
}

type sentUpload struct {
	postgres.Upload
	Came string // what it came to: "Counts: 48 nests", "Taken back"
}

// uploadPage shows one sending: how it was read, what is asked, and its receipt.
type uploadPage struct {
	base
	Upload    postgres.Upload
	Later     access.ID // the upload that took this one's place
	Held      bool      // the sender sent the very same file again
	Summary   string    // what was read, in numbers
	OwnPage   string    // where the results are shown
	Sentences []string
	Questions []question
	More      int // questions that follow these
	Answered  int
	Tidied    []inquiry.Tidied
	TakenBack int
	Refused   []inquiry.Problem
	NotUsed   []inquiry.Aside
	Settings  postgres.Settings
}

// question is a question as the form shows it.
type question struct {
	inquiry.Question
	Must   bool
	Places string // where in the sheet
}

// reading is a sending with all that decides how its sheets are read.
type reading struct {
	upload   postgres.Upload
	later    access.ID // the upload that took its place, or ""
	ranch    postgres.Ranch
	name     string
	data     []byte
	words    map[string]string
	answers  map[string]string
	undone   []string
	settings postgres.Settings
	say      words.Speaker // of whoever reads what is found in the sheets
}

// load fills a reading from what is stored. Somebody else's sending is NotFound.
func (r *reading) load(tx *postgres.Tx, id access.ID) (err error) {
	if r.upload, err = tx.Upload(id); err != nil {
		return err
	}
	if r.ranch, err = tx.Ranch(r.upload.Ranch); err != nil {
		return err
	}
	all, err := tx.Uploads(r.upload.Ranch)
	if err != nil {
		return err
	}
	for _, u := range all {
		if u.Replaces == id && u.State != postgres.Undone {
			r.later = u.ID
		}
	}
	if r.name, r.data, err = tx.UploadFile(id); err != nil {
		return err
	}
	if r.words, err = wordsOf(tx, r.upload.Ranch); err != nil {
		return err
	}
	r.answers, r.undone, r.settings, err = tx.Answers(id)
	return err
}

// wordsOf returns the words explained for a ranch so far. A word with an empty meaning is one to be asked about again.
func wordsOf(tx *postgres.Tx, ranch access.ID) (map[string]string, error) {
	words, err := tx.Words(ranch)
	maps.DeleteFunc(words, func(_, meaning string) bool { return meaning == "" })
	return words, err
}

// forget drops all answers, and with them the words that they explained, so that everything is asked anew.
func (r *reading) forget(today survey.Date) (words map[string]string, err error) {
	known := r.words
	r.words = nil // so that the answers explain them once more
	res, err := r.read(today)
	if err != nil {
		return nil, err
	}
	words = map[string]string{}
	r.words, r.answers = maps.Clone(known), nil
	for word := range res.Words {
		delete(r.words, word)
		words[word] = ""
	}
	return words, nil
}

// read reads the sheets with the answers given so far. Rows of any other ranch are refused: a sending is filed under
// one ranch.
func (r *reading) read(today survey.Date) (*intake.Result, error) {
	files, err := unbundle(r.name, r.data, r.say)
	if err != nil {
		return nil, err
	}
	return intake.Read(files, intake.Options{
		Ranch:       r.ranch.Name,
		OnlyRanches: []string{r.ranch.Name},
		Season:      r.settings.Season,
		DateOrder:   r.settings.DateOrder,
		Zero:        survey.State(r.settings.Zero),
		Words:       r.words,
		Answers:     r.answers,
		Undone:      r.undone,
		Today:       today,
		Say:         r.say,
	})
}

// uploads lists everything that was sent, with what each sending came to.
func (s *server) uploads(c *fiber.Ctx, a access.Actor) error {
	page := uploadsPage{base: s.base(c, a, "")}
	page.Title = page.Say.Say("What was sent")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			sent, err := tx.Uploads(r.ID)
			if err != nil {
				return err
			}
			of := ranchUploads{ID: r.ID, Name: r.Name}
			for _, u := range sent {
				of.Sent = append(of.Sent, sentUpload{u, cameTo(u, page.Say)})
			}
			page.Ranches = append(page.Ranches, of)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "uploads", page)
}

// cameTo says what a sending came to.
func cameTo(u postgres.Upload, say words.Speaker) string {
	var parts []string
	if u.Nests > 0 {
		parts = append(parts, say.Count("%d nest", "%d nests", u.Nests))
	}
	if u.Belts > 0 {
		parts = append(parts, say.Count("%d belt", "%d belts", u.Belts))
	}
	holds := ""
	if len(parts) > 0 {
		holds = ": " + strings.Join(parts, ", ")
	}
	switch u.State {
	case postgres.Replaced:
		return say.Say("Replaced by a later file") + holds
	case postgres.Undone:
		return say.Say("Taken back") + holds
	}
	return say.Say("Counts") + holds
}

// upload shows one sending.
func (s *server) upload(c *fiber.Ctx, a access.Actor) error {
	held := c.Query("held") != ""
	r := reading{say: s.speaker(c)}
	id := access.ID(c.Params("id"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if err := r.load(tx, id); err != nil {
			return err
		}
		return tx.Took(r.ranch.ID, postgres.LookSent, r.upload.File)
	})
	if err != nil {
		return err
	}
	res, err := r.read(s.today())
	if err != nil {
		return fmt.Errorf("read upload %s again: %w", r.upload.ID, err)
	}
	page := newUploadPage(r, res)
	page.base, page.Held, page.OwnPage = s.base(c, a, uploadTitle(r.upload, res, r.say)), held, ownPage(a, r.upload)
	return s.render(c, fiber.StatusOK, "upload", page)
}

// reading loads the sending whose id stands in the path.
func (s *server) reading(c *fiber.Ctx, a access.Actor) (reading, error) {
	r := reading{say: s.speaker(c)}
	id := access.ID(c.Params("id"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return r.load(tx, id) })
	return r, err
}

func newUploadPage(r reading, res *intake.Result) uploadPage {
	page := uploadPage{
		Upload:    r.upload,
		Later:     r.later,
		Summary:   summary(res, r.say),
		Sentences: res.Sentences,
		Answered:  len(r.answers),
		Tidied:    res.Tidied,
		TakenBack: len(r.undone),
		Refused:   res.Refused,
		NotUsed:   res.NotUsed,
		Settings:  r.settings,
	}
	asked := res.Questions
	if len(asked) > maxQuestions {
		page.More = len(asked) - maxQuestions
		asked = asked[:maxQuestions]
	}
	for _, q := range asked {
		page.Questions = append(page.Questions, question{q, q.Weight == inquiry.MustAnswer, places(q.Cells, r.say)})
	}
	return page
}

// uploadTitle states how the sending stands.
func uploadTitle(u postgres.Upload, res *intake.Result, say words.Speaker) string {
	must := 0
	for _, q := range res.Questions {
		if q.Weight == inquiry.MustAnswer {
			must++
		}
	}
	switch {
	case u.State == postgres.Undone:
		return say.Say("This sheet was taken back")
	case u.State == postgres.Replaced:
		return say.Say("This sheet was replaced by a later one")
	case must > 0:
		return say.Count("%d thing on your sheet we could not read", "%d things on your sheet we could not read", must)
	case len(res.Questions) > 0:
		return say.Count("Your sheet is in, with %d question", "Your sheet is in, with %d questions", len(res.Questions))
	}
	return say.Say("Your sheet is in")
}

// ownPage is where the sender looks next.
func ownPage(a access.Actor, u postgres.Upload) string {
	if a.Role == access.Hand {
		return "/hand"
	}
	return "/ranch/" + string(u.Ranch)
}

// summary says what was read: "24 nests on 4 transects and 4 belts".
func summary(res *intake.Result, say words.Speaker) string {
	transects := map[survey.TransectKey]bool{}
	for i := range res.Data.Nests {
		transects[res.Data.Nests[i].Key()] = true
	}
	var parts []string
	if n := len(res.Data.Nests); n > 0 {
		parts = append(parts, say.Say("%s on %s", say.Count("%d nest", "%d nests", n), say.Count("%d transect", "%d transects", len(transects))))
	}
	if n := len(res.Data.Belts); n > 0 {
		parts = append(parts, say.Count("%d belt", "%d belts", n))
	}
	if n := len(res.Data.Sites); n > 0 {
		parts = append(parts, say.Count("%d site", "%d sites", n))
	}
	if len(parts) == 0 {
		return say.Say("No row could be used yet")
	}
	all := parts[0]
	for _, part := range parts[1:] {
		all = say.Say("%s and %s", all, part)
	}
	return say.Say("We read %s", all)
}

// places names the cells a question is about in the sheet's own numbering, the first few of them.
func places(cells []survey.Cell, say words.Speaker) string {
	const most = 6
	var b strings.Builder
	for i, cell := range cells {
		if i == most {
			b.WriteString(" " + say.Say("and %d more", len(cells)-most))
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		if cell.Sheet != "" && (i == 0 || cell.Sheet != cells[i-1].Sheet) {
			b.WriteString(say.Say("sheet “%s”", cell.Sheet) + " ")
		}
		if cell.Row > 0 {
			b.WriteString(say.Say("row %d", cell.Row))
		}
		if cell.Column != "" {
			b.WriteString(" " + cell.Column)
		}
	}
	return strings.TrimSpace(b.String())
}

// answerUpload takes answers, takes back what we tidied, or takes the settings of the whole sheet; then the sheets are
// read again and their rows replaced. The original file is never touched, so every answer can be given anew.
func (s *server) answerUpload(c *fiber.Ctx, a access.Actor) error {
	given := map[string]string{}
	c.Context().PostArgs().VisitAll(func(k, v []byte) {
		if id, ok := strings.CutPrefix(string(k), "q."); ok {
			given[id] = string(v)
		}
	})
	takeBack, again := c.FormValue("take_back"), c.FormValue("again")
	settings := postgres.Settings{DateOrder: c.FormValue("date_order"), Zero: c.FormValue("zero")}
	changeSettings := c.FormValue("settings") != ""

	r, err := s.reading(c, a)
	if err != nil {
		return err
	}
	before, err := r.read(s.today())
	if err != nil {
		return fmt.Errorf("read upload %s again: %w", r.upload.ID, err)
	}
	r.answers = takeAnswers(r.answers, given, before.Questions)
	if slices.ContainsFunc(before.Tidied, func(t inquiry.Tidied) bool { return t.ID == takeBack }) {
		r.undone = append(r.undone, takeBack)
	}
	forgotten := map[string]string{}
	switch again {
	case "questions":
		if forgotten, err = r.forget(s.today()); err != nil {
			return fmt.Errorf("read upload %s again: %w", r.upload.ID, err)
		}
	case "tidied":
		r.undone = nil
	}
	if changeSettings {
		settings.Season = r.settings.Season
		r.settings = settings
	}
	return s.reread(c, a, r, forgotten)
}

// takeAnswers adds to the answers those given to a question that was asked, with a choice it offers; anything else a
// form carries is left aside.
func takeAnswers(have, given map[string]string, asked []inquiry.Question) map[string]string {
	answers := maps.Clone(have)
	if answers == nil {
		answers = map[string]string{}
	}
	for _, q := range asked {
		choice, ok := given[q.ID]
		if ok && slices.ContainsFunc(q.Choices, func(c inquiry.Choice) bool { return c.ID == choice }) {
			answers[q.ID] = choice
		}
	}
	return answers
}

// reread reads the sheets again, replaces their rows and remembers the words that the answers explain.
func (s *server) reread(c *fiber.Ctx, a access.Actor, r reading, words map[string]string) error {
	res, err := r.read(s.today())
	if err != nil {
		return err
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		maps.Copy(words, res.Words)
		if err := tx.RememberWords(r.ranch.ID, words); err != nil {
			return err
		}
		return tx.Reread(r.upload.ID, postgres.Reading{
			Season: mainSeason(res, r.settings.Season), Rows: &res.Data, Refused: len(res.Refused), Open: len(res.Questions), OpenKinds: openKinds(res),
			Answers: r.answers, Undone: r.undone, Settings: r.settings,
		})
	})
	if err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(r.upload.ID))
}

// undoUpload takes a sending back: nothing in it counts any more, and it can be restored.
func (s *server) undoUpload(c *fiber.Ctx, a access.Actor) error {
	return s.changeUpload(c, a, (*postgres.Tx).UndoUpload)
}

// restoreUpload makes a sending that was taken back count again.
func (s *server) restoreUpload(c *fiber.Ctx, a access.Actor) error {
	return s.changeUpload(c, a, (*postgres.Tx).RestoreUpload)
}

func (s *server) changeUpload(c *fiber.Ctx, a access.Actor, change func(*postgres.Tx, access.ID) error) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return change(tx, id) }); err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(id))
}

// uploadFile hands back the original, byte for byte.
func (s *server) uploadFile(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var name string
	var data []byte
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		u, err := tx.Upload(id)
		if err != nil {
			return err
		}
		if name, data, err = tx.UploadFile(id); err != nil {
			return err
		}
		return tx.Took(u.Ranch, postgres.TookSheet, name)
	})
	if err != nil {
		return err
	}
	// Always a download and never a type a browser would open: what is in the file is somebody else's.
	c.Set(fiber.HeaderContentType, fiber.MIMEOctetStream)
	c.Set(fiber.HeaderContentDisposition, mime.FormatMediaType("attachment", map[string]string{"filename": safeName(name)}))
	return c.Send(data)
}
