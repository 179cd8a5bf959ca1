package pages

import (
	"errors"
	"strings"
	"unicode/utf8"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/keytable"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/words"
)

// cooperativeKeyPage shows the key to remains and puts another in its place: a table is sent or typed, checked, looked at, and then set.
type cooperativeKeyPage struct {
	base
	Key          keyView // today's, or the one that is looked at
	Versions     []keyVersion
	Own          bool // today's is not common practice
	Text, Source string
	Problems     []string
	More         int // problems that are not listed
	Preview      bool
	Start        bool // common practice is looked at
	Kept         bool
}

// problemsMost is how many faults of a table a page lists.
const problemsMost = 12

func (s *server) cooperativeKey(c *fiber.Ctx, a access.Actor) error {
	return s.showKey(c, a, fiber.StatusOK, cooperativeKeyPage{Kept: c.Query("kept") != ""})
}

func (s *server) showKey(c *fiber.Ctx, a access.Actor, status int, page cooperativeKeyPage) error {
	keys, err := s.keysFor(c, a)
	if err != nil {
		return err
	}
	say := s.speaker(c)
	title := say.Say("The key to remains")
	page.Own = len(keys[0].Table.Leanings)+len(keys[0].Table.Counts) > 0
	if page.Preview {
		title = say.Say("Is this the table?")
	} else {
		page.Key, page.Versions = keyViewOf(say, keys[0].Table), keyVersions(say, keys, keys[0].Version)
	}
	page.base = s.base(c, a, title)
	return s.render(c, status, "cooperative_key", page)
}

// checkKey reads a table that was sent or typed. Where nothing is wrong it is shown in plain words, to be set or not; else what was sent is
// there again, with what is wrong.
func (s *server) checkKey(c *fiber.Ctx, a access.Actor) error {
	say := s.speaker(c)
	page := cooperativeKeyPage{Text: c.FormValue("table"), Source: oneLine(c.FormValue("source"))}
	if c.FormValue("start") != "" {
		page.Preview, page.Start, page.Key = true, true, keyViewOf(say, predator.Table{})
		return s.showKey(c, a, fiber.StatusOK, page)
	}
	file := []byte(page.Text)
	if head, err := c.FormFile("file"); err == nil && head.Size > 0 {
		if file, err = contents(head, keytable.MostBytes); err != nil {
			return err
		}
		page.Text = ""
		if utf8.Valid(file) && len(file) <= keytable.MostBytes {
			page.Text = string(file) // nothing is lost: it can be mended where it stands
		}
	}
	if len(strings.TrimSpace(string(file))) == 0 {
		page.Problems = []string{say.Say("Choose the file with the table first, or write the table into the field.")}
		return s.showKey(c, a, fiber.StatusUnprocessableEntity, page)
	}
	t, faults := keytable.Read(file)
	if page.Source == "" {
		page.Source = oneLine(t.Source)
	}
	t.Source = page.Source
	page.Problems = say.TellAll(faults)
	if len(faults) == 0 && page.Source == "" {
		page.Problems = []string{say.Say("Say where the table comes from: a book, a paper, an agency, your own cameras and years. The line stands beside every mix of animals.")}
	}
	if n := len(page.Problems) - problemsMost; n > 0 {
		page.Problems, page.More = page.Problems[:problemsMost], n
	}
	if len(page.Problems) > 0 {
		return s.showKey(c, a, fiber.StatusUnprocessableEntity, page)
	}
	page.Preview, page.Key = true, keyViewOf(say, t)
	if err := s.besideToday(c, a, &page.Key, t); err != nil {
		return err
	}
	t.Source = "" // it goes beside
	page.Text = string(keytable.Write(t))
	return s.showKey(c, a, fiber.StatusOK, page)
}

// setKey sets the table that was looked at.
func (s *server) setKey(c *fiber.Ctx, a access.Actor) error {
	page := cooperativeKeyPage{Text: c.FormValue("table"), Source: oneLine(c.FormValue("source"))}
	var t predator.Table
	if c.FormValue("start") == "" {
		var faults []words.Phrase
		if t, faults = keytable.Read([]byte(page.Text)); len(faults) > 0 { // it was typed over on the way
			page.Problems = s.speaker(c).TellAll(faults)
			return s.showKey(c, a, fiber.StatusUnprocessableEntity, page)
		}
		t.Source = page.Source
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetKey(t) })
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && errors.Is(err, errs.Invalid) {
		page.Problems = []string{message}
		return s.showKey(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/key?kept=1")
}

// besideToday says of each answer what it alone would say by a table, where today's says otherwise.
func (s *server) besideToday(c *fiber.Ctx, a access.Actor, v *keyView, t predator.Table) error {
	keys, err := s.keysFor(c, a)
	if err != nil {
		return err
	}
	say, now, before := s.speaker(c), t.Key(), keys[0].Table.Key()
	for i := range v.Signs {
		for j := range v.Signs[i].Answers {
			is, was := alone(say, now, v.Signs[i].number, j), alone(say, before, v.Signs[i].number, j)
			if is != was {
				v.Signs[i].Answers[j].Now = say.Say("Alone it points most to %s; by today’s table to %s.", is, was)
			}
		}
	}
	return nil
}

// alone is the animal to which an answer alone points most, all animals being held equally likely beforehand.
func alone(say words.Speaker, k *predator.Key, sign, answer int) string {
	best, most, all, ties := 0, 0.0, 0.0, 0
	for animal := range predator.Predators() {
		p := k.Chance(sign, animal, answer)
		all += p
		switch {
		case p > most*(1+1e-9):
			best, most, ties = animal, p, 1
		case p > most*(1-1e-9):
			ties++
		}
	}
	if ties > 1 {
		return say.Say("no one animal")
	}
	return say.Say("%s (%.0f of 100)", say.Say(predator.Predators()[best]), 100*most/all)
}

// oneLine takes what was typed as one line.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
