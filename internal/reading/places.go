package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// placesByRows gives a column of a few words, under a heading that says no more than where, the role of pastures where the rows
// show it: the same line and nest would be set twice, on other days or in other covers, and the word keeps them apart.
func (r *reader) placesByRows(b *block) {
	nest, line := b.column(lexicon.Nest), b.column(lexicon.Line)
	if nest == nil || b.has(lexicon.Site) || b.tail || len(b.heads) == 0 {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.role != lexicon.NoRole || c.head.Text == "" || c.isDate() || c.n*10 < c.rows*9 || c.share(c.textual) < 0.95 || c.share(c.prose) > 0.1 ||
			len(c.distinct) > max(2, c.rows/4) || c.tellsCover() > 0.3 || c.tellsState() > 0.3 || c.animal > 0 {
			continue
		}
		switch lexicon.Fold(c.head.Text) {
		case "where", "donde", "whereat", "wherewasit", "whichplace":
			c.role = lexicon.Site
			return
		}
		if len(c.distinct) >= 2 && r.keepsApart(b, c, line, nest) {
			c.role = lexicon.Site
			return
		}
	}
}

// keepsApart tells whether a column parts nests that would else stand twice and differ in their day of setting or their cover, all
// of them.
func (r *reader) keepsApart(b *block, place, line, nest *column) bool {
	var facts []*column
	for _, role := range []lexicon.Role{lexicon.SetOn, lexicon.Substrate} {
		if c := b.column(role); c != nil {
			facts = append(facts, c)
		}
	}
	if len(facts) == 0 {
		return false
	}
	alone, apart := map[string]string{}, map[string]string{}
	mixed, still := map[string]bool{}, 0
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		key := strings.ToLower(l.at(nest.at).text)
		if key == "" {
			continue
		}
		if line != nil {
			key = l.at(line.at).text + "\x00" + key
		}
		said := ""
		for _, f := range facts {
			said += l.at(f.at).text + "\x00"
		}
		if strings.Trim(said, "\x00") == "" {
			continue
		}
		if was, ok := alone[key]; ok && was != said {
			mixed[key] = true
		} else {
			alone[key] = said
		}
		parted := l.at(place.at).text + "\x00" + key
		if was, ok := apart[parted]; ok && was != said {
			still++
		} else {
			apart[parted] = said
		}
	}
	return len(mixed) >= 3 && still*10 <= len(mixed)
}
