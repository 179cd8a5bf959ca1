package narration

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// understand takes what a sentence tells of its lines, part by part.
func (r *teller) understand(x *say) {
	if r.columnsIn(x) {
		return
	}
	if r.onlyDays(x) && x.days > 0 && len(x.states) == 0 {
		if x.days == 1 {
			r.now.day, r.now.setting = x.day, false
		}
		return
	}
	if r.beltSaid(x) {
		r.now.topic = beltTopic
		return
	}
	a, b := r.settingThenCheck(x)
	if b == nil && r.ofStory(x) != nil {
		a, b = r.storyParts(x)
	}
	if b != nil {
		r.understand(a)
		r.understand(b)
		return
	}
	if x.visit != 0 {
		r.now.visit = x.visit
	}
	if x.set || x.check || len(x.states) > 0 {
		r.now.belt.open = false
	}
	parts := r.lineParts(x)
	told := r.coverAlone(x)
	for i := range parts {
		told = r.part(x, &parts[i]) || told
	}
	switch {
	case told:
	case x.days == 1 && r.now.visit != 0 && x.visit == 0 && len(x.states) == 0 && wentThere.MatchString(r.text[x.from:x.to]): // "What did you find at the first check? We went May 26."
		r.now.day, r.now.setting, r.now.topic = x.day, false, checkTopic
	case r.nestOfNoLine(x):
		r.lineless = append(r.lineless, r.span(x.from, x.to))
	case r.matters(x):
		r.unused = append(r.unused, r.span(x.from, x.to))
	}
}

// nestOfNoLine tells whether a sentence begins with the number of a nest and says what was found at it, and no line is spoken of.
func (r *teller) nestOfNoLine(x *say) bool {
	if len(r.now.lines) > 0 || len(x.states) == 0 || len(x.items) < 2 {
		return false
	}
	first := &x.items[0]
	if first.is != someNests || len(first.list) != 1 || strings.TrimSpace(strings.TrimLeft(r.text[x.from:first.from], "-*#( ")) != "" {
		return false
	}
	return slices.ContainsFunc(x.items, func(it item) bool { return it.is == aCover || it.is == aDay })
}

// matters tells whether a sentence that became nothing speaks of nests and of a day or of what was found, so that the
// sender should see it.
func (r *teller) matters(x *say) bool {
	nests, found := false, len(x.states) > 0
	for _, it := range x.items {
		switch it.is {
		case someNests:
			nests = nests || it.marked
		case theRest:
			nests = nests || len(x.states) > 0
		case aLine, nestCount:
			nests = true
		case aDay:
			found = true
		}
	}
	return nests && found
}

// settingThenCheck parts "we set both lines on May 4 and looked at them yesterday" before the second verb.
func (r *teller) settingThenCheck(x *say) (a, b *say) {
	if !x.set || x.days < 2 {
		return nil, nil
	}
	set := slices.IndexFunc(x.items, func(it item) bool { return it.is == aSetting })
	if !x.check && len(x.states) == 0 {
		return r.settingThenDays(x, set)
	}
	for i := set + 1; i < len(x.items); i++ {
		if x.items[i].is != aCheck {
			continue
		}
		left, right := x.cut(i, x.items[i].from)
		if left.days == 1 && (right.days == 1 || right.days > 1 && len(right.states) == 0) {
			return left, right
		}
	}
	return nil, nil
}

// settingThenDays parts "set May 11, eggs on May 25 / eggs on Jun 8": the days behind that of the setting are those of checks.
func (r *teller) settingThenDays(x *say, set int) (a, b *say) {
	first := slices.IndexFunc(x.items, func(it item) bool { return it.is == aDay && it.day.Day != 0 })
	if set < 0 || first < set || first+1 >= len(x.items) {
		return nil, nil
	}
	left, right := x.cut(first+1, x.items[first].to)
	for _, it := range right.items {
		if it.is != aDay && it.is != aComma && it.is != anAnd && it.is != aVisit || it.is == aDay && it.day.Day != 0 && it.day.Day-left.day <= checkDays {
			return nil, nil
		}
	}
	if len(strings.Fields(plainLetters(r.text[right.from:right.items[slices.IndexFunc(right.items, func(it item) bool { return it.is == aDay })].from]))) == 0 {
		return nil, nil
	}
	right.check = true
	return left, right
}

// cut parts a sentence before its item i, at a place in the text.
func (x *say) cut(i, at int) (left, right *say) {
	a, b := *x, *x
	a.to, b.from = at, at
	a.items, b.items = x.items[:i], x.items[i:]
	a.states = slices.DeleteFunc(slices.Clone(x.states), func(s stateAt) bool { return s.from >= at })
	b.states = slices.DeleteFunc(slices.Clone(x.states), func(s stateAt) bool { return s.from < at })
	a.recount()
	b.recount()
	return &a, &b
}

// recount settles what a part of a sentence holds.
func (x *say) recount() {
	x.day, x.days, x.set, x.check = 0, 0, false, false
	for _, it := range x.items {
		switch {
		case it.is == aDay && it.day.Day != 0 && it.day.Day != x.day:
			x.day = it.day.Day
			x.days++
		case it.is == aSetting:
			x.set = true
		case it.is == aCheck:
			x.check = true
		}
	}
	if x.days > 1 {
		x.day = 0
	}
}

