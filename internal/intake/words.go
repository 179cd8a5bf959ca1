package intake

import (
	"strconv"
	"strings"

	"tussock/internal/survey"
)

// A mark is what one cell says about a nest, before it is known what the whole sheet means by a 0.
type mark uint8

const (
	markUnknown mark = iota
	markBlank
	markSkipped // somebody wrote that nobody looked
	markIntact
	markTaken
	markSpoiled
	markTrampled
	markFlooded
	markLost
	markZero
	markOne
)

var markStates = map[mark]survey.State{
	markIntact: survey.Intact, markTaken: survey.Taken, markSpoiled: survey.Spoiled,
	markTrampled: survey.Trampled, markFlooded: survey.Flooded, markLost: survey.Lost,
}

var stateMarks = map[survey.State]mark{
	survey.Intact: markIntact, survey.Taken: markTaken, survey.Spoiled: markSpoiled,
	survey.Trampled: markTrampled, survey.Flooded: markFlooded, survey.Lost: markLost,
}

// A reading of a state cell.
type stateReading struct {
	mark  mark
	eggs  int    // -1 where not said
	guess string // a predator named in the cell
	plain bool   // one of our own words, nothing to tell the sender
	doubt bool   // two meanings are about; the sender is asked
	word  string // as compared
}

// stateWords lists the other words and marks for each state, as words brings them.
var stateWords = map[survey.State][]string{
	survey.Intact: {
		"ok", "okay", "o k", "whole", "good", "fine", "i", "all here", "all there", "all eggs there", "all present", "present", "safe", "alive",
		"survived", "success", "successful", "unharmed", "undisturbed", "untouched", "undamaged", "active", "still there", "there", "here", "no damage",
		"not damaged", "√", "✓", "✔", "☑", "✅", "completo", "completa", "completos", "intacto", "intacta", "intactos", "bien", "entero", "entera", "bueno", "buena",
		"todos", "sin daño", "sin dano", "full", "int", "eggs there", "all good", "all ok", "complete",
	},
	survey.Taken: {
		"gone", "eaten", "ate", "depredated", "predated", "predation", "depredation", "hit", "destroyed", "all lost", "all gone", "robbed", "raided", "x", "✗", "✘", "☒", "❌",
		"eggs gone", "eggs eaten", "no eggs", "empty", "predator", "animal", "depredado", "depredada", "comido", "comida", "comidos", "se lo comieron", "se los comieron",
		"perdido", "perdida", "todo perdido", "robado", "destruido", "vacio", "dep", "stolen", "lost to predator", "taken by predator", "some gone", "some eaten", "partly eaten", "part gone", "partial", "faltan", "some taken",
	},
	survey.Lost: {
		"missing", "not found", "couldn't find", "could not find", "couldnt find", "can't find", "cannot find", "cant find", "spot not found", "nest not found",
		"not relocated", "not found again", "no se hallo", "no hallado", "no se encontro", "no encontrado", "unknown", "desconocido", "no se sabe", "nf", "spot lost", "flag gone", "couldn't find spot", "couldn't find it",
	},
	survey.Spoiled: {
		"spoilt", "rotten", "burst", "exploded", "plowed", "ploughed", "burned", "burnt", "hail", "hailed", "hailed out", "fire", "frozen", "mowed", "podrido", "podridos", "se echo a perder", "se echaron a perder",
		"revento", "reventado", "granizo", "lumbre", "quemado", "bad eggs", "went bad", "weather", "heat", "wind", "people",
	},
	survey.Trampled: {
		"stepped on", "cow", "cows", "cattle", "livestock", "hoof", "hooves", "horse", "horses", "sheep", "pisoteo", "pisoteado", "pisado", "vaca", "vacas", "ganado", "tramped", "trampled by cows", "trampled by cattle",
	},
	survey.Flooded: {
		"flood", "floods", "washed out", "washed away", "rained out", "rain", "water", "under water", "underwater", "drowned", "agua", "inundado", "inundacion", "lluvia", "high water",
	},
}

