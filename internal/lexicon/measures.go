package lexicon

import (
	"regexp"
	"strings"
)

// SquareFeetPerAcre and FeetPerMeter are exact by the international foot of 0.3048 m (NIST Handbook 44, Appendix C).
const (
	SquareFeetPerAcre = 43560
	FeetPerMeter      = 1 / 0.3048
	AcresPerHectare   = 10_000 / (SquareFeetPerAcre * 0.3048 * 0.3048)
)

// feetPer turns a unit into feet. A chain is 66 ft and a link a hundredth of it, a rod 16.5 ft, a furlong 660 ft
// (NIST Handbook 44, Appendix C).
var feetPer = map[string]float64{
	"ft": 1, "foot": 1, "feet": 1, "'": 1, "’": 1, "pie": 1, "pies": 1, "fts": 1,
	"yd": 3, "yds": 3, "yard": 3, "yards": 3, "yarda": 3, "yardas": 3,
	"m": FeetPerMeter, "mt": FeetPerMeter, "mts": FeetPerMeter, "meter": FeetPerMeter, "meters": FeetPerMeter, "metre": FeetPerMeter, "metres": FeetPerMeter, "metro": FeetPerMeter, "metros": FeetPerMeter,
	"in": 1. / 12, "inch": 1. / 12, "inches": 1. / 12, `"`: 1. / 12, "pulgada": 1. / 12, "pulgadas": 1. / 12, "ins": 1. / 12,
	"cm": 0.01 * FeetPerMeter, "km": 1000 * FeetPerMeter,
	"mile": 5280, "miles": 5280, "mi": 5280, "milla": 5280, "millas": 5280,
	"chain": 66, "chains": 66, "ch": 66, "chs": 66, "cadena": 66, "cadenas": 66, "link": 0.66, "links": 0.66, "lk": 0.66, "lks": 0.66,
	"furlong": 660, "furlongs": 660,
}

// FeetPer returns how many feet a unit is.
func FeetPer(unit string) (float64, bool) {
	per, ok := feetPer[unit]
	return per, ok
}

// IsStep tells whether a unit is the walker's step.
func IsStep(unit string) bool {
	return oneOf(unit, "step", "steps", "pace", "paces", "paso", "pasos", "stp", "stps")
}

// IsAcre and IsHectare tell units of area.
func IsAcre(unit string) bool { return oneOf(unit, "acre", "acres", "ac", "a") }

// IsHectare tells whether a unit of area is the hectare.
func IsHectare(unit string) bool {
	return oneOf(unit, "ha", "hectare", "hectares", "hectarea", "hectareas")
}

// A Measure is a length, or an area, as written. Feet is 0 where the unit is not told or is a step of unknown length.
type Measure struct {
	Feet  float64
	Steps float64 // where it is counted in steps
	Step  float64 // feet a step, where the cell says so
	Acres float64 // where it is an area
	Bare  float64 // a number without a unit
	Rest  string  // what follows it
}

// Measure reads the length or area at the head of a text: 11 chains, 290 paces (2.5 ft), 300 steps @ 28 in, 200 m,
// 10 ch 50 lk, 6 ft 3 in, 1/8 mile, 0.1 acre. Unit is for a number without one.
func (l *Lexicon) Measure(s, unit string, decimalComma bool) (m Measure, ok bool) {
	v, rest, ok := Number(s, decimalComma)
	if !ok {
		return m, false
	}
	u, after := unitAt(rest)
	if u == "" {
		u, after = Words(unit), rest
	}
	switch {
	case IsStep(u):
		m.Steps, m.Step, m.Rest = v, StepIn(after), after
		if m.Step > 0 {
			m.Feet = m.Steps * m.Step
		}
	case IsAcre(u):
		m.Acres, m.Rest = v, after
	case IsHectare(u):
		m.Acres, m.Rest = v*AcresPerHectare, after
	case feetPer[u] > 0:
		m.Feet, m.Rest = v*feetPer[u], after
		if v2, rest2, more := Number(strings.TrimLeft(after, ", "), false); more { // 6 ft 3 in, 10 ch 50 lk
			if u2, after2 := unitAt(rest2); feetPer[u2] > 0 && feetPer[u2] < feetPer[u] {
				m.Feet += v2 * feetPer[u2]
				m.Rest = after2
			}
		}
		m.Step = StepIn(m.Rest)
	default:
		m.Bare, m.Rest = v, rest
		m.Step = StepIn(rest)
	}
	return m, true
}

// unitAt reads the unit at the head of a text.
func unitAt(s string) (unit, rest string) {
	s = strings.TrimLeft(s, " ")
	if s == "" {
		return "", ""
	}
	for _, p := range []string{"of my ", "of his ", "of her ", "of our ", "de mis ", "my ", "mis "} { // 300 of my steps
		if len(s) > len(p) && strings.EqualFold(s[:len(p)], p) {
			s = s[len(p):]
		}
	}
	end := 0
	for end < len(s) && (s[end] >= 'a' && s[end] <= 'z' || s[end] >= 'A' && s[end] <= 'Z') {
		end++
	}
	if end == 0 {
		switch s[0] {
		case '\'', '"':
			return s[:1], strings.TrimSpace(s[1:])
		case '-': // 6-ft
			return unitAt(s[1:])
		}
		return "", s
	}
	u := strings.ToLower(s[:end])
	if feetPer[u] > 0 || IsStep(u) || IsAcre(u) && u != "a" || IsHectare(u) {
		return u, strings.TrimLeft(s[end:], ". ")
	}
	return "", s
}

var stepPattern = regexp.MustCompile(`(?i)(?:^|[^\d.])(\d+(?:[.,]\d+)?(?:\s*(?:1/2|½|«|1/4|¼|3/4|¾))?|½)\s*-?\s*(ft|feet|foot|'|in\b|inches|inch|"|cm|m\b|meters?|metros?|pies?|pulgadas)`)

// countsIn follows "in" where it is no inch: "27 in 300 steps".
var countsIn = regexp.MustCompile(`^\s+(?:a\s+|the\s+|each\s+)?(?:\d|one|strip|belt)`)

// IsInch tells whether "in" at the head of a text is the unit, and no word before a number.
func IsInch(rest string) bool { return !countsIn.MatchString(rest) }

// StepIn finds the length of a step, in feet, in a text that speaks of steps: "2.5 ft", "28 in", "0,75 m"; 0 for none.
func StepIn(s string) float64 {
	step := 0.0
	s = strings.ReplaceAll(s, "«", "½")
	for _, at := range stepPattern.FindAllStringSubmatchIndex(s, -1) {
		m := []string{"", s[at[2]:at[3]], s[at[4]:at[5]]}
		v, _, ok := Number(m[1], true)
		if !ok || strings.EqualFold(m[2], "in") && countsIn.MatchString(s[at[5]:]) {
			continue
		}
		if per, known := feetPer[strings.ToLower(m[2])]; known {
			if ft := v * per; ft >= 1 && ft <= 4 {
				if step != 0 && step != ft { // of two people: whose, the text alone does not tell
					return 0
				}
				step = ft
			}
		}
	}
	return step
}