// A linePart is a piece of a sentence that speaks of the same lines.
type linePart struct {
	lines    []string // nil for those spoken of before
	called   []item   // where they are named
	all      bool     // every line
	items    []item
	from, to int
	named    bool // the sentence names them
}

// lineParts cuts a sentence at its lines. "Line 1 lost 3, line 2 lost 4" is cut before each, "3 gone on line 1 and 4 on
// line 2" behind each.
func (r *teller) lineParts(x *say) []linePart {
	var at []int
	for i, it := range x.items {
		if it.is == aLine || it.is == allLines {
			at = append(at, i)
		}
	}
	switch len(at) {
	case 0:
		return []linePart{{items: x.items, from: x.from, to: x.to}}
	case 1:
		it := x.items[at[0]]
		p := linePart{lines: it.list, called: x.items[at[0] : at[0]+1], all: it.is == allLines, items: without(x.items, at[0]), from: x.from, to: x.to, named: true}
		return []linePart{p}
	}
	behind := r.payload(x, x.from, x.items[at[0]].from) && !r.payload(x, x.items[at[len(at)-1]].to, x.to) && slices.ContainsFunc(x.items[:at[0]], func(it item) bool { return refers(it.is) })
	var out []linePart
	if !behind {
		from, k := x.from, 0
		for n, i := range at {
			to, last := x.to, len(x.items)
			if n+1 < len(at) {
				last = at[n+1]
				to = x.items[last].from
			}
			if n == 0 {
				k = 0
			} else {
				k, from = i, x.items[i].from
			}
			items := slices.DeleteFunc(slices.Clone(x.items[k:last]), func(it item) bool { return it.is == aLine || it.is == allLines })
			out = append(out, linePart{lines: x.items[i].list, called: x.items[i : i+1], all: x.items[i].is == allLines, items: items, from: from, to: to, named: true})
		}
		return r.joinBare(x, out)
	}
	from, k := x.from, 0
	for _, i := range at {
		out = append(out, linePart{lines: x.items[i].list, all: x.items[i].is == allLines, items: slices.Clone(x.items[k:i]), from: from, to: x.items[i].from, named: true})
		k, from = i+1, x.items[i].to
	}
	return out
}

