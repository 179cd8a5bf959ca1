package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A meaning is what a code written on the sheet stands for.
type meaning struct {
	sight lexicon.Sight
	cover lexicon.Cover
	text  string
	at    *cell
}

// A codeGroup is a key: codes of one kind with what they mean.
type codeGroup struct {
	covers bool   // covers, else states
	field  string // the columns it is for, folded; "" where not said
	codes  map[string]meaning
	colors map[string]meaning // by fill
	file   string             // the file it stands in
	sheet  string
}

// foldCode is how codes are compared: upper and lower case are alike.
func foldCode(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// keyCodes gathers the short texts that could be codes: what columns hold again and again.
func (r *reader) keyCodes() map[string]bool {
	out := map[string]bool{}
	for _, b := range r.blocks {
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			l := &b.g.lines[rec.row]
			for col := b.left; col < b.right; col++ {
				if t := l.at(col).text; t != "" && len(t) <= 14 {
					out[foldCode(t)] = true
					for _, part := range strings.FieldsFunc(t, func(c rune) bool { return c == ' ' || c == ',' || c == '/' }) {
						if len(part) <= 3 {
							out[foldCode(part)] = true
						}
					}
				}
			}
		}
	}
	for _, c := range []string{"√", "x", "+", "-", "—", "–", "o", "0", "1"} {
		out[c] = true
	}
	return out
}

// readKeys finds the keys of the batch: in lines of text, in small tables of codes, and in painted cells.
func (r *reader) readKeys() {
	data := r.keyCodes()
	r.readFieldCodes(data)
	for _, b := range r.blocks {
		if b.kind == keyTable {
			continue
		}
		r.keyBlock(b, data)
		r.headComments(b)
		r.headKeys(b, data)
		r.keyAmongRows(b, data)
	}
	for _, c := range r.captions {
		if c.used == "" {
			r.keyText(c, data)
		}
	}
	r.colorWords()
	r.codedHeads()
}

// keyAmongRows reads a key that stands in a cell beside the nests: "1 = intact, 0 = taken".
func (r *reader) keyAmongRows(b *block, data map[string]bool) {
	if b.g.turn {
		return
	}
	for _, rec := range b.records[:min(len(b.records), 40)] {
		l := &b.g.lines[rec.row]
		for i := b.left; i < min(b.right, len(l.cells)); i++ {
			if c := &l.cells[i]; len(c.text) > 12 && len(c.text) < 300 && strings.Count(c.text, "=") >= 2 && !strings.HasPrefix(c.text, "=") {
				r.keyText(&caption{g: b.g, c: c, row: rec.row, scope: rec.scope}, data)
			}
		}
	}
}

// codedHeads gives headings that a key explains as covers, above numbers, their meaning: counts of clumps by plant code.
func (r *reader) codedHeads() {
	for _, b := range r.blocks {
		for i := range b.cols {
			c := &b.cols[i]
			if c.head.Text == "" || c.head.Role != lexicon.NoRole {
				continue
			}
			for _, g := range r.codes {
				if m, ok := g.codes[foldCode(c.head.Text)]; ok && g.covers {
					text := c.head.Text
					c.head = r.lex.Heading(string(m.cover.Substrate) + " clumps")
					c.head.Text = text
				}
			}
		}
	}
}

// headComments takes the notes attached to headings for lines of text: keys are written there.
func (r *reader) headComments(b *block) {
	for _, h := range b.heads {
		for i := range b.g.lines[h].cells {
			c := &b.g.lines[h].cells[i]
			if c.look().Comment == "" {
				continue
			}
			for part := range strings.SplitSeq(c.look().Comment, "\n") {
				text := lexicon.Tidy(part)
				if text == "" || slices.ContainsFunc(r.captions, func(o *caption) bool { return o.row == h && o.g == b.g && o.c.text == text }) {
					continue
				}
				r.captions = append(r.captions, &caption{g: b.g, c: &cell{text: text, raw: text, row: c.row, col: c.col}, row: h, scope: b.top})
			}
		}
	}
}

