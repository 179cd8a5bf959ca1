package bulletin

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/words"
)

// A Verdict says of one number of a figure whether it is shown and, for whoever runs the cooperative, why not. It has no
// value in it.
type Verdict struct {
	Kind        string  // of figure; "" is all of them
	Place       *string // the label of a place; nil is the whole cooperative
	Number      string  // in words: "2024, yucca"; "" where Kind is
	HeldBecause string  // "" where it is shown
}

// verdicts lists what becomes of each number of the scopes, in order, and of the figures of places that are in none.
func (e *evidence) verdicts(scopes []scope, held map[string]disclosure.Reason) (list []Verdict) {
	for _, label := range append([]string{""}, e.c.placeLabels()...) {
		i := slices.IndexFunc(scopes, func(s scope) bool { return s.label == label })
		if i < 0 {
			list = append(list, Verdict{"", placeOf(label), "", string(e.outside(label))})
			continue
		}
		for _, season := range e.seasons {
			for _, h := range append([]string{""}, e.standards...) {
				if _, ok := scopes[i].rates[rateOf{season, h}]; !ok {
					list = append(list, Verdict{StandardisedKind, placeOf(label), rateWords(season, h), string(disclosure.TooFew)})
				}
			}
		}
		for _, name := range slices.Sorted(maps.Keys(held)) {
			place, number, _ := strings.Cut(name, "|")
			if kind, what := numberWords(number); place == label && kind != "" {
				list = append(list, Verdict{kind, placeOf(label), what, string(held[name])})
			}
		}
	}
	return list
}

// outside is why a place has no figures: the rules on its nests, or that it has no cell over all substrates.
func (e *evidence) outside(label string) disclosure.Reason {
	a := disclosure.Amounts{}
	for i := range e.nests {
		if n := &e.nests[i]; n.standard && !n.known && in(label, n.label) {
			a[n.entity]++
		}
	}
	if held := e.c.policy.CheckModel(a); held != "" {
		return held
	}
	return disclosure.Sibling
}

// numberWords reads the name of a number: the kind of its figure and what it is.
func numberWords(number string) (kind, what string) {
	part := strings.Split(number, "|")
	switch part[0] {
	case "rate":
		return StandardisedKind, strings.TrimSuffix(part[1]+", "+part[2], ", ")
	case "yearly":
		return TrendKind, words.Mark("the change a year")
	case "ranks":
		return TrendKind, words.Mark("the order of the years")
	case "gain":
		return CoverKind, words.Mark("what more cover goes together with")
	case "gap":
		if where, ok := map[string]string{
			"crossing": words.Mark("where they are alike"), "ends": words.Mark("the range of where they are alike"), "closed": words.Mark("whether that range has ends"),
		}[part[2]]; ok {
			return CoverKind, "against " + part[1] + ": " + where
		}
		return CoverKind, "against " + part[1] + atDensity(part[2])
	case "short", "losses", "lasting":
		return LimitsKind, map[string]string{"short": CoverShort, "losses": LossesHigh, "lasting": LastingWell}[part[0]]
	case "quality":
		return QualityKind, map[string]string{
			"first": words.Mark("first checks on the day"), "second": words.Mark("second checks on the day"), "lost": words.Mark("lost from view"), "ended": words.Mark("followed to the end"), "open": words.Mark("open questions"),
			"looks": words.Mark("second looks"), "agree": words.Mark("second looks that agree"),
		}[part[1]]
	}
	return "", ""
}

func atDensity(word string) string {
	if strings.Trim(word, "0123456789") == "" {
		return fmt.Sprintf(" at %s clumps an acre", word)
	}
	return ""
}

func rateWords(season int, substrate string) string {
	return strings.TrimSuffix(fmt.Sprint(season, ", ", substrate), ", ")
}
