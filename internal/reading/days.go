package reading

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/survey"
)

type group = inquiry.Group

// An order is how a file writes day and month.
type order uint8

const (
	orderOpen  order = iota
	monthFirst       // 05/12 is May 12
	dayFirst         // 05/12 is 5 December
	orderWaits       // both occur, or nothing tells: the sender is asked
)

// A fileDays is what the days of one file show, or those of one ranch in it.
type fileDays struct {
	who                string
	order              order
	day, month, either int
	dotted             int // of those that could be either
	dayAt, monthAt     survey.Cell
	dayIs, monthIs     string
	sure               []sureDay
	byMonth, byDay     int // plausible nests in either order
	nearMonth, nearDay int // tables whose days of setting lie close together in one order alone
	weekMonth, weekDay int // days whose weekday fits one order alone
	years              map[int]int
	hidden             map[int]int // years of date cells whose format hides them
	doy                bool
	said               order               // by a heading or a note: day/month
	plain              byText[survey.Date] // once the order is settled: days that need nothing else
}

// days returns what the days of a file show; where its rows are of several ranches, those of the ranch being read.
func (r *reader) days(g *grid) *fileDays {
	if of := &r.daysOf; of.days != nil && of.g == g.Table && of.who == r.who {
		return of.days
	}
	key := [2]string{r.dayPlace(g), r.who}
	d := r.fileDays[key]
	if d == nil {
		d = &fileDays{who: strings.Clone(r.who), years: map[int]int{}, hidden: map[int]int{}}
		r.fileDays[key] = d
		if r.ordered { // a ranch met only far down a long table
			r.settleDays(g, d)
		}
	}
	r.daysOf.g, r.daysOf.who, r.daysOf.days = g.Table, r.who, d
	return d
}

// dayPlace is where days are written in one way: a file, or each tab of a file whose tabs contradict one another.
func (r *reader) dayPlace(g *grid) string {
	if r.byTab[g.File] {
		return g.File + "\x00" + g.Name
	}
	return g.File
}

// splitByTab tells whether some file holds tabs that each write days in one way only, and not in the same.
func (r *reader) splitByTab() bool {
	type tab struct{ file, name string }
	split := false
	for key, d := range r.fileDays {
		if d.day == 0 || d.month == 0 || r.byTab[key[0]] {
			continue
		}
		in, mixed := map[tab]order{}, false
		for _, s := range d.sure {
			t := tab{s.at.File, s.at.Sheet}
			mixed = mixed || in[t] != orderOpen && in[t] != s.order
			in[t] = s.order
		}
		if !mixed && len(in) > 1 {
			r.byTab[key[0]] = true
			split = true
		}
	}
	return split
}

// splitByRanch tells whether the rows of a table are of several ranches, each with its own way of writing days.
func (r *reader) splitByRanch(b *block) bool {
	c := b.column(lexicon.Ranch)
	if c == nil {
		return false
	}
	first := ""
	for _, rec := range b.records {
		switch t := b.g.lines[rec.row].at(c.at).text; {
		case t == "" || r.kindOf(t).ditto:
		case first == "":
			first = t
		case t != first:
			return true
		}
	}
	return b.tail
}

// whose notes whose row is being read, where the table is of several ranches.
func (r *reader) whose(b *block, l *line) {
	if !b.mixed {
		return
	}
	if c := l.at(b.column(lexicon.Ranch).at); c.text != "" && !r.kind(c).ditto {
		r.who = c.text
	}
}

// dateOf returns what a cell says of a day. The year of a date cell that hides it counts only where nothing else tells.
func (r *reader) dateOf(c *cell, doy bool) lexicon.Date {
	k := r.kind(c)
	d := k.date
	if c.since1904 && d.Form == lexicon.SerialDate {
		return lexicon.ReadDate(c.text, true)
	}
	if c.look().Date == sheet.DateNoYear && d.Form == lexicon.FullDate {
		t := d.Day.Time()
		return lexicon.Date{Form: lexicon.TextDate, A: int(t.Month()), B: t.Day()}
	}
	if doy && k.whole && k.num >= 1 && k.num <= 366 {
		return lexicon.Date{Form: lexicon.AfterDate, After: -int(k.num)} // a day of the year
	}
	return d
}

