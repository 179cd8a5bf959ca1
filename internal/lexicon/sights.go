package lexicon

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/survey"
)

// A Mark is what one cell says about a nest, before it is known what the whole sheet means by a 0.
type Mark uint8

// The marks. The first three and the last four say no state.
const (
	Unknown  Mark = iota
	Blank         // nothing is written
	Skipped       // somebody wrote that nobody looked, or that there was nothing left to look at
	Intact        // all eggs there
	Taken         // by a predator
	Spoiled       // burst, rotten, hail, fire, plow
	Trampled      // by livestock
	Flooded       //
	NotFound      // the nest could not be found again
	Zero          // "0": no eggs left, or no damage
	One           // "1" beside zeros
	SetOut        // the row tells of setting the nest
	Yes           // y, yes, sí, +: depends on what is asked
	No            // n, no, -
)

var markStates = [256]survey.State{
	Intact: survey.Intact, Taken: survey.Taken, Spoiled: survey.Spoiled,
	Trampled: survey.Trampled, Flooded: survey.Flooded, NotFound: survey.Lost,
}

var stateMarks = map[survey.State]Mark{
	survey.Intact: Intact, survey.Taken: Taken, survey.Spoiled: Spoiled,
	survey.Trampled: Trampled, survey.Flooded: Flooded, survey.Lost: NotFound,
}

// State returns the state a mark stands for, "" where it stands for none yet.
func (m Mark) State() survey.State { return markStates[m] }

// MarkOf returns the mark of a state; Unknown for "".
func MarkOf(s survey.State) Mark { return stateMarks[s] }

// A How says how a cell was understood.
type How uint8

// From our own word to a guess that is best shown to the sender.
const (
	Plain    How = iota // one of our own words
	Known               // another usual word or mark
	Misspelt            // a usual word with a slip of the hand
	Phrase              // a usual word among others that change nothing
)

// A Sight is what one cell says a look found.
type Sight struct {
	Mark    Mark
	Eggs    int    // how many were left; -1 where not said
	Of      int    // how many there had been, where the cell says; else 0
	Animal  string // the predator named in the cell, as written
	Doubt   bool   // two usual meanings
	How     How
	Word    string // as compared: see Words
	Already bool   // something that had happened before: gone already
	Faint   bool   // told by a word alone that may as well say who was about: cows, water
	Agent   bool   // somebody or something other than a predator is named that brought the end: stepped on, hail
	Weak    bool   // only a letter or a lone mark: means this where the column holds states, and else anything
	Failed  bool   // it says that the nest failed and not how: failed, empty
}

// weakAlone are words that say what was found where they stand alone in a column of states, and elsewhere something else.
var weakAlone = set("out over right well here new eggs huevos todo todos toda todas left start put como place res stock live dead full clean fair same bit nada")

// ownAlone are words that say something else alone in a column of states than in a sentence.
var ownAlone = map[string]Mark{"nada": Taken, "done": Skipped, "bad": Spoiled}

// faintAlone are words that may as well say who was about.
var faintAlone = set("cow cows cattle vaca vacas ganado stock animal heat calor dead whole shell shells all todo todos ahi eggs here there well over")

// initials are letters with a full stop behind each, or a stroke between them.
var (
	initials = regexp.MustCompile(`^(?:(?:\pL\.\s?){2,4}|\pL/\pL)$`)
	unsigned = strings.NewReplacer(".", "", "/", "")
)

// Sight reads what one cell says a look found. The zero Mark is returned where it says nothing that can be told.
func (l *Lexicon) Sight(raw string) Sight {
	if letters := initials.FindString(raw); letters != "" { // n.f., n/f
		raw = unsigned.Replace(letters)
	}
	out := Sight{Eggs: -1, Word: Words(raw)}
	if raw == "" {
		out.Mark = Blank
		return out
	}
	if m, ok := stateMarks[survey.State(out.Word)]; ok {
		out.Mark = m
		return out
	}
	if zeroAndWho.MatchString(out.Word) { // no eggs and who took them, or nobody came
		return out
	}
	out.How = Known
	switch out.Word {
	case "i":
		out.Mark, out.Weak = Intact, true
		return out
	case "na", "n/a", "n/c":
		out.Mark = Skipped
		return out
	case "y", "si", "s", "true", "verdadero":
		out.Mark, out.Weak = Yes, true
		return out
	case "n", "no", "false", "falso", "☐":
		out.Mark, out.Weak = No, true
		return out
	case "none", "ninguno", "cero", "zero":
		out.Mark, out.Weak = Zero, true
		return out
	}
	if eggs, ok := shareOfEggs(out.Word); ok { // 67 % of three
		out.Mark, out.Eggs, out.Of, out.Weak = Taken, eggs, usualEggs, true
		if eggs == usualEggs {
			out.Mark = Intact
		}
		return out
	}
	if isName(out.Word) { // T-1 is a name, 36,2 a measure
		return out
	}
	var buf [mostTerms]term
	t := l.states.terms(raw, buf[:])
	for _, w := range t {
		out.Already = out.Already || w.text == "already" || w.text == "ya"
	}
	switch {
	case len(t) == 0:
	case onlyMarks(t):
		out.Mark, out.Weak = markAlone(t), true
	case twoDays(t): // of two looks
		out.How = Phrase
	case l.alone(t, &out):
	default:
		l.settle(t, &out)
	}
	return out
}

