package sheet

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// A numberFormat says how a workbook shows numbers of one style, as far as it changes what a person reads.
type numberFormat struct {
	kind           formatKind
	noYear         bool
	elapsed        bool   // hours go past 24
	zeros          int    // shown with at least so many digits before the point: nest 007
	before, behind string // words around the number: "T"0, 0" ft"
}

type formatKind uint8

const (
	formatNumber formatKind = iota
	formatPercent
	formatDate
	formatTime
)

// builtinFormats are those that a workbook names by number alone (ECMA-376-1:2016, 18.8.30; cited from memory). What the
// list lacks shows plain numbers. 27 to 36 and 50 to 58 are the dates of East Asian versions.
var builtinFormats = map[int]string{
	9: "0%", 10: "0.00%", 14: "m/d/yyyy", 15: "d-mmm-yy", 16: "d-mmm", 17: "mmm-yy", 18: "h:mm AM/PM", 19: "h:mm:ss AM/PM",
	20: "h:mm", 21: "h:mm:ss", 22: "m/d/yy h:mm", 45: "mm:ss", 46: "[h]:mm:ss", 47: "mm:ss.0",
	27: "yyyy/m/d", 28: "m/d", 29: "m/d", 30: "m/d/yy", 31: "yyyy/m/d", 32: "h:mm", 33: "h:mm:ss", 34: "yyyy/m", 35: "m/d", 36: "yyyy/m/d",
	50: "yyyy/m/d", 51: "m/d", 52: "yyyy/m", 53: "m/d", 54: "m/d", 55: "yyyy/m", 56: "m/d", 57: "yyyy/m/d", 58: "m/d",
}

// parseFormat reads a format code such as d-mmm or [$-409]m/d/yy h:mm;@. Only its first section counts.
func parseFormat(code string) numberFormat {
	var f numberFormat
	if strings.HasPrefix(strings.ToLower(code), "general") {
		return f
	}
	var letters, words strings.Builder
	digits := false // a digit has been passed, so words stand behind it
	word := func(s string) {
		if digits {
			f.behind += s
		} else {
			f.before += s
		}
	}
	for i := 0; i < len(code) && code[i] != ';'; i++ {
		switch c := code[i]; c {
		case '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				return f
			}
			word(code[i+1 : i+1+end])
			i += end + 1
		case '\\':
			if i++; i < len(code) {
				word(code[i : i+1])
			}
		case '_', '*': // a gap as wide as the next character; the next character repeated
			i++
		case '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				return f
			}
			if inside := strings.ToLower(code[i+1 : i+end]); strings.Trim(inside, "hms") == "" && inside != "" {
				f.elapsed = true
				letters.WriteByte('h')
			}
			i += end
		case '0', '#', '?':
			if c == '0' && !strings.Contains(words.String(), ".") {
				f.zeros++
			}
			digits = true
			words.WriteByte(c)
		default:
			letters.WriteByte(c)
			words.WriteByte(c)
		}
	}
	return f.settle(strings.ToLower(letters.String()), words.String())
}

// settle decides what a format's letters make it.
func (f numberFormat) settle(letters, all string) numberFormat {
	clock := strings.ReplaceAll(strings.ReplaceAll(letters, "am/pm", "h"), "a/p", "h")
	year, day := strings.ContainsAny(clock, "ye"), strings.ContainsRune(clock, 'd')
	hour := strings.ContainsAny(clock, "hs")
	if strings.ContainsAny(all, "0#?") && !strings.ContainsAny(clock, "yd") {
		year, hour = false, hour && strings.ContainsRune(clock, ':') // 0.00E+00; mm:ss.0
	}
	switch {
	case year || day || strings.ContainsRune(clock, 'm') && !hour:
		return numberFormat{kind: formatDate, noYear: !year}
	case hour:
		return numberFormat{kind: formatTime, elapsed: f.elapsed}
	case strings.ContainsRune(letters, '%'):
		return numberFormat{kind: formatPercent}
	}
	if strings.ContainsAny(letters, "/e,") || !letterIn(f.before) && !letterIn(f.behind) && f.before+f.behind != "" {
		f.before, f.behind = "", "" // fractions, powers, thousands, signs of money
	}
	if strings.ContainsAny(letters, "/e,") {
		f.zeros = 0
	}
	return f
}

func letterIn(s string) bool {
	for _, c := range s {
		if unicode.IsLetter(c) {
			return true
		}
	}
	return false
}

// show adds to into the number as a person reads it, and says whether it is a day.
func (f *numberFormat) show(into []byte, v float64, date1904 bool) ([]byte, DateLook) {
	switch f.kind {
	case formatDate:
		if v < 1 || v >= 2_958_466 { // not a day: 31 December 9999 is the last
			if v > 0 && v < 1 {
				return appendClock(into, v, false), NoDate
			}
			break
		}
		into = SerialDate(v, date1904).AppendFormat(into, time.DateOnly)
		if f.noYear {
			return into, DateNoYear
		}
		return into, DateYear
	case formatTime:
		if v >= 0 && v < 2_958_466 {
			return appendClock(into, v, f.elapsed), NoDate
		}
	case formatPercent:
		return append(appendNumber(into, v*100), '%'), NoDate
	}
	if f.zeros > 1 && v == math.Trunc(v) && v >= 0 && v < 1e15 || f.before != "" || f.behind != "" {
		return f.worded(into, v), NoDate
	}
	return appendNumber(into, v), NoDate
}

func (f *numberFormat) worded(into []byte, v float64) []byte {
	if v < 0 {
		return appendNumber(into, v)
	}
	into = append(into, f.before...)
	from := len(into)
	into = appendNumber(into, v)
	if v == math.Trunc(v) {
		if short := f.zeros - (len(into) - from); short > 0 && short < 20 {
			digits := strings.Repeat("0", short) + string(into[from:])
			into = append(into[:from], digits...)
		}
	}
	return append(into, f.behind...)
}

// appendNumber writes a number with the fifteen digits that a spreadsheet keeps, without needless ones: 12, 0.5, 1.2.
func appendNumber(into []byte, v float64) []byte {
	if v == 0 {
		return append(into, '0') // never -0
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return into
	}
	if a := math.Abs(v); a < 1e15 && v == math.Trunc(v) {
		return strconv.AppendInt(into, int64(v), 10)
	}
	// Rounded to fifteen digits, then written as shortly as that allows.
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 14, 64), 64)
	if err != nil {
		r = v
	}
	if a := math.Abs(r); a >= 1e21 || a < 1e-9 {
		return strconv.AppendFloat(into, r, 'e', -1, 64)
	}
	return strconv.AppendFloat(into, r, 'f', -1, 64)
}

// appendClock writes a part of a day, or a length of time, as 7:30 or 30:00.
func appendClock(into []byte, v float64, elapsed bool) []byte {
	if !elapsed {
		v -= math.Trunc(v)
	}
	s := int64(math.Round(v * 86_400))
	if !elapsed {
		s %= 86_400
	}
	into = strconv.AppendInt(into, s/3600, 10)
	into = appendTwo(append(into, ':'), s/60%60)
	if s%60 != 0 {
		into = appendTwo(append(into, ':'), s%60)
	}
	return into
}

func appendTwo(into []byte, n int64) []byte {
	return append(into, byte('0'+n/10), byte('0'+n%10))
}
