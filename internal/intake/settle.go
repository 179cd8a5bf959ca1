package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/survey"
)

// settle turns the looks of every nest into visits in order, asks about what contradicts itself, and takes the
// refused nests out.
func (r *reader) settle() {
	r.matchChecks()
	r.weighZeros()
	visits := make([]survey.Visit, 0, len(r.looks))
	nests := r.out.Data.Nests
	var buf []seen
	kept := 0
	for i := range nests {
		if !r.work[i].dead {
			buf = r.gather(int32(i), buf[:0])
			start := len(visits)
			if r.visits(int32(i), buf, &visits) {
				nests[i].Visits = visits[start:len(visits):len(visits)]
				r.fate(int32(i))
			}
		}
		if r.work[i].dead {
			continue
		}
		nests[kept], r.work[kept] = nests[i], r.work[i]
		kept++
	}
	clear(nests[kept:])
	r.out.Data.Nests = nests[:kept]
	r.compareTotals()
	r.settleBelts()
	r.lookAtWhole()
	r.readBack()
}

// A seen is a look whose state is being settled.
type seen struct {
	on    survey.Date
	state survey.State // "" for a blank
	look  *look
}

func (r *reader) gather(i int32, buf []seen) []seen {
	for l := r.work[i].first; l >= 0; l = r.looks[l].next {
		k := &r.looks[l]
		if k.mark == markSkipped {
			continue
		}
		buf = append(buf, seen{on: k.on, state: markStates[k.mark], look: k})
	}
	for k := range buf { // a blank without a date keeps its place among the others
		if buf[k].on == 0 && k > 0 {
			buf[k].on = buf[k-1].on
		}
	}
	if !slices.IsSortedFunc(buf, byDay) {
		slices.SortStableFunc(buf, byDay)
	}
	return buf
}

func byDay(a, b seen) int { return int(a.on) - int(b.on) }

func (r *reader) cellOf(k *look) survey.Cell {
	return r.tables[k.table].cell(int(k.row), int(k.column))
}

// refuseLook refuses one look: the whole nest where its row holds all looks, since a nest without its bad end would
// look better than it was.
func (r *reader) refuseLook(i int32, k *look, value, problem string) {
	r.refuse(r.cellOf(k), value, problem)
	if r.tables[k.table].kind == kindNests {
		r.work[i].dead = true
	}
}

// visits settles the looks of one nest in order; false where the nest is refused.
func (r *reader) visits(i int32, looks []seen, out *[]survey.Visit) bool {
	n, w := &r.out.Data.Nests[i], &r.work[i]
	start := len(*out)
	blank := -1
	for k := range looks {
		s := &looks[k]
		switch s.look.mark {
		case markBlank:
			if blank < 0 && r.tables[s.look.table].used(int(s.look.column)) {
				blank = k
			}
			continue
		case markZero, markOne:
			if s.state = r.zero(s.look, hadEggsLater(looks[k+1:], s.on)); s.state == "" {
				r.refuseLook(i, s.look, map[mark]string{markZero: "0", markOne: "1"}[s.look.mark], r.Say("0 can mean “no damage” or “no eggs left”, and this sheet does not show which. Say it once: answer the question about 0, or give --zero intact or --zero taken on the command line."))
				continue
			}
		}
		if s.on < n.SetOn && !r.beforeSet(i, s) {
			continue
		}
		r.countEggs(i, s)
		blank = -1
		*out = r.append(i, (*out)[:len(*out):cap(*out)], start, s)
	}
	if w.dead {
		*out = (*out)[:start]
		return false
	}
	if blank >= 0 && len(*out) > start && (*out)[len(*out)-1].State == survey.Intact {
		*out = r.blankAfterGood(n, &looks[blank], *out)
	}
	return true
}

// used tells whether any row says something in a column, so that a check not yet made is no gap.
func (t *table) used(col int) bool {
	for _, p := range t.pairs {
		if p.state == col {
			return p.filled > 0
		}
	}
	return true
}