// headKeys reads keys that stand in headings: "Nest (line-nest, G grass Y yucca)", or are headings.
func (r *reader) headKeys(b *block, data map[string]bool) {
	for i := range b.cols {
		text := b.cols[i].head.Text
		if open := strings.IndexByte(text, '('); open > 0 && len(text)-open > 8 && strings.HasSuffix(text, ")") {
			c := &cell{text: strings.Trim(text[open:], "()")}
			r.keyText(&caption{g: b.g, c: c, row: -1, scope: b.top}, data)
		} else if isKeyHead(text) {
			r.keyText(&caption{g: b.g, c: &cell{text: text}, row: -1, scope: b.top}, data)
		}
	}
}

// isKeyHead tells whether a heading is a key itself: "I=intact P=predator T=trampled".
func isKeyHead(text string) bool { return strings.Count(text, "=") >= 2 }

// group returns the key of one kind and field in a file, made when first needed.
func (r *reader) group(covers bool, field string, g *grid) *codeGroup {
	for _, k := range r.codes {
		if k.covers == covers && k.field == field && k.file == g.File {
			return k
		}
	}
	k := &codeGroup{covers: covers, field: field, codes: map[string]meaning{}, colors: map[string]meaning{}, file: g.File, sheet: g.Name}
	r.codes = append(r.codes, k)
	return k
}

// understood reads what a key says a code means.
func (r *reader) understood(text string) (m meaning, covers, ok bool) {
	text = strings.Trim(text, " =:-–—,.;")
	if text == "" || len(text) > 90 || r.kindOf(text).isNum {
		return m, false, false
	}
	s := r.lex.Sight(text)
	if s.Mark == lexicon.Unknown {
		s = r.saidTwice(text)
	}
	c, isCover := r.lex.Cover(text)
	m = meaning{sight: s, cover: c, text: text}
	switch {
	case isCover && !c.Weak && !hasDigits(text) && (s.Mark == lexicon.Unknown || s.Weak):
		return m, true, true
	case s.Mark == lexicon.Unknown && finished(text):
		m.sight.Mark = lexicon.Skipped
		return m, false, true
	case s.Mark != lexicon.Unknown && s.Mark != lexicon.Blank && s.Mark != lexicon.Yes && s.Mark != lexicon.No && s.Mark != lexicon.One:
		if s.Mark == lexicon.Zero {
			m.sight.Mark = lexicon.Taken
		}
		return m, false, true
	}
	return m, false, false
}

// saidTwice reads a meaning written in two languages: "puesto / put out".
func (r *reader) saidTwice(text string) lexicon.Sight {
	one, two, ok := strings.Cut(text, "/")
	a, b := r.lex.Sight(lexicon.Tidy(one)), r.lex.Sight(lexicon.Tidy(two))
	if !ok || a.Mark != b.Mark && a.Mark != lexicon.Unknown && b.Mark != lexicon.Unknown {
		return lexicon.Sight{Eggs: -1}
	}
	if a.Mark == lexicon.Unknown {
		return b
	}
	return a
}

var finishedWords = regexp.MustCompile(`(?i)\b(finished|done|no (?:more )?(?:look|visit|check)|nothing left to (?:look|check)|not (?:looked|checked|visited|made|done)|ya no)\b`)

func finished(text string) bool { return finishedWords.MatchString(text) && !doneFor.MatchString(text) }

var doneFor = regexp.MustCompile(`(?i)\bdone (?:for|in)\b`)

// add puts a code into a key.
func (r *reader) addCode(covers bool, field, code string, m meaning, g *grid, at *cell) {
	m.at = at
	k := r.group(covers, field, g)
	if _, twice := k.codes[foldCode(code)]; !twice {
		k.codes[foldCode(code)] = m
	}
}

