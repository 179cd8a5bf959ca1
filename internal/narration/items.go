package narration

import (
	"slices"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// An item is one thing that a sentence speaks of. What is no item is text between items.
type item struct {
	is       itemKind
	from, to int // in the text of the document
	list     []string
	n        int       // of a count; of a visit its number
	day      foundDate // of aDay
	after    dayWord   // of aDay that is told by a word: today, yesterday
	cover    survey.Substrate
	measure  lexicon.Measure
	marked   bool // nests that are called nests: "nest 4", "el 4", "#4"; lines that stand in a list
	each     bool // of a count: for each line
}

type itemKind uint8

const (
	aLine     itemKind = iota
	allLines           // both lines, every line
	someNests          // nests by their numbers, or numbers that could be such
	nestCount          // 8 nests
	theRest            // the others, all of them
	noneOf             // none of them
	oddNests
	evenNests
	firstNests // the first three; of the last three n is -3
	lastNests
	inTurn // every other one
	aCover
	aDay
	aVisit
	aSetting
	aCheck
	aCount // counting clumps
	aMeasure
	aNumber // that is no nest: a count of something else
	aBut
	aComma
	anAnd
	aSame
	aCorrection
	aSum  // how many of how many were left
	aName // of a pasture, as it turned out
)

type dayWord uint8

const (
	noWord dayWord = iota
	today
	yesterday
	dayBefore
	sameDay
	onWeekday
	later   // so many days or weeks after the day before
	ofMonth // the day of a month that is not named again: "the 25th", "el 21"
)

// scanner finds the items of one sentence.
type scanner struct {
	*teller
	t      []token
	out    []item
	states []stateAt
}

// A stateAt is where words stand that tell what was found.
type stateAt struct{ from, to int }

// scan finds the items of a sentence in order.
func (r *teller) scan(s *sentence) ([]item, []stateAt) {
	sc := &scanner{teller: r, t: r.tokens[s.from:s.to]}
	covers := sc.words(s)
	next := 0
	for i := 0; i < len(sc.t); {
		for next < len(covers) && covers[next].from < sc.t[i].from {
			next++
		}
		if n := sc.one(i); n > 0 {
			i += n
			continue
		}
		if next < len(covers) && covers[next].from == sc.t[i].from {
			sc.out = append(sc.out, covers[next])
			for i < len(sc.t) && sc.t[i].from < covers[next].to {
				i++
			}
			continue
		}
		i++
	}
	for _, it := range sc.out {
		switch it.is {
		case firstNests, lastNests: // no eggs are meant
			sc.states = slices.DeleteFunc(sc.states, func(st stateAt) bool { return st.from < it.to && st.to > it.from })
			continue
		case aLine: // no creek is meant where the line is called so
			sc.states = slices.DeleteFunc(sc.states, func(st stateAt) bool { return st.from >= it.from && st.to <= it.to })
			continue
		case theRest: // "todos bien": the first word says who, the second what was found
		default:
			continue
		}
		for k := range sc.states {
			if st := &sc.states[k]; st.from < it.to && st.to > it.to {
				st.from = it.to
			}
		}
	}
	return sc.out, sc.states
}

// words finds the covers of a sentence, and where words stand that tell what was found.
func (sc *scanner) words(s *sentence) (covers []item) {
	from, to := sc.t[0].from, sc.t[len(sc.t)-1].to
	tokens := lexicon.Scan(sc.text[from:to])
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = t.Word
	}
	for i := 0; i < len(tokens); i++ {
		a := from + tokens[i].From
		if sc.inDay(a) {
			continue
		}
		if c, n := sc.lex.CoverAt(words, i); n > 0 && c.How != lexicon.Misspelt && !crosses(words[i:i+n]) && !sc.isPlace(a, from+tokens[i+n-1].To) {
			covers = append(covers, item{is: aCover, from: a, to: from + tokens[i+n-1].To, cover: c.Substrate})
			if n == 1 {
				sc.coverWords[words[i]] = c.Substrate
			}
			i += n - 1
			continue
		}
		if own, ok := sc.ownCovers[words[i]]; ok {
			covers = append(covers, item{is: aCover, from: a, to: from + tokens[i].To, cover: own})
			continue
		}
		if mark, n := sc.lex.PhraseAt(words, i); n > 0 && tellsState(mark, words[i:i+n]) && !crosses(words[i:i+n]) && !(n == 1 && (words[i] == "there" && sc.placeThere(a) || sc.isName(a))) && !sc.leadsToCover(words, i+n-1) {
			sc.states = append(sc.states, stateAt{a, from + tokens[i+n-1].To})
			i += n - 1
			continue
		}
		if sc.standing(words, i, sc.text[from+tokens[i].To:to]) {
			sc.states = append(sc.states, stateAt{a, from + tokens[i].To})
			continue
		}
		if _, n := sc.lex.AnimalAt(words, i); n > 0 && len(words[i]) > 3 && !crosses(words[i:i+n]) && !sc.isName(a) {
			sc.states = append(sc.states, stateAt{a, from + tokens[i+n-1].To})
			i += n - 1
		}
	}
	return covers
}

// standing tells whether a word says that nests are still there, or behind a number that nothing is: "quedan el 1 y el 4", "only 1
// and 6 left", "3 nada".
func (sc *scanner) standing(words []string, i int, behindIt string) bool {
	behind := i > 0 && lexicon.Digit(words[i-1][0])
	switch words[i] {
	case "quedan", "quedaban":
		return i+1 < len(words) && (words[i+1] == "el" || words[i+1] == "los" || lexicon.Digit(words[i+1][0]))
	case "made":
		return strings.HasPrefix(behindIt, " it") && !strings.Contains(behindIt, " of ")
	case "left":
		return behind && (slices.Contains(words[:i], "only") || slices.Contains(words[:i], "just"))
	case "nada", "nothing":
		return behind && (i+1 == len(words) || !letterFirst(words[i+1]))
	}
	return false
}

// leadsToCover tells whether the word at i leads to a cover, as in "all in grass".
func (sc *scanner) leadsToCover(words []string, i int) bool {
	if words[i] != "in" && words[i] != "en" || i+1 == len(words) {
		return false
	}
	_, n := sc.lex.CoverAt(words, i+1)
	return n > 0
}

// inDay tells whether a place lies within a day.
func (r *teller) inDay(at int) bool {
	k, _ := slices.BinarySearchFunc(r.dates, at+1, func(f foundDate, at int) int { return f.from - at })
	return k > 0 && at < r.dates[k-1].to
}

// placeThere tells whether "there" says where or that something is, and not that the eggs were.
func (sc *scanner) placeThere(place int) bool {
	i := sc.tokenAt(place)
	t := sc.tokens
	switch at(t, i+1) {
	case "is", "was", "were", "are", "had", "be", "aint", "should", "must", "may", "isnt", "wasnt", "werent", "s":
		return true
	}
	switch at(t, i-1) {
	case "up", "down", "over", "out", "in", "from", "get", "got", "go", "went", "around", "been", "near", "grass", "through":
		return true
	}
	return false
}

