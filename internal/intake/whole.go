package intake

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

func monthOf(n int) time.Month { return time.Month(n) }

// How far days may stand from the plan of about 14 and 28 days before the sender is asked.
const (
	longGap   = 50  // days from setting to the first look, or between looks
	longFirst = 35  // the first look, where most others came far sooner
	yearGap   = 300 // more than this is mostly a year that slipped
)

// weighDays holds every gap against the plan: a first look after 73 days, a year of setting one too low, a nest set and
// found gone on one day are asked about once.
func (s *season) weighDays() {
	off, turned, dated := s.linesOff(), s.linesTurned(), s.datedSeasons()
	for i := range s.work {
		n, w := &s.out.Data.Nests[i], &s.work[i]
		if w.dead || w.waits || n.SetOn == 0 {
			continue
		}
		s.weighYear(int32(i), n, w)
		if !dated[n.Season] {
			s.weighSeason(n, w)
		}
		if !w.waits {
			s.weighGaps(int32(i), n, w, turned[lineKey(w.key)])
		}
		if !w.waits {
			s.weighSameDay(int32(i), n, w, off)
		}
	}
}

// weighYear asks about a nest whose setting and looks lie a year apart.
func (s *season) weighYear(i int32, n *survey.Nest, w *work) {
	first := s.firstDated(w)
	if first == nil {
		return
	}
	gap := int(first.on - n.SetOn)
	if gap < yearGap && gap > -yearGap {
		return
	}
	t := n.SetOn.Time()
	moved := survey.DateOf(first.on.Year(), t.Month(), t.Day())
	if d := int(first.on - moved); moved == 0 || d < 0 || d > longGap {
		return
	}
	cell := n.From
	set, on := n.SetOn, first.on
	name := s.Log.Nest(n)
	switch s.Ask(cell, inquiry.Prompt{
		Kind: "year", Place: "set\x00" + cell.File, Weight: inquiry.MustAnswer, Rank: 1,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests were set in a year other than that of their looks (%s). Did the year slip? The nests wait for your answer.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s was set on %s and looked at on %s. Did the year slip? The nest waits for your answer.", name, s.Date(set), s.Date(on)))
		},
		Choices: []inquiry.Choice{{ID: "set", Label: s.Say("The year of setting slipped: it is that of the looks")}, {ID: "looks", Label: s.Say("The years of the looks slipped")}, {ID: "keep", Label: s.Say("The days are right")}},
	}) {
	case "set":
		n.SetOn = moved
		if int(w.key.season) == set.Year() {
			n.Season = moved.Year()
		}
	case "looks":
		for l := w.first; l >= 0; l = s.looks[l].next {
			if k := &s.looks[l]; k.on != 0 {
				d := k.on.Time()
				k.on = survey.DateOf(k.on.Year()-(on.Year()-set.Year()), d.Month(), d.Day())
			}
		}
	case "keep":
	default:
		s.Refuse(cell, set.String(), s.Say("The nest was set on %s and looked at on %s. Did the year slip? Please correct one of them.", s.Date(set), s.Date(on)))
		w.waits = true
	}
}

// datedSeasons are those in whose year a nest was set: of such a season a nest that was set before New Year's is no slip.
func (s *season) datedSeasons() map[int]bool {
	dated := map[int]bool{}
	last := 0
	for i := range s.out.Data.Nests {
		if n := &s.out.Data.Nests[i]; n.SetOn != 0 && n.Season != last && n.SetOn.Year() == n.Season {
			dated[n.Season] = true
			last = n.Season
		}
	}
	return dated
}

// weighSeason asks about a nest of a season that was set in another year, as all of that season were.
func (s *season) weighSeason(n *survey.Nest, w *work) {
	if w.waits || n.SetOn == 0 || n.Season == 0 || n.SetOn.Year() == n.Season {
		return
	}
	cell, written, set := n.From, n.Season, n.SetOn
	name := s.Log.Nest(n)
	switch s.Ask(cell, inquiry.Prompt{
		Kind: "year", Place: "season\x00" + cell.File, Weight: inquiry.MustAnswer, Rank: 1,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests are of the season %d as the sheet says, and were set in another year (%s). Which is right? The nests wait for your answer.", g.N, written, g.Where())
			}
			return inquiry.Capital(s.Say("%s is of the season %d as the sheet says, and was set on %s. Which is right? The nest waits for your answer.", name, written, s.Date(set)))
		},
		Choices: []inquiry.Choice{{ID: "days", Label: s.Say("The days: the season is their year")}, {ID: "keep", Label: s.Say("Both: the season is called by another year than its days")}},
	}) {
	case "days":
		n.Season = set.Year()
	case "keep":
	default:
		s.Refuse(cell, set.String(), s.Say("The season is written as %d, and the nest was set on %s. Please correct one of them.", written, s.Date(set)))
		w.waits = true
	}
}

