package pages

import (
	"fmt"
	"maps"
	"mime"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/readback"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// errNothing is the answer for what does not exist and for what is somebody else's.
var errNothing = errs.New(errs.NotFound, "There is nothing here, or it is not yours to open.")

// refreshAfter is after how many seconds a page that shows something under way is loaded again.
const refreshAfter = 2

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
	When string // "Seasons 2024 and 2023"
}

// uploadPage shows one sending to its sender: the sheet as it was read, what is asked, and its receipt.
type uploadPage struct {
	base
	Upload    postgres.Upload
	Who       string    // who took it back, or let it count again, and when
	Later     access.ID // the upload that took this one's place
	Overlaps  []string  // which nests stand in another sheet too, and where they count
	Below     bool      // some of them count there, and would here if an owner accepted this one
	Waits     string    // what of a hand's sheet counts nowhere until an owner accepts it
	Rest      bool      // something of it counts already
	Owner     bool      // the reader is one
	Held      bool      // the sender sent the very same file again
	Reading   string    // how far the clerk is, while the sheet waits
	Bare      bool      // its rows came without a reading that could be shown
	Problem   string    // why nothing could be read
	OwnPage   string    // where the results are shown
	Accepted  string    // the day somebody found it right
	Changed   string    // who changed last how it is read, when, and what they said
	Totals    []string  // what was read, a line a season
	Sums      []string  // the sheet's own, as they stand in it
	Elsewhere []elsewhere
	Says      *elsewhere // the sheet names another of the sender's ranches
	Sentences []string
	Questions []question
	Answered  int
	Tidied    []note
	TakenBack int
	Aside     []note
	Refused   []note
	Rows      int    // of data seen
	Told      string // what is read as the ranch said before
	Settings  postgres.Settings
	Tables    []tableView
	Elided    []tableView // tables that have no room on this page
}

// question is a question as the form shows it.
type question struct {
	readback.Question
	N       int
	At      string // the id of the row on the page that it is about, or ""
	Places  string // where in the sheet
	Choices []choice
}

// choice is an answer, and what it would give where another would give something else.
type choice struct {
	ID, Label string
	Gives     []string // the first nests that would result
	Count     string   // how many nests would count
}

// note is something said of cells of the sheet, with the number by which the grid refers to it.
type note struct {
	readback.Note
	N      int
	Places string
}

// elsewhere is another ranch that the sheet has rows of.
type elsewhere struct {
	Name  string
	Count string
	Ranch access.ID // "" where it is not the reader's
	Filed access.ID // the upload by which the sheet is filed there, or ""
}

// sheetData is what the page of an upload is made from.
type sheetData struct {
	upload  postgres.Upload
	later   access.ID // the upload that took its place, or ""
	answers postgres.Answers
	page    *readback.Page // nil where nothing is kept
	ranches []postgres.Ranch
	twins   []postgres.Upload // the same file, filed under others of the reader's ranches
	begun   time.Time
	over    []postgres.Overlap
	waits   postgres.Elsewhere // what of it waits, or counts elsewhere
	owner   bool               // the reader owns the ranch
}