// keyBlock reads a block that is a table of codes: code and meaning, or field, code and meaning.
func (r *reader) keyBlock(b *block, data map[string]bool) {
	if r.keyCells(b, data) {
		return
	}
	width := 0 // of what is filled: beside it may stand wider tables
	for _, rec := range b.records {
		for col := b.left; col < b.right; col++ {
			if !b.g.lines[rec.row].at(col).empty() {
				width = max(width, col+1-b.left)
			}
		}
	}
	for _, h := range b.heads {
		width = max(width, len(b.g.lines[h].cells)-b.left)
	}
	if b.g.turn || len(b.records) > 40 || width > 5 || width < 2 || len(b.heads) > 1 {
		return
	}
	for i := range b.cols {
		if width == 2 && len(b.records) <= 12 {
			break // a code and its meaning: the first may look like headings
		}
		switch b.cols[i].head.Role {
		case lexicon.Nest, lexicon.Line, lexicon.SetOn, lexicon.CheckOn, lexicon.Check, lexicon.Ranch, lexicon.Width, lexicon.Clumps:
			return
		case lexicon.Count:
			if b.cols[i].head.Sure == 1 {
				return
			}
		}
	}
	type entry struct {
		code, field string
		m           meaning
		covers      bool
		at          *cell
		rec         int
	}
	var found []entry
	misses := 0
	rows := make([]int, 0, len(b.records)+1)
	rows = append(rows, b.heads...) // a key without headings may have been taken to have them
	for _, rec := range b.records {
		rows = append(rows, rec.row)
	}
	field := ""
	for n, row := range rows {
		l := &b.g.lines[row]
		var cells []*cell
		for col := b.left; col < b.right; col++ {
			if c := l.at(col); !c.empty() && !c.span {
				cells = append(cells, c)
			}
		}
		if len(cells) < 2 {
			misses++
			continue
		}
		last := cells[len(cells)-1]
		code := cells[len(cells)-2]
		m, covers, ok := r.understood(last.text)
		switch {
		case ok && code.text == "" && code.look().Fill != "" && !covers:
			k := r.group(false, "", b.g)
			m.at = code
			k.colors[code.look().Fill] = m
			found = append(found, entry{at: code, rec: n})
			continue
		case ok && len(cells) >= 3 && data[foldCode(code.text)]:
			field = lexicon.Fold(cells[0].text)
			found = append(found, entry{code.text, field, m, covers, code, n})
		case ok && len(strings.Fields(code.text)) == 2 && r.isHeading(strings.Fields(code.text)[0]) && data[foldCode(strings.Fields(code.text)[1])]: // "status I"
			f := strings.Fields(code.text)
			found = append(found, entry{f[1], lexicon.Fold(f[0]), m, covers, code, n})
		case ok && data[foldCode(code.text)]:
			found = append(found, entry{code.text, "", m, covers, code, n})
		default:
			misses++
		}
	}
	if len(found) < 2 || misses > len(found)+2 {
		return
	}
	meanings := map[string]bool{}
	for _, e := range found {
		meanings[e.m.text] = true
	}
	if len(meanings)*2 < len(found) && found[0].code != "" {
		return
	}
	seen := map[string]bool{} // a key says each code once
	for _, e := range found {
		k := e.field + "\x00" + foldCode(e.code)
		if e.code != "" && seen[k] {
			return
		}
		seen[k] = true
	}
	if !r.firing("key", r.rolePlace(b, &b.cols[0])) {
		return
	}
	b.kind = keyTable
	for _, e := range found {
		if e.code != "" {
			fields := []string{e.field}
			if e.field != "" {
				fields = nil
				for _, f := range strings.FieldsFunc(r.keyField(b, rows[e.rec]), func(c rune) bool { return c == ',' || c == '/' || c == '&' || c == ' ' }) {
					fields = append(fields, lexicon.Fold(f))
				}
				if len(fields) == 0 {
					fields = []string{e.field}
				}
			}
			for _, f := range fields {
				r.addCode(e.covers, f, e.code, e.m, b.g, e.at)
			}
		}
	}
	entries := map[int]bool{}
	for _, e := range found {
		entries[rows[e.rec]] = true
	}
	for _, row := range rows { // text of other kinds in the same small table: a key may hold a line of codes too
		l := &b.g.lines[row]
		for col := b.left; col < b.right; col++ {
			if c := l.at(col); c.text != "" {
				note := &caption{g: b.g, c: c, row: row, scope: b.top}
				if entries[row] && l.filled(b.left, b.right) == 2 {
					note.used = "key"
				}
				r.captions = append(r.captions, note)
			}
		}
	}
}

