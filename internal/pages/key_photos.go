package pages

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/postgres"
	"tussock/internal/scan"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// mostPhotos is how many photos are taken at once: a line of twenty-four nests has eight pages.
const mostPhotos = 12

// photoReaders is how many photos are read at the same time, for all members together: each takes a processor for about half a
// second, and up to 210 MB where somebody made a picture for that.
const photoReaders = 2

// readTime is how long photos that were sent together are read, well within the time that the request has: what was read by then is
// kept, and the others are to be sent again.
const readTime = 35 * time.Second

// A sheetRead is one picture that was sent: what it says, or why it cannot be read.
type sheetRead struct {
	name    string // of the file, for the sender
	reading *scan.Reading
	picture []byte // the straightened sheet as it is kept
	problem string
}

// A lineRead is what came of photos for one line.
type lineRead struct {
	Line   season.Line
	Pages  int
	Doubts int
}

// sentPhotos reads what was sent. It fails as a whole only where nothing was, or too much.
func (s *server) sentPhotos(c *fiber.Ctx) ([]sheetRead, error) {
	form, err := c.MultipartForm()
	if err != nil || len(form.File["photo"]) == 0 {
		return nil, errs.Hide(errs.Invalid, words.Mark("Choose photos of the sheet first."), err)
	}
	files := form.File["photo"]
	if len(files) > mostPhotos {
		return nil, errs.New(errs.TooLarge, words.Mark("Those are more than twelve photos at once. Send them in parts."))
	}
	ctx, cancel := context.WithTimeout(c.UserContext(), readTime)
	defer cancel()
	var reads []sheetRead
	for _, head := range files {
		data, err := contents(head, scan.MaxFile)
		if err != nil {
			return nil, err
		}
		name := safeName(head.Filename)
		pictures, err := scan.Pictures(data)
		if err != nil {
			reads = append(reads, sheetRead{name: name, problem: s.photoProblem(c, name, err)})
			continue
		}
		for i, p := range pictures {
			r := sheetRead{name: name}
			if len(pictures) > 1 {
				r.name = s.speaker(c).Say("%s, page %d", name, i+1)
			}
			if r.reading, r.picture, err = s.readPhoto(ctx, p); err != nil {
				r.problem = s.photoProblem(c, r.name, err)
			}
			reads = append(reads, r)
		}
	}
	return reads, nil
}

// readPhoto waits for its turn, and reads one picture.
func (s *server) readPhoto(ctx context.Context, p scan.Picture) (*scan.Reading, []byte, error) {
	if err := s.readers.Acquire(ctx, 1); err != nil {
		return nil, nil, errs.Hide(errs.Unavailable, words.Mark("Many photos are being read just now. Send this one again in a minute."), err)
	}
	defer s.readers.Release(1)
	r, err := p.Read()
	if err != nil {
		return nil, nil, err
	}
	picture, err := r.JPEG(fieldwork.MaxPhoto)
	return r, picture, err
}

// photoProblem says what is wrong with one photo, and notes in the log what nobody foresaw.
func (s *server) photoProblem(c *fiber.Ctx, name string, err error) string {
	message, ok := s.said(c, err)
	if !ok {
		s.Log.Error("photo of a sheet", "error", err)
		message = s.speaker(c).Say("This photo could not be read. Take another.")
	}
	return name + ": " + message
}

// readPhotos takes photos of any sheets; their codes say which lines they are of.
func (s *server) readPhotos(c *fiber.Ctx, a access.Actor) error {
	page := s.keysPage(c, a)
	reads, err := s.sentPhotos(c)
	if message, ok := s.said(c, err); ok {
		page.Problems = []string{message}
	} else if err != nil {
		return err
	} else if page.Read, page.Problems, err = s.takeReads(c, a, reads, nil); err != nil {
		return err
	}
	if len(page.Read) == 1 && len(page.Problems) == 0 {
		return s.see(c, "/key/"+page.Read[0].Line.Code)
	}
	if err := s.DB.As(c.UserContext(), a, page.load); err != nil {
		return err
	}
	status := fiber.StatusOK
	if len(page.Read) == 0 {
		status = fiber.StatusUnprocessableEntity
	}
	return s.render(c, status, "keys", page)
}

// readLinePhotos takes photos of one line's sheet.
func (s *server) readLinePhotos(c *fiber.Ctx, a access.Actor) error {
	k, err := s.loadKeyed(c, a)
	if err != nil {
		return err
	}
	var read []lineRead
	var problems []string
	reads, err := s.sentPhotos(c)
	if message, ok := s.said(c, err); ok {
		problems = []string{message}
	} else if err != nil {
		return err
	} else if read, problems, err = s.takeReads(c, a, reads, &k.line); err != nil {
		return err
	}
	if len(problems) == 0 {
		return s.see(c, "/key/"+k.line.Code)
	}
	if k, err = s.loadKeyed(c, a); err != nil {
		return err
	}
	looks, seen := k.paper()
	boxes := fieldwork.KeyedOf(k.line, looks)
	if !k.draft.Empty() {
		boxes = k.draft.Boxes
	}
	page := s.keyPage(c, a, &k, boxes, nil)
	page.Seen, page.Drafted, page.Problems = seen, !k.draft.Empty(), problems
	status := fiber.StatusOK
	if len(read) == 0 {
		status = fiber.StatusUnprocessableEntity
	}
	return s.render(c, status, "key", page)
}

