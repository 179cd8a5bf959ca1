package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

var weekdayWords = wordSet(`mon tue tues wed weds thu thur thurs fri sat sun tu th sa su monday tuesday wednesday thursday friday saturday sunday lun mar mie jue vie sab dom lunes martes miercoles jueves viernes sabado domingo`)

// readDay reads a day that may have the day of the week before or behind it: "Mon 5/8", "mar 14 may", "5/8 (Mon)".
func readDay(text string) lexicon.Date {
	d := lexicon.ReadDate(text, false)
	if d.Form != lexicon.NoDate || len(text) > 40 || !hasDigits(text) {
		return d
	}
	first, rest, ok := strings.Cut(text, " ")
	if ok && weekdayWords[lexicon.Fold(first)] {
		return lexicon.ReadDate(strings.TrimSpace(rest), false)
	}
	if i := strings.LastIndexByte(text, ' '); i > 0 && lexicon.Digit(text[0]) && weekdayWords[lexicon.Fold(text[i:])] {
		return lexicon.ReadDate(strings.TrimRight(text[:i], " ,"), false)
	}
	return d
}
