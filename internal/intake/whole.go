package intake

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

func monthOf(n int) time.Month { return time.Month(n) }

// matchChecks finds the nests of checks whose own row named them more or less fully, and asks about checks of nests
// that were never set.
func (r *reader) matchChecks() {
	var open []int32
	for i := range r.work {
		n, w := &r.out.Data.Nests[i], &r.work[i]
		if !w.dead && !w.ownRow && (n.SetOn == 0 || n.Substrate == "") {
			open = append(open, int32(i))
		}
	}
	if len(open) == 0 {
		return
	}
	loose := map[nestKey]int32{} // by ranch, transect and nest; -2 where several answer
	lines := map[nestKey]*lineSet{}
	for i := range r.work {
		w := &r.work[i]
		if !w.ownRow {
			continue
		}
		k := looseKey(w.key)
		if _, twice := loose[k]; twice {
			loose[k] = -2
		} else {
			loose[k] = int32(i)
		}
		if n := &r.out.Data.Nests[i]; !w.dead {
			lines[lineKey(w.key)] = lines[lineKey(w.key)].with(n)
		}
	}
	for _, i := range open {
		w := &r.work[i]
		j, ok := loose[looseKey(w.key)]
		if ok && j >= 0 && r.maybeSame(i, j) {
			r.join(i, j)
			continue
		}
		r.neverSet(i, lines[lineKey(w.key)])
	}
}

func looseKey(k nestKey) nestKey {
	k.site, k.season = 0, 0
	return k
}

func lineKey(k nestKey) nestKey {
	k.nest = 0
	return k
}

// maybeSame tells whether the rows of check i, which may leave out season and site, can be about nest j.
func (r *reader) maybeSame(i, j int32) bool {
	a, b := &r.out.Data.Nests[i], &r.out.Data.Nests[j]
	if a.Site != b.Site && a.Site != "" && b.Site != "" {
		return false
	}
	return a.Season == b.Season || r.work[i].seasonOpen
}

// join moves the looks of nest i to nest j.
func (r *reader) join(i, j int32) {
	from, to := &r.work[i], &r.work[j]
	if from.first >= 0 {
		if to.last >= 0 {
			r.looks[to.last].next = from.first
		} else {
			to.first = from.first
		}
		to.last = from.last
	}
	a, b := &r.out.Data.Nests[i], &r.out.Data.Nests[j]
	for _, f := range survey.Features {
		if v := *f.Value(&a.Remains); v != "" {
			*f.Value(&b.Remains) = v
		}
	}
	if a.Remains.Trace != "" {
		b.Remains.Trace = a.Remains.Trace
	}
	if a.Camera != "" {
		b.Camera = a.Camera
	}
	if a.Guess != "" {
		b.Guess = a.Guess
	}
	if a.Notes != "" {
		b.Notes = r.joined(b.Notes, a.Notes)
	}
	if from.cause != markUnknown {
		to.cause, to.fromGuess = from.cause, from.fromGuess
	}
	from.dead = true
}

// A lineSet is how the nests of one line were set.
type lineSet struct {
	set        map[survey.Date]int
	substrates []survey.Substrate
}

func (l *lineSet) with(n *survey.Nest) *lineSet {
	if l == nil {
		l = &lineSet{set: map[survey.Date]int{}}
	}
	l.set[n.SetOn]++
	if !slices.Contains(l.substrates, n.Substrate) {
		l.substrates = append(l.substrates, n.Substrate)
	}
	return l
}

func (l *lineSet) usual() survey.Date {
	best, most := survey.Date(0), 0
	for d, n := range l.set {
		if n > most || n == most && d < best {
			best, most = d, n
		}
	}
	return best
}