// firstDated returns the first look with a day, as written.
func (s *season) firstDated(w *work) *look {
	for l := w.first; l >= 0; l = s.looks[l].next {
		if k := &s.looks[l]; k.on != 0 && k.mark != lexicon.Skipped && k.mark != lexicon.Blank {
			return k
		}
	}
	return nil
}

// weighGaps asks about looks far off the plan, and about looks of one row whose days run backward.
//
// On a line whose second looks all stand before the first ones, later is the day of the second; a nest with one look only
// is asked about with the others.
func (s *season) weighGaps(i int32, n *survey.Nest, w *work, later survey.Date) {
	before, asked := n.SetOn, false
	var prev *look
	if only := s.firstDated(w); only != nil && only.order == 0 && later != 0 && only.on > later && later > n.SetOn && s.dated(w) == 1 {
		s.askGap(i, n, w, only, nil, later)
		return
	}
	for l := w.first; l >= 0; l = s.looks[l].next {
		k := &s.looks[l]
		if k.on == 0 || k.mark == lexicon.Skipped || k.mark == lexicon.Blank {
			continue
		}
		if k.order == 0 && prev != nil { // a row of its own: rows come in any order
			before, prev = n.SetOn, nil
			if k.on > before {
				before = s.lastBefore(w, k)
			}
		}
		gap := int(k.on - before)
		far := gap > longGap || prev == nil && k.order == 0 && gap > longFirst && gap >= 5*s.usualFirst()/2
		if prev != nil && k.on < prev.on && k.on >= n.SetOn {
			if !asked {
				s.askGap(i, n, w, k, prev, prev.on)
			}
		} else if far {
			s.askGap(i, n, w, k, prev, 0)
		}
		asked = far
		if k.on > before {
			before = k.on
		}
		prev = k
	}
}

// usualFirst is how many days after setting most nests of the batch were first looked at: the middle one.
func (s *season) usualFirst() int {
	if s.firstGap == 0 {
		var gaps []int
		for i := range s.work {
			w := &s.work[i]
			if f := s.firstDated(w); !w.dead && f != nil && s.out.Data.Nests[i].SetOn != 0 && f.on > s.out.Data.Nests[i].SetOn {
				gaps = append(gaps, int(f.on-s.out.Data.Nests[i].SetOn))
			}
		}
		s.firstGap = longGap
		if len(gaps) > 0 {
			slices.Sort(gaps)
			s.firstGap = gaps[len(gaps)/2]
		}
	}
	return s.firstGap
}

// lastBefore is the day of the last look before k, or of setting.
func (s *season) lastBefore(w *work, k *look) survey.Date {
	best := survey.Date(0)
	for l := w.first; l >= 0; l = s.looks[l].next {
		if o := &s.looks[l]; o != k && o.on != 0 && o.on < k.on && o.mark != lexicon.Skipped && o.on > best {
			best = o.on
		}
	}
	if best == 0 {
		i, _ := s.find(w.key)
		return s.out.Data.Nests[i].SetOn
	}
	return best
}

// dated counts the looks of a nest that have a day and say something.
func (s *season) dated(w *work) int {
	c := 0
	for l := w.first; l >= 0; l = s.looks[l].next {
		if k := &s.looks[l]; k.on != 0 && k.mark != lexicon.Skipped && k.mark != lexicon.Blank {
			c++
		}
	}
	return c
}