var (
	saysDayFirst   = regexp.MustCompile(`(?i)\b(?:dd?\s*[/.-]\s*mm?|d[ií]a\s*[/.-]\s*mes|days?\s*[/.-]\s*months?|day first|d[ií]a primero|ddmm)\b`)
	saysMonthFirst = regexp.MustCompile(`(?i)\b(?:mm?\s*[/.-]\s*dd?|mes\s*[/.-]\s*d[ií]a|months?\s*[/.-]\s*days?|month first|mes primero|mmdd)\b`)
)

// orderSaid takes a word of headings and notes on how days are written.
func (d *fileDays) orderSaid(text string) {
	if len(text) > 200 {
		return
	}
	day, month := saysDayFirst.MatchString(text), saysMonthFirst.MatchString(text)
	switch {
	case day && !month:
		d.said = dayFirst
	case month && !day:
		d.said = monthFirst
	}
}

// studyDays looks at all days of the batch: their order, and which years they name. Where the tabs of a file contradict one
// another on the order, each is looked at for itself.
func (r *reader) studyDays() {
	if r.gatherDays(); r.splitByTab() {
		clear(r.fileDays)
		r.daysOf.days = nil
		r.gatherDays()
	}
	r.settleOrder()
}

func (r *reader) gatherDays() {
	for _, b := range r.blocks {
		b.mixed = r.splitByRanch(b)
		d := r.days(b.g)
		for i := range b.cols {
			c := &b.cols[i]
			d.orderSaid(c.head.Text)
			if c.sentence {
				r.studySentences(b, c)
			}
			if !(c.role == lexicon.SetOn || c.role == lexicon.CheckOn || c.role == lexicon.CameraOn) {
				if c.role == lexicon.Passed || c.role == lexicon.NoRole || c.role == lexicon.RowNumber { // time stamps name the year
					r.countYears(b, c, d)
				}
				continue
			}
			c.doyColumn(r, d)
			r.studyColumn(b, c)
		}
		for _, v := range b.visits {
			if v.date.date.Form != lexicon.NoDate {
				r.studyDay(d, &cell{text: b.cols[max(v.found, 0)].head.Text}, v.date.date, survey.Cell{File: b.g.File, Sheet: b.g.Name}, 1)
			}
		}
		for s := b.top; s != nil; s = s.up {
			r.studyFacts(d, b.g, &s.facts)
		}
	}
	for _, c := range r.captions {
		r.days(c.g).orderSaid(c.c.text)
		for _, f := range lexicon.FindDates(c.c.text) {
			r.studyDay(r.days(c.g), c.c, f.Date, at(c.g, c.c), 1)
		}
	}
}

// studyColumn looks at the days of a column: the same day in rows that follow one another is looked at once.
func (r *reader) studyColumn(b *block, c *column) {
	defer func() { r.who = "" }()
	var of *fileDays
	var first *cell // of the rows that say the same
	n := 0
	study := func() {
		if n > 0 {
			r.studyDay(of, first, r.dateOf(first, false), at(b.g, first), n)
		}
	}
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		cl := l.at(c.at)
		r.whose(b, l)
		if cl.text == "" {
			continue
		}
		if n > 0 && cl.text == first.text && cl.shown == nil && first.shown == nil && r.days(b.g) == of {
			n++
			continue
		}
		study()
		of, first, n = r.days(b.g), cl, 1
	}
	study()
}

// studySentences looks at the days within the sentences of a column.
func (r *reader) studySentences(b *block, c *column) {
	defer func() { r.who = "" }()
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		cl := l.at(c.at)
		r.whose(b, l)
		for _, f := range lexicon.FindDates(cl.text) {
			r.studyDay(r.days(b.g), cl, f.Date, at(b.g, cl), 1)
		}
	}
}