// neverSet asks about checks of a nest for which no row says when it was set and in what.
func (r *reader) neverSet(i int32, line *lineSet) {
	n, w := &r.out.Data.Nests[i], &r.work[i]
	name := r.nest(n) // now: nests move while they are settled
	choices := []Choice{{"leave-out", r.Say("Leave its checks out")}}
	proposal := ""
	if line != nil {
		for _, s := range line.substrates {
			choices = append(choices, Choice{"line:" + string(s), r.Say("Set with its line on %s, in %s", r.day(line.usual()), r.cover(s))})
		}
		proposal = " " + r.Say("Was it set the same day as its line, %s?", r.day(line.usual()))
	}
	a := ""
	for l := w.first; l >= 0; l = r.looks[l].next {
		a = r.ask(r.cellOf(&r.looks[l]), prompt{
			kind: "never-set", place: nestPlace(n), weight: MustAnswer, rest: r.Say("check a nest that no row sets out"),
			text: func(g *group) string {
				return capital(g.Say("%s was checked (%s), but no row says when it was set and in what.%s Its checks wait for your answer.", name, g.where(), proposal))
			},
			choices: choices,
		})
	}
	if s, ok := strings.CutPrefix(a, "line:"); ok {
		if n.SetOn == 0 {
			n.SetOn = line.usual()
		}
		if n.Substrate == "" {
			n.Substrate = survey.Substrate(s)
		}
		return
	}
	w.dead = true
	if a == "leave-out" {
		return
	}
	problem := r.Say("%s was checked, but no row of a table of nests says when it was set and in what. Please add the nest, or fill in “set_on” and “substrate” beside its checks.", name)
	if n.SetOn != 0 {
		problem = r.Say("%s was checked, but what it sits in is not written down. Please fill in the substrate.", name)
	} else if n.Substrate != "" {
		problem = r.Say("%s was checked, but the day it was set is not written down. Please fill in “set_on”.", name)
	}
	for l := w.first; l >= 0; l = r.looks[l].next {
		k := &r.looks[l]
		c := r.cellOf(k)
		c.Column = ""
		r.refuse(c, n.Number, capital(problem))
	}
}

// oldTab are words in a tab's name that make one wonder whether it belongs to the season.
var oldTab = []string{"old", "copy", "backup", "draft", "viejo", "vieja", "copia", "borrador", "anterior", "test", "prueba"}

// askTabs asks which tabs belong, where several hold the same kind of table. All are read until the sender says.
func (r *reader) askTabs(f *file, found []*table) {
	read := 0
	for _, t := range found {
		if t.Name == "" {
			return
		}
		odd := t.Hidden || slices.ContainsFunc(strings.Fields(words(t.Name)), func(w string) bool { return oneOf(w, oldTab...) })
		if odd {
			r.askTab(f, t.Table)
		}
		if t.kind == kindNests || t.kind == kindChecks {
			read++
		}
	}
	if read < 2 {
		return
	}
	for _, t := range found {
		if t.kind == kindNests || t.kind == kindChecks {
			r.note(survey.Cell{File: f.Name, Sheet: t.Name}, "tabs", f.Name, t.Name, func(g *group) string {
				return r.Say("We found %d tabs with nests in %s and read them all: %s.", g.n, f.Name, r.quoted(g.words))
			})
		}
	}
}

func (r *reader) askTab(f *file, s *sheet.Table) string {
	return r.ask(survey.Cell{File: f.Name, Sheet: s.Name}, prompt{
		kind: "tab", place: f.Name + "\x00" + s.Name, weight: PleaseLook, byDefault: "read",
		text: func(g *group) string {
			if s.Hidden {
				return r.Say("Does the tab “%s”, which is hidden, of %s belong to what you are sending? We read it with the others.", s.Name, f.Name)
			}
			return r.Say("Does the tab “%s” of %s belong to what you are sending? We read it with the others.", s.Name, f.Name)
		},
		choices: []Choice{{"read", r.Say("Yes, read it")}, {"leave-out", r.Say("Leave it out")}},
	})
}

// leftOut tells whether the sender took a tab out at an earlier reading.
func (r *reader) leftOut(f *file, s *sheet.Table) bool {
	if s.Name == "" || r.opt.Answers[id("tab", f.Name+"\x00"+s.Name)] != "leave-out" {
		return false
	}
	return r.askTab(f, s) == "leave-out"
}

