package narration

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// clauseSaid takes what is told of nests that share one text: their cover, and what was found on one day or on several.
func (r *teller) clauseSaid(x *say, p *linePart, lines []string, group []clause, day survey.Date) bool {
	var pieces [][2]int
	for _, c := range group {
		pieces = append(pieces, c.pieces...)
	}
	first := &group[0]
	told := false
	if len(lines) == 1 && len(x.states) > 0 && unnamedLoss.MatchString(r.text[x.from:x.to]) {
		r.now.short = lines[0]
	}
	r.now.named = nil
	for _, c := range group {
		r.now.named = append(r.now.named, c.ref.list...)
	}
	for _, c := range group {
		own, list := r.linesOfList(lines, c.ref.list)
		switch {
		case len(own) == 0:
			r.facts = append(r.facts, fact{is: unclearFact, nests: list, day: day, text: r.words(p, pieces), at: r.span(c.ref.from, c.ref.to)})
			told = true
		default:
			told = r.mentionSaid(x, p, own, list, &c, first, pieces, day) || told
		}
	}
	return told
}

// mentionSaid takes what is told of one mention.
func (r *teller) mentionSaid(x *say, p *linePart, lines, list []string, c, first *clause, pieces [][2]int, day survey.Date) bool {
	if c.ref.is == theRest && len(lines) == 1 && r.now.short == lines[0] {
		return true // which of them is lost is not told: they are asked about
	}
	who := byNumber
	switch c.ref.is {
	case theRest, noneOf:
		who = allOfThem
	case oddNests:
		who = oddOnes
	case evenNests:
		who = evenOnes
	case firstNests, lastNests:
		who = endOnes
	}
	told := false
	history := r.ownDays(x, p, pieces)
	if cover := r.coverFirst(x, p, c, pieces, len(history) > 0 || x.days > 0); cover != "" && who == byNumber {
		r.add(fact{is: coverFact, nests: list, cover: cover, at: r.span(c.ref.from, c.ref.to)}, lines)
		r.add(fact{is: nestsFact, nests: list, at: r.span(c.ref.from, c.ref.to)}, lines)
		told = true
		pieces = r.withoutCover(p, pieces)
		if len(list) == 1 {
			r.about(list, x.line, false)
		}
	}
	if who == byNumber && r.columnLooks(x, p, c, lines, list, pieces) {
		return true
	}
	if len(history) > 0 {
		for _, h := range history {
			if h.still {
				r.lookAs(x, lines, who, list, lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}, h.day, c.ref.from, c.ref.to, false)
				continue
			}
			r.lookTold(x, c, lines, who, list, r.words(p, h.pieces), h.day, p)
		}
		if len(list) == 1 {
			r.about(list, x.line, false)
		}
		return true
	}
	if x.days > 1 {
		day = r.dayBefore(p, c.ref.from, day)
	}
	text := r.words(p, pieces)
	if c.pre && !c.label && activeLoss.MatchString(text) { // "line 2 lost 4" says no more than that it is gone
		text = string(survey.Taken)
	}
	same := slices.ContainsFunc(p.items, func(it item) bool {
		return it.is == aSame && slices.ContainsFunc(pieces, func(pc [2]int) bool { return it.from >= pc[0] && it.to <= pc[1] })
	})
	anyState := slices.ContainsFunc(pieces, func(pc [2]int) bool { return r.found(x, pc[0], pc[1]) })
	switch {
	case same && !anyState && r.now.sight.Mark != lexicon.Unknown:
		r.look(x, lines, who, list, r.now.sight, day, c.ref.from, c.ref.to)
		return true
	case who != byNumber && (text == "" || !anyState && r.sight(text).Mark == lexicon.Unknown):
		return told
	case text == "" || strings.Trim(plainLetters(text), " ") == "":
		if c.but {
			r.add(fact{is: unclearFact, nests: list, day: day, at: r.span(c.ref.from, c.ref.to)}, lines)
			r.about(list, x.line, true) // the next sentence may say what was found
			r.now.owed = true
		} else if !told {
			r.about(list, x.line, true)
		}
		return true
	case told && !anyState && r.sight(text).Mark == lexicon.Unknown:
		return true // a nest and its cover, and a remark
	}
	return r.lookTold(x, c, lines, who, list, text, day, p) || told
}

