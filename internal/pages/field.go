package pages

import (
	"encoding/json"
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/print"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// The field form is one page that works without a signal. Its shell is the same for everybody and holds nothing of
// anybody's, so a phone may keep it; what is theirs comes as one pack and stays in the browser's own store. What people
// tap comes back as looks, in parts, as often as the signal wants.

// photoBody is the biggest body of a photo, in bytes.
const photoBody = 1 << 20

// fieldShell is the page itself.
type fieldShell struct {
	Modules []string          // scripts it will import: named early, they load at once
	Words   map[string]string // what the scripts say, English to Spanish
}

func (s *server) field(c *fiber.Ctx, _ access.Actor) error {
	page := fieldShell{Words: s.fieldWords(nil)}
	for _, name := range fieldScripts {
		page.Modules = append(page.Modules, s.assets.path(name))
	}
	return s.render(c, fiber.StatusOK, "field", page)
}

// fieldScripts are the form's own modules; field.js imports the others.
var fieldScripts = []string{"field-words.js", "field-store.js", "field-send.js", "field-draw.js", "field-walk.js", "field-nest.js", "field-belt.js", "field-line.js"}

// A fieldWorker is whoever uses the form: a member with ranches, or a phone that opened a field link.
type fieldWorker struct {
	member access.Actor
	link   string // the secret of a link's session, or ""
}

var errNobodyInField = errs.New(errs.Unauthenticated, words.Mark("Sign in, or open the link you were given. What is on this phone stays on it."))

// worker tells who uses the form. A link that was opened on this phone comes before whoever is signed in on it.
func (s *server) worker(c *fiber.Ctx, a access.Actor) (fieldWorker, error) {
	if link := c.Cookies(s.fieldCookie()); link != "" {
		return fieldWorker{link: link}, nil
	}
	if a.Role.Has(access.SendResults) {
		return fieldWorker{member: a}, nil
	}
	return fieldWorker{}, errNobodyInField
}

func (s *server) fieldCookie() string { return s.cookieName() + "-field" }

// fieldHello is what the form asks before it sends: whether the server is there, who it takes the phone for, what time it
// is, and the word that what is sent must carry.
type fieldHello struct {
	CSRF string    `json:"csrf"`
	Now  time.Time `json:"now"`
	Who  string    `json:"who"`  // of the member, or whom the link is for
	Link bool      `json:"link"` // whether by a link
}

func (s *server) hello(c *fiber.Ctx, a access.Actor) (fieldHello, fieldWorker, error) {
	w, err := s.worker(c, a)
	h := fieldHello{CSRF: s.csrf(c, a), Now: s.Now().UTC(), Who: w.member.Name, Link: w.link != ""}
	if err == nil && h.Link {
		h.Who, err = s.DB.FieldName(c.UserContext(), w.link)
	}
	if h.Link && errors.Is(err, errs.Unauthenticated) {
		s.setCookie(c, s.fieldCookie(), "", s.Now().Add(-time.Hour)) // it will not come back; whoever is signed in may go on
	}
	return h, w, err
}

func (s *server) fieldHello(c *fiber.Ctx, a access.Actor) error {
	h, _, err := s.hello(c, a)
	if err != nil {
		return s.fieldProblem(c, err)
	}
	return c.JSON(h)
}

// fieldProblem answers the form's scripts: they show the sentence.
func (s *server) fieldProblem(c *fiber.Ctx, err error) error {
	message, ok := errs.MessageIn(s.speaker(c), err)
	status := statusOf(err)
	if !ok || status >= 500 {
		return err
	}
	return c.Status(status).JSON(fiber.Map{"problem": message})
}

// fieldPack is everything the form needs for a season without a signal.
type fieldPack struct {
	fieldHello
	Made      time.Time         `json:"made"`
	Through   string            `json:"through,omitempty"` // the last day of a link
	Lines     []fieldLine       `json:"lines"`
	Looks     []fieldwork.Look  `json:"looks"`
	Words     map[string]string `json:"words"` // English to Spanish
	Questions []fieldQuestion   `json:"questions"`
	Hazards   []print.Hazard    `json:"hazards"`
	Defer     string            `json:"defer"`
	Bytes     int               `json:"bytes"` // of the pack and all that is kept with it
}

type fieldLine struct {
	ID          access.ID `json:"id"`
	Ranch       access.ID `json:"ranch"`
	RanchName   string    `json:"ranchName,omitempty"`
	Season      int       `json:"season"`
	Name        string    `json:"name"`
	Pasture     string    `json:"pasture"`
	Code        string    `json:"code"`
	Stops       int       `json:"stops"`
	StepFt      float64   `json:"stepFt"`            // between two stops
	PaceFt      float64   `json:"paceFt"`            // feet a pace, as planned
	Bearing     *float64  `json:"bearing,omitempty"` // from true north, where the line was placed
	Covers      []string  `json:"covers"`            // wanted at the stops; "" where any will do
	SetOn       string    `json:"setOn"`
	FirstCheck  string    `json:"firstCheck"`
	LastCheck   string    `json:"lastCheck"`
	BeltWidthFt float64   `json:"beltWidthFt"`
	BeltLongFt  float64   `json:"beltLongFt"`
}

func fieldLineOf(l season.Line, ranchName string) fieldLine {
	f := fieldLine{ID: l.ID, Ranch: l.Ranch, RanchName: ranchName, Season: l.Season, Name: l.Name, Pasture: l.Pasture, Code: l.Code, Stops: l.Stops,
		StepFt: l.Step(), PaceFt: l.Pace, SetOn: l.SetOn.String(), FirstCheck: l.FirstCheck.String(), LastCheck: l.LastCheck.String(),
		BeltWidthFt: l.BeltWidth, BeltLongFt: l.BeltLength}
	if l.Placed {
		bearing := l.Bearing
		if l.Walked != nil {
			bearing = l.Walked.Bearing
		}
		f.Bearing = &bearing
	}
	for stop := 1; stop <= l.Stops; stop++ {
		f.Covers = append(f.Covers, strings.ReplaceAll(string(l.Cover(stop)), " ", "_"))
	}
	return f
}

// A fieldQuestion is a question with its answers as words and drawings.
type fieldQuestion struct {
	Name    string        `json:"name"`
	Label   string        `json:"label"`
	Choices []fieldChoice `json:"choices"`
}

type fieldChoice struct {
	Value   string `json:"value"`
	Label   string `json:"label"`
	Drawing string `json:"drawing,omitempty"`
}

// fieldQuestions are those the form asks by pictures: what was found, how it ended, the signs, and the guess last.
func (s *server) fieldQuestions() []fieldQuestion {
	ask := func(name string, choices []string) fieldQuestion {
		q := fieldQuestion{Name: name, Label: fieldwork.Label(name)}
		for _, v := range choices {
			q.Choices = append(q.Choices, fieldChoice{v, fieldwork.ChoiceLabel(name, v), s.assets.path("remains/" + fieldwork.Drawing(name, v) + ".svg")})
		}
		return q
	}
	list := []fieldQuestion{
		ask("cover", fieldwork.Covers),
		ask("found", []string{fieldwork.AllHere, fieldwork.SomeGone, fieldwork.AllLost, fieldwork.NotFound, fieldwork.NotChecked}),
		ask("lost_how", fieldwork.LostHow),
	}
	for _, f := range survey.Features {
		list = append(list, ask(f.Name, f.Choices))
	}
	guess := fieldQuestion{Name: "guess", Label: fieldwork.Label("guess")}
	for _, g := range fieldGuesses() {
		guess.Choices = append(guess.Choices, fieldChoice{Value: string(g.animal), Label: g.label})
	}
	return append(list, guess)
}

// fieldGuesses are the animals a guess may name, and their names in front of people.
func fieldGuesses() []struct {
	animal survey.Predator
	label  string
} {
	return []struct {
		animal survey.Predator
		label  string
	}{
		{survey.Raccoon, words.Mark("raccoon")}, {survey.Skunk, words.Mark("skunk")}, {survey.Opossum, words.Mark("opossum")}, {survey.Coyote, words.Mark("coyote")},
		{survey.Fox, words.Mark("fox")}, {survey.Bobcat, words.Mark("bobcat")}, {survey.Badger, words.Mark("badger")}, {survey.Armadillo, words.Mark("armadillo")},
		{survey.Hog, words.Mark("feral hog")}, {survey.Bird, words.Mark("bird")}, {survey.Snake, words.Mark("snake")}, {survey.Rodent, words.Mark("rodent")},
	}
}

// fieldPack hands out the pack.
func (s *server) fieldPack(c *fiber.Ctx, a access.Actor) error {
	h, w, err := s.hello(c, a)
	if err != nil {
		return s.fieldProblem(c, err)
	}
	p := fieldPack{fieldHello: h, Made: h.Now, Questions: s.fieldQuestions(), Hazards: print.Hazards(), Defer: print.HazardsDefer()}
	if w.link != "" {
		err = s.packOfLink(c, w.link, &p)
	} else {
		err = s.packOfMember(c, w.member, &p)
	}
	if err != nil {
		return s.fieldProblem(c, err)
	}
	p.Words = s.fieldWords(p.texts())
	body, err := json.Marshal(p)
	if err != nil {
		return err
	}
	p.Bytes = len(body)
	for _, path := range s.fieldAssets() {
		p.Bytes += len(s.assets.files[path].plain)
	}
	return c.JSON(p)
}

func (s *server) packOfLink(c *fiber.Ctx, session string, p *fieldPack) error {
	f, err := s.DB.Field(c.UserContext(), session)
	if err != nil {
		return err
	}
	p.Through, p.Looks = f.Through.String(), f.Looks
	for _, l := range f.Lines {
		p.Lines = append(p.Lines, fieldLineOf(l, ""))
	}
	return nil
}

// packOfMember holds each ranch's latest planned season.
func (s *server) packOfMember(c *fiber.Ctx, a access.Actor, p *fieldPack) error {
	return s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			years, err := tx.Planned(r.ID)
			if err != nil {
				return err
			}
			if len(years) == 0 {
				continue
			}
			if err := tx.Took(r.ID, postgres.TookPhone, ""); err != nil {
				return err
			}
			lines, err := tx.Lines(r.ID, years[0])
			if err != nil {
				return err
			}
			for _, l := range lines {
				if !l.Closed {
					p.Lines = append(p.Lines, fieldLineOf(l, r.Name))
				}
			}
			looks, err := tx.Looks(r.ID, years[0])
			if err != nil {
				return err
			}
			p.Looks = append(p.Looks, looks...)
		}
		return nil
	})
}