// append adds one visit to those of a nest, which begin at start. A finished nest has no more visits.
func (r *reader) append(i int32, out []survey.Visit, start int, s *seen) []survey.Visit {
	visit := survey.Visit{On: s.on, State: s.state, Second: markStates[s.look.second]}
	w := &r.work[i]
	before := w.who
	w.who = s.look.who
	if len(out) == start {
		return append(out, visit)
	}
	last := &out[len(out)-1]
	if last.On == visit.On && before != 0 && visit.State != "" && w.who != 0 && w.who != before {
		last.Second = visit.State
	}
	switch {
	case last.State == survey.Lost:
		return r.foundAgain(out, visit, s)
	case last.On == visit.On && last.State == visit.State:
		return out
	case last.On == visit.On && s.state != survey.Lost && (last.State == survey.Intact || s.state == survey.Intact):
		return r.sameDay(i, out, visit, s)
	case last.State.Failed() && s.state == survey.Intact:
		return r.backAgain(i, out, visit, s)
	case last.State.Failed():
		return out
	}
	return append(out, visit)
}

// foundAgain settles a nest that could not be found and was seen later. Which nests turn up again may well depend on
// what became of them, so unless the sender says otherwise such a nest counts up to its last good look before.
func (r *reader) foundAgain(out []survey.Visit, visit survey.Visit, s *seen) []survey.Visit {
	if visit.State == survey.Lost {
		return out
	}
	cell := r.cellOf(s.look)
	if r.ask(cell, prompt{
		kind: "found-again", place: cell.File + "\x00" + cell.Sheet, weight: PleaseLook, byDefault: "end",
		text: func(g *group) string {
			return g.Count("%d later look is written down for nests that had not been found before (%s). Was the spot missed the first time? Until you say, such a nest counts up to its last good look before.",
				"%d later looks are written down for nests that had not been found before (%s). Was the spot missed the first time? Until you say, such a nest counts up to its last good look before.", g.n, g.n, g.where())
		},
		choices: []Choice{{"end", r.Say("Count them up to the good look before")}, {"again", r.Say("The spot was missed: use the later looks")}},
	}) == "again" {
		out[len(out)-1] = visit
	}
	return out
}

// sameDay settles two looks on one day that disagree: the eggs were seen and were gone.
func (r *reader) sameDay(i int32, out []survey.Visit, visit survey.Visit, s *seen) []survey.Visit {
	n := &r.out.Data.Nests[i]
	name := r.nest(n) // now: nests move while they are settled
	last := &out[len(out)-1]
	end := *last
	if end.State == survey.Intact {
		end = visit
	}
	a := r.ask(r.cellOf(s.look), prompt{
		kind: "same-day", place: nestPlace(n), weight: PleaseLook, byDefault: "end", rest: r.Say("tell two states of one nest on one day"),
		text: func(g *group) string {
			return capital(g.Say("%s was written down on %s both as intact and as %s. We took the later news: %s.", name, visit.On, g.found(end.State), g.found(end.State)))
		},
		choices: []Choice{{"end", capital(r.found(end.State))}, {"intact", capital(r.found(survey.Intact))}},
	})
	first, two := last.State, last.Second != ""
	last.State = end.State
	if a == "intact" {
		last.State = survey.Intact
	}
	if two { // two people who disagree: the other one's word is kept beside what counts
		last.Second = visit.State
		if last.State == visit.State {
			last.Second = first
		}
	}
	return out
}

// backAgain settles a nest that was finished and then had eggs.
func (r *reader) backAgain(i int32, out []survey.Visit, visit survey.Visit, s *seen) []survey.Visit {
	n := &r.out.Data.Nests[i]
	name := r.nest(n) // now: nests move while they are settled
	last := &out[len(out)-1]
	was := *last
	switch r.ask(r.cellOf(s.look), prompt{
		kind: "back-again", place: nestPlace(n), weight: PleaseLook, byDefault: "put-back", rest: r.Say("find eggs in a nest that was finished before"),
		text: func(g *group) string {
			return capital(g.Say("%s was %s on %s and had eggs on %s. Were eggs put back, or were the two looks swapped? Until you say, it counts as %s on %s.", name, g.found(was.State), was.On, visit.On, g.found(was.State), was.On))
		},
		choices: []Choice{{"put-back", r.Say("Eggs were put back")}, {"swapped", r.Say("The two looks were swapped")}, {"first-wrong", r.Say("The first look was a slip; the eggs were there")}},
	}) {
	case "swapped":
		last.State = survey.Intact
		return append(out, survey.Visit{On: visit.On, State: was.State})
	case "first-wrong":
		last.State = survey.Intact
		return append(out, visit)
	}
	return out
}

