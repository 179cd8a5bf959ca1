package intake

import (
	"fmt"
	"strconv"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// at returns the text of one column of a row, trimmed.
func (t *table) textAt(row *sheet.Row, col int) string {
	if col < 0 || col >= len(row.Cells) {
		return ""
	}
	return tidy(row.Cells[col])
}

func (t *table) text(row *sheet.Row, ro role) string { return t.textAt(row, t.at[ro]) }

var totalWords = []string{"total", "totals", "totales", "sum", "suma", "average", "averages", "avg", "mean", "promedio", "media", "subtotal", "grand total", "percent", "porcentaje", "% intact"}

// aside recognises rows that are no data: totals, remarks, headings printed again, the example of the blank workbook,
// and hidden rows the sender wants left out.
func (r *reader) aside(t *table, row *sheet.Row) bool {
	filled, first, only := 0, "", -1
	for i, c := range row.Cells {
		if c = tidy(c); c == "" {
			continue
		}
		if filled == 0 {
			first = c
		}
		filled, only = filled+1, i
	}
	if row.Hidden && r.ask(t.cell(row.Number, -1), prompt{
		kind: "hidden-rows", place: t.place(), weight: PleaseLook, byDefault: "count",
		text: func(g *group) string {
			return g.Count("One row is hidden in your sheet (%[2]s). We counted them in. Right?", "%d rows are hidden in your sheet (%s). We counted them in. Right?", g.n, g.n, g.where())
		},
		choices: []Choice{{"count", r.Say("Count them in")}, {"leave-out", r.Say("Leave them out")}},
	}) == "leave-out" {
		return true
	}
	if mayBeTotal(first) && r.isTotal(t, row, first) {
		return true
	}
	if filled == 1 && t.kind != kindSites && r.isRemark(t, row, only) {
		return true
	}
	if filled > 2 && r.isHeadingAgain(t, row, filled) {
		return true
	}
	if name := t.text(row, roleRanch); len(name) <= 8 && oneOf(strings.ToLower(name), "example", "ejemplo") {
		return r.note(t.cell(row.Number, t.at[roleRanch]), "example", "", "", func(g *group) string {
			return r.Say("The example in %s was left out. It may stay in the sheet.", g.where())
		})
	}
	return false
}

// mayBeTotal rules out nearly every row by its first letter.
func mayBeTotal(first string) bool {
	return len(first) > 2 && len(first) <= 16 && strings.IndexByte("tTsSaAmMgGpP%", first[0]) >= 0
}

func (r *reader) isTotal(t *table, row *sheet.Row, first string) bool {
	if !oneOf(words(first), totalWords...) || t.text(row, roleSubstrate) != "" || t.text(row, roleSetOn) != "" {
		return false
	}
	if len(t.totals) < 50 {
		cells := make([]string, len(row.Cells))
		for i, c := range row.Cells {
			cells[i] = tidy(c)
		}
		t.totals = append(t.totals, totalRow{row.Number, cells})
	}
	return r.note(t.cell(row.Number, -1), "total", t.place(), first, func(g *group) string {
		return capital(g.Say("%s reads %s; we left it out and count the nests ourselves.%s", g.where(), r.quoted(g.words), t.agrees))
	})
}

func (r *reader) isRemark(t *table, row *sheet.Row, col int) bool {
	if t.at[roleNest] == col {
		return false
	}
	if v := t.textAt(row, col); t.at[roleTransect] == col && len(v) <= 20 {
		t.last[col] = v // a line's name above its nests
	}
	return r.note(t.cell(row.Number, col), "remark", t.place(), "", func(g *group) string {
		return capital(g.Say("%s holds a remark and no nest or belt; we left it out.", g.where()))
	})
}

func (r *reader) isHeadingAgain(t *table, row *sheet.Row, filled int) bool {
	for i, c := range row.Cells {
		if c = tidy(c); c != "" && (i >= len(t.cols) || c != t.cols[i].heading) {
			return false
		}
	}
	return true
}

func isDitto(s string) bool {
	switch s {
	case `"`, `""`, `''`, "”", "“", "〃", "″", "´´", "ditto", "Ditto", "do.", "same", "Same", "same as above", "idem", "ídem", "Ídem", "Idem", "igual", "Igual":
		return true
	}
	return false
}

// shared reads a cell that people write once for several rows: merged cells and ditto marks are filled from above, a
// plain blank is a question. The answer "blank" takes the blank as it stands.
func (r *reader) shared(t *table, row *sheet.Row, ro role) (value string, col int) {
	col = t.at[ro]
	if col < 0 {
		return "", col
	}
	v := t.textAt(row, col)
	if v != "" && !isDitto(v) {
		t.last[col] = v
		return v, col
	}
	above := t.last[col]
	if above == "" {
		return "", col
	}
	cell := t.cell(row.Number, col)
	if v != "" {
		if r.note(cell, "ditto", t.place(col), "", func(g *group) string {
			return r.Say("We read the ditto marks under “%s” in %s as the same as above.", cell.Column, g.where())
		}) {
			return above, col
		}
		return "", col
	}
	if m, ok := t.Merged(row.Number, col); ok && m.Top < row.Number && m.Top > t.headRow {
		if r.note(cell, "merged", t.place(col), above, func(g *group) string {
			return r.Say("%s under “%s” was written once for several rows (%s); we filled it down.", r.quoted(g.words[:min(3, len(g.words))]), cell.Column, g.where())
		}) {
			return above, col
		}
		return "", col
	}
	p := prompt{kind: "ditto", place: t.place(col), weight: MustAnswer}
	switch {
	case ro == roleSeason, ro == roleRanch && r.opt.Ranch != "":
		return "", col
	case ro == roleSite:
		p.weight, p.byDefault = PleaseLook, "blank"
		p.text = func(g *group) string {
			return r.Say("“%s” is blank under a filled cell in %s. The same as above, or the whole ranch? Until you say, we take the whole ranch.", cell.Column, g.where())
		}
		p.choices = []Choice{{"same", r.Say("Same as above")}, {"blank", r.Say("The whole ranch")}}
	default:
		p.text = func(g *group) string {
			return r.Say("“%s” is blank under a filled cell in %s. The same as above, or not written down? These rows wait for your answer.", cell.Column, g.where())
		}
		p.choices = []Choice{{"same", r.Say("Same as above")}, {"blank", r.Say("Not written down")}}
	}
	if r.ask(cell, p) == "same" {
		return above, col
	}
	return "", col
}

// ranch settles which ranch a row belongs to.
func (r *reader) ranch(t *table, row *sheet.Row) (uint32, bool) {
	name, col := r.shared(t, row, roleRanch)
	cell := t.cell(row.Number, col)
	if cell.Column == "" {
		cell.Column = "ranch"
	}
	if name == "" {
		name = tidy(r.opt.Ranch)
	}
	if name == "" {
		r.refuse(cell, "", r.Say("No ranch is named here. Please fill in the column “ranch” with the ranch's name."))
		return 0, false
	}
	if r.only != nil {
		mine, ok := r.only[strings.ToLower(name)]
		if !ok {
			r.refuse(cell, name, r.Say("This row says “%s”, which is not the ranch you are sending for. We left it out. If it is another ranch of yours, send the same file again for that one; if it is this one spelled otherwise, change the name in the sheet.", name))
			return 0, false
		}
		name = mine
	}
	return r.names[nameRanch].of(name), true
}

// season reads the season of a row; 0 where it gives none.
func (r *reader) season(t *table, row *sheet.Row) (int, bool) {
	v, col := r.shared(t, row, roleSeason)
	if v == "" {
		return 0, true
	}
	for i := 0; i+4 <= len(v); i++ {
		y, ok := atoi(v[i : i+4])
		if ok && y >= 1950 && y <= 2100 && (i == 0 || !digit(v[i-1])) && (i+4 == len(v) || !digit(v[i+4])) {
			return y, true
		}
	}
	if n, ok := atoi(strings.TrimLeft(v, "'’")); ok && len(v) <= 3 && n < 100 {
		return century(n), true
	}
	r.refuse(t.cell(row.Number, col), v, r.Say("We read no year in “%s”. Please write the season as a year, such as 2025.", short(v)))
	return 0, false
}

// date reads one date. set is the day of setting, for "week 2" and for a missing year; year is the row's season.
func (r *reader) date(t *table, row *sheet.Row, col int, raw string, year int, set survey.Date) (survey.Date, bool) {
	d, ok := t.dates[raw]
	if !ok {
		d = readDate(raw, t.Date1904)
		if len(t.dates) < 10_000 {
			t.dates[strings.Clone(raw)] = d
		}
	}
	if d.form == dateFull {
		return r.plausible(t, row, col, raw, d.day)
	}
	return r.dateFrom(t, row, col, raw, d, year, set)
}

func (r *reader) dateFrom(t *table, row *sheet.Row, col int, raw string, d dateReading, year int, set survey.Date) (survey.Date, bool) {
	cell := t.cell(row.Number, col)
	switch d.form {
	case dateBad:
		if t.Unworked(row.Number, col) {
			r.refuse(cell, raw, r.Say("This cell holds a formula that has not been worked out. Please open the file in the spreadsheet program, save it and send it again."))
		} else if n, err := strconv.ParseFloat(raw, 64); err == nil && n >= 0 && n < 15_000 {
			r.refuse(cell, raw, r.Say("“%s” is not a day we can read; spreadsheets show such a number as a day around 1900. Did a key stick? Please write the date like 2025-05-12.", short(raw)))
		} else {
			r.refuse(cell, raw, r.Say("We could not read “%s” as a date. Please write it like 2025-05-12.", short(raw)))
		}
		return 0, false
	case dateWeek:
		if set == 0 {
			r.refuse(cell, raw, r.Say("“%s” counts from the day the nest was set, and that day is missing. Please write the date like 2025-05-12.", short(raw)))
			return 0, false
		}
		if !r.note(cell, "week", t.place(), raw, func(g *group) string {
			return r.Say("You wrote %s; we counted that from the day the nest was set. The exact day helps, if you know it.", r.quoted(g.words[:min(4, len(g.words))]))
		}) {
			r.refuse(cell, raw, r.Say("Please write the date like 2025-05-12."))
			return 0, false
		}
		return set + survey.Date(d.after), true
	case dateSerial:
		if t.Delimiter != 0 && !r.note(cell, "serial", t.place(), r.Say("%s is %s", raw, d.day), func(g *group) string {
			return r.Say("Some dates stood as the numbers spreadsheets store (%s); we changed them to days.", r.list(g.words[:min(3, len(g.words))]))
		}) {
			r.refuse(cell, raw, r.Say("Please write the date like 2025-05-12."))
			return 0, false
		}
		return r.plausible(t, row, col, raw, d.day)
	}
	if d.yearless() {
		if year = r.yearFor(t, cell, raw, year, set); year == 0 {
			r.refuse(cell, raw, r.Say("“%s” has no year. Fill in the column “season”, or answer which season it is.", short(raw)))
			return 0, false
		}
	}
	if d.form == dateSlash {
		t.file.slashes.see(d, cell, raw)
	}
	on := d.on(r.dayFirst(t.file), year)
	if on == 0 {
		r.refuse(cell, raw, r.Say("There is no such day as “%s”. Please write the date like 2025-05-12.", short(raw)))
		return 0, false
	}
	if d.form == dateText && d.yearless() && !r.note(cell, "date-text", t.place(), r.Say("%s” as “%s", raw, on), func(g *group) string {
		return r.Say("We read %s, with the year from the season.", r.quoted(g.words[:min(3, len(g.words))]))
	}) {
		r.refuse(cell, raw, r.Say("Please write the date like 2025-05-12."))
		return 0, false
	}
	return r.plausible(t, row, col, raw, on)
}

// plausible refuses days on which nobody can have been out.
func (r *reader) plausible(t *table, row *sheet.Row, col int, raw string, d survey.Date) (survey.Date, bool) {
	const year1950 = 711_858 // 1 January 1950
	if d >= year1950 && (r.opt.Today == 0 || d <= r.opt.Today) {
		if t.year == 0 {
			t.year = d.Year()
		}
		return d, true
	}
	cell := t.cell(row.Number, col)
	if d < year1950 {
		r.refuse(cell, raw, r.Say("%s is before anyone set these nests. Did a key stick? Please correct the date.", d))
	} else {
		r.refuse(cell, raw, r.Say("%s has not come yet. Did a key stick? Please correct the date.", d))
	}
	return 0, false
}

// yearFor finds the year of a date that has none: the row's season, the upload's, the year of setting or of the dates
// above, else a question.
func (r *reader) yearFor(t *table, c survey.Cell, raw string, season int, set survey.Date) int {
	switch {
	case season != 0:
		return season
	case r.opt.Season != 0:
		return r.opt.Season
	case set != 0:
		return set.Year()
	case t.year != 0 && r.note(c, "year-above", t.place(), raw, func(g *group) string {
		return r.Say("Some dates have no year (%s); we took %d, as in the dates above them.", r.quoted(g.words[:min(3, len(g.words))]), t.year)
	}):
		return t.year
	}
	now := r.opt.Today.Year()
	if r.opt.Today == 0 {
		now = 0
	}
	p := prompt{kind: "no-year", weight: MustAnswer, text: func(g *group) string {
		return r.Say("The dates in %s have no year. Which season is it? These rows wait for your answer.", g.where())
	}}
	for y := now; y > now-4 && now > 0; y-- {
		p.choices = append(p.choices, Choice{fmt.Sprint(y), fmt.Sprint(y)})
	}
	y, _ := atoi(r.ask(c, p))
	return y
}

func (e *evidence) see(d dateReading, c survey.Cell, raw string) {
	switch {
	case d.a > 12 && d.b <= 12:
		if e.day++; e.day == 1 {
			e.dayAt, e.dayIs = c, strings.Clone(raw)
		}
	case d.b > 12 && d.a <= 12:
		if e.month++; e.month == 1 {
			e.monthAt, e.monthIs = c, strings.Clone(raw)
		}
	default:
		e.either++
	}
}

func (r *reader) dayFirst(f *file) bool {
	if f.order != orderOpen {
		return f.order == orderDay
	}
	return r.opt.DateOrder == "day"
}

// decideOrder settles the order of day and month of each file from all its dates, and tells whether the batch has to
// be read again.
func (r *reader) decideOrder() bool {
	if r.opt.DateOrder != "" {
		return false
	}
	day, month := false, false
	for _, f := range r.files {
		day = day || f.slashes.day > 0
		month = month || f.slashes.month > 0
	}
	if !day {
		return false
	}
	for _, f := range r.files {
		switch {
		case f.slashes.day > 0 && f.slashes.month > 0:
			f.order = orderStopped
			switch r.opt.Answers[id("date-order", f.Name)] {
			case "day":
				f.order = orderDay
			case "month":
				f.order = orderMonth
			}
		case f.slashes.day > 0, !month && f.slashes.either > 0: // its neighbours show how this sender writes
			f.order = orderDay
			if r.opt.Answers[id("date-order", f.Name)] == "month" {
				f.order = orderMonth
			}
		default:
			f.order = orderMonth
		}
	}
	return true
}

// refuseOrder stops a file in which both orders of day and month occur.
func (r *reader) refuseOrder(f *file) {
	c := survey.Cell{File: f.Name}
	r.ask(c, prompt{
		kind: "date-order", place: f.Name, weight: MustAnswer,
		text: func(g *group) string {
			return r.Say("In %s, “%s” (%s) can only be day/month and “%s” (%s) only month/day. Which is it where both are possible? The file waits for your answer.",
				f.Name, f.earlier.dayIs, r.at(f.earlier.dayAt), f.earlier.monthIs, r.at(f.earlier.monthAt))
		},
		choices: r.orderChoices(),
	})
	r.refuse(c, "", r.Say("“%s” (%s) can only be day/month and “%s” (%s) only month/day, so we stopped rather than guess. Say which it is, or write the dates like 2025-05-12.",
		f.earlier.dayIs, r.at(f.earlier.dayAt), f.earlier.monthIs, r.at(f.earlier.monthAt)))
}

// askOrder tells of a file whose dates turned out to be day first.
func (r *reader) askOrder(f *file) {
	if r.opt.DateOrder != "" || f.order != orderDay && r.opt.Answers[id("date-order", f.Name)] == "" {
		return
	}
	r.ask(survey.Cell{File: f.Name}, prompt{
		kind: "date-order", place: f.Name, weight: PleaseLook, byDefault: "day",
		text: func(g *group) string {
			example := ""
			if f.earlier.day > 0 {
				example = " " + r.Say("“%s” (%s) can be nothing else.", f.earlier.dayIs, r.at(f.earlier.dayAt))
			}
			return r.Say("We read the dates in %s day first.%s Right?", f.Name, example)
		},
		choices: r.orderChoices(),
	})
}

func (r *reader) orderChoices() []Choice {
	return []Choice{{"month", r.Say("03/04 is March 4")}, {"day", r.Say("03/04 is 3 April")}}
}

func short(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}
