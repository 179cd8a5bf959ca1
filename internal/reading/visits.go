package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A visit is a check of a nest a row: the columns that tell of it.
type visit struct {
	number int // as the heading has it; 0 where it does not say, lexicon.Last for the last
	on     int // columns of the block, -1 for none
	found  int
	eggs   int
	second int
	days   bool // on counts days from setting
	date   dayFact
	after  int // days from setting, by the heading
}

func newVisit() visit { return visit{on: -1, found: -1, eggs: -1, second: -1} }

// findVisits tells which columns hold the days of the checks and what was found, and which belong together.
func (r *reader) findVisits(b *block) {
	b.rivals = nil
	var days, states []int
	for i := range b.cols {
		c := &b.cols[i]
		switch {
		case r.isDayColumn(b, c):
			days = append(days, i)
		case r.isStateColumn(b, c):
			states = append(states, i)
		case c.role == lexicon.Found: // what is left to see of the nest, beside checks with days in their headings
			c.role = lexicon.Trace
		}
	}
	if len(days) == 0 {
		days = r.stamps(b)
	}
	days = r.withoutAges(b, days)
	states = slices.DeleteFunc(states, func(i int) bool { // "set" below a day: the day is that of setting
		c := &b.cols[i]
		if c.head.Date.Form == lexicon.NoDate || c.share(c.event) < 0.6 && !(c.head.Set) {
			return false
		}
		c.head.Set, c.role, c.why = true, lexicon.NoRole, "set"
		return true
	})
	states = r.firstIsSetting(b, days, states)
	states = r.eggsBehindDays(b, days, states)
	states = r.howBeside(b, states)
	set := r.findSet(b, days, states)
	days = slices.DeleteFunc(days, func(i int) bool { return i == set })
	if set >= 0 {
		b.cols[set].role = lexicon.SetOn
	}
	r.pairVisits(b, days, states)
	r.yesByExample(b)
	r.oneSentence(b)
	r.eggColumns(b)
	r.adoptStates(b)
	r.adoptRemarks(b)
	r.paintedVisits(b)
	r.dropEmptyVisits(b)
	r.dayNumbers(b)
	r.visitsInOrder(b)
}

// howBeside takes a column such as "What happened", filled only where another says that a nest was lost, for how it was lost.
func (r *reader) howBeside(b *block, states []int) []int {
	dated := func(i int) bool {
		h := b.cols[i].head
		return h.Date.Form != lexicon.NoDate || h.Visit != 0 || h.After > 0
	}
	return slices.DeleteFunc(states, func(i int) bool {
		c := &b.cols[i]
		if dated(i) || c.role != lexicon.Found || c.n == 0 || c.n*10 > c.rows*9 {
			return false
		}
		lost, n := 0, 0
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			l := &b.g.lines[rec.row]
			if l.at(c.at).text == "" {
				continue
			}
			n++
			for _, k := range states {
				if k == i || !dated(k) {
					continue
				}
				c := l.at(b.cols[k].at)
				m := r.kind(c).sight.Mark
				eggs := c.text != "" && (b.cols[k].head.OfEggs || b.cols[k].role == lexicon.EggsLeft) // 1 of 3, or "?"
				if m == lexicon.No || m == lexicon.Zero || m.State() != "" && m != lexicon.Intact || eggs && (m == lexicon.One || m == lexicon.Unknown) {
					lost++
					break
				}
			}
		}
		if n < 2 || lost*10 < n*9 {
			return false
		}
		c.role = lexicon.LostHow
		return true
	})
}

// answered is a yes or a no with what was found behind it: "n - rotten", "no, eaten", "yes (3)".
var answered = regexp.MustCompile(`(?i)^(y|yes|si|sí|s|n|no)\s*[-–—,:;(/]+\s*(\pL.*?|3.*?)\)?$`)

// yesByExample tells what a bare yes means under headings that ask nothing, from answers that say it beside a no or a yes: where no
// is "no, eaten", yes is that the eggs were there.
func (r *reader) yesByExample(b *block) {
	good, bad := 0, 0
	for _, v := range b.visits {
		if v.found < 0 {
			continue
		}
		for t := range b.cols[v.found].distinct {
			m := answered.FindStringSubmatch(t)
			if m == nil {
				continue
			}
			no := m[1][0] == 'n' || m[1][0] == 'N'
			switch mark := r.kindOf(m[2]).sight.Mark; {
			case mark == lexicon.Unknown:
			case (mark == lexicon.Intact) == no:
				bad++
			default:
				good++
			}
		}
	}
	if good == 0 && bad == 0 || good > 0 && bad > 0 {
		return
	}
	for _, v := range b.visits {
		if v.found >= 0 && b.cols[v.found].asks == lexicon.Unknown {
			if b.cols[v.found].asks = lexicon.Intact; bad > 0 {
				b.cols[v.found].asks = lexicon.Taken
			}
		}
	}
}