// takeReads puts each reading into the draft of its line, which is only where one is given, and keeps its photo.
func (s *server) takeReads(c *fiber.Ctx, a access.Actor, reads []sheetRead, only *season.Line) (read []lineRead, problems []string, err error) {
	say := s.speaker(c)
	byLine := map[access.ID]*lineRead{}
	var order []access.ID
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		for i := range reads {
			r := &reads[i]
			if r.problem != "" {
				problems = append(problems, r.problem)
				continue
			}
			line, problem, err := sheetLine(tx, r.reading, only, say)
			if err != nil {
				return err
			}
			if problem == "" && r.reading.Blank() {
				problem = say.Say("Nothing is ticked or written on this page yet.")
			}
			if problem != "" {
				problems = append(problems, r.name+": "+problem)
				continue
			}
			doubts, err := s.takeRead(tx, line, r)
			if err != nil {
				return err
			}
			if stops := r.reading.Beyond(line.Stops); len(stops) > 0 {
				problems = append(problems, r.name+": "+say.Say("There is something on the sheet at stop %d, but this line has %d stops. It is not keyed.", stops[0], line.Stops))
			}
			if byLine[line.ID] == nil {
				byLine[line.ID] = &lineRead{Line: line}
				order = append(order, line.ID)
			}
			byLine[line.ID].Pages++
			byLine[line.ID].Doubts += doubts
		}
		return nil
	})
	for _, id := range order {
		read = append(read, *byLine[id])
	}
	return read, problems, err
}

// sheetLine returns the line that a photo is of, or a sentence where that is not one of the actor's or not the one it was sent for.
// A sheet that was printed without a line is taken for the line for which it was sent.
func sheetLine(tx *postgres.Tx, r *scan.Reading, only *season.Line, say words.Speaker) (season.Line, string, error) {
	switch {
	case r.Line == "" && only == nil:
		return season.Line{}, say.Say("This sheet was printed without a line. Open the line that it is of, below, and send the photo there."), nil
	case r.Line == "" || only != nil && only.Code == r.Line:
		return *only, "", nil
	}
	line, err := tx.LineOfCode(r.Line)
	switch {
	case errors.Is(err, errs.NotFound):
		return line, say.Say("This sheet is not of a line that you can key. Its code is %s.", r.Line), nil
	case err != nil:
		return line, "", err
	case only != nil:
		return line, say.Say("This is the sheet of line %s, season %d, with the code %s. Open that line and send the photo there.", line.Name, line.Season, line.Code), nil
	}
	return line, "", nil
}

// takeRead fills what a photo says into the actor's draft of its line, keeps the photo with the line, and returns how many
// boxes are to be looked at. A later photo of the same page takes the place of the earlier one.
func (s *server) takeRead(tx *postgres.Tx, l season.Line, r *sheetRead) (doubts int, err error) {
	looks, err := tx.Looks(l.Ranch, l.Season)
	if err != nil {
		return 0, err
	}
	draft, err := tx.KeyDraft(l)
	if err != nil {
		return 0, err
	}
	saved := fieldwork.KeyedOf(l, fieldwork.FromPaper(l.ID, looks))
	if draft.Empty() {
		draft.Boxes = maps.Clone(saved)
	}
	if draft.Boxes == nil {
		draft.Boxes = fieldwork.Keyed{}
	}
	id := access.ID(uuid.NewString())
	tag := r.reading.Sheet.Tag()
	names := boxNames(l)
	photo := fieldwork.SheetPhoto{Photo: id, Page: tag, Doubts: slices.DeleteFunc(r.reading.Fill(draft.Boxes, saved), func(box string) bool { return !slices.Contains(names, box) })}
	maps.DeleteFunc(draft.Boxes, func(box, _ string) bool { return !slices.Contains(names, box) })
	draft.Photos = append(slices.DeleteFunc(draft.Photos, func(p fieldwork.SheetPhoto) bool { return p.Page == tag }), photo)
	if err := tx.KeepPhoto(l.Ranch, l.ID, id, r.picture); err != nil {
		return 0, err
	}
	_, err = tx.KeepLooks([]fieldwork.Look{{ID: access.ID(uuid.NewString()), Ranch: l.Ranch, Season: l.Season, Line: l.ID, Kind: fieldwork.Note,
		Who: "paper", Device: "paper-scan", At: s.Now(), Answers: map[string]string{"photo": string(id)}}})
	if err != nil {
		return 0, err
	}
	return len(photo.Doubts), tx.SaveKeyDraft(l, draft)
}