func (r *reader) studyFacts(d *fileDays, g *grid, f *facts) {
	if f.set.at != nil {
		r.studyDay(d, f.set.at, f.set.date, at(g, f.set.at), 1)
	}
	for _, c := range f.checks {
		r.studyDay(d, c.at, c.date, at(g, c.at), 1)
	}
}

// doyColumn tells whether a column of whole numbers holds days of the year.
func (c *column) doyColumn(r *reader, d *fileDays) {
	if c.toldShare(c.doy) >= 0.9 && c.share(c.date) < 0.1 && c.n > 0 && c.role != lexicon.DaysOut {
		d.doy = true
		c.pair = noPair
		c.style = "doy"
	}
}

func (r *reader) countYears(b *block, c *column, d *fileDays) {
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		if k := r.kind(b.g.lines[rec.row].at(c.at)); k.date.Form == lexicon.FullDate || k.date.Form == lexicon.SlashDate && k.date.Year != 0 {
			d.years[k.date.Year]++
		}
	}
}

// studyDay takes up a day that n cells tell, the first of them at a place.
func (r *reader) studyDay(d *fileDays, cl *cell, date lexicon.Date, where survey.Cell, n int) {
	switch {
	case date.Form == lexicon.FullDate, date.Form == lexicon.SerialDate:
		d.years[date.Day.Year()] += n
	case date.Year != 0:
		d.years[date.Year] += n
	}
	if cl.look().Date == sheet.DateNoYear {
		if k := r.kind(cl); k.date.Form == lexicon.FullDate {
			d.hidden[k.date.Year] += n
		}
	}
	if date.Form != lexicon.SlashDate && date.Form != lexicon.MonthDay {
		return
	}
	switch date.Ordered() {
	case -1:
		d.sureOf(dayFirst, where)
		if d.day += n; d.day == n {
			d.dayAt, d.dayIs = where, strings.Clone(cl.text)
		}
	case 1:
		d.sureOf(monthFirst, where)
		if d.month += n; d.month == n {
			d.monthAt, d.monthIs = where, strings.Clone(cl.text)
		}
	default:
		if date.A != date.B {
			if d.either += n; date.Dotted {
				d.dotted += n
			}
			d.weekday(cl.text, date, n)
		}
	}
}

// A sureDay is a day that can be read in one order alone.
type sureDay struct {
	order order
	at    survey.Cell
}

// sureOf keeps where a day stands that can be read in one order alone; once for each tab and order.
func (d *fileDays) sureOf(o order, where survey.Cell) {
	if !slices.ContainsFunc(d.sure, func(s sureDay) bool { return s.order == o && s.at.Sheet == where.Sheet && s.at.File == where.File }) {
		d.sure = append(d.sure, sureDay{o, where})
	}
}

// settleOrder decides for each file which of day and month stands first.
func (r *reader) settleOrder() {
	for _, b := range r.blocks {
		r.weighOrders(b)
		r.weighSpread(b)
	}
	for _, g := range r.grids {
		r.days(g)
		var of []*fileDays
		for key, d := range r.fileDays {
			if key[0] == r.dayPlace(g) && d.order == orderOpen {
				of = append(of, d)
			}
		}
		slices.SortFunc(of, func(a, b *fileDays) int { return strings.Compare(a.who, b.who) })
		for _, d := range of {
			r.settleDays(g, d)
		}
	}
	r.ordered = true
}

func (r *reader) settleDays(g *grid, d *fileDays) {
	switch r.opt.DateOrder {
	case "day":
		d.order = dayFirst
	case "month":
		d.order = monthFirst
	default:
		d.order = r.orderOf(g, d)
	}
}

// others tells whether days that can be read in one way only, elsewhere in the batch, are day first or month first.
func (r *reader) others() (day, month bool) {
	for _, d := range r.fileDays {
		day = day || d.day > 0
		month = month || d.month > 0
	}
	return day, month
}