// eggsBehindDays takes columns of eggs left, one behind each of several days, for what the looks found.
func (r *reader) eggsBehindDays(b *block, days, states []int) []int {
	var eggs []int
	for _, i := range days {
		if i+1 < len(b.cols) && b.cols[i].head.Role != lexicon.SetOn {
			if c := &b.cols[i+1]; c.role == lexicon.EggsLeft && c.head.Visit == 0 && c.head.After == 0 && c.n*10 >= b.cols[i].n*7 && !slices.Contains(days, i+1) {
				eggs = append(eggs, i+1)
			}
		}
	}
	if len(eggs) < 2 {
		return states
	}
	states = append(slices.Clone(states), eggs...)
	slices.Sort(states)
	return slices.Compact(states)
}

// firstIsSetting takes the first of several days in headings for that of setting, where nothing else tells it and all nests
// had the same eggs on it.
func (r *reader) firstIsSetting(b *block, days, states []int) []int {
	if len(days) > 0 || len(states) < 2 || b.has(lexicon.SetOn) || b.top.find(func(f *facts) bool { return f.set.at != nil }) != nil {
		return states
	}
	for _, i := range states {
		if h := b.cols[i].head; h.Set || h.Date.Form == lexicon.NoDate {
			return states
		}
	}
	for i := range b.cols {
		if b.cols[i].head.Set {
			return states
		}
	}
	c := &b.cols[states[0]]
	if len(c.distinct) != 1 || c.n*10 < c.rows*9 || c.rows < 4 {
		return states
	}
	for t := range c.distinct {
		if s := r.kindOf(t).sight; s.Mark != lexicon.Intact || s.Eggs < 0 && !tick(t) {
			return states
		}
	}
	c.head.Set, c.role, c.why = true, lexicon.NoRole, "set"
	return states[1:]
}

// stamps finds the time stamp of a form filled in on the spot, where no other column tells the day.
func (r *reader) stamps(b *block) []int {
	if !b.has(lexicon.Nest) || !b.has(lexicon.Event) && !b.has(lexicon.Found) {
		return nil
	}
	for i := range b.cols {
		c := &b.cols[i]
		if (c.role == lexicon.Passed || c.role == lexicon.NoRole) && c.share(c.date) >= 0.9 && c.n*10 >= c.rows*9 {
			return []int{i}
		}
	}
	return nil
}

// isDayColumn tells whether a column holds days: dates, days of the year, or days counted from setting.
func (r *reader) isDayColumn(b *block, c *column) bool {
	if c.sets {
		return false
	}
	switch c.role {
	case lexicon.SetOn, lexicon.CheckOn, lexicon.DaysOut:
		return true
	case lexicon.Check, lexicon.Found, lexicon.NoRole, lexicon.EggsLeft, lexicon.Event, lexicon.Notes, lexicon.Nest, lexicon.SecondLook, lexicon.Season:
	case lexicon.Passed:
		return false
	default:
		return false
	}
	if c.head.Date.Form != lexicon.NoDate && !c.isDate() {
		return false
	}
	if c.isDate() && c.tellsState() < 0.5 || c.isMonthDay() && c.head.Role != lexicon.Nest {
		return true
	}
	if c.role == lexicon.NoRole && c.toldShare(c.days) >= 0.9 && c.num == c.n && c.n > 3 && len(c.distinct) <= 10 && r.countsDays(b, c) {
		return true
	}
	if c.role == lexicon.Check && c.toldShare(c.doy) >= 0.9 && c.codes == nil { // days of the year
		return true
	}
	return c.role == lexicon.Check && c.toldShare(c.days) >= 0.9 && c.share(c.small) == 0 && c.n > 0 && c.codes == nil
}

// countsDays tells whether a column of numbers under a heading nobody knows can only count days from setting: a column of days
// stands left of it, and right beside it what was found.
func (r *reader) countsDays(b *block, c *column) bool {
	at := c.at - b.cols[0].at
	if at < 1 || at+1 >= len(b.cols) || b.cols[at+1].tellsState() < 0.6 {
		return false
	}
	return slices.ContainsFunc(b.cols[:at], func(o column) bool { return o.isDate() })
}