var saidInScript = regexp.MustCompile(`\bsay\(\s*("(?:[^"\\]|\\.)*")`)

// texts are those of the pack that people read.
func (p *fieldPack) texts() []string {
	list := []string{p.Defer}
	for _, q := range p.Questions {
		list = append(list, q.Label)
		for _, choice := range q.Choices {
			list = append(list, choice.Label)
		}
	}
	for _, h := range p.Hazards {
		list = append(list, h.Name, h.Text)
	}
	return list
}

// fieldWords gives texts in Spanish; those in the form's own scripts where none are given.
func (s *server) fieldWords(texts []string) map[string]string {
	if texts == nil {
		for _, name := range append([]string{"field.js"}, fieldScripts...) {
			for _, m := range saidInScript.FindAllSubmatch(s.assets.files[s.assets.path(name)].plain, -1) {
				if text, err := strconv.Unquote(string(m[1])); err == nil {
					texts = append(texts, text)
				}
			}
		}
	}
	spanish := s.book.In(words.Spanish)
	list := map[string]string{}
	for _, text := range texts {
		if text != "" && spanish.Has(text) {
			list[text] = spanish.Say(text)
		}
	}
	return list
}

// fieldAssets are the static files that a phone keeps for the form.
func (s *server) fieldAssets() []string {
	list := []string{s.assets.path("field.css"), s.assets.path("field.js"), s.assets.path("mark.svg")}
	for _, name := range fieldScripts {
		list = append(list, s.assets.path(name))
	}
	for name, path := range s.assets.hashed {
		if strings.HasPrefix(name, "remains/") && strings.HasSuffix(name, ".svg") {
			list = append(list, path)
		}
	}
	slices.Sort(list)
	return slices.DeleteFunc(list, func(path string) bool { return path == "" })
}