// isName tells whether a word with a capital stands within a sentence: the pasture El Cuervo is no crow.
func (sc *scanner) isName(at int) bool {
	if c := sc.text[at]; c < 'A' || c > 'Z' {
		return false
	}
	before := strings.TrimRight(sc.text[max(0, at-8):at], " ")
	if before == "" {
		return false
	}
	c := before[len(before)-1]
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80
}

// isPlace tells whether the name of a plant is that of a pasture: "en El Mezquite", "the Sotol pasture".
func (sc *scanner) isPlace(from, to int) bool {
	i, k := sc.tokenAt(from), sc.tokenAt(to)
	switch at(sc.tokens, k) {
	case "pasture", "paddock", "allotment":
		return true
	}
	if !sc.isName(from) {
		return false
	}
	switch at(sc.tokens, i-1) {
	case "el", "la", "los", "las", "potrero":
		return true
	}
	return false
}

func crosses(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool {
		return w == "." || w == ";" || w == "," || w == "(" || w == ")" || w == "\n" || w == ":"
	})
}

// tellsState leaves out phrases that tell what was found in a cell of their own, and anything in a sentence.
func tellsState(m lexicon.Mark, words []string) bool {
	if m == lexicon.SetOut || m == lexicon.Yes || m == lexicon.No || m == lexicon.Unknown || m == lexicon.Skipped {
		return false
	}
	if len(words) > 1 {
		return true
	}
	return !faintWords[words[0]] && !sameWords[words[0]] && (len([]rune(words[0])) > 1 || words[0] == "√")
}

var faintWords = wordSet(`eggs egg huevos i x right here well over out all todo todos todas done made sun wind rain river start stock people person res tractor heat full live shell
	shells agua calor new na nc et got creek arroyo animal ahi ai weather closed finished mower fire horse horses pulled bull bulls left place put failed storm lake pond slough canal presa hay
	acabo acabado toro toros caballo caballos mula burro hoof sheep ganado lluvia llovio frost water wet mud muddy tormenta lodo granizo hail`)

// one reads the item at token i and returns how many tokens it takes, 0 for none.
func (sc *scanner) one(i int) int {
	for _, read := range []func(int) int{sc.date, sc.clock, sc.dayWord, sc.line, sc.visit, sc.correction, sc.ends, sc.sum, sc.eggs, sc.measure, sc.units, sc.count, sc.nests, sc.parity, sc.rest, sc.verb, sc.joint} {
		if n := read(i); n > 0 {
			return n
		}
	}
	return 0
}

func (sc *scanner) add(i, n int, it item) int {
	it.from, it.to = sc.t[i].from, sc.t[i+n-1].to
	sc.out = append(sc.out, it)
	return n
}

// skip passes tokens that are no item and hold no number of a nest.
func (sc *scanner) skip(i, n int) int { return sc.add(i, n, item{is: aNumber, n: -1}) }

func (sc *scanner) is(i int, list ...string) bool {
	w := at(sc.t, i)
	return w != "" && slices.Contains(list, w)
}

// date takes a day that was found before. It may reach over several tokens.
func (sc *scanner) date(i int) int {
	k, ok := slices.BinarySearchFunc(sc.dates, sc.t[i].from, func(f foundDate, at int) int { return f.from - at })
	if !ok {
		if n := sc.shortDay(i); n > 0 {
			return n
		}
		return sc.dayOfYear(i)
	}
	n := 0
	for i+n < len(sc.t) && sc.t[i+n].from < sc.dates[k].to {
		n++
	}
	return sc.add(i, n, item{is: aDay, day: sc.dates[k]})
}

// shortDay reads a day by its number alone in the row of a nest, where another row has the whole: "1 grass May 17 ok, May 31 ok" and
// below it "2 yucca 17 ok, 31 gone".
func (sc *scanner) shortDay(i int) int {
	t := sc.t
	if i == 0 || t[i].kind != digits || t[i].num < 10 || t[i].num > 31 || t[i].num != float64(int(t[i].num)) || t[0].kind != digits || i+1 >= len(t) || t[i+1].kind != letters || t[i+1].glued {
		return 0
	}
	if t[i-1].kind != letters && !(i > 1 && t[i-1].word == "," && t[i-2].kind == letters) || eggWords[t[i+1].word] || otherUnits[t[i+1].word] || stepUnits[t[i+1].word] || sc.is(i-1, "and", "y", "to", "al", "nest", "nido") || sc.is(i+1, "and", "y", "to", "al") {
		return 0
	}
	found := foundDate{}
	for _, f := range sc.dates {
		if f.Form == lexicon.TextDate && f.B == int(t[i].num) {
			if found.to > 0 && found.A != f.A {
				return 0 // of two months
			}
			found = f
		}
	}
	if found.to == 0 {
		return 0
	}
	found.from, found.to = t[i].from, t[i].to
	return sc.add(i, 1, item{is: aDay, day: found})
}

// dayOfYear reads "day 136" in a text that counts the days of the year.
func (sc *scanner) dayOfYear(i int) int {
	if !sc.is(i, "day", "dia", "doy") || i+1 >= len(sc.t) || sc.t[i+1].kind != digits || sc.t[i+1].num < 60 || sc.t[i+1].num > 366 || sc.t[i+1].num != float64(int(sc.t[i+1].num)) {
		return 0
	}
	return sc.add(i, 2, item{is: aDay, day: foundDate{Date: lexicon.Date{Form: lexicon.AfterDate, After: -int(sc.t[i+1].num)}, from: sc.t[i].from, to: sc.t[i+1].to}})
}

// clock passes the time of day: 19:04, 6 41 PM, 8 am.
func (sc *scanner) clock(i int) int {
	if sc.t[i].kind != digits {
		return 0
	}
	n := 1
	if sc.is(i+1, ":") && i+2 < len(sc.t) && sc.t[i+1].glued && sc.t[i+2].glued && sc.t[i+2].kind == digits {
		n = 3
		if sc.is(i+3, ":") && i+4 < len(sc.t) && sc.t[i+4].kind == digits && sc.t[i+3].glued {
			n = 5
		}
	}
	half := func(k int) int {
		switch {
		case sc.is(k, "am", "pm"):
			return 1
		case sc.is(k, "a", "p") && sc.is(k+1, ".") && sc.is(k+2, "m"):
			return 3
		}
		return 0
	}
	if h := half(i + n); h > 0 {
		return sc.skip(i, n+h)
	}
	if n == 1 && i+1 < len(sc.t) && sc.t[i+1].kind == digits {
		if h := half(i + 2); h > 0 {
			return sc.skip(i, 2+h)
		}
	}
	if n > 1 {
		return sc.skip(i, n)
	}
	return 0
}

var weekdays = words(`monday 1 tuesday 2 wednesday 3 thursday 4 friday 5 saturday 6 sunday 7 lunes 1 martes 2 miercoles 3 jueves 4 viernes 5 sabado 6 domingo 7
	mon 1 tue 2 tues 2 wed 3 weds 3 thu 4 thur 4 thurs 4 fri 5 sat 6 sun 7`)