// isStateColumn tells whether a column holds what looks found.
func (r *reader) isStateColumn(b *block, c *column) bool {
	asked := c.head.Date.Form != lexicon.NoDate || c.head.After > 0 || c.head.Visit != 0
	switch c.role {
	case lexicon.Found:
		return asked || c.head.Sure == 1 || !r.datedHeads(b)
	case lexicon.Check:
		return c.head.Visit != 0 || asked || c.mayTell() || c.colors || c.n == 0 || c.codes != nil
	case lexicon.EggsLeft:
		return (c.head.Visit != 0 || c.head.After > 0) && !r.toldOtherwise(b, c)
	case lexicon.Passed: // "End" is the end of the day, or the end of the nests
		return c.share(c.sight) >= 0.8 && c.n >= 3
	case lexicon.Notes, lexicon.Trace, lexicon.Guess, lexicon.LostHow, lexicon.Who, lexicon.Count, lexicon.Feature, lexicon.Nest, lexicon.Line, lexicon.Site, lexicon.Ranch, lexicon.Substrate, lexicon.Camera, lexicon.CameraOn, lexicon.Season, lexicon.Length, lexicon.Width, lexicon.Steps, lexicon.Clumps, lexicon.Plant, lexicon.SetOn, lexicon.CheckOn, lexicon.DaysOut, lexicon.RowNumber, lexicon.Bearing:
		return false
	case lexicon.NoRole:
	default:
		return false
	}
	if c.n == 0 {
		return c.colors || asked && c.head.Text != ""
	}
	if c.codes != nil && !c.codes.covers || c.colors {
		return true
	}
	if c.head.Set {
		return false
	}
	if c.head.Text != "" && c.head.Role == lexicon.NoRole && !asked && r.datedHeads(b) {
		return false // the days in the headings say which columns tell of a visit
	}
	if c.head.Text != "" && c.head.Role == lexicon.NoRole && !asked && c.head.Sure == 0 && len(c.head.Text) > 2 {
		// A heading nobody knows: only contents that can be nothing else.
		return c.share(c.sight) >= 0.7 && c.share(c.prose) < 0.5
	}
	return c.tellsState() >= 0.6 && c.tellsCover() < 0.5
}

// datedHeads tells whether the headings of a table name the days of its visits.
func (r *reader) datedHeads(b *block) bool {
	n := 0
	for i := range b.cols {
		if h := b.cols[i].head; h.Date.Form != lexicon.NoDate && b.cols[i].mayTell() {
			n++
		}
	}
	return n > 0
}

// toldOtherwise tells whether another column says in words what the visit of a column of eggs found.
func (r *reader) toldOtherwise(b *block, eggs *column) bool {
	for i := range b.cols {
		c := &b.cols[i]
		if c != eggs && (c.role == lexicon.Found || c.role == lexicon.Check) && c.head.Visit == eggs.head.Visit && c.head.After == eggs.head.After && !c.isDate() && c.mayTell() {
			return true
		}
	}
	return false
}

// firstLookBeside tells whether "Second look" follows a "First look", so that it is no second person's.
func (r *reader) firstLookBeside(b *block) bool {
	for i := range b.cols {
		if h := b.cols[i].head; h.Visit == 1 {
			return true
		}
	}
	return false
}

// findSet tells which of the day columns is that of setting, -1 for none.
func (r *reader) findSet(b *block, days, states []int) int {
	for _, i := range days {
		if b.cols[i].role == lexicon.SetOn && b.cols[i].head.Role == lexicon.SetOn {
			return i
		}
	}
	if b.has(lexicon.Event) && len(days) == 1 {
		return -1
	}
	var open []int
	for _, i := range days {
		c := &b.cols[i]
		h := c.head
		if c.role == lexicon.DaysOut || h.Visit != 0 || h.After > 0 || c.share(c.after) > 0.5 {
			continue
		}
		open = append(open, i)
	}
	if len(open) == 0 {
		return -1
	}
	first := open[0]
	named := 0
	for _, i := range days {
		if b.cols[i].head.Visit != 0 {
			named++
		}
	}
	stateCols := len(states)
	switch {
	case b.cols[first].head.Role == lexicon.EggsSet, named > 0 && named == len(days)-1 && first < slices.Min(without(days, first)):
		return first
	case len(open) > 1 && first == days[0] && open[1] == days[1] && !r.foundBetween(b, days[0], days[1], states) && b.cols[first].n*10 >= b.cols[first].rows*9 && b.has(lexicon.Nest) && !r.repeats(b, b.column(lexicon.Nest)): // two days before anything was found
		return first
	case len(days) > stateCols && stateCols > 0 && len(open) > 0 && b.cols[first].at < b.cols[states[0]].at:
		return first
	case stateCols == 0 && len(days) == 1 && b.cols[first].head.Role == lexicon.NoRole && b.has(lexicon.Nest):
		return first
	case stateCols == 0 && len(days) == 1 && (b.has(lexicon.Substrate)) && b.has(lexicon.Nest) && !b.has(lexicon.Event) && !b.has(lexicon.EggsLeft):
		return first
	case stateCols == 0 && len(days) >= 2 && r.sentenceColumn(b) != nil:
		return first
	}
	return -1
}

// foundBetween tells whether a column between two others says what was found.
func (r *reader) foundBetween(b *block, from, to int, states []int) bool {
	for i := from + 1; i < to; i++ {
		if slices.Contains(states, i) || b.cols[i].role == lexicon.NoRole && b.cols[i].mayTell() {
			return true
		}
	}
	return slices.ContainsFunc(states, func(i int) bool { return i < from })
}

func without(list []int, n int) []int {
	return slices.DeleteFunc(slices.Clone(list), func(k int) bool { return k == n })
}