func (r *reader) orderOf(g *grid, d *fileDays) order {
	remembered := r.opt.Words["order"]
	anyDay, anyMonth := r.others()
	said := d.said
	if base := r.fileDays[[2]string{r.dayPlace(g), ""}]; said == orderOpen && base != nil {
		said = base.said
	}
	switch {
	case d.day > 0 && d.month > 0:
		return r.askBothOrders(g, d)
	case d.day > 0 || said == dayFirst && d.month == 0:
		return r.noteDayFirst(g, d)
	case said == monthFirst:
		return monthFirst
	case d.month > 0, d.either == 0 && !r.ordered:
		return monthFirst
	case d.weekMonth > 0 && d.weekDay*4 < d.weekMonth:
		return monthFirst
	case d.weekDay > 0 && d.weekMonth*4 < d.weekDay:
		return r.noteDayFirst(g, d)
	case d.byMonth > 0 && d.byDay*4 < d.byMonth:
		return monthFirst
	case d.byDay > 0 && d.byMonth*4 < d.byDay:
		return r.noteDayFirst(g, d)
	case d.nearMonth > 0 && d.nearDay == 0:
		return monthFirst
	case d.nearDay > 0 && d.nearMonth == 0:
		return r.noteDayFirst(g, d)
	case d.dotted > 0 && d.dotted*10 >= d.either*9:
		return r.noteDayFirst(g, d)
	case anyDay && !anyMonth:
		return r.noteDayFirst(g, d)
	case anyMonth && !anyDay:
		return monthFirst
	case remembered == "day":
		return dayFirst
	case remembered == "month":
		return monthFirst
	}
	a := r.Ask(survey.Cell{File: g.File}, inquiry.Prompt{
		Kind: "date-order", Place: strings.TrimSuffix(g.File+"\x00"+d.who, "\x00"), Weight: inquiry.MustAnswer, Word: "order",
		Text: func(*group) string {
			if d.who != "" {
				return r.Say("The dates of %s could be month/day or day/month, and nothing shows which. Which is it? The nests wait for your answer.", d.who)
			}
			return r.Say("The dates in %s could be month/day or day/month, and nothing in it shows which. Which is it? The nests wait for your answer.", g.File)
		},
		Choices: r.orderChoices(),
	})
	return orderNamed(a)
}

func orderNamed(a string) order {
	switch a {
	case "day":
		return dayFirst
	case "month":
		return monthFirst
	}
	return orderWaits
}

func (r *reader) orderChoices() []inquiry.Choice {
	return []inquiry.Choice{{ID: "month", Label: r.Say("03/04 is March 4")}, {ID: "day", Label: r.Say("03/04 is April 3")}}
}

// askBothOrders stops a file in which both orders of day and month occur.
func (r *reader) askBothOrders(g *grid, d *fileDays) order {
	c := survey.Cell{File: g.File}
	a := r.Ask(c, inquiry.Prompt{
		Kind: "date-order", Place: strings.TrimSuffix(g.File+"\x00"+d.who, "\x00"), Weight: inquiry.MustAnswer,
		Text: func(*group) string {
			return r.Say("In %s, “%s” (%s) can only be day/month and “%s” (%s) only month/day. Which is it where both are possible? The file waits for your answer.",
				g.File, d.dayIs, r.At(d.dayAt), d.monthIs, r.At(d.monthAt))
		},
		Choices: r.orderChoices(),
	})
	o := orderNamed(a)
	if o == orderWaits {
		r.Refuse(c, "", r.Say("“%s” (%s) can only be day/month and “%s” (%s) only month/day, so we stopped rather than guess. Say which it is, or write the dates like 2025-05-12.",
			d.dayIs, r.At(d.dayAt), d.monthIs, r.At(d.monthAt)))
	}
	return o
}

// noteDayFirst tells of a file whose dates turned out to be day first.
func (r *reader) noteDayFirst(g *grid, d *fileDays) order {
	if r.Note(survey.Cell{File: g.File}, "day-first", strings.TrimSuffix(g.File+"\x00"+d.who, "\x00"), "", func(*group) string {
		example := ""
		if d.day > 0 {
			example = " " + r.Say("“%s” (%s) can be nothing else.", d.dayIs, r.At(d.dayAt))
		}
		if d.who != "" {
			return r.Say("We read the dates of %s day first.%s", d.who, example)
		}
		return r.Say("We read the dates in %s day first.%s", g.File, example)
	}) {
		return dayFirst
	}
	return monthFirst
}

