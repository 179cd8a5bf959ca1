package narration

import (
	"strings"
	"unicode"

	"tussock/internal/lexicon"
)

// Lines are called by a number, a letter or a name. A name stands before the word for line ("Ridge line"), behind it ("la línea del
// Arroyo"), or at the head of lines of text ("Ridge: nests 1 to 8"). What the text calls a line once is that line wherever it stands.

// mostWords is how many words a name may have.
const mostWords = 3

// A called is how a line is called.
type called struct {
	name string // as it stands in the account
	bare bool   // it is meant without the word for line too
	high bool   // it is written with a capital
}

// learnNames finds the names of lines.
func (r *teller) learnNames() {
	for name := range r.Known {
		r.call(name, name, true, false)
	}
	for _, p := range r.passages {
		r.call(p.Line, p.Line, true, false)
	}
	runs := r.runs()
	with := map[string]int{} // how often a name stands beside the word for line
	sure, high := map[string]bool{}, map[string]bool{}
	whole := map[string]string{} // with the word for line, where the name alone is a thing: "línea del corral"
	for i := range r.tokens {
		if !lineWords[r.tokens[i].word] || linesWord(r.tokens[i].word) {
			continue
		}
		name, plain := r.nameBefore(i, runs)
		if name == "" {
			if name, plain = r.nameBehind(i, runs); name != "" && whole[name] == "" && !r.capital(r.behindOf(i)) {
				k := r.behindOf(i)
				whole[name] = r.text[r.tokens[i].from:r.tokens[k+strings.Count(name, " ")].to]
			}
		}
		if name != "" {
			with[name]++
			sure[name] = sure[name] || plain
			high[name] = high[name] || r.highBeside(i, name)
		}
	}
	heads, headed := r.heads()
	for name, n := range with {
		if n > 1 || sure[name] || headed[name] {
			as := name
			if whole[name] != "" && !high[name] {
				as = whole[name]
			}
			r.call(name, as, !r.hasMeaning(name), high[name])
		}
	}
	for name := range heads {
		r.call(name, name, true, false)
	}
	for i := range r.tokens {
		if linesWord(r.tokens[i].word) {
			r.listedNames(i, runs)
		}
	}
}

// listedNames takes the names behind the word for lines: "two lines this year, Tank and Cedar".
func (r *teller) listedNames(i int, runs map[string]int) {
	t := r.tokens
	for k := i + 1; k < len(t) && t[k].kind != lineEnd && t[k].word != "." && t[k].word != ";"; k++ {
		joined := t[k-1].word == "," || t[k-1].word == ":" || t[k-1].word == "and" || t[k-1].word == "y" || t[k-1].word == "("
		if next := at(t, k+1); joined && t[k].kind == letters && r.capital(k) && !noPart[t[k].word] && len(t[k].word) > 2 && !r.inDay(t[k].from) && runs[t[k].word] > 1 && (next == "," || next == "and" || next == "y" || next == "." || next == ")" || next == "\n") {
			r.call(t[k].word, t[k].word, !r.hasMeaning(t[k].word), true)
		}
	}
}

// call notes that a line is called so.
func (r *teller) call(said, name string, bare, high bool) {
	var words []string
	for _, t := range tokenize(said) {
		words = append(words, t.word)
	}
	if key := strings.Join(words, " "); key != "" && r.called[key].name == "" {
		r.called[key] = called{name, bare, high}
	}
}

// runs counts the runs of words of a text, as long as a name may be.
func (r *teller) runs() map[string]int {
	runs := map[string]int{}
	for i := range r.tokens {
		for n := 1; n <= mostWords && i+n <= len(r.tokens) && r.tokens[i+n-1].kind == letters; n++ {
			runs[r.said(i, n)]++
		}
	}
	return runs
}

// said is a run of words as it is compared.
func (r *teller) said(i, n int) string {
	var b strings.Builder
	for k := i; k < i+n; k++ {
		if k > i {
			b.WriteByte(' ')
		}
		b.WriteString(r.tokens[k].word)
	}
	return b.String()
}