// keyCells reads a block whose cells hold a code and its meaning each: "BG bunchgrass | YU yucca".
func (r *reader) keyCells(b *block, data map[string]bool) bool {
	if b.g.turn || len(b.records) > 12 {
		return false
	}
	var entries, all []*caption
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		for col := b.left; col < b.right; col++ {
			c := l.at(col)
			if c.text == "" || c.span {
				continue
			}
			all = append(all, &caption{g: b.g, c: c, row: rec.row, scope: b.top})
			code, rest, _ := strings.Cut(c.text, " ")
			code = strings.TrimRight(code, "=:-–—")
			if _, _, ok := r.understood(strings.TrimLeft(rest, " =:-–—")); ok && data[foldCode(code)] && len([]rune(code)) <= 6 {
				entries = append(entries, all[len(all)-1])
			}
		}
	}
	if len(entries) < 2 || len(entries)*3 < len(all)*2 || !r.firing("key", r.rolePlace(b, &b.cols[0])) {
		return false
	}
	b.kind = keyTable
	r.captions = append(r.captions, all...)
	return true
}

// isHeading tells whether a table of the batch has a column of that heading.
func (r *reader) isHeading(text string) bool {
	for _, b := range r.blocks {
		for i := range b.cols {
			if b.cols[i].head.Text != "" && lexicon.Fold(b.cols[i].head.Text) == lexicon.Fold(text) {
				return true
			}
		}
	}
	return false
}

func (r *reader) keyField(b *block, row int) string {
	l := &b.g.lines[row]
	for col := b.left; col < b.right; col++ {
		if c := l.at(col); c.text != "" {
			if f := strings.Fields(c.text); len(f) == 2 && l.filled(b.left, b.right) == 2 {
				return f[0]
			}
			return c.text
		}
	}
	return ""
}

// plantCode is how plant lists code a plant: two letters of its genus, two of its species, and a number where several share
// them (USDA PLANTS symbols).
var plantCode = regexp.MustCompile(`^[A-Z]{4}\d{0,2}$`)

// keyText finds codes and their meanings in a line of text: "I intact   D depredated", "√ = all 3 eggs  X = got eaten",
// "codes: 1 all eggs there, 2 taken".
func (r *reader) keyText(c *caption, data map[string]bool) {
	text := c.c.raw
	if text == "" {
		text = c.c.text
	}
	if beltWords.MatchString(text) && between(r.scan(text), aMeasure) { // counts of clumps are no codes
		return
	}
	if c.right != nil && c.right.row == c.c.row {
		if m, covers, ok := r.understood(c.right.text); ok && data[foldCode(c.c.text)] && len(c.c.text) <= 6 {
			r.addCode(covers, "", c.c.text, m, c.g, c.c)
			c.used = "key"
			for _, o := range r.captions {
				if o.g == c.g && o.c == c.right {
					o.used = "key"
				}
			}
			return
		}
	}
	hits := codesIn(text, data)
	if len(hits) == 0 {
		return
	}
	found, bad := r.meanings(text, hits)
	signs := 0
	for _, h := range hits {
		if h.signed {
			signs++
		}
	}
	if signs >= 1 { // "O = ok, X = hit": no other word is a code, unless more of them make sense with all
		signed := slices.DeleteFunc(slices.Clone(hits), func(h keyHit) bool { return !h.signed && !h.bound })
		if only, off := r.meanings(text, signed); len(only)-off >= len(found)-bad {
			found, bad = only, off
		}
	}
	if len(found) == 0 || len(found) < 2 && signs == 0 && !r.lonelyKey(c, found[0].code) || bad > len(found)+1 {
		return
	}
	for _, e := range found {
		r.addCode(e.covers, "", e.code, e.m, c.g, c.c)
	}
	c.used = "key"
}