// linesTurned finds the lines whose second looks stand before the first, with the day of the second.
func (s *season) linesTurned() map[nestKey]survey.Date {
	days := map[nestKey]*[2]map[survey.Date]int{}
	for i := range s.work {
		w := &s.work[i]
		if w.dead {
			continue
		}
		prev := survey.Date(0)
		for l := w.first; l >= 0; l = s.looks[l].next {
			k := &s.looks[l]
			if k.on == 0 || k.order > 1 || k.mark == lexicon.Skipped || k.mark == lexicon.Blank {
				continue
			}
			if k.order == 1 && prev > k.on {
				d := days[lineKey(w.key)]
				if d == nil {
					d = &[2]map[survey.Date]int{{}, {}}
					days[lineKey(w.key)] = d
				}
				d[0][prev]++
				d[1][k.on]++
			}
			prev = k.on
		}
	}
	turned := map[nestKey]survey.Date{}
	for key, d := range days {
		if len(d[0]) != 1 || len(d[1]) != 1 {
			continue
		}
		for on, n := range d[1] {
			if n >= 2 {
				turned[key] = on
			}
		}
	}
	return turned
}

// askGap asks about a look far off the plan, or whose day runs backward: other is then the day it may have been swapped
// with.
func (s *season) askGap(i int32, n *survey.Nest, w *work, k, prev *look, other survey.Date) {
	backward := other != 0
	cell := s.cellOf(k)
	usual := s.usualDay(i, k)
	choices := []inquiry.Choice{}
	if backward {
		choices = append(choices, inquiry.Choice{ID: "swap", Label: s.Say("The two days are swapped")})
	}
	if usual != 0 && usual > n.SetOn && usual != k.on {
		choices = append([]inquiry.Choice{{ID: "line", Label: s.Say("It was the day of the rest of the line")}}, choices...)
		if prev != nil && backward {
			if u := s.usualDay(i, prev); u != 0 && u != prev.on { // the look before is the one that is off
				choices = append([]inquiry.Choice{{ID: "line-before", Label: s.Say("The look before was on the day of the rest of the line")}}, choices...)
			}
		}
	} else if prev != nil && backward {
		if u := s.usualDay(i, prev); u != 0 && u != prev.on {
			choices = append([]inquiry.Choice{{ID: "line-before", Label: s.Say("The look before was on the day of the rest of the line")}}, choices...)
		}
	}
	mended := s.otherMonth(w, n, k)
	if mended != 0 {
		choices = append(choices, inquiry.Choice{ID: "month", Label: s.Say("The month slipped: it was %s", s.Date(mended))})
	}
	setAgain := s.setInOtherMonth(n, k, prev)
	if setAgain != 0 {
		choices = append(choices, inquiry.Choice{ID: "set-month", Label: s.Say("The day of setting slipped: it was %s", s.Date(setAgain))})
	}
	choices = append(choices, inquiry.Choice{ID: "keep", Label: s.Say("The days are right")}, inquiry.Choice{ID: "leave-out", Label: s.Say("Leave this look out")})
	over := longGap
	if int(k.on-n.SetOn) <= longGap {
		over = longFirst
	}
	kind, place := "gap", "gap\x00"+cell.File
	if backward {
		kind, place = "other", "backward\x00"+cell.File
	}
	if mended != 0 { // the answer names the day
		place += fmt.Sprintf("\x00%d", mended)
	}
	if setAgain != 0 {
		place += fmt.Sprintf("\x00set %d", setAgain)
	}
	name, on, set := s.Log.Nest(n), k.on, n.SetOn
	switch s.Ask(cell, inquiry.Prompt{
		Kind: kind, Place: place, Weight: inquiry.MustAnswer, Rank: 2,
		Text: func(g *group) string {
			switch {
			case backward && g.N > 1:
				return s.Say("The days of %d nests run backward: a later look is dated before an earlier one (%s). Which day slipped? The nests wait for your answer.", g.N, g.Where())
			case backward:
				return inquiry.Capital(s.Say("The days of %s run backward: a later look is dated before an earlier one (%s). Which day slipped? The nest waits for your answer.", name, g.Where()))
			case g.N > 1:
				return s.Say("%d looks are more than %d days after the one before (%s). Did a day slip? The nests wait for your answer.", g.N, over, g.Where())
			}
			return inquiry.Capital(s.Say("%s was set on %s and looked at on %s, %d days later (%s). Did a day slip? The nest waits for your answer.", name, s.Date(set), s.Date(on), int(on-set), g.Where()))
		},
		Choices: choices,
	}) {
	case "keep":
	case "line":
		if usual != 0 {
			k.on = usual
		}
	case "line-before":
		if prev != nil {
			if u := s.usualDay(i, prev); u != 0 {
				prev.on = u
			}
		}
	case "swap":
		if prev != nil {
			prev.on = k.on
		}
		k.on = other
	case "month":
		if mended != 0 {
			k.on = mended
		}
	case "set-month":
		n.SetOn = setAgain
	case "leave-out":
		k.mark = lexicon.Skipped
	default:
		s.Refuse(cell, k.on.String(), s.Say("The nest was set on %s and looked at on %s. Did a day slip? Please correct one of them.", s.Date(n.SetOn), s.Date(k.on)))
		w.waits = true
	}
}