// lookTold takes a text as what was found.
func (r *teller) lookTold(x *say, c *clause, lines []string, who selector, list []string, text string, day survey.Date, p *linePart) bool {
	at := r.span(c.ref.from, c.ref.to)
	if every := everyTime.FindStringIndex(text); every != nil && !r.now.fixing {
		if s := r.sightLed(text[:every[0]] + " " + text[every[1]:]); s.Mark.State() != "" {
			r.now.sight = s
			count := 0
			if bothTimes.MatchString(text) {
				count = 2
			}
			r.add(fact{is: lookFact, who: who, nests: list, every: true, count: count, sight: s, at: at}, lines)
			return true
		}
	}
	if survives.MatchString(text) && x.visit == 0 && !r.now.fixing {
		r.add(fact{is: lookFact, who: who, nests: list, every: true, sight: lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}, at: at}, lines)
		return true
	}
	switch plainWord(strings.Trim(text, " .,")) {
	case "no", "not", "tampoco":
		if r.now.fixing {
			r.add(fact{is: lookFact, who: who, nests: list, day: day, fix: true, at: at, sight: lexicon.Sight{Mark: lexicon.Blank}}, lines)
			return true
		}
	}
	s := r.sightLed(text)
	if s.Mark == lexicon.Unknown && forgotten.MatchString(text) {
		s = lexicon.Sight{Mark: lexicon.Skipped, Eggs: -1}
	}
	if c.ref.is == noneOf {
		switch s.Mark {
		case lexicon.Taken, lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled, lexicon.NotFound:
			s = lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}
		default:
			return false
		}
	}
	if s.Mark == lexicon.Unknown {
		if who == allOfThem {
			return false
		}
		r.add(fact{is: unclearFact, who: who, nests: list, day: max(day, 0), text: text, at: at}, lines)
		return true
	}
	r.now.sight = s
	r.lookAs(x, lines, who, list, s, day, c.ref.from, c.ref.to, r.now.fixing || negated.MatchString(plainWord(text)))
	return true
}

// unnamedLoss says that one more was lost, and not which.
var unnamedLoss = regexp.MustCompile(`(?i)\b(?:one|two|three|another|some|una?|otr[oa]s?|dos|tres) (?:more|other|others|m[aá]s)\b[^.;]*\b(?:which|cu[aá]l(?:es)?)\b`)

// activeLoss says that a line lost nests.
var activeLoss = regexp.MustCompile(`(?i)^(?:had |has |have )?lost(?:$|\W+(?:and )?(?:one|two|three|another) more\b)`)

// forgotten says that nobody looked.
var forgotten = regexp.MustCompile(`(?i)\b(?:forgot|didn['’]?t (?:get|look|go|make)|did not (?:get|look|go|make)|no (?:lo |la )?(?:revis|fui|vi\b|mir)|se me (?:olvid|pas))`)

// bothTimes says that there were two checks.
var bothTimes = regexp.MustCompile(`(?i)\bboth\b|\bambas\b|\b(?:las|los) dos\b`)

// survives says that a nest was all right to the end.
var survives = regexp.MustCompile(`(?i)^(?:and |also |it |was |y |tambi[eé]n )*(?:survived|lasted|made it|sobrevivi[oó]|aguant[oó])(?: it)?(?:,? (?:all the way|to the end|till the end|through|hasta el final?))?(?:[ ,]+(?:three|all three|all 3|3) eggs)?$`)

// everyTime says that something was found at each check.
var everyTime = regexp.MustCompile(`(?i)\b(?:both|each|every|all)\s+(?:times?|looks?|checks?|visits?|trips?)\b|\b(?:las|los)\s+(?:dos|tres)\s+(?:veces|vueltas|revisiones|visitas)\b|\bambas\s+(?:veces|vueltas|revisiones|visitas)\b|\bcada\s+(?:vez|vuelta|visita|revisi[oó]n)\b`)

