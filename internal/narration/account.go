package narration

import (
	"slices"
	"strconv"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// An Account is what a document tells of a season.
type Account struct {
	Lines    []*Line
	Belts    []*Belt
	Unused   []Span  // sentences about nests that became nothing
	Loose    []Span  // mentions of nests of which the line is not told
	Lineless []Span  // what was found at a nest, told before any line is named
	StepFt   float64 // of whoever counts steps; 0 where it is not told
	Width    float64 // of the belts, in feet, where one is told for all
}

// A Line is one line, its nests, and what stands in the way of reading it.
type Line struct {
	Name     string
	Site     string
	SetOn    survey.Date
	SetAt    Span
	Nests    []*Nest
	Problems []Problem
	At       Span
	counted  bool
}

// A Nest is one nest with its checks in the order of their days.
type Nest struct {
	Number  string
	Cover   survey.Substrate
	SetOn   survey.Date // where it is told of the nest alone; 0 where the line's day holds
	Looks   []Look
	Unclear []Unclear // checks that were not understood
	At      Span
}

// A Look is what was found at one check.
type Look struct {
	On    survey.Date // 0 where the day is not told
	Weeks int         // since setting, where the plan alone tells the day
	Sight lexicon.Sight
	Rest  bool // told of all the others
	At    Span
	order int
}

// An Unclear check is one whose words nobody knows, that is told twice, or that the story leaves out.
type Unclear struct {
	On   survey.Date
	Why  Why
	Text string // that was not understood
	Also string // of Twice: what was told the second time
	At   Span
}

// A Problem keeps a whole line from being read.
type Problem struct {
	Why  Why
	Text string
	At   Span
}

// A Why says what is wrong.
type Why uint8

// The reasons.
const (
	NotUnderstood Why = iota // words that could mean anything
	Twice                    // two things found on one day
	LeftOut                  // the others of the line were told of, and this one was not
	NoDay                    // the day of a check is not told
	NoCount                  // how many nests there are is not told
	CountDiffers             // two numbers of nests, or a nest beyond the number
	TwoDays                  // two days of setting
	TwoCovers                // two covers of one nest
	TwoRows                  // a nest has two rows in one table
	SumDiffers               // fewer or more nests were left than a sum says
)

// checkDays is how many days one check of a line may take, and how far days of one check may lie apart.
const checkDays = 4

// account settles what the facts say together.
func (r *teller) account(silence bool) *Account {
	a := &Account{Belts: r.belts, Unused: r.unused, Lineless: r.lineless, StepFt: r.step.only(), Width: r.width.only()}
	byLine := map[string][]fact{}
	var order []string
	redo := map[string]bool{}
	for _, f := range r.facts {
		if f.line == "" && !r.nameless {
			a.Loose = append(a.Loose, f.at)
			continue
		}
		if f.line != "*" && byLine[f.line] == nil {
			order = append(order, f.line)
		}
		if f.line != "*" {
			byLine[f.line] = append(byLine[f.line], f)
			redo[f.line] = redo[f.line] || f.redo
		}
	}
	for _, f := range r.facts {
		if f.line == "*" {
			for _, l := range order {
				byLine[l] = append(byLine[l], f)
			}
		}
	}
	for name := range byLine {
		if redo[name] {
			byLine[name] = slices.DeleteFunc(byLine[name], func(f fact) bool { return !f.redo && f.line != "*" })
		}
	}
	r.peers = peersOf(byLine)
	for _, name := range order {
		facts := byLine[name]
		if l := r.line(name, facts, silence); l != nil {
			a.Lines = append(a.Lines, l)
		}
	}
	for _, s := range r.sums {
		a.hold(s)
	}
	return a
}

// hold holds a sum that is told against the nests of the lines spoken of, or of all.
func (a *Account) hold(s toldSum) {
	var lines, all []*Line
	n := 0
	for _, l := range a.Lines {
		if all = append(all, l); slices.Contains(s.lines, l.Name) {
			lines = append(lines, l)
			n += len(l.Nests)
		}
	}
	if n != s.all {
		lines, n = all, 0
		for _, l := range all {
			n += len(l.Nests)
		}
	}
	left := 0
	for _, l := range lines {
		for _, nest := range l.Nests {
			if len(nest.Unclear) > 0 {
				return // it is asked about anyway
			}
			if nest.leftOn(s.day) {
				left++
			}
		}
	}
	if n != s.all || left == s.left {
		return
	}
	for _, l := range lines {
		l.Problems = append(l.Problems, Problem{Why: SumDiffers, Text: strconv.Itoa(left), At: s.at})
	}
}

// leftOn tells whether a nest had its eggs at its last look up to a day, or at the last of all.
func (n *Nest) leftOn(day survey.Date) bool {
	left := true
	for _, k := range n.Looks {
		if day == 0 || k.On <= day+checkDays {
			left = k.Sight.Mark == lexicon.Intact || left && k.Sight.Mark.State() == ""
		}
	}
	return left
}

// peersOf gathers the checks of the lines that were set on the same day, where those days are the same for all of them.
func peersOf(byLine map[string][]fact) map[survey.Date][][]survey.Date {
	together := map[survey.Date][]fact{}
	for _, facts := range byLine {
		l := &Line{}
		l.setDay(facts)
		set := l.SetOn
		for _, f := range facts {
			if f.is == setFact && set == 0 { // of one nest each
				set = f.day
			}
		}
		together[set] = append(together[set], facts...)
	}
	peers := map[survey.Date][][]survey.Date{}
	for set, facts := range together {
		groups := slices.DeleteFunc(checks(facts), func(g []survey.Date) bool { return g[0] <= set })
		if set != 0 && !slices.ContainsFunc(groups, func(g []survey.Date) bool { return len(g) > 1 }) {
			peers[set] = groups
		}
	}
	return peers
}

// checksOf are the checks of a line, or of those set with it where it is not told of as many.
func (r *teller) checksOf(l *Line, own [][]survey.Date) [][]survey.Date {
	set := l.SetOn
	if set == 0 {
		for _, n := range l.Nests {
			if n.SetOn != 0 {
				set = n.SetOn
			}
		}
	}
	own = slices.DeleteFunc(slices.Clone(own), func(g []survey.Date) bool { return g[0] <= set })
	peers := r.peers[set]
	if len(peers) <= len(own) {
		return own
	}
	for _, g := range own {
		if !slices.ContainsFunc(peers, func(p []survey.Date) bool { return slices.Equal(p, g) }) {
			return own
		}
	}
	return peers
}

// line settles what is told of one line; nil where no nest of it is.
func (r *teller) line(name string, facts []fact, silence bool) *Line {
	l := &Line{Name: name, At: facts[0].at}
	r.setNests(l, facts)
	if len(l.Nests) == 0 {
		looks := slices.IndexFunc(facts, func(f fact) bool { return f.is == lookFact || f.is == unclearFact })
		if looks < 0 && !slices.ContainsFunc(facts, func(f fact) bool { return f.is == coverFact }) {
			return nil
		}
		l.Problems = append(l.Problems, Problem{Why: NoCount, At: facts[max(looks, 0)].at})
		return l
	}
	facts = l.byEnds(facts)
	l.setDay(facts)
	l.setCovers(facts)
	for _, f := range facts {
		if f.is == siteFact && l.Site == "" {
			l.Site = f.text
		}
	}
	l.setLooks(facts, silence, r)
	return l
}

// byEnds says of the first so many nests and of the last which they are.
func (l *Line) byEnds(facts []fact) []fact {
	facts = slices.Clone(facts)
	for i := range facts {
		f := &facts[i]
		if f.who != endOnes {
			continue
		}
		f.who = byNumber
		n := min(max(f.count, -f.count), len(l.Nests))
		nests := l.Nests[:n]
		if f.count < 0 {
			nests = l.Nests[len(l.Nests)-n:]
		}
		for _, nest := range nests {
			f.nests = append(f.nests, nest.Number)
		}
	}
	return facts
}

// setNests settles which nests a line has.
func (r *teller) setNests(l *Line, facts []fact) {
	count, listed := 0, map[string]bool{}
	var list []string
	at := map[string]Span{}
	own := slices.ContainsFunc(facts, func(f fact) bool { return f.is == nestsFact && f.line != "*" && f.count > 0 })
	for _, f := range facts {
		if f.is != nestsFact || f.line == "*" && own { // what is told of the line itself counts before what holds for all
			continue
		}
		if f.count > 0 {
			if count != 0 && count != f.count && !f.fix {
				l.Problems = append(l.Problems, Problem{Why: CountDiffers, Text: strconv.Itoa(f.count), At: f.at})
			}
			count = f.count
		}
		for _, n := range f.nests {
			if !listed[n] {
				listed[n] = true
				list = append(list, n)
				if at[n] = l.At; len(f.nests) == 1 {
					at[n] = f.at
				}
			}
		}
	}
	if count > 0 {
		for _, n := range list {
			if v, err := strconv.Atoi(n); err == nil && (v < 1 || v > count) {
				l.Problems = append(l.Problems, Problem{Why: CountDiffers, Text: n, At: l.At})
			}
		}
		list = list[:0]
		for n := 1; n <= count; n++ {
			list = append(list, strconv.Itoa(n))
		}
	}
	if len(list) == 0 { // those of which something was told, if they are numbered without a gap
		if list = mentioned(facts); gaps(list) {
			list = nil
		}
	} else {
		l.counted = true
		for _, n := range mentioned(facts) {
			if !slices.Contains(list, n) {
				l.Problems = append(l.Problems, Problem{Why: CountDiffers, Text: n, At: l.At})
			}
		}
	}
	for _, n := range list {
		own, ok := at[n]
		if !ok {
			own = l.At
		}
		l.Nests = append(l.Nests, &Nest{Number: n, At: own})
	}
}

// gaps tells whether numbers of nests leave some out, so that there may be others of which nothing was told.
func gaps(list []string) bool {
	most := 0
	for _, n := range list {
		if v, err := strconv.Atoi(n); err == nil {
			most = max(most, v)
		}
	}
	return most > len(list)
}

// mentioned lists the nests of which a check is told.
func mentioned(facts []fact) []string {
	var out []string
	for _, f := range facts {
		if f.is != lookFact && f.is != unclearFact {
			continue
		}
		for _, n := range f.nests {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

func (l *Line) setDay(facts []fact) {
	strict := slices.ContainsFunc(facts, func(f fact) bool { return f.is == setFact && f.strict })
	defer func() { // a day that is told of all holds where none is told of the line
		for _, f := range facts {
			if f.is == setFact && f.line == "*" && l.SetOn == 0 {
				l.SetOn, l.SetAt = f.day, f.at
			}
		}
	}()
	for _, f := range facts {
		if f.is != setFact || strict && !f.strict || f.line == "*" {
			continue
		}
		if len(f.nests) > 0 {
			l.setNestDay(f)
			continue
		}
		switch {
		case l.SetOn == 0 || f.fix:
			l.SetOn, l.SetAt = f.day, f.at
		case l.SetOn != f.day && strict:
			l.Problems = append(l.Problems, Problem{Why: TwoDays, At: f.at})
		}
	}
}

// Set tells whether it is told when the line was set, or each nest of it.
func (l *Line) Set() bool {
	return l.SetOn != 0 || len(l.Nests) > 0 && !slices.ContainsFunc(l.Nests, func(n *Nest) bool { return n.SetOn == 0 })
}

// setNestDay takes the day on which one nest was set.
func (l *Line) setNestDay(f fact) {
	for _, n := range l.Nests {
		switch {
		case !slices.Contains(f.nests, n.Number):
		case n.SetOn == 0 || f.fix:
			n.SetOn = f.day
		case n.SetOn != f.day:
			l.Problems = append(l.Problems, Problem{Why: TwoDays, At: f.at})
		}
	}
}

func (l *Line) setCovers(facts []fact) {
	own := map[string]survey.Substrate{}
	var odd, even, all survey.Substrate
	twice := func(f fact) {
		l.Problems = append(l.Problems, Problem{Why: TwoCovers, Text: string(f.cover), At: f.at})
	}
	set := func(into *survey.Substrate, f fact) {
		if *into != "" && *into != f.cover && !f.fix {
			twice(f)
			return
		}
		*into = f.cover
	}
	for _, f := range facts {
		if f.is != coverFact {
			continue
		}
		switch f.who {
		case oddOnes:
			set(&odd, f)
		case evenOnes:
			set(&even, f)
		case allOfThem:
			set(&all, f)
		default:
			for _, n := range f.nests {
				v := own[n]
				set(&v, f)
				own[n] = v
			}
		}
	}
	for _, n := range l.Nests {
		v, err := strconv.Atoi(n.Number)
		switch {
		case own[n.Number] != "":
			n.Cover = own[n.Number]
		case err == nil && v%2 == 1 && odd != "":
			n.Cover = odd
		case err == nil && v%2 == 0 && even != "":
			n.Cover = even
		default:
			n.Cover = all
		}
	}
}

// means tells whether a fact is about a nest.
func (f *fact) means(nest string) bool {
	v, err := strconv.Atoi(nest)
	switch f.who {
	case oddOnes:
		return err == nil && v%2 == 1
	case evenOnes:
		return err == nil && v%2 == 0
	case allOfThem:
		return true
	}
	return slices.Contains(f.nests, nest)
}

// checks gathers the days of a line into checks: days that lie close together are one.
func checks(facts []fact) [][]survey.Date {
	var days []survey.Date
	for _, f := range facts {
		if (f.is == lookFact && !f.fix || f.is == unclearFact || f.is == walkFact) && f.day != 0 {
			days = append(days, f.day)
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	var out [][]survey.Date
	for _, d := range days {
		if n := len(out); n > 0 && d-out[n-1][len(out[n-1])-1] <= checkDays {
			out[n-1] = append(out[n-1], d)
			continue
		}
		out = append(out, []survey.Date{d})
	}
	return out
}

// dayVisits gives looks that are told by the number of the check its day, where the line was looked at that often.
func dayVisits(facts []fact, groups [][]survey.Date) {
	for i := range facts {
		f := &facts[i]
		if f.is != lookFact || f.day != 0 || f.visit == 0 {
			continue
		}
		k := f.visit
		if k == lexicon.Last {
			k = len(groups)
		}
		if k > 0 && k <= len(groups) && len(groups) > 1 {
			f.day, f.weeks = groups[k-1][0], 0
		}
	}
}

// setLooks gives each nest its checks.
func (l *Line) setLooks(facts []fact, silence bool, r *teller) {
	groups := checks(facts)
	all := r.checksOf(l, groups)
	dayVisits(facts, all)
	group := func(day survey.Date) int {
		return slices.IndexFunc(groups, func(g []survey.Date) bool { return slices.Contains(g, day) })
	}
	for _, n := range l.Nests {
		l.tellNest(n, facts, groups, all, group)
		l.holes(n, facts, groups, group, silence)
		slices.SortStableFunc(n.Looks, func(a, b Look) int { return int(a.On - b.On) })
	}
}

// tellNest gathers what was told of one nest: what names it counts before what is told of all the others.
func (l *Line) tellNest(n *Nest, facts []fact, groups, all [][]survey.Date, group func(survey.Date) int) {
	for i := range facts {
		f := &facts[i]
		if f.who == allOfThem || !f.means(n.Number) {
			continue
		}
		switch {
		case f.is == repeatFact:
			n.Unclear = append(n.Unclear, Unclear{Why: TwoRows, At: f.at})
		case f.is == unclearFact:
			n.Unclear = append(n.Unclear, Unclear{On: f.day, Why: NotUnderstood, Text: f.text, At: f.at})
		case f.is == lookFact && f.fix:
			l.mend(n, f, facts[:i], group)
		case f.is == lookFact && f.every:
			l.addEvery(n, f, all, i)
		case f.is == lookFact:
			n.add(Look{On: f.day, Weeks: f.weeks, Sight: f.sight, At: f.at, order: i})
		}
	}
	// What was not understood is settled by what is plainly told of the same check.
	n.Unclear = slices.DeleteFunc(n.Unclear, func(u Unclear) bool {
		return u.Why == NotUnderstood && slices.ContainsFunc(n.Looks, func(k Look) bool { return k.On == u.On })
	})
	for i := range facts {
		f := &facts[i]
		if f.is != lookFact || f.who != allOfThem {
			continue
		}
		if f.every {
			if len(n.Looks) == 0 && len(n.Unclear) == 0 {
				l.addEvery(n, f, all, i)
			}
			continue
		}
		at := group(f.day)
		named := func(on survey.Date) bool {
			return on == f.day || at >= 0 && slices.Contains(groups[at], on)
		}
		if slices.ContainsFunc(n.Looks, func(k Look) bool { return named(k.On) && (f.day != 0 || k.Weeks == f.weeks) }) || slices.ContainsFunc(n.Unclear, func(u Unclear) bool { return named(u.On) }) {
			continue
		}
		if n.finished(f.day) {
			continue
		}
		n.add(Look{On: f.day, Weeks: f.weeks, Sight: f.sight, Rest: true, At: f.at, order: i})
	}
}

// addEvery gives a nest what was found at each check of its line, until it was lost.
func (l *Line) addEvery(n *Nest, f *fact, groups [][]survey.Date, order int) {
	set := n.SetOn
	if set == 0 {
		set = l.SetOn
	}
	added := false
	if f.count > len(groups) { // "both times", and one of them is known
		n.add(Look{Sight: f.sight, At: f.at, order: order})
		return
	}
	for _, days := range groups {
		if days[0] <= set || n.finished(days[0]) {
			continue
		}
		n.add(Look{On: days[0], Sight: f.sight, Rest: f.who == allOfThem, At: f.at, order: order})
		added = true
	}
	if !added {
		n.add(Look{Sight: f.sight, At: f.at, order: order})
	}
}

// finished tells whether a nest was lost before a day.
func (n *Nest) finished(day survey.Date) bool {
	return slices.ContainsFunc(n.Looks, func(k Look) bool {
		return (day == 0 || k.On < day) && k.Sight.Mark != lexicon.Intact && k.Sight.Mark != lexicon.Skipped && k.Sight.Mark != lexicon.Blank && (k.On != 0 || k.Weeks > 0)
	})
}

// add gives a nest a look. Two that are told of one day must agree, or the second say more of the same.
func (n *Nest) add(k Look) {
	for i := range n.Looks {
		was := &n.Looks[i]
		if was.On != k.On || was.Weeks != k.Weeks {
			continue
		}
		switch {
		case was.Sight.Mark == k.Sight.Mark || refines(k.Sight, was.Sight):
		case refines(was.Sight, k.Sight):
			was.Sight = k.Sight
		default:
			n.Unclear = append(n.Unclear, Unclear{On: k.On, Why: Twice, Text: string(was.Sight.Mark.State()), Also: string(k.Sight.Mark.State()), At: k.At})
		}
		return
	}
	n.Looks = append(n.Looks, k)
}

// refines tells whether a second state says more of a nest than a first one: eaten is less than stepped on.
func refines(was, is lexicon.Sight) bool {
	return was.Mark == lexicon.Taken && (is.Mark == lexicon.Trampled || is.Mark == lexicon.Flooded || is.Mark == lexicon.Spoiled)
}

// mend puts right what was told of a nest at the check of its day, or at the last check before.
func (l *Line) mend(n *Nest, f *fact, told []fact, group func(survey.Date) int) {
	at := group(f.day)
	if at < 0 || !slices.ContainsFunc(told, func(o fact) bool { return o.is == lookFact && group(o.day) == at }) {
		at = -1
		for _, o := range told { // the check told of last
			if o.is == lookFact && !o.fix && o.day != 0 && (f.day == 0 || o.day <= f.day) {
				at = group(o.day)
			}
		}
	}
	for i := range n.Looks {
		if at >= 0 && group(n.Looks[i].On) == at {
			if f.sight.Mark == lexicon.Blank {
				n.Looks = slices.Delete(n.Looks, i, i+1)
				return
			}
			n.Looks[i].Sight, n.Looks[i].At = f.sight, f.at
			return
		}
	}
	if f.sight.Mark == lexicon.Blank {
		return
	}
	day := f.day
	if at >= 0 {
		for _, o := range told {
			if o.is == lookFact && group(o.day) == at {
				day = o.day
			}
		}
	}
	n.Looks = append(n.Looks, Look{On: day, Sight: f.sight, At: f.at})
}

// holes finds the checks of the line at which nothing is told of a nest that was still going.
func (l *Line) holes(n *Nest, facts []fact, groups [][]survey.Date, group func(survey.Date) int, silence bool) {
	set := n.SetOn
	if set == 0 {
		set = l.SetOn
	}
	for g, days := range groups {
		if days[len(days)-1] <= set { // others were set later
			continue
		}
		in := func(on survey.Date) bool { return slices.Contains(days, on) }
		if slices.ContainsFunc(n.Looks, func(k Look) bool { return in(k.On) }) || slices.ContainsFunc(n.Unclear, func(u Unclear) bool { return in(u.On) }) || n.finished(days[0]) {
			continue
		}
		at := Span{}
		told := false
		for _, f := range facts {
			if group(f.day) == g && (f.is == lookFact && !f.fix || f.is == unclearFact || f.is == walkFact && (silence || f.strict)) {
				at, told = f.at, true
				break
			}
		}
		if !told || slices.ContainsFunc(n.Unclear, func(u Unclear) bool { return u.On == 0 && u.Why != TwoRows }) {
			continue
		}
		if silence {
			n.Looks = append(n.Looks, Look{On: days[0], Sight: lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}, Rest: true, At: at})
			continue
		}
		n.Unclear = append(n.Unclear, Unclear{On: days[0], Why: LeftOut, At: at})
	}
	for i := range n.Looks {
		if k := &n.Looks[i]; k.On == 0 && k.Weeks == 0 {
			n.Unclear = append(n.Unclear, Unclear{Why: NoDay, At: k.At})
			break
		}
	}
}