// causeParts are pieces of words by which a longer remark tells of an end that no animal of the key brought.
var causeParts = []struct {
	part  string
	state survey.State
}{
	{"cow", survey.Trampled}, {"cattle", survey.Trampled}, {"stepped", survey.Trampled}, {"trampl", survey.Trampled}, {"hoof", survey.Trampled}, {"livestock", survey.Trampled}, {"vaca", survey.Trampled}, {"ganado", survey.Trampled}, {"pisote", survey.Trampled},
	{"flood", survey.Flooded}, {"washed", survey.Flooded}, {"rained", survey.Flooded}, {"inund", survey.Flooded},
	{"hail", survey.Spoiled}, {"burst", survey.Spoiled}, {"rotten", survey.Spoiled}, {"plow", survey.Spoiled}, {"burn", survey.Spoiled}, {"graniz", survey.Spoiled},
}

// notLooked are the ways of writing that nobody went.
var notLooked = []string{"not checked", "no se reviso", "not visited", "nc", "n a", "na", "n/a", "skipped", "no check", "/", "—"}

// doubtful words have two usual meanings: the first is in force until the sender says.
var doubtful = []string{"missing", "perdido", "perdida"}

type lexicon struct {
	states     map[string]mark
	substrates map[string]substrateReading
	predators  map[string]survey.Predator
	features   []map[string]string
	vocabulary vocabulary
}

func newLexicon() *lexicon {
	l := &lexicon{states: map[string]mark{}, substrates: map[string]substrateReading{}, predators: map[string]survey.Predator{}, vocabulary: newVocabulary()}
	for s, list := range stateWords {
		for _, w := range list {
			l.states[w] = stateMarks[s]
		}
	}
	for _, w := range notLooked {
		l.states[w] = markSkipped
	}
	for s, list := range substrateWords {
		for _, w := range list {
			l.substrates[fold(w)] = substrateReading{substrate: s}
		}
		l.substrates[fold(string(s))] = substrateReading{substrate: s, plain: true}
	}
	for s, list := range plantWords {
		for _, w := range list {
			l.substrates[fold(w)] = substrateReading{substrate: s, plant: true}
		}
	}
	for p, list := range predatorWords {
		for _, w := range list {
			l.predators[w] = p
		}
		l.predators[string(p)] = p
	}
	for _, f := range survey.Features {
		m := map[string]string{}
		for _, c := range f.Choices {
			m[fold(c)] = c
		}
		for w, c := range remainsWords[f.Name] {
			m[w] = c
		}
		l.features = append(l.features, m)
	}
	return l
}

// state reads one cell. settled are the words the cooperative settled before.
func (l *lexicon) state(raw string, settled map[string]string) stateReading {
	w := words(raw)
	out := stateReading{word: w, eggs: -1}
	if raw == "" {
		out.mark = markBlank
		return out
	}
	if m, ok := stateMarks[survey.State(settled["state/"+w])]; ok {
		out.mark, out.plain = m, true
		return out
	}
	if m, ok := stateMarks[survey.State(w)]; ok {
		out.mark, out.plain = m, true
		return out
	}
	if w == "" { // a dash or a full stop alone
		out.mark = markSkipped
		return out
	}
	if n, ok := eggsIn(w); ok {
		return out.counted(n)
	}
	if m, ok := l.states[w]; ok {
		out.mark, out.doubt = m, oneOf(w, doubtful...)
		return out
	}
	if bare := strings.TrimRight(w, "? "); bare != w && bare != "" {
		again := l.state(bare, settled)
		again.word, again.plain = w, false
		return again
	}
	if p, ok := l.predator(w); ok && p != "" {
		out.mark, out.guess = markTaken, tidy(raw)
		return out
	}
	for _, c := range causeParts {
		if strings.Contains(w, c.part) {
			out.mark = stateMarks[c.state]
			return out
		}
	}
	for _, lead := range []string{"taken", "gone", "eaten", "ate", "depredated", "intact"} {
		if strings.HasPrefix(w, lead+" ") {
			if rest := strings.TrimPrefix(strings.TrimPrefix(w, lead+" "), "by "); lead != "intact" {
				if p, ok := l.predator(strings.TrimPrefix(rest, "a ")); ok && p != "" {
					out.guess = rest
				}
			}
			if out.guess != "" {
				out.mark = markTaken
				return out
			}
		}
	}
	return out
}