func nestPlace(n *survey.Nest) string {
	return fmt.Sprintf("%s\x00%s\x00%d\x00%s\x00%s", n.Ranch, n.Site, n.Season, n.Transect, n.Number)
}

// beforeSet settles a look dated before the nest was set; false where it cannot count.
func (r *reader) beforeSet(i int32, s *seen) bool {
	n := &r.out.Data.Nests[i]
	name := r.nest(n) // now: nests move while they are settled
	choices := []Choice{{"leave-out", r.Say("Leave this look out")}, {"swap", r.Say("The two dates are swapped")}}
	turned := survey.DateOf(s.on.Year(), s.on.Time().Month(), s.on.Time().Day())
	if t := s.on.Time(); t.Day() <= 12 {
		turned = survey.DateOf(t.Year(), monthOf(t.Day()), int(t.Month()))
	}
	if turned >= n.SetOn && turned <= n.SetOn+90 {
		choices = append(choices, Choice{"turn", r.Say("It was %s", turned)})
	}
	on, set := s.on, n.SetOn
	switch r.ask(r.cellOf(s.look), prompt{
		kind: "before-set", place: nestPlace(n), weight: MustAnswer, rest: r.Say("are dated before the nest was set"),
		text: func(g *group) string {
			return capital(g.Say("%s was checked on %s but set on %s. Which day slipped? The nest waits for your answer.", name, on, set))
		},
		choices: choices,
	}) {
	case "leave-out":
		return false
	case "swap":
		s.on, n.SetOn = n.SetOn, s.on
		return true
	case "turn":
		s.on = turned
		return true
	}
	r.refuseLook(i, s.look, on.String(), r.Say("The nest was checked on %s but set on %s. Which day slipped? Please correct one of them.", on, n.SetOn))
	return false
}

// countEggs applies the rule about eggs that are partly gone to a look that counts them.
func (r *reader) countEggs(i int32, s *seen) {
	eggs := int(s.look.eggs)
	if eggs < 0 {
		return
	}
	n, w := &r.out.Data.Nests[i], &r.work[i]
	set := w.eggsOut()
	n.EggsLeft = eggs
	switch {
	case eggs == 0 && s.state == survey.Intact:
		r.noneLeft(i, s)
	case eggs > set:
		r.moreEggs(r.cellOf(s.look), n, eggs, set)
	case eggs > 0 && eggs < set && (s.state == survey.Intact || s.state == survey.Taken):
		s.state = r.partLoss(r.cellOf(s.look), eggs, set)
	case eggs == set && s.look.mark == markTaken && s.state == survey.Taken && eggs > 0:
		r.allThereTaken(r.cellOf(s.look), n)
	}
}

func (w *work) eggsOut() int {
	if w.eggsSet > 0 {
		return int(w.eggsSet)
	}
	return 3 // the usual clump (common practice, no source)
}

// partLoss applies the rule about nests of which some eggs are gone.
func (r *reader) partLoss(c survey.Cell, eggs, set int) survey.State {
	if r.opt.PartLossIntact {
		return survey.Intact
	}
	if r.note(c, "part-loss", "", "", func(g *group) string {
		return r.Say("Some eggs were gone and some left in %s. We count these nests as taken and keep the number left, so that it can be judged the other way.", g.where())
	}) {
		return survey.Taken
	}
	return survey.Intact
}

func (r *reader) moreEggs(c survey.Cell, n *survey.Nest, eggs, set int) {
	name := r.nest(n) // now: nests move while they are settled
	a := r.ask(c, prompt{
		kind: "more-eggs", place: nestPlace(n), weight: PleaseLook, byDefault: "set", rest: r.Say("count more eggs than were set"),
		text: func(g *group) string {
			return capital(g.Say("%s had %d eggs, and %d were set (%s). A wild bird's egg in it? Do tell us. Until you say, all the set eggs were there.", name, eggs, set, g.where()))
		},
		choices: []Choice{{"set", r.Say("A slip; all %d were there", set)}, {"more", r.Say("There was another egg in it")}},
	})
	if a == "set" {
		n.EggsLeft = set
	}
}

