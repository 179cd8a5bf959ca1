package lexicon

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// A DateForm says how much of a day one cell tells.
type DateForm uint8

// The forms of a date.
const (
	NoDate     DateForm = iota
	FullDate            // year, month and day are told apart
	SlashDate           // 03/04/2025: A and B wait for the order
	SerialDate          // a spreadsheet's day number
	TextDate            // the month in words
	AfterDate           // so many days after setting
	MonthDay            // 0503 without a mark: A and B wait for the order, and for somebody to say that it is a date at all
)

// A Date is what one cell says, before the order of day and month and a missing year are settled.
type Date struct {
	Form  DateForm
	Year  int // 0 where none is written
	A, B  int // month and day, or the two numbers of SlashDate as they stand
	Day   survey.Date
	After int  // of AfterDate, in days
	Weeks bool // of AfterDate: counted in whole weeks, so the day itself is not known
	Loose bool // more than one day, or a question mark beside it

	Dotted bool // of SlashDate: 12.05.2025, which is day first where nothing else tells
}

var monthWords = map[string]time.Month{
	"jan": 1, "january": 1, "ene": 1, "enero": 1, "feb": 2, "february": 2, "febrero": 2, "mar": 3, "march": 3, "marzo": 3,
	"apr": 4, "april": 4, "abr": 4, "abril": 4, "apl": 4, "may": 5, "mayo": 5, "jun": 6, "june": 6, "junio": 6, "jul": 7, "july": 7, "julio": 7,
	"aug": 8, "august": 8, "ago": 8, "agosto": 8, "sep": 9, "sept": 9, "september": 9, "septiembre": 9, "setiembre": 9,
	"oct": 10, "october": 10, "octubre": 10, "nov": 11, "november": 11, "noviembre": 11, "dec": 12, "december": 12, "dic": 12, "diciembre": 12,
}