func (s stateReading) counted(n int) stateReading {
	s.eggs = n
	switch {
	case n == 0:
		s.mark, s.eggs = markZero, -1
	case n == 1 && s.word == "1":
		s.mark, s.eggs = markOne, -1
	case n < 3:
		s.mark = markTaken
	default:
		s.mark = markIntact
	}
	return s
}

// eggsIn reads a count of eggs: "2", "2 of 3", "2/3", "2 left", "3 eggs", "3 huevos".
func eggsIn(w string) (int, bool) {
	head, rest, _ := strings.Cut(strings.Replace(w, "/", " of ", 1), " ")
	n, err := strconv.Atoi(head)
	if err != nil || n < 0 || n > 99 {
		return 0, false
	}
	if oneOf(rest, "", "left", "egg", "eggs", "eggs left", "egg left", "huevos", "huevo", "of 3", "de 3", "of 3 left", "of 3 eggs", "there", "present", "quedan") {
		return n, true
	}
	return 0, false
}

// A reading of a substrate cell.
type substrateReading struct {
	substrate survey.Substrate
	plant     bool // the word names a plant of that kind
	plain     bool // our own word in any spelling
}

var substrateWords = map[survey.Substrate][]string{
	survey.Bunchgrass:  {"bunch grass", "bunchgrasses", "bunch grasses", "bunch", "bg", "grass", "grasses", "grass clump", "zacate", "zacate amacollado", "pasto", "pasto amacollado", "macollo", "clump", "grass bunch"},
	survey.PricklyPear: {"prickly pears", "pear", "pp", "p pear", "prickly pr", "prickly", "opuntia", "nopal", "nopales", "cactus", "cacti", "pear cactus", "prickly pear cactus", "cacto"},
	survey.Yucca:       {"yuccas", "palmilla", "yuca", "soapweed"},
	survey.Shrub:       {"shrubs", "bush", "bushes", "brush", "arbusto", "arbustos", "matorral"},
	survey.Forb:        {"forbs", "weed", "weeds", "hierba", "hierbas", "yerba", "herb", "broadleaf"},
}

// plantWords are plants that crews write down for the cover they make (common practice, no source).
var plantWords = map[survey.Substrate][]string{
	survey.Bunchgrass:  {"little bluestem", "little blue", "lbs", "bluestem", "big bluestem", "silver bluestem", "cane bluestem", "sand bluestem", "grama", "sideoats grama", "side oats grama", "sideoats", "blue grama", "sacaton", "alkali sacaton", "switchgrass", "indiangrass", "needlegrass", "threeawn", "three awn", "lovegrass", "love grass", "dropseed", "sand dropseed", "tobosa", "muhly", "tanglehead", "needle and thread", "wheatgrass", "fescue", "zacaton"},
	survey.PricklyPear: {"plains prickly pear", "opuntia polyacantha", "opuntia engelmannii"},
	survey.Yucca:       {"soapweed yucca", "small soapweed", "yucca glauca"},
	survey.Shrub:       {"sagebrush", "sage brush", "sand sagebrush", "sand sage", "sandsage", "mesquite", "juniper", "sumac", "skunkbush", "shinnery", "shin oak", "shinnery oak", "sand plum", "lotebush", "catclaw", "rabbitbrush", "saltbush", "creosote", "agarito"},
	survey.Forb:        {"ragweed", "croton", "sunflower", "broomweed", "thistle", "western ragweed"},
}

func (l *lexicon) substrate(raw string) (substrateReading, bool) {
	s, ok := l.substrates[fold(raw)]
	return s, ok
}