// A keyHit is where a code stands in a line of text.
type keyHit struct {
	from, to int    // of the code
	code     string // where the text names a sign in words; else what stands there
	signed   bool
	bound    bool // a code that no cell holds: it ends the meaning before it
}

// A keyEntry is a code and what a line of text says that it means.
type keyEntry struct {
	code   string
	m      meaning
	covers bool
}

var (
	meansSign  = regexp.MustCompile(`(?i)^(?:is|are|means?|meant|was|stands for|es|son|quiere decir|significa)\s`)
	namedSigns = regexp.MustCompile(`(?i)\b(?:an? |the |un |una |el |la )?(question marks?|plus(?: signs?)?|minus(?: signs?)?|dash(?:es)?|check ?marks?|signos? de interrogaci[oó]n|signos? de m[aá]s|rayas?|palomitas?)\s+(?:=|is|are|means?|es|son|quiere decir|significa)\s`)
	entryEnd   = regexp.MustCompile(`[;\n]|,\s*$|\.\s|\s{3,}`)
	entryTail  = regexp.MustCompile(`(?i)[,;]?\s+(?:and|y|e)?\s*(?:an?\s+|the\s+)?$`)
)

// signNamed is the sign that a text calls by its name; "" for none.
func signNamed(words string) string {
	w := lexicon.Words(words)
	switch {
	case strings.HasPrefix(w, "question"), strings.Contains(w, "interrogacion"):
		return "?"
	case strings.HasPrefix(w, "plus"), strings.Contains(w, "mas"):
		return "+"
	case strings.HasPrefix(w, "minus"), strings.HasPrefix(w, "dash"), strings.HasPrefix(w, "raya"):
		return "-"
	case strings.HasPrefix(w, "check"), strings.HasPrefix(w, "palomita"):
		return "√"
	}
	return ""
}

// codesIn finds the codes in a line of text, in order.
func codesIn(text string, data map[string]bool) []keyHit {
	var hits []keyHit
	for _, m := range namedSigns.FindAllStringSubmatchIndex(text, -1) {
		if code := signNamed(text[m[2]:m[3]]); data[code] {
			hits = append(hits, keyHit{from: m[0], to: m[1], code: code, signed: true})
		}
	}
	for i := 0; i < len(text); {
		from, to := tokenAt(text, i)
		if to <= from {
			break
		}
		word := strings.Trim(text[from:to], ",;:()\"“”'")
		start := from + strings.Index(text[from:to], word)
		after := strings.TrimLeft(text[min(start+len(word), len(text)):], " \t")
		glued := strings.IndexAny(word, "=:")
		if glued > 0 && data[foldCode(word[:glued])] { // "O=ok"
			hits = append(hits, keyHit{from: start, to: start + glued, signed: true})
		} else if glued > 0 && glued <= 6 && word[glued] == '=' && len(hits) > 0 { // "T=trampled", of which there was none
			hits = append(hits, keyHit{from: start, to: start + glued, bound: true})
		} else if word != "" && len(word) <= 6 && data[foldCode(word)] && (from == 0 || !isWordRune(text[from-1])) {
			signed := strings.HasPrefix(after, "=") || strings.HasPrefix(after, ":") || strings.HasPrefix(after, "– ") || strings.HasPrefix(after, "- ") || strings.HasPrefix(after, "— ") ||
				!lexicon.Digit(word[0]) && meansSign.MatchString(after) // "gr is grass"; "nest 4 is gone" is no key
			hits = append(hits, keyHit{from: start, to: start + len(word), signed: signed})
		} else if len(hits) > 0 && word != "" && len(word) <= 6 && (strings.HasPrefix(after, "=") || listedCode(text, from, word, text[hits[0].from:hits[0].to])) {
			hits = append(hits, keyHit{from: start, to: start + len(word), bound: true})
		}
		i = to
	}
	slices.SortStableFunc(hits, func(a, b keyHit) int { return a.from - b.from })
	return hits
}