// nameBefore is the name before the word for line at token i, and whether it can be nothing else.
func (r *teller) nameBefore(i int, runs map[string]int) (name string, sure bool) {
	t := r.tokens
	if i+1 < len(t) && (t[i+1].kind == digits || numbersLine(t, i+1)) {
		return "", false // "fence line 3"
	}
	from := i
	head := false
	for k := i - 1; k >= 0 && i-k <= mostWords && t[k].kind == letters && !noPart[t[k].word] && !r.inDay(t[k].from); k-- {
		head = r.starts(k) || r.afterSpeaker(k)
		switch {
		case k == i-1, head, r.capital(k) && r.capital(from) && !r.begins(k):
			from = k
		case runs[r.said(k, i-k)] > 1 && runs[r.said(k, i-k)] == runs[r.said(from, i-from)]:
			from = k
		}
	}
	head = from < i && (r.starts(from) || r.afterSpeaker(from))
	next := at(t, i+1)
	name = r.said(from, i-from)
	alone := head && (next == "" || next == "\n")
	switch {
	case from == i || len(t[i-1].word) < 3 && from == i-1:
		return "", false
	case from == i-1 && noName[t[from].word] && !(placeNames[t[from].word] && (alone || runs[name+" line"] > 1 && !common[t[from].word])):
		return "", false
	}
	sure = alone || head && (strings.Contains(":-(,.", next) || setVerbs[next] || next == "is" || next == "out" || runs[name] > 1) || r.capital(from) && !r.begins(from)
	return name, sure
}

// nameBehind is the name behind the word for line at token i.
func (r *teller) nameBehind(i int, runs map[string]int) (name string, sure bool) {
	t := r.tokens
	k := r.behindOf(i)
	of := k > i+2 || k == i+2 && t[i+1].word == "del"
	if k >= len(t) || t[k].kind != letters || len(t[k].word) < 3 || noPart[t[k].word] || noName[t[k].word] || nestWords[t[k].word] || numbersLine(t, k) || r.inDay(t[k].from) {
		return "", false
	}
	n := 1
	if k+1 < len(t) && t[k+1].kind == letters && !noPart[t[k+1].word] && (r.capital(k) && r.capital(k+1) && !r.shouts(k)) {
		n = 2
	} else if k+2 < len(t) && r.capital(k) && (t[k+1].word == "de" || t[k+1].word == "del") && r.capital(k+2) && t[k+2].kind == letters { // Ojo de Agua
		n = 3
	}
	name = r.said(k, n)
	if !of && (!r.capital(k) || r.shouts(k)) && runs[t[i].word+" "+name] < 2 {
		return "", false
	}
	if !of && r.hasMeaning(name) {
		return "", false
	}
	return name, of || r.capital(k) && t[i].word != "line"
}

// behindOf passes "del" and "de la" behind the word for line at token i.
func (r *teller) behindOf(i int) int {
	k := i + 1
	for k < i+3 && articles[at(r.tokens, k)] {
		k++
	}
	return k
}

var articles = wordSet(`de del la el los las`)

// highBeside tells whether the name beside the word for line at token i has a capital that no sentence asks for.
func (r *teller) highBeside(i int, name string) bool {
	n := strings.Count(name, " ") + 1
	for k := max(0, i-n); k < min(len(r.tokens), i+5); k++ {
		if k+n <= len(r.tokens) && r.said(k, n) == name {
			return r.capital(k) && !r.begins(k) && !r.shouts(k)
		}
	}
	return false
}

// capital tells whether a word begins with a capital.
func (r *teller) capital(k int) bool {
	for _, c := range r.text[r.tokens[k].from:r.tokens[k].to] {
		return unicode.IsUpper(c)
	}
	return false
}

// shouts tells whether a word and the one before it are in capitals throughout.
func (r *teller) shouts(k int) bool {
	word := r.text[r.tokens[k].from:r.tokens[k].to]
	return strings.ToUpper(word) == word
}

// begins tells whether a word begins a sentence, so that its capital says nothing.
func (r *teller) begins(k int) bool {
	return k == 0 || r.tokens[k-1].kind == lineEnd || r.tokens[k-1].kind == mark && r.tokens[k-1].word != "," && r.tokens[k-1].word != "("
}

// starts tells whether a word is the first of a line of text or behind a full stop.
func (r *teller) starts(k int) bool {
	return k == 0 || r.tokens[k-1].kind == lineEnd || r.tokens[k-1].word == "." || r.tokens[k-1].word == ";"
}