// substrateOf knows the plain words alone, for the headings of count columns.
func substrateOf(key string) (survey.Substrate, bool) {
	for s, list := range substrateWords {
		if fold(string(s)) == key {
			return s, true
		}
		for _, w := range list {
			if fold(w) == key {
				return s, true
			}
		}
	}
	return "", false
}

// predatorWords follow words(): the animals of the key under their other names.
var predatorWords = map[survey.Predator][]string{
	survey.Raccoon:   {"raccoons", "racoon", "racoons", "coon", "coons", "mapache", "mapaches"},
	survey.Skunk:     {"skunks", "striped skunk", "zorrillo", "zorrillos"},
	survey.Opossum:   {"opossums", "possum", "possums", "tlacuache"},
	survey.Coyote:    {"coyotes"},
	survey.Fox:       {"foxes", "gray fox", "grey fox", "red fox", "swift fox", "kit fox", "zorra", "zorro", "zorra gris"},
	survey.Bobcat:    {"bobcats", "gato montes"},
	survey.Badger:    {"badgers", "tlalcoyote"},
	survey.Armadillo: {"armadillos"},
	survey.Hog:       {"hog", "hogs", "pig", "pigs", "feral hogs", "feral pig", "feral pigs", "wild hog", "wild hogs", "wild pig", "wild pigs", "marrano", "marranos", "marrano alzado"},
	survey.Bird:      {"birds", "crow", "crows", "raven", "ravens", "turkey", "wild turkey", "jay", "magpie", "corvid", "hawk", "roadrunner", "cuervo", "urraca", "correcaminos", "guajolote", "guajolote silvestre", "cocono silvestre", "ave"},
	survey.Snake:     {"snakes", "rat snake", "ratsnake", "bullsnake", "coachwhip", "culebra", "culebra ratonera", "vibora", "serpiente"},
	survey.Rodent:    {"rodents", "roedor", "roedores", "rat", "rats", "woodrat", "wood rat", "packrat", "pack rat", "cotton rat", "mouse", "mice", "squirrel", "ground squirrel", "ardilla", "ardilla de tierra", "rata", "rata de campo", "raton"},
	survey.Other:     {"dog", "dogs", "cat", "cats", "ant", "ants", "fire ant", "fire ants", "javelina", "peccary", "weasel", "perro", "gato", "hormiga", "hormigas", "hormiga brava", "jabalina", "pecari", "people or dog", "gente o perro", "domestic dog"},
}

// noAnimal are entries under predator or camera that name none.
var noAnimal = []string{"", "none", "no", "yes", "y", "n", "si", "nothing", "unknown", "?", "can't tell", "cant tell", "not sure", "no se sabe", "no se", "nada", "na", "n/a", "not seen"}

// predator reads the name of an animal. Known without an animal are entries such as "unknown".
func (l *lexicon) predator(w string) (survey.Predator, bool) {
	if oneOf(w, noAnimal...) {
		return "", true
	}
	p, ok := l.predators[w]
	return p, ok
}

// cause tells whether an entry under predator or lost_how names an end that no animal brought.
func (l *lexicon) cause(w string) (survey.State, bool) {
	switch m := l.states[w]; m {
	case markTrampled, markFlooded, markSpoiled:
		return markStates[m], true
	}
	if s := survey.State(w); s == survey.Trampled || s == survey.Flooded || s == survey.Spoiled {
		return s, true
	}
	if _, animal := l.predator(w); animal {
		return "", false
	}
	for _, c := range causeParts {
		if strings.Contains(w, c.part) {
			return c.state, true
		}
	}
	return "", false
}