// setInOtherMonth is the same day of the month on which a nest was set so that its first look came when most others came; 0
// where there is none.
func (s *season) setInOtherMonth(n *survey.Nest, k, prev *look) survey.Date {
	if prev != nil {
		return 0
	}
	t := n.SetOn.Time()
	on := survey.DateOf(t.Year(), t.Month()+1, t.Day())
	if off := int(k.on-on) - s.usualFirst(); on == 0 || off < -7 || off > 7 {
		return 0
	}
	return on
}

// otherMonth is the same day of the month that best stands between the looks before and after, 0 where none does.
func (s *season) otherMonth(w *work, n *survey.Nest, k *look) survey.Date {
	from, to := n.SetOn, n.SetOn+longGap
	for l := w.first; l >= 0; l = s.looks[l].next {
		switch o := &s.looks[l]; {
		case o == k || o.on == 0:
		case o.order < k.order && o.on < k.on:
			from = max(from, o.on)
		case o.order > k.order && o.on > n.SetOn:
			to = min(to, o.on)
		}
	}
	t := k.on.Time()
	best := survey.Date(0)
	for m := time.March; m <= time.September; m++ {
		on := survey.DateOf(t.Year(), m, t.Day())
		if m == t.Month() || on < from+6 || on >= to {
			continue
		}
		if best == 0 || offPlan(on-from) < offPlan(best-from) {
			best = on
		}
	}
	return best
}

// offPlan is how far a look is from two weeks after the one before (common practice, no source).
func offPlan(gap survey.Date) survey.Date { return max(gap-14, 14-gap) }

// A columnDay is one column of one line.
type columnDay struct {
	line   nestKey
	column string
	order  uint8
}

// usualDay is the day on which most of the other nests of a line were looked at in the same column, 0 where there is none.
func (s *season) usualDay(i int32, k *look) survey.Date {
	if s.usual == nil {
		s.usual = map[columnDay]map[survey.Date]int{}
		for j := range s.work {
			w := &s.work[j]
			for l := w.first; l >= 0 && !w.dead; l = s.looks[l].next {
				o := &s.looks[l]
				key := columnDay{lineKey(w.key), s.cellOf(o).Column, o.order}
				if s.usual[key] == nil {
					s.usual[key] = map[survey.Date]int{}
				}
				if o.on != 0 {
					s.usual[key][o.on]++
				}
			}
		}
	}
	best, most := survey.Date(0), 0
	for d, c := range s.usual[columnDay{lineKey(s.work[i].key), s.cellOf(k).Column, k.order}] {
		if d == k.on {
			c--
		}
		if c > most || c == most && d < best {
			best, most = d, c
		}
	}
	if most < 2 {
		return 0
	}
	return best
}

// weighSameDay asks about a nest set and found gone on one day: mostly a date that slipped. Either way the loss lies
// between setting and the line's first check.
func (s *season) weighSameDay(i int32, n *survey.Nest, w *work, off map[nestKey]bool) {
	first := s.firstDated(w)
	if first == nil || first.on != n.SetOn || !first.mark.State().Failed() && !off[lineKey(w.key)] {
		return
	}
	cell := s.cellOf(first)
	name, on := s.Log.Nest(n), first.on
	choices := []inquiry.Choice{{ID: "between", Label: s.Say("It was lost between setting and the line's first check")}}
	usual := s.usualDay(i, first)
	if usual > n.SetOn {
		choices = append(choices, inquiry.Choice{ID: "line", Label: s.Say("The day slipped: it was found so when the rest of the line was looked at")})
	} else {
		choices = append(choices, inquiry.Choice{ID: "two-weeks", Label: s.Say("The day slipped: it was looked at two weeks after setting")})
	}
	switch s.Ask(cell, inquiry.Prompt{
		Kind: "same-day", Place: cell.File, Weight: inquiry.PleaseLook, Default: "between", Rank: 0,
		Text: func(g *group) string {
			if g.N > 1 {
				return s.Say("%d nests were set and looked at on one day (%s). Did a day slip? Until you say, what was lost counts as lost between setting and the line's first check.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s was set and found lost on %s. Did a day slip? Until you say, it counts as lost between setting and the line's first check.", name, s.Date(on)))
		},
		Choices: choices,
	}) {
	case "line":
		if usual > n.SetOn {
			first.on = usual
		}
	case "two-weeks":
		first.on = n.SetOn + 14
	}
}

