package reading

import (
	"fmt"
	"regexp"
	"slices"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// The rules of this package decide one thing after the other: which rows are headings, whether a table lies on its side, what
// a column holds. Where a rule can err, it makes a choice: what it decided by itself is followed, and kept with what it could
// have decided else, so that a sheet of which little comes out can be read again with one of them the other way.

// A Choice is a point at which the reading could have gone otherwise.
type Choice struct {
	ID     string // the same at every reading of the same files with the same choices before it
	Others []int  // what else could be chosen
}

// choose returns what is tried at a point, else what the rules decided, and keeps the choice.
func (r *reader) choose(what, place string, decided int, others ...int) int {
	if !r.opt.Weigh {
		return decided
	}
	id := what + "\x00" + place
	if tried, ok := r.opt.Try[id]; ok {
		return tried
	}
	if !r.chosen[id] {
		r.chosen[id] = true
		r.choices = append(r.choices, Choice{ID: id, Others: others})
	}
	return decided
}

// firing tells whether a rule that would fire does: where that is tried, it does not.
func (r *reader) firing(what, place string) bool { return r.choose(what, place, 1, 0) == 1 }

// at names a row of a band of columns.
func (s *bandScan) at(i int) string {
	return fmt.Sprintf("%s\x00%s\x00%d\x00%d", s.g.File, s.g.Name, s.g.lines[i].number, s.left)
}

// chooseRoles lets columns whose headings leave open what they hold be taken for something else.
func (r *reader) chooseRoles(b *block) {
	if !r.opt.Weigh || b.kind == keyTable || len(b.records) < leastNests {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.n == 0 {
			continue
		}
		could := r.couldElse(b, c)
		if c.head.Sure == 1 && r.couldBe(c, c.head.Role) { // a place may be what tells lines apart
			could = slices.DeleteFunc(could, func(role int) bool {
				return role != int(lexicon.Line) || c.head.Role != lexicon.Site && c.head.Role != lexicon.Spot && c.head.Role != lexicon.RowNumber && c.head.Role != lexicon.Who
			})
		}
		could = slices.DeleteFunc(could, func(role int) bool { return oneColumn(lexicon.Role(role)) && b.headedAs(i, lexicon.Role(role)) })
		if len(could) == 0 {
			continue
		}
		if role := r.choose("role", r.rolePlace(b, c), -1, could...); role >= 0 && r.noteTaken(b, c) {
			c.head = lexicon.Heading{Text: c.head.Text, Role: lexicon.Role(role), Sure: 1}
			c.codes = nil
		}
	}
}

var ofPerson = regexp.MustCompile(`(?i)\b(?:who|whom|by|name|names|initials|observer|recorder|qui[eé]n|nombre|iniciales)\b`)

// couldElse lists what the contents of a column allow beside what its heading says.
func (r *reader) couldElse(b *block, c *column) []int {
	var out []int
	add := func(role lexicon.Role, fits bool) {
		if fits && role != c.head.Role && r.couldBe(c, role) {
			out = append(out, int(role))
		}
	}
	date := c.isDate() || c.isMonthDay()
	ofPeople := ofPerson.MatchString(c.head.Text) || c.head.Role == lexicon.Notes || c.head.Role == lexicon.Guess || c.head.Role == lexicon.Trace || c.head.Role == lexicon.LostHow
	ofLook := c.head.Date.Form != lexicon.NoDate || c.head.After > 0 || c.head.Visit != 0 // its heading names a look
	name := !date && !ofLook && !ofPeople && c.share(c.prose) < 0.1 && c.share(c.sight) < 0.5 && c.tellsCover() < 0.5 && c.num == c.whole && len([]rune(c.first)) <= 30 && c.share(c.animal) < 0.5
	numbers := c.whole > 0 && r.changes(b, c) >= 0.7 && r.countsUp(b, c) >= 0.9 // of nests along lines
	name = name && c.share(c.label) < 0.5
	nests := c.share(c.whole+c.id+c.label) >= 0.8 && len(c.distinct) >= 3 && c.maxNum < 1000
	add(lexicon.Line, name && !numbers && len(c.distinct)*2 <= c.n && c.maxNum < 1000)
	add(lexicon.Site, name && len(c.distinct)*2 <= c.n && c.share(c.textual) >= 0.9)
	add(lexicon.Nest, (name || c.share(c.label) >= 0.5) && nests)
	add(lexicon.Substrate, c.tellsCover() >= 0.4)
	add(lexicon.SetOn, date)
	add(lexicon.CheckOn, date)
	add(lexicon.Found, c.tellsState() >= 0.4 && c.share(c.num) < 0.8)
	add(lexicon.Guess, c.share(c.animal) >= 0.3)
	add(lexicon.Passed, !ofLook && !nests && !date && c.share(c.sight) < 0.5 && c.share(c.small) < 0.8 && c.tellsCover() < 0.5) // what may be news of nests is never dropped
	return out
}

// noteTaken tells the sender that a column was taken for what the whole sheet makes of it, and whether that stands.
func (r *reader) noteTaken(b *block, c *column) bool {
	heading := headingOr(c)
	return r.Note(survey.Cell{File: b.g.File, Sheet: b.g.Name, Column: c.head.Text}, "taken-for", r.rolePlace(b, c), heading, func(*group) string {
		return r.Say("The heading “%s” alone does not say what its column holds; we went by how the whole sheet fits together. Please look whether we took it right.", heading)
	})
}

// changes is how often the number in a column is another one than in the row above.
func (r *reader) changes(b *block, c *column) float64 {
	n, others, last := 0, 0, ""
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		if t := b.g.lines[rec.row].at(c.at).text; t != "" {
			if n++; t != last {
				others++
			}
			last = t
		}
	}
	return float64(others) / float64(max(n, 1))
}

// headedAs tells whether the heading of another column names a role.
func (b *block) headedAs(i int, role lexicon.Role) bool {
	for k := range b.cols {
		if o := &b.cols[k]; k != i && o.head.Role == role && o.head.Sure >= 0.5 && o.n > 0 {
			return true
		}
	}
	return false
}