// dayWord reads days told by words.
func (sc *scanner) dayWord(i int) int {
	say := func(n int, w dayWord, k int) int { return sc.add(i, n, item{is: aDay, after: w, n: k}) }
	switch w := at(sc.t, i); {
	case sc.is(i, "today", "hoy", "tonight"):
		return say(1, today, 0)
	case w == "this" && sc.is(i+1, "morning", "afternoon", "evening"), w == "esta" && sc.is(i+1, "manana", "tarde"):
		return say(2, today, 0)
	case w == "day" && sc.is(i+1, "before") && sc.is(i+2, "yesterday"):
		return say(3, dayBefore, 0)
	case sc.is(i, "antier", "anteayer", "antes") && (w != "antes" || sc.is(i+1, "de") && sc.is(i+2, "ayer")):
		if w == "antes" {
			return say(3, dayBefore, 0)
		}
		return say(1, dayBefore, 0)
	case sc.is(i, "yesterday", "ayer") && sc.is(i-1, "like", "as", "que", "como", "than"): // "igual que ayer"
		return sc.skip(i, 1)
	case sc.is(i, "yesterday", "ayer"):
		return say(1, yesterday, 0)
	case sc.is(i, "same", "mismo") && sc.is(i+1, "day", "dia", "afternoon", "morning", "evening", "trip"):
		return say(2, sameDay, 0)
	case w == "next" && sc.is(i+1, "day"), w == "dia" && sc.is(i+1, "siguiente"):
		return say(2, later, 1)
	case w == "otro" && sc.is(i+1, "dia"):
		return say(2, later, 1)
	}
	if n, day := sc.dayOfMonth(i); n > 0 {
		return say(n, ofMonth, day)
	}
	if k, ok := weekdays[at(sc.t, i)]; ok && len(at(sc.t, i)) > 3 {
		return say(1, onWeekday, int(k))
	}
	return sc.daysLater(i)
}

// dayOfMonth reads "the 25th", and "el 21 revisamos".
func (sc *scanner) dayOfMonth(i int) (n, day int) {
	t := sc.t
	if sc.now.day == 0 || !sc.is(i, "the", "el") || i+1 >= len(t) || t[i+1].kind != digits || t[i+1].num < 1 || t[i+1].num > 31 || t[i+1].num != float64(int(t[i+1].num)) || sc.startsDate(i+1) {
		return 0, 0
	}
	day = int(t[i+1].num)
	switch {
	case sc.is(i+2, "th", "st", "nd", "rd") && t[i+2].glued && !sc.visitWord(i+3) && !nestWords[at(t, i+3)]:
		return 3, day
	case sc.is(i, "el") && (checkVerbs[at(t, i+2)] || setVerbs[at(t, i+2)] || sc.is(i+2, "fui", "fuimos", "hice", "se", "encontramos", "encontre") && (checkVerbs[at(t, i+3)] || setVerbs[at(t, i+3)] || !sc.is(i+2, "se"))):
		return 2, day
	}
	return 0, 0
}

// daysLater reads "two weeks later", "14 days after".
func (sc *scanner) daysLater(i int) int {
	v, n := numberAt(sc.t, i)
	if n == 0 || v < 1 || v > 60 || v != float64(int(v)) {
		return 0
	}
	per := 0
	switch {
	case sc.is(i+n, "day", "days", "dia", "dias"):
		per = 1
	case sc.is(i+n, "week", "weeks", "semana", "semanas", "wk", "wks"):
		per = 7
	}
	if per > 0 && sc.is(i+n+1, "later", "after", "despues") {
		return sc.add(i, n+2, item{is: aDay, after: later, n: int(v) * per})
	}
	return 0
}

var lineWords = wordSet(`line lines linea lineas linia linias transect transects transecto transectos trans ln lin`)

// line reads the name of a line, or of several.
func (sc *scanner) line(i int) int {
	t := sc.t
	w := at(t, i)
	if n := sc.everyLine(i); n > 0 {
		return n
	}
	if n := sc.namedLine(i); n > 0 {
		return n
	}
	switch {
	case lineWords[w]:
		k := i + 1
		for sc.is(k, "no", "num", "nos", "number", "numero", ".", "#", ":", "nums") && (at(t, k) != "." || k > i+1) {
			k++
		}
		list, n := sc.lineList(k, w[len(w)-1] == 's')
		if n == 0 {
			return 0
		}
		return sc.add(i, k+n-i, item{is: aLine, list: list})
	case (w == "l" || w == "t") && i+1 < len(t) && t[i+1].kind == digits && t[i+1].glued && t[i+1].num < 100 && t[i+1].num == float64(int(t[i+1].num)) && !(i+2 < len(t) && t[i+2].kind == letters && t[i+2].glued):
		list, n := []string{strconv.Itoa(int(t[i+1].num))}, 2
		for sc.is(i+n, "and", "y", "&", ",", "+", "e") && at(t, i+n+1) == w && i+n+2 < len(t) && t[i+n+2].kind == digits && t[i+n+2].glued {
			list, n = append(list, strconv.Itoa(int(t[i+n+2].num))), n+3
		}
		return sc.add(i, n, item{is: aLine, list: list})
	case w == "la" && sc.feminine && i+1 < len(t) && (sc.is(i-1, "de", "en", "revise", "reviso", "hice", "vi", "revisamos", "anduve", "camine", "fui") || sc.is(i-1, "a")): // "hoy revise la 1", "la segunda vuelta de la 2"
		if v, n := numberAt(t, i+1); n > 0 && v == float64(int(v)) && sc.knownLine(strconv.Itoa(int(v))) && !sc.is(i+1+n, "de", "am", "pm", ":") {
			return sc.add(i, 1+n, item{is: aLine, list: []string{strconv.Itoa(int(v))}})
		}
	}
	return 0
}

func (sc *scanner) knownLine(name string) bool { return sc.lineNames[name] }

// everyLine reads "both lines", "all three lines", "every line", "las dos lineas".
func (sc *scanner) everyLine(i int) int {
	k := i
	switch {
	case sc.is(i, "both", "all", "every", "each", "ambas", "cada"):
		k++
	case sc.is(i, "las", "todas"):
		if k++; sc.is(k, "las") {
			k++
		}
		if _, n := numberAt(sc.t, k); n == 0 && at(sc.t, i) != "todas" {
			return 0
		}
	default:
		_, n := numberAt(sc.t, i)
		if n == 0 || !linesWord(at(sc.t, i+n)) || !sc.is(i+n+1, "of", "de", "with", "con") || !sc.numberFollows(i+n+2) {
			return 0
		}
		return sc.add(i, n+1, item{is: allLines}) // "two lines of 8"
	}
	for sc.is(k, "of", "the", "our", "my", "las", "mis") {
		k++
	}
	if _, n := numberAt(sc.t, k); n > 0 {
		k += n
	}
	if !sc.is(k, "lines", "line", "lineas", "linea", "transects", "transect", "transectos") {
		return 0
	}
	return sc.add(i, k+1-i, item{is: allLines})
}