// keepFieldLooks keeps what a phone sends and names what is safe: each look that is now in the database, new or not.
func (s *server) keepFieldLooks(c *fiber.Ctx, a access.Actor) error {
	w, err := s.worker(c, a)
	if err != nil {
		return s.fieldProblem(c, err)
	}
	var looks []fieldwork.Look
	if err := json.Unmarshal([]byte(c.FormValue("looks")), &looks); err != nil {
		return s.fieldProblem(c, errs.Hide(errs.Invalid, words.Mark("This is not what the form sends."), err))
	}
	if w.link != "" {
		_, err = s.DB.KeepFieldLooks(c.UserContext(), w.link, looks)
	} else {
		err = s.DB.As(c.UserContext(), w.member, func(tx *postgres.Tx) error {
			_, err := tx.KeepLooks(looks)
			return err
		})
	}
	if err != nil {
		return s.fieldProblem(c, err)
	}
	safe := make([]access.ID, len(looks))
	for i, l := range looks {
		safe[i] = l.ID
	}
	return c.JSON(fiber.Map{"safe": safe, "now": s.Now().UTC()})
}

// keepFieldPhoto keeps one photo, drawn again.
func (s *server) keepFieldPhoto(c *fiber.Ctx, a access.Actor) error {
	w, err := s.worker(c, a)
	if err != nil {
		return s.fieldProblem(c, err)
	}
	data, err := sentFile(c, "photo", photoBody, words.Mark("No photo arrived."))
	if err == nil {
		data, err = fieldwork.CleanPhoto(data)
	}
	if err != nil {
		return s.fieldProblem(c, err)
	}
	id, line, ranch := access.ID(c.FormValue("id")), access.ID(c.FormValue("line")), access.ID(c.FormValue("ranch"))
	if w.link != "" {
		err = s.DB.KeepFieldPhoto(c.UserContext(), w.link, line, id, data)
	} else {
		err = s.DB.As(c.UserContext(), w.member, func(tx *postgres.Tx) error { return tx.KeepPhoto(ranch, line, id, data) })
	}
	if err != nil {
		return s.fieldProblem(c, err)
	}
	return c.JSON(fiber.Map{"safe": []access.ID{id}})
}