// loadSheet loads an upload with what was read of it. Somebody else's sending is NotFound.
func loadSheet(tx *postgres.Tx, id access.ID, language words.Language) (d sheetData, err error) {
	if d.upload, err = tx.Upload(id); err != nil {
		return d, err
	}
	all, err := tx.Uploads(d.upload.Ranch)
	if err != nil {
		return d, err
	}
	for _, u := range all {
		if u.Replaces == id && u.State != postgres.Undone {
			d.later = u.ID
		}
	}
	if d.over, err = tx.Overlaps(d.upload); err != nil {
		return d, err
	}
	elsewhere, err := tx.Elsewhere(d.upload.Ranch)
	if err != nil {
		return d, err
	}
	d.waits = elsewhere[id]
	if d.answers, err = tx.Answers(id); err != nil {
		return d, err
	}
	progress, err := tx.Progress(id)
	if d.begun = progress.Begun; err != nil || d.upload.Waits {
		return d, err
	}
	body, err := tx.Readback(id, language)
	if err != nil {
		return d, err
	}
	if body == nil && progress.Rest {
		d.upload.Waits = true // for this reader: it is being said in their language
		return d, nil
	}
	if body != nil {
		if d.page, err = readback.Unpack(body); err != nil {
			return d, fmt.Errorf("what was read of upload %s: %w", id, err)
		}
	}
	if d.page == nil || len(d.page.Elsewhere) == 0 && d.page.Says == "" {
		return d, nil
	}
	if d.ranches, err = tx.Ranches(); err != nil {
		return d, err
	}
	d.twins, err = tx.Twins(d.upload)
	return d, err
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
			elsewhere, err := tx.Elsewhere(r.ID)
			if err != nil {
				return err
			}
			of := ranchUploads{ID: r.ID, Name: r.Name}
			for _, u := range sent {
				came := cameTo(u, page.Say)
				e := elsewhere[u.ID]
				if u.Rank == 1 && e.NestsWait+e.BeltsWait > 0 && countsHere(u, e) == 0 { // all of it waits, or counts elsewhere
					came = cameTo(postgres.Upload{State: u.State, Waits: u.Waits, Nests: u.Nests, Belts: u.Belts, StateBy: u.StateBy, StateAt: u.StateAt}, page.Say)
				}
				if waits := nestsAndBelts(page.Say, e.NestsWait, e.BeltsWait); waits != "" && !u.Unaccepted() {
					came += ". " + page.Say.Say("Of these wait until an owner accepts the sheet: %s", waits)
				}
				if twice := nestsAndBelts(page.Say, e.Nests, e.Belts); twice != "" {
					came += ". " + page.Say.Say("Counted from another sheet, which has them too: %s", twice)
				}
				of.Sent = append(of.Sent, sentUpload{u, came, seasonsSaid(u, page.Say)})
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

// countsHere is how many nests and belts count as they stand in an upload.
func countsHere(u postgres.Upload, e postgres.Elsewhere) int {
	return u.Nests + u.Belts - e.Nests - e.Belts - e.NestsWait - e.BeltsWait
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
	if who := changedBy(u, say); who != "" {
		holds += ". " + who
	}
	switch u.State {
	case postgres.Current:
		if u.Waits {
			return say.Say("Being read")
		}
	case postgres.Replaced:
		return say.Say("Replaced by a later file") + holds
	case postgres.Undone:
		return say.Say("Taken back") + holds
	}
	switch {
	case u.Unaccepted() && u.SentFor:
		return say.Say("Waits until you accept it") + holds
	case u.Unaccepted():
		return say.Say("Waits until an owner accepts it") + holds
	}
	return say.Say("Counts") + holds
}

// changedBy says who took a sending back, or let it count again, and when; "" where nobody did.
func changedBy(u postgres.Upload, say words.Speaker) string {
	if u.StateAt == nil || u.State == postgres.Replaced {
		return ""
	}
	by := u.StateBy
	if by == "" {
		by = say.Say("somebody who has left")
	}
	at := fmt.Sprintf("%s, %s UTC", say.Day(u.StateAt.UTC()), u.StateAt.UTC().Format("15:04"))
	if u.State == postgres.Undone {
		return say.Say("Taken back by %s on %s", by, at)
	}
	return say.Say("Made to count again by %s on %s", by, at)
}

// seasonsSaid names the seasons of a sending.
func seasonsSaid(u postgres.Upload, say words.Speaker) string {
	switch said := years(say, u.Seasons); {
	case len(u.Seasons) > 1:
		return say.Say("Seasons %s", said)
	case said != "":
		return say.Say("Season %s", said)
	case u.Season != 0:
		return say.Say("Season %s", fmt.Sprint(u.Season))
	}
	return ""
}

// upload shows one sending.
func (s *server) upload(c *fiber.Ctx, a access.Actor) error {
	held, tab := c.Query("held") != "", c.QueryInt("tab", -1)
	id, say := access.ID(c.Params("id")), s.speaker(c)
	var d sheetData
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if d, err = loadSheet(tx, id, say.Language); err != nil || d.upload.Waits {
			return err
		}
		d.owner = a.CanRanch(access.CompareRanch, d.upload.Ranch)
		return tx.Took(d.upload.Ranch, postgres.LookSent, d.upload.File)
	})
	if err != nil {
		return err
	}
	page := newUploadPage(say, d, s.Now(), tab)
	page.base, page.Held, page.OwnPage = s.base(c, a, uploadTitle(d, say)), held, ownPage(a, d.upload)
	if d.upload.Waits {
		page.Refresh = refreshAfter
	}
	return s.render(c, fiber.StatusOK, "upload", page)
}