// pairVisits goes through days and states from left to right and puts together those of one visit.
func (r *reader) pairVisits(b *block, days, states []int) {
	all := append(slices.Clone(days), states...)
	slices.Sort(all)
	isDay := func(i int) bool { return slices.Contains(days, i) }
	// Where each state stands left of its day, the sheet starts with a state and ends with a day.
	stateFirst := len(all) >= 2 && !isDay(all[0]) && isDay(all[len(all)-1]) && b.cols[all[0]].head.Date.Form == lexicon.NoDate
	find := func(h lexicon.Heading) int {
		for k := range b.visits {
			v := &b.visits[k]
			if h.Visit != 0 && v.number == h.Visit || h.After > 0 && v.after == h.After {
				return k
			}
		}
		return -1
	}
	for _, i := range all {
		c := &b.cols[i]
		h := c.head
		k := find(h)
		if isDay(i) {
			if k < 0 || b.visits[k].on >= 0 {
				if n := len(b.visits); k < 0 && stateFirst && n > 0 && b.visits[n-1].on < 0 && (h.Visit == 0 || b.visits[n-1].number == 0) {
					k = n - 1
				} else if k >= 0 && b.visits[k].on >= 0 { // two columns say they are the day of one visit
					c.role, c.why = lexicon.NoRole, "second-day"
					continue
				} else {
					b.visits = append(b.visits, newVisit())
					k = len(b.visits) - 1
				}
			}
			v := &b.visits[k]
			v.on, v.days = i, c.role == lexicon.DaysOut || c.toldShare(c.days) >= 0.9 && c.share(c.date) == 0 && c.toldShare(c.doy) < 0.5
			v.take(h)
			c.role, c.visit = lexicon.CheckOn, k
			if v.days {
				c.role = lexicon.DaysOut
			}
			continue
		}
		own := h.Date.Form != lexicon.NoDate
		if k >= 0 && b.visits[k].found >= 0 {
			r.joinSecondState(b, k, i)
			continue
		}
		if k < 0 && !own {
			if n := len(b.visits); n > 0 && b.visits[n-1].found < 0 && (h.Visit == 0 || b.visits[n-1].number == 0) && (h.After == 0 || b.visits[n-1].after == 0) && !(stateFirst && b.visits[n-1].on >= 0) {
				k = n - 1
			}
		}
		if k < 0 && !own && h.Visit == 0 && h.After == 0 && len(b.visits) > 0 && !stateFirst && len(days) > 0 {
			n := len(b.visits) - 1
			if b.visits[n].found >= 0 && (b.visits[n].on >= 0 || !r.moreDays(days, i)) {
				r.joinSecondState(b, n, i)
				continue
			}
		}
		if k < 0 {
			b.visits = append(b.visits, newVisit())
			k = len(b.visits) - 1
		}
		v := &b.visits[k]
		v.found = i
		v.take(h)
		if own {
			v.date = dayFact{h.Date, nil}
		}
		c.role, c.visit = lexicon.Found, k
		if c.asks == lexicon.Unknown {
			c.asks = h.Asks
		}
	}
}

// adoptStates gives days for which nothing says what was found the column beside them that can tell it, whatever its
// heading: a mark, or a person's name.
func (r *reader) adoptStates(b *block) {
	if r.sentenceColumn(b) != nil {
		return
	}
	for k := range b.visits {
		v := &b.visits[k]
		if v.on < 0 || v.found >= 0 {
			continue
		}
		for i := v.on + 1; i < len(b.cols); i++ {
			c := &b.cols[i]
			if c.role == lexicon.CheckOn || c.role == lexicon.DaysOut || c.role == lexicon.Found || c.role == lexicon.Notes && c.head.Sure == 1 {
				break
			}
			if c.role != lexicon.NoRole && c.role != lexicon.RowNumber || c.isDate() {
				continue
			}
			if c.n == 0 && i == v.on+1 && r.paintedAlone(b, i) {
				c.colors = true
				v.found, c.role, c.visit = i, lexicon.Found, k
				continue
			}
			beside := c.head.Text == "" && i == v.on+1 && c.share(c.textual) >= 0.8 && c.share(c.small+c.sight+c.yes) >= 0.4
			if c.n == 0 || c.share(c.small+c.sight+c.yes) < 0.8 && !beside {
				continue
			}
			if v.found < 0 {
				v.found, c.role, c.visit = i, lexicon.Found, k
			} else if v.second < 0 && (strings.HasPrefix(c.head.Text, "(") || c.n*2 < b.cols[v.found].n) {
				v.second, c.role, c.visit = i, lexicon.SecondLook, k
			}
		}
	}
}

// adoptRemarks gives the days of visits, where no other column says what was found, the remarks that do: those of a table of
// visits wherever they stand, those of a nest a row behind each day.
func (r *reader) adoptRemarks(b *block) {
	if len(b.visits) == 0 || !b.has(lexicon.Nest) || b.has(lexicon.Event) || b.has(lexicon.EggsLeft) ||
		slices.ContainsFunc(b.visits, func(v visit) bool { return v.on < 0 || v.found >= 0 }) {
		return
	}
	if len(b.visits) == 1 {
		for i := range b.cols {
			if c := &b.cols[i]; c.n*10 >= c.rows*8 && r.remarksTell(c, 0.8) {
				b.visits[0].found, c.role, c.visit = i, lexicon.Found, 0
				return
			}
		}
	}
	if r.sentenceColumn(b) != nil {
		return
	}
	behind := make([]int, len(b.visits)) // each day has remarks of its own
	for k := range b.visits {
		on := b.visits[k].on
		for i := on + 1; i < len(b.cols) && b.cols[i].role != lexicon.CheckOn && b.cols[i].role != lexicon.DaysOut; i++ {
			if c := &b.cols[i]; c.n*10 >= b.cols[on].n*7 && r.remarksTell(c, 0.5) {
				behind[k] = i
				break
			}
		}
		if behind[k] == 0 {
			return
		}
	}
	for k, i := range behind {
		b.visits[k].found, b.cols[i].role, b.cols[i].visit = i, lexicon.Found, k
	}
}