// endTable looks at a table as a whole once its rows are read.
func (r *reader) endTable(t *table) {
	colours, n := map[string]int{}, 0
	var first sheet.Colour
	for _, c := range t.Coloured {
		if c.Row <= t.headRow {
			continue
		}
		if n == 0 {
			first = c
		}
		colours[c.Name]++
		n++
	}
	if n == 0 || len(colours) > 3 {
		return
	}
	names := make([]string, 0, len(colours))
	for name := range colours {
		names = append(names, name)
	}
	slices.Sort(names)
	r.ask(t.cell(first.Row, first.Column), prompt{
		kind: "colour", place: t.place(), weight: PleaseLook, byDefault: "nothing",
		text: func(g *group) string {
			return r.Count("%d cell is %s%s, first in row %d. We can't see meanings in a colour: if it says something about the nests, please write that in a column.",
				"%d cells are %s%s, first in row %d. We can't see meanings in a colour: if it says something about the nests, please write that in a column.", n, n, r.colours(names), r.in(t, r.many), first.Row)
		},
		choices: []Choice{{"nothing", r.Say("It says nothing about the nests")}, {"column", r.Say("I will add a column and send it again")}},
	})
}

// lookAtWhole notes what is worth saying about the batch and needs no answer.
func (r *reader) lookAtWhole() {
	lines := map[string]string{}
	const enough = 5_000 // a sender of that many rows does not read notes about single nests
	if len(r.out.Data.Nests) > enough {
		return
	}
	if n := len(r.out.Data.Nests); n > 0 && !slices.ContainsFunc(r.out.Data.Nests, func(n survey.Nest) bool { return len(n.Visits) > 0 }) {
		r.note(r.out.Data.Nests[0].From, "no-checks", "", "", func(g *group) string {
			return r.Count("We read %d nest and no check yet. If checks are in the sheet, their columns need headings such as check1_on and check1.",
				"We read %d nests and no check yet. If checks are in the sheet, their columns need headings such as check1_on and check1.", n)
		})
	}
	for i := range r.out.Data.Nests {
		n := &r.out.Data.Nests[i]
		key := strings.ToLower(n.Ranch + "\x00" + n.Site + "\x00" + fmt.Sprint(n.Season) + "\x00" + n.Number)
		if other, ok := lines[key]; ok && other != n.Transect {
			r.note(n.From, "numbers", "", "", func(g *group) string {
				return r.Say("Nest numbers begin again on each line: nest %s on lines %s and %s are two nests. Fine.", n.Number, other, n.Transect)
			})
		} else {
			lines[key] = n.Transect
		}
		if n.Fate() == survey.Taken && !n.Remains.Any() && n.Guess == "" && n.Camera == "" && r.asksRemains(r.work[i].table) {
			r.note(n.From, "no-signs", "", "", func(g *group) string {
				return g.Count("%d nest was taken and has no signs noted (%s). That is fine: they count for survival and show as “no sign noted”.",
					"%d nests were taken and have no signs noted (%s). That is fine: they count for survival and show as “no sign noted”.", g.n, g.n, g.where())
			})
		}
		r.noteLate(n, r.tables[r.work[i].table])
	}
}

func (r *reader) asksRemains(table int32) bool {
	t := r.tables[table]
	return t.at[roleGuess] >= 0 || slices.ContainsFunc(t.cols, func(c column) bool { return c.role == roleFeature })
}

// noteLate says of a check well off its day that it does no harm.
func (r *reader) noteLate(n *survey.Nest, t *table) {
	if len(t.pairs) == 0 || len(t.pairs) > 2 {
		return
	}
	for k, v := range n.Visits {
		planned := 14 * (k + 1)
		if after := int(v.On-n.SetOn) - planned; after >= 4 && after <= 10 {
			r.note(n.From, "late", "", "", func(g *group) string {
				return g.Count("%d nest was looked at some days later than planned (%s). No harm: we reckon with the real days.",
					"%d nests were looked at some days later than planned (%s). No harm: we reckon with the real days.", g.n, g.n, g.where())
			})
		}
	}
}
