package reading

import (
	"regexp"
	"strings"
	"time"

	"tussock/internal/lexicon"
)

var weekdayWords = wordSet(`mon tue tues wed weds thu thur thurs fri sat sun tu th sa su monday tuesday wednesday thursday friday saturday sunday lun mar mie jue vie sab dom lunes martes miercoles jueves viernes sabado domingo`)

// numberedDay is a day of the year; a day counted from setting is a smaller number.
var numberedDay = regexp.MustCompile(`(?i)^(?:day|d[ií]a|doy)\s*#?\s*(\d{2,3})$`)

var sameDay = regexp.MustCompile(`(?i)^(?:the )?(?:same (?:day|date|time|as above)|mismo d[ií]a|misma fecha|el mismo(?: d[ií]a)?)\.?$`)

// readDay reads a day that may have the day of the week before or behind it, or is counted through the year: "Mon 5/8", "mar
// 14 may", "5/8 (Mon)", "day 136".
func readDay(text string) lexicon.Date {
	if m := numberedDay.FindStringSubmatch(text); m != nil {
		if n, _ := lexicon.Atoi(m[1]); n >= 60 && n <= 320 {
			return lexicon.Date{Form: lexicon.AfterDate, After: -n}
		}
	}
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

// weekdayOf are the days of the week by the first letters of their names.
var weekdayOf = map[string]time.Weekday{
	"sun": time.Sunday, "mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday, "fri": time.Friday, "sat": time.Saturday,
	"dom": time.Sunday, "lun": time.Monday, "mar": time.Tuesday, "mie": time.Wednesday, "jue": time.Thursday, "vie": time.Friday, "sab": time.Saturday,
}

// weekday counts n cells with a day that could be read in both orders, and of which the day of the week fits one alone: "Tue 5/7/2024".
func (d *fileDays) weekday(text string, date lexicon.Date, n int) {
	if date.Year == 0 {
		return
	}
	for _, w := range lexicon.Tokens(text) {
		if !weekdayWords[w] || len(w) < 3 {
			continue
		}
		named := weekdayOf[w[:3]]
		month, day := date.On(false, date.Year), date.On(true, date.Year)
		asMonth, asDay := month != 0 && month.Time().Weekday() == named, day != 0 && day.Time().Weekday() == named
		switch {
		case asMonth && !asDay:
			d.weekMonth += n
		case asDay && !asMonth:
			d.weekDay += n
		}
		return
	}
}