// isName tells whether an entry can be no more than a name or a measure: letters and figures in one, or several figures and no
// word.
func isName(words string) bool { return nameOrMeasure.MatchString(words) }

var nameOrMeasure = regexp.MustCompile(`^(?:\pL[ .#-]{0,2}\d+(?:[ .-]\d+)?|\d+[ ,.]+\d+|(?:\d+\pL+){2,}\d*|(?:\pL+\d+){2,}\pL*)$`)

// zeroAndWho is a figure 0 and a predator: "0 pred". Among numbers of eggs it says that none was left, else it may deny.
var zeroAndWho = regexp.MustCompile(`^0 (?:eggs? )?(?:pred|predator|predators|predation|depred|depredated|predated|coon|coyote|skunk|badger|crow|raven|fox)s?$`)

// causeUnknown finds words that say that nobody knows how a nest failed.
var causeUnknown = regexp.MustCompile(`\b(?:cause|causes|reason|reasons|causa|motivo|razon)\W+(?:(?:is|was|es|of \w+)\W+)?(?:unknown|unk|unclear|uncertain|undetermined|not known|not clear|not determined|desconocid[oa]|no determinad[oa]|no se sabe|incierta)\b|\b(?:unknown|unk|undetermined|unclear|uncertain|no known|no clear|no) (?:cause|reason)\b|\b(?:not|nt|t|can|never|dont|cant|cannot|couldnt|didnt|do not|no idea|no clue|hard to|unable to)\b[^,;.]{0,12}\b(?:say|tell|know|sure|figure|idea|clue)\b[^,;.]{0,8}\b(?:why|the cause|the reason|what happened|how it (?:failed|was lost))\b|\bno (?:se sabe|sabemos|supimos|se) (?:por que|porque|la causa)\b|\b(?:lost|failed|fail|failure)\W+unknown\b`)

// failure finds words that say that a nest failed, whoever or whatever did it; robbery finds those that say somebody took the eggs.
var (
	failure = regexp.MustCompile(`\b(?:fail\w*|empty|emptied|destroy\w*|gone|lost|missing|dead|unsuccessful|inactive|nothing|no eggs|none left|fracas\w*|fallid\w+|fallo|perdid\w+|vaci[oa]s?|destruid\w+|nada|sin huevos)\b`)
	robbery = regexp.MustCompile(`\b(?:de?pred\w*|pred|rob\w*|raid\w*|st[oe]l\w*|tak\w*|took|got|eat\w*|ate|comi\w*|animal\w*|anim\w*)\b`)
)

// failedOnly tells whether words say that a nest failed and not how.
func failedOnly(words string) bool { return failure.MatchString(words) && !robbery.MatchString(words) }

// CauseUnknown tells whether an entry says that nobody knows how a nest failed; alone it stands under a heading that asks for
// the cause.
func (l *Lexicon) CauseUnknown(raw string, alone bool) bool {
	w := Words(raw)
	return causeUnknown.MatchString(w) || alone && (oneOf(w, "unknown", "unk", "?", "u", "not known", "undetermined", "undet", "unclear", "uncertain", "desconocido", "desconocida", "no se sabe", "can't tell", "cant tell", "don't know", "dont know", "no idea"))
}

// OtherEnd tells whether a remark names what ends nests other than predators: hooves, water, hail, machines, or livestock at the
// nest itself. "Cattle in pasture" ends none.
func (l *Lexicon) OtherEnd(raw string) bool {
	livestock, at := false, false
	for _, w := range Tokens(raw) {
		switch l.states.words[w].sense {
		case trod, drowned, bane:
			return true
		case stock:
			livestock = true
		}
		at = at || atNest[w]
	}
	return livestock && at
}

