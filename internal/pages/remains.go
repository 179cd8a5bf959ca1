package pages

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/findings"
	"tussock/internal/keytable"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/words"
)

// remainsPage shows every member the cooperative's key to remains: how strongly each sign is held to point to each animal, who says so, and which
// version counts for which season.
type remainsPage struct {
	base
	Key      keyView
	Versions []keyVersion
	Runs     bool // the reader can set another
}

// A keyView is a table in plain words.
type keyView struct {
	Source  string // a sentence
	Counted bool
	Signs   []keySign
	Silent  []string // sentences about what the table says nothing of
}

type keySign struct {
	Name    string
	Answers []keyAnswer
	number  int // of the sign in the key
}

// A keyAnswer says to what an answer points, and, beside another table, what it alone would say now and did before.
type keyAnswer struct{ Name, Text, Now string }

// A keyVersion is one version in the list of all.
type keyVersion struct {
	Number                  int
	Source, Set, Seasons    string
	Counts                  bool // for seasons that open from now on
	File, FileText, Reading string
	Here                    bool // it is the one that is shown
}

func (s *server) remains(c *fiber.Ctx, a access.Actor) error {
	keys, err := s.keysFor(c, a)
	if err != nil {
		return err
	}
	shown := keys[0]
	if wanted, err := strconv.Atoi(c.Query("version")); err == nil {
		i := slices.IndexFunc(keys, func(k postgres.RemainsKey) bool { return k.Version == wanted })
		if i < 0 {
			return errNothing
		}
		shown = keys[i]
	}
	say := s.speaker(c)
	page := remainsPage{base: s.base(c, a, say.Say("The key to remains")), Key: keyViewOf(say, shown.Table), Versions: keyVersions(say, keys, shown.Version), Runs: a.Role.Has(access.RunCooperative)}
	return s.render(c, fiber.StatusOK, "remains", page)
}

func (s *server) keysFor(c *fiber.Ctx, a access.Actor) (keys []postgres.RemainsKey, err error) {
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		keys, err = tx.Keys()
		return err
	})
	return keys, err
}

// strengthsToday says where the strengths of today's key come from.
func (s *server) strengthsToday(c *fiber.Ctx, a access.Actor) (said string, err error) {
	keys, err := s.keysFor(c, a)
	if err != nil {
		return "", err
	}
	return s.speaker(c).Tell(findings.Strengths(keys[0].Table.Source, keys[0].Table.Assumed())), nil
}

