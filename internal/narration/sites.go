package narration

import (
	"strings"
	"unicode"
)

var (
	siteWords = wordSet(`pasture potrero paddock allotment`)
	siteLeads = wordSet(`in en on at`)
	noSite    = wordSet(`the el la los las a an this that nest nests line lines potrero pasture all`)
)

// siteIn returns the pasture that a piece names for its line: "in the Teepee pasture", "(Creek Pasture)", "Line 1 West
// Meadow", "en La Noria"; "" for none.
func (r *teller) siteIn(x *say, p *linePart) string {
	if s := r.pastureIn(x); s != "" {
		return s
	}
	t := r.tokens[r.tokenAt(x.from):r.tokenAt(x.to)]
	for i := range t { // "in East Mill", "en La Noria"
		if siteLeads[t[i].word] && i+1 < len(t) {
			k := i + 1
			if t[k].word == "the" {
				k++
			}
			if s := r.name(t, k, x); s != "" && unicode.IsUpper([]rune(s)[0]) {
				return s
			}
		}
	}
	for _, it := range x.items { // directly behind the line
		if it.is != aLine || it.from < p.from || it.to > p.to || it.from != x.from {
			continue
		}
		k := 0
		for k < len(t) && t[k].from < it.to {
			k++
		}
		for k < len(t) && (t[k].word == "(" || t[k].word == "," || t[k].word == ":" || t[k].word == "-" || t[k].word == "." || t[k].word == "is") {
			k++
		}
		return r.name(t, k, x)
	}
	return ""
}

// name reads up to three words that are no items, beginning at token k.
func (r *teller) name(t []token, k int, x *say) string {
	from := k
	for k < len(t) && k-from < 3 && (t[k].kind == letters || t[k].kind == digits && k > from && unicode.IsUpper([]rune(r.text[t[from].from:])[0])) && !r.isItem(x, t[k].from) && !siteLeads[t[k].word] && !siteWords[t[k].word] && (t[k].kind == digits || !numbersLine(t, k)) {
		k++
	}
	if k == from || setVerbs[t[from].word] || k-from == 1 && (noSite[t[from].word] || len(t[from].word) < 3) {
		return ""
	}
	return strings.TrimSpace(r.text[t[from].from:t[k-1].to])
}

func (r *teller) isItem(x *say, at int) bool {
	for _, it := range x.items {
		if at >= it.from && at < it.to && it.is != anAnd {
			return true
		}
	}
	return isVerb[r.tokens[r.tokenAt(at)].word]
}

// pastureIn returns the pasture that a sentence calls one.
func (r *teller) pastureIn(x *say) string {
	t := r.tokens[r.tokenAt(x.from):r.tokenAt(x.to)]
	for i := range t {
		switch {
		case t[i].word == "potrero":
			if s := r.name(t, i+1, x); s != "" {
				return s
			}
		case siteWords[t[i].word]:
			k := i
			for k > 0 && t[k-1].kind == letters && i-k < 3 && !siteLeads[t[k-1].word] && !lineWords[t[k-1].word] && !noSite[t[k-1].word] && !r.isItem(x, t[k-1].from) {
				k--
			}
			if k < i {
				return r.text[t[k].from:t[i-1].to]
			}
			if i+1 < len(t) && i > 0 && siteLeads[t[i-1].word] {
				return r.name(t, i+1, x)
			}
		}
	}
	return ""
}
