package reading

import (
	"slices"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A table that looks like nests is never let go without a question: where its days and words stand in columns that nothing
// names, the sender is asked once which column it is, and the answer completes the reading.

// leastNests is how many rows a table has that is worth a question.
const leastNests = 4

// askNest asks which column names the nest, where a table has days and covers or states and nothing that could be a nest.
func (r *reader) askNest(b *block) {
	if b.kind != notOurs && b.kind != proseTable || b.tail || len(b.records) < leastNests || b.has(lexicon.Nest) || b.has(lexicon.Count) {
		return
	}
	days, tells := 0, b.has(lexicon.Substrate)
	for i := range b.cols {
		c := &b.cols[i]
		if c.isDate() {
			days++
		}
		tells = tells || c.n > 2 && c.tellsState() >= 0.6
	}
	if days == 0 || !tells {
		return
	}
	var names []int
	for i := range b.cols {
		c := &b.cols[i]
		if c.n*3 >= c.rows*2 && !c.isDate() && c.share(c.prose) < 0.2 && c.tellsState() < 0.5 && c.tellsCover() < 0.5 && len(c.distinct)*4 >= c.n {
			names = append(names, i)
		}
	}
	if len(names) == 0 {
		return
	}
	slices.SortStableFunc(names, func(x, y int) int { return len(b.cols[y].distinct) - len(b.cols[x].distinct) })
	a := r.askColumn(b, "nest", names, func(g *group) string {
		return r.Say("These rows look like nests (%s), and nothing says which column names the nest. Which one is it? They wait for your answer.", g.Where())
	})
	if i := b.columnNamed(a); i >= 0 {
		b.cols[i].role, b.cols[i].fixed = lexicon.Nest, true
		r.findNest(b)
		b.visits = nil
		r.findVisits(b)
		r.settleKind(b)
	}
}

// askFound asks which column says what was found, where nests have days of checks and no column that can be read as that.
func (r *reader) askFound(b *block) {
	if b.kind != nestTable || b.tail || len(b.records) < leastNests || r.sentenceColumn(b) != nil || slices.ContainsFunc(b.visits, func(v visit) bool { return v.found >= 0 }) {
		return
	}
	var days, words []int
	for i := range b.cols {
		c := &b.cols[i]
		switch {
		case c.n == 0 || c.fixed:
		case (c.role == lexicon.NoRole || c.role == lexicon.CheckOn) && (c.isDate() || c.why == "day-alone"):
			days = append(days, i)
		case (c.role == lexicon.NoRole || c.role == lexicon.Trace || c.role == lexicon.Found) && c.n > 2 && len(c.distinct)*2 <= max(c.n, 8) && c.share(c.prose) < 0.3:
			words = append(words, i)
		}
	}
	if len(days) == 0 || len(words) == 0 {
		return
	}
	behind := func(i int) int { // how far behind a day
		best := len(b.cols)
		for _, d := range days {
			if i > d {
				best = min(best, i-d)
			}
		}
		return best
	}
	slices.SortStableFunc(words, func(x, y int) int { return behind(x) - behind(y) })
	a := r.askColumn(b, "found", words, func(g *group) string {
		return r.Say("These nests have days of checks (%s), and nothing says which column tells what was found. Which one is it? They wait for your answer.", g.Where())
	})
	i := b.columnNamed(a)
	if i < 0 {
		return
	}
	day := -1
	for _, d := range days {
		if d < i {
			day = d
		}
	}
	b.visits = nil
	for _, d := range days { // the other checks have their columns as the one named has
		k := i - max(day, 0) + d
		if day < 0 || !slices.Contains(words, k) && k != i {
			continue
		}
		v := newVisit()
		v.on, v.found = d, k
		b.cols[d].role, b.cols[d].visit, b.cols[d].why = lexicon.CheckOn, len(b.visits), ""
		b.cols[k].role, b.cols[k].visit, b.cols[k].why = lexicon.Found, len(b.visits), ""
		b.visits = append(b.visits, v)
	}
	r.settleKind(b)
}

// askLook asks about a column of words for what was found that belongs to no look: a look left out without a word would count
// its nests up to another one.
func (r *reader) askLook(b *block) {
	if b.kind != nestTable || b.tail || len(b.records) < leastNests || len(b.visits) == 0 {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.role != lexicon.NoRole || c.why != "" && c.why != "undated" || c.fixed || c.n < 3 || c.head.Role != lexicon.NoRole && c.head.Role != lexicon.Check && c.head.Role != lexicon.Found ||
			c.share(c.sight) < 0.8 && c.share(b.foundAlike(c)) < 0.9 || c.share(c.textual) < 0.8 || c.share(c.animal) > 0.3 || c.tellsCover() > 0.3 || c.n*2 < b.foundMost() {
			continue
		}
		if slices.ContainsFunc(b.rivals, func(v rival) bool { return v.first == i || v.second == i }) {
			continue
		}
		heading := headingOr(c)
		p := inquiry.Prompt{
			Kind: "role", Place: "look\x00" + r.rolePlace(b, c), Weight: inquiry.MustAnswer, Rank: 1,
			Text: func(g *group) string {
				return r.Say("“%s” reads like what a look found (%s), and no day of that look is written. Is it a look? These nests wait for your answer.", heading, g.Where())
			},
			Choices: []inquiry.Choice{{ID: "look", Label: r.Say("Yes; I will write its day")}, {ID: "not-used", Label: r.Say("No, leave it out")}},
		}
		a := ""
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			if l.at(c.at).text != "" {
				a = r.Ask(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: l.number, Column: c.head.Text}, p)
			}
		}
		b.waits = b.waits || a != "not-used"
	}
}

// foundAlike is how many cells of a column say what cells of looks say.
func (b *block) foundAlike(c *column) int {
	n := 0
	for t, k := range c.distinct {
		for _, v := range b.visits {
			if v.found >= 0 && b.cols[v.found].distinct[t] > 0 {
				n += k
				break
			}
		}
	}
	return n
}

// foundMost is how many cells the fullest column of what looks found has.
func (b *block) foundMost() int {
	n := 0
	for _, v := range b.visits {
		if v.found >= 0 {
			n = max(n, b.cols[v.found].n)
		}
	}
	return n
}

// askColumn asks for one of some columns of a table; the rows wait until it is answered.
func (r *reader) askColumn(b *block, what string, columns []int, text func(*group) string) string {
	p := inquiry.Prompt{
		Kind: "role", Place: what + "\x00" + r.rolePlace(b, &b.cols[0]), Weight: inquiry.MustAnswer, Rank: 0,
		Text: text,
	}
	for _, i := range columns[:min(len(columns), 6)] {
		c := &b.cols[i]
		label := letter(b.g.column(c.at))
		if c.head.Text != "" {
			label += " “" + inquiry.Short(c.head.Text) + "”"
		}
		p.Choices = append(p.Choices, inquiry.Choice{ID: letter(c.at), Label: r.Say("%s, such as “%s”", label, inquiry.Short(c.first))})
	}
	p.Choices = append(p.Choices, inquiry.Choice{ID: "none", Label: r.Say("None of them")})
	a := ""
	for _, rec := range b.records {
		a = r.Ask(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: b.g.lines[rec.row].number}, p)
	}
	b.waits = b.waits || a == ""
	return a
}

// columnNamed is the place of a column among those of a block by its letter, -1 for none.
func (b *block) columnNamed(name string) int {
	return slices.IndexFunc(b.cols, func(c column) bool { return name != "" && letter(c.at) == name })
}