// remainsWords are other spellings of the answers about remains, folded.
var remainsWords = map[string]map[string]string{
	"bits":      {"no": "none", "nada": "none", "ninguno": "none", "migajas": "crumbs", "pieces": "bits", "small": "crumbs", "half": "halves", "mitades": "halves", "large": "halves", "whole": "near_whole", "nearwholeshells": "near_whole", "casienteros": "near_whole"},
	"heaps":     {"0": "none", "1": "one", "2": "several", "2+": "several", "3": "several", "oneperegg": "several", "no": "none", "uno": "one", "varios": "several"},
	"opened_at": {"ends": "end", "sides": "side", "crushed": "crushed_flat", "flat": "crushed_flat", "flatcrush": "crushed_flat", "punta": "end", "lado": "side", "ambos": "both", "aplastado": "crushed_flat", "largeend": "end", "bigend": "end", "smallend": "end"},
	"bite_way":  {"lengthwise": "long_way", "long": "long_way", "alolargo": "long_way", "crosswise": "across", "cross": "across", "atravesado": "across"},
	"holes":     {"no": "none", "peck": "pecked", "pecks": "pecked", "pair": "paired", "pairs": "paired", "pinholes": "pin", "pinhole": "pin", "picoteado": "pecked", "ninguno": "none"},
	"inside":    {"lickedclean": "licked", "lickeddry": "licked", "yolk": "pooled", "wet": "pooled", "seco": "dry", "lamido": "licked", "mojado": "pooled", "smeared": "smear", "yolkpooled": "pooled", "fullcrushed": "full"},
	"ground":    {"undisturbed": "calm", "nothing": "calm", "none": "calm", "rooting": "rooted", "digging": "dug", "conepit": "cone_pits", "pits": "cone_pits", "buried": "buried_egg", "tranquilo": "calm", "hozado": "rooted", "escarbado": "dug"},
	"bowl":      {"pulledout": "pulled", "thrownabout": "thrown", "intact": "neat", "ordenado": "neat", "jalado": "pulled"},
}

// remain reads one answer about remains; "" with true is a written "can't tell".
func (l *lexicon) remain(feature int, raw string) (string, bool) {
	key := fold(raw)
	if survey.Features[feature].Name == "bits_far_ft" {
		if c, ok := l.features[feature][key]; ok {
			return c, true
		}
		if ft, _, ok := number(raw, false); ok && ft >= 0 {
			switch {
			case ft == 0:
				return "in_bowl", true
			case ft < 3:
				return "under_3", true
			case ft <= 30:
				return "3_to_30", true
			}
			return "over_30", true
		}
	}
	if oneOf(key, "canttell", "notsure", "unknown", "nosesabe", "notseen", "notasked", "na") || key == "" {
		return "", true
	}
	c, ok := l.features[feature][key]
	return c, ok
}

// tidy trims a cell and brings runs of space, of whatever kind, to one space.
func tidy(s string) string {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= 0x80 || c < ' ' || c == ' ' && (i == 0 || i == len(s)-1 || s[i+1] == ' ') {
			return strings.Join(strings.Fields(s), " ")
		}
	}
	return s
}

// number reads a number with or without a unit after it: 300, 1,200, 12,5 (with comma as the decimal mark), 300 ft,
// 6'. The rest is what follows it.
func number(s string, decimalComma bool) (value float64, rest string, ok bool) {
	s = strings.TrimLeft(tidy(s), "~≈ ")
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || (s[end] == '.' || s[end] == ',') && end+1 < len(s) && s[end+1] >= '0' && s[end+1] <= '9' || s[end] == '-' && end == 0) {
		end++
	}
	digits, rest := s[:end], strings.TrimSpace(s[end:])
	comma, point := strings.LastIndexByte(digits, ','), strings.LastIndexByte(digits, '.')
	switch {
	case comma >= 0 && point >= 0 && comma > point: // 1.200,5
		digits = strings.ReplaceAll(strings.ReplaceAll(digits, ".", ""), ",", ".")
	case comma >= 0 && point >= 0: // 1,200.5
		digits = strings.ReplaceAll(digits, ",", "")
	case comma >= 0 && (decimalComma || len(digits)-comma-1 != 3):
		digits = strings.Replace(digits, ",", ".", 1)
	case comma >= 0:
		digits = strings.ReplaceAll(digits, ",", "")
	}
	value, err := strconv.ParseFloat(digits, 64)
	return value, rest, err == nil
}
