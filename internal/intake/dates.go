package intake

import (
	"math"
	"strconv"
	"strings"
	"time"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

type dateForm uint8

const (
	dateBad    dateForm = iota
	dateFull            // year, month and day are told apart
	dateSlash           // 03/04/2025: a and b wait for the order
	dateSerial          // a spreadsheet's day number
	dateText            // with the month in words
	dateWeek            // so many days after setting
)

// A dateReading is what one cell says, before the order of day and month and a missing year are settled.
type dateReading struct {
	form  dateForm
	year  int // 0 where none is written
	a, b  int // month and day, or the two numbers of dateSlash as they stand
	day   survey.Date
	after int // of dateWeek, in days
}

var monthWords = map[string]time.Month{
	"jan": 1, "january": 1, "ene": 1, "enero": 1, "feb": 2, "february": 2, "febrero": 2, "mar": 3, "march": 3, "marzo": 3,
	"apr": 4, "april": 4, "abr": 4, "abril": 4, "may": 5, "mayo": 5, "jun": 6, "june": 6, "junio": 6, "jul": 7, "july": 7, "julio": 7,
	"aug": 8, "august": 8, "ago": 8, "agosto": 8, "sep": 9, "sept": 9, "september": 9, "septiembre": 9, "setiembre": 9,
	"oct": 10, "october": 10, "octubre": 10, "nov": 11, "november": 11, "noviembre": 11, "dec": 12, "december": 12, "dic": 12, "diciembre": 12,
}

var fillers = map[string]bool{
	"de": true, "del": true, "of": true, "the": true, "el": true, "mon": true, "tue": true, "tues": true, "wed": true, "thu": true, "thur": true, "thurs": true, "fri": true, "sat": true, "sun": true,
	"monday": true, "tuesday": true, "wednesday": true, "thursday": true, "friday": true, "saturday": true, "sunday": true,
	"lunes": true, "martes": true, "miercoles": true, "jueves": true, "viernes": true, "sabado": true, "domingo": true,
}

// readDate reads one cell without deciding anything that the cell does not say.
func readDate(s string, date1904 bool) dateReading {
	if len(s) == 10 && s[4] == '-' && s[7] == '-' {
		y, ok1 := atoi(s[:4])
		m, ok2 := atoi(s[5:7])
		d, ok3 := atoi(s[8:])
		if ok1 && ok2 && ok3 {
			return full(y, m, d)
		}
	}
	s = withoutTime(s)
	if n, err := strconv.ParseFloat(s, 64); err == nil {
		return numeric(s, n, date1904)
	}
	if parts := strings.FieldsFunc(s, func(c rune) bool { return c == '/' || c == '-' || c == '.' }); len(parts) == 2 || len(parts) == 3 {
		if r, ok := numbers(s, parts); ok {
			return r
		}
	}
	return wordy(s)
}

func full(y, m, d int) dateReading {
	day := survey.DateOf(y, time.Month(m), d)
	if day == 0 {
		return dateReading{}
	}
	return dateReading{form: dateFull, day: day, year: y}
}

// withoutTime cuts a time of day off the end: 2025-05-12T10:30, 5/12/25 0:00.
func withoutTime(s string) string {
	if i := strings.IndexAny(s, "T "); i >= 6 && strings.Contains(s[i:], ":") && s[0] >= '0' && s[0] <= '9' {
		return s[:i]
	}
	return s
}

func numeric(s string, n float64, date1904 bool) dateReading {
	if len(s) == 8 && n == math.Trunc(n) && n > 18_000_000 {
		return full(int(n)/10000, int(n)/100%100, int(n)%100)
	}
	if n < 1 || n > 80_000 || len(s) < 4 && !date1904 && n < 60 {
		return dateReading{}
	}
	if n < 15_000 { // before 1941: no day of ours, and a plain number far more likely
		return dateReading{}
	}
	return dateReading{form: dateSerial, day: survey.DateFrom(sheet.SerialDate(n, date1904))}
}

func numbers(s string, parts []string) (dateReading, bool) {
	var v [3]int
	for i, p := range parts {
		n, ok := atoi(strings.TrimSpace(p))
		if !ok {
			return dateReading{}, false
		}
		v[i] = n
	}
	switch {
	case len(parts) == 2 && strings.Contains(s, "."):
		return dateReading{}, false
	case len(parts) == 2:
		return dateReading{form: dateSlash, a: v[0], b: v[1]}, true
	case v[0] > 31:
		return full(v[0], v[1], v[2]), true
	case strings.Contains(s, "."): // 12.05.2025 is day first wherever dots are used
		return full(century(v[2]), v[1], v[0]), true
	}
	return dateReading{form: dateSlash, a: v[0], b: v[1], year: century(v[2])}, true
}

// century reads a year of two digits as one of the hundred years up to 2069.
func century(y int) int {
	switch {
	case y < 70:
		return 2000 + y
	case y < 100:
		return 1900 + y
	}
	return y
}

// wordy reads dates with the month in words, and "week 2".
func wordy(s string) dateReading {
	tokens := strings.FieldsFunc(words(s), func(c rune) bool { return c == ' ' || c == '/' || c == '\'' })
	if len(tokens) == 1 { // 12may2025, wk2
		tokens = splitDigits(tokens[0])
	}
	if len(tokens) == 2 {
		if n, ok := atoi(tokens[1]); ok && n > 0 && n < 400 {
			switch tokens[0] {
			case "week", "wk", "w", "semana", "sem":
				return dateReading{form: dateWeek, after: 7 * n}
			case "day", "dia", "d":
				return dateReading{form: dateWeek, after: n}
			}
		}
	}
	var month time.Month
	var nums []int
	for _, t := range tokens {
		if m, ok := monthWords[t]; ok && month == 0 {
			month = m
			continue
		}
		if fillers[t] {
			continue
		}
		n, ok := atoi(strings.TrimRight(t, "stndrhoa"))
		if !ok {
			return dateReading{}
		}
		nums = append(nums, n)
	}
	switch {
	case month == 0 || len(nums) == 0 || len(nums) > 2:
		return dateReading{}
	case len(nums) == 1:
		if survey.DateOf(2024, month, nums[0]) == 0 {
			return dateReading{}
		}
		return dateReading{form: dateText, a: int(month), b: nums[0]}
	case nums[0] > 31:
		nums[0], nums[1] = nums[1], nums[0]
	}
	year := century(nums[1])
	if survey.DateOf(year, month, nums[0]) == 0 {
		return dateReading{}
	}
	return dateReading{form: dateText, a: int(month), b: nums[0], year: year}
}

func splitDigits(s string) []string {
	var out []string
	start := 0
	for i := 1; i <= len(s); i++ {
		if i == len(s) || digit(s[i]) != digit(s[i-1]) {
			out = append(out, s[start:i])
			start = i
		}
	}
	return out
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// on settles a reading with the order of day and month and the year for dates that have none.
func (r dateReading) on(dayFirst bool, year int) survey.Date {
	switch r.form {
	case dateFull, dateSerial:
		return r.day
	case dateText:
		if r.year != 0 {
			year = r.year
		}
		if year == 0 {
			return 0
		}
		return survey.DateOf(year, time.Month(r.a), r.b)
	case dateSlash:
		if r.year != 0 {
			year = r.year
		}
		if year == 0 {
			return 0
		}
		month, day := r.a, r.b
		if dayFirst {
			month, day = day, month
		}
		if month > 12 { // only the other way round is a date at all
			month, day = day, month
		}
		return survey.DateOf(year, time.Month(month), day)
	}
	return 0
}

// yearless tells whether a date waits for its year.
func (r dateReading) yearless() bool {
	return r.year == 0 && (r.form == dateText || r.form == dateSlash)
}

// isDateHeading tells whether a heading is a date, as in sheets with a column for each day somebody went.
func isDateHeading(s string) bool {
	r := readDate(s, false)
	switch r.form {
	case dateFull, dateText, dateSerial:
		return true
	case dateSlash:
		return r.a >= 1 && r.b >= 1 && r.a <= 31 && r.b <= 31 && (r.a <= 12 || r.b <= 12)
	}
	return false
}

// atoi reads up to six digits and nothing else.
func atoi(s string) (int, bool) {
	if s == "" || len(s) > 6 {
		return 0, false
	}
	n := 0
	for i := 0; i < len(s); i++ {
		if !digit(s[i]) {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}