var romanMonths = map[string]time.Month{"iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9}

var dateFillers = map[string]bool{
	"de": true, "del": true, "of": true, "the": true, "el": true, "on": true, "dia": true, "am": true, "pm": true, "morning": true, "evening": true, "a": true,
	"mon": true, "tue": true, "tues": true, "wed": true, "weds": true, "thu": true, "thur": true, "thurs": true, "fri": true, "sat": true, "sun": true,
	"monday": true, "tuesday": true, "wednesday": true, "thursday": true, "friday": true, "saturday": true, "sunday": true,
	"lunes": true, "martes": true, "miercoles": true, "jueves": true, "viernes": true, "sabado": true, "domingo": true,
	"early": true, "late": true, "noon": true, "afternoon": true, "night": true, "after": true, "lunch": true, "church": true, "manana": true, "tarde": true, "en": true, "la": true, "e": true, "d": true,
	"lun": true, "mie": true, "jue": true, "vie": true, "sab": true, "dom": true,
}

// ReadDate reads one cell without deciding anything that the cell does not say. date1904 is the workbook's day count.
func ReadDate(s string, date1904 bool) Date {
	if len(s) == 10 && s[4] == '-' && s[7] == '-' {
		y, ok1 := Atoi(s[:4])
		m, ok2 := Atoi(s[5:7])
		d, ok3 := Atoi(s[8:])
		if ok1 && ok2 && ok3 {
			return full(y, m, d)
		}
	}
	if s == "" || len(s) > 40 {
		return Date{}
	}
	if s[0] == '+' && s[len(s)-1] == 'd' { // how this program writes a day counted from setting
		if n, ok := Atoi(s[1 : len(s)-1]); ok {
			return Date{Form: AfterDate, After: n}
		}
	}
	loose := false
	if t := strings.TrimRight(s, "? "); t != s {
		s, loose = t, true
	}
	if t := strings.TrimLeft(s, "~≈ "); t != s {
		s, loose = t, true
	}
	d := readDate(s, date1904)
	d.Loose = d.Loose || loose && d.Form != NoDate
	return d
}

func readDate(s string, date1904 bool) Date {
	s = withoutTime(s)
	if s == "" {
		return Date{}
	}
	if Digit(s[0]) {
		if n, err := strconv.ParseFloat(s, 64); err == nil {
			return numeric(s, n, date1904)
		}
		if parts := strings.FieldsFunc(s, func(c rune) bool { return c == '/' || c == '-' || c == '.' || c == ' ' && strings.Contains(s, "/") }); len(parts) == 2 || len(parts) == 3 {
			if r, ok := numbers(s, parts); ok {
				return r
			}
		}
		if i := strings.LastIndexByte(s, '-'); i > 0 && strings.ContainsRune(s, '/') { // 5/12-13: two days
			if _, ok := Atoi(s[i+1:]); ok {
				if r := readDate(s[:i], date1904); r.Form == SlashDate {
					r.Loose = true
					return r
				}
			}
		}
	}
	if d := wordy(s); d.Form != NoDate {
		return d
	}
	return aside(s)
}

// aside reads a day in figures with a day of the week, a time of day or a mark beside it: Mon 5/8, 5/14 am, 4/28*.
func aside(s string) Date {
	m := slashDay.FindStringIndex(s)
	if m == nil {
		return Date{}
	}
	for _, t := range Tokens(timeOfDay.ReplaceAllString(s[:m[0]]+" "+s[m[1]:], " ")) {
		if !dateFillers[t] && !oneOf(t, ".", ",", ":", "-", "(", ")", "[", "]", "'") {
			return Date{}
		}
	}
	day := strings.NewReplacer("\\", "/", "'", "").Replace(s[m[0]:m[1]])
	d, _ := numbers(day, strings.FieldsFunc(day, func(c rune) bool { return c == '/' || c == '-' }))
	return d
}

var slashDay = regexp.MustCompile(`\b\d{1,2}[/\\]\d{1,2}(?:[/\\](?:\d{4}|\d{2}))?\b|\b\d{1,2}-\d{1,2}-'?\d\d\b`)
var timeOfDay = regexp.MustCompile(`(?i)\b\d{1,2}:\d\d(?::\d\d)?(?: ?[ap]m)?\b|\b\d{1,4} ?[ap]m\b|[+-]\d{4}\b`)

func full(y, m, d int) Date {
	day := survey.DateOf(y, time.Month(m), d)
	if day == 0 {
		return Date{}
	}
	return Date{Form: FullDate, Day: day, Year: y}
}

// withoutTime cuts a time of day off the end: 2025-05-12T10:30, 5/12/25 0:00, 5/12/25 7:30 AM.
func withoutTime(s string) string {
	if i := strings.IndexAny(s, "T "); i >= 3 && strings.Contains(s[i:], ":") && Digit(s[0]) {
		return strings.TrimSpace(s[:i])
	}
	return s
}

func numeric(s string, n float64, date1904 bool) Date {
	whole := n == math.Trunc(n)
	switch {
	case len(s) == 8 && whole && n > 18_000_000:
		return full(int(n)/10000, int(n)/100%100, int(n)%100)
	case len(s) == 6 && whole: // 050324 or 240503
		a, b, c := int(n)/10000, int(n)/100%100, int(n)%100
		if a >= 1 && a <= 12 && b >= 1 && b <= 31 || b >= 1 && b <= 12 && a >= 1 && a <= 31 {
			return Date{Form: SlashDate, A: a, B: b, Year: century(c)}
		}
		return Date{}
	case len(s) == 4 && whole && s[0] == '0':
		if a, b := int(n)/100, int(n)%100; a >= 1 && b >= 1 && b <= 31 {
			return Date{Form: MonthDay, A: a, B: b}
		}
	}
	// Before 1941 there is no day of ours, and a plain number is far more likely.
	if n < 15_000 || n > 80_000 {
		return Date{}
	}
	return Date{Form: SerialDate, Day: survey.DateFrom(sheet.SerialDate(n, date1904))}
}

func numbers(s string, parts []string) (Date, bool) {
	var v [3]int
	for i, p := range parts {
		n, ok := Atoi(strings.TrimSpace(p))
		if !ok {
			return Date{}, false
		}
		v[i] = n
	}
	switch {
	case len(parts) == 2 && strings.Contains(s, "."):
		return Date{}, false
	case len(parts) == 2:
		if !dayAndMonth(v[0], v[1]) {
			return Date{}, false
		}
		return Date{Form: SlashDate, A: v[0], B: v[1]}, true
	case v[0] > 31:
		return full(v[0], v[1], v[2]), true
	case !dayAndMonth(v[0], v[1]):
		return Date{}, false
	}
	return Date{Form: SlashDate, A: v[0], B: v[1], Year: century(v[2]), Dotted: strings.Contains(s, ".")}, true
}

func dayAndMonth(a, b int) bool {
	return a >= 1 && b >= 1 && a <= 31 && b <= 31 && (a <= 12 || b <= 12)
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

// Century reads a year of two digits as one of the hundred years up to 2069; others stand as they are.
func Century(y int) int { return century(y) }

// wordy reads dates with the month in words, and "week 2".
func wordy(s string) Date {
	tokens := Tokens(s)
	kept := tokens[:0]
	for _, t := range tokens {
		if oneOf(t, ",", ".", "-", "/", "'", ":", "(", ")") || dateFillers[t] {
			continue
		}
		kept = append(kept, t)
	}
	if len(kept) == 0 || len(kept) > 6 {
		return Date{}
	}
	if d := after(kept); d.Form != NoDate {
		return d
	}
	var month time.Month
	var nums []int
	loose := false
	for i, t := range kept {
		if m, ok := monthWord(t); ok && month == 0 {
			month = m
			continue
		}
		if m, ok := romanMonths[t]; ok && month == 0 && i == 1 {
			month = m
			continue
		}
		if i > 0 && oneOf(t, "st", "nd", "rd", "th", "ro", "o", "ero") {
			continue
		}
		n, ok := Atoi(t)
		if !ok {
			return Date{}
		}
		nums = append(nums, n)
	}
	if month == 0 || len(nums) == 0 || len(nums) > 3 {
		return Date{}
	}
	if len(nums) >= 2 && nums[0] <= 31 && nums[1] <= 31 && nums[1] == nums[0]+1 && (len(nums) == 3 || strings.Contains(s, "-")) { // May 12-13
		nums = append(nums[:1], nums[2:]...)
		loose = true
	}
	switch {
	case len(nums) == 3:
		return Date{}
	case len(nums) == 1:
		if survey.DateOf(2024, month, nums[0]) == 0 {
			return Date{}
		}
		return Date{Form: TextDate, A: int(month), B: nums[0], Loose: loose}
	case nums[0] > 31:
		nums[0], nums[1] = nums[1], nums[0]
	}
	year := century(nums[1])
	if survey.DateOf(year, month, nums[0]) == 0 {
		return Date{}
	}
	return Date{Form: TextDate, A: int(month), B: nums[0], Year: year, Loose: loose}
}

// monthWord knows months in words, with one slip of the hand in the longer ones.
func monthWord(t string) (time.Month, bool) {
	if m, ok := monthWords[t]; ok {
		return m, true
	}
	if len(t) >= 5 {
		for w, m := range monthWords {
			if len(w) >= 5 && w[0] == t[0] && near(w, t) {
				return m, true
			}
		}
	}
	return 0, false
}

// after reads "week 2", "wk2", "day 14", "2 weeks", "14 days", "two weeks", "dia 14".
func after(t []string) Date {
	if len(t) != 2 {
		return Date{}
	}
	unit := func(s string) int {
		switch s {
		case "week", "weeks", "wk", "wks", "w", "semana", "semanas", "sem":
			return 7
		case "day", "days", "dia", "dias", "d":
			return 1
		}
		return 0
	}
	count := func(s string) int {
		if n, ok := Atoi(s); ok {
			return n
		}
		return numberWords[s]
	}
	per, n := unit(t[0]), count(t[1])
	if per == 0 {
		per, n = unit(t[1]), count(t[0])
	}
	if per == 0 || n < 1 || n*per > 400 {
		return Date{}
	}
	return Date{Form: AfterDate, After: n * per, Weeks: per == 7}
}

// On settles a date with the order of day and month and the year for dates that have none; zero where there is no such
// day, or nothing to tell it by.
func (d Date) On(dayFirst bool, year int) survey.Date {
	if d.Year != 0 {
		year = d.Year
	}
	switch d.Form {
	case FullDate, SerialDate:
		return d.Day
	case TextDate:
		if year != 0 {
			return survey.DateOf(year, time.Month(d.A), d.B)
		}
	case SlashDate, MonthDay:
		if year == 0 {
			return 0
		}
		month, day := d.A, d.B
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

// Yearless tells whether a date waits for its year.
func (d Date) Yearless() bool {
	return d.Year == 0 && (d.Form == TextDate || d.Form == SlashDate || d.Form == MonthDay)
}

// Plain tells whether a date is a day by itself, once the order of day and month is settled.
func (d Date) Plain() bool {
	return d.Form == FullDate || d.Year != 0 && (d.Form == TextDate || d.Form == SlashDate || d.Form == MonthDay)
}

// Ordered tells which order of day and month a date shows: -1 day first, 1 month first, 0 where both could be.
func (d Date) Ordered() int {
	if d.Form != SlashDate && d.Form != MonthDay {
		return 0
	}
	switch {
	case d.A > 12 && d.B <= 12:
		return -1
	case d.B > 12 && d.A <= 12:
		return 1
	}
	return 0
}

// A FoundDate is a date inside a longer text, and where it stands there.
type FoundDate struct {
	Date
	From, To int
}

const monthPattern = `(?:january|february|march|april|may|june|july|august|september|october|november|december|enero|febrero|marzo|abril|mayo|junio|julio|agosto|septiembre|setiembre|octubre|noviembre|diciembre|jan|feb|mar|apr|jun|jul|aug|sept|sep|oct|nov|dec|ene|abr|ago|dic)`

var datePatterns = []*regexp.Regexp{
	regexp.MustCompile(`(?i)\b\d{4}-\d{1,2}-\d{1,2}\b`),
	regexp.MustCompile(`(?i)\b\d{1,2}[/.]\d{1,2}[/.]\d{2,4}\b|\b\d{1,2}-\d{1,2}-\d{2,4}\b`),
	regexp.MustCompile(`(?i)\b` + monthPattern + `\b\.?\s+\d{1,2}(?:st|nd|rd|th)?\b(?:,?\s+(?:19|20)\d\d\b)?`),
	regexp.MustCompile(`(?i)\b\d{1,2}(?:st|nd|rd|th|o|ro)?[\s/-]+(?:(?:de|of)\s+)?` + monthPattern + `\b\.?(?:,?\s+(?:del?\s+)?(?:19|20)\d\d\b|[-/](?:\d{4}|\d{2})\b)?`),
	regexp.MustCompile(`\b\d{1,2}/\d{1,2}\b`),
}

// fractionOf is a part of a measure that looks like a day of a month.
var fractionOf = regexp.MustCompile(`(?i)^1/\d{1,3}\s*-?\s*(?:acres?|ac|ha|hect[aá]reas?|miles?|mi|millas?|chains?)\b`)

// FindDates finds the dates in a longer text, in order. A fraction such as 1/2 or 2/3 is no date here, unless it is all
// the text holds.
func FindDates(s string) []FoundDate {
	var out []FoundDate
	taken := func(a, b int) bool {
		for _, f := range out {
			if a < f.To && b > f.From {
				return true
			}
		}
		return false
	}
	for k, p := range datePatterns {
		if !mayHold(k, s) {
			continue
		}
		for _, m := range p.FindAllStringIndex(s, -1) {
			if taken(m[0], m[1]) || m[0] > 0 && strings.IndexByte("/.-", s[m[0]-1]) >= 0 && k != 2 && k != 3 || m[1] < len(s) && s[m[1]] == '/' {
				continue
			}
			if k == 4 && fractionOf.MatchString(s[m[0]:]) { // 1/10 mile
				continue
			}
			if k == 2 && (tuesday(s[m[0]:m[1]], s[m[1]:]) || dayBefore.MatchString(s[:m[0]]) && countBehind.MatchString(s[m[1]:])) {
				continue
			}
			d := ReadDate(Tidy(s[m[0]:m[1]]), false)
			if d.Form == NoDate || d.Form == AfterDate {
				continue
			}
			if k == 4 && (d.A <= 3 && d.B <= 4 && d.A < d.B || d.B == 3 && d.A <= 3) { // 1/2, 2/3, 3/3
				continue
			}
			out = append(out, FoundDate{d, m[0], m[1]})
		}
	}
	for i := 1; i < len(out); i++ { // few: insertion keeps them in order
		for j := i; j > 0 && out[j].From < out[j-1].From; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}

// mayHold tells whether a text has what each date of the kth pattern has: a figure, and a mark between two or a letter. Most cells have not, and
// looking for a pattern takes long.
func mayHold(k int, s string) bool {
	if !strings.ContainsAny(s, "0123456789") {
		return false
	}
	switch k {
	case 0:
		return strings.Contains(s, "-")
	case 1:
		return strings.ContainsAny(s, "/.-")
	case 4:
		return strings.Contains(s, "/")
	}
	return strings.ContainsFunc(s, func(r rune) bool { return 'a' <= r|0x20 && r|0x20 <= 'z' })
}

// In "28 may 2 of 3" the 2 counts eggs.
var (
	dayBefore   = regexp.MustCompile(`(?:^|[^\d/.-])\d{1,2}\s+(?:de\s+)?$`)
	countBehind = regexp.MustCompile(`(?i)^\s+(?:of|de|out of)\s+(?:the\s+|los\s+)?(?:\d\b|three|tres)|^\s+(?:eggs?|huevos?|left|gone|missing)\b`)
)

var thenMonth = regexp.MustCompile(`(?i)^\s*(?:de\s+)?` + monthPattern + `\b`)

// tuesday tells whether "mar 27" in a Spanish text is a Tuesday, since a month stands behind it: "mar 27 abr".
func tuesday(day, behind string) bool {
	return len(day) > 3 && strings.EqualFold(day[:3], "mar") && !Digit(day[3]) && (day[3] == ' ' || day[3] == '.') && thenMonth.MatchString(behind)
}

var yearPattern = regexp.MustCompile(`(?:^|[^0-9A-Za-z.,/-])((?:19|20)\d\d)(?:$|[^0-9A-Za-z/])`)
var yearApart = strings.NewReplacer("_", " ", "-", " ", ".", " ", "(", " ", ")", " ")
var shortYear = regexp.MustCompile(`(?i)(?:^|\s)['’](\d\d)(?:$|[^0-9])`)

// FindYear returns the year named in a title, a tab or a file's name; 0 where there is none, or more than one.
func FindYear(s string) int {
	if y, number := Atoi(s); number && len(s) == 4 && y >= 1950 && y <= 2100 { // most are just that
		return y
	}
	s = " " + yearApart.Replace(s) + " "
	year := 0
	for _, m := range yearPattern.FindAllStringSubmatch(strings.ReplaceAll(s, " ", "  "), -1) {
		y, _ := Atoi(m[1])
		if y < 1950 || y > 2100 || year != 0 && y != year {
			if y >= 1950 && y <= 2100 {
				return 0
			}
			continue
		}
		year = y
	}
	if year == 0 {
		if m := shortYear.FindStringSubmatch(s); m != nil {
			y, _ := Atoi(m[1])
			year = century(y)
		}
	}
	return year
}