// afterSpeaker tells whether a word is the first of a message.
func (r *teller) afterSpeaker(k int) bool {
	l := &r.lines[r.lineAt(r.tokens[k].from)]
	return l.head > 0 && r.tokens[k].from >= l.from+l.head && (k == 0 || r.tokens[k-1].from < l.from+l.head)
}

// hasMeaning tells whether words are those of a cover, an animal or what was found, so that they name a line beside that word only.
func (r *teller) hasMeaning(name string) bool {
	words := strings.Fields(name)
	if _, n := r.lex.CoverAt(words, 0); n > 0 {
		return true
	}
	if _, n := r.lex.AnimalAt(words, 0); n > 0 {
		return true
	}
	_, n := r.lex.PhraseAt(words, 0)
	return n > 0
}

// heads finds the names that stand at the head of lines of text without the word for line: two times at least and always with
// nests behind them, or above lists of nests that begin with 1.
func (r *teller) heads() (out, once map[string]bool) {
	heads, no := map[string]int{}, map[string]bool{}
	lists := map[string]bool{}
	for k := range r.lines {
		l := &r.lines[k]
		if l.header == mailHeader || l.header == mailLine || l.joined {
			continue
		}
		i := r.firstToken(k)
		for l.head > 0 && i < len(r.tokens) && r.tokens[i].from < l.from+l.head {
			i++
		}
		for i < len(r.tokens) && r.tokens[i].from < l.to && (r.inDay(r.tokens[i].from) || r.tokens[i].kind == mark) { // "5/17 East: 1 good"
			i++
		}
		if name := r.listHead(k); name != "" {
			lists[name] = true
		}
		for n := 1; n <= mostWords && i+n <= len(r.tokens); n++ {
			w := &r.tokens[i+n-1]
			if w.kind != letters || noPart[w.word] || nestWords[w.word] || r.inDay(w.from) || numbersLine(r.tokens, i+n-1) {
				break
			}
			name := r.said(i, n)
			if n == 1 && (noName[name] || len(name) < 3) || r.hasMeaning(w.word) {
				break
			}
			if i+n < len(r.tokens) && r.tokens[i+n].kind == letters && !setVerbs[r.tokens[i+n].word] && !r.inDay(r.tokens[i+n].from) {
				continue
			}
			heads[name]++
			no[name] = no[name] || !r.tellsOfNests(l)
		}
	}
	out, once = map[string]bool{}, map[string]bool{}
	for name, n := range heads {
		if !no[name] {
			once[name] = true
			if n > 1 {
				out[name] = true
			}
		}
	}
	for name := range lists {
		if len(lists) > 1 {
			out[name] = true
		}
	}
	return out, once
}

// tellsOfNests tells whether a line of text holds a number and a word of a cover, of what was found, or of setting out.
func (r *teller) tellsOfNests(l *textLine) bool {
	text := r.text[l.from+l.head : l.to]
	if !strings.ContainsAny(text, "0123456789") {
		return false
	}
	tokens := lexicon.Scan(text)
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = t.Word
	}
	for i := range words {
		if _, n := r.lex.CoverAt(words, i); n > 0 || setVerbs[words[i]] || nestWords[words[i]] && len(words[i]) > 3 {
			return true
		}
		if mark, n := r.lex.PhraseAt(words, i); n > 0 && tellsState(mark, words[i:i+n]) {
			return true
		}
	}
	return false
}

// listHead is the name above a list of nests numbered from 1, with the day of setting behind it or nothing: "NORTH DRAW   put out
// Apr 29"; "" for none.
func (r *teller) listHead(k int) string {
	if !r.numbered(k+1, 1) || !r.numbered(k+2, 2) || r.lines[k].header != noHeader {
		return ""
	}
	var words []string
	rest := ""
	for i := r.firstToken(k); i < len(r.tokens); i++ {
		t := &r.tokens[i]
		if t.kind != letters || setVerbs[t.word] {
			rest = t.word
			break
		}
		words = append(words, t.word)
	}
	if n := len(words); n == 0 || n > mostWords || n == 1 && noName[words[0]] || lineWords[words[0]] || lineWords[words[n-1]] || countVerbs[words[n-1]] || !setVerbs[rest] && !strings.ContainsAny(rest, "-,:(") && rest != "\n" && rest != "" {
		return ""
	}
	return strings.Join(words, " ")
}