// joinBare joins lines between which nothing is said: "the north line and the windmill line, eight nests on each".
func (r *teller) joinBare(x *say, parts []linePart) []linePart {
	var out []linePart
	for i, p := range parts {
		if n := len(out); n > 0 {
			was := &out[n-1]
			between := slices.DeleteFunc(slices.Clone(was.items), func(it item) bool {
				return it.is == aComma || it.is == anAnd || i == 1 && (it.is == aSetting || it.is == aDay || it.is == aCheck || it.is == aVisit)
			})
			if len(between) == 0 && !was.all && !p.all && !r.payload(x, was.from, was.to) {
				was.lines = append(slices.Clone(was.lines), p.lines...)
				was.items = append(was.items, p.items...)
				was.to = p.to
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

func without(items []item, i int) []item {
	return append(slices.Clone(items[:i]), items[i+1:]...)
}

func refers(is itemKind) bool {
	return is == someNests || is == theRest || is == noneOf || is == oddNests || is == evenNests || is == firstNests || is == lastNests
}

// payload tells whether words of a cover or of what was found stand in a piece of text.
func (r *teller) payload(x *say, from, to int) bool {
	return r.found(x, from, to) || slices.ContainsFunc(x.items, func(it item) bool { return it.is == aCover && it.from >= from && it.to <= to })
}

func (r *teller) found(x *say, from, to int) bool {
	return slices.ContainsFunc(x.states, func(s stateAt) bool { return s.from >= from && s.to <= to })
}

// part takes what a piece of a sentence tells of its lines. It returns false where it tells nothing.
func (r *teller) part(x *say, p *linePart) bool {
	lines := r.linesOf(p)
	if p.named && !p.all {
		r.now.lines, r.now.said = p.lines, true
		for _, l := range p.lines {
			r.lineNames[l] = true
		}
		r.now.nest = nil
	}
	refs := r.references(x, p, lines)
	if r.isSetting(x, p, refs) {
		return r.settingSaid(x, p, lines, refs, x.day)
	}
	told := r.checkSaid(x, p, lines, refs, x.day)
	if p.named && len(refs) == 0 && !r.found(x, p.from, p.to) {
		if s := r.siteIn(x, p); s != "" && x.visit == 0 && !x.check && len(p.lines) == 1 {
			r.add(fact{is: siteFact, text: s, at: r.span(p.from, p.to)}, lines)
		}
		told = true // it names the line that is spoken of
	} else if !p.named && len(r.now.lines) == 1 && len(x.states) == 0 && len(refs) == 0 {
		if s := r.pastureIn(x); s != "" {
			r.add(fact{is: siteFact, text: s, at: r.span(p.from, p.to)}, r.now.lines)
		}
	}
	return told
}

// linesOf returns the lines a piece speaks of.
func (r *teller) linesOf(p *linePart) []string {
	switch {
	case p.all:
		return []string{"*"}
	case p.named:
		return p.lines
	}
	return r.now.lines
}

// isSetting tells whether a piece tells of setting nests out rather than of a check.
func (r *teller) isSetting(x *say, p *linePart, refs []clause) bool {
	if slices.ContainsFunc(p.items, func(it item) bool { return it.is == inTurn }) && x.visit == 0 {
		return true
	}
	if x.set && !x.check && x.visit == 0 && x.days <= 1 && slices.ContainsFunc(p.items, func(it item) bool { return it.is == nestCount }) && slices.ContainsFunc(p.items, func(it item) bool { return it.is == aCover }) {
		return true // whatever the words between may mean elsewhere
	}
	if r.found(x, p.from, p.to) || x.visit != 0 || x.check && !x.set {
		return false
	}
	if x.set {
		return true
	}
	for _, it := range p.items {
		if it.is == aCover || it.is == nestCount {
			return true
		}
	}
	if p.named && r.now.topic == setTopic && x.days == 1 && !x.counts && !slices.ContainsFunc(x.items, func(it item) bool {
		return it.is != aLine && it.is != allLines && it.is != aDay && it.is != aComma && it.is != anAnd
	}) && len(strings.Fields(plainLetters(r.text[x.from:x.to]))) < 8 {
		return true // "When did you set them? Both lines on May 12."
	}
	if p.named && r.now.topic == setTopic && x.days <= 1 && len(refs) > 0 && !x.counts { // "Line 2 in East Mill, 1 to 6"
		return true
	}
	return false
}

// A clause is one mention of nests and the text that belongs to it.
type clause struct {
	ref    item
	pieces [][2]int // of the text, in order
	pre    bool     // what is told of it stands before it
	but    bool     // it is an exception
	label  bool     // what is told of it stands before it with a colon: "gone: 3, 5"
	joined int      // of mentions that share one text: the index of the one that has it, else -1
}

// references finds the mentions of nests in a piece and gives each the text that belongs to it.
func (r *teller) references(x *say, p *linePart, lines []string) []clause {
	var at []int
	for i := range p.items {
		it := &p.items[i]
		if !refers(it.is) || it.is == someNests && !r.areNests(x, p, i, lines) {
			continue
		}
		if it.is == theRest && it.n == 0 && r.onlyEggs(x, p, at, i) || countsList(p.items, i) {
			continue
		}
		at = append(at, i)
	}
	out := make([]clause, len(at))
	for k, i := range at {
		out[k] = clause{ref: p.items[i], joined: -1}
	}
	if len(at) == 0 {
		return nil
	}
	// The text before the first mention is its own where it tells something.
	first := p.items[at[0]].from
	if r.payload(x, p.from, first) || x.days > 1 && r.dayIn(p, p.from, first) {
		out[0].pieces, out[0].pre = append(out[0].pieces, [2]int{p.from, first}), true
		out[0].label = labels(r.text[p.from:first])
	}
	for k := range at {
		from, to := p.items[at[k]].to, p.to
		if k+1 == len(at) {
			out[k].pieces = append(out[k].pieces, [2]int{from, to})
			break
		}
		to = p.items[at[k+1]].from
		r.share(x, p, out, k, at[k], at[k+1], from, to)
	}
	return out
}

// countsList tells whether a number says how many nests the list behind it has: "5 in grass (1-5)".
func countsList(items []item, i int) bool {
	return i+2 < len(items) && items[i].is == someNests && len(items[i].list) == 1 && items[i+1].is == aCover && items[i+2].is == someNests && len(items[i+2].list) > 1 && strconv.Itoa(len(items[i+2].list)) == items[i].list[0]
}

// share settles which of two mentions the text between them belongs to.
func (r *teller) share(x *say, p *linePart, out []clause, k, i, j, from, to int) {
	type seg struct {
		from, to int
		but      bool
	}
	if at := from + labelAt(r.text[from:to]); at > from-1 && r.payload(x, at, to) { // "ok: 1, 4-10   gone: 2, 5"
		out[k].pieces = append(out[k].pieces, [2]int{from, at})
		out[k+1].pieces, out[k+1].pre, out[k+1].label = append(out[k+1].pieces, [2]int{at, to}), true, true
		return
	}
	if out[k].label && onlyWords(plainLetters(inBrackets.ReplaceAllString(r.text[from:to], "")), joins) && strings.Contains(r.text[from:to], ",") { // "gone: 1 (coyote), 9"
		if out[k+1].joined, out[k+1].label = k, true; out[k].joined >= 0 {
			out[k+1].joined = out[k].joined
		}
		return
	}
	segs := []seg{{from: from}}
	depth := 0
	for m := i + 1; m < j; m++ {
		it := &p.items[m]
		depth = strings.Count(r.text[from:it.from], "(") - strings.Count(r.text[from:it.from], ")")
		if depth > 0 || it.is != aComma && it.is != anAnd && it.is != aBut {
			continue
		}
		segs[len(segs)-1].to = it.from
		segs = append(segs, seg{from: it.to, but: it.is == aBut})
	}
	segs[len(segs)-1].to = to
	one, two := &out[k], &out[k+1]
	has := func(s seg) bool { return r.payload(x, s.from, s.to) }
	last := segs[len(segs)-1]
	any := slices.ContainsFunc(segs, has)
	two.but = slices.ContainsFunc(segs, func(s seg) bool { return s.but })
	after := r.payload(x, p.items[j].to, r.pieceEnd(p, j)) // the second mention is told of behind it
	mine := segs
	if k := slices.IndexFunc(segs, func(s seg) bool { return s.but }); k > 0 {
		mine = segs[:k]
	}
	switch {
	case !any:
		if one.ref.is == someNests && two.ref.is == someNests && !two.but && r.onlyJoins(p, i, j, from, to) {
			two.joined = k
			if one.joined >= 0 {
				two.joined = one.joined
			}
			return
		}
	case len(segs) == 1:
		if one.pre && !after { // "eaten 3 and 4 gone 5"
			two.pieces, two.pre = append(two.pieces, [2]int{from, to}), true
			return
		}
	case has(last) && (!after || slices.ContainsFunc(segs[:len(segs)-1], has) || one.pre):
		two.pieces, two.pre = append(two.pieces, [2]int{last.from, last.to}), true
		mine = mine[:min(len(mine), len(segs)-1)]
	case !has(last) && r.dayIn(p, last.from, last.to): // "5/13 3 gone, 5/14 4 gone"
		two.pieces, two.pre = append(two.pieces, [2]int{last.from, last.to}), true
		mine = mine[:min(len(mine), len(segs)-1)]
	}
	one.pieces = append(one.pieces, [2]int{from, mine[len(mine)-1].to})
}

// inBrackets is what stands in brackets.
var inBrackets = regexp.MustCompile(`\([^()]*\)`)

// labels tells whether a text ends as the label of what follows: "gone:", "grass =".
func labels(text string) bool {
	text = strings.TrimRight(text, " \t")
	return (strings.HasSuffix(text, ":") || strings.HasSuffix(text, "=")) && !exceptBefore.MatchString(text)
}

// exceptBefore ends what is no label: "all ok except:".
var exceptBefore = regexp.MustCompile(`(?i)\b(?:except|excepting|but|for|menos|excepto|salvo|pero)\s*[:=]$`)

// labelAt is where the label at the end of a text begins; -1 where there is none.
func labelAt(text string) int {
	if !labels(text) {
		return -1
	}
	trimmed := strings.TrimRight(text, " \t:=")
	at := 0
	for _, m := range labelGap.FindAllStringIndex(trimmed, -1) {
		at = m[1]
	}
	return at
}

// labelGap parts a label from what stands before it.
var labelGap = regexp.MustCompile(`\s{2,}|[,;.)|]\s*|^\s+`)

func (r *teller) dayIn(p *linePart, from, to int) bool {
	return slices.ContainsFunc(p.items, func(it item) bool { return it.is == aDay && it.from >= from && it.to <= to })
}

// pieceEnd is where the text behind a mention ends at the latest: at the next mention.
func (r *teller) pieceEnd(p *linePart, j int) int {
	for _, it := range p.items[j+1:] {
		if refers(it.is) || it.is == aComma || it.is == anAnd {
			return it.from
		}
	}
	return p.to
}

// onlyJoins tells whether nothing but a joining word stands between two mentions.
func (r *teller) onlyJoins(p *linePart, i, j, from, to int) bool {
	joint := false
	for _, it := range p.items[i+1 : j] {
		joint = joint || it.is == aComma || it.is == anAnd
	}
	return joint && strings.Trim(plainLetters(r.text[from:to]), " ") == "" || joint && joinsOnly[strings.Join(strings.Fields(plainWord(plainLetters(r.text[from:to]))), " ")]
}

var joinsOnly = wordSet(`and y e also tambien nest nido number no then`)

// onlyEggs tells whether "all" stands for the eggs of the nest named before it: "A8 all there".
func (r *teller) onlyEggs(x *say, p *linePart, at []int, i int) bool {
	it := &p.items[i]
	words := strings.Fields(plainWord(r.text[it.from:it.to]))
	eggs := len(words) == 1 && (words[0] == "all" || words[0] == "todos" || words[0] == "todas" || words[0] == "todo" || words[0] == "everything")
	others := strings.Contains(strings.Join(words, " "), "demas") || len(words) > 0 && words[len(words)-1] == "rest"
	if !eggs && !others {
		return false
	}
	// Of a nest of which a count of eggs was told, the rest are its other eggs: "one egg left, lo demas comido".
	if others {
		for _, e := range r.eggsAt {
			if e.to <= it.from && len(at) > 0 && p.items[at[len(at)-1]].is == someNests && len(p.items[at[len(at)-1]].list) == 1 && e.from > p.items[at[len(at)-1]].from {
				return true
			}
		}
		return false
	}
	if len(r.now.nest) > 0 && len(at) == 0 {
		return true
	}
	if len(at) == 0 || p.items[at[len(at)-1]].is != someNests {
		return false
	}
	from := p.items[at[len(at)-1]].to
	if r.dayIn(p, from, it.from) {
		return true
	}
	for _, b := range p.items[at[len(at)-1]+1 : i] {
		if (b.is == aComma || b.is == anAnd || b.is == aBut) && r.found(x, from, b.from) {
			return false
		}
	}
	return !r.found(x, from, it.from)
}

// areNests tells whether numbers are those of nests.
func (r *teller) areNests(x *say, p *linePart, i int, lines []string) bool {
	it := &p.items[i]
	if strings.Contains(it.list[0], "\x00") {
		return true
	}
	if r.goesOn(p, i) {
		return true
	}
	if len(lines) == 0 {
		if r.now.topic == setTopic && len(it.list) > 1 && !x.counts { // "grass: 1 to 5", of all lines
			return slices.ContainsFunc(p.items, func(it item) bool { return it.is == aCover })
		}
		return it.marked && strings.ContainsAny(r.text[it.from:it.from+1], "nN#") // "nest 4" without a line: asked about
	}
	if i > 0 && p.items[i-1].is == aBut && strings.TrimSpace(r.text[p.items[i-1].to:it.from]) == "" { // "all good but 9"
		return true
	}
	known := true
	for _, l := range lines {
		set := r.nests[l]
		for _, n := range it.list {
			known = known && (set == nil || set[n])
		}
	}
	history := r.history(p, i)
	switch {
	case history: // "3 grass, 5/14 good, 5/28 gone, 1 of them broken"
		return false
	case it.marked && nestCalled(r.text[it.from:it.to]):
		return true
	case !known:
		return len(it.list) > 1 && r.found(x, p.from, p.to) && r.beside(x, p, i)
	case it.marked:
		return r.payload(x, p.from, p.to) || r.now.topic == setTopic || r.now.topic == checkTopic || len(it.list) > 1
	}
	return r.beside(x, p, i)
}

// goesOn tells whether a number goes on with the list of a label, past what caused the loss of one: "gone: 1, 4 (coyote), 9".
func (r *teller) goesOn(p *linePart, i int) bool {
	for k := i - 1; k >= 0; k-- {
		if p.items[k].is != someNests {
			continue
		}
		between := r.text[p.items[k].to:p.items[i].from]
		from := p.from
		if k > 0 {
			from = p.items[k-1].to
		}
		return strings.Contains(between, ")") && strings.Contains(between, ",") && onlyWords(plainLetters(inBrackets.ReplaceAllString(between, "")), joins) && (labels(r.text[from:p.items[k].from]) || r.goesOn(p, k))
	}
	return false
}

// nestCalled tells whether the text itself calls numbers nests.
func nestCalled(s string) bool {
	low := plainWord(s)
	return strings.HasPrefix(low, "n") || strings.HasPrefix(low, "#") || strings.Contains(low, "nest") || strings.Contains(low, "nido")
}

// history tells whether an unmarked number stands behind a nest and a day in the same piece, where it counts something else.
func (r *teller) history(p *linePart, i int) bool {
	it := &p.items[i]
	if len(it.list) > 1 || it.marked {
		return false
	}
	nest, day := false, false
	for _, b := range p.items[:i] {
		nest = nest || b.is == someNests && len(b.list) == 1
		day = day || nest && b.is == aDay
	}
	return day
}

// beside tells whether something is told directly before or behind an unmarked number.
func (r *teller) beside(x *say, p *linePart, i int) bool {
	it := &p.items[i]
	from, to := p.from, p.to
	for k := i - 1; k >= 0; k-- {
		if b := p.items[k].is; refers(b) || b == aComma || b == aBut {
			from = p.items[k].to
			break
		}
	}
	for _, b := range p.items[i+1:] {
		if refers(b.is) || b.is == aBut {
			to = b.from
			break
		}
	}
	lead := strings.Fields(plainLetters(r.text[from:it.from]))
	if r.payload(x, from, it.from) || r.payload(x, it.to, to) {
		return true
	}
	if x.set || r.now.topic == setTopic && len(lead) <= 1 { // "line 2, 1 to 6"
		return len(it.list) > 1
	}
	next := strings.Fields(plainWord(plainLetters(r.text[it.to:to])))
	return len(lead) == 0 && len(next) > 0 && isVerb[next[0]]
}

var isVerb = wordSet(`was were is are had has looked looks got did didnt just seems seemed no not estaba estaban esta estan tenia tenian se lo los quedo went fue fueron parecia could couldnt cant ya`)

// settingSaid takes what a piece tells of setting nests out.
func (r *teller) settingSaid(x *say, p *linePart, lines []string, refs []clause, day survey.Date) bool {
	r.setsOut = r.setsOut || x.set
	if len(lines) == 0 && (len(refs) > 0 && r.now.topic == setTopic || slices.ContainsFunc(refs, func(c clause) bool { return c.ref.is != someNests && c.ref.is != theRest }) || slices.ContainsFunc(p.items, func(it item) bool { return it.is == nestCount && it.each })) {
		lines = []string{"*"} // a rule before any line is named holds for all
	}
	if len(lines) == 0 && x.set && x.days == 1 && x.lines == 0 && day != 0 && len(r.passages) > 0 { // and so does the day on which all were set
		r.facts = append(r.facts, fact{is: setFact, line: "*", day: day, at: r.span(p.from, p.to)})
		r.now.day, r.now.setting, r.now.topic = day, true, setTopic
		return true
	}
	if len(lines) == 0 {
		return false
	}
	at := r.span(p.from, p.to)
	told := false
	say := func(f fact) {
		for _, l := range lines {
			f.line, f.at, f.redo = l, at, r.now.redo
			r.facts = append(r.facts, f)
		}
		told = true
	}
	if day == 0 && (x.set || p.named || r.now.topic == setTopic || r.now.day == r.now.today) {
		day = r.now.day
	}
	enough := x.days <= 1
	count := 0
	covers := 0
	for _, it := range p.items {
		switch it.is {
		case nestCount:
			count = it.n
		case aCover:
			covers++
		}
	}
	switch {
	case count > 0:
		say(fact{is: nestsFact, count: count, strict: true})
	case x.set || p.named && r.now.topic != checkTopic:
		if n := r.bareCount(x, p, refs); n > 0 {
			say(fact{is: nestsFact, count: n, strict: true})
		}
	}
	if turn := slices.IndexFunc(p.items, func(it item) bool { return it.is == inTurn }); turn >= 0 && covers >= 2 { // "every other one, starting with grass, then brush"
		who := oddOnes
		for _, it := range p.items {
			if it.is == aCover && who != byNumber {
				say(fact{is: coverFact, who: who, cover: it.cover})
				who = map[selector]selector{oddOnes: evenOnes, evenOnes: byNumber}[who]
			}
		}
		refs = nil
	}
	for k := range refs {
		if refs[k].joined < 0 {
			told = r.coverOf(x, p, lines, refs, k, at, covers) || told
		}
	}
	if covers == 1 && !slices.ContainsFunc(refs, func(c clause) bool { return true }) {
		for _, it := range p.items {
			switch own := r.ofStory(x); {
			case it.is == aCover && own != nil:
				say(fact{is: coverFact, nests: own, cover: it.cover})
			case it.is == aCover:
				say(fact{is: coverFact, who: allOfThem, cover: it.cover})
			}
		}
	}
	if covers == 0 && slices.ContainsFunc(p.items, func(it item) bool { return it.is == aSame }) {
		for _, f := range r.facts {
			if f.line != "" && f.line == r.now.like && f.is == coverFact && !slices.Contains(lines, f.line) {
				say(f)
			}
			if f.line != "" && f.line == r.now.like && f.is == nestsFact && count == 0 && len(refs) == 0 && !slices.Contains(lines, f.line) {
				say(f)
			}
		}
	}
	if covers > 0 && len(lines) > 0 {
		r.now.like = lines[0]
	}
	if s := r.siteIn(x, p); s != "" {
		say(fact{is: siteFact, text: s})
	}
	if day != 0 && enough && (told || p.named && (x.set || x.days == 1) || x.set && x.days == 1) {
		say(fact{is: setFact, nests: r.ofStory(x), day: day, strict: x.set})
		r.now.day, r.now.setting = day, true
	}
	r.now.topic = setTopic
	if len(refs) == 1 && refs[0].ref.is == someNests && len(refs[0].ref.list) == 1 {
		r.about(refs[0].ref.list, x.line, false)
	}
	return told
}

// about notes which nest the talk is of until the line of text ends, or on a card the card.
func (r *teller) about(list []string, line int, alone bool) {
	r.now.nest, r.now.nestAt, r.now.alone = list, line, alone
}

// bareCount reads a number that stands alone behind a line and its day as how many nests there are: "L3 north bench 5/4 ten".
func (r *teller) bareCount(x *say, p *linePart, refs []clause) int {
	for _, it := range p.items {
		if it.is != someNests || len(it.list) != 1 || slices.ContainsFunc(refs, func(c clause) bool { return len(c.ref.list) > 1 }) || strings.Contains(it.list[0], "\x00") || nestCalled(r.text[it.from:it.to]) || slices.ContainsFunc(refs, func(c clause) bool { return c.ref.from == it.from }) {
			continue
		}
		rest := strings.TrimLeft(r.text[it.to:p.to], " ")
		if rest == "" || strings.HasPrefix(rest, ",") || strings.HasPrefix(rest, ".") || strings.HasPrefix(rest, "in ") || strings.HasPrefix(rest, "en ") || strings.HasPrefix(rest, ":") || strings.HasPrefix(rest, "(") {
			n, _ := numberAt(tokenize(it.list[0]), 0)
			if n >= 2 {
				return int(n)
			}
		}
	}
	return 0
}

// coverOf takes the cover of one mention.
func (r *teller) coverOf(x *say, p *linePart, lines []string, refs []clause, k int, at Span, covers int) bool {
	c := &refs[k]
	cover := survey.Substrate("")
	n := 0
	for _, piece := range c.pieces {
		for _, it := range p.items {
			if it.is == aCover && it.from >= piece[0] && it.to <= piece[1] {
				if n == 0 {
					cover = it.cover
				}
				n++
			}
		}
	}
	if n == 0 && c.ref.is != theRest {
		cover = r.otherCover(c, covers > 0)
	}
	if list := c.ref.list; n > 2 && n == len(list) { // "nests 1-5, grass, yucca, grass, yucca, grass in that order"
		r.add(fact{is: nestsFact, nests: list, at: at}, lines)
		for _, piece := range c.pieces {
			for _, it := range p.items {
				if it.is == aCover && it.from >= piece[0] && it.to <= piece[1] {
					r.add(fact{is: coverFact, nests: list[:1], cover: it.cover, at: at}, lines)
					list = list[1:]
				}
			}
		}
		return true
	}
	told := false
	for j := k; j < len(refs); j++ {
		if j != k && refs[j].joined != k {
			continue
		}
		f := fact{is: coverFact, cover: cover, at: at, redo: r.now.redo}
		list := refs[j].ref.list
		own := lines
		switch refs[j].ref.is {
		case oddNests:
			f.who = oddOnes
		case evenNests:
			f.who = evenOnes
		case firstNests, lastNests:
			f.who, f.count = endOnes, refs[j].ref.n
		case theRest:
			f.who = allOfThem
		case noneOf:
			continue
		default:
			own, list = r.linesOfList(lines, list)
			f.nests = list
		}
		for _, l := range own {
			f.line = l
			if len(list) > 0 {
				r.facts = append(r.facts, fact{is: nestsFact, line: l, nests: list, at: at, redo: r.now.redo})
				told = true
			}
			if cover != "" {
				r.facts = append(r.facts, f)
				told = true
			}
		}
	}
	return told
}

// otherCover reads a cover that stands as a code, or under a name nobody listed. Such a name must stand directly behind its
// nest, where others of the sentence have a cover or a day.
func (r *teller) otherCover(c *clause, others bool) survey.Substrate {
	text := ""
	for _, p := range c.pieces {
		text += " " + r.text[p[0]:p[1]]
	}
	if strings.HasPrefix(strings.TrimSpace(text), ",") {
		return ""
	}
	text = strings.Trim(text, " .,:;-()/")
	for _, lead := range []string{"in the ", "in ", "en el ", "en ", "on ", "is in ", "are in "} {
		text = strings.TrimPrefix(text, lead)
	}
	words := strings.Fields(text)
	if len(words) == 0 || len(words) > 2 || strings.ContainsAny(text, "0123456789") {
		return ""
	}
	if known, ok := r.lex.Cover(text); ok {
		return known.Substrate
	}
	w := plainWord(text)
	if c := r.shortFor(w); c != "" {
		return c
	}
	if !others && r.ownCovers[w] == "" || isVerb[plainWord(words[0])] || leadWords[plainWord(words[0])] || notCover[plainWord(words[0])] || len(w) < 4 {
		return ""
	}
	r.ownCovers[w] = survey.Substrate(w)
	return survey.Substrate(w)
}

// shortFor is the cover of a longer word of the text of which a word leaves letters out: soapwd beside soapweed.
func (r *teller) shortFor(w string) survey.Substrate {
	if len(w) < 4 {
		return ""
	}
	found := survey.Substrate("")
	for long, cover := range r.coverWords {
		if len(long) > len(w) && long[:4] == w[:min(4, len(w))] && leavesOut(long, w) {
			if found != "" && found != cover {
				return ""
			}
			found = cover
		}
	}
	return found
}

// leavesOut tells whether a word has the letters of a longer one in their order.
func leavesOut(long, short string) bool {
	for _, c := range []byte(short) {
		i := strings.IndexByte(long, c)
		if i < 0 {
			return false
		}
		long = long[i+1:]
	}
	return true
}

var notCover = wordSet(`also same way too again each total out place there here done nests nidos igual tambien each apiece only just about north south east west over near by along`)

// linesOfList takes the line out of names that hold one: A7, 1-4.
func (r *teller) linesOfList(lines, list []string) (own, nests []string) {
	if len(list) == 0 {
		return lines, list
	}
	line, nest, ok := strings.Cut(list[0], "\x00")
	if !ok {
		return lines, list
	}
	r.now.lines = []string{line}
	r.lineNames[line] = true
	return []string{line}, []string{nest}
}

// checkSaid takes what a piece tells of a check.
func (r *teller) checkSaid(x *say, p *linePart, lines []string, refs []clause, day survey.Date) bool {
	told := false
	if r.now.topic == setTopic && r.now.setting && x.days == 0 && !x.check && x.visit == 0 && r.onlyWhole(x, p, refs) {
		return true // how the eggs were when they were set
	}
	if len(r.states(x, p)) > 0 || len(refs) > 0 {
		r.now.topic = checkTopic
	}
	if day != 0 {
		if r.matters(x) || x.check || x.visit != 0 {
			r.now.day, r.now.setting = day, false
		}
	} else if !r.now.setting || r.now.today == r.now.day {
		day = r.now.day
	}
	if x.days == 0 && r.now.setting && x.check {
		day = r.now.today
	}
	if x.check && len(lines) > 0 && len(refs) == 0 && day != 0 && len(x.states) == 0 {
		r.add(fact{is: walkFact, day: day, at: r.span(p.from, p.to), strict: r.passages[r.lines[x.line].passage].Is == Check}, lines)
		told = true
	}
	if x.check && len(lines) > 0 && len(refs) == 0 && x.days > 1 && len(x.states) == 0 { // "looked May 27 and June 10"
		var columns []column
		for _, it := range p.items {
			if it.is == aDay && it.day.Day != 0 {
				r.add(fact{is: walkFact, day: it.day.Day, at: r.span(p.from, p.to)}, lines)
				columns = append(columns, column{day: it.day.Day})
				told = true
			}
		}
		if len(lines) == 1 && r.numbered(x.line+1, 1) && !strings.Contains(r.text[r.lines[x.line+1].from:r.lines[x.line+1].to], "\t") { // a list of nests follows, with what each look found side by side
			r.now.columns, r.now.rows = columns, map[string]bool{}
		}
	}
	if len(refs) == 0 {
		return r.bareState(x, p, lines, day) || told
	}
	for k := range refs {
		if refs[k].joined >= 0 {
			continue
		}
		group := []clause{refs[k]}
		for j := k + 1; j < len(refs); j++ {
			if refs[j].joined == k {
				group = append(group, refs[j])
			}
		}
		told = r.clauseSaid(x, p, lines, group, day) || told
	}
	return told
}

// onlyWhole tells whether a piece tells of nothing but whole eggs.
func (r *teller) onlyWhole(x *say, p *linePart, refs []clause) bool {
	return len(refs) <= 1 && !toTheEnd.MatchString(r.text[p.from:p.to]) && !everyTime.MatchString(r.text[p.from:p.to]) && r.sight(r.words(p, [][2]int{{p.from, p.to}})).Mark == lexicon.Intact
}

// toTheEnd finds what is no word on the day of setting.
var toTheEnd = regexp.MustCompile(`(?i)\b(?:made it|survived|lasted|to the end|all the way|hasta el final|aguant|sobrevivi)`)

func (r *teller) states(x *say, p *linePart) []stateAt {
	var out []stateAt
	for _, s := range x.states {
		if s.from >= p.from && s.to <= p.to {
			out = append(out, s)
		}
	}
	return out
}

func (r *teller) add(f fact, lines []string) {
	f.redo = r.now.redo
	for _, l := range lines {
		f.line = l
		r.facts = append(r.facts, f)
	}
}

// bareState takes a state that is told of a whole line, or of the nest that a line before named: "Line 3 fine", "Nest 4.
// Gone."
func (r *teller) bareState(x *say, p *linePart, lines []string, day survey.Date) bool {
	if len(r.now.nest) > 0 && !p.named && (r.now.alone || x.days > 0 || r.atVisit(x) || r.now.nestAt == x.line && (x.visits > 1 || everyTime.MatchString(r.text[p.from:p.to]))) {
		c := clause{ref: item{is: someNests, from: p.from, to: p.from, list: r.now.nest, marked: true}, pieces: [][2]int{{p.from, p.to}}, joined: -1}
		if r.now.owed {
			r.now.nest, r.now.owed = nil, false
			if s := r.sight(r.words(p, c.pieces)).Mark; s.State() == "" || s == lexicon.Intact {
				return false
			}
		}
		if r.payload(x, p.from, p.to) || x.days > 0 {
			return r.clauseSaid(x, p, lines, []clause{c}, day)
		}
		return false
	}
	if len(lines) == 0 || !r.found(x, p.from, p.to) {
		return false
	}
	sight := r.sight(r.words(p, [][2]int{{p.from, p.to}}))
	exact := sight.How != lexicon.Phrase
	switch {
	case sight.Mark == lexicon.Intact && exact && (p.named || r.now.said && r.now.topic == checkTopic):
	case sight.Mark.State() != "" && exact && p.named:
	case sight.Mark == lexicon.Skipped && p.named:
	default:
		return false
	}
	r.look(x, lines, allOfThem, nil, sight, day, p.from, p.to)
	return true
}

// wentThere says that somebody went, and no more.
var wentThere = regexp.MustCompile(`(?i)^\W*(?:we|i|he|she|they|nosotros|yo)?\s*(?:went|was|were|did|made|walked|fui|fuimos|anduve|anduvimos)\b`)

// sumLead leads to a sum.
var sumLead = regexp.MustCompile(`(?i)\s*\b(?:so|and|y|as[ií] que)?\s*\b(?:that is|thats|that['’]s|that makes|it is|son|eso es|hay)?\s*$`)

// atVisit tells whether a sentence says at which check something was: "dug out before the first look".
func (r *teller) atVisit(x *say) bool {
	return slices.ContainsFunc(x.items, func(it item) bool { return it.is == aVisit && onDay.MatchString(r.text[x.from:it.from]) })
}

// words is the text of some pieces without the items that are no words of a state.
func (r *teller) words(p *linePart, pieces [][2]int) string {
	var b strings.Builder
	items := slices.Concat(p.called, p.items)
	slices.SortStableFunc(items, func(a, b item) int { return a.from - b.from })
	for _, piece := range pieces {
		at := piece[0]
		for _, it := range items {
			if it.from < at || it.to > piece[1] {
				continue
			}
			switch it.is {
			case aDay, aVisit, aLine, allLines, aCorrection, aCheck, aCover:
				said := r.text[at:it.from]
				if it.is == aDay || it.is == aVisit {
					said = onDay.ReplaceAllString(said, "")
				}
				b.WriteString(said)
				b.WriteByte(' ')
				at = it.to
			case aSum: // it ends what is told of the nest before it
				b.WriteString(sumLead.ReplaceAllString(r.text[at:it.from], ""))
				at = piece[1]
			}
		}
		b.WriteString(onDay.ReplaceAllString(r.text[at:piece[1]], ""))
		b.WriteString(" , ")
	}
	return strings.Trim(strings.ReplaceAll(b.String(), "\n", " "), " ,.:;-/()")
}
