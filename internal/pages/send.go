package pages

import (
	"errors"
	"mime"
	"mime/multipart"
	"path"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

func tooLarge(say words.Speaker) error {
	return errs.New(errs.TooLarge, say.Say("That is more than 20 MB, more than a season’s sheets need. Leave out pictures and old seasons, and send it again. Nothing was kept; your file is as it was."))
}

// sendPage is the form a season’s sheets are sent with.
type sendPage struct {
	base
	Ranches   []postgres.Ranch
	Chosen    access.ID
	Season    string
	DateOrder string
	Replaces  *postgres.Upload // what the next file takes the place of
	Problem   string           // why the last try came to nothing, and what to do
}

// sendForm shows the form. With ?replaces=ID the file sent takes the place of an earlier one.
func (s *server) sendForm(c *fiber.Ctx, a access.Actor) error {
	return s.showSendForm(c, a, fiber.StatusOK, sendPage{Chosen: access.ID(c.Query("ranch"))}, access.ID(c.Query("replaces")))
}

func (s *server) showSendForm(c *fiber.Ctx, a access.Actor, status int, page sendPage, replaces access.ID) error {
	page.base = s.base(c, a, "")
	page.Title = page.Say.Say("Send a season’s results")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Ranches, err = tx.Ranches(); err != nil || replaces == "" {
			return err
		}
		u, err := tx.Upload(replaces)
		page.Replaces, page.Chosen = &u, u.Ranch
		return err
	})
	if err != nil {
		return err
	}
	if page.Replaces != nil {
		page.Title = page.Say.Say("Send another file in place of %s", page.Replaces.File)
	}
	if len(page.Ranches) == 1 {
		page.Chosen = page.Ranches[0].ID
	}
	return s.render(c, status, "send", page)
}

// blankSheet hands out the empty workbook.
func (s *server) blankSheet(c *fiber.Ctx, _ access.Actor) error {
	c.Set(fiber.HeaderContentType, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	say := s.speaker(c)
	c.Set(fiber.HeaderContentDisposition, mime.FormatMediaType("attachment", map[string]string{"filename": say.Say("season sheet.xlsx")}))
	return intake.WriteTemplate(c.Response().BodyWriter(), say)
}

// sendFiles keeps what was sent and reads it. A file of which nothing at all can be read is not kept: the form comes
// back with what to do, and the sender's own file is still where it was. A file with open questions is kept.
func (s *server) sendFiles(c *fiber.Ctx, a access.Actor) error {
	page := sendPage{
		Chosen:    access.ID(c.FormValue("ranch")),
		Season:    strings.TrimSpace(c.FormValue("season")),
		DateOrder: c.FormValue("date_order"),
	}
	replaces := access.ID(c.FormValue("replaces"))

	id, already, err := s.keep(c, a, page, replaces)
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) {
		page.Problem = message
		return s.showSendForm(c, a, fiber.StatusUnprocessableEntity, page, replaces)
	}
	if err != nil {
		return err
	}
	if already {
		return s.see(c, "/uploads/"+string(id)+"?held=1")
	}
	return s.see(c, "/uploads/"+string(id))
}

// keep reads the sheets before anything is stored, so that no database transaction waits for a spreadsheet.
func (s *server) keep(c *fiber.Ctx, a access.Actor, page sendPage, replaces access.ID) (id access.ID, already bool, err error) {
	say := s.speaker(c)
	files, err := filesOf(c, say)
	if err != nil {
		return "", false, err
	}
	r := reading{settings: postgres.Settings{DateOrder: page.DateOrder}, say: say}
	if r.settings.Season, err = seasonHint(page.Season, s.Now().Year(), say); err != nil {
		return "", false, err
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if replaces != "" {
			old, err := tx.Upload(replaces)
			if err != nil {
				return err
			}
			page.Chosen = old.Ranch
		}
		if r.ranch, err = chosenRanch(tx, a, page.Chosen, say); err != nil {
			return err
		}
		r.words, err = wordsOf(tx, r.ranch.ID)
		return err
	})
	if err != nil {
		return "", false, err
	}
	if r.name, r.data, err = bundle(files); err != nil {
		return "", false, err
	}
	res, err := r.read(s.today())
	if err != nil {
		return "", false, err
	}

	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		id, already, err = tx.Send(postgres.Sending{
			Ranch: r.ranch.ID, File: r.name, Data: r.data, Season: mainSeason(res, r.settings.Season),
			Rows: &res.Data, Refused: len(res.Refused), Open: len(res.Questions), OpenKinds: openKinds(res),
			Settings: r.settings, Replaces: replaces,
		})
		return err
	})
	return id, already, err
}