// nameAt is the line whose name stands at token i, and how many tokens it takes.
func (sc *scanner) nameAt(i int) (c called, n int) {
	if i >= len(sc.t) || sc.t[i].kind != letters {
		return c, 0
	}
	words := ""
	for k := i; k < len(sc.t) && k-i < 2*mostWords && sc.t[k].kind != lineEnd; k++ {
		if k > i {
			words += " "
		}
		words += sc.t[k].word
		if found, ok := sc.called[words]; ok && !(k+1 < len(sc.t) && sc.t[k+1].glued && sc.t[k+1].kind != mark) {
			c, n = found, k+1-i
		}
	}
	return c, n
}

// namedLine reads a line by its name: "the north line", "la linea del arroyo", "On Ridge everything was there".
func (sc *scanner) namedLine(i int) int {
	t := sc.t
	k := i
	if sc.is(k, "the", "la", "el") {
		k++
	}
	of := false
	if k < len(t) && lineWords[t[k].word] && !linesWord(t[k].word) {
		for k++; articles[at(t, k)] && k < i+4; k++ {
		}
		of = true
	}
	c, n := sc.nameAt(k)
	switch {
	case n == 0:
		return 0
	case of, lineWords[at(t, k+n)]:
	case !sc.bareName(k, n):
		return 0
	case c.bare, c.high && sc.text[t[k].from] < 'a', (k == 0 || t[k-1].kind != letters) && (k+n == len(t) || t[k+n].kind != letters || lineWords[t[k+n].word] || sc.startsDate(k+n)):
	default:
		return 0
	}
	if k += n; !of && k < len(t) && lineWords[t[k].word] {
		k++
	}
	return sc.add(i, k-i, item{is: aLine, list: []string{c.name}})
}

// bareName tells whether a name without the word for line means the line: at the head of what is said, behind the words that lead
// to a place, and not before the word for another place.
func (sc *scanner) bareName(k, n int) bool {
	t := sc.t
	if places[at(t, k+n)] {
		return false
	}
	if len(sc.text[t[k].from:t[k+n-1].to]) < 3 { // A, B2
		return (k == 0 || t[k-1].kind == mark || t[k-1].kind == lineEnd) && (k+n < len(t) && (t[k+n].kind != letters || lineWords[t[k+n].word] || sc.is(k+n, "belt", "belts", "strip", "franja", "faja", "cinta")))
	}
	if k == 0 || t[k-1].kind != letters {
		return true
	}
	if to := sc.text[t[k].from]; to >= 'A' && to <= 'Z' && !noPart[t[k].word] {
		return !places[t[k-1].word] && t[k-1].word != "from"
	}
	return leadsToLine[t[k-1].word] || leadWords[t[k-1].word] || setVerbs[t[k-1].word] || checkVerbs[t[k-1].word] || (t[k-1].word == "the" || t[k-1].word == "la" || t[k-1].word == "el") && leadsToLine[at(t, k-2)]
}

var (
	// leadsToLine are words behind which the bare name of a line stands.
	leadsToLine = wordSet(`on at in to of en el la del al de and y both lines lineas did`)
	places      = wordSet(`pasture paddock allotment potrero road tank mill gate fence creek side wind unit end gap well pump trap county camp place ranch corner wire half slope wall house`)
	// common are things that are called a line everywhere.
	common = wordSet(`fence power flag water pipe property base straight grid fish dead`)
	// noPart are words that are part of no name.
	noPart = func() map[string]bool {
		m := wordSet(`the a an this that each every both all first second third last next same other one two three four five six seven eight nine ten whole my his her your our per any no not of on in at by for from to and or with along
			over which what another either neither is was were are be been i we he she they it you then so okay ok now also today yesterday just only but except went go going did do done have has had get got add added finished started another
			only el la los las un una de del al y o en con por para que se su mi nuestra cada otra otro esta este es son era ya hoy ayer nueva segunda primera ultima misma ambas todas toda
			week weeks day days date visit round trip report belt belts clump clumps strip total totals sum note notes ps nb dear thanks from sent subject voice memo no nest nests nido nidos line lines linea lineas transect transects transecto transectos`)
		for w := range setVerbs {
			m[w] = true
		}
		for w := range checkVerbs {
			m[w] = true
		}
		for w := range weekdays {
			m[w] = true
		}
		for w := range countVerbs {
			m[w] = true
		}
		for w := range stepUnits {
			m[w] = true
		}
		return m
	}()
)