// newUploadPage fills the page but for its frame. Of many tables only that numbered tab is shown, or with -1 those that fit.
func newUploadPage(say words.Speaker, d sheetData, now time.Time, tab int) uploadPage {
	page := uploadPage{Upload: d.upload, Who: changedBy(d.upload, say), Later: d.later, Answered: len(d.answers.Given), TakenBack: len(d.answers.Undone), Settings: d.answers.Settings}
	if d.upload.Accepted != nil {
		page.Accepted = say.Day(*d.upload.Accepted)
	}
	page.Owner, page.Changed = d.owner, answeredBy(d.answers, say)
	page.Waits, page.Rest = waitsSaid(say, d), countsHere(d.upload, d.waits) > 0
	page.Overlaps, page.Below = overlapsSaid(say, d.over), d.upload.Rank == 1 && slices.ContainsFunc(d.over, func(o postgres.Overlap) bool { return o.Holds })
	p := d.page
	switch {
	case d.upload.Waits:
		page.Reading = howFar(say, d.begun, now)
		return page
	case p == nil:
		page.Bare = true
		return page
	case p.Problem != "":
		page.Problem = p.Problem
		return page
	}
	page.Rows, page.Sentences = p.Rows, p.Sentences
	for _, season := range p.Seasons {
		page.Totals = append(page.Totals, totals(say, season, len(p.Seasons) > 1))
	}
	for _, sum := range p.Sums {
		page.Sums = append(page.Sums, sumSaid(say, sum, len(p.Tables) > 1))
	}
	for i, q := range p.Questions {
		page.Questions = append(page.Questions, questionOf(say, i, q))
	}
	page.Tidied, page.Aside, page.Refused = notesOf(say, p.Tidied), notesOf(say, p.Aside), notesOf(say, p.Refused)
	for _, e := range p.Elsewhere {
		page.Elsewhere = append(page.Elsewhere, d.elsewhere(say, e))
	}
	if p.Says != "" {
		says := d.elsewhere(say, readback.Place{Ranch: p.Says})
		page.Says = &says
	}
	if len(p.Remembered) > 0 {
		page.Told = say.Say("As you told us for an earlier sheet, we read %s the same way here.", quotedList(say, p.Remembered))
	}
	layout := newLayout(say, d.upload.Changeable)
	page.Tables, page.Elided = layout.tables(d.upload.ID, p, tab)
	for i := range page.Questions {
		if layout.asked[i] {
			page.Questions[i].At = placeID(i)
		}
	}
	return page
}

// overlapsSaid says which nests stand in another sheet, too, and where they count.
func overlapsSaid(say words.Speaker, list []postgres.Overlap) (said []string) {
	for _, o := range list {
		by := o.SentBy
		if by == "" {
			by = say.Say("somebody who has left")
		}
		both := nestsAndBelts(say, o.Nests, o.Belts)
		if o.Holds {
			said = append(said, say.Say("“%s”, which %s sent on %s, has %s of this sheet, too. What stands there counts.", o.File, by, say.Day(o.SentAt.UTC()), both))
		} else {
			said = append(said, say.Say("“%s”, which %s sent on %s, has %s of this sheet, too. What stands here counts.", o.File, by, say.Day(o.SentAt.UTC()), both))
		}
	}
	return said
}

// waitsSaid says what of a hand's sheet waits for an owner, and why; "" for nothing.
func waitsSaid(say words.Speaker, d sheetData) string {
	waits := nestsAndBelts(say, d.waits.NestsWait, d.waits.BeltsWait)
	switch {
	case d.upload.State != postgres.Current || d.upload.SentFor || d.upload.Rank > 1:
		return ""
	case d.upload.Unaccepted():
		return say.Say("An owner took a sheet of this season back. Nothing in this one counts until an owner accepts it.")
	case waits == "":
		return ""
	}
	return say.Say("An owner has sent or accepted a sheet of this season, which does not have %s that stand here. They count once an owner accepts this sheet.", waits)
}

// nestsAndBelts counts those of which there are any.
func nestsAndBelts(say words.Speaker, nests, belts int) string {
	var parts []string
	if nests > 0 {
		parts = append(parts, say.Count("%d nest", "%d nests", nests))
	}
	if belts > 0 {
		parts = append(parts, say.Count("%d belt", "%d belts", belts))
	}
	return say.List(parts)
}

// howFar says how the reading of a sheet stands.
func howFar(say words.Speaker, begun, now time.Time) string {
	if begun.IsZero() {
		return say.Say("It waits its turn.")
	}
	return say.Count("It has been read for %d second.", "It has been read for %d seconds.", max(1, int(now.Sub(begun)/time.Second)))
}