// negated finds that something said before is denied: "was not gone".
var negated = regexp.MustCompile(`\b(?:not|wasnt|werent|isnt|never) (?:gone|lost|eaten|taken|hit|missing|dead|stepped)|\bno (?:estaba|estaban|era|fue) (?:comido|perdido|pisado)|\bwe found it\b|\bfound it after all\b`)

func (r *teller) look(x *say, lines []string, who selector, list []string, s lexicon.Sight, day survey.Date, from, to int) {
	r.lookAs(x, lines, who, list, s, day, from, to, r.now.fixing)
}

func (r *teller) lookAs(x *say, lines []string, who selector, list []string, s lexicon.Sight, day survey.Date, from, to int, fix bool) {
	f := fact{is: lookFact, who: who, nests: list, day: max(day, 0), sight: s, at: r.span(from, to), fix: fix}
	if day <= 0 {
		f.visit = r.now.visit
		if day < 0 {
			f.visit = int(-day)
		}
		if f.weeks = 2 * f.visit; f.visit == lexicon.Last {
			f.weeks = 0
		}
	}
	f.count = r.ends(who, from, to)
	r.add(f, lines)
}

// ends is how many of the first or the last nests a mention means.
func (r *teller) ends(who selector, from, to int) int {
	if who != endOnes {
		return 0
	}
	text := plainWord(r.text[from:to])
	t := tokenize(text)
	for i := range t {
		if v, n := numberAt(t, i); n > 0 && strings.Contains(text, "last") || n > 0 && strings.Contains(text, "ultim") {
			return -int(v)
		} else if n > 0 && t[i].word != "first" {
			return int(v)
		}
	}
	return 0
}

// sightLed reads a piece of a sentence as what was found; a remark behind it that says nothing else of the nest is passed: "gone, lots
// of shell in one pile".
func (r *teller) sightLed(text string) lexicon.Sight {
	s := r.sight(text)
	cut := remarkAt.FindStringIndex(text)
	if s.Mark != lexicon.Unknown || cut == nil {
		return s
	}
	led := r.sight(text[:cut[0]])
	if led.Mark.State() == "" || r.gainsays(led, text[cut[1]:]) {
		return s
	}
	return led
}

// remarkAt is where a remark begins.
var remarkAt = regexp.MustCompile(`\s*[,;(]\s*|\s+[-–—]\s+|\.\s+`)

var (
	turns  = wordSet(`but pero except maybe perhaps quiza quizas though although aunque then later despues until hasta still or o if si not never nunca than again`)
	shells = wordSet(`shell shells cascaron cascaras cascarones cascara yolk yema bits pieces`)
)

// gainsays tells whether a remark may say something else than what was found.
func (r *teller) gainsays(s lexicon.Sight, remark string) bool {
	tokens := lexicon.Scan(strings.ToLower(remark))
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = plainWord(t.Word)
	}
	for i, w := range words {
		if turns[w] || w == "?" || lexicon.Digit(w[0]) || s.Mark == lexicon.Intact && shells[w] {
			return true
		}
		if (w == "no" || w == "sin") && !(s.Mark != lexicon.Intact && i+1 < len(words) && (shells[words[i+1]] || remains[words[i+1]])) {
			return true
		}
		if mark, n := r.lex.PhraseAt(words, i); n > 0 && mark.State() != "" && mark != s.Mark && !shells[w] && !faintWords[w] {
			return true
		}
		if _, n := r.lex.AnimalAt(words, i); n > 0 && s.Mark == lexicon.Intact && len(w) > 3 {
			return true
		}
	}
	return false
}

// A dayPiece is what is told of one day.
type dayPiece struct {
	day    survey.Date
	pieces [][2]int
	still  bool // it was all right then: it went between that day and the next
}