// meanings reads what stands behind each code, up to the next one, and counts those that say nothing.
func (r *reader) meanings(text string, hits []keyHit) (found []keyEntry, bad int) {
	for i, h := range hits {
		if h.bound {
			continue
		}
		end := len(text)
		if i+1 < len(hits) {
			end = max(hits[i+1].from, h.to)
		}
		rest := strings.TrimLeft(text[h.to:end], " \t=:–—-")
		if m := meansSign.FindString(rest); m != "" && h.signed {
			rest = rest[len(m):]
		}
		if cut := entryEnd.FindStringIndex(rest); cut != nil {
			rest = rest[:cut[0]]
		}
		rest = entryTail.ReplaceAllString(rest, "")
		m, covers, ok := r.understood(rest)
		if first, _, more := strings.Cut(rest, ","); more { // what stands behind a comma may be of another code
			if m1, covers1, ok1 := r.understood(first); ok1 && (!ok || !covers && !covers1 && m1.sight.Mark != m.sight.Mark) {
				m, covers, ok = m1, covers1, ok1
			}
		}
		code := h.code
		if code == "" {
			code = text[h.from:h.to]
		}
		if !ok || m.sight.Mark == lexicon.SetOut && hasDigits(code) { // "3 eggs were put in each"
			bad++
			continue
		}
		found = append(found, keyEntry{code, m, covers})
	}
	return found, bad
}

// listedCode tells whether a word behind a comma is a code like the first of its list, one that no cell happens to hold: "DP
// depredated, TR trampled".
func listedCode(text string, from int, word, first string) bool {
	before := strings.TrimRight(text[:from], " \t")
	return (strings.HasSuffix(before, ",") || strings.HasSuffix(before, ";")) && len(word) <= 4 && capitals.MatchString(word) && capitals.MatchString(first)
}

var capitals = regexp.MustCompile(`^[A-Z][A-Z0-9]*$`)

// lonelyKey tells whether a line of one code and its meaning stands among others of the same form: "+ eggs all there" above
// "- eggs gone".
func (r *reader) lonelyKey(c *caption, code string) bool {
	if plantCode.MatchString(code) && strings.HasPrefix(c.c.text, code) { // "SCSC little bluestem"
		return true
	}
	if len([]rune(code)) > 3 || !strings.HasPrefix(strings.TrimSpace(c.c.text), code) {
		return false
	}
	for _, o := range r.captions {
		if o != c && o.g == c.g && (o.c.col == c.c.col && (o.row == c.row+1 || o.row == c.row-1) || o.row == c.row) {
			first := strings.Fields(o.c.text)
			if len(first) > 1 && len([]rune(first[0])) <= 3 {
				return true
			}
		}
	}
	return false
}

func tokenAt(text string, i int) (from, to int) {
	for i < len(text) && (text[i] == ' ' || text[i] == '\t' || text[i] == '\n' || text[i] == '\r') {
		i++
	}
	from = i
	for i < len(text) && text[i] != ' ' && text[i] != '\t' && text[i] != '\n' && text[i] != '\r' {
		i++
	}
	return from, i
}

func isWordRune(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c >= 0x80
}

var colorNames = map[string]string{
	"yellow": "yellow", "orange": "orange", "red": "red", "pink": "red", "green": "green", "blue": "blue", "gray": "grey", "grey": "grey", "brown": "orange",
	"amarillo": "yellow", "naranja": "orange", "rojo": "red", "rosa": "red", "verde": "green", "azul": "blue", "gris": "grey",
}

var colorPattern = regexp.MustCompile(`(?i)\b(yellow|orange|red|pink|green|blue|gr[ae]y|brown|amarillo|naranja|rojo|rosa|verde|azul|gris)\b\s*(?:=|:|is|means|es|-|–|—|are|quiere decir)\s*([^,;.=]+)`)

