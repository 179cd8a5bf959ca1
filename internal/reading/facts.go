package reading

import (
	"regexp"
	"strings"
	"unicode"

	"tussock/internal/lexicon"
)

// Facts are what a title, a tab, a file's name or a line above a table says about everything below it.
type facts struct {
	ranch  fact
	season int
	line   fact
	site   fact
	set    dayFact
	checks []checkFact
	rule   *coverRule
	step   float64 // feet a step
	width  float64 // of belts, in feet
	length lexicon.Measure
	year   *cell // where the season stands
}

type fact struct {
	text string
	at   *cell
	weak bool // taken from what is left of a title
}

type dayFact struct {
	date lexicon.Date
	at   *cell
}

type checkFact struct {
	visit int // 0 for the next in order
	after int // its day after setting, where it is called by that; else 0
	dayFact
	name string // as it is labelled, folded; "" where it stands in a sentence
}

// A scope is facts within facts: a block within its tab, within its file.
type scope struct {
	up *scope
	facts
}

func (s *scope) child(f facts) *scope { return &scope{up: s, facts: f} }

func (s *scope) find(has func(*facts) bool) *facts {
	for ; s != nil; s = s.up {
		if has(&s.facts) {
			return &s.facts
		}
	}
	return nil
}

var (
	ranchPattern = regexp.MustCompile(`((?:[A-ZÁÉÍÓÚÑ0-9][\pL\d'’.]*\s+(?:&\s+|and\s+|of\s+the\s+)?){1,4}(?:Ranch(?:es)?|RANCH|Place|PLACE|Land & Cattle|Land and Cattle|Livestock|Cattle Co\.?|Cattle Company|Bros\b\.?|BROS\b\.?|Brothers|Farms?|FARM|Grazing|Angus|Herefords))(?:\b|\.|$)`)
	ranchoPat    = regexp.MustCompile(`((?:Rancho|RANCHO)\s+(?:(?:el|la|los|las|de|del|EL|LA|LOS|LAS|DE|DEL|El|La|Los|Las)\s+)*[A-ZÁÉÍÓÚÑ][\pL]+(?:\s+(?:(?:de|del|la|las|los|el)\s+)*[A-ZÁÉÍÓÚÑ][\pL]+){0,2})`)
	separators   = regexp.MustCompile(`\s+[-–—·|]+\s+|\s*[;:|]\s+|,\s+|\s{2,}|\t|\s*[()]\s*|\.\s+|\n`)
)

var topicWords = wordSet(topics)

const topics = `contact visit visits visitas readme nest nests nesting lines line egg eggs survey surveys simulated fake dummy artificial mock spring summer season seasons fall year nidos nido primavera verano prueba pruebas simulado simulados temporada sheet sheets book books data results result log record records count counts quail grouse bird birds hen hens field form project study del de los las the our my of for in and y e study season kept by typed up transects transect clumps clump belts belt strips strip cover walk walks final copy new old rev version v check checks set out list form run lineas linea conteo hoja libro export report reports test trial lo que se waypoints stuff month may june april mayo junio abril with events event entries daybook notebook tally listing page notes from kept all one ground tests look looks survey's what we found ranch's datos registros registro resultados revision revisiones info nidal anidacion diario huevos papa mama dad mom dads moms napkin only same again two put lasted did not run counted walking looked walked odd even three hens set page printed north south east west home sheet1 hoja1 table data1 untitled book1 libro1 download attachment scan img photo img0 doc file archivo los first second third year's our first draft fixed corrected updated latest clean cleaned`

