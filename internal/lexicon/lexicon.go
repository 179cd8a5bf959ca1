package lexicon

import (
	"sort"
	"strings"

	"tussock/internal/survey"
)

// A Lexicon holds the words. It is made once a reading and only read afterwards.
type Lexicon struct {
	phrases     *matcher
	singles     []single // one-word phrases long enough to be misspelled
	covers      map[string]coverEntry
	animals     map[string]survey.Predator
	animalWords []string
	features    []map[string]string
	headings    map[string]Role
}

type single struct {
	word string
	mark Mark
}

// New makes the lexicon.
func New() *Lexicon {
	l := &Lexicon{phrases: newMatcher(), covers: map[string]coverEntry{}, animals: map[string]survey.Predator{}, headings: map[string]Role{}}
	for w, m := range l.phrases.marks {
		if len(w) >= 5 && !strings.Contains(w, " ") {
			l.singles = append(l.singles, single{w, m})
		}
	}
	sort.Slice(l.singles, func(i, j int) bool { return l.singles[i].word < l.singles[j].word })
	add := func(words map[survey.Substrate]string, plant bool) {
		for s, list := range words {
			for w := range strings.SplitSeq(list, ";") {
				if key := strings.Join(squeeze(Tokens(w)), " "); key != "" {
					l.covers[key] = coverEntry{s, plant}
				}
			}
		}
	}
	add(plantWords, true)
	add(coverWords, false)
	for p, list := range predatorWords {
		for _, w := range list {
			l.animals[strings.Join(squeeze(Tokens(w)), " ")] = p
		}
		l.animals[strings.Join(squeeze(Tokens(string(p))), " ")] = p
	}
	delete(l.animals, "other")
	for w := range l.animals {
		if len(w) >= 5 && !strings.Contains(w, " ") {
			l.animalWords = append(l.animalWords, w)
		}
	}
	sort.Strings(l.animalWords)
	for _, f := range survey.Features {
		m := map[string]string{}
		for _, c := range f.Choices {
			m[Fold(c)] = c
		}
		for w, c := range remainsWords[f.Name] {
			m[w] = c
		}
		l.features = append(l.features, m)
	}
	for r, list := range headingWords {
		for _, w := range list {
			l.headings[w] = r
		}
	}
	return l
}

// predatorWords are the animals of the key under their other names.
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
	survey.Bird:      {"birds", "crow", "crows", "raven", "ravens", "turkey", "wild turkey", "jay", "magpie", "magpies", "corvid", "hawk", "roadrunner", "gull", "gulls", "cuervo", "urraca", "correcaminos", "guajolote", "guajolote silvestre", "cocono silvestre", "ave"},
	survey.Snake:     {"snakes", "rat snake", "ratsnake", "bullsnake", "bull snake", "gopher snake", "coachwhip", "culebra", "culebra ratonera", "vibora", "serpiente"},
	survey.Rodent:    {"rodents", "roedor", "roedores", "rat", "rats", "woodrat", "wood rat", "packrat", "pack rat", "cotton rat", "mouse", "mice", "squirrel", "ground squirrel", "gopher", "ardilla", "ardilla de tierra", "rata", "rata de campo", "raton"},
	survey.Other:     {"dog", "dogs", "cat", "cats", "fire ant", "fire ants", "javelina", "peccary", "weasel", "mink", "perro", "gato", "hormiga", "hormigas", "hormiga brava", "jabalina", "pecari", "people or dog", "gente o perro", "domestic dog"},
}

// noAnimal are entries under predator or camera that name none.
var noAnimal = []string{"", "none", "no", "yes", "y", "n", "si", "nothing", "unknown", "unk", "?", "can't tell", "cant tell", "cant_tell", "not sure", "no se sabe", "no se", "nada", "na", "n/a", "not seen", "no idea", "dont know", "don't know"}

// Predator reads the name of an animal. Known without an animal are entries such as "unknown".
func (l *Lexicon) Predator(raw string) (p survey.Predator, known bool) {
	w := Words(raw)
	if oneOf(w, noAnimal...) {
		return "", true
	}
	p, ok := l.animals[strings.Join(squeeze(Tokens(raw)), " ")]
	return p, ok
}

// NamesAnimal tells whether a text names an animal of the key anywhere.
func (l *Lexicon) NamesAnimal(raw string) bool {
	words := squeeze(Tokens(raw))
	for i := range words {
		if _, n := l.animalAt(words, i); n > 0 {
			return true
		}
	}
	return false
}

// Cause tells whether an entry under predator or "how lost" names an end that no animal of the key brought.
func (l *Lexicon) Cause(raw string) (survey.State, bool) {
	if _, animal := l.Predator(raw); animal {
		return "", false
	}
	switch s := l.Sight(raw); s.Mark {
	case Trampled, Flooded, Spoiled:
		if s.Animal == "" {
			return s.Mark.State(), true
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

// Remain reads one answer about remains, by its index in survey.Features; "" with true is a written "can't tell".
func (l *Lexicon) Remain(feature int, raw string) (string, bool) {
	key := Fold(raw)
	if survey.Features[feature].Name == "bits_far_ft" {
		if c, ok := l.features[feature][key]; ok {
			return c, true
		}
		if ft, _, ok := Number(raw, false); ok && ft >= 0 {
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