func quotedList(say words.Speaker, list []string) string {
	var quoted []string
	for _, s := range list {
		quoted = append(quoted, "“"+s+"”")
	}
	return say.List(quoted)
}

// elsewhere says how many nests of another ranch stand in the sheet, and whether it is filed there.
func (d *sheetData) elsewhere(say words.Speaker, p readback.Place) elsewhere {
	e := elsewhere{Name: p.Ranch, Count: say.Count("%d nest", "%d nests", p.Nests)}
	for _, r := range d.ranches {
		if r.Name == p.Ranch {
			e.Ranch = r.ID
		}
	}
	for _, u := range d.twins {
		if u.Ranch == e.Ranch && e.Ranch != "" {
			e.Filed = u.ID
		}
	}
	return e
}

func questionOf(say words.Speaker, i int, q readback.Question) question {
	asked := question{Question: q, N: i + 1, Places: places(q.Cells, say)}
	for _, c := range q.Choices {
		shown := choice{ID: c.ID, Label: c.Label}
		for k := range c.First {
			shown.Gives = append(shown.Gives, readback.Nest(say, &c.First[k]))
		}
		if c.Tried {
			shown.Count = say.Count("%d nest counts then.", "%d nests count then.", c.Nests)
		}
		asked.Choices = append(asked.Choices, shown)
	}
	alike := func(same func(a, b choice) bool) bool {
		return !slices.ContainsFunc(asked.Choices, func(c choice) bool { return !same(c, asked.Choices[0]) })
	}
	counts := alike(func(a, b choice) bool { return a.Count == b.Count })
	gives := alike(func(a, b choice) bool { return slices.Equal(a.Gives, b.Gives) })
	for i := range asked.Choices {
		if counts {
			asked.Choices[i].Count = ""
		}
		if gives {
			asked.Choices[i].Gives = nil
		}
	}
	return asked
}

func notesOf(say words.Speaker, list []readback.Note) []note {
	var notes []note
	for i, n := range list {
		notes = append(notes, note{n, i + 1, places(n.Cells, say)})
	}
	return notes
}

// totals says what was read of one season: "24 nests on 3 lines: 15 with all eggs at the last check, 8 taken, 1 not found".
func totals(say words.Speaker, s readback.Season, several bool) string {
	var all []string
	if s.Nests > 0 {
		text := say.Say("%s on %s", say.Count("%d nest", "%d nests", s.Nests), say.Count("%d line", "%d lines", s.Lines))
		if fates := fatesSaid(say, s); len(fates) > 0 {
			text = say.Say("%s: %s", text, strings.Join(fates, ", "))
		}
		all = append(all, text)
	}
	if s.Belts > 0 {
		all = append(all, say.Count("%d belt", "%d belts", s.Belts))
	}
	if s.Waiting > 0 {
		all = append(all, say.Count("%d nest waits for your answer", "%d nests wait for your answer", s.Waiting))
	}
	if len(all) == 0 {
		return say.Say("No row could be used yet.")
	}
	text := strings.Join(all, "; ") + "."
	if several {
		text = say.Say("%s: %s", seasonName(say, s.Season), text)
	}
	return text
}

func seasonName(say words.Speaker, season int) string {
	if season == 0 {
		return say.Say("No season")
	}
	return fmt.Sprint(season)
}

// fatesSaid lists what became of nests by their last check, without those that there are none of.
func fatesSaid(say words.Speaker, s readback.Season) []string {
	var list []string
	for _, f := range []struct {
		n         int
		one, many string
	}{
		{s.Intact, words.Mark("%d with all eggs at the last check"), words.Mark("%d with all eggs at the last check")},
		{s.Taken, words.Mark("%d taken"), words.Mark("%d taken")},
		{s.Spoiled, words.Mark("%d spoiled"), words.Mark("%d spoiled")},
		{s.Trampled, words.Mark("%d trampled"), words.Mark("%d trampled")},
		{s.Flooded, words.Mark("%d flooded"), words.Mark("%d flooded")},
		{s.Lost, words.Mark("%d not found"), words.Mark("%d not found")},
		{s.Unchecked, words.Mark("%d not checked yet"), words.Mark("%d not checked yet")},
	} {
		if f.n > 0 {
			list = append(list, say.Count(f.one, f.many, f.n))
		}
	}
	return list
}

// sumSaid repeats a row of sums as it stands in the sheet.
func sumSaid(say words.Speaker, s readback.Sum, several bool) string {
	cells := "“" + strings.Join(s.Cells, " · ") + "”"
	if several && s.Sheet != "" {
		return say.Say("Your sheet says, in row %d of tab “%s”: %s", s.Row, s.Sheet, cells)
	}
	return say.Say("Your sheet says, in row %d: %s", s.Row, cells)
}

