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
			k := r.kind(l.at(b.cols[i].at))
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

// withoutAges leaves out columns that only say how many days a nest was out on the day that another column names.
func (r *reader) withoutAges(b *block, days []int) []int {
	return slices.DeleteFunc(days, func(i int) bool {
		c := &b.cols[i]
		if c.role != lexicon.DaysOut && (c.head.Visit != 0 || c.share(c.days+c.small) < 0.9 || c.date > 0) {
			return false
		}
		for _, j := range days {
			if j != i && b.cols[j].isDate() && r.agesOf(b, c, &b.cols[j]) {
				c.role, c.why = lexicon.NoRole, "second-day"
				return true
			}
		}
		return false
	})
}

// agesOf tells whether the numbers of one column are the days from one day to that of another column, in nearly all rows.
func (r *reader) agesOf(b *block, ages, on *column) bool {
	for i := range b.cols {
		set := &b.cols[i]
		if set == on || !set.isDate() || set.at > on.at {
			continue
		}
		same, n := 0, 0
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			l := &b.g.lines[rec.row]
			k := r.kind(l.at(ages.at))
			from, to := r.dateOf(l.at(set.at), false), r.dateOf(l.at(on.at), false)
			if !k.whole || from.Form == lexicon.NoDate || to.Form == lexicon.NoDate {
				continue
			}
			n++
			for _, byDay := range []bool{false, true} {
				a, z := from.On(byDay, orYear(from.Year, 2023)), to.On(byDay, orYear(to.Year, 2023))
				if a != 0 && z != 0 && int(z-a) == int(k.num) {
					same++
					break
				}
			}
		}
		if n >= 3 && same*10 >= n*8 {
			return true
		}
	}
	return false
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