// fieldPhoto shows one photo to those who may open its ranch.
func (s *server) fieldPhoto(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var data []byte
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranch, found, err := tx.Photo(id)
		if err != nil {
			return err
		}
		data = found
		return tx.Took(ranch, postgres.LookSent, "photo.jpg")
	})
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, "image/jpeg")
	return c.Send(data)
}

// fieldApp lets a phone put the form among its apps (W3C Web Application Manifest).
func (s *server) fieldApp(c *fiber.Ctx, _ access.Actor) error {
	say := s.speaker(c)
	c.Set(fiber.HeaderContentType, "application/manifest+json")
	body, err := json.Marshal(fiber.Map{"name": say.Say("Field work"), "short_name": "Tussock", "start_url": "/field", "scope": "/field", "display": "standalone",
		"background_color": "#ffffff", "theme_color": "#ffffff", "lang": say.Language,
		"icons": []fiber.Map{{"src": s.assets.path("mark.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}}})
	if err != nil {
		return err
	}
	return c.Send(body)
}

// serviceWorker is the script that lets the form open without a signal. It stands at the root and names the files of
// this version, so that a phone notices another.
func (s *server) serviceWorker(c *fiber.Ctx, _ access.Actor) error {
	list, err := json.Marshal(s.fieldAssets())
	if err != nil {
		return err
	}
	script := s.assets.files[s.assets.path("sw.js")].plain
	c.Set(fiber.HeaderContentType, contentType(".js"))
	c.Set(fiber.HeaderCacheControl, "no-cache")
	return c.SendString(strings.Replace(string(script), "/* the files of this version */ []", string(list), 1))
}