// uploadTitle states how the sending stands.
func uploadTitle(d sheetData, say words.Speaker) string {
	must, asked := 0, 0
	if d.page != nil {
		asked = len(d.page.Questions)
		for _, q := range d.page.Questions {
			if q.Must {
				must++
			}
		}
	}
	switch u := d.upload; {
	case u.Waits:
		return say.Say("Reading your sheet")
	case u.State == postgres.Undone:
		return say.Say("This sheet was taken back")
	case u.State == postgres.Replaced:
		return say.Say("This sheet was replaced by a later one")
	case d.page != nil && d.page.Problem != "":
		return say.Say("Nothing in this sheet could be read")
	case must > 0:
		return say.Count("Your sheet is in; %d thing needs you", "Your sheet is in; %d things need you", must)
	case asked > 0:
		return say.Count("Your sheet is in, with %d question", "Your sheet is in, with %d questions", asked)
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

// answerUpload takes answers, takes back what we tidied, or takes the settings of the whole sheet; then the sheet is read
// again and its rows are replaced. The original file is never touched, so every answer can be given again.
func (s *server) answerUpload(c *fiber.Ctx, a access.Actor) error {
	given := map[string]string{}
	c.Context().PostArgs().VisitAll(func(k, v []byte) {
		if id, ok := strings.CutPrefix(string(k), "q."); ok {
			given[id] = string(v)
		}
	})
	takeBack, again := c.FormValue("take_back"), c.FormValue("again")
	settings := postgres.Settings{DateOrder: dateOrder(c.FormValue("date_order")), Zero: zeroMeans(c.FormValue("zero"))}
	changeSettings := c.FormValue("settings") != ""

	id, say := access.ID(c.Params("id")), s.speaker(c)
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		d, err := loadSheet(tx, id, say.Language)
		if err != nil {
			return err
		}
		answers := d.answers
		var said []string
		if d.page != nil {
			answers.Given = takeAnswers(answers.Given, given, d.page)
			said = answersSaid(say, d.answers.Given, answers.Given, d.page)
			for _, t := range d.page.Tidied {
				if t.ID == takeBack {
					answers.Undone = append(answers.Undone, takeBack)
					said = append(said, say.Say("not so: %s", t.Text))
				}
			}
		}
		switch again {
		case "questions":
			answers.Given = nil
			if err := tx.RememberWords(d.upload.Ranch, forgotten(answers.Settled)); err != nil {
				return err
			}
			answers.Settled, said = nil, append(said, say.Say("all answers taken back"))
		case "tidied":
			answers.Undone, said = nil, append(said, say.Say("tidied again"))
		}
		if changeSettings {
			settings.Season, settings.PartLossIntact = answers.Settings.Season, answers.Settings.PartLossIntact
			answers.Settings, said = settings, append(said, settingsSaid(say, settings)...)
		}
		answers.Said = strings.Join(said, "; ")
		return tx.ReadAgain(id, answers, say.Language)
	})
	if err != nil {
		return err
	}
	if err := s.await(c.UserContext(), a, id); err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(id))
}

// answersSaid says in words which answers are new, for the owners' log.
func answersSaid(say words.Speaker, had, has map[string]string, page *readback.Page) (said []string) {
	add := func(id, what, answer string) {
		if has[id] != had[id] {
			said = append(said, say.Say("“%s” is %s", what, answer))
		}
	}
	for _, q := range page.Questions {
		for _, c := range q.Choices {
			if c.ID == has[q.ID] {
				add(q.ID, q.Text, c.Label)
			}
		}
	}
	for _, t := range page.Tables {
		tags := slices.Clone(t.Side)
		for _, h := range t.Heads {
			tags = append(tags, h.Tags...)
		}
		for _, tag := range tags {
			what := tag.Heading
			if what == "" {
				what = say.Say("column %d", tag.Column+1)
			}
			add(tag.ID, what, roleSaid(say, strings.TrimPrefix(has[tag.ID], notUsed)))
		}
	}
	return said
}

// settingsSaid says how dates and zeros are to be read.
func settingsSaid(say words.Speaker, s postgres.Settings) []string {
	dates, zeros := say.Say("dates as they are read by themselves"), say.Say("zeros as they are read by themselves")
	switch s.DateOrder {
	case "month":
		dates = say.Say("dates month first")
	case "day":
		dates = say.Say("dates day first")
	}
	switch s.Zero {
	case string(survey.Intact):
		zeros = say.Say("a 0 is no damage")
	case string(survey.Taken):
		zeros = say.Say("a 0 is no eggs left")
	}
	return []string{dates, zeros}
}