// weighOrders counts the nests of a block that make sense with the month first, and with the day first: set in spring or
// summer, looked at within weeks.
func (r *reader) weighOrders(b *block) {
	if b.kind != nestTable && b.kind != visitTable {
		return
	}
	set := b.column(lexicon.SetOn)
	defer func() { r.who = "" }()
	var told []lexicon.Date
	var days []survey.Date
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		r.whose(b, l)
		d := r.days(b.g)
		if d.either == 0 {
			continue
		}
		told = told[:0]
		if set != nil {
			told = append(told, r.dateOf(l.at(set.at), false))
		} else if f := rec.scope.find(func(f *facts) bool { return f.set.at != nil }); f != nil {
			told = append(told, f.set.date)
		}
		for _, v := range b.visits {
			if v.on >= 0 && !v.days {
				if c := l.at(b.cols[v.on].at); c.text != "" {
					told = append(told, r.dateOf(c, false))
				}
			} else if v.date.date.Form != lexicon.NoDate {
				told = append(told, v.date.date)
			}
		}
		if !slices.ContainsFunc(told, func(d lexicon.Date) bool { return d.Form == lexicon.SlashDate || d.Form == lexicon.MonthDay }) {
			continue
		}
		for _, o := range [2]order{monthFirst, dayFirst} {
			days = days[:0]
			for _, date := range told {
				if on := date.On(o == dayFirst, orYear(date.Year, 2024)); on != 0 {
					days = append(days, on)
				}
			}
			if len(days) < 2 {
				continue
			}
			good := true
			for i := 1; i < len(days); i++ {
				gap := int(days[i] - days[i-1])
				good = good && gap >= 4 && gap <= longestGap
			}
			if m := days[0].Time().Month(); m < 3 || m > 8 {
				good = false
			}
			if good && o == monthFirst {
				d.byMonth++
			} else if good {
				d.byDay++
			}
		}
	}
}

// longestGap is how many days may lie between two looks at nests that are planned for every fourteen; common practice, no source.
const longestGap = 38

// weighSpread tells in which order the days of setting of a table lie close together, as lines are set out within some days.
func (r *reader) weighSpread(b *block) {
	set := b.column(lexicon.SetOn)
	if b.kind != nestTable || b.mixed || b.has(lexicon.Season) || b.has(lexicon.Ranch) {
		return
	}
	spread := func(day bool) int {
		var first, last survey.Date
		for _, rec := range b.records {
			var d lexicon.Date
			if set != nil {
				c := b.g.lines[rec.row].at(set.at)
				if c.text == "" {
					continue
				}
				d = r.dateOf(c, false)
			} else if f := rec.scope.find(func(f *facts) bool { return f.set.at != nil }); f != nil {
				d = f.set.date
			} else {
				return 0
			}
			on := d.On(day, orYear(d.Year, 2024))
			if on == 0 {
				return 0
			}
			if first == 0 || on < first {
				first = on
			}
			last = max(last, on)
		}
		return int(last - first)
	}
	switch month, day := spread(false), spread(true); {
	case month == 0 || day == 0:
	case month <= 12 && day >= 25:
		r.days(b.g).nearMonth++
	case day <= 12 && month >= 25:
		r.days(b.g).nearDay++
	}
}

func orYear(y, or int) int {
	if y != 0 {
		return y
	}
	return or
}

// at names the place of a cell for the sender.
func at(g *grid, c *cell) survey.Cell {
	return survey.Cell{File: g.File, Sheet: g.Name, Row: c.row, Column: letter(c.col)}
}

// A dayRead is what became of a day.
type dayRead struct {
	on   survey.Date
	note string // why there is none, as a kind: "order", "year", "bad", "set", "late", "early"
}

