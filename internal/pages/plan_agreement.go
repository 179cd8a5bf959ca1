package pages

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/stat/agree"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// agreementPage tells a ranch's own team how far two people agree who looked alone at the same nests and belts. It is no
// table of who was right, and nobody outside the ranch sees it.
type agreementPage struct {
	base
	Ranch  postgres.Ranch
	Years  []agreementYear
	Counts string // what the pairs of belts come to, all seasons together
	Signs  []agreementRow
	Lead   string
}

type agreementYear struct {
	Season       int
	Nests, Belts int
}

// agreementRow is one question that two people answered.
type agreementRow struct {
	Question      string
	Pairs, Agreed int
	Kappa         string // with its range, or why there is none
}

// fewPairs is how many pairs it takes before a kappa is shown: below, one answer more or less turns it about.
const fewPairs = 8

func (s *server) planAgreement(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var page agreementPage
	all := seconds{answers: map[string]map[[2]string]int{}}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Ranch, err = tx.Ranch(id); err != nil {
			return err
		}
		years, err := tx.Planned(id)
		if err != nil {
			return err
		}
		byYear := map[int]*agreementYear{}
		for _, y := range years {
			lines, err := tx.Lines(id, y)
			if err != nil {
				return err
			}
			looks, err := tx.Looks(id, y)
			if err != nil {
				return err
			}
			all.looks(byYear, y, lines, looks)
		}
		d, err := tx.Survey([]access.ID{id}, 0)
		if err != nil {
			return err
		}
		all.sheets(byYear, d)
		for _, y := range slices.Backward(slices.Sorted(maps.Keys(byYear))) {
			page.Years = append(page.Years, *byYear[y])
		}
		return tx.Looked(id)
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, s.speaker(c).Say("How far two people agree"))
	page.fill(&all)
	return s.render(c, fiber.StatusOK, "plan_agreement", page)
}

// seconds are all things two people looked at alone.
type seconds struct {
	belts   []agree.Pair
	answers map[string]map[[2]string]int // by question: how often the first said one and the second the other
}

func (x *seconds) answer(question, first, second string) {
	if first == "" || second == "" {
		return // not asked is no answer
	}
	if x.answers[question] == nil {
		x.answers[question] = map[[2]string]int{}
	}
	x.answers[question][[2]string{first, second}]++
}

func year(byYear map[int]*agreementYear, y int) *agreementYear {
	if byYear[y] == nil {
		byYear[y] = &agreementYear{Season: y}
	}
	return byYear[y]
}

// looks takes up what was tapped or keyed.
func (x *seconds) looks(byYear map[int]*agreementYear, y int, lines []season.Line, looks []fieldwork.Look) {
	for _, s := range fieldwork.Fold(lines, looks).Seconds {
		switch s.First.Kind {
		case fieldwork.Belt:
			year(byYear, y).Belts++
			x.belts = append(x.belts, agree.Pair{First: clumps(&s.First), Second: clumps(&s.Second)})
		case fieldwork.Check:
			year(byYear, y).Nests++
			for _, f := range survey.Features {
				x.answer(f.Name, s.First.Answers[f.Name], s.Second.Answers[f.Name])
			}
			x.answer("found", s.First.Answers["found"], s.Second.Answers["found"])
		}
	}
}

func clumps(l *fieldwork.Look) (n int) {
	for name, v := range l.Answers {
		if strings.HasPrefix(name, "clumps_") && name != "clumps_maybe" {
			if c, err := strconv.ParseFloat(v, 64); err == nil && c >= 0 && c < 1e6 {
				n += int(c)
			}
		}
	}
	return n
}

// sheets takes up what was written on sheets. A season with looks has made its sheet of them, and is not counted twice.
func (x *seconds) sheets(byYear map[int]*agreementYear, d *survey.Data) {
	tapped := slices.Collect(maps.Keys(byYear))
	for i := range d.Nests {
		n := &d.Nests[i]
		if slices.Contains(tapped, n.Season) {
			continue
		}
		for _, v := range n.Visits {
			if v.Second != "" {
				year(byYear, n.Season).Nests++
				x.answer("state", string(v.State), string(v.Second))
			}
		}
	}
}

// questionWords name the questions of the key as the sheet does.
var questionWords = map[string]string{
	"found": words.Mark("What was found"), "state": words.Mark("The nest’s state"), "bits": words.Mark("Shell pieces"),
	"bits_far_ft": words.Mark("How far the pieces lie"), "heaps": words.Mark("Heaps of shell"), "opened_at": words.Mark("Where the egg was opened"),
	"bite_way": words.Mark("Which way the bite runs"), "holes": words.Mark("Holes in the shell"), "inside": words.Mark("What is left inside"),
	"ground": words.Mark("The ground around"), "bowl": words.Mark("The nest bowl"),
}

func (p *agreementPage) fill(x *seconds) {
	say := p.Say
	order := []string{"found", "state"}
	for _, f := range survey.Features {
		order = append(order, f.Name)
	}
	for _, question := range order {
		if pairs := x.answers[question]; len(pairs) > 0 {
			p.Signs = append(p.Signs, agreementOf(say, say.Say(questionWords[question]), pairs))
		}
	}
	if r := agree.Counts(x.belts); r.Known {
		p.Counts = say.Count("%d belt was counted twice: the second person counted %.2f times as many clumps as the first.",
			"%d belts were counted twice: the second person counted %.2f times as many clumps as the first.", r.Pairs, r.Pairs, r.Ratio)
		if low, high, ok := r.Interval(0.95); ok {
			p.Counts += " " + say.Say("A fair range is %.2f to %.2f.", low, high)
		}
	}
	if len(p.Signs) == 0 && p.Counts == "" {
		p.Lead = say.Say("Nobody has looked a second time yet. One belt in four and one check in ten, looked at again by another person within a day and without comparing notes, tell how far the figures can be trusted (common practice).")
	}
}

func agreementOf(say words.Speaker, question string, pairs map[[2]string]int) agreementRow {
	row := agreementRow{Question: question}
	var values []string
	for pair, n := range pairs {
		values = append(values, pair[0], pair[1])
		if row.Pairs += n; pair[0] == pair[1] {
			row.Agreed += n
		}
	}
	slices.Sort(values)
	values = slices.Compact(values)
	table := make([][]int, len(values))
	for i := range table {
		table[i] = make([]int, len(values))
		for j := range table[i] {
			table[i][j] = pairs[[2]string{values[i], values[j]}]
		}
	}
	switch k := agree.Of(table); {
	case row.Pairs < fewPairs:
		row.Kappa = say.Say("too few to tell")
	case !k.Known:
		row.Kappa = say.Say("always the same answer: nothing to tell")
	case k.SE == 0:
		row.Kappa = fmt.Sprintf("%.2f", k.Kappa)
	default:
		low, high := k.Interval(0.95)
		row.Kappa = say.Say("%.2f (%.2f to %.2f)", k.Kappa, low, high)
	}
	return row
}