func wordSet(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// factsIn reads a line of text above, beside or below a table. title allows a ranch's name to be taken from what is left
// once the words of the job are gone.
func (r *reader) factsIn(c *cell, title bool) facts {
	text := c.text
	f := facts{}
	if y := lexicon.FindYear(text); y != 0 {
		f.season, f.year = y, c
	}
	if name := ranchNamed(text); name != "" {
		f.ranch = fact{text: name, at: c}
	} else if title && !linePattern.MatchString(text) {
		if name := whatIsLeft(text, false); name != "" {
			f.ranch = fact{text: name, at: c, weak: true}
		}
	}
	items := r.scan(text)
	f.rule = r.coverRuleIn(items)
	if f.rule != nil {
		f.rule.at = c
	}
	if countOf(items, aLine) < 2 { // else each line has days of its own
		r.datesIn(&f, items, c)
	}
	r.measuresIn(&f, text, items)
	if loc := linePattern.FindStringSubmatchIndex(text); loc != nil && loc[4] == loc[5] && lineLeads(text[:loc[0]]) {
		name := text[loc[2]:loc[3]]
		if m := regexp.MustCompile(`(?i)(?:lines?|transects?|l[ií]n[ei]as?|transectos?|\bln\b|\btrans\b)`).FindAllStringIndex(text, -1); len(m) == 1 {
			f.line = fact{text: name, at: c}
			if f.site = r.siteIn(text[loc[1]:], c, true); f.site.text == "" {
				f.site = r.siteIn(text[:loc[0]], c, false)
			}
		}
	}
	if f.line.text == "" && (f.season != 0 || f.ranch.text != "" || f.set.at != nil || between(items, aPasture)) {
		if f.line = r.lineInTitle(text, items, c); f.line.text != "" {
			f.site = r.siteIn(text, c, false)
		}
	}
	if f.line.text == "" {
		f.line = namedLine(text, c, f.set.at != nil || len(f.checks) > 0)
	}
	setOut(&f, items, c)
	if f.site.text == "" && f.line.text == "" {
		f.site = r.siteIn(text, c, false)
	}
	if f.rule == nil && f.line.text != "" {
		f.rule = allIn(items, c)
	}
	if m := allNestsIn.FindString(text); f.rule == nil && m != "" {
		f.rule = allIn(r.scan(m), c)
	}
	return f
}

// allNestsIn is a sentence on what all nests sit in: "All nests in bunchgrass."
var allNestsIn = regexp.MustCompile(`(?i)\b(?:all|todos)\s+(?:of\s+)?(?:the\s+|los\s+)?(?:nests|eggs|nidos|huevos|flags|them|clumps)\s+(?:(?:are|were|is|was|sit|set|put|placed|went|go|estan|están|van|fueron|puestos)\s+)*(?:in|under|en|bajo)\s+(?:a\s+|the\s+)?\pL[\pL ]{2,30}`)

// allIn reads the head of a line that says what all its nests sit in: "Line 1 (all in bunchgrass)".
func allIn(items []item, c *cell) *coverRule {
	all := false
	var rule *coverRule
	for _, it := range items {
		switch it.is {
		case theRest:
			all = true
		case aCover:
			if rule != nil {
				return nil
			}
			rule = &coverRule{all: it.cover.Substrate, at: c}
		case aState:
			if !strings.HasPrefix(it.word, "all") && !strings.HasPrefix(it.word, "tod") { // "all in", before a cover, is no state
				return nil
			}
			all = true
		case aMeasure, someNests, aNumber, anAnimal, aPasture, aParity, aBut:
			return nil
		}
	}
	if !all {
		return nil
	}
	return rule
}

var (
	bareNamedLine = regexp.MustCompile(`(?i)^\W*(?:the\s+)?(\pL[\pL'’]+(?: \pL[\pL'’]+)?) (?:line|transect)\s*:?$`)
	bareLineName  = regexp.MustCompile(`(?i)^\W*(?:l[ií]nea|transecto)\s*:?\s+(?:de la |del |de los |de )?(\pL[\pL'’]+(?: \pL[\pL'’]+)?)\s*:?$`)
	lineAfterName = regexp.MustCompile(`^\W*(?:[Tt]he\s+)?([A-ZÁÉÍÓÚÑ][\pL\d'’]*(?:\s+[A-ZÁÉÍÓÚÑ][\pL\d'’]*){0,2})\s+(?:[Ll]ine|[Tt]ransect|LINE|TRANSECT)\b(.*)$`)
	nameAfterLine = regexp.MustCompile(`^\W*(?:[Ll][ií]nea|[Tt]ransecto|L[IÍ]NEA|[Ll]ine|[Tt]ransect)\s*:?\s+(?:de la\s+|del\s+|de los\s+)?([A-ZÁÉÍÓÚÑ][\pL'’]+(?:\s+[A-ZÁÉÍÓÚÑ][\pL'’]+){0,2})(.*)$`)
)

// namedLine finds a line with a name of its own at the head of a text: "North line - set out 5/12". dated tells that the text
// names the line's days; else little else may stand there.
func namedLine(text string, c *cell, dated bool) fact {
	for _, p := range []*regexp.Regexp{bareLineName, bareNamedLine} { // nothing but a line with a name: "Línea del bordo", "creek line"
		if m := p.FindStringSubmatch(text); m != nil && (!topicWords[lexicon.Fold(m[1])] || compass[lexicon.Fold(m[1])]) {
			return fact{text: titleCase(crew.ReplaceAllString(m[1], "")), at: c}
		}
	}
	for _, p := range []*regexp.Regexp{lineAfterName, nameAfterLine} {
		m := p.FindStringSubmatch(text)
		if m == nil || !dated && len(strings.Fields(m[2])) > 3 || topicWords[lexicon.Fold(m[1])] && !compass[lexicon.Fold(m[1])] {
			continue
		}
		return fact{text: m[1], at: c}
	}
	return fact{}
}

// crew ends the name of a line that is called after who walks it: "Red team line".
var crew = regexp.MustCompile(`(?i)(?:['’]s?)?\s+(?:team|crew|group|gang|kids|class|equipo|grupo)['’]?s?$`)

// compass are words of titles that also name lines.
var compass = wordSet(`north south east west home`)

// lineLeads tells whether what stands before "Line 2" leaves it the subject.
func lineLeads(before string) bool {
	if pasturePat.MatchString(before) && len(strings.Fields(before)) <= 5 {
		return true
	}
	before = strings.Trim(lexicon.Words(before), " -*#=")
	return before == "" || len(strings.Fields(before)) <= 2
}

// ranchNamed finds a name that says it is a ranch's.
func ranchNamed(text string) string {
	for _, p := range []*regexp.Regexp{ranchoPat, ranchPattern} {
		if m := p.FindString(text); m != "" {
			return titleCase(strings.TrimSpace(m))
		}
	}
	if u := strings.ToUpper(text); u == text && strings.Contains(u, "RANCH") { // a title in capitals
		if m := ranchPattern.FindString(titleCase(text)); m != "" {
			return strings.TrimSpace(m)
		}
	}
	return ""
}

// titleCase writes a name in capitals as names are written.
func titleCase(s string) string {
	if strings.ToUpper(s) != s || len(s) < 4 {
		return s
	}
	words := strings.Fields(strings.ToLower(s))
	for i, w := range words {
		if i > 0 && (w == "de" || w == "del" || w == "la" || w == "las" || w == "los" || w == "el" || w == "of" || w == "the" || w == "and") && i < len(words)-1 && w != "el" && w != "la" && w != "los" && w != "las" {
			continue
		}
		r := []rune(w)
		r[0] = unicode.ToUpper(r[0])
		words[i] = string(r)
	}
	return strings.Join(words, " ")
}

// whatIsLeft takes a ranch's name from a title or a file's name once the words of the job, years and persons are gone.
func whatIsLeft(text string, file bool) string {
	for _, seg := range separators.Split(text, -1) {
		var kept []string
		capital := 0
		for _, w := range strings.Fields(strings.NewReplacer("_", " ", "!", " ", "#", " ", "*", " ", "\"", " ", "=", " ").Replace(seg)) {
			low := lexicon.Fold(strings.TrimSuffix(strings.TrimSuffix(w, "'s"), "’s"))
			if low == "" || topicWords[low] || isYear(low) || strings.ContainsAny(w, "0123456789") {
				continue
			}
			if r := []rune(w); unicode.IsUpper(r[0]) {
				capital++
			}
			kept = append(kept, w)
		}
		if len(kept) == 0 {
			continue
		}
		if len(kept) > 4 {
			return ""
		}
		if capital < len(kept) && !file {
			return ""
		}
		name := strings.Join(kept, " ")
		if capital == 0 {
			name = titleCase(strings.ToUpper(name))
		}
		return titleCase(name)
	}
	return ""
}

func isYear(s string) bool {
	n, ok := lexicon.Atoi(s)
	return ok && (n >= 1950 && n <= 2100 || n < 100)
}

var labeledSite = regexp.MustCompile(`(?i)^\W*(?:pasture|paddock|allotment|potrero)\s*:\s*([^\s;,|()][^;,|()]{0,29}?)(?:\s{2,}.*|[;,|(].*)?$`)

// siteIn finds the pasture named in a text. Below a line's head a name alone will do.
func (r *reader) siteIn(text string, c *cell, headed bool) fact {
	if m := labeledSite.FindStringSubmatch(text); m != nil {
		return fact{text: titleCase(strings.TrimSpace(m[1])), at: c}
	}
	for _, seg := range separators.Split(" "+text, -1) {
		seg = strings.Trim(seg, " -–—.,")
		if loc := pasturePat.FindStringIndex(seg); loc != nil {
			before, after := strings.TrimSpace(seg[:loc[0]]), strings.TrimSpace(seg[loc[1]:])
			name := before
			if strings.HasPrefix(strings.ToLower(seg[loc[0]:loc[1]]), "potrero") || before == "" {
				name = strings.TrimLeft(after, ":. ")
			}
			name = strings.TrimSpace(regexp.MustCompile(`(?i)^.*\b(?:in|on|at|en)\s+(?:the\s+)?|^the\s+`).ReplaceAllString(name, ""))
			if i := separators.FindStringIndex(name); i != nil {
				name = name[:i[0]]
			}
			if name != "" && len(strings.Fields(name)) <= 4 {
				return fact{text: titleCase(name), at: c}
			}
		}
	}
	if !headed {
		return fact{}
	}
	for _, seg := range separators.Split(text, -1) {
		seg = strings.Trim(seg, " -–—.,")
		if items := r.scan(seg); len(items) > 0 && items[0].from > 2 && items[0].is != aPasture { // "Home Quarter set 4/29"
			if name := strings.Trim(seg[:items[0].from], " -–—.,:"); !strings.Contains(name, " ") || len(name) > 8 {
				seg = name
			}
		}
		if seg == "" || strings.ContainsAny(seg, "0123456789=") || len(strings.Fields(seg)) > 4 {
			continue
		}
		if !named(seg) {
			continue
		}
		k := r.kindOf(seg)
		if k.isCover || k.sight.Mark != lexicon.Unknown || k.head.Role != lexicon.NoRole || r.speaks(seg) {
			continue
		}
		return fact{text: titleCase(seg), at: c, weak: true}
	}
	return fact{}
}

// named tells whether a piece of text is written as names are: each word with a capital.
func named(seg string) bool {
	for _, w := range strings.Fields(seg) {
		switch w {
		case "de", "del", "la", "las", "los", "el", "of", "the", "and", "y":
			continue
		}
		if r := []rune(w); !unicode.IsUpper(r[0]) {
			return false
		}
	}
	return true
}

// speaks tells whether a piece of text is a remark with a verb rather than a name.
func (r *reader) speaks(seg string) bool {
	for _, it := range r.scan(seg) {
		if it.is != anyWord && it.is != someNests {
			return true
		}
	}
	for _, w := range strings.Fields(lexicon.Words(seg)) {
		switch w {
		case "walked", "typed", "by", "with", "and", "was", "were", "is", "no", "not", "del", "camino", "con", "por", "continued", "cont", "same":
			return true
		}
	}
	return false
}

// datesIn finds the day of setting and the days of the checks.
func (r *reader) datesIn(f *facts, items []item, c *cell) {
	set := -1
	for i, it := range items {
		switch it.is {
		case aSetting:
			set = i
		case aVisit:
			for _, next := range items[i+1:] {
				if next.is == aVisit || next.is == aSetting || next.is == aStop {
					break
				}
				if next.is == aDate {
					f.checks = append(f.checks, checkFact{visit: it.visit, dayFact: dayFact{next.date, c}})
					break
				}
			}
		case aDate:
			if set >= 0 && f.set.at == nil && i-set <= 2 && !between(items[set+1:i], aVisit) {
				f.set = dayFact{it.date, c}
			}
		}
	}
	if f.set.at == nil && set >= 0 { // "April 28: set out line 1"
		for i := set - 1; i >= 0 && i >= set-2; i-- {
			if items[i].is == aDate {
				f.set = dayFact{items[i].date, c}
			}
		}
	}
	if len(f.checks) == 0 {
		word := checkLead.FindStringIndex(c.text)
		if word == nil {
			word = weekLead.FindStringIndex(c.text)
		}
		for i, it := range items {
			if it.is == aDate && word != nil && it.from > word[0] && !(f.set.at != nil && set >= 0 && i > set && it.date == f.set.date) {
				f.checks = append(f.checks, checkFact{dayFact: dayFact{it.date, c}})
			}
		}
	}
}

func countOf(items []item, kind itemKind) int {
	n := 0
	for _, it := range items {
		if it.is == kind {
			n++
		}
	}
	return n
}

// weekLead is a title such as "Week 2 (5/30)", of a check that is called by its week.
var weekLead = regexp.MustCompile(`(?i)^\W*(?:weeks?|wk|semana)\s*#?\s*\d{1,2}\b`)

var checkLead = regexp.MustCompile(`(?i)\b(?:checked|looked|visited|checks?|looks?|revisad[oa]s?|revis[eé]|revisamos|visitas?)\b`)

func between(items []item, kinds ...itemKind) bool {
	for _, it := range items {
		for _, k := range kinds {
			if it.is == k {
				return true
			}
		}
	}
	return false
}

var (
	widthOf    = regexp.MustCompile(`(?i)^\s*-?\s*(?:belts?|strips?|franjas?|fajas?)\b`) // "a 6 ft belt"
	widthWords = regexp.MustCompile(`(?i)(?:\d\s*-?\s*(?:ft|feet|foot|m|pies?)\.?[\s-]+(?:belts?|strips?|franjas?|fajas?)\b|wide|width|ancho|de ancho|swathe?|stick|pole|rod|rope|lath|string|pipe|vara|palo|carrizo|tubo|mecate|cuerda|strips?\s+(?:\d|were|are)|\b(?:by|por)\s+(?:a\s+)?\d|\bx\s*\d)`)
	stepWords  = regexp.MustCompile(`(?i)\b(?:my |his |her |our |mi |un |one |1 )?(?:steps?|paces?|pasos?)\b`)
)

// beltTool is what people carry across a belt to keep its width.
var beltTool = regexp.MustCompile(`\b(?:swathe?|stick|pole|rod|rope|lath|string|board|pipe|vara|palo|carrizo|tubo|mecate|cuerda)\b`)

// Labels before their measure: "ancho (pies) 6", "width: 6", "length ft 700".
var (
	widthLabel  = regexp.MustCompile(`(?i)\b(?:ancho|anchura|width|wide)\s*[(\[,]?\s*(ft|feet|pies|m|metros|meters|yd|yards)?\.?\s*[)\]]?\s*[:=]?\s+(\d+(?:[.,]\d+)?)\b`)
	lengthLabel = regexp.MustCompile(`(?i)\b(?:largo|longitud|length|long)\s*[(\[,]?\s*(ft|feet|pies|m|metros|meters|yd|yards|steps|pasos|paces)\.?\s*[)\]]?\s*[:=]?\s+(\d+(?:[.,]\d+)?)\b`)
)

func orWord(w, or string) string {
	if w == "" {
		return or
	}
	return w
}

// measuresIn finds the length of a step and the width of belts.
func (r *reader) measuresIn(f *facts, text string, items []item) {
	if figures := inFigures(text); figures != text {
		text, items = figures, r.scan(figures)
	}
	if f.width == 0 {
		f.width = r.titleWidth(text)
	}
	if stepWords.MatchString(text) {
		f.step = lexicon.StepIn(text)
	}
	if f.width == 0 && f.length == (lexicon.Measure{}) {
		r.sizesBy(f, text)
	}
	if !widthWords.MatchString(text) {
		return
	}
	if m := widthLabel.FindStringSubmatch(text); m != nil {
		if w, ok := r.lex.Measure(m[2], strings.ToLower(orWord(m[1], "ft")), false); ok && w.Feet >= 1.5 && w.Feet <= 60 {
			f.width = w.Feet
		}
	}
	if m := lengthLabel.FindStringSubmatch(text); m != nil && f.length == (lexicon.Measure{}) {
		if l, ok := r.lex.Measure(m[2], strings.ToLower(m[1]), false); ok && (l.Feet > 0 || l.Steps > 0) {
			f.length = l
		}
	}
	for _, it := range items {
		if it.is != aMeasure || it.measure.Feet == 0 || it.measure.Steps > 0 {
			continue
		}
		near := strings.ToLower(text[max(0, it.from-12):it.to] + sameSentence(text, it.to, min(len(text), it.to+14)))
		if widthOf.MatchString(text[it.to:]) || strings.Contains(near, "wide") || strings.Contains(near, "width") || strings.Contains(near, "ancho") || beltTool.MatchString(near) || strings.HasSuffix(strings.ToLower(strings.TrimSpace(text[:it.from])), " by") || strings.HasSuffix(strings.TrimSpace(strings.ToLower(text[:it.from])), " x") || strings.HasSuffix(strings.TrimSpace(strings.ToLower(text[:it.from])), "by a") {
			if it.measure.Feet >= 1.5 && it.measure.Feet <= 60 {
				f.width = it.measure.Feet
			}
		}
	}
	for _, it := range items {
		if it.is == aMeasure && (it.measure.Steps > 0 || it.measure.Acres > 0 || it.measure.Feet > 60) && f.length == (lexicon.Measure{}) {
			f.length = it.measure
		}
	}
}