// remarksTell tells whether a share of the remarks of a column say what was found.
func (r *reader) remarksTell(c *column, share float64) bool {
	if c.role != lexicon.Notes && c.role != lexicon.Trace && c.role != lexicon.NoRole || c.n < 3 {
		return false
	}
	told, n := 0, 0
	for t, times := range c.distinct {
		n += times
		if m := r.kindOf(t).sight.Mark; m.State() != "" || m == lexicon.SetOut || r.setsInto(t) {
			told += times
		}
	}
	return float64(told) >= share*float64(n)
}

// setsInto tells whether a remark says that a nest was set out, and in what: "put out in bunchgrass".
func (r *reader) setsInto(text string) bool {
	items := r.scan(text)
	return len(items) > 0 && items[0].is == aSetting && between(items, aCover) && !slices.ContainsFunc(items, func(it item) bool { return it.is == aState && it.mark.State() != "" })
}

// paintedVisits finds visits that only colors tell of: empty cells under a heading that asks what was found, or days in
// several colors where nothing else tells it.
func (r *reader) paintedVisits(b *block) {
	told := false
	for k := range b.visits {
		if v := &b.visits[k]; v.found >= 0 {
			c := &b.cols[v.found]
			c.colors = c.colors || c.n == 0 && c.fill > 0
			told = told || c.n > 0 || c.colors
		}
	}
	if told || b.kind == keyTable || r.sentenceColumn(b) != nil {
		return
	}
	for k := range b.visits {
		v := &b.visits[k]
		if v.on < 0 || v.found >= 0 {
			continue
		}
		if c := &b.cols[v.on]; c.fill*4 >= c.n*3 && c.n > 0 && r.colorsIn(b, c) >= 2 {
			v.found, c.colors = v.on, true
		}
	}
}

// colorsIn counts the colors of a column.
func (r *reader) colorsIn(b *block, c *column) int {
	seen := map[string]bool{}
	for _, rec := range b.records {
		if fill := b.g.lines[rec.row].at(c.at).look().Fill; fill != "" {
			seen[fill] = true
		}
	}
	return len(seen)
}

// paintedAlone tells whether the cells of a column are painted, and not as those at their left are.
func (r *reader) paintedAlone(b *block, i int) bool {
	n := 0
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		if fill := l.at(b.cols[i].at).look().Fill; fill != "" && fill != l.at(b.cols[i].at-1).look().Fill {
			n++
		}
	}
	return n >= 3
}

// oneSentence finds a column of sentences that tell of several visits, whose days stand in columns of their own.
func (r *reader) oneSentence(b *block) {
	at, open := -1, 0
	for k := range b.visits {
		switch v := &b.visits[k]; {
		case v.found < 0:
			open++
		case b.cols[v.found].share(b.cols[v.found].long) >= 0.6 && at < 0:
			at = k
		default:
			return
		}
	}
	if at < 0 || open == 0 {
		return
	}
	c := &b.cols[b.visits[at].found]
	c.role, c.visit, b.visits[at].found = lexicon.NoRole, -1, -1
	if b.visits[at].on < 0 {
		b.visits = slices.Delete(b.visits, at, at+1)
	}
}

func (r *reader) moreDays(days []int, after int) bool {
	return slices.ContainsFunc(days, func(i int) bool { return i > after })
}

// joinSecondState deals with a second column that could be what one visit found: eggs left beside a word, or a rival about
// which the sender is asked.
func (r *reader) joinSecondState(b *block, k, i int) {
	v, c := &b.visits[k], &b.cols[i]
	c.visit = k
	was := &b.cols[v.found]
	if c.n*10 < c.rows*8 && (was.head.Role == lexicon.EggsLeft || was.head.OfEggs) && !c.isDate() { // beside the eggs, a word on those that were lost
		c.role, c.visit = lexicon.LostHow, -1
		return
	}
	if v.eggs < 0 && !was.colors && was.codes == nil && was.share(was.small+was.fraction) >= 0.7 && c.share(c.sight) >= 0.5 && c.share(c.small) < 0.5 { // the number first, then the word
		v.eggs, was.role = v.found, lexicon.EggsLeft
		v.found, c.role = i, lexicon.Found
		return
	}
	if v.eggs < 0 && c.share(c.small+c.fraction) >= 0.7 && b.cols[v.found].share(b.cols[v.found].small) < 0.5 {
		v.eggs, c.role = i, lexicon.EggsLeft
		return
	}
	c.role, c.why = lexicon.NoRole, "second-state"
	b.rivals = append(b.rivals, rival{v.found, i})
}