// linesOff finds the lines that were looked at on the day they were set, with nests lost: then the day of the whole line
// is off.
func (s *season) linesOff() map[nestKey]bool {
	off := map[nestKey]bool{}
	for i := range s.work {
		w := &s.work[i]
		if f := s.firstDated(w); !w.dead && f != nil && f.mark.State().Failed() && f.on == s.out.Data.Nests[i].SetOn {
			off[lineKey(w.key)] = true
		}
	}
	return off
}

// matchChecks finds the nests of checks whose own row named them more or less fully, and asks about checks of nests
// that were never set.
func (s *season) matchChecks() {
	if s.lineless {
		s.findLines()
	}
	var open []int32
	for i := range s.work {
		n, w := &s.out.Data.Nests[i], &s.work[i]
		if !w.dead && !w.ownRow && (n.SetOn == 0 || n.Substrate == "") {
			open = append(open, int32(i))
		}
	}
	if len(open) == 0 {
		return
	}
	loose := map[nestKey]int32{} // by ranch, transect and nest; -2 where several answer
	lines := map[nestKey]*lineSet{}
	for i := range s.work {
		w := &s.work[i]
		if !w.ownRow {
			continue
		}
		k := looseKey(w.key)
		if _, twice := loose[k]; twice {
			loose[k] = -2
		} else {
			loose[k] = int32(i)
		}
		if n := &s.out.Data.Nests[i]; !w.dead {
			lines[lineKey(w.key)] = lines[lineKey(w.key)].with(n)
		}
	}
	for _, i := range open {
		w := &s.work[i]
		j, ok := loose[looseKey(w.key)]
		if ok && j >= 0 && s.maybeSame(i, j) {
			s.join(i, j)
			continue
		}
		set := lines[lineKey(w.key)]
		if set == nil {
			set = lines[looseLine(lines, w.key)]
		}
		s.neverSet(i, set)
	}
	s.waitForChecks(open)
}

// findLines finds the nests of checks that name no line. Where the ranch set out one nest of that number, it is that one: the
// nests were numbered through. Else the checks may all be of one line.
func (s *season) findLines() {
	set := map[nestKey]int32{} // by ranch, season and number; -1 where several lines have it
	of := func(w *work) nestKey {
		k := w.key
		k.site, k.transect = 0, 0
		return k
	}
	none := s.names[nameTransect].of("")
	for i := range s.work {
		if w := &s.work[i]; w.ownRow && !w.dead && w.key.transect != none {
			if _, twice := set[of(w)]; twice {
				set[of(w)] = -1
			} else {
				set[of(w)] = int32(i)
			}
		}
	}
	for i := range s.work {
		w, n := &s.work[i], &s.out.Data.Nests[i]
		if w.dead || w.key.transect != none {
			continue
		}
		if j, ok := set[of(w)]; ok && j >= 0 && s.maybeSame(int32(i), j) {
			s.join(int32(i), j)
			continue
		}
		line := s.noLine(n.From, false)
		if line == "" {
			w.dead = true
			continue
		}
		w.key.transect = s.names[nameTransect].of(line)
		n.Transect = s.lineText(w.key, line)
	}
}

