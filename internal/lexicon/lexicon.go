package lexicon

import (
	"maps"
	"slices"
	"strings"
	"sync"

	"tussock/internal/survey"
)

// A Lexicon holds the words. It is only read once it is made.
type Lexicon struct {
	states   *stateLexicon
	animals  *animals
	covers   map[string]coverEntry
	features []map[string]string
	headings map[string]Role
}

// New returns the lexicon. It is made once and shared.
func New() *Lexicon { return shared() }

var shared = sync.OnceValue(func() *Lexicon {
	l := &Lexicon{animals: newAnimals(), covers: map[string]coverEntry{}, headings: map[string]Role{}}
	l.states = newStateLexicon(l.animals.rob)
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
	for _, r := range slices.Sorted(maps.Keys(headingWords)) { // of two roles of one word the first holds: long
		for _, w := range headingWords[r] {
			if _, twice := l.headings[w]; !twice {
				l.headings[w] = r
			}
		}
	}
	return l
})

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