// lineList reads the names after the word line: 3, 1 and 2, 1 to 4, A.
func (sc *scanner) lineList(k int, plural bool) (list []string, n int) {
	t := sc.t
	one := func(k int) (string, int) {
		if k >= len(t) {
			return "", 0
		}
		if t[k].kind == digits && t[k].num == float64(int(t[k].num)) && t[k].num < 1000 {
			if sc.startsDate(k) {
				return "", 0
			}
			return strconv.Itoa(int(t[k].num)), 1
		}
		if t[k].kind == letters && len(t[k].word) == 1 && t[k].to-t[k].from == 1 {
			up := sc.text[t[k].from] >= 'A' && sc.text[t[k].from] <= 'Z'
			if k+1 < len(t) && t[k+1].kind == digits && t[k+1].glued { // line A1
				return strings.ToUpper(t[k].word) + t[k+1].word, 2
			}
			if up && !(k+1 < len(t) && t[k+1].glued && t[k+1].kind == letters) || !up && t[k].word <= "h" && t[k].word != "a" && t[k].word != "e" {
				return strings.ToUpper(t[k].word), 1
			}
			return "", 0
		}
		if v, m := wordNumberAt(t, k); m > 0 && v < 100 && v == float64(int(v)) {
			return strconv.Itoa(int(v)), m
		}
		return "", 0
	}
	first, m := one(k)
	if m == 0 {
		return nil, 0
	}
	list, n = []string{first}, m
	for plural {
		j := k + n
		through := false
		for sc.is(j, ",", "and", "y", "&", "e", "to", "thru", "through", "al", "a", "-", "line", "linea") {
			through = through || sc.is(j, "to", "thru", "through", "al", "a", "-")
			j++
		}
		next, m := one(j)
		if m == 0 || j == k+n || sc.is(j+m, "nests", "nest", "nidos", "nido", "each", "apiece", "cada") { // "lines 1 and 2, eight nests on each"
			break
		}
		a, err1 := strconv.Atoi(list[len(list)-1])
		b, err2 := strconv.Atoi(next)
		if through && err1 == nil && err2 == nil && b > a && b-a < 50 {
			for v := a + 1; v < b; v++ {
				list = append(list, strconv.Itoa(v))
			}
		}
		list, n = append(list, next), j+m-k
	}
	return list, n
}

// visit reads which check of the season is spoken of: "first look", "segunda vuelta", "2 wk", "four week check".
func (sc *scanner) visit(i int) int {
	k := i
	for sc.is(k, "a", "las") && k < i+2 {
		k++
	}
	v, n := numberAt(sc.t, k)
	if n > 0 && (v == 2 || v == 4 || v == 14 || v == 28) {
		j := k + n
		if sc.is(j, "-") {
			j++
		}
		weeks := sc.is(j, "week", "weeks", "wk", "wks", "sem", "semana", "semanas")
		if weeks && v <= 4 || sc.is(j, "day", "days", "dia", "dias") && v > 4 {
			j++
			for sc.is(j, "look", "looks", "check", "visit", "walk", "round", "revision", "vuelta", ".", "mark") {
				j++
			}
			if sc.is(j, "to") || sc.is(j, "later", "after", "despues") {
				return 0
			}
			visit := int(v) / 2
			if v > 4 {
				visit = int(v) / 14
			}
			return sc.add(i, j-i, item{is: aVisit, n: visit})
		}
	}
	which := 0
	switch {
	case sc.is(i, "first", "1st", "primera", "primer"):
		which = 1
	case sc.is(i, "second", "2nd", "segunda", "segundo"):
		which = 2
	case sc.is(i, "third", "3rd", "tercera", "tercer"):
		which = 3
	case sc.is(i, "last", "final", "ultima", "ultimo"):
		which = lexicon.Last
	case sc.t[i].kind == digits && i+1 < len(sc.t) && sc.t[i+1].glued && sc.is(i+1, "st", "nd", "rd", "a", "ra", "da"):
		if sc.visitWord(i + 2) {
			return sc.add(i, 3, item{is: aVisit, n: int(sc.t[i].num)})
		}
	}
	if which != 0 && sc.visitWord(i+1) {
		return sc.add(i, 2, item{is: aVisit, n: which})
	}
	if next := at(sc.t, i+1); which != 0 && sc.is(i-1, "the", "la") && sc.is(i-2, "by", "at", "on", "en", "para", "a") && (next == "" || sc.t[i+1].kind != letters) && slices.ContainsFunc(sc.out, func(it item) bool { return it.is == aVisit }) {
		return sc.add(i, 1, item{is: aVisit, n: which}) // "good the first time, eaten by the second"
	}
	return 0
}

func (sc *scanner) visitWord(i int) bool {
	return sc.is(i, "look", "check", "visit", "trip", "time", "round", "walk", "pass", "revision", "vuelta", "visita", "vez", "ronda", "go")
}

var correctionWords = wordSet(`scratch correction oops wrong mistake mistaken mistook equivoque equivoco equivocado equivocada corrijo correccion perdon sorry mixed confundi confundido crossed fix swapped switched`)

// correction finds words by which something said before is taken back.
func (sc *scanner) correction(i int) int {
	if sc.is(i, "swapped", "switched") && (sc.is(i-1, "eggs", "huevos") || sc.is(i+1, "out", "eggs", "for", "the", "in")) {
		return 0
	}
	if correctionWords[at(sc.t, i)] && !(sc.is(i, "sorry", "perdon") && !sc.is(i+1, ",", "-", ".") && i+1 < len(sc.t)) && !(i > 0 && sc.is(i, "sorry") && i+1 == len(sc.t)) {
		return sc.add(i, 1, item{is: aCorrection})
	}
	return 0
}

var (
	lastedWords = wordSet(`left made survived lasted intact good remain remained whole ok quedan quedaron duraron aguantaron`)
	sumWords    = wordSet(`it are were still nests nest had out todavia nidos`)
)

// sum takes how many nests of how many were left, as people sum up: "so 13 made it out of 24". It is held against the nests.
func (sc *scanner) sum(i int) int {
	left, n := numberAt(sc.t, i)
	if n == 0 || left != float64(int(left)) {
		return 0
	}
	k, lasted := i+n, false
	for ; sumWords[at(sc.t, k)] || lastedWords[at(sc.t, k)]; k++ {
		lasted = lasted || lastedWords[at(sc.t, k)]
	}
	if !sc.is(k, "of", "de") {
		return 0
	}
	for k++; sc.is(k, "the", "los"); k++ {
	}
	all, m := numberAt(sc.t, k)
	if m == 0 || all <= 6 || all < left || all != float64(int(all)) { // so few may be eggs
		return 0
	}
	for k += m; sumWords[at(sc.t, k)] || lastedWords[at(sc.t, k)]; k++ {
		lasted = lasted || lastedWords[at(sc.t, k)]
	}
	if !lasted {
		return 0
	}
	sc.sums = append(sc.sums, toldSum{int(left), int(all), sc.now.lines, sc.now.day, sc.span(sc.t[i].from, sc.t[k-1].to)})
	return sc.add(i, k-i, item{is: aSum})
}

var eggWords = wordSet(`egg eggs huevo huevos blanquillo blanquillos`)

