package narration

import (
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A Belt is one belt walked along a line, as it is told.
type Belt struct {
	Line    string
	Length  lexicon.Measure // zero where it is not told
	WidthFt float64         // 0 where it is not told
	StepFt  float64         // of who counted it; 0 where it is not told before
	Counts  map[survey.Substrate]int
	At      Span
}

// beltTalk is what was said of belts so far.
type beltTalk struct {
	open   bool // the talk is of clumps
	length lexicon.Measure
	last   lexicon.Measure // told last, of whichever line: "same length"
	width  float64
	step   float64
	unit   float64 // feet of the unit in which the last length was told; 0 for steps
}

// A told size is one that holds for all belts, if no other is told.
type toldSize struct {
	ft    float64
	other bool
}

func (t *toldSize) tell(ft float64) {
	t.other = t.other || t.ft != 0 && t.ft != ft
	t.ft = ft
}

// only is the one size that was told; 0 where there is none or several.
func (t *toldSize) only() float64 {
	if t.other {
		return 0
	}
	return t.ft
}

// beltSaid takes what a sentence tells of belts: steps, widths, lengths and counts. It returns false where the sentence is
// about something else.
func (r *teller) beltSaid(x *say) bool {
	pairs := r.clumpPairs(x)
	if x.counts {
		r.now.belt.open = true
	}
	tells := r.sizesSaid(x, len(pairs) > 0)
	if x.set || x.check && len(pairs) == 0 && !(x.counts && r.hasLength(x)) || r.now.topic == setTopic && !x.counts && !r.hasLength(x) {
		return false
	}
	if len(pairs) == 0 {
		nests := slices.ContainsFunc(x.items, func(it item) bool { return it.is == someNests && it.marked || it.is == nestCount })
		if !tells && !x.counts || len(x.states) > 0 || nests {
			return false
		}
		first := true
		for _, it := range x.items { // "Belt: 300 steps (726 ft), 6 ft wide. 24 grass, 3 yucca"
			if it.is == aMeasure && r.isLength(&it) && (first || it.measure.Feet > 0 && r.now.belt.length.Feet == 0) {
				r.now.belt.length, r.now.belt.open, first = it.measure, true, false
			}
		}
		return true
	}
	if !r.hasLength(x) && !x.counts && !r.now.belt.open || x.days > 1 {
		return false
	}
	if len(x.states) > 0 && !r.hasLength(x) {
		return false
	}
	if r.uncounted(x, pairs) {
		r.unused = append(r.unused, r.span(x.from, x.to))
		return true
	}
	r.beltsIn(x, pairs)
	return true
}

// uncounted tells whether a number stands in the row of counts beside one word that is no cover we know: "20 grass, 5
// wolfwort".
func (r *teller) uncounted(x *say, pairs []clumpPair) bool {
	words := func(from, to int) []string { return strings.Fields(plainLetters(r.text[from:to])) }
	for i, it := range x.items {
		if it.is != someNests || len(it.list) != 1 || it.marked || slices.ContainsFunc(pairs, func(p clumpPair) bool { return p.item == i }) {
			continue
		}
		from, to := x.from, x.to
		if i > 0 {
			from = x.items[i-1].to
		}
		if i+1 < len(x.items) {
			to = x.items[i+1].from
		}
		before, behind := words(from, it.from), words(it.to, to)
		switch front := pairs[0].at == x.items[pairs[0].item].from; {
		case front && len(behind) == 1 && len(behind[0]) > 2 && i > pairs[0].item:
			return true
		case !front && len(before) == 1 && len(before[0]) > 2 && len(behind) == 0 && i < pairs[len(pairs)-1].item:
			return true
		}
	}
	return false
}

// A clumpPair is a count of clumps of one cover.
type clumpPair struct {
	cover survey.Substrate
	n     int
	at    int
	item  int // that is the number
}

// clumpPairs finds counts beside covers: "31 bunch grass", "zacate 28". All of a sentence stand the same way round.
func (r *teller) clumpPairs(x *say) []clumpPair {
	count := func(i int) (int, bool) {
		if i < 0 || i >= len(x.items) || x.items[i].is != someNests || len(x.items[i].list) != 1 || strings.Contains(x.items[i].list[0], "\x00") || nestCalled(r.text[x.items[i].from:x.items[i].to]) {
			return 0, false
		}
		v, n := numberAt(tokenize(x.items[i].list[0]), 0)
		return int(v), n > 0
	}
	var front, behind []clumpPair
	ends := false
	for i, it := range x.items {
		if it.is != aCover {
			continue
		}
		ends = false
		k := i - 1
		if k > 0 && x.items[k].is == aCount { // "26 macollos de zacate"
			k--
		}
		if n, ok := count(k); ok && ofClumps[strings.Join(strings.Fields(plainWord(plainLetters(r.text[x.items[k].to:it.from]))), " ")] {
			front = append(front, clumpPair{it.cover, n, x.items[k].from, k})
		}
		if n, ok := count(i + 1); ok && strings.Trim(r.text[it.to:x.items[i+1].from], " :=,-") == "" {
			behind = append(behind, clumpPair{it.cover, n, it.from, i + 1})
			ends = true
		}
	}
	switch {
	case len(behind)+len(front) == 0 && !slices.ContainsFunc(x.items, func(it item) bool { return it.is == aCover }):
		return r.clumpTotals(x, count)
	case len(behind) > len(front) || len(behind) == len(front) && ends:
		return behind
	}
	return front
}

// clumpTotals finds counts of clumps of whatever cover: "13 clumps large enough to nest in", "belt 300 x 12 ft = 10 clumps",
// "clumps along it: 6".
func (r *teller) clumpTotals(x *say, count func(i int) (int, bool)) (pairs []clumpPair) {
	named := -1 // the clumps named last
	for i, it := range x.items {
		if it.is == aCount && clumpNouns[r.tokens[r.tokenAt(it.from)].word] {
			if n, ok := count(i - 1); ok && onlyWords(r.text[x.items[i-1].to:it.from], clumpSizes) {
				pairs = append(pairs, clumpPair{survey.AnyCover, n, x.items[i-1].from, i - 1})
			}
			named = i
			continue
		}
		n, ok := count(i)
		next := i+1 < len(x.items) && x.items[i+1].is == aCount
		if !ok || named < 0 || next {
			continue
		}
		tail := strings.TrimSpace(r.text[max(x.from, it.from-2):it.from])
		behindLine := x.items[i-1].is == aLine && strings.Trim(r.text[x.items[i-1].to:it.from], " :=-–") == "" // "clumps: North line 38, South line 51"
		if behindLine || len(pairs) == 0 && (strings.HasSuffix(tail, ":") || strings.HasSuffix(tail, "=") || named == i-1 && strings.TrimSpace(r.text[x.items[named].to:it.from]) == "") {
			pairs = append(pairs, clumpPair{survey.AnyCover, n, it.from, i})
		}
	}
	return pairs
}

var (
	clumpNouns = wordSet(`clumps clump macollos macollo matas bunches plants plantas`)
	clumpSizes = wordSet(`good big large usable fine whole nest nesting real of in all grass`)
)

// onlyWords tells whether a text holds nothing but words of a set.
func onlyWords(text string, set map[string]bool) bool {
	for _, w := range strings.Fields(plainWord(text)) {
		if !set[w] {
			return false
		}
	}
	return true
}

// ofClumps are the words that may stand between a count and its cover.
var ofClumps = func() map[string]bool {
	m := map[string]bool{"": true}
	for _, w := range strings.Split("of,of the,de,clump,macollos,macollo,clumps,clumps of,good,good clumps of,matas,matas de,bunches,bunches of,macollos de,in,were,big,plants of,clumps in", ",") {
		m[w] = true
	}
	return m
}()

// hasLength tells whether a sentence names the length of a belt.
func (r *teller) hasLength(x *say) bool {
	return slices.ContainsFunc(x.items, func(it item) bool {
		return it.is == aMeasure && r.isLength(&it) || it.is == aNumber && it.n == ofBelt
	})
}

// isLength tells whether a measure can be the length of a belt: "66 ft each" and "50 steps apart" are none.
func (r *teller) isLength(it *item) bool {
	switch at(r.tokens, r.tokenAt(it.to)) {
	case "each", "apart", "cada", "tall", "high", "long-tape":
		return false
	}
	m := it.measure
	return m.Steps >= 20 || m.Acres > 0 || m.Feet > 30
}

var (
	stepWords  = wordSet(`step steps pace paces paso pasos`)
	widthWords = wordSet(`wide width ancho anchura stick pole rope lath palo mecate cuerda arms brazos strip strips belt belts franja franjas faja fajas`)
)

// sizesSaid takes the length of a step and the width of belts wherever they are told.
func (r *teller) sizesSaid(x *say, pairs bool) (tells bool) {
	t := r.tokens
	from, to := r.tokenAt(x.from), r.tokenAt(x.to)
	word := func(set map[string]bool, a, b int) bool {
		for k := max(a, from); k < min(b, to); k++ {
			if set[t[k].word] {
				return true
			}
		}
		return false
	}
	for i, it := range x.items {
		if it.is != aMeasure {
			continue
		}
		a, b := r.tokenAt(it.from), r.tokenAt(it.to)
		ft := it.measure.Feet
		wide := at(t, b) == "wide" || at(t, b) == "ancho" || at(t, b) == "de" && at(t, b+1) == "ancho" || at(t, b) == "across"
		by := at(t, a-1) == "by" || at(t, a-1) == "x" || at(t, a-1) == "por" || at(t, a-1) == "a" && at(t, a-2) == "by" || at(t, a-1) == "×"
		switch {
		case ft == 0 || at(t, b) == "each" || at(t, b) == "apart" || at(t, b) == "tall":
		case by && !wide && ft <= 3.5 && i > 0 && x.items[i-1].is == aMeasure && x.items[i-1].measure.Steps > 0: // "300 steps x 2.5 ft, 6 ft wide"
			if r.widthSaid(x, i) {
				r.step.tell(ft)
				r.now.belt.step = ft
				tells = true
			}
		case ft >= 1 && ft <= 4.5 && !wide && !by && (word(stepWords, a-6, a) || word(stepWords, b, b+4)):
			r.step.tell(ft)
			r.now.belt.step = ft
			tells = true
		case r.unitSaid(a, ft):
			tells = true
		case ft >= 1.5 && ft <= 30 && (wide || by && (i > 0 && x.items[i-1].is == aMeasure || pairs) || word(widthWords, a-4, a) || word(widthWords, b, b+4)):
			r.width.tell(ft)
			r.now.belt.width = ft
			tells = true
		}
	}
	return tells
}

// widthSaid tells whether a sentence names a width by that word, and not by the measure at item i.
func (r *teller) widthSaid(x *say, i int) bool {
	for k, it := range x.items {
		if k == i || it.is != aMeasure || it.measure.Feet == 0 {
			continue
		}
		switch b := r.tokenAt(it.to); at(r.tokens, b) {
		case "wide", "ancho", "across":
			return true
		case "de":
			if at(r.tokens, b+1) == "ancho" {
				return true
			}
		}
	}
	return false
}

// unitSaid reads "a rod is sixteen and a half feet": a measure of the country and its length.
func (r *teller) unitSaid(a int, ft float64) bool {
	t := r.tokens
	k := a - 1
	for k > 0 && (t[k].word == "is" || t[k].word == "=" || t[k].word == "es" || t[k].word == "de" || t[k].word == "mide" || t[k].word == "was") {
		k--
	}
	if k == a-1 || k < 1 {
		return false
	}
	switch u := t[k].word; u {
	case "rod", "vara", "cordel", "cuerda", "stick", "chain", "cadena":
		if w := t[k-1].word; w == "a" || w == "la" || w == "una" || w == "the" || w == "my" || w == "1" || w == "each" || w == "one" || w == "mi" || w == "cada" {
			r.ownUnits[u], r.ownUnits[u+"s"] = ft, ft
			return true
		}
	}
	return false
}

// tokenAt returns the first token at or behind a byte of the text.
func (r *teller) tokenAt(at int) int {
	i, _ := slices.BinarySearchFunc(r.tokens, at, func(t token, at int) int { return t.from - at })
	return i
}

// beltsIn gives each line of a sentence its counts.
func (r *teller) beltsIn(x *say, pairs []clumpPair) {
	lines := r.now.lines
	if n := len(x.items); n > 0 && !slices.ContainsFunc(x.items, func(it item) bool { return it.is == aLine }) {
		if l := r.leadingLine(x); l != "" {
			lines = []string{l}
		}
	}
	r.lengthBy(x)
	length := lexicon.Measure{}
	counts := map[survey.Substrate]int{}
	start := x.from
	flush := func(to int) {
		if len(counts) == 0 {
			return
		}
		if length == (lexicon.Measure{}) {
			length = r.now.belt.length
		}
		if length == (lexicon.Measure{}) && sameSize(r.text[x.from:x.to]) {
			length = r.now.belt.last
		}
		width := r.now.belt.width
		for _, l := range lines {
			if len(lines) > 1 { // one count for several lines cannot be shared out
				r.unused = append(r.unused, r.span(start, to))
				break
			}
			r.belts = append(r.belts, &Belt{Line: l, Length: length, WidthFt: width, StepFt: r.now.belt.step, Counts: counts, At: r.span(start, to)})
		}
		if len(lines) == 0 {
			r.unused = append(r.unused, r.span(start, to))
		}
		counts, length = map[survey.Substrate]int{}, lexicon.Measure{}
	}
	k := 0
	for _, it := range x.items {
		for k < len(pairs) && pairs[k].at <= it.from {
			counts[pairs[k].cover] += pairs[k].n
			k++
		}
		switch {
		case it.is == aLine:
			flush(it.from)
			lines, start = it.list, it.from
		case it.is == aMeasure && r.isLength(&it):
			if len(counts) > 0 && length != (lexicon.Measure{}) {
				break
			}
			length = it.measure
			r.now.belt.last = length
			if len(counts) == 0 {
				r.now.belt.length = length
			}
		}
	}
	for ; k < len(pairs); k++ {
		counts[pairs[k].cover] += pairs[k].n
	}
	flush(x.to)
	if len(lines) == 1 {
		r.now.lines = lines
	}
}

// sameSize tells whether a sentence says that a belt was as long as the one before.
func sameSize(text string) bool {
	low := plainWord(text)
	return strings.Contains(low, "same") || strings.Contains(low, "mism") || strings.Contains(low, "ditto")
}

// leadingLine reads a bare number at the head of a belt's row, or behind the word for belt, as its line: "1  290 steps".
func (r *teller) leadingLine(x *say) string {
	for i, it := range x.items {
		switch {
		case it.is == aCount || it.is == aComma:
			continue
		case it.is == someNests && len(it.list) == 1 && r.lineNames[it.list[0]] && i+1 < len(x.items) && (x.items[i+1].is == aMeasure || i > 0 && x.items[i-1].is == aCount):
			return it.list[0]
		}
		return ""
	}
	return ""
}

// lengthBy reads "150 metros por 2 de ancho" and "150 por 2": a length and a width of which one or both have no unit. The
// unit is that of the other, or of the belt before.
func (r *teller) lengthBy(x *say) {
	t := r.tokens
	from, to := r.tokenAt(x.from), r.tokenAt(x.to)
	for i := from; i < to; i++ {
		v, n := numberAt(t[:to], i)
		if n == 0 {
			continue
		}
		k := i + n
		unit, known := lexicon.FeetPer(at(t, k))
		steps := stepUnits[at(t, k)]
		if known || steps {
			k++
		}
		if w := at(t, k); w != "por" && w != "by" && w != "x" && w != "×" {
			i = k - 1
			continue
		}
		v2, n2 := numberAt(t[:to], k+1)
		if n2 == 0 {
			continue
		}
		unit2, known2 := lexicon.FeetPer(at(t, k+1+n2))
		if known && !steps {
			r.now.belt.unit = unit
		}
		if !known && !steps {
			switch {
			case known2 && v > 30:
				unit, known = unit2, true
			case r.now.belt.unit > 0:
				unit, known = r.now.belt.unit, true
			}
		}
		if !known2 && known && !steps {
			unit2, known2 = unit, true
		}
		if known && v*unit > 30 {
			r.now.belt.length = lexicon.Measure{Feet: v * unit}
		}
		if steps && known2 && v2*unit2 <= 3.5 { // of steps, or a width: see sizesSaid
			return
		}
		if known2 && v2*unit2 >= 1.5 && v2*unit2 <= 30 {
			r.now.belt.width = v2 * unit2
			r.width.tell(v2 * unit2)
		}
		return
	}
}