// atNest are words that bring livestock to the nest.
var atNest = set("foot feet hoof hooves hoofprint track tracks bowl nest it egg eggs flat flattened smashed bed bedded lay laid pata patas huella huellas nido encima")

// shareOfEggs reads a share in percent that is one of a usual clump's eggs: 0, 33, 67 or 100 %.
func shareOfEggs(word string) (eggs int, ok bool) {
	number, ok := strings.CutSuffix(word, "%")
	if !ok {
		return 0, false
	}
	n, ok := Atoi(strings.TrimSpace(number))
	if !ok || n > 100 {
		return 0, false
	}
	eggs = (n*usualEggs + 50) / 100
	off := n - 100*eggs/usualEggs
	return eggs, off >= -1 && off <= 1
}

// twoDays tells whether a cell names two days. A fraction beside a day is one: 18/5 good 1/6 gone.
func twoDays(t []term) bool {
	days, fractions := 0, 0
	for i := range t {
		if t[i].day {
			days++
		}
		if t[i].of == 6 {
			fractions++
		}
	}
	return days > 1 || days > 0 && fractions > 0
}

func onlyMarks(t []term) bool {
	for i := range t {
		if t[i].sense != stop {
			return false
		}
	}
	return true
}

// markAlone reads a dash or a full stop, which say that there is nothing to say.
func markAlone(t []term) Mark {
	for i := range t {
		switch t[i].mark {
		case '-', '.', '=':
			if t[i].mark != t[0].mark {
				return Unknown
			}
		case '+':
			if len(t) == 1 {
				return Yes
			}
			return Unknown
		default:
			return Unknown
		}
	}
	return Skipped
}

// alone reads a cell of one word or phrase, or a bare number.
func (l *Lexicon) alone(t []term, out *Sight) bool {
	var it *term
	for i := range t {
		switch {
		case t[i].sense == little || t[i].sense == stop && oneOf(t[i].text, ".", ",", "-", ":"):
		case it != nil:
			return false
		default:
			it = &t[i]
		}
	}
	if it == nil {
		return true
	}
	m := it.sense.mark()
	if own, ok := ownAlone[it.text]; ok && it.word >= 0 {
		out.Mark, out.Weak = own, true
		return true
	}
	switch it.sense {
	case amount:
		return bare(it, out)
	case holds, harm, broke, over, weather, raptor, goes, removed, predator:
		return false
	case spent:
		m = Taken
	case egg:
		if !oneOf(it.text, "eggs", "huevos") {
			return false
		}
		m = Intact
	case water:
		m = Flooded
	case absent:
		out.Doubt = true
	}
	if m == Unknown {
		return false
	}
	out.Mark, out.Failed = m, m == Taken && failedOnly(out.Word)
	out.Agent = oneSense(it.sense, stock, water, bane, trod, drowned, rotted)
	if it.slip {
		out.How = Misspelt
	}
	out.Weak = weakAlone[it.text] || len([]rune(it.text)) == 1 && m != Intact
	out.Faint = faintAlone[it.text] || it.sense == stock || it.sense == bane || it.sense == water
	out.Weak = out.Weak || it.sense == water
	return true
}

// bare reads a number of eggs with nothing beside it.
func bare(it *term, out *Sight) bool {
	out.Weak = it.of == 0
	total := usualEggs
	if it.of > 0 {
		total, out.Of = it.of, it.of
	}
	switch {
	case it.n == 0 && it.of == 0:
		out.Mark = Zero
		return true
	case it.n == 1 && it.text == "1" && it.of == 0:
		out.Mark = One
		return true
	case it.n < total:
		out.Mark = Taken
	default:
		out.Mark = Intact
	}
	out.Eggs = it.n
	return true
}

// mark is what a sense stands for alone in its cell.
func (s sense) mark() Mark {
	switch s {
	case good, fair, here:
		return Intact
	case gone, ate, got, shell:
		return Taken
	case crushed, trod, stock:
		return Trampled
	case split, rotted, bane:
		return Spoiled
	case drowned:
		return Flooded
	case lost, unmarked, absent:
		return NotFound
	case skipped, ended, removed:
		return Skipped
	case setOut:
		return SetOut
	case yes:
		return Yes
	case no:
		return No
	}
	return Unknown
}

func oneSense(s sense, of ...sense) bool { return slices.Contains(of, s) }