func (r *reader) allThereTaken(c survey.Cell, n *survey.Nest) {
	r.ask(c, prompt{
		kind: "all-left", place: "", weight: PleaseLook, byDefault: "state",
		text: func(g *group) string {
			return r.Say("These nests are written down as taken, with all eggs left (%s). We went by the word. Right?", g.where())
		},
		choices: []Choice{{"state", r.Say("Taken, as written")}},
	})
}

// noneLeft settles a nest that is called intact with no egg left.
func (r *reader) noneLeft(i int32, s *seen) {
	cell := r.cellOf(s.look)
	switch r.ask(cell, r.noneLeftPrompt()) {
	case "taken":
		s.state = survey.Taken
	case "intact":
		r.out.Data.Nests[i].EggsLeft = -1
	default:
		r.refuseLook(i, s.look, "0", r.Say("The nest is called intact and has 0 eggs left. Which is it? Please correct one of the two."))
	}
}

func (r *reader) noneLeftPrompt() prompt {
	return prompt{
		kind: "none-left", weight: MustAnswer,
		text: func(g *group) string {
			return g.Count("One nest is called intact with 0 eggs left (%[2]s). Does 0 there mean none gone, or none left? They wait for your answer.",
				"%d nests are called intact with 0 eggs left (%s). Does 0 there mean none gone, or none left? They wait for your answer.", g.n, g.n, g.where())
		},
		choices: []Choice{{"intact", r.Say("None gone: intact")}, {"taken", r.Say("None left: taken")}},
	}
}

// blankAfterGood asks what a blank after a good look means; until it is told, the nest counts up to the good one.
func (r *reader) blankAfterGood(n *survey.Nest, s *seen, out []survey.Visit) []survey.Visit {
	cell := r.cellOf(s.look)
	choices := []Choice{{"not-checked", r.Say("Nobody went; count them up to the look before")}}
	dated := s.look.on != 0
	if dated {
		choices = append(choices, Choice{"lost", r.Say("Not found again")}, Choice{"intact", r.Say("Fine, all eggs there")}, Choice{"taken", capital(r.found(survey.Taken))})
	}
	a := r.ask(cell, prompt{
		kind: "blank", place: fmt.Sprintf("%s\x00%s\x00%s\x00%v", cell.File, cell.Sheet, cell.Column, dated), weight: PleaseLook, byDefault: "not-checked",
		text: func(g *group) string {
			return g.Count("%d nest had its eggs and has no note at a later check (%s). What was found? We won't guess: until you say, each counts up to its last good look.",
				"%d nests had their eggs and have no note at a later check (%s). What was found? We won't guess: until you say, each counts up to its last good look.", g.n, g.n, g.where())
		},
		choices: choices,
	})
	switch a {
	case "lost", "intact", "taken":
		return append(out, survey.Visit{On: s.look.on, State: survey.State(a)})
	}
	return out
}

// weighZeros looks through each file for what its 0s must mean: a nest marked 0 and visited again with eggs had no
// damage; 0 in a column of egg counts, or at a nest with remains, is no eggs left.
func (r *reader) weighZeros() {
	if !slices.ContainsFunc(r.files, func(f *file) bool { return f.zeros }) {
		return
	}
	var buf []seen
	for i := range r.work {
		if r.work[i].dead {
			continue
		}
		buf = r.gather(int32(i), buf[:0])
		for k, s := range buf {
			if s.look.mark != markZero {
				continue
			}
			f := r.tables[s.look.table].file
			f.sawEggs = f.sawEggs || hadEggsLater(buf[k+1:], s.on)
			if n := &r.out.Data.Nests[i]; k == len(buf)-1 && (n.Remains.Any() || n.Camera != "") {
				f.sawGone = true
			}
		}
	}
}

// hadEggsLater tells whether a nest was visited after a day and had eggs.
func hadEggsLater(later []seen, on survey.Date) bool {
	return slices.ContainsFunc(later, func(s seen) bool { return s.state == survey.Intact && s.on > on })
}

