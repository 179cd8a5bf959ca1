package pages

import (
	"context"
	"errors"
	"mime"
	"mime/multipart"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/postgres"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
)

func tooLarge(say words.Speaker) error {
	return errs.New(errs.TooLarge, say.Say("That is more than 20 MB, more than a season’s sheets need. Leave out pictures and old seasons, and send it again. Nothing was kept; your file is as it was."))
}

// sendPage is the form a season’s sheets are sent with, or old seasons by the armful.
type sendPage struct {
	base
	Action    string // where the form goes
	Old       bool   // many seasons, each file by itself
	Ranches   []postgres.Ranch
	Chosen    access.ID // "" is whichever the sheet says
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
	page.Action, page.Title = "/send", page.Say.Say("Send a season’s results")
	if page.Old {
		page.Action, page.Title = "/send/old", page.Say.Say("Send old seasons, all at once")
	}
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

// sendFiles keeps what was sent, for the clerk to read, and goes on to the page that shows what was read. A file of a kind
// that nobody can read is not kept: the form comes back with what to do, and the sender's own file is still where it was.
func (s *server) sendFiles(c *fiber.Ctx, a access.Actor) error {
	page := sendPage{
		Chosen:    access.ID(c.FormValue("ranch")),
		Season:    strings.TrimSpace(c.FormValue("season")),
		DateOrder: c.FormValue("date_order"),
	}
	replaces := access.ID(c.FormValue("replaces"))

	to, err := s.keep(c, a, page, replaces)
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) {
		page.Problem = message
		return s.showSendForm(c, a, fiber.StatusUnprocessableEntity, page, replaces)
	}
	if err != nil {
		return err
	}
	return s.see(c, to)
}

// keep stores one sending and returns the page that shows it.
func (s *server) keep(c *fiber.Ctx, a access.Actor, page sendPage, replaces access.ID) (to string, err error) {
	say := s.speaker(c)
	files, err := filesOf(c, say)
	if err != nil {
		return "", err
	}
	sending := postgres.Sending{Settings: postgres.Settings{DateOrder: dateOrder(page.DateOrder)}, Language: say.Language, Replaces: replaces}
	if sending.Settings.Season, err = seasonHint(page.Season, s.Now().Year(), say); err != nil {
		return "", err
	}
	if len(files) > 1 {
		if files, err = unpacked(files, say); err != nil {
			return "", err
		}
	}
	if sending.File, sending.Data, err = bundle(files); err != nil {
		return "", err
	}
	if len(sending.Data) > sheet.MaxBytes {
		return "", tooLarge(say)
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		chosen := page.Chosen
		if replaces != "" {
			old, err := tx.Upload(replaces)
			if err != nil {
				return err
			}
			chosen = old.Ranch
		}
		if chosen == "" && len(a.Ranches) > 1 {
			sending.Together = postgres.NewSending()
			to = "/sent/" + string(sending.Together)
			return tx.SendUnfiled(sending)
		}
		ranch, err := chosenRanch(tx, a, chosen, say)
		if err != nil {
			return err
		}
		sending.Ranch = ranch.ID
		id, already, err := tx.Send(sending)
		if to = "/uploads/" + string(id); already {
			to += "?held=1"
		}
		return err
	})
	if err != nil {
		return "", err
	}
	if id, ok := strings.CutPrefix(to, "/sent/"); ok {
		return to, s.awaitFiled(c.UserContext(), a, access.ID(id))
	}
	id, _, _ := strings.Cut(strings.TrimPrefix(to, "/uploads/"), "?")
	return to, s.await(c.UserContext(), a, access.ID(id))
}

// How long a page waits for the clerk before it shows that the sheet is being read, and how often it looks.
const (
	awaits = 2500 * time.Millisecond
	looks  = 25 * time.Millisecond
)

// await returns when an upload has been read, or when that takes too long to wait for.
func (s *server) await(ctx context.Context, a access.Actor, id access.ID) error {
	return s.until(ctx, a, func(tx *postgres.Tx) (bool, error) {
		p, err := tx.Progress(id)
		return !p.Waits, err
	})
}

// awaitFiled returns when every file of a sending is filed or is the sender's to file, and read.
func (s *server) awaitFiled(ctx context.Context, a access.Actor, sending access.ID) error {
	return s.until(ctx, a, func(tx *postgres.Tx) (bool, error) {
		filed, unfiled, err := loadSending(tx, sending)
		return !underWay(filed, unfiled), err
	})
}

// until asks again and again, in a transaction of its own each time, for a while.
func (s *server) until(ctx context.Context, a access.Actor, done func(*postgres.Tx) (bool, error)) error {
	end := time.Now().Add(awaits)
	for wait := looks; ; wait = min(2*wait, 8*looks) {
		ready := false
		err := s.DB.As(ctx, a, func(tx *postgres.Tx) (err error) {
			ready, err = done(tx)
			return err
		})
		if err != nil || ready || time.Now().After(end) {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(wait):
		}
	}
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
		return nil, errs.New(errs.TooLarge, say.Say("Those are more than %d files. Send fewer at a time.", maxFiles))
	}
	return files, nil
}

// fileOf takes one file and refuses, by its bytes and whatever its name says, what nobody can read.
func fileOf(h *multipart.FileHeader, say words.Speaker) (intake.File, error) {
	name := safeName(h.Filename)
	data, err := contents(h, maxSending)
	if err != nil {
		return intake.File{}, err
	}
	if !readable(sheet.KindOf(data)) {
		if _, err := sheet.Open(name, data, say); err != nil {
			return intake.File{}, err
		}
	}
	return intake.File{Name: name, Data: data}, nil
}

// readable tells whether the clerk may make something of a kind of file.
func readable(k sheet.Kind) bool {
	switch k {
	case sheet.Text, sheet.XLSX, sheet.ODS, sheet.FODS, sheet.XLS, sheet.XMLSS, sheet.HTML, sheet.Archive:
		return true
	}
	return false
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

// dateOrder keeps one of the orders that a form offers.
func dateOrder(s string) string {
	if s == "month" || s == "day" {
		return s
	}
	return ""
}

// today is the calendar day by the server's clock.
func (s *server) today() survey.Date { return survey.DateFrom(s.Now()) }