// ownDays cuts a text that names several days: "5/14 good, 5/28 gone", or "good 5/14, gone 5/28".
func (r *teller) ownDays(x *say, p *linePart, pieces [][2]int) []dayPiece {
	if x.days < 2 && (x.visits < 2 || x.days > 0) {
		return nil
	}
	type part struct {
		day      survey.Date
		from, to int
	}
	var parts []part
	days := 0
	for _, pc := range pieces {
		at := pc[0]
		for _, it := range p.items {
			if it.is == aDay && it.from >= at && it.to <= pc[1] && it.day.Day != 0 || x.days == 0 && it.is == aVisit && it.from >= at && it.to <= pc[1] {
				if it.is == aVisit {
					it.day.Day = -survey.Date(it.n)
				}
				parts = append(parts, part{0, at, it.from}, part{it.day.Day, it.from, it.to})
				at = it.to
				days++
			}
		}
		parts = append(parts, part{0, at, pc[1]})
	}
	if days == 0 {
		return nil
	}
	told := func(q part) bool { return q.day == 0 && r.found(x, q.from, q.to) }
	// Where something is told before the first day and nothing behind the last, each day stands behind what was found.
	firstDay := slices.IndexFunc(parts, func(q part) bool { return q.day != 0 })
	lastDay := len(parts) - 1
	for parts[lastDay].day == 0 {
		lastDay--
	}
	before, after := slices.ContainsFunc(parts[:firstDay], told), slices.ContainsFunc(parts[lastDay:], told)
	behind := before && !after
	var out []dayPiece
	if before && days == 2 && sinceDay.MatchString(r.text[parts[firstDay-1].from:parts[firstDay-1].to]) { // "eaten between May 23 and June 6"
		return []dayPiece{{day: parts[firstDay].day, still: true}, {day: parts[lastDay].day, pieces: [][2]int{{parts[firstDay-1].from, parts[firstDay-1].to}}}}
	}
	if before && after && days == 2 && !slices.ContainsFunc(parts[firstDay:lastDay], told) && !endsApart.MatchString(r.text[parts[firstDay-1].from:parts[firstDay-1].to]) && !strings.HasPrefix(strings.TrimSpace(r.text[parts[lastDay].to:parts[len(parts)-1].to]), "(") {
		// "good May 23, but June 6 it was squashed"
		return []dayPiece{{day: parts[firstDay].day, pieces: [][2]int{{parts[0].from, parts[firstDay-1].to}}}, {day: parts[lastDay].day, pieces: [][2]int{{parts[lastDay].to, parts[len(parts)-1].to}}}}
	}
	if before && after { // told on both sides of the days
		lead := parts[firstDay-1]
		switch tail := strings.TrimSpace(r.text[parts[lastDay].to:parts[len(parts)-1].to]); {
		case onDay.MatchString(r.text[lead.from:lead.to]), strings.HasPrefix(tail, "("): // "good on May 27 but eaten on Jun 10 (shells)"
			behind = true
		case !endsApart.MatchString(r.text[lead.from:lead.to]): // which day is meant?
			for _, q := range parts {
				if q.day != 0 {
					out = append(out, dayPiece{day: q.day})
				}
			}
			return out
		}
	}
	if behind {
		var gathered [][2]int
		for _, q := range parts[:lastDay+1] {
			if q.day == 0 {
				gathered = append(gathered, [2]int{q.from, q.to})
				continue
			}
			out = append(out, dayPiece{day: q.day, pieces: gathered})
			gathered = nil
		}
		if after {
			tail := parts[lastDay+1:]
			for _, q := range tail {
				out[len(out)-1].pieces = append(out[len(out)-1].pieces, [2]int{q.from, q.to})
			}
		}
		tail := r.text[parts[lastDay].to:parts[len(parts)-1].to]
		for i := 1; i < len(out); i++ { // "good on 5/20 and 6/3"
			switch {
			case !r.onlyJoined(out[i].pieces):
			case i+1 == len(out) && !onlyWords(plainLetters(tail), joins) && !strings.HasPrefix(strings.TrimLeft(tail, " "), ",") && !strings.HasPrefix(strings.TrimLeft(tail, " "), "("): // "fine 5/20, 6/3 shells around it"
				out[i].pieces = [][2]int{{parts[lastDay].to, parts[len(parts)-1].to}}
			default:
				out[i].pieces = out[i-1].pieces
			}
		}
		return out
	}
	for _, q := range parts[firstDay:] {
		if q.day != 0 {
			out = append(out, dayPiece{day: q.day})
			continue
		}
		out[len(out)-1].pieces = append(out[len(out)-1].pieces, [2]int{q.from, q.to})
	}
	for i := len(out) - 2; i >= 0; i-- { // "5/20 and 6/3 good"
		if r.onlyJoined(out[i].pieces) {
			out[i].pieces = out[i+1].pieces
		}
	}
	return out
}