// zero tells what a 0, or the 1 beside it, means. What became of the nest itself decides first, then what the sender
// said, then the rest of the file; where none does, the sender is asked.
func (r *reader) zero(k *look, eggsLater bool) survey.State {
	f := r.tables[k.table].file
	if k.mark == markOne && f.counts {
		return r.partLoss(r.cellOf(k), 1, 3)
	}
	if k.mark == markZero && eggsLater {
		return survey.Intact
	}
	zero := r.opt.Zero
	switch {
	case zero != "":
	case f.sawEggs && !f.sawGone:
		zero = survey.Intact
	case !f.sawEggs && (f.sawGone || f.counts):
		zero = survey.Taken
	default:
		zero = survey.State(r.ask(r.cellOf(k), prompt{
			kind: "zero", weight: MustAnswer,
			text: func(g *group) string {
				return g.Count("0 stands for a nest's state %d time (%s). Is it “no eggs left” or “no damage”? One answer settles all; until then these rows wait.",
					"0 stands for a nest's state %d times (%s). Is it “no eggs left” or “no damage”? One answer settles all; until then these rows wait.", g.n, g.n, g.where())
			},
			choices: []Choice{{string(survey.Taken), r.Say("No eggs left")}, {string(survey.Intact), r.Say("No damage")}},
		}))
	}
	if k.mark == markZero || zero == "" {
		return zero
	}
	if zero == survey.Intact {
		return survey.Taken
	}
	return survey.Intact
}

// fate looks at how the nest ended beside what else was written down.
func (r *reader) fate(i int32) {
	n, w := &r.out.Data.Nests[i], &r.work[i]
	r.needed(n, w)
	if w.dead || len(n.Visits) == 0 {
		return
	}
	last := &n.Visits[len(n.Visits)-1]
	if second := markStates[w.second]; second != "" {
		last.Second = second
	}
	if t := r.tables[w.table]; n.EggsLeft >= 0 && t.kind == kindNests && t.at[roleEggsLeft] >= 0 {
		r.eggsLeft(n, w, last)
	}
	if last.State == survey.Taken && w.cause != markUnknown {
		r.moveCause(n, w, last)
	}
	if last.State == survey.Intact && (n.Camera != "" || n.Guess != "" && w.cause == markUnknown && r.isAnimal(n.Guess)) {
		r.culpritOnIntact(n, last)
	}
}

// needed refuses nests for which nobody said when they were set or in what.
func (r *reader) needed(n *survey.Nest, w *work) {
	if n.SetOn == 0 || n.Substrate == "" {
		w.dead = true
		if w.ownRow {
			r.refuse(n.From, "", r.Say("The row does not say when the nest was set and in what. Please fill in “set_on” and “substrate”."))
		}
	}
}

func (r *reader) isAnimal(guess string) bool {
	p, ok := r.lex.predator(strings.TrimRight(words(guess), "? "))
	return ok && p != "" || !ok
}

// eggsLeft applies the column eggs_left of a table of nests to the last visit.
func (r *reader) eggsLeft(n *survey.Nest, w *work, last *survey.Visit) {
	t := r.tables[w.table]
	cell := t.cell(n.From.Row, t.at[roleEggsLeft])
	set := w.eggsOut()
	switch eggs := n.EggsLeft; {
	case eggs == 0 && last.State == survey.Intact:
		switch r.ask(cell, r.noneLeftPrompt()) {
		case "taken":
			last.State = survey.Taken
		case "intact":
			n.EggsLeft = -1
		default:
			r.refuse(cell, "0", r.Say("The nest is called intact and has 0 eggs left. Which is it? Please correct one of the two."))
			w.dead = true
		}
	case eggs > set:
		r.moreEggs(cell, n, eggs, set)
	case eggs > 0 && eggs < set && (last.State == survey.Intact || last.State == survey.Taken):
		last.State = r.partLoss(cell, eggs, set)
	case eggs == set && last.State == survey.Taken:
		r.allThereTaken(cell, n)
	}
}

// moveCause gives a loss that no animal brought its own state, so that none is blamed.
func (r *reader) moveCause(n *survey.Nest, w *work, last *survey.Visit) {
	state := markStates[w.cause]
	if !w.fromGuess {
		last.State = state
		return
	}
	cell := n.From
	if t := r.tables[w.table]; t.at[roleGuess] >= 0 {
		cell = t.cell(n.From.Row, t.at[roleGuess])
	}
	if !r.note(cell, "cause", string(state), n.Guess, func(g *group) string {
		return r.Say("%s stood where a predator is asked for; we counted these nests as %s, so that no animal is blamed (%s).", r.quoted(g.words), r.found(state), g.where())
	}) {
		return
	}
	last.State = state
	n.Notes = r.joined(n.Notes, n.Guess)
	n.Guess = ""
}

