package reading

import (
	"maps"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A code list says which field each code is of: "STATUS | 1 intact; 2 depredated", "FATE | D | depredated", or in a text file
// the field, its codes below one another, and what each means.

// maxCodeList is how many rows a file or tab with such a list may have.
const maxCodeList = 200

var codeGap = regexp.MustCompile(`\s{2,}|\t|;\s*`)

var seeField = regexp.MustCompile(`(?i)^(?:see|in|under|ver|vea|en|bajo)$`)

// A fieldCode is one entry of a code list. Its meaning may be one that nobody can tell.
type fieldCode struct {
	code, text string
	at         *cell
	row        int
	listed     bool // one of several in a cell
}

// readFieldCodes takes the code lists of the batch.
func (r *reader) readFieldCodes(data map[string]bool) {
	heads := map[string]bool{}
	for _, b := range r.blocks {
		if b.g.turn || len(b.records) < 4 {
			continue
		}
		for i := range b.cols {
			if t := lexicon.Fold(b.cols[i].head.Text); len(t) >= 2 && len(t) <= 24 {
				heads[t] = true
			}
		}
	}
	for _, g := range r.grids {
		if g.held == 0 && !g.turn && len(g.plain) <= maxCodeList {
			r.codeList(g, heads, data)
		}
	}
}

// codeList takes the code list out of one grid. A field stands before each of its codes, before the first, or in a row of its own
// above them.
func (r *reader) codeList(g *grid, heads, data map[string]bool) {
	var fields []string
	var list, taken []fieldCode
	take := func(next []string) {
		if r.takeCodes(g, fields, heads, list) {
			taken = append(taken, list...)
		}
		fields, list = next, nil
	}
	for k := range g.plain {
		l := &g.plain[k]
		var parts []fieldCode
		for i := range l.cells {
			c := &l.cells[i]
			text := c.raw
			if text == "" {
				text = c.text
			}
			for _, p := range codeGap.Split(strings.TrimSpace(text), -1) {
				if p = strings.TrimSpace(p); p != "" {
					parts = append(parts, fieldCode{text: p, at: c, row: k})
				}
			}
		}
		if len(parts) == 0 {
			continue
		}
		var found []fieldCode
		if len(parts) > 1 && len(parts[0].text) <= 24 && len(fieldHeads(parts[0].text, heads)) > 0 {
			found = codesOf(parts[1:], data)
		}
		if f := lexicon.Fold(parts[0].text); len(found) == 0 {
			found = codesOf(parts, data)
		} else if len(fields) != 1 || f != fields[0] {
			take([]string{f})
		}
		if len(found) == 0 || len(parts) == 1 {
			if named, first := r.fieldsNamed(parts[0], heads, data); len(named) > 0 && len(parts) == 1 {
				take(named)
				found = first
			} else if len(found) == 0 {
				take(nil)
			}
		}
		if len(found) > 0 && len(list) > 0 && r.otherKind(list, found) {
			take(nil)
		}
		list = append(list, found...)
	}
	take(nil)
	r.setApart(g, taken)
}

// otherKind tells whether two lists of codes mean things of different kinds: covers, and what was found.
func (r *reader) otherKind(one, two []fieldCode) bool {
	kind := func(list []fieldCode) (covers, ok bool) {
		for _, e := range list {
			if _, covers, ok := r.understood(e.text); ok {
				return covers, true
			}
		}
		return false, false
	}
	a, ok1 := kind(one)
	b, ok2 := kind(two)
	return ok1 && ok2 && a != b
}

// fieldsNamed returns the fields that a row of text is the title of, and the codes that it begins with: "F1, F2 = fate at check 1, check
// 2", "surv1 and surv2 (two weeks, four weeks):", "Code: G = good". Nil where it speaks of anything else.
func (r *reader) fieldsNamed(row fieldCode, heads, data map[string]bool) (fields []string, codes []fieldCode) {
	names, rest, explained := strings.Cut(row.text, "=")
	if cut := strings.IndexAny(names, "(:"); cut >= 0 {
		if names[cut] == ':' {
			rest = strings.TrimSpace(row.text[cut+1:])
			explained = false
		}
		names = names[:cut]
	} else if !explained && len(names) > 40 {
		return nil, nil
	}
	if rest != "" && !explained {
		row.text = rest
		codes = codesOf([]fieldCode{row}, data)
		if codes == nil || slices.ContainsFunc(codes, func(e fieldCode) bool { _, _, ok := r.understood(e.text); return !ok }) {
			return nil, nil
		}
	}
	for _, name := range fieldSplit.Split(strings.TrimSpace(names), -1) {
		if len(name) > 24 || len(fieldHeads(name, heads)) == 0 {
			return nil, nil
		}
		fields = append(fields, lexicon.Fold(name))
	}
	return fields, codes
}

var fieldSplit = regexp.MustCompile(`(?i)\s*[,/&+]\s*|\s+(?:and|y|e)\s+`)

// codesOf pairs codes with what they mean: a cell each, or "1 intact".
func codesOf(parts []fieldCode, data map[string]bool) []fieldCode {
	var out []fieldCode
	parts = entriesOf(parts, data)
	data = maps.Clone(data)
	for _, p := range parts { // codes that no cell happens to hold, among others of their form
		if code, _, more := strings.Cut(p.text, " "); more && len(parts) > 2 && p.listed {
			data[foldCode(strings.TrimRight(code, "=:-"))] = true
		}
	}
	for i := 0; i < len(parts); i++ {
		p := parts[i]
		switch code, rest, more := strings.Cut(p.text, " "); {
		case !more && data[foldCode(code)] && len(code) <= 12 && i+1 < len(parts):
			p.code, p.text = code, parts[i+1].text
			i++
		case more && len(code) <= 12 && (data[foldCode(strings.TrimRight(code, "=:-"))] && (len(code) <= 6 || strings.HasPrefix(rest, "=") || strings.ContainsAny(code, "-_")) || len(code) <= 4 && strings.HasPrefix(rest, "= ")):
			p.code, p.text = strings.TrimRight(code, "=:-"), strings.TrimLeft(rest, "=:-–— ")
		default:
			return nil
		}
		if len([]rune(p.text)) < 4 {
			return nil
		}
		out = append(out, p)
	}
	return out
}

// entriesOf cuts a list within one cell at its commas: "0 intact, 1 depredated (any egg), 2 trampled".
func entriesOf(parts []fieldCode, data map[string]bool) []fieldCode {
	var out []fieldCode
	for _, p := range parts {
		var list []fieldCode
		known := 0
		for _, piece := range strings.Split(p.text, ", ") {
			code, rest, more := strings.Cut(strings.TrimSpace(piece), " ")
			code = strings.TrimRight(code, "=:-")
			switch {
			case more && len(strings.TrimSpace(rest)) >= 3 && len(code) <= 4 && (data[foldCode(code)] || len(list) > 0 && sameForm(code, list[0].text)):
				if data[foldCode(code)] {
					known++
				}
				list = append(list, fieldCode{text: piece, at: p.at, row: p.row, listed: true})
			case len(list) > 0:
				list[len(list)-1].text += ", " + piece
			default:
				known = -100
			}
		}
		if len(list) < 2 || known < 2 {
			out = append(out, p)
			continue
		}
		out = append(out, list...)
	}
	return out
}

// sameForm tells whether two codes are both numbers, or both in capitals.
func sameForm(code, entry string) bool {
	first, _, _ := strings.Cut(entry, " ")
	first = strings.TrimRight(first, "=:-")
	_, a := lexicon.Atoi(code)
	_, b := lexicon.Atoi(first)
	return a && b || capitals.MatchString(code) && capitals.MatchString(first)
}

// fieldHeads returns the headings that a field of a code list is for: its own, and those that end with it ("CHK1_FATE").
func fieldHeads(field string, heads map[string]bool) []string {
	f := lexicon.Fold(field)
	var out []string
	for h := range heads {
		if h == f || len(f) >= 3 && (strings.HasSuffix(h, f) || strings.Trim(strings.TrimPrefix(h, f), "0123456789") == "") {
			out = append(out, h)
		}
	}
	return out
}

// takeCodes keeps the codes of fields where most of them mean covers or states, and tells whether it did. What a code of the list
// means that tells neither stays open, so that it is asked about.
func (r *reader) takeCodes(g *grid, fields []string, heads map[string]bool, list []fieldCode) bool {
	if len(fields) == 0 || len(list) < 2 {
		return false
	}
	known := map[bool]int{}
	seen := map[string]bool{}
	for _, e := range list {
		if seen[foldCode(e.code)] { // a key says each code once
			return false
		}
		seen[foldCode(e.code)] = true
		if _, covers, ok := r.understood(e.text); ok {
			known[covers]++
		}
	}
	if r.lex.Heading(fields[0]).Role == lexicon.Ranch {
		r.takeRanches(list)
		return true
	}
	covers := known[true] > known[false]
	if known[covers] < 2 || known[covers]*2 < len(list) {
		return false
	}
	for _, e := range list {
		m, of, ok := r.understood(e.text)
		if !ok || of != covers || sentOn(e.text, heads) {
			m = meaning{sight: lexicon.Sight{Eggs: -1}, text: e.text}
			if covers {
				continue
			}
		}
		for _, field := range fields {
			for _, h := range fieldHeads(field, heads) {
				r.addCode(covers, h, e.code, m, g, e.at)
			}
		}
	}
	return true
}

// sentOn tells whether a meaning sends one to another field for what happened: "failed, see cause_cd".
func sentOn(text string, heads map[string]bool) bool {
	words := strings.Fields(text)
	for i, w := range words {
		if i > 0 && seeField.MatchString(words[i-1]) && heads[lexicon.Fold(w)] {
			return true
		}
	}
	return false
}

// takeRanches keeps the names of ranches that are written by a code.
func (r *reader) takeRanches(list []fieldCode) {
	if r.ranchCodes == nil {
		r.ranchCodes = map[string]string{}
	}
	for _, e := range list {
		r.ranchCodes[foldCode(e.code)] = e.text
	}
}

// setApart takes the rows of a code list out of the table that they were taken for, or for notes.
func (r *reader) setApart(g *grid, list []fieldCode) {
	for _, e := range list {
		for _, c := range r.captions {
			if c.g == g && c.c.row == e.at.row && c.c.col == e.at.col {
				c.used = "key"
			}
		}
	}
	for _, b := range r.blocks {
		if b.g == g && len(b.records) <= len(list)+4 && b.holds(list) {
			b.kind = keyTable
		}
	}
}

// holds tells whether most rows of a block are entries of a code list.
func (b *block) holds(list []fieldCode) bool {
	n := 0
	for _, rec := range b.records {
		for _, e := range list {
			if e.row == rec.row {
				n++
				break
			}
		}
	}
	return n > 0 && n*2 > len(b.records)
}

// unsaid tells whether a key of codes leaves open what a cell means: a code of the key that tells no state, or a number that
// is none of its numbers.
func (k *codeGroup) unsaid(text string) bool {
	if k == nil || k.covers || k.field == "" {
		return false
	}
	if m, ok := k.codes[foldCode(text)]; ok {
		return m.sight.Mark == lexicon.Unknown
	}
	if _, number := lexicon.Atoi(text); !number {
		return false
	}
	for code := range k.codes {
		if _, number := lexicon.Atoi(code); !number {
			return false
		}
	}
	return true
}