// onlyJoined tells whether nothing but words and marks that join stands between two days.
func (r *teller) onlyJoined(pieces [][2]int) bool {
	joined := false
	for _, p := range pieces {
		text := r.text[p[0]:p[1]]
		if !onlyWords(plainLetters(text), joins) {
			return false
		}
		joined = joined || strings.ContainsAny(text, ",&/") || strings.TrimSpace(plainLetters(text)) != ""
	}
	return joined
}

var joins = wordSet(`and y e both ambos on el not no nor ni`)

// sinceDay leads to the two days between which something happened.
var sinceDay = regexp.MustCompile(`(?i)\b(?:between|entre(?: el)?)\s*$`)

// endsApart finds words that are cut off from the day behind them.
var endsApart = regexp.MustCompile(`[,;:.–—-]\s*$`)

// onDay is how words lead to the day on which they hold.
var onDay = regexp.MustCompile(`(?i)\b(?:(?:on|by|as of|at|in|before|since)(?: the| my)?|(?:para|hasta|en|desde) (?:el|la)|el|al|a la)\s*$`)

// dayBefore returns the day named last before a place in a piece.
func (r *teller) dayBefore(p *linePart, at int, or survey.Date) survey.Date {
	for _, it := range p.items {
		if it.is == aDay && it.to <= at && it.day.Day != 0 {
			or = it.day.Day
		}
	}
	return or
}

// coverFirst returns the cover that stands directly behind a nest: "3 grass, 5/14 good".
func (r *teller) coverFirst(x *say, p *linePart, c *clause, pieces [][2]int, dated bool) survey.Substrate {
	if c.ref.is != someNests {
		return ""
	}
	end := p.to
	for _, it := range p.items {
		if it.from < c.ref.to {
			continue
		}
		switch it.is {
		case aCover:
			if len(strings.Fields(plainLetters(r.text[c.ref.to:it.from]))) <= 3 && !r.found(x, c.ref.to, it.from) {
				return it.cover
			}
			return ""
		case aDay:
			end = it.from
		default:
			continue
		}
		break
	}
	if !dated || end == p.to || r.found(x, c.ref.to, end) {
		return ""
	}
	return r.otherCover(&clause{pieces: [][2]int{{c.ref.to, end}}}, true)
}

// withoutCover leaves the text behind the first cover.
func (r *teller) withoutCover(p *linePart, pieces [][2]int) [][2]int {
	out := slices.Clone(pieces)
	for i := range out {
		for _, it := range p.items {
			if it.is == aCover && it.from >= out[i][0] && it.to <= out[i][1] {
				out[i][0] = it.to
				return out
			}
		}
	}
	return out
}

var (
	contractions = strings.NewReplacer("wasn't", "was not", "wasn’t", "was not", "wasnt", "was not", "weren't", "were not", "weren’t", "were not", "werent", "were not", "isn't", "is not", "isn’t", "is not", "isnt", "is not",
		"aren't", "are not", "aren’t", "are not", "ain't", "is not", "ain’t", "is not", "hadn't", "had not", "hadn’t", "had not", "hadnt", "had not", "hasn't", "has not", "hasn’t", "has not", "haven't", "have not", "haven’t", "have not",
		"didn't", "did not", "didn’t", "did not", "didnt", "did not", "couldn't", "could not", "couldn’t", "could not", "couldnt", "could not")
	wonder = regexp.MustCompile(`(?i)\b(?:not sure|no idea|(?:do(?:es)?n['’]?t|do not|did not|didn['’]?t) know|can['’]?t (?:tell|say)|unsure|no s[eé]|qui[eé]n sabe|who knows|hard to say)\s+(?:what|who|which|if|how|why|qu[eé]|qui[eé]n|si|c[oó]mo|cu[aá]l)\b[^,.;)]*`)
	// Words that say that nobody looked; others of that mark are about work done.
	notLooked = regexp.MustCompile(`(?i)\b(?:not|no|never|nobody|n['’]t|could|couldn|didn|locked|chained|closed|skipped?|missed|wet|muddy|time|dark|sin|nadie|cerrad[oa]|falt[oó]|pude|pudimos|alcanc)\w*`)
)