// resolve turns what a cell says into a day. season is the row's own; set the day of setting, for days counted from it.
func (r *reader) resolve(date lexicon.Date, b *block, sc *scope, season int, set survey.Date, where survey.Cell, raw string) dayRead {
	d := r.days(b.g)
	switch date.Form {
	case lexicon.NoDate:
		return dayRead{note: "bad"}
	case lexicon.AfterDate:
		if date.After < 0 { // a day of the year
			year := r.yearFor(b, sc, season, set, where)
			if year == 0 {
				return dayRead{note: "year"}
			}
			return r.plausible(survey.DateOf(year, 1, 1) + survey.Date(-date.After-1))
		}
		if set == 0 {
			return dayRead{note: "set"}
		}
		return dayRead{on: set + survey.Date(date.After)}
	case lexicon.SlashDate, lexicon.MonthDay:
		if d.order == orderWaits && date.Ordered() == 0 && date.A != date.B {
			return dayRead{note: "order"}
		}
	}
	year := 0
	if date.Yearless() {
		if year = r.yearFor(b, sc, season, set, where); year == 0 {
			return dayRead{note: "year"}
		}
	}
	on := date.On(d.order == dayFirst, year)
	if on == 0 {
		return dayRead{note: "none"}
	}
	return r.plausible(on)
}

const year1950 = 711_858 // 1 January 1950

// plausible refuses days on which nobody can have been out.
func (r *reader) plausible(on survey.Date) dayRead {
	switch {
	case on < year1950:
		return dayRead{on: on, note: "early"}
	case r.opt.Today != 0 && on > r.opt.Today:
		return dayRead{on: on, note: "late"}
	}
	return dayRead{on: on}
}

// yearFor finds the year of a day that has none: the row's season, the title, tab or file, the upload, the day of setting,
// other days of the file, else a question.
func (r *reader) yearFor(b *block, sc *scope, season int, set survey.Date, where survey.Cell) int {
	if season != 0 {
		return season
	}
	if f := sc.find(func(f *facts) bool { return f.season != 0 }); f != nil {
		return f.season
	}
	if y := b.headYear(); y != 0 {
		return y
	}
	if r.opt.Season != 0 {
		return r.opt.Season
	}
	if set != 0 {
		return set.Year()
	}
	d := r.days(b.g)
	if y := only(d.years); y != 0 {
		if r.Note(where, "year-above", b.g.File, "", func(g *group) string {
			return r.Say("Some dates have no year; we took %d, as in the other dates of the file.", y)
		}) {
			return y
		}
	}
	if y := only(r.batchYears); y != 0 {
		return y
	}
	if y := only(d.hidden); y != 0 {
		return y
	}
	p := inquiry.Prompt{Kind: "year", Place: "", Weight: inquiry.MustAnswer, Text: func(g *group) string {
		return r.Say("The dates in %s have no year. Which season is it? These rows wait for your answer.", g.Where())
	}}
	now := r.opt.Today.Year()
	if r.opt.Today == 0 {
		now = 2026
	}
	for y := now; y > now-15; y-- {
		p.Choices = append(p.Choices, inquiry.Choice{ID: fmt.Sprint(y), Label: fmt.Sprint(y)})
	}
	y, _ := lexicon.Atoi(r.Ask(where, p))
	return y
}

// headYear is the one year that headings of a block name: "Set (2024)"; 0 where they name none, or several.
func (b *block) headYear() int {
	year := 0
	for i := range b.cols {
		y := lexicon.FindYear(b.cols[i].head.Text)
		if y == 0 || y == year {
			continue
		}
		if year != 0 {
			return 0
		}
		year = y
	}
	return year
}

// only returns the one year that nearly all days are of; 0 where there are several.
func only(years map[int]int) int {
	best, n, all := 0, 0, 0
	for y, k := range years {
		all += k
		if k > n || k == n && y < best {
			best, n = y, k
		}
	}
	if n*10 < all*9 {
		return 0
	}
	return best
}