// culpritOnIntact asks about a predator written beside a nest that has its eggs.
func (r *reader) culpritOnIntact(n *survey.Nest, last *survey.Visit) {
	name := r.nest(n) // now: nests move while they are settled
	named := n.Guess
	if n.Camera != "" {
		named = r.animal(n.Camera)
	}
	a := r.ask(n.From, prompt{
		kind: "culprit-intact", place: nestPlace(n), weight: PleaseLook, byDefault: "tracks", rest: r.Say("name a predator beside eggs that are all there"),
		text: func(g *group) string {
			return capital(g.Say("%s lists “%s”, but its eggs are all there (%s). Tracks only, or the wrong row? Until you say, the nest stays intact.", name, named, g.where()))
		},
		choices: []Choice{{"tracks", r.Say("It came by; the eggs are there")}, {"taken", r.Say("The eggs were taken")}},
	})
	if a == "taken" {
		last.State = survey.Taken
		return
	}
	if n.Camera != "" {
		n.Notes = r.joined(n.Notes, "on camera: "+string(n.Camera))
		n.Camera = ""
	}
}

// compareTotals sets our count beside the one somebody wrote under the table.
func (r *reader) compareTotals() {
	for _, t := range r.tables {
		if t.kind != kindNests || len(t.totals) == 0 {
			continue
		}
		intact, rows := t.intactAt(r.out.Data.Nests)
		for _, total := range t.totals {
			r.compareTotal(t, total, intact, rows)
		}
	}
}

// intactAt counts, for each pair of a table, the nests of the table that were intact then.
func (t *table) intactAt(nests []survey.Nest) (intact []int, rows int) {
	intact = make([]int, len(t.pairs))
	for i := range nests {
		n := &nests[i]
		if n.From.File != t.File || n.From.Sheet != t.Name {
			continue
		}
		rows++
		for k := range t.pairs {
			if k < len(n.Visits) && n.Visits[k].State == survey.Intact {
				intact[k]++
			}
		}
	}
	return intact, rows
}

func (r *reader) compareTotal(t *table, total totalRow, intact []int, rows int) {
	for k, p := range t.pairs {
		if p.state >= len(total.cells) {
			continue
		}
		head, _, _ := strings.Cut(strings.Replace(total.cells[p.state], "/", " ", 1), " ")
		theirs, err := strconv.Atoi(head)
		if err != nil {
			continue
		}
		if theirs == intact[k] {
			t.agrees = " " + r.Say("We count %d of %d intact under “%s”, the same as yours.", intact[k], rows, t.cols[p.state].heading)
			continue
		}
		ours, heading := intact[k], t.cols[p.state].heading
		r.ask(t.cell(total.row, p.state), prompt{
			kind: "total-differs", place: t.place(total.row, p.state), weight: PleaseLook, byDefault: "ours",
			text: func(g *group) string {
				return r.Say("You wrote %d under “%s” in row %d; we count %d nests intact.%s Please look; we go by the rows.", theirs, heading, total.row, ours, r.doubtful(t, p.state))
			},
			choices: []Choice{{"ours", r.Say("Go by the rows")}},
		})
	}
}

// doubtful points to words with a question mark, where a count may have gone another way.
func (r *reader) doubtful(t *table, col int) string {
	for raw := range t.states {
		if strings.HasSuffix(raw, "?") {
			return " " + r.Say("One nest reads “%s”: is that the one?", short(raw))
		}
	}
	return ""
}

// readBack says the first three nests in words, so that a sender sees at a glance whether the sheet was understood.
func (r *reader) readBack() {
	for i := range r.out.Data.Nests {
		if i == 3 {
			return
		}
		n := &r.out.Data.Nests[i]
		var parts []string
		for _, v := range n.Visits {
			parts = append(parts, r.foundOn(v))
		}
		if parts == nil {
			parts = []string{r.Say("not checked yet")}
		}
		r.out.Sentences = append(r.out.Sentences, r.Say("Nest %s on line %s, in %s, set %s: %s.", n.Number, n.Transect, r.cover(n.Substrate), r.day(n.SetOn), strings.Join(parts, ", ")))
	}
}