// eggs passes counts of eggs, which are no nests: 3 huevos, 2 of 3, two out of the three, all 3, los 3, solo 1, one left.
func (sc *scanner) eggs(i int) int {
	t := sc.t
	if sc.is(i-1, "#") || nestWords[at(t, i-1)] && t[i].kind == digits {
		return 0 // "#2 eggs gone"
	}
	lead := i
	for sc.is(lead, "all", "los", "todos", "the", "las", "only", "solo", "nomas", "just", "still", "had", "its", "sus", "estaban", "quedaron", "quedaban", "quedo", "quedan", "faltan", "faltaban", "faltaron", "falto", "left", "both", "con") && lead < i+3 {
		lead++
	}
	v, n := numberAt(t, lead)
	if n == 0 || v > 12 || v != float64(int(v)) || lead+n <= i {
		return 0
	}
	k := lead + n
	of := false
	if sc.is(k, "of", "de", "/", "out") {
		j := k + 1
		for sc.is(j, "of", "the", "los", "its", "sus", "las") {
			j++
		}
		if m, c := numberAt(t, j); c > 0 && m >= v && m <= 6 && m > 0 && (at(t, k) != "de" || m <= 3) {
			k, of = j+c, true
		}
	}
	unit := eggWords[at(t, k)] && v <= 4 && (of || lead > i || sc.countsEggs(k))
	if unit {
		k++
	}
	wholeThree := lead > i && (sc.is(i, "all", "los", "todos", "its", "sus", "still", "estaban") || sc.is(lead-1, "los", "all")) && v == 3 && !sc.goesOn(k)
	some := lead > i && v <= 3 && (sc.is(lead-1, "only", "solo", "nomas", "just", "quedaron", "quedaban", "quedo", "quedan")) && !sc.goesOn(k)
	ofNest := lead == i && i > 1 && t[i-1].kind == digits && (t[i-2].word == "#" || nestWords[t[i-2].word]) // "#2 2 left"
	left := (v <= 3) && (t[lead].kind == letters || ofNest) && sc.is(k, "left", "gone", "missing", "remain", "remaining", "remained", "quedaron", "quedo") && !sc.goesOn(k)
	if !unit && !of && !wholeThree && !some && !left {
		return 0
	}
	// words that count the eggs stay text for the reading of what was found
	sc.eggsAt = append(sc.eggsAt, stateAt{t[i].from, t[k-1].to})
	if of || wholeThree || some || left || unit && (lead > i || sc.is(k, "left", "gone", "there", "missing", "quedaron", "quedan")) {
		sc.states = append(sc.states, stateAt{t[i].from, t[k-1].to})
	}
	return k - i
}

// countsEggs tells whether the word for eggs at token k belongs to a count and not to a nest: "5 eggs busted" is nest 5.
func (sc *scanner) countsEggs(k int) bool {
	next := at(sc.t, k+1)
	return next == "" || sc.t[k+1].kind != letters || sc.is(k+1, "left", "gone", "there", "missing", "each", "apiece", "per", "a", "in", "to", "of", "cada", "por", "en", "de", "todos", "y", "and", "were", "was", "rolled", "kicked", "out", "quedaron", "quedo", "faltan", "remain", "remaining", "still", "all", "for", "on", "el", "lo")
}

// goesOn tells whether a list of numbers goes on at token i.
func (sc *scanner) goesOn(i int) bool {
	if !sc.is(i, ",", "and", "y", "&", "-", "to", "al", "thru", "through", "e") {
		return false
	}
	k := i + 1
	for sc.is(k, "el", "la", "los", "the", "and", "y") {
		k++
	}
	_, n := numberAt(sc.t, k)
	return n > 0 && !eggWords[at(sc.t, k+n)] && !sc.startsDate(k)
}

// startsDate tells whether token k begins a day.
func (sc *scanner) startsDate(k int) bool {
	if k >= len(sc.t) {
		return false
	}
	_, ok := slices.BinarySearchFunc(sc.dates, sc.t[k].from, func(f foundDate, at int) int { return f.from - at })
	return ok
}

var stepUnits = wordSet(`step steps pace paces paso pasos`)

// measure reads lengths, areas and steps: 240 steps, six feet, 2 ft 9 in, 44 rods, 150 metros.
func (sc *scanner) measure(i int) int {
	v, n := numberAt(sc.t, i)
	if n == 0 {
		return 0
	}
	k := i + n
	for sc.is(k, "-") && k == i+n || sc.is(k, "of", "my", "his", "her", "our", "de", "mis", "sus") && sc.stepsFollow(k) {
		k++
	}
	u := at(sc.t, k)
	if u == "" {
		return 0
	}
	m, ok := sc.measureOf(v, u, k)
	if !ok {
		return 0
	}
	n = k + 1 - i
	if m.Feet > 0 {
		if v2, n2 := numberAt(sc.t, i+n); n2 > 0 && v2 < 12 && (i+n+n2 >= len(sc.t) && (u == "ft" || u == "feet" || u == "foot") && v < 10 || sc.is(i+n+n2, "in", "inch", "inches", "pulgadas") && (u == "ft" || u == "feet" || u == "foot" || u == "pies")) {
			m.Feet += v2 / 12
			n = min(n+n2+1, len(sc.t)-i)
		}
		if sc.is(i+n, "and", "y") && sc.is(i+n+1, "a") && sc.is(i+n+2, "half") || sc.is(i+n, "y") && sc.is(i+n+1, "medio") { // dos pies y medio
			per, _ := lexicon.FeetPer(u)
			m.Feet += per / 2
			if n += 2; sc.is(i+n, "half") {
				n++
			}
		}
	}
	if sc.is(i+n, ".") && i+n+1 < len(sc.t) && sc.t[i+n].glued {
		n++
	}
	return sc.add(i, n, item{is: aMeasure, measure: m})
}

func (sc *scanner) stepsFollow(k int) bool {
	for j := k; j < k+3; j++ {
		if stepUnits[at(sc.t, j)] {
			return true
		}
	}
	return false
}

// measureOf is a number with its unit, at token k.
func (sc *scanner) measureOf(v float64, u string, k int) (m lexicon.Measure, ok bool) {
	switch {
	case stepUnits[u]:
		return lexicon.Measure{Steps: v}, true
	case u == "acre" || u == "acres" || u == "ac":
		return lexicon.Measure{Acres: v}, true
	case lexicon.IsHectare(u):
		return lexicon.Measure{Acres: v * lexicon.AcresPerHectare}, true
	case u == "in" && !(k+1 >= len(sc.t) || sc.is(k+1, ".", ",", "wide", "long", ")")), u == "a", u == `"`, u == "ch", u == "m" && !sc.t[k].glued && v < 5, u == "d":
		return m, false
	}
	if per, known := lexicon.FeetPer(u); known {
		return lexicon.Measure{Feet: v * per}, true
	}
	if per := sc.ownUnits[u]; per > 0 {
		return lexicon.Measure{Feet: v * per}, true
	}
	return m, false
}

// otherUnits are things that are counted and are no nests.
var otherUnits = wordSet(`doc docs day days week weeks wk wks month months year years yr yrs hour hours hr hrs minute minutes min mins doz dozen dozens dollar dollars mph degree degrees percent head
	cow cows bull bulls calf calves heifer heifers pair pairs steer steers horse horses mile miles gate gates people men man kids boys girls guys hand hands box boxes bag bags carton cartons time times truck trucks dog dogs
	deer antelope bird birds hen hens quail grouse flag flags lines line strip strips belt belts wire wires post posts bale bales trip trips visit visits pound pounds lb lbs gallon gallons gal
	dia dias semana semanas sem mes meses ano anos hora horas minuto minutos docena docenas peso pesos kilo kilos grados veces vez hombres muchachos personas caja cajas vaca vacas toro toros becerros becerro bandera banderas lineas linea potreros
	o clock am pm st nd rd th more extra tracks huellas grande fingers stakes trucks loads rolls times acres`)