// answeredBy says who changed last how a sheet is read, when, and what they said; "" where nobody did.
func answeredBy(a postgres.Answers, say words.Speaker) string {
	if a.At == nil {
		return ""
	}
	by := a.By
	if by == "" {
		by = say.Say("somebody who has left")
	}
	at := fmt.Sprintf("%s, %s UTC", say.Day(a.At.UTC()), a.At.UTC().Format("15:04"))
	if a.Said == "" {
		return say.Say("%s changed last how this sheet is read, on %s.", by, at)
	}
	return say.Say("%s changed last how this sheet is read, on %s: %s", by, at, a.Said)
}

// zeroMeans keeps one of the meanings that the form offers.
func zeroMeans(s string) string {
	if s == string(survey.Intact) || s == string(survey.Taken) {
		return s
	}
	return ""
}

// forgotten lets a ranch be asked about words again.
func forgotten(settled []string) map[string]string {
	words := map[string]string{}
	for _, word := range settled {
		words[word] = ""
	}
	return words
}

// takeAnswers adds to the answers those given to a question that was asked, with a choice it offers, and those that say what a
// column holds; anything else a form carries is left aside.
func takeAnswers(have, given map[string]string, page *readback.Page) map[string]string {
	answers := maps.Clone(have)
	if answers == nil {
		answers = map[string]string{}
	}
	for _, q := range page.Questions {
		choice, ok := given[q.ID]
		if ok && slices.ContainsFunc(q.Choices, func(c readback.Choice) bool { return c.ID == choice }) {
			answers[q.ID] = choice
		}
	}
	for _, t := range page.Tables {
		tags := slices.Clone(t.Side)
		for _, h := range t.Heads {
			tags = append(tags, h.Tags...)
		}
		for _, tag := range tags {
			role, ok := given[tag.ID]
			if ok && offered(role) && role != tag.Role && !(role == notUsed && tag.Role == "") { // what a form says again
				answers[tag.ID] = role
			}
		}
	}
	return answers
}

// readAgain reads a sheet again as it is: one whose rows came in before readings were kept.
func (s *server) readAgain(c *fiber.Ctx, a access.Actor) error {
	id, say := access.ID(c.Params("id")), s.speaker(c)
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		answers, err := tx.Answers(id)
		if err != nil {
			return err
		}
		return tx.ReadAgain(id, answers, say.Language)
	})
	if err != nil {
		return err
	}
	if err := s.await(c.UserContext(), a, id); err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(id))
}

// acceptUpload notes that what was read is right, and goes on to the results.
func (s *server) acceptUpload(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var u postgres.Upload
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if u, err = tx.Upload(id); err != nil || u.Waits {
			return err
		}
		return tx.Accept(id)
	})
	if err != nil {
		return err
	}
	if u.Waits { // what was seen is not what will be there
		return s.see(c, "/uploads/"+string(id))
	}
	return s.see(c, ownPage(a, u))
}

// fileElsewhere files the same sheet under another of the sender's ranches, beside this one or in its place.
func (s *server) fileElsewhere(c *fiber.Ctx, a access.Actor) error {
	id, ranch, instead := access.ID(c.Params("id")), access.ID(c.FormValue("ranch")), c.FormValue("instead") != ""
	var other access.ID
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		u, err := tx.Upload(id)
		if err != nil {
			return err
		}
		if !u.Changeable {
			return postgres.ErrNotYourSheet
		}
		if !a.CanRanch(access.SendResults, ranch) || ranch == u.Ranch {
			return errNothing
		}
		name, data, err := tx.UploadFile(id)
		if err != nil {
			return err
		}
		answers, err := tx.Answers(id)
		if err != nil {
			return err
		}
		if other, _, err = tx.Send(postgres.Sending{Ranch: ranch, File: name, Data: data, Together: u.Sending, Language: s.speaker(c).Language,
			Answers: answers.Given, Undone: answers.Undone, Settings: answers.Settings}); err != nil || !instead {
			return err
		}
		return tx.UndoUpload(id)
	})
	if err != nil {
		return err
	}
	if err := s.await(c.UserContext(), a, other); err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(other))
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
	if c.FormValue("from") == "list" {
		return s.see(c, "/uploads")
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
