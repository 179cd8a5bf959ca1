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
