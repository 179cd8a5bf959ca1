package reading

import (
	"slices"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// dayNumbers finds columns of small numbers that count no days from setting but name the day of the month: a later check has
// a smaller number than the one before, or the days so counted lie far off the plan of 14 and 28 and those of the month do
// not.
func (r *reader) dayNumbers(b *block) {
	var cols []int
	for k := range b.visits {
		if v := &b.visits[k]; v.on >= 0 && v.days && b.cols[v.on].head.Role != lexicon.DaysOut {
			cols = append(cols, v.on)
		}
	}
	if len(cols) < 2 || b.tail {
		return
	}
	before, rows := 0, 0
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		last, n := 0, 0
		for _, i := range cols {
			k := r.kindOf(l.at(b.cols[i].at).text)
			if !k.whole {
				continue
			}
			if k.num < 1 || k.num > 31 {
				return
			}
			if n++; n > 1 && int(k.num) < last {
				before++
			}
			last = int(k.num)
		}
		if n > 1 {
			rows++
		}
	}
	if rows == 0 || before*2 < rows {
		return
	}
	for _, i := range cols {
		b.cols[i].ofMonth = true
	}
}

// dayOfMonth is the next day with a number in its month after the day of setting and the looks before.
func (e *emitter) dayOfMonth(n int) survey.Date {
	from := e.row.SetOn
	for _, l := range e.row.Looks {
		from = max(from, l.On)
	}
	if from == 0 {
		return 0
	}
	for on := from + 1; on <= from+62; on++ {
		if on.Time().Day() == n {
			return on
		}
	}
	return 0
}

// headTells gives a look whose day stands below what was found: "Last seen intact" above a day. The day of setting, and one of
// which a column tells, are left out.
func (e *emitter) headTells(on survey.Date, c *cell, col *column) bool {
	s := e.lex.Sight(col.head.Text)
	if s.Mark.State() == "" || s.Weak || s.Faint {
		return false
	}
	if on > e.row.SetOn && !slices.ContainsFunc(e.row.Looks, func(l Look) bool { return l.On == on }) {
		e.row.Looks = append(e.row.Looks, Look{Mark: s.Mark, Eggs: -1, On: on, At: e.place(c, col), Used: true, Worded: true})
	}
	return true
}

// sortLooks brings looks of which some were told by headings into the order of their days, and leaves out one that a column
// tells of the same day.
func (e *emitter) sortLooks(byHead bool) {
	if !byHead {
		return
	}
	looks := e.row.Looks
	slices.SortStableFunc(looks, func(a, b Look) int { return int(a.On - b.On) })
	for i := len(looks) - 1; i > 0; i-- {
		if looks[i].On == looks[i-1].On && looks[i].Mark == looks[i-1].Mark {
			looks = slices.Delete(looks, i-1, i)
		}
	}
	e.row.Looks = looks
}