// remainsFile gives a version of the table, or an empty one to fill in, as CSV.
func (s *server) remainsFile(c *fiber.Ctx, a access.Actor) error {
	name := c.Params("file")
	data := keytable.Blank()
	if name != "counts.csv" {
		keys, err := s.keysFor(c, a)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(keys, func(k postgres.RemainsKey) bool { return keyFile(k.Version) == name })
		if i < 0 {
			return errs.New(errs.NotFound, "No such file.")
		}
		data = keytable.Write(keys[i].Table)
	}
	c.Set(fiber.HeaderContentType, "text/csv; charset=utf-8; header=present")
	c.Set(fiber.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="%s"`, name))
	return c.Send(data)
}

func keyFile(version int) string { return fmt.Sprintf("key-%d.csv", version) }

func keyVersions(say words.Speaker, keys []postgres.RemainsKey, shown int) (list []keyVersion) {
	for i, k := range keys {
		v := keyVersion{Number: k.Version, Source: sourceOf(say, k.Table), Counts: i == 0, File: "/remains/" + keyFile(k.Version), Here: k.Version == shown}
		v.FileText, v.Reading = say.Say("Version %d as a file", k.Version), say.Say("Read version %d", k.Version)
		if k.Version > 0 {
			v.Set = say.Say("Set by %s, %s.", nameOr(say, k.SetBy), say.Day(k.SetAt))
		}
		var years []string
		for _, y := range k.Seasons {
			years = append(years, strconv.Itoa(y))
		}
		if len(years) > 0 {
			v.Seasons = say.Say("The seasons that opened with it: %s.", strings.Join(years, ", "))
		}
		list = append(list, v)
	}
	return list
}

// nameOr is the coordinator's name, which planners and biologists do not read.
func nameOr(say words.Speaker, name string) string {
	if name == "" {
		return say.Say("a coordinator")
	}
	return name
}

// sourceOf says in a line where a table comes from.
func sourceOf(say words.Speaker, t predator.Table) string {
	switch {
	case t.Source == "":
		return say.Say("Common practice, without a source. Assumed.")
	case t.Assumed():
		return say.Say("%s. Assumed.", strings.TrimSuffix(t.Source, "."))
	}
	return say.Say("%s. Counted.", strings.TrimSuffix(t.Source, "."))
}

// strongTimes is from where on a leaning is called strong.
const strongTimes = 3

// keyViewOf says a table in plain words.
func keyViewOf(say words.Speaker, t predator.Table) keyView {
	v := keyView{Source: say.Tell(findings.Strengths(t.Source, t.Assumed())), Counted: !t.Assumed()}
	if len(t.Leanings) == 0 && t.Assumed() {
		t.Leanings = predator.Common().Leanings
	}
	k := t.Key()
	signs, animals := keytable.Silent(t)
	for i, sign := range k.Features() {
		if slices.Contains(signs, sign) {
			continue
		}
		row := keySign{Name: capital(say.Say(fieldwork.Label(sign))), number: i}
		for _, answer := range k.Choices(i) {
			text := leaningWords(say, t, sign, answer)
			if v.Counted {
				text = countWords(say, t, sign, answer)
			}
			row.Answers = append(row.Answers, keyAnswer{Name: say.Say(fieldwork.ChoiceLabel(sign, answer)), Text: text})
		}
		v.Signs = append(v.Signs, row)
	}
	if len(signs) > 0 {
		v.Silent = append(v.Silent, say.Say("The table says nothing of these signs, so they point to no animal: %s.", say.List(saidAll(say, signs, fieldwork.Label))))
	}
	if len(animals) > 0 {
		v.Silent = append(v.Silent, say.Say("The table says nothing of these animals, so each is taken to leave every answer equally often: %s.", say.List(saidAll(say, animals, nil))))
	}
	return v
}

func saidAll(say words.Speaker, names []string, label func(string) string) (said []string) {
	for _, name := range names {
		if label != nil {
			name = label(name)
		}
		said = append(said, say.Say(name))
	}
	return said
}

// leaningWords says to which animals an answer points, and how strongly.
func leaningWords(say words.Speaker, t predator.Table, sign, answer string) string {
	animals := map[float64][]string{} // by times
	for _, l := range t.Leanings {
		if l.Sign == sign && l.Answer == answer && l.Times != 1 {
			animals[l.Times] = append(animals[l.Times], say.Say(l.Animal))
		}
	}
	var parts []string
	for _, times := range slices.Backward(slices.Sorted(maps.Keys(animals))) {
		n, list := strconv.FormatFloat(times, 'f', -1, 64), say.List(animals[times])
		switch {
		case times >= strongTimes:
			parts = append(parts, say.Say("strongly (%s\u00a0×) to %s", n, list))
		case times > 1:
			parts = append(parts, say.Say("weakly (%s\u00a0×) to %s", n, list))
		default:
			parts = append(parts, say.Say("seldom (%s\u00a0×) from %s", n, list))
		}
	}
	if len(parts) == 0 {
		return say.Say("points to no animal")
	}
	return strings.Join(parts, "; ")
}

// countWords says at how many camera nests an answer was seen, of how many of each animal that the sign was written down for.
func countWords(say words.Speaker, t predator.Table, sign, answer string) string {
	all := map[string]int{}
	var list []predator.Count
	for _, n := range t.Counts {
		if n.Sign == sign {
			all[n.Animal] += n.Nests
			if n.Answer == answer && n.Nests > 0 {
				list = append(list, n)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b predator.Count) int { return b.Nests - a.Nests })
	var said []string
	for _, n := range list {
		said = append(said, say.Say("%s at %d of %d nests", say.Say(n.Animal), n.Nests, all[n.Animal]))
	}
	if len(said) == 0 {
		return say.Say("seen at no nest")
	}
	return say.List(said)
}