// chosenRanch returns the ranch the sheets are for: the one chosen, or the only one there is.
func chosenRanch(tx *postgres.Tx, a access.Actor, chosen access.ID, say words.Speaker) (postgres.Ranch, error) {
	if chosen == "" && len(a.Ranches) == 1 {
		chosen = a.Ranches[0]
	}
	if chosen == "" {
		return postgres.Ranch{}, errs.New(errs.Invalid, say.Say("Choose the ranch these sheets are for, then send them again."))
	}
	if !a.CanRanch(access.SendResults, chosen) {
		return postgres.Ranch{}, errNothing
	}
	return tx.Ranch(chosen)
}

// filesOf takes the files out of the form and refuses, in words, what cannot be a season’s sheets.
func filesOf(c *fiber.Ctx, say words.Speaker) ([]intake.File, error) {
	form, err := c.MultipartForm()
	if err != nil {
		return nil, errs.Hide(errs.Invalid, say.Say("No file arrived. Choose your season’s sheet and send it again."), err)
	}
	var files []intake.File
	total := int64(0)
	for _, h := range form.File["file"] {
		if h.Size == 0 && h.Filename == "" {
			continue
		}
		if total += h.Size; total > maxSending {
			return nil, tooLarge(say)
		}
		f, err := fileOf(h, say)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, say.Say("No file was chosen. Choose your season’s sheet and send it again."))
	}
	if len(files) > maxFiles {
		return nil, errs.New(errs.TooLarge, say.Say("Those are more than %d files. Send one season at a time.", maxFiles))
	}
	return files, nil
}

// kindHelp says what to do with a file of a kind we do not read.
var kindHelp = map[string]string{
	".xls":     words.Mark("Open “%s” in your spreadsheet program and save it as .xlsx, then send that one."),
	".ods":     words.Mark("Open “%s” in your spreadsheet program and save it as .xlsx, then send that one."),
	".numbers": words.Mark("Open “%s” and export it as Excel (.xlsx), then send that one."),
	".pdf":     words.Mark("“%s” is a printed page, and we cannot read numbers off it. Send the spreadsheet it was made from."),
	".doc":     words.Mark("“%s” is a letter, not a sheet. Copy the table into a spreadsheet and send that."),
	".docx":    words.Mark("“%s” is a letter, not a sheet. Copy the table into a spreadsheet and send that."),
	".jpg":     words.Mark("“%s” is a picture, and we cannot read numbers off it. Type it into the blank sheet, or ask your coordinator for a hand with it."),
	".jpeg":    words.Mark("“%s” is a picture, and we cannot read numbers off it. Type it into the blank sheet, or ask your coordinator for a hand with it."),
	".heic":    words.Mark("“%s” is a picture, and we cannot read numbers off it. Type it into the blank sheet, or ask your coordinator for a hand with it."),
	".png":     words.Mark("“%s” is a picture, and we cannot read numbers off it. Type it into the blank sheet, or ask your coordinator for a hand with it."),
}

func fileOf(h *multipart.FileHeader, say words.Speaker) (intake.File, error) {
	name := safeName(h.Filename)
	if help, ok := kindHelp[strings.ToLower(path.Ext(name))]; ok {
		return intake.File{}, errs.New(errs.Invalid, say.Say(help, name)+" "+say.Say("Nothing was kept; your file is as it was."))
	}
	if h.Size == 0 {
		return intake.File{}, errs.New(errs.Invalid, say.Say("“%s” is empty. Was it still being saved? Open it to see, then send it again.", name))
	}
	data, err := contents(h, maxSending)
	return intake.File{Name: name, Data: data}, err
}

// seasonHint reads the year the sender gives for dates that have none; "" is no hint.
func seasonHint(s string, thisYear int, say words.Speaker) (int, error) {
	if s == "" {
		return 0, nil
	}
	year, err := strconv.Atoi(s)
	if err != nil || year < 1950 || year > thisYear {
		return 0, errs.New(errs.Invalid, say.Say("The season is a year such as %d, or leave it empty. Then send the file again.", thisYear))
	}
	return year, nil
}

// mainSeason returns the season most rows of a sending are of, or the hint where no row could be dated.
func mainSeason(res *intake.Result, hint int) int {
	rows := map[int]int{}
	for i := range res.Data.Nests {
		rows[res.Data.Nests[i].Season]++
	}
	for i := range res.Data.Belts {
		rows[res.Data.Belts[i].Season]++
	}
	best := hint
	for season, n := range rows {
		if season != 0 && (n > rows[best] || n == rows[best] && season > best) {
			best = season
		}
	}
	return best
}

// openKinds counts the open questions by kind. A kind is a fixed word and holds nothing out of the sheet: it is all
// that the coordinator sees of a sending.
func openKinds(res *intake.Result) map[string]int {
	kinds := map[string]int{}
	for _, q := range res.Questions {
		kinds[q.Kind]++
	}
	return kinds
}

// today is the calendar day by the server's clock.
func (s *server) today() survey.Date { return survey.DateFrom(s.Now()) }