// A rival is a second column that says what a visit found, beside the first.
type rival struct{ first, second int }

// askRivals asks once which of two columns tells what was found, where both do and differ.
func (r *reader) askRivals(b *block) {
	var cells []survey.Cell
	var first, second *column
	for _, v := range b.rivals {
		was, c := v.first, &b.cols[v.second]
		if b.foundIn(was) < 0 || r.onlyRemains(b, &b.cols[was], c) || c.fixed || b.cols[was].fixed || c.share(c.sight) < 0.6 || c.n*10 < b.cols[was].n*6 {
			continue
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			x, y := l.at(b.cols[was].at).text, l.at(c.at).text
			if x == "" || y == "" || r.kindOf(x).ditto || r.kindOf(y).ditto {
				continue
			}
			m, n := r.kindOf(x).sight.Mark, r.kindOf(y).sight.Mark
			if m != n && m != lexicon.Unknown && n != lexicon.Unknown && m != lexicon.Skipped && n != lexicon.Skipped {
				cells = append(cells, survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: l.number, Column: c.head.Text})
				if first == nil {
					first, second = &b.cols[was], c
				}
			}
		}
	}
	if first == nil {
		return
	}
	one, two := headingOr(first), headingOr(second)
	p := inquiry.Prompt{
		Kind: "role", Place: "rivals\x00" + r.rolePlace(b, first), Weight: inquiry.MustAnswer, Rank: 1,
		Text: func(g *group) string {
			return r.Say("“%s” and “%s” both say what was found, and differ (%s). Which one tells of the eggs? These nests wait for your answer.", one, two, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "first", Label: "“" + one + "”"}, {ID: "second", Label: "“" + two + "”"}},
	}
	a := ""
	for _, c := range cells {
		a = r.Ask(c, p)
	}
	b.waits = a == ""
	if a != "second" {
		return
	}
	for _, v := range b.rivals {
		if k := b.foundIn(v.first); k >= 0 {
			b.cols[v.first].role, b.cols[v.first].visit = lexicon.NoRole, -1
			b.cols[v.second].role, b.cols[v.second].visit, b.cols[v.second].why = lexicon.Found, k, ""
			b.visits[k].found = v.second
		}
	}
}

// onlyRemains tells whether a second column speaks of nests alone of which the first says that they were lost, and never says
// that eggs were there: what was left behind, and no other word on what was found.
func (r *reader) onlyRemains(b *block, first, c *column) bool {
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		k := r.kind(l.at(c.at))
		if l.at(c.at).text == "" || k.sight.Mark == lexicon.Skipped || k.ditto {
			continue
		}
		switch k.sight.Mark { // another end than a predator's: it matters which column is right
		case lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled, lexicon.NotFound:
			return false
		}
		if m := r.kind(l.at(first.at)).sight.Mark; m == lexicon.Intact || m == lexicon.Unknown || m == lexicon.Blank || k.sight.Mark == lexicon.Intact {
			return false
		}
	}
	return true
}

// foundIn returns the visit whose finding a column tells, -1 for none.
func (b *block) foundIn(column int) int {
	return slices.IndexFunc(b.visits, func(v visit) bool { return v.found == column })
}

func headingOr(c *column) string {
	if c.head.Text != "" {
		return c.head.Text
	}
	return letter(c.at)
}

func (v *visit) take(h lexicon.Heading) {
	if h.Visit != 0 {
		v.number = h.Visit
	}
	if h.After > 0 {
		v.after = h.After
	}
}

// eggColumns ties columns of eggs left to the visit at their left; where a visit has nothing else, the eggs are what was
// found.
func (r *reader) eggColumns(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.role != lexicon.EggsLeft || c.visit >= 0 {
			continue
		}
		k := -1
		for j := range b.visits {
			v := &b.visits[j]
			if c.head.Visit != 0 && v.number == c.head.Visit || c.head.After > 0 && v.after == c.head.After {
				k = j
				break
			}
			at := max(v.on, v.found)
			if c.head.Visit == 0 && c.head.After == 0 && at >= 0 && at < i {
				k = j
			}
		}
		if k < 0 && (c.head.Visit != 0 || c.head.After > 0 || c.head.Date.Form != lexicon.NoDate) {
			b.visits = append(b.visits, newVisit())
			k = len(b.visits) - 1
			b.visits[k].take(c.head)
		}
		if k < 0 {
			continue
		}
		v := &b.visits[k]
		switch {
		case v.found < 0:
			v.found = i
			c.role, c.visit = lexicon.Found, k
		case v.eggs < 0 && (c.head.Visit != 0 || v.found == i-1 || len(b.visits) == 1 || k < len(b.visits)-1):
			v.eggs = i
			c.visit = k
		}
	}
}