// waitForChecks lets nests without checks wait while checks wait for their nests, where most nests have none: they are likely
// each other's.
func (s *season) waitForChecks(open []int32) {
	loose := 0
	for _, i := range open {
		if w := &s.work[i]; w.waits || w.dead {
			loose++
		}
	}
	bare, all := 0, 0
	for i := range s.work {
		if w := &s.work[i]; w.ownRow && !w.dead {
			all++
			if w.first < 0 {
				bare++
			}
		}
	}
	if loose < 3 || bare*2 <= all {
		return
	}
	for i := range s.work {
		if w := &s.work[i]; w.ownRow && w.first < 0 {
			w.waits = true
		}
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

// looseLine finds the only line of the same name and season on the ranch, whatever pasture it was named under.
func looseLine(lines map[nestKey]*lineSet, k nestKey) nestKey {
	found := nestKey{season: -1}
	for l := range lines {
		if l.ranch == k.ranch && l.transect == k.transect && l.season == k.season {
			if found.season >= 0 {
				return nestKey{season: -1}
			}
			found = l
		}
	}
	return found
}

// maybeSame tells whether the rows of check i, which may leave out season and site, can be about nest j.
func (s *season) maybeSame(i, j int32) bool {
	a, b := &s.out.Data.Nests[i], &s.out.Data.Nests[j]
	if a.Site != b.Site && a.Site != "" && b.Site != "" {
		return false
	}
	return a.Season == b.Season || s.work[i].seasonOpen
}

// join moves the looks of nest i to nest j.
func (s *season) join(i, j int32) {
	from, to := &s.work[i], &s.work[j]
	if from.first >= 0 {
		if to.last >= 0 {
			s.looks[to.last].next = from.first
		} else {
			to.first = from.first
		}
		to.last = from.last
	}
	a, b := &s.out.Data.Nests[i], &s.out.Data.Nests[j]
	addSigns(b, a.Remains)
	if a.Camera != "" {
		b.Camera = a.Camera
	}
	if a.CameraOn != 0 {
		b.CameraOn = a.CameraOn
	}
	if a.Guess != "" {
		b.Guess = a.Guess
	}
	if a.Notes != "" {
		b.Notes = s.joined(b.Notes, a.Notes)
	}
	if from.cause != lexicon.Unknown {
		guess := s.origin(from).guess
		to.cause, to.fromGuess, s.origin(to).guess = from.cause, from.fromGuess, guess
	}
	to.waits = to.waits || from.waits
	if s.opt.Places {
		s.rowsOf[j] = append(s.rowsOf[j], s.rowsOf[i]...)
	}
	from.dead = true
}

// A lineSet is how the nests of one line were set.
type lineSet struct {
	set        map[survey.Date]int
	substrates []survey.Substrate
	odd, even  map[survey.Substrate]int
}

func (l *lineSet) with(n *survey.Nest) *lineSet {
	if l == nil {
		l = &lineSet{set: map[survey.Date]int{}, odd: map[survey.Substrate]int{}, even: map[survey.Substrate]int{}}
	}
	l.set[n.SetOn]++
	if !slices.Contains(l.substrates, n.Substrate) {
		l.substrates = append(l.substrates, n.Substrate)
	}
	if k, ok := lexicon.Atoi(n.Number); ok && k%2 == 0 {
		l.even[n.Substrate]++
	} else if ok {
		l.odd[n.Substrate]++
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

// likely puts first the cover that all nests of the same odd or even numbers have.
func (l *lineSet) likely(number string) []survey.Substrate {
	out := slices.Clone(l.substrates)
	if k, ok := lexicon.Atoi(number); ok {
		of := l.odd
		if k%2 == 0 {
			of = l.even
		}
		if len(of) == 1 {
			for c := range of {
				i := slices.Index(out, c)
				out[0], out[i] = out[i], out[0]
			}
		}
	}
	return out
}

// neverSet asks about checks of a nest for which no row says when it was set and in what.
func (s *season) neverSet(i int32, line *lineSet) {
	n, w := &s.out.Data.Nests[i], &s.work[i]
	name := s.Log.Nest(n) // now: nests move while they are settled
	var choices []inquiry.Choice
	proposal := ""
	if line != nil {
		for _, c := range line.likely(n.Number) {
			choices = append(choices, inquiry.Choice{ID: "line:" + string(c), Label: s.Say("Set with its line, in %s", s.Cover(c))})
		}
		proposal = " " + s.Say("Was it set the same day as its line, %s?", s.Date(line.usual()))
	}
	choices = append(choices, inquiry.Choice{ID: "leave-out", Label: s.Say("Leave its checks out")})
	a := ""
	for l := w.first; l >= 0; l = s.looks[l].next {
		cell := s.cellOf(&s.looks[l])
		a = s.Ask(cell, inquiry.Prompt{
			Kind: "other", Place: "never-set\x00" + cell.File, Weight: inquiry.MustAnswer, Rank: 3,
			Text: func(g *group) string {
				if g.N > 3 {
					return s.Say("%d checks are of nests that no row sets out (%s): no row says when they were set and in what. Were they set with their lines? The checks wait for your answer.", g.N, g.Where())
				}
				return inquiry.Capital(s.Say("%s was checked (%s), but no row says when it was set and in what.%s Its checks wait for your answer.", name, g.Where(), proposal))
			},
			Choices: choices,
		})
	}
	if c, ok := strings.CutPrefix(a, "line:"); ok && line != nil {
		if n.SetOn == 0 {
			n.SetOn = line.usual()
		}
		if n.Substrate == "" {
			n.Substrate = survey.Substrate(c)
		}
		return
	}
	if a == "leave-out" {
		w.dead = true
		return
	}
	w.waits = true
	problem := s.Say("%s was checked, but no row of a table of nests says when it was set and in what. Please add the nest, or fill in “set_on” and “substrate” beside its checks.", name)
	if n.SetOn != 0 {
		problem = s.Say("%s was checked, but what it sits in is not written down. Please fill in the substrate.", name)
	} else if n.Substrate != "" {
		problem = s.Say("%s was checked, but the day it was set is not written down. Please fill in “set_on”.", name)
	}
	for l := w.first; l >= 0; l = s.looks[l].next {
		c := s.cellOf(&s.looks[l])
		c.Column = ""
		s.Refuse(c, n.Number, inquiry.Capital(problem))
	}
}

// lookAtWhole notes what is worth saying about the batch and needs no answer.
func (s *season) lookAtWhole() {
	lines := map[string]string{}
	const enough = 5_000 // a sender of that many rows does not read notes about single nests
	nests := s.out.Data.Nests
	if len(nests) > enough {
		return
	}
	if n := len(nests); n > 0 && !slices.ContainsFunc(nests, func(n survey.Nest) bool { return len(n.Visits) > 0 }) {
		s.Note(nests[0].From, "no-checks", "", "", func(g *group) string {
			return s.Count("We read %d nest and no check yet. If checks are in the sheet, their columns need headings such as check1_on and check1.",
				"We read %d nests and no check yet. If checks are in the sheet, their columns need headings such as check1_on and check1.", n)
		})
	}
	for i := range nests {
		n := &nests[i]
		key := strings.ToLower(n.Ranch + "\x00" + n.Site + "\x00" + fmt.Sprint(n.Season) + "\x00" + n.Number)
		if other, ok := lines[key]; ok && other != n.Transect {
			s.Note(n.From, "numbers", "", "", func(g *group) string {
				return s.Say("Nest numbers begin again on each line: nest %s on lines %s and %s are two nests. Fine.", n.Number, other, n.Transect)
			})
		} else {
			lines[key] = n.Transect
		}
		if n.Fate() == survey.Taken && n.Remains == nil && n.Guess == "" && n.Camera == "" && s.work[i].signs {
			s.Note(n.From, "no-signs", "", "", func(g *group) string {
				return g.Count("%d nest was taken and has no signs noted (%s). That is fine: it counts for survival and shows as “no sign noted”.",
					"%d nests were taken and have no signs noted (%s). That is fine: they count for survival and show as “no sign noted”.", g.N, g.N, g.Where())
			})
		}
		s.noteLate(n)
	}
}

// noteLate says of a check well off its day that it does no harm.
func (s *season) noteLate(n *survey.Nest) {
	if len(n.Visits) > 2 {
		return
	}
	for k, v := range n.Visits {
		planned := 14 * (k + 1)
		if after := int(v.On - n.SetOn); after-planned >= 4 && after-planned <= 10 {
			s.Note(n.From, "late", "", "", func(g *group) string {
				return g.Count("%d nest was looked at some days later than planned (%s). No harm: we calculate with the real days.",
					"%d nests were looked at some days later than planned (%s). No harm: we calculate with the real days.", g.N, g.N, g.Where())
			})
		}
	}
}