// unkeyed returns a slip for each place that was to be looked at and in which nothing is typed: what is not clear is empty only
// where somebody says so.
func unkeyed(photos []fieldwork.SheetPhoto, boxes fieldwork.Keyed) []fieldwork.Slip {
	var slips []fieldwork.Slip
	for _, p := range photos {
		for _, f := range doubted(p) {
			if boxes[f.Name] != "" {
				continue
			}
			text := words.Mark("Something is written here. Type it, or say below that it stays empty.")
			if f.Boxes != nil {
				text = words.Mark("It is not clear what is ticked here. Type it, or say below that it stays empty.")
			}
			slips = append(slips, fieldwork.Slip{Box: f.Name, Text: text})
		}
	}
	return slips
}

// doubted returns the fields of a photo's page that are to be looked at.
func doubted(p fieldwork.SheetPhoto) []paper.Field {
	sheet, err := paper.ParseTag(p.Page)
	if err != nil {
		return nil // of an older layout
	}
	return slices.DeleteFunc(sheet.Fields(), func(f paper.Field) bool { return !slices.Contains(p.Doubts, f.Name) })
}

// A keyLook is what is to be looked at on one page of the sheet.
type keyLook struct {
	Title string
	Items []keyDoubt
}

// A keyDoubt is one box to look at, beside its part of the photo.
type keyDoubt struct {
	Cell keyCell
	Wide bool // wider than a phone
	Cut  keyCut
}

// A keyCut is a part of a photo, in millimeters of the sheet.
type keyCut struct {
	Photo      access.ID
	X, Y, W, H float64
}

// Pixels returns how long so many millimeters of the cut-out are shown.
func (k keyCut) Pixels(mm float64) int {
	if k.W > 80 {
		return int(mm * 4)
	}
	return int(mm * 6)
}

// A keyPhoto is a photo of which parts are shown, with its size in millimeters.
type keyPhoto struct {
	ID   access.ID
	W, H float64
}

// look fills in what a person has to look at. A box that two photos show stands once, beside the first.
func (p *keyPage) look(say words.Speaker, k *keyed, boxes fieldwork.Keyed) {
	cells := map[string]keyCell{}
	for _, cell := range p.cells() {
		cells[cell.Name] = cell
	}
	clear := map[string]bool{}
	for _, photo := range k.draft.Photos {
		sheet, err := paper.ParseTag(photo.Page)
		if err != nil {
			continue
		}
		w, h := sheet.Size.MM()
		p.Shown = append(p.Shown, keyPhoto{photo.Photo, w, h})
		look := keyLook{Title: pageTitle(say, sheet)}
		for _, f := range doubted(photo) {
			cell, ok := cells[f.Name]
			if !ok {
				continue
			}
			delete(cells, f.Name)
			cut := f.CutOut()
			cell.Hint = choicesHint(say, f)
			look.Items = append(look.Items, keyDoubt{cell, cut.W > 80, keyCut{photo.Photo, cut.X, cut.Y, cut.W, cut.H}})
		}
		if len(look.Items) > 0 {
			p.Look = append(p.Look, look)
		}
		for _, f := range sheet.Fields() {
			clear[f.Name] = f.Boxes != nil && boxes[f.Name] != "" && !slices.Contains(photo.Doubts, f.Name)
		}
	}
	for _, ok := range clear {
		if ok {
			p.Clear++
		}
	}
}

// ToLook is how many places a person has to look at.
func (p keyPage) ToLook() int {
	n := 0
	for _, l := range p.Look {
		n += len(l.Items)
	}
	return n
}

// pageTitle names a page of a sheet.
func pageTitle(say words.Speaker, s paper.Sheet) string {
	switch s.Page {
	case paper.Nests:
		return say.Say("Nests, stops %d to %d", s.First, s.Last)
	case paper.Remains:
		return say.Say("Remains, stops %d to %d", s.First, s.Last)
	}
	return say.Say("Belt")
}

// choicesHint says what the numbers of a field's boxes stand for: 1 all here, 2 some gone.
func choicesHint(say words.Speaker, f paper.Field) string {
	if f.Tally {
		return say.Say("how many boxes are ticked")
	}
	column, _, _ := strings.Cut(f.Name, ".")
	var choices []string
	switch column {
	case "cover":
		choices = fieldwork.Covers
	case "found2", "found3":
		column, choices = "found", fieldwork.Founds
	case "how2", "how3":
		column, choices = "lost_how", fieldwork.LostHow
	default:
		if i := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == column }); i >= 0 {
			choices = survey.Features[i].Choices
		}
	}
	var hint []string
	for i, c := range choices {
		hint = append(hint, fmt.Sprintf("%d %s", i+1, say.Say(fieldwork.ChoiceLabel(column, c))))
	}
	return strings.Join(hint, ", ")
}