// dropEmptyVisits takes out days for which nothing says what was found, but where the remarks do.
func (r *reader) dropEmptyVisits(b *block) {
	if r.sentenceColumn(b) != nil {
		return
	}
	dated := 0
	for _, v := range b.visits {
		if v.on >= 0 && v.found >= 0 {
			dated++
		}
	}
	r.dropSummary(b)
	kept := b.visits[:0]
	for _, v := range b.visits {
		if v.found < 0 && len(b.visits) > 1 && v.on >= 0 && !saysVisit(&b.cols[v.on].head) {
			b.cols[v.on].role, b.cols[v.on].why = lexicon.NoRole, "day-alone"
			continue
		}
		if v.found >= 0 && v.on < 0 && v.number == 0 && v.after == 0 && v.date.date.Form == lexicon.NoDate && dated > 1 && b.cols[v.found].head.Sure < 1 { // a count of visits among visits with days
			b.cols[v.found].role, b.cols[v.found].why, b.cols[v.found].visit = lexicon.NoRole, "undated", -1
			continue
		}
		kept = append(kept, v)
	}
	b.visits = kept
	for k, v := range b.visits {
		for _, i := range []int{v.on, v.found, v.eggs} {
			if i >= 0 {
				b.cols[i].visit = k
			}
		}
	}
}

var summaryHead = regexp.MustCompile(`(?i)^(?:final |end |overall |nest )*(?:fate|outcome|result|resultado|status|state|destino)(?: final)?$`)

// dropSummary takes a last column that says how each nest ended, beside looks that have their days, for the causes of losses.
func (r *reader) dropSummary(b *block) {
	n := len(b.visits)
	if n < 3 {
		return
	}
	last := b.visits[n-1]
	if last.on >= 0 || last.found < 0 || last.number != 0 || last.date.date.Form != lexicon.NoDate || last.after == 0 && !summaryHead.MatchString(b.cols[last.found].head.Text) {
		return
	}
	for _, v := range b.visits[:n-1] {
		if v.found < 0 || v.on < 0 && (v.date.date.Form == lexicon.NoDate || last.after > 0) {
			return
		}
	}
	c := &b.cols[last.found]
	c.role, c.visit = lexicon.LostHow, -1
	if last.after > 0 { // "Survived 28 d", worked out from the looks
		c.role, c.why = lexicon.NoRole, "sum"
	}
	b.visits = b.visits[:n-1]
}

// saysVisit tells whether a heading is that of a check.
func saysVisit(h *lexicon.Heading) bool {
	return h.Visit != 0 || h.After > 0 || h.Role == lexicon.CheckOn || h.Role == lexicon.Check
}

// sentenceColumn finds the column in which sentences tell of the visits.
func (r *reader) sentenceColumn(b *block) *column {
	for i := range b.cols {
		c := &b.cols[i]
		if c.n > 0 && c.share(c.long) >= 0.5 && (c.role == lexicon.NoRole || c.role == lexicon.Notes || c.role == lexicon.Found || c.role == lexicon.Trace || c.role == lexicon.Spot || c.role == lexicon.Event) {
			return c
		}
	}
	return nil
}

// settleKind tells what kind of table a block is.
func (r *reader) settleKind(b *block) {
	nest, line := b.column(lexicon.Nest), b.column(lexicon.Line)
	r.countTotals(b)
	counts := 0
	for i := range b.cols {
		c := &b.cols[i]
		if c.role == lexicon.Count && c.num > 0 || c.role == lexicon.Clumps && c.num > 0 {
			counts++
		}
	}
	if nest == nil && (line != nil || b.has(lexicon.Site)) {
		if told := r.tellsClumps(b); told != nil && (b.has(lexicon.Length) || b.has(lexicon.Width) || told.head.Role == lexicon.Clumps || beltWords.MatchString(told.head.Text)) {
			told.role, told.told = lexicon.Clumps, true
			counts++
		} else if c := r.countedBeside(b); c != nil && counts == 0 {
			c.role = lexicon.Clumps
			counts++
		}
	}
	stated := slices.ContainsFunc(b.visits, func(v visit) bool { return v.found >= 0 })
	days := b.has(lexicon.SetOn) || slices.ContainsFunc(b.visits, func(v visit) bool { return v.on >= 0 })
	sentence := r.sentenceColumn(b)
	switch {
	case nest != nil && nest.share(nest.range_) >= 0.5 && nest.share(nest.whole) < 0.5 && !nest.namesNests() || nest == nil && stated && line != nil && r.groupStates(b):
		b.kind = lineTable
	case nest != nil && (stated || days || sentence != nil || b.has(lexicon.Substrate) || b.has(lexicon.Event)):
		b.kind = nestTable
		if sentence != nil && !stated {
			sentence.role, sentence.sentence = lexicon.Found, true
		}
		if r.isVisitTable(b, nest) {
			b.kind = visitTable
		}
	case counts > 0 && (line != nil || b.has(lexicon.Site) || b.has(lexicon.Belt) || b.has(lexicon.Length) || b.has(lexicon.Width) || b.has(lexicon.BeltArea) || b.has(lexicon.Area) || counts > 1):
		b.kind = beltTable
	case (b.has(lexicon.Ranch) || b.has(lexicon.Site)) && (b.has(lexicon.Owner) || b.has(lexicon.Region) || b.has(lexicon.SiteType) || b.has(lexicon.Area)) && nest == nil:
		b.kind = siteTable
	case line != nil && (days || b.has(lexicon.Site) || b.has(lexicon.Width) || b.has(lexicon.Length) || b.has(lexicon.StepLength)) && nest == nil:
		b.kind = lineTable
	case r.prosy(b):
		b.kind = proseTable
	case nest == nil && stated && (len(b.heads) > 0 || len(b.cols) >= 3) && len(b.records) >= 3 && len(r.opt.Try) == 0 && r.nestsByOrder(b):
		b.kind = nestTable
	}
}