// standsAlone finds words that tell what was found if they are all that is said.
var standsAlone = regexp.MustCompile(`^(?:(?:en|on|at|in|el|la|the)\s+)*(nada|nothing|quedan|quedaban|(?:only\W+|just\W+)?left)$`)

// sight reads a piece of a sentence as what was found; Unknown where it cannot be told for sure.
func (r *teller) sight(text string) lexicon.Sight {
	text = contractions.Replace(strings.ToLower(text))
	text = wonder.ReplaceAllString(text, " ")
	text = strings.Trim(text, " ,.:;-/()")
	switch m := standsAlone.FindStringSubmatch(text); {
	case m == nil:
	case m[1] == "nada" || m[1] == "nothing":
		return lexicon.Sight{Mark: lexicon.Taken, Eggs: -1}
	default:
		return lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}
	}
	s := r.lex.Sight(text)
	switch s.Mark {
	case lexicon.Yes, lexicon.No, lexicon.Zero, lexicon.One, lexicon.SetOut, lexicon.Blank:
		s.Mark = lexicon.Unknown
	case lexicon.Skipped:
		if !notLooked.MatchString(text) {
			s.Mark = lexicon.Unknown
		}
	}
	if s.Mark != lexicon.Unknown && s.How == lexicon.Phrase && r.doubtful(text, s.Mark) {
		s.Mark = lexicon.Unknown
	}
	if s.How == lexicon.Misspelt && len(strings.Fields(text)) > 2 {
		s.Mark = lexicon.Unknown
	}
	return s
}

var (
	negations = wordSet(`not no never nunca ni nor neither hardly tampoco without nobody nadie`)
	remains   = wordSet(`shell shells cascarones cascaron cascaras egg eggs huevo huevos flag bandera animal predator varmint critter cow cows vaca vacas nada nothing none`)
	praise    = wordSet(`good fine well right bien buen buena bueno whole full live great perfect safe complete`)
	linking   = wordSet(`gracias thanks thank dios god still aun todavia once yet anyway though tho far except otherwise and y but pero too again when cuando i we so for as today hoy till until still in on at with y o or both now then`)
)

// doubtful tells whether a state among other words may mean something else: what is denied, "a good track", or words that
// only look like a usual one.
func (r *teller) doubtful(text string, m lexicon.Mark) bool {
	tokens := lexicon.Scan(text)
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = t.Word
	}
	known := false
	for i := 0; i < len(words); {
		mark, n := r.lex.PhraseAt(words, i)
		if n == 0 || mark == lexicon.SetOut || mark == lexicon.Yes || mark == lexicon.No {
			if negations[words[i]] && r.denies(words, i) {
				return true
			}
			if _, k := r.lex.AnimalAt(words, i); k > 0 {
				known = true
			}
			i++
			continue
		}
		known = known || mark == m || n > 1
		if n == 1 && mark == lexicon.Intact && m == lexicon.Intact && praise[words[i]] && i+1 < len(words) {
			if _, k := r.lex.PhraseAt(words, i+1); k == 0 && strings.TrimSpace(text[tokens[i].To:tokens[i+1].From]) == "" && !linking[words[i+1]] && letterFirst(words[i+1]) {
				return true // "good track"
			}
		}
		i += n
	}
	counted := func(s lexicon.Sight) bool { return s.Eggs >= 0 }
	return !known && !counted(r.lex.Sight(text))
}

func letterFirst(w string) bool { return w[0] >= 'a' && w[0] <= 'z' }

// denies tells whether a word of denial stands before what was found: "was not really gone".
func (r *teller) denies(words []string, i int) bool {
	for k := i + 1; k <= min(i+2, len(words)-1); k++ {
		mark, n := r.lex.PhraseAt(words, k)
		if n > 0 && mark.State() != "" && !remains[words[k]] && (n > 1 || !faintWords[words[k]]) {
			return true
		}
	}
	return false
}