// oneOnly are units that stand so behind a one only.
var oneOnly = wordSet(`cow bull calf heifer pair steer horse mile gate person man kid boy girl guy hand box bag carton truck dog bird hen flag line strip belt wire post bale trip visit pound hour minute day week month year
	dia semana mes hora minuto docena peso kilo vez muchacho caja vaca toro becerro bandera linea degree percent dollar`)

// units passes numbers of other things: 7 doz, two days, $17.50, 96 degrees.
func (sc *scanner) units(i int) int {
	t := sc.t
	if sc.is(i, "$", "+") && i+1 < len(t) && t[i+1].kind == digits {
		return sc.skip(i, 2)
	}
	v, n := numberAt(t, i)
	if n == 0 {
		return 0
	}
	k := i + n
	switch {
	case sc.is(k, "por", "by", "x", "×") && sc.numberFollows(k+1) && !sc.is(k, "by") || sc.is(i-1, "por", "by", "x", "×") && i > 1 && (t[i-2].kind == digits || stepUnits[at(t, i-2)] || knownUnit(at(t, i-2))): // 150 por 2
		return sc.add(i, n, item{is: aNumber, n: ofBelt})
	case v != 1 && oneOnly[at(t, k)]: // "4 cow laid on it" tells of nest 4
	case otherUnits[at(t, k)] && !(sc.is(k, "st", "nd", "rd", "th", "o") && !t[k].glued) && !sc.is(k, "line", "linea", "lines"):
		return sc.skip(i, n+1)
	case t[i].kind == digits && v != float64(int(v)): // .80, 2.5
		return sc.skip(i, n)
	case sc.is(k, "%", "+", "°") && t[k].glued:
		return sc.skip(i, n+1)
	case v >= 1000:
		return sc.skip(i, n)
	}
	return 0
}

// count reads how many nests there are: 8 nests, son 8, eight nests on each, ten.
func (sc *scanner) count(i int) int {
	t := sc.t
	lead := 0
	if sc.is(i, "son", "fueron") || i > 0 && sc.is(i, "of", "de", "with", "con") && (linesWord(at(t, i-1)) || rowWords[at(t, i-1)] && !sc.is(i+1, "them", "the", "our", "our")) {
		lead = 1
	}
	v, n := numberAt(t, i+lead)
	if n == 0 || v < 1 || v > 200 || v != float64(int(v)) {
		return 0
	}
	k := i + lead + n
	if sc.is(k, "por", "per", "each", "a", "en", "on") && (lineWords[at(t, k+1)] || sc.is(k+1, "cada", "each") && lineWords[at(t, k+2)]) { // "10 por linea"
		for !lineWords[at(t, k)] {
			k++
		}
		return sc.add(i, k+1-i, item{is: nestCount, n: int(v), each: true})
	}
	if sc.is(k, "simulated", "fake", "dummy", "more", "mock", "egg") {
		k++
	}
	if !sc.is(k, "nests", "nidos", "nest", "nido", "stops") || sc.is(k, "nest", "nido") && v != 1 && !sc.is(k+1, "s") {
		if lead == 0 || sc.goesOn(k) {
			return 0
		}
		return sc.add(i, lead+n, item{is: nestCount, n: int(v)})
	}
	n = k + 1 - i
	each := sc.is(i+n, "each", "apiece", "a", "per", "cada") || sc.is(i+n, "on", "en") && sc.is(i+n+1, "each", "every", "cada", "both")
	if each {
		for sc.is(i+n, "each", "apiece", "a", "per", "cada", "on", "en", "every", "both", "una", "one", "line") {
			n++
		}
	}
	return sc.add(i, n, item{is: nestCount, n: int(v), each: each})
}

// rowWords are what people call a line too.
var rowWords = wordSet(`row line linea hilera transect transecto string`)

// linesWord tells whether a word means several lines.
func linesWord(w string) bool {
	return w == "lines" || w == "lineas" || w == "transects" || w == "transectos"
}

// ofBelt marks a number that is the length or the width of a belt.
const ofBelt = -2

func (sc *scanner) numberFollows(k int) bool { _, n := numberAt(sc.t, k); return n > 0 }

func knownUnit(u string) bool { _, ok := lexicon.FeetPer(u); return ok }

var nestWords = wordSet(`nest nests nido nidos number numbers numero numeros no nos num nums nro stop stops`)

// nests reads nests by their numbers, one or a list. Numbers that stand alone may be such too.
func (sc *scanner) nests(i int) int {
	t := sc.t
	if n := sc.id(i); n > 0 {
		return n
	}
	k := i
	marked := false
	for {
		switch {
		case nestWords[at(t, k)] || at(t, k) == "#" || at(t, k) == "n" && k+1 < len(t) && t[k+1].kind == digits && t[k+1].glued:
			marked = true
		case marked && sc.is(k, ".", "#", ":"):
		case k == i && sc.is(k, "el", "los", "del", "al", "the"):
		case k == i+1 && sc.is(i, "en") && sc.is(k, "el"):
		default:
			goto number
		}
		k++
	}
number:
	list, n := sc.numbers(k, marked)
	if n == 0 {
		return 0
	}
	article := k > i && !marked && sc.is(i, "el", "los", "del", "al")
	return sc.add(i, k+n-i, item{is: someNests, list: list, marked: marked || article || len(list) > 1})
}

// numbers reads a list of whole numbers: 1, 3 and 6; 1 thru 12; one two four and six.
func (sc *scanner) numbers(k int, marked bool) (list []string, n int) {
	t := sc.t
	one := func(k int) (int, int) {
		if k >= len(t) || t[k].kind == digits && k+1 < len(t) && t[k+1].kind == letters && t[k+1].glued && !sc.is(k+1, "y", "and") {
			return 0, 0 // 2nd, 7N
		}
		if t[k].kind == digits {
			if sc.startsDate(k) {
				return 0, 0
			}
			if t[k].num != float64(int(t[k].num)) || t[k].num > 200 {
				return 0, 0
			}
			return int(t[k].num), 1
		}
		v, m := wordNumberAt(t, k)
		if m == 0 || v != float64(int(v)) || v > 200 || sc.is(k, "un", "una", "zero", "cero", "a") {
			return 0, 0
		}
		if v == 1 && !marked && len(list) == 0 && !sc.listFollows(k+m) { // "that one", "one of them"
			return 0, 0
		}
		return int(v), m
	}
	v, m := one(k)
	if m == 0 || sc.otherThan(k, m) && !(marked && eggWords[at(t, k+m)]) {
		return nil, 0
	}
	list, n = []string{strconv.Itoa(v)}, m
	last := v
	for {
		j := k + n
		through, joint := false, false
		for j < len(t) {
			switch {
			case sc.is(j, ",", "and", "y", "&", "e", "plus"):
				joint = true
			case sc.is(j, "-", "to", "thru", "through", "hasta", "al", "a", "till") && !through && !joint:
				through = true
			case (joint || through) && sc.is(j, "el", "los", "the", "number", "no", "la", "nest", "nido", "#", "en"):
			default:
				goto next
			}
			j++
		}
	next:
		v, m := one(j)
		if m == 0 || sc.otherThan(j, m) || sc.is(j+m, "more", "mas", "other", "others", "another") {
			return list, n
		}
		if !joint && !through && (t[k].kind != letters || t[j].kind != letters) && !(marked && t[j].kind == digits && v > last && !sc.is(j+m, "left", "of", "egg", "eggs", "huevos", "gone")) && !sc.rises(k+n-1) {
			return list, n // two numbers side by side are no list unless they are called nests
		}
		if through {
			if v <= last || v-last > 200 {
				return list, n
			}
			for x := last + 1; x < v; x++ {
				list = append(list, strconv.Itoa(x))
			}
		}
		list, last, n = append(list, strconv.Itoa(v)), v, j+m-k
	}
}

