package reading

import (
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

// An ident is a name that holds a line and a nest: A1, A-7, T03-07, 1.4, L2N5, line 2 nest 5.
type ident struct {
	line, nest string
	style      string // how it is written: names of one column are of one style
	bareLine   string // the line without its letter or word: 2 of L2
	place      string // what stands before both: a pasture's or a ranch's code, or the year
}

var (
	idMarked = regexp.MustCompile(`(?i)^(?:(line|transect|trans|lin|linea|línea|linia|ln|l|t|tr)[ .#_-]*)?([A-Za-z]{0,3}\d{0,3})\s*[-–./_:, ]\s*(?:(nest|nido|stop|n|st|no\.?)[ .#_-]*)?(\d{1,3}[A-Za-z]?)$`)
	idTight  = regexp.MustCompile(`(?i)^(l|t|tr|line|transect|ln)?[ -]?(\d{1,3}|[A-Za-z]{1,2})[ -]?(n|nest|st|s|nido)[ -]?(\d{1,3})$`)
	idBoth   = regexp.MustCompile(`(?i)^(l|t|tr|ln|line|transect)[ .#_]?(\d{1,3})[-–_/. ]+(n|nest|nido|s|st)[ .#_]?(\d{1,3})$`)
	idPlaced = regexp.MustCompile(`^([\pL\d]{1,10})([-–_/. ])([A-Za-z]{0,3}\d{0,3}[A-Za-z]?)([-–_/. ])([A-Za-z]{0,2}\d{1,3})$`)
	idWorded = regexp.MustCompile(`(?i)^([NSEW]\.?|north|south|east|west|[a-z][\pL'’]{2,11})\s+(?:line|transect|l[ií]nea)\s+#?(\d{1,3})$`)
	idLetter = regexp.MustCompile(`^([A-Z]{1,2})(\d{1,2})$`)
)

// splitID takes a line and a nest out of one name.
func splitID(text string) (ident, bool) {
	if len(text) > 24 || len(text) < 2 {
		return ident{}, false
	}
	if m := idWorded.FindStringSubmatch(text); m != nil { // N. line 4
		return ident{line: strings.TrimSuffix(m[1], "."), nest: m[2], style: "worded"}, true
	}
	if m := idTight.FindStringSubmatch(text); m != nil && (m[1] != "" || !isLetters(m[2]) || m[3] != "") {
		lead := strings.ToUpper(m[1])
		line := m[1] + m[2]
		if len(lead) > 2 {
			line = m[2]
		}
		return ident{line: line, nest: m[4], style: "tight:" + strings.ToLower(m[1]+m[3]), bareLine: m[2]}, true
	}
	if m := idBoth.FindStringSubmatch(text); m != nil { // L1-N2
		line := m[1] + m[2]
		if len(m[1]) > 2 {
			line = m[2]
		}
		return ident{line: line, nest: strings.TrimLeft(m[4], "0"), style: "both:" + strings.ToLower(m[1]+m[3]), bareLine: m[2]}, true
	}
	if m := idMarked.FindStringSubmatch(text); m != nil && m[1]+m[2] != "" && m[2] != "" {
		mark := text[len(m[1])+len(m[2]):]
		if strings.HasPrefix(mark, ".") && strings.Trim(m[4], "0") == "" { // 1.0 is a number that a spreadsheet program wrote
			return ident{}, false
		}
		line := m[1] + m[2]
		if len(m[1]) > 2 || strings.ContainsAny(text[:max(len(m[1]), 1)], " .") {
			line = m[2]
		}
		if m[1] != "" && !strings.HasPrefix(text, m[1]+m[2]) { // Line 2-5
			line = m[2]
		}
		sep := strings.IndexAny(mark, "-–./_:, ")
		style := ""
		if sep >= 0 {
			style = mark[sep : sep+1]
		}
		return ident{line: line, nest: m[4], style: "marked:" + strings.ToLower(m[1]) + style, bareLine: m[2]}, true
	}
	if m := idPlaced.FindStringSubmatch(text); m != nil && m[2] == m[4] && m[3] != "" && lexicon.ReadDate(m[3]+" "+m[5], false).Form == lexicon.NoDate { // "set May 3" is none
		return ident{line: m[3], nest: strings.TrimLeft(strings.TrimLeft(m[5], "nNoO"), "0"), style: "placed:" + m[2], bareLine: strings.TrimLeft(m[3], "LlTtNn"), place: m[1]}, true
	}
	if m := idLetter.FindStringSubmatch(text); m != nil {
		return ident{line: m[1], nest: m[2], style: "letter", bareLine: m[1]}, true
	}
	return ident{}, false
}

func isLetters(s string) bool {
	for _, c := range s {
		if c >= '0' && c <= '9' {
			return false
		}
	}
	return s != ""
}
