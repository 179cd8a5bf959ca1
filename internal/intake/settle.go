package intake

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// settle turns the looks of every nest into visits in order, asks about what contradicts itself, and takes the nests out
// that do not count, or not yet.
func (s *season) settle() {
	s.matchChecks()
	if len(s.twice) >= manyTwice {
		for _, i := range s.twice {
			s.work[i].waits = true
		}
	}
	s.askUnfound()
	s.weighZeros()
	s.weighDays()
	visits := make([]survey.Visit, 0, len(s.looks))
	nests := s.out.Data.Nests
	var buf []seen
	kept := 0
	for i := range nests {
		w := &s.work[i]
		if !w.dead {
			buf = s.gather(int32(i), buf[:0])
			start := len(visits)
			ok := s.visits(int32(i), buf, &visits)
			nests[i].Visits = visits[start:len(visits):len(visits)]
			if ok && !w.waits {
				s.fate(int32(i))
			}
		}
		if w.waits && !w.dead {
			if len(s.out.Waiting) < 200_000 {
				s.out.Waiting = append(s.out.Waiting, nests[i])
			}
			continue
		}
		if w.dead {
			continue
		}
		if kept != i {
			nests[kept], s.work[kept] = nests[i], s.work[i]
		}
		if s.opt.Places {
			s.out.NestsAt = append(s.out.NestsAt, s.places.cells(s.rowsOf[i]))
		}
		kept++
	}
	clear(nests[kept:])
	s.out.Data.Nests = nests[:kept]
	s.work = s.work[:kept]
	s.settleBelts()
	s.neverLookedAt()
	s.lookAtWhole()
	s.readBack()
}

// neverLookedAt asks about a batch of nests of which none has a look: mostly a column that was not understood.
func (s *season) neverLookedAt() {
	nests := s.out.Data.Nests
	if len(nests) < 3 || len(s.out.Waiting) > 0 || slices.ContainsFunc(nests, func(n survey.Nest) bool { return len(n.Visits) > 0 }) {
		return
	}
	for i := range nests {
		s.Ask(nests[i].From, inquiry.Prompt{
			Kind: "other", Place: "no-looks\x00" + nests[i].From.File, Weight: inquiry.PleaseLook, Default: "not-yet", Rank: 2,
			Text: func(g *group) string {
				return s.Say("We found no look at any of these %d nests (%s). Has nobody been there yet?", g.N, g.Where())
			},
			Choices: []inquiry.Choice{{ID: "not-yet", Label: s.Say("Nobody has looked yet")}, {ID: "wait", Label: s.Say("There were looks; I will write them plainer and send it again")}},
		})
	}
}

// askUnfound asks about nests whose checks have days and of which no table says what was found.
func (s *season) askUnfound() {
	for i := range s.work {
		w := &s.work[i]
		if w.origin == 0 || s.origin(w).unfound == (place{}) || w.dead || w.waits || w.first >= 0 {
			continue
		}
		w.waits = !s.onlyPlanned(s.places.cell(s.origin(w).unfound))
	}
}

// onlyPlanned asks whether days of checks beside which nothing says what was found are days on which nobody went yet.
func (s *season) onlyPlanned(cell survey.Cell) bool {
	return s.Ask(cell, inquiry.Prompt{
		Kind: "other", Place: "unfound\x00" + cell.File + "\x00" + cell.Sheet, Weight: inquiry.MustAnswer, Rank: 1,
		Text: func(g *group) string {
			return s.Say("Checks of %s have a day, and nothing says what was found. Were these days only planned? The nests wait for your answer.", g.Where())
		},
		Choices: []inquiry.Choice{{ID: "planned", Label: s.Say("Planned: nobody has looked yet")}, {ID: "wait", Label: s.Say("No; I will say what was found and send it again")}},
	}) == "planned"
}

// A seen is a look whose state is being settled.
type seen struct {
	on    survey.Date
	state survey.State // "" for a blank
	look  *look
}