// rises tells whether the number at token k stands in a run of three at least that rises, one space between them: "1 3 5 in grass".
func (sc *scanner) rises(k int) bool {
	t := sc.t
	from, to := k, k
	next := func(a int) bool { // b follows a
		if a < 0 || a+1 >= len(t) || t[a].kind != digits || t[a+1].kind != digits || t[a+1].num <= t[a].num || t[a+1].num != float64(int(t[a+1].num)) || sc.text[t[a].to:t[a+1].from] != " " {
			return false
		}
		return !sc.startsDate(a) && !sc.startsDate(a+1) && t[a+1].num < 60
	}
	for next(from - 1) {
		from--
	}
	for next(to) {
		to++
	}
	if sc.is(to+1, "and", "y", "&") && to+2 < len(t) && t[to+2].kind == digits && t[to+2].num > t[to].num {
		to++
	}
	return to-from >= 2
}

// listFollows tells whether a list or a range of numbers goes on at token k: "one through four", "one two four".
func (sc *scanner) listFollows(k int) bool {
	for sc.is(k, ",", "and", "y", "to", "thru", "through", "al", "a", "-") {
		k++
	}
	v, n := wordNumberAt(sc.t, k)
	return n > 0 && v > 1 && !sc.otherThan(k, n)
}

// otherThan tells whether the number at token j counts something else: eggs, days, steps.
func (sc *scanner) otherThan(j, m int) bool {
	w := at(sc.t, j+m)
	if v, _ := numberAt(sc.t, j); eggWords[w] && v <= 4 && sc.countsEggs(j+m) || otherUnits[w] && !(v != 1 && oneOnly[w]) && !sc.is(j+m, "line", "linea", "o", "more") || stepUnits[w] || nestWords[w] && !sc.is(j+m, "no", "nos", "number", "numbers", "nest", "nido") {
		return true
	}
	if sc.is(j+m, "of", "/", "de") {
		if v, c := numberAt(sc.t, j+m+1); c > 0 && v <= 6 {
			return true
		}
	}
	_, known := lexicon.FeetPer(w)
	return known && w != "in" && w != "m" && w != "a"
}

// id reads a name that holds a line and a nest: 1-4, A7, L2N5, where the text names nests so.
func (sc *scanner) id(i int) int {
	t := sc.t
	add := func(n int, line string, nest float64) int {
		return sc.add(i, n, item{is: someNests, list: []string{line + "\x00" + strconv.Itoa(int(nest))}, marked: true})
	}
	if t[i].kind == digits && i+2 < len(t) && (t[i+1].word == "-" || t[i+1].word == "." && false) && t[i+1].glued && t[i+2].kind == digits && t[i+2].glued && sc.dashIDs && !(i > 0 && t[i].glued && at(t, i-1) == "-") {
		if line := t[i].word; sc.idLines[line] {
			return add(3, line, t[i+2].num)
		}
	}
	if t[i].kind == letters && len(t[i].word) == 1 && i+1 < len(t) && t[i+1].kind == digits && t[i+1].glued {
		if line := strings.ToUpper(t[i].word); sc.idLines[line] && t[i+1].num == float64(int(t[i+1].num)) {
			return add(2, line, t[i+1].num)
		}
		// L2N5, L2-5
		if k := i + 2; t[i].word == "l" && k+1 < len(t) && t[k].glued && (t[k].word == "n" || t[k].word == "-") && t[k+1].kind == digits && t[k+1].glued {
			return add(4, t[i+1].word, t[k+1].num)
		}
	}
	return 0
}

// rest reads who is meant by "the rest", "all of them", "los que quedaban", "none".
func (sc *scanner) rest(i int) int {
	t := sc.t
	if sc.is(i, "both", "ambos") && len(sc.now.named) == 2 && !slices.ContainsFunc(sc.out, func(it item) bool { return refers(it.is) }) && !sc.is(i+1, "times", "looks", "checks", "visits", "lines", "of", "eggs", "veces") {
		return sc.add(i, 1, item{is: someNests, list: sc.now.named, marked: true})
	}
	if n := sc.restWords(i); n > 0 {
		count := 0
		if v, m := numberAt(t, i+n); m > 0 && v < 100 && !eggWords[at(t, i+n+m)] { // the other six
			count, n = int(v), n+m
		}
		for sc.is(i+n, "of") && sc.is(i+n+1, "them", "em", "those", "these") {
			n += 2
		}
		for sc.is(i+n, "nests", "nidos", "ones", "one", "that", "were", "was", "left", "still", "going", "remaining", "quedaban", "quedan", "seguian", "they", "had") && sc.restTail(i+n) {
			n++
		}
		return sc.add(i, n, item{is: theRest, n: count})
	}
	if sc.is(i, "none", "ninguno", "ninguna", "nothing", "nada") && (i == 0 || sc.is(i+1, "of", "de")) {
		n := 1
		for sc.is(i+n, "of", "them", "the", "nests", "de", "los", "nidos", "ellos") {
			n++
		}
		if n > 1 {
			return sc.add(i, n, item{is: noneOf})
		}
	}
	return 0
}

// restTail tells whether a word still says who is meant: "the ones that were left are all right".
func (sc *scanner) restTail(k int) bool {
	w := at(sc.t, k)
	switch w {
	case "were", "was":
		return sc.is(k+1, "left", "still", "going", "remaining")
	case "left", "going", "remaining", "quedaban", "quedan", "seguian":
		return true
	case "still":
		return sc.is(k+1, "going", "left")
	case "that":
		return sc.is(k+1, "were", "was", "are", "still", "had")
	case "they", "had":
		return false
	}
	return true
}

var restPhrases = func() map[string]int {
	m := map[string]int{}
	for _, p := range strings.Split(`the rest;rest;all the rest;all of the rest;all rest;the others;others;all the others;all others;all of the others;the other ones;other ones;the other;other;everything else;everybody else;everyone else;all else;anything else;the ones left;
		the ones that were left;ones left;ones that were left;the ones still going;those left;what was left;the remaining;remaining;the remainder;remainder;el restante;remaining ones;all remaining;every one that was left;everyone that was left;all of them;all of em;all of the nests;all the nests;all nests;all;every one;everyone;every nest;every single one;each one;everything;
		los demas;lo demas;las demas;todos los demas;todo lo demas;el resto;resto;todo el resto;los otros;las otras;otros;todos;todas;todos los nidos;los que quedaban;los que quedan;los que seguian;las que quedaban;lo que quedaba;los que faltaban;los restantes;cada uno;todos los otros;todos los que quedaban;demas;toditos;todo`, ";") {
		p = strings.Join(strings.Fields(p), " ")
		m[p] = strings.Count(p, " ") + 1
	}
	return m
}()