// colorWords finds what colors mean where it is written in words, or in a painted cell itself.
func (r *reader) colorWords() {
	for _, g := range r.grids {
		r.colorPairs(g)
	}
	for _, c := range r.captions {
		fill := c.c.look().Fill
		if left := c.g.lines[c.row].at(c.c.col - 1); fill == "" && left.text == "" && !c.g.turn {
			fill = left.look().Fill // a painted cell and beside it what its color means
		}
		if m, covers, ok := r.understood(c.c.text); ok && !covers && fill != "" && c.used == "" {
			m.at = c.c
			r.group(false, "", c.g).colors[fill] = m
			c.used = "key"
			continue
		}
		if c.right != nil && c.c.text == "" {
			continue
		}
		for _, m := range colorPattern.FindAllStringSubmatch(c.c.text, -1) {
			if mean, covers, ok := r.understood(m[2]); ok && !covers {
				mean.at = c.c
				r.group(false, "", c.g).colors[colorNames[strings.ToLower(m[1])]] = mean
				c.used = "key"
			}
		}
	}
}

// colorPairs finds a key of colors beside a table: painted empty cells below one another, and at the right of each what it
// means. A key says each color once.
func (r *reader) colorPairs(g *grid) {
	if g.Delimiter != 0 { // text is not painted
		return
	}
	for col := 0; col+1 < g.width; col++ {
		found := map[string]meaning{}
		painted := 0
		for i := range g.lines {
			c, right := g.lines[i].at(col), g.lines[i].at(col+1)
			if c.text != "" || c.shown == nil || c.shown.Fill == "" {
				continue
			}
			if painted++; painted > 10 {
				break
			}
			m, covers, ok := r.understood(right.text)
			if _, twice := found[c.look().Fill]; ok && !covers && !twice && right.look().Fill == "" {
				m.at = right
				found[c.look().Fill] = m
			}
		}
		if painted > 10 || len(found) < 2 || len(found)*3 < painted*2 {
			continue
		}
		for fill, m := range found {
			r.group(false, "", g).colors[fill] = m
			r.captions = append(r.captions, &caption{g: g, c: m.at, row: 0, used: "key"})
		}
	}
}

// coverOf looks a code up in a key of covers.
func (k *codeGroup) coverOf(text string) (survey.Substrate, bool) {
	if k == nil || !k.covers {
		return "", false
	}
	m, ok := k.codes[foldCode(text)]
	return m.cover.Substrate, ok
}

// codesFor returns the key that explains what a column holds, nil where none does.
func (r *reader) codesFor(b *block, c *column, covers bool) *codeGroup {
	if c.n == 0 {
		return nil
	}
	var best *codeGroup
	bestScore := 0.0
	for _, k := range r.codes {
		if k.covers != covers || len(k.codes) == 0 {
			continue
		}
		if k.field != "" && !fieldFits(k.field, lexicon.Fold(c.head.Text)) {
			continue
		}
		hit, miss := 0, 0
		for v, n := range c.distinct {
			f := foldCode(v)
			if _, ok := k.codes[f]; ok {
				hit += n
				continue
			}
			kd := r.kindOf(v)
			if covers && kd.isCover || !covers && kd.sight.Mark != lexicon.Unknown && !kd.sight.Weak || kd.ditto || kd.sight.Mark == lexicon.Skipped {
				continue
			}
			if r.codeIn(k, v) {
				hit += n
				continue
			}
			miss += n
		}
		if hit == 0 || miss*3 > hit+miss {
			continue
		}
		score := float64(hit) / float64(hit+miss)
		if k.field != "" {
			score += 1
		}
		if k.file == b.g.File {
			score += 0.3
		}
		if score > bestScore {
			best, bestScore = k, score
		}
	}
	return best
}

// codeIn tells whether a cell holds a code with words beside it: "X 1 left".
func (r *reader) codeIn(k *codeGroup, text string) bool {
	first, _, more := strings.Cut(text, " ")
	if !more {
		return false
	}
	_, ok := k.codes[foldCode(first)]
	return ok
}

// fieldFits tells whether a key for a field is for a column under this heading.
func fieldFits(field, heading string) bool {
	if field == "" || heading == "" {
		return field == ""
	}
	if field == heading {
		return true
	}
	if i := strings.IndexByte(field, '-'); i > 0 {
		return strings.HasPrefix(heading, field[:i-1])
	}
	return len(heading) >= 2 && (strings.HasPrefix(field, heading) || strings.HasPrefix(heading, field) && len(field) >= 3)
}