// countTotals takes the role of clumps from a column that only adds up the counts beside it.
func (r *reader) countTotals(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.role != lexicon.Clumps && c.role != lexicon.Count || c.num < 2 || c.fixed {
			continue
		}
		parts, rows := 0, 0
		adds := true
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			k := r.kind(l.at(c.at))
			if !k.whole {
				continue
			}
			sum, n := 0.0, 0
			for j := range b.cols {
				if o := &b.cols[j]; j != i && o.role == lexicon.Count {
					if p := r.kind(l.at(o.at)); p.whole {
						sum += p.num
						n++
					}
				}
			}
			parts = max(parts, n)
			rows++
			adds = adds && sum == k.num
		}
		if adds && rows >= 2 && parts >= 2 {
			c.role, c.why = lexicon.NoRole, "sum"
		}
	}
}

// groupStates tells whether what was found is told for a line at once: "all fine but 3 and 7".
func (r *reader) groupStates(b *block) bool {
	for _, v := range b.visits {
		if v.found < 0 {
			continue
		}
		c := &b.cols[v.found]
		for t := range c.distinct {
			for _, it := range r.scan(t) {
				if it.is == theRest || it.is == aBut {
					return true
				}
			}
		}
	}
	return false
}

// nestsByOrder tells whether records without a number can only be nests in order. It is used for painted cells, whose text
// is the nest's number.
func (r *reader) nestsByOrder(b *block) bool {
	for _, v := range b.visits {
		if v.found >= 0 && b.cols[v.found].colors {
			return true
		}
	}
	return false
}

// isVisitTable tells whether each row tells of one visit, rather than of one nest.
func (r *reader) isVisitTable(b *block, nest *column) bool {
	if len(b.visits) > 1 {
		return false
	}
	if b.has(lexicon.Event) && !(len(b.visits) == 1 && b.visits[0].on >= 0 && b.has(lexicon.SetOn)) {
		e := b.column(lexicon.Event)
		if e.n > 0 {
			return true
		}
	}
	if len(b.visits) != 1 {
		return false
	}
	if b.visits[0].on < 0 {
		return b.visits[0].found >= 0 && !b.has(lexicon.SetOn) && !b.has(lexicon.Substrate) && b.top.find(func(f *facts) bool { return f.set.at != nil }) == nil
	}
	if r.repeats(b, nest) || b.cols[b.visits[0].on].head.Text == lexicon.CheckOn.Name() {
		return true
	}
	if b.has(lexicon.SetOn) {
		return false
	}
	if t := r.titleDays[r.tabScope[b.g.index]]; b.has(lexicon.Substrate) && t != nil && t.set.at != nil { // set together; each row tells how it ended
		return false
	}
	return true
}

// repeats tells whether the same nest has several rows.
func (r *reader) repeats(b *block, nest *column) bool {
	seen := map[string]int{}
	line, site, ranch := b.column(lexicon.Line), b.column(lexicon.Site), b.column(lexicon.Ranch)
	n, again := 0, 0
	lastLine := ""
	for _, rec := range b.records[:min(len(b.records), wholeRows)] {
		l := &b.g.lines[rec.row]
		var key strings.Builder
		if line != nil {
			if t := l.at(line.at).text; t != "" && !r.kindOf(t).ditto {
				lastLine = t
			}
		}
		key.WriteString(lastLine + "\x00" + rec.scope.lineName() + "\x00")
		for _, c := range []*column{site, ranch, nest} {
			if c != nil {
				key.WriteString(l.at(c.at).text + "\x00")
			}
		}
		if l.at(nest.at).text == "" {
			continue
		}
		n++
		if seen[key.String()]++; seen[key.String()] > 1 {
			again++
		}
	}
	alone := 0
	for _, k := range seen {
		if k == 1 {
			alone++
		}
	}
	return n > 4 && again*5 > n || again > 0 && alone == 0
}

func (s *scope) lineName() string {
	if f := s.find(func(f *facts) bool { return f.line.text != "" }); f != nil {
		return f.line.text
	}
	return ""
}

// prosy tells whether a block is a diary: days and sentences.
func (r *reader) prosy(b *block) bool {
	for i := range b.cols {
		c := &b.cols[i]
		if c.n > 0 && c.share(c.prose) >= 0.5 && c.n >= 2 {
			return true
		}
	}
	return false
}