// restWords returns how many tokens at i say that all, or all the others, are meant.
func (sc *scanner) restWords(i int) int {
	for n := 5; n > 0; n-- {
		if i+n > len(sc.t) {
			continue
		}
		var b strings.Builder
		for k := i; k < i+n; k++ {
			if k > i {
				b.WriteByte(' ')
			}
			b.WriteString(sc.t[k].word)
		}
		if restPhrases[b.String()] == 0 {
			continue
		}
		next := at(sc.t, i+n)
		if n == 1 {
			switch sc.t[i].word {
			case "all":
				switch next {
				case "right", "over", "around", "round", "three", "3", "day", "the", "that", "is", "i", "we", "set", "eggs", "night", "morning", "along", "way", "told", "my", "our", "his", "her", "this", "in", "by", "it", "but", "done", "of", "lines":
					return 0
				}
				if sc.is(i-1, "at", "after", "them", "is", "were", "was", "are", "em") {
					return 0
				}
			case "todo", "everything":
				if next == "" || next == "el" || next == "lo" || sc.is(i-1, "up", "out", "picked", "recogimos", "recogi", "levanto", "levante", "levantamos", "junte", "juntamos", "took", "brought", "pulled", "de", "del", "es", "con") {
					return 0
				}
			case "todos", "todas":
				if next == "los" || next == "las" || sc.is(i-1, "llevaron", "si", "comieron", "llevo", "comio") {
					return 0
				}
			case "rest", "resto", "others", "otros", "demas":
				if sc.is(i-1, "to", "for") {
					return 0
				}
			}
		}
		return n
	}
	return 0
}

// ends reads "the first three", "los tres últimos".
func (sc *scanner) ends(i int) int {
	k := i
	for sc.is(k, "the", "los", "las") && k < i+1 {
		k++
	}
	v, n := numberAt(sc.t, k)
	word := k
	if n > 0 {
		word = k + n
	} else if v, n = numberAt(sc.t, k+1); n == 0 {
		return 0
	}
	is, sign := firstNests, 1
	switch at(sc.t, word) {
	case "first", "primeros", "primeras":
	case "last", "ultimos", "ultimas":
		is, sign = lastNests, -1
	default:
		return 0
	}
	if v < 2 || v > 60 || v != float64(int(v)) {
		return 0
	}
	end := k + n + 1
	if otherUnits[at(sc.t, end)] || eggWords[at(sc.t, end)] || stepUnits[at(sc.t, end)] {
		return 0
	}
	for sc.is(end, "nests", "nidos", "ones") {
		end++
	}
	return sc.add(i, end-i, item{is: is, n: sign * int(v)})
}

// parity reads odd and even nests.
func (sc *scanner) parity(i int) int {
	t := sc.t
	switch {
	case sc.is(i, "every") && sc.is(i+1, "other") && !sc.is(i+2, "day", "week", "line", "year"):
		n := 2
		for sc.is(i+n, "one", "nest") {
			n++
		}
		return sc.add(i, n, item{is: inTurn})
	case sc.is(i, "alternating", "alternated", "alternate", "alternately", "alternados", "alternando", "intercalados"):
		return sc.add(i, 1, item{is: inTurn})
	}
	k := i
	for sc.is(k, "every", "all", "the", "los", "las", "todos") {
		k++
	}
	is := oddNests
	switch at(t, k) {
	case "odd", "odds", "nones", "non", "impares", "impar":
	case "even", "evens", "pares":
		is = evenNests
	case "par":
		is = evenNests
		if !sc.is(k-1, "los", "el") {
			return 0
		}
	default:
		return 0
	}
	if sc.is(k, "even") && sc.is(k+1, "though", "if", "the", "a", "so", "when", "one") && !sc.is(k+1, "one") {
		return 0
	}
	n := k + 1 - i
	for sc.is(i+n, "number", "numbers", "numbered", "ones", "nests", "nest", "nidos", "stops", "nos", "num") {
		n++
	}
	return sc.add(i, n, item{is: is})
}

// verb finds what is being done: setting nests out, checking them, counting clumps.
func (sc *scanner) verb(i int) int {
	w := at(sc.t, i)
	switch {
	case setVerbs[w]:
		n := 1
		for sc.is(i+n, "them", "it", "out", "los", "up") {
			n++
		}
		if sc.is(i+n, "fresh", "new", "nuevos", "nuevo", "frescos", "otros", "more", "huevos", "salt", "mineral", "sal", "back", "flags", "banderas") || sc.is(i+n, "3", "three", "tres") && eggWords[at(sc.t, i+n+1)] && sc.is(i+n+2, "fresh", "new", "nuevos", "frescos") {
			return 0
		}
		if w == "put" && n == 1 { // "put the eggs out"
			for k := i + 2; k < i+6; k++ {
				if sc.is(k, "out") {
					return sc.add(i, 1, item{is: aSetting})
				}
			}
		}
		if w == "put" && n == 1 || w == "out" && !sc.is(i-1, "went", "go", "were", "was", "are", "is") {
			return 0
		}
		return sc.add(i, n, item{is: aSetting})
	case checkVerbs[w]:
		return sc.add(i, 1, item{is: aCheck})
	case countVerbs[w]:
		return sc.add(i, 1, item{is: aCount})
	}
	return 0
}

var (
	setVerbs   = wordSet(`established lista listo set put placed deployed hid laid out puse pusimos puso pusieron puesta puestas puesto puestos colocamos coloque colocados colocadas quedaron sembramos salio salieron pusimos`)
	checkVerbs = wordSet(`checked looked walked revise revisamos reviso revisado revisados revisada visited check look visit vuelta revision back anduve anduvimos camine caminamos`)
	countVerbs = wordSet(`counted count counts counting clumps clump belts belt strips strip macollos macollo matas fajas faja franjas franja conteo conte contamos contados tally`)
)

// joint finds what joins and parts: but, and, commas, same.
func (sc *scanner) joint(i int) int {
	switch at(sc.t, i) {
	case "but", "except", "excepting", "menos", "excepto", "salvo", "pero", "save", "minus", "besides":
		n := 1
		if sc.is(i+1, "for", "por") {
			n++
		}
		return sc.add(i, n, item{is: aBut})
	case "than":
		if sc.is(i-1, "other") {
			return sc.add(i, 1, item{is: aBut})
		}
	case ",", "/", "|":
		return sc.add(i, 1, item{is: aComma})
	case "and", "y", "&", "e", "then", "while":
		return sc.add(i, 1, item{is: anAnd})
	}
	if sameWords[at(sc.t, i)] {
		return sc.add(i, 1, item{is: aSame})
	}
	return 0
}

var sameWords = wordSet(`same igual ditto iguales likewise identical`)