func (s *season) gather(i int32, buf []seen) []seen {
	for l := s.work[i].first; l >= 0; l = s.looks[l].next {
		k := &s.looks[l]
		if k.mark == lexicon.Skipped {
			continue
		}
		buf = append(buf, seen{on: k.on, state: k.mark.State(), look: k})
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

func (s *season) cellOf(k *look) survey.Cell { return s.places.cell(k.at) }

// refuseLook refuses one look, and with it its nest: a nest without its bad end would look better than it was.
func (s *season) refuseLook(i int32, k *look, value, problem string) {
	s.Refuse(s.cellOf(k), value, problem)
	s.work[i].waits = true
}

// visits settles the looks of one nest in order; false where the nest waits.
func (s *season) visits(i int32, looks []seen, out *[]survey.Visit) bool {
	n, w := &s.out.Data.Nests[i], &s.work[i]
	start := len(*out)
	blank := -1
	for k := range looks {
		l := &looks[k]
		switch l.look.mark {
		case lexicon.Blank:
			if blank < 0 && l.look.used {
				blank = k
			}
			continue
		case lexicon.Unknown:
			w.waits = true
			continue
		case lexicon.Intact, lexicon.Taken:
			if l.look.eggs >= 0 && l.look.of == 0 && s.oddZeros && s.zeroColumn(s.cellOf(l.look)).odd() {
				if l.state = s.oddZero(s.cellOf(l.look), l.look); l.state == "" {
					w.waits = true
					continue
				}
				l.look.eggs = -1
			}
		case lexicon.Zero, lexicon.One:
			if l.state = s.zero(l.look, hadEggsLater(looks[k+1:], l.on)); l.state == "" {
				s.refuseLook(i, l.look, map[lexicon.Mark]string{lexicon.Zero: "0", lexicon.One: "1"}[l.look.mark], s.Say("0 can mean “no damage” or “no eggs left”, and this sheet does not show which. Say it once: answer the question about 0, or give --zero intact or --zero taken on the command line."))
				continue
			}
		}
		if l.state == "" {
			continue
		}
		if n.SetOn != 0 && l.on < n.SetOn && !w.waits && !s.beforeSet(i, l) {
			continue
		}
		if k > 0 && l.on != 0 && looks[k-1].on == l.on && l.state == looks[k-1].state && l.state == survey.Intact {
			s.oneDayTwice(looks[k-1].look, l.look)
		}
		s.countEggs(i, l)
		blank = -1
		*out = s.append(i, (*out)[:len(*out):cap(*out)], start, l)
	}
	if w.dead || w.waits {
		return false
	}
	if blank >= 0 && len(*out) == start && looks[blank].on > n.SetOn && !s.onlyPlanned(s.cellOf(looks[blank].look)) {
		w.waits = true
		return false
	}
	if blank >= 0 && len(*out) > start && (*out)[len(*out)-1].State == survey.Intact {
		*out = s.blankAfterGood(&looks[blank], *out)
	}
	return true
}

// oneDayTwice asks about two looks of one row that carry the same day: mostly a day copied down.
func (s *season) oneDayTwice(first, second *look) {
	a, b := s.cellOf(first), s.cellOf(second)
	if a.File != b.File || a.Sheet != b.Sheet || a.Row != b.Row || first == second {
		return
	}
	s.Ask(b, inquiry.Prompt{
		Kind: "same-day", Place: "same\x00" + b.File + "\x00" + b.Sheet, Weight: inquiry.PleaseLook, Default: "one", Rank: 5,
		Text: func(g *group) string {
			return g.Count("%d nest has the same day for two looks (%s). Did a day slip? Until you say, they count as one look.",
				"%d nests have the same day for two looks (%s). Did a day slip? Until you say, they count as one look.", g.N, g.N, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "one", Label: s.Say("They were one look")}, {ID: "mend", Label: s.Say("I will correct it and send it again")}},
	})
}

// append adds one visit to those of a nest, which begin at start. A finished nest has no more visits.
func (s *season) append(i int32, out []survey.Visit, start int, l *seen) []survey.Visit {
	visit := survey.Visit{On: l.on, State: l.state, Second: l.look.second.State()}
	w := &s.work[i]
	before := w.who
	w.who = l.look.who
	if len(out) == start || visit.On == 0 {
		return append(out, visit)
	}
	last := &out[len(out)-1]
	if last.On == visit.On && before != 0 && visit.State != "" && w.who != 0 && w.who != before {
		last.Second = visit.State
	}
	switch {
	case last.State == survey.Lost:
		return s.foundAgain(out, visit, l)
	case last.On == visit.On && last.State == visit.State:
		return out
	case last.On == visit.On && l.state != survey.Lost && (last.State == survey.Intact || l.state == survey.Intact):
		return s.sameDay(i, out, visit, l)
	case last.State.Failed() && l.state == survey.Intact:
		return s.backAgain(i, out, visit, l)
	case last.State.Failed():
		return out
	}
	return append(out, visit)
}

// foundAgain settles a nest that could not be found and was seen later. Which nests turn up again may well depend on
// what became of them, so unless the sender says otherwise such a nest counts up to its last good look before.
func (s *season) foundAgain(out []survey.Visit, visit survey.Visit, l *seen) []survey.Visit {
	if visit.State == survey.Lost {
		return out
	}
	cell := s.cellOf(l.look)
	if s.Ask(cell, inquiry.Prompt{
		Kind: "other", Place: "found-again\x00" + cell.File + "\x00" + cell.Sheet, Weight: inquiry.PleaseLook, Default: "end", Rank: 5,
		Text: func(g *group) string {
			return g.Count("%d later look is written down for nests that had not been found before (%s). Was the spot missed the first time? Until you say, such a nest counts up to its last good look before.",
				"%d later looks are written down for nests that had not been found before (%s). Was the spot missed the first time? Until you say, such a nest counts up to its last good look before.", g.N, g.N, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "end", Label: s.Say("Count them up to the good look before")}, {ID: "again", Label: s.Say("The spot was missed: use the later looks")}},
	}) == "again" {
		out[len(out)-1] = visit
	}
	return out
}

// sameDay settles two looks on one day that disagree: the eggs were seen and were gone.
func (s *season) sameDay(i int32, out []survey.Visit, visit survey.Visit, l *seen) []survey.Visit {
	n := &s.out.Data.Nests[i]
	name := s.Log.Nest(n) // now: nests move while they are settled
	last := &out[len(out)-1]
	end := *last
	if end.State == survey.Intact {
		end = visit
	}
	a := s.Ask(s.cellOf(l.look), inquiry.Prompt{
		Kind: "same-day", Place: "twice\x00" + s.cellOf(l.look).File, Weight: inquiry.PleaseLook, Default: "end", Rank: 5,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests were written down as intact and as lost on one day (%s). We took the later news: they were lost.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s was written down on %s both as intact and as %s. We took the later news: %s.", name, s.Date(visit.On), s.Found(end.State), s.Found(end.State)))
		},
		Choices: []inquiry.Choice{{ID: "end", Label: s.Say("They were lost")}, {ID: "intact", Label: inquiry.Capital(s.Found(survey.Intact))}, {ID: "leave-out", Label: s.Say("Nobody can say: leave that day out")}},
	})
	if a == "leave-out" {
		return out[:len(out)-1]
	}
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

// refilled finds remarks by which new eggs were put into a nest that had lost its own.
var refilled = regexp.MustCompile(`(?i)\b(?:put|set|placed)\b[^.;]*\b(?:eggs?\b[^.;]*\b(?:back|again|in)|(?:new|fresh|more)\b[^.;]*\beggs?)\b|\b(?:refilled|re-?set|restocked|replaced)\b|\b(?:puse|pusimos|se pusieron|repuse|repusimos)\b[^.;]*\b(?:otros|nuevos|huevos)\b`)

// backAgain settles a nest that was finished and then had eggs.
func (s *season) backAgain(i int32, out []survey.Visit, visit survey.Visit, l *seen) []survey.Visit {
	n := &s.out.Data.Nests[i]
	name := s.Log.Nest(n) // now: nests move while they are settled
	last := &out[len(out)-1]
	was := *last
	cell := s.cellOf(l.look)
	if refilled.MatchString(n.Notes) && s.Note(cell, "refilled", cell.File, "", func(g *group) string {
		return s.Say("The remarks say that eggs were put back (%s); such a nest ends where its first eggs did.", g.Where())
	}) {
		return out
	}
	switch s.Ask(cell, inquiry.Prompt{
		Kind: "other", Place: "back-again\x00" + cell.File, Weight: inquiry.PleaseLook, Default: "put-back", Rank: 5,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests were finished and had eggs at a later look (%s). Were eggs put back, or were the two looks swapped? Until you say, they count as finished at the first.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s was %s on %s and had eggs on %s. Were eggs put back, or were the two looks swapped? Until you say, it counts as %s on %s.", name, s.Found(was.State), s.Date(was.On), s.Date(visit.On), s.Found(was.State), s.Date(was.On)))
		},
		Choices: []inquiry.Choice{{ID: "put-back", Label: s.Say("Eggs were put back")}, {ID: "swapped", Label: s.Say("The two looks were swapped")}, {ID: "first-wrong", Label: s.Say("The first look was a slip; the eggs were there")}},
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

// beforeSet settles a look dated before the nest was set; false where it cannot count.
func (s *season) beforeSet(i int32, l *seen) bool {
	n := &s.out.Data.Nests[i]
	name := s.Log.Nest(n) // now: nests move while they are settled
	cell := s.cellOf(l.look)
	choices := []inquiry.Choice{}
	usual := s.usualDay(i, l.look)
	if usual >= n.SetOn && usual != 0 {
		choices = append(choices, inquiry.Choice{ID: "line", Label: s.Say("It was the day of the rest of the line")})
	}
	t := l.on.Time()
	turned := survey.Date(0)
	if t.Day() <= 12 {
		turned = survey.DateOf(t.Year(), monthOf(t.Day()), int(t.Month()))
	}
	swap := inquiry.Choice{ID: "swap", Label: s.Say("The two dates are swapped")}
	if n.SetOn-l.on <= 60 && n.SetOn-l.on >= 5 && usual == 0 {
		choices = append([]inquiry.Choice{swap}, choices...)
	} else {
		choices = append(choices, swap)
	}
	if turned >= n.SetOn && turned <= n.SetOn+90 {
		choices = append(choices, inquiry.Choice{ID: "turn", Label: s.Say("Day and month are turned round")})
	}
	choices = append(choices, inquiry.Choice{ID: "leave-out", Label: s.Say("Leave this look out")})
	on, set := l.on, n.SetOn
	switch s.Ask(cell, inquiry.Prompt{
		Kind: "other", Place: "before-set\x00" + cell.File, Weight: inquiry.MustAnswer, Rank: 3,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d looks are dated before their nests were set (%s). Which day slipped? The nests wait for your answer.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s was checked on %s but set on %s. Which day slipped? The nest waits for your answer.", name, s.Date(on), s.Date(set)))
		},
		Choices: choices,
	}) {
	case "leave-out":
		return false
	case "swap":
		l.on, n.SetOn = n.SetOn, l.on
		return true
	case "turn":
		l.on = turned
		return true
	case "line":
		l.on = usual
		return true
	}
	s.refuseLook(i, l.look, on.String(), s.Say("The nest was checked on %s but set on %s. Which day slipped? Please correct one of them.", s.Date(on), s.Date(n.SetOn)))
	return false
}

// countEggs applies the rule about eggs that are partly gone to a look that counts them.
func (s *season) countEggs(i int32, l *seen) {
	eggs := int(l.look.eggs)
	if eggs < 0 {
		return
	}
	n, w := &s.out.Data.Nests[i], &s.work[i]
	set := w.eggsOut()
	if l.look.of > 0 {
		set = int(l.look.of)
	}
	n.EggsLeft = eggs
	cell := s.cellOf(l.look)
	switch {
	case eggs == 0 && l.state == survey.Intact:
		s.noneLeft(i, l)
	case eggs > set:
		s.moreEggs(cell, n, eggs, set)
	case eggs > 0 && eggs < set && (l.state == survey.Intact || l.state == survey.Taken):
		l.state = s.partLoss(cell)
	case eggs == set && l.look.mark == lexicon.Taken && l.state == survey.Taken && eggs > 0:
		s.allThereTaken(cell)
	}
}

func (w *work) eggsOut() int {
	if w.eggsSet > 0 {
		return int(w.eggsSet)
	}
	return 3 // the usual clump (common practice, no source)
}

// partLoss applies the rule about nests of which some eggs are gone.
func (s *season) partLoss(c survey.Cell) survey.State {
	if s.opt.PartLossIntact {
		return survey.Intact
	}
	if s.Note(c, "part-loss", "", "", func(g *group) string {
		return s.Say("Some eggs were gone and some left in %s. We count these nests as taken and keep the number left, so that it can be judged the other way.", g.Where())
	}) {
		return survey.Taken
	}
	return survey.Intact
}

func (s *season) moreEggs(c survey.Cell, n *survey.Nest, eggs, set int) {
	name := s.Log.Nest(n) // now: nests move while they are settled
	s.Note(c, "more-eggs", c.File, "", func(g *group) string {
		if g.N > 1 {
			return s.Say("%d nests had more eggs than were set (%s). All the set eggs were there, so they count as intact. A wild bird's egg among them? Do tell us.", g.N, g.Where())
		}
		return inquiry.Capital(s.Say("%s had %d eggs, and %d were set (%s). All the set eggs were there, so it counts as intact. A wild bird's egg in it? Do tell us.", name, eggs, set, g.Where()))
	})
	n.EggsLeft = set
}

func (s *season) allThereTaken(c survey.Cell) {
	s.Note(c, "all-left", "", "", func(g *group) string {
		return s.Say("These nests are written down as taken, with all eggs left (%s). We went by the word.", g.Where())
	})
}

// noneLeft settles a nest that is called intact with no egg left.
func (s *season) noneLeft(i int32, l *seen) {
	switch s.Ask(s.cellOf(l.look), s.noneLeftPrompt()) {
	case "taken":
		l.state = survey.Taken
	case "intact":
		s.out.Data.Nests[i].EggsLeft = -1
	default:
		s.refuseLook(i, l.look, "0", s.Say("The nest is called intact and has 0 eggs left. Which is it? Please correct one of the two."))
	}
}

func (s *season) noneLeftPrompt() inquiry.Prompt {
	return inquiry.Prompt{
		Kind: "zero", Place: "none-left", Weight: inquiry.MustAnswer, Rank: 2,
		Text: func(g *group) string {
			return g.Count("One nest is called intact with 0 eggs left (%[2]s). Does 0 there mean none gone, or none left? It waits for your answer.",
				"%d nests are called intact with 0 eggs left (%s). Does 0 there mean none gone, or none left? They wait for your answer.", g.N, g.N, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "intact", Label: s.Say("None gone: intact")}, {ID: "taken", Label: s.Say("None left: taken")}},
	}
}

// blankAfterGood asks what a blank after a good look means; until it is told, the nest counts up to the good one.
func (s *season) blankAfterGood(l *seen, out []survey.Visit) []survey.Visit {
	cell := s.cellOf(l.look)
	choices := []inquiry.Choice{{ID: "not-checked", Label: s.Say("Nobody went; count them up to the look before")}}
	dated := l.look.on != 0
	if dated {
		choices = append(choices, inquiry.Choice{ID: "lost", Label: s.Say("Not found again")}, inquiry.Choice{ID: "intact", Label: s.Say("Fine, all eggs there")}, inquiry.Choice{ID: "taken", Label: inquiry.Capital(s.Found(survey.Taken))})
	}
	a := s.Ask(cell, inquiry.Prompt{
		Kind: "blank", Place: fmt.Sprintf("%s\x00%s\x00%s\x00%v", cell.File, cell.Sheet, cell.Column, dated), Weight: inquiry.PleaseLook, Default: "not-checked", Rank: 1,
		Text: func(g *group) string {
			return g.Count("%d nest had its eggs and has no note at a later check (%s). What was found? We won't guess: until you say, it counts up to its last good look.",
				"%d nests had their eggs and have no note at a later check (%s). What was found? We won't guess: until you say, each counts up to its last good look.", g.N, g.N, g.Where())
		},
		Choices: choices,
	})
	switch a {
	case "lost", "intact", "taken":
		return append(out, survey.Visit{On: l.look.on, State: survey.State(a)})
	}
	return out
}

// Zeros is what one file, or one column of it, shows about the meaning of its 0s.
type zeros struct {
	any      bool // a 0 stands for a state somewhere
	counts   bool // 2s and 3s stand for states, so a 0 is a count of eggs
	sawEggs  bool // a nest marked 0 was visited again and had eggs
	sawGone  bool // a nest marked 0 has remains
	took     int  // nests marked 0 whose notes name what took them
	tookFull int  // and nests marked 3
	kept     int  // nests marked 0 whose notes say the eggs were fine
}

// odd tells whether the remarks beside a column of counts say that it counts eggs that are gone.
func (z *zeros) odd() bool {
	return z.counts && z.any && z.took == 0 && (z.kept > 0 || z.tookFull > 1)
}

func (s *season) zerosOf(key string) *zeros {
	z := s.files[key]
	if z == nil {
		z = &zeros{}
		s.files[strings.Clone(key)] = z
	}
	return z
}

func (s *season) zeros(c survey.Cell) *zeros { return s.zerosOf(c.File) }

func (s *season) zeroColumn(c survey.Cell) *zeros {
	return s.zerosOf(c.File + "\x00" + c.Sheet + "\x00" + c.Column)
}

// weighZeros looks through each file for what its 0s must mean: a nest marked 0 and visited again with eggs had no
// damage; 0 in a column of egg counts, or at a nest with remains, is no eggs left. The remarks may say that one column of
// counts tells the eggs that are gone.
func (s *season) weighZeros() {
	any := false
	for _, z := range s.files {
		any = any || z.any
	}
	if !any {
		return
	}
	var buf []seen
	for i := range s.work {
		if s.work[i].dead {
			continue
		}
		buf = s.gather(int32(i), buf[:0])
		n := &s.out.Data.Nests[i]
		for k, l := range buf {
			last := k == len(buf)-1
			if last && l.look.eggs >= 2 && l.look.mark == lexicon.Intact && (n.Guess != "" || s.namesAnimal(n.Notes)) {
				s.zeroColumn(s.cellOf(l.look)).tookFull++
			}
			if l.look.mark != lexicon.Zero {
				continue
			}
			z := s.zeros(s.cellOf(l.look))
			z.sawEggs = z.sawEggs || hadEggsLater(buf[k+1:], l.on)
			if !last {
				continue
			}
			z.sawGone = z.sawGone || n.Remains != nil || n.Camera != "" || n.Guess != ""
			of := s.zeroColumn(s.cellOf(l.look))
			switch {
			case n.Remains != nil || n.Guess != "" || s.namesAnimal(n.Notes) || s.lex.Sight(n.Notes).Mark.State().Failed():
				of.took++
			case keptEggs.MatchString(n.Notes) || s.lex.Sight(n.Notes).Mark == lexicon.Intact:
				of.kept++
			}
		}
	}
	for _, z := range s.files {
		s.oddZeros = s.oddZeros || z.odd()
	}
}

// keptEggs finds remarks by which a nest still had its eggs.
var keptEggs = regexp.MustCompile(`(?i)\b(?:brought|carried|took|picked up|collected|recog[ií]|me traje|traje)\b.*\b(?:eggs|huevos|home|back|casa)\b|\b(?:3|three|all|los 3|los tres|todos los) (?:eggs|huevos)\b`)

func (s *season) namesAnimal(text string) bool {
	if text == "" || len(text) > 120 {
		return false
	}
	for _, w := range strings.Fields(lexicon.Words(text)) {
		if p, ok := s.lex.Predator(w); ok && p != "" && p != survey.Other {
			return true
		}
	}
	return false
}

// hadEggsLater tells whether a nest was visited after a day and had eggs.
func hadEggsLater(later []seen, on survey.Date) bool {
	return slices.ContainsFunc(later, func(l seen) bool { return l.state == survey.Intact && l.on > on })
}

// zero tells what a 0, or the 1 beside it, means. What became of the nest itself decides first, then what the sender
// said, then the rest of the file; where none does, the sender is asked.
func (s *season) zero(k *look, eggsLater bool) survey.State {
	cell := s.cellOf(k)
	f := s.zeros(cell)
	if s.oddZeros && !eggsLater && s.zeroColumn(cell).odd() {
		return s.oddZero(cell, k)
	}
	if k.mark == lexicon.One && f.counts {
		return s.partLoss(cell)
	}
	if k.mark == lexicon.Zero && eggsLater && !f.counts {
		return survey.Intact
	}
	zero := s.opt.Zero
	switch {
	case zero != "":
	case f.sawEggs && !f.sawGone && !f.counts:
		zero = survey.Intact
	case !f.sawEggs && (f.sawGone || f.counts) || f.counts:
		zero = survey.Taken
	default:
		zero = survey.State(s.Ask(cell, inquiry.Prompt{
			Kind: "zero", Place: "", Weight: inquiry.MustAnswer,
			Text: func(g *group) string {
				return g.Count("0 stands for a nest's state %d time (%s). Is it “no eggs left” or “no damage”? One answer settles all; until then these rows wait.",
					"0 stands for a nest's state %d times (%s). Is it “no eggs left” or “no damage”? One answer settles all; until then these rows wait.", g.N, g.N, g.Where())
			},
			Choices: []inquiry.Choice{{ID: string(survey.Taken), Label: s.Say("No eggs left")}, {ID: string(survey.Intact), Label: s.Say("No damage")}},
		}))
	}
	if k.mark == lexicon.Zero || zero == "" {
		return zero
	}
	if zero == survey.Intact {
		return survey.Taken
	}
	return survey.Intact
}

// oddZero asks what the counts of one column mean whose remarks speak against eggs left.
func (s *season) oddZero(cell survey.Cell, k *look) survey.State {
	a := s.Ask(cell, inquiry.Prompt{
		Kind: "zero", Place: cell.File + "\x00" + cell.Sheet + "\x00" + cell.Column, Weight: inquiry.MustAnswer,
		Text: func(g *group) string {
			return s.Say("Under “%s” stand 0s and 3s (%s), and the remarks beside some do not fit eggs left. Does 0 there mean no eggs left or no eggs gone? These nests wait for your answer.", cell.Column, g.Where())
		},
		Choices: []inquiry.Choice{{ID: string(survey.Taken), Label: s.Say("0 is no eggs left")}, {ID: string(survey.Intact), Label: s.Say("0 is no eggs gone")}},
	})
	zero := survey.State(a)
	if k.mark == lexicon.Zero || zero == "" {
		return zero
	}
	if zero == survey.Intact {
		return survey.Taken
	}
	return survey.Intact
}

// fate looks at how the nest ended beside what else was written down.
func (s *season) fate(i int32) {
	n, w := &s.out.Data.Nests[i], &s.work[i]
	if n.SetOn == 0 || n.Substrate == "" {
		w.waits = true
		if w.ownRow {
			s.Refuse(n.From, "", s.Say("The row does not say when the nest was set and in what. Please fill in “set_on” and “substrate”."))
		}
		return
	}
	defer s.cameraDay(n)
	if len(n.Visits) == 0 {
		return
	}
	last := &n.Visits[len(n.Visits)-1]
	if second := w.second.State(); second != "" {
		last.Second = second
	}
	if w.eggsColumn && n.EggsLeft >= 0 {
		s.eggsLeft(n, w, last)
	}
	if last.State == survey.Taken && w.because != lexicon.Unknown {
		s.byRemark(w, last)
	}
	if last.State == survey.Taken && w.cause != lexicon.Unknown {
		s.moveCause(n, w, last)
	}
	if last.State == survey.Intact && (n.Camera != "" || n.Guess != "" && w.cause == lexicon.Unknown && s.isAnimal(n.Guess)) {
		s.culpritOnIntact(n, last)
	}
}

func (s *season) isAnimal(guess string) bool {
	p, ok := s.lex.Predator(strings.TrimRight(guess, "? "))
	return ok && p != "" || !ok && s.lex.NamesAnimal(guess)
}

// eggsLeft applies the column of eggs left of a table of nests to the last visit.
func (s *season) eggsLeft(n *survey.Nest, w *work, last *survey.Visit) {
	cell := s.places.cell(s.origin(w).eggs)
	set := w.eggsOut()
	switch eggs := n.EggsLeft; {
	case eggs == 0 && last.State == survey.Intact:
		switch s.Ask(cell, s.noneLeftPrompt()) {
		case "taken":
			last.State = survey.Taken
		case "intact":
			n.EggsLeft = -1
		default:
			s.Refuse(cell, "0", s.Say("The nest is called intact and has 0 eggs left. Which is it? Please correct one of the two."))
			w.waits = true
		}
	case eggs > set:
		s.moreEggs(cell, n, eggs, set)
	case eggs > 0 && eggs < set && (last.State == survey.Intact || last.State == survey.Taken):
		last.State = s.partLoss(cell)
	case eggs == set && last.State == survey.Taken:
		s.allThereTaken(cell)
	}
}

// moveCause gives a loss that no animal brought its own state, so that none is blamed.
func (s *season) moveCause(n *survey.Nest, w *work, last *survey.Visit) {
	state := w.cause.State()
	if !w.fromGuess {
		last.State = state
		return
	}
	cell := s.places.cell(s.origin(w).guess)
	if cell.File == "" {
		cell = n.From
	}
	if !s.Note(cell, "cause", string(state), n.Guess, func(g *group) string {
		return s.Say("%s stood where a predator is asked for; we counted these nests as %s, so that no animal is blamed (%s).", s.Quoted(g.Words), s.Found(state), g.Where())
	}) {
		return
	}
	last.State = state
	n.Notes = s.joined(n.Notes, n.Guess)
	n.Guess = ""
}

// byRemark takes the end that the remarks tell of for a nest whose eggs were only counted.
func (s *season) byRemark(w *work, last *survey.Visit) {
	state := w.because.State()
	if s.Note(s.places.cell(s.origin(w).because), "remark-cause", string(state), "", func(g *group) string {
		return s.Say("The eggs in %s were counted, and the remarks say that the nests were %s; we went by the remarks.", g.Where(), s.Found(state))
	}) {
		last.State = state
	}
}

// culpritOnIntact tells of a predator written beside a nest that has its eggs.
func (s *season) culpritOnIntact(n *survey.Nest, last *survey.Visit) {
	name := s.Log.Nest(n) // now: nests move while they are settled
	named := n.Guess
	if n.Camera != "" {
		named = s.Animal(n.Camera)
	}
	a := s.Ask(n.From, inquiry.Prompt{
		Kind: "other", Place: "culprit\x00" + n.From.File, Weight: inquiry.PleaseLook, Default: "tracks", Rank: 9,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests list a predator, but their eggs are all there (%s). Tracks only, or the wrong row? Until you say, they stay intact.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s lists “%s”, but its eggs are all there (%s). Tracks only, or the wrong row? Until you say, the nest stays intact.", name, named, g.Where()))
		},
		Choices: []inquiry.Choice{{ID: "tracks", Label: s.Say("It came by; the eggs are there")}, {ID: "taken", Label: s.Say("The eggs were taken")}},
	})
	if a == "taken" {
		last.State = survey.Taken
		return
	}
	if n.Camera != "" {
		n.Notes = s.joined(n.Notes, "on camera: "+string(n.Camera))
		n.Camera = ""
	}
}

// cameraDay holds the day on which a camera recorded the loss against the looks: it lies between setting and the look that found the nest
// finished. Any other day is kept among the remarks.
func (s *season) cameraDay(n *survey.Nest) {
	if n.CameraOn == 0 {
		return
	}
	cell := n.From
	if n.Fate().Failed() && n.SetOn <= n.CameraOn && n.CameraOn <= n.Visits[len(n.Visits)-1].On {
		if int(n.CameraOn-n.SetOn) < n.LastIntact() {
			s.Note(cell, "camera-before", cell.File, "", func(g *group) string {
				return s.Say("On camera the eggs went before a look that found them there (%s). We keep both; the looks count. Did a day slip, or was the camera’s clock wrong?", g.Where())
			})
		}
		return
	}
	say := func(g *group) string {
		return s.Say("The camera’s day (%s) is not between the day the nest was set and the look that found it gone. The looks count; the day is kept among the remarks. Did a day slip, or was the camera’s clock wrong?", g.Where())
	}
	kind := "camera-outside"
	if !n.Fate().Failed() {
		kind = "camera-alone"
		say = func(g *group) string {
			return s.Say("A camera’s day of loss is given (%s), and no look found the nest gone. The looks count; the day is kept among the remarks. If the eggs were gone, write the look down too.", g.Where())
		}
	}
	s.Note(cell, kind, cell.File, "", say)
	n.Notes = s.joined(n.Notes, "camera: "+n.CameraOn.String())
	n.CameraOn = 0
}

// readBack says the first three nests in words, so that a sender sees at a glance whether the sheet was understood.
func (s *season) readBack() {
	for i := range s.out.Data.Nests {
		if i == 3 {
			return
		}
		n := &s.out.Data.Nests[i]
		var parts []string
		for _, v := range n.Visits {
			parts = append(parts, s.FoundOn(v))
		}
		if parts == nil {
			parts = []string{s.Say("not checked yet")}
		}
		s.out.Sentences = append(s.out.Sentences, s.Say("Nest %s on line %s, in %s, set %s: %s.", n.Number, n.Transect, s.Cover(n.Substrate), s.Date(n.SetOn), strings.Join(parts, ", ")))
	}
}
