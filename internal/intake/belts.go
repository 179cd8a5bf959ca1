package intake

import (
	"fmt"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// feetPer turns a unit into feet. Foot, yard and metre are exact by the international foot of 0.3048 m
// (NIST Handbook 44, Appendix C).
var feetPer = map[string]float64{
	"ft": 1, "foot": 1, "feet": 1, "'": 1, "pie": 1, "pies": 1,
	"yd": 3, "yds": 3, "yard": 3, "yards": 3, "yarda": 3, "yardas": 3,
	"m": 1 / 0.3048, "meter": 1 / 0.3048, "meters": 1 / 0.3048, "metre": 1 / 0.3048, "metres": 1 / 0.3048, "metro": 1 / 0.3048, "metros": 1 / 0.3048,
	"in": 1. / 12, "inch": 1. / 12, "inches": 1. / 12, `"`: 1. / 12, "pulgada": 1. / 12, "pulgadas": 1. / 12,
	"cm": 0.01 / 0.3048,
}

func isStep(unit string) bool {
	return oneOf(unit, "step", "steps", "pace", "paces", "paso", "pasos")
}

// crowded is the number of clumps an acre above which we ask back: one every 3 ft or so.
const crowded = 3000

// beltRow reads one row of a table of belts.
func (r *reader) beltRow(t *table, row *sheet.Row) {
	key, ok := r.identity(t, row)
	season, seasonOK := r.season(t, row)
	if season == 0 {
		season = r.opt.Season
	}
	if !ok || !seasonOK {
		return
	}
	b := survey.Belt{
		Ranch: r.names[nameRanch].text[key.ranch], Site: r.names[nameSite].text[key.site], Season: season,
		Transect: r.names[nameTransect].text[key.transect], Counts: map[survey.Substrate]int{}, From: t.cell(row.Number, -1),
	}
	said := "" // a length named beside the count: "17 in 300 steps"
	for i, c := range t.cols {
		switch c.role {
		case roleCount:
			if !r.count(t, row, i, r.countName(c), &b, &said) {
				ok = false
			}
		case roleClumps:
			if i == t.at[roleClumps] {
				name, named := r.clumpKind(t, row)
				ok = ok && named && r.count(t, row, i, name, &b, &said)
			}
		}
	}
	var lengthOK, widthOK bool
	b.LengthFt, lengthOK = r.measure(t, row, roleLength, roleLengthUnit, said)
	b.WidthFt, widthOK = r.measure(t, row, roleWidth, roleWidthUnit, "")
	if !ok || !lengthOK || !widthOK {
		return
	}
	if len(b.Counts) == 0 {
		r.refuse(b.From, "", r.Say("No clumps are counted on this belt. Please fill in a count, 0 where there were none."))
		return
	}
	if r.joinBelt(t, row, &b) {
		return
	}
	r.crowdedBelt(t, row, &b)
	r.out.Data.Belts = append(r.out.Data.Belts, b)
}

// countName is the substrate of a count column, in the spelling first seen anywhere in the batch.
func (r *reader) countName(c column) survey.Substrate {
	if settled := r.opt.Words["substrate/"+words(string(c.count))]; settled != "" && settled != "keep" {
		return survey.Substrate(settled)
	}
	if known, ok := r.lex.substrate(string(c.count)); ok {
		return known.substrate
	}
	return r.own(string(c.count))
}

// clumpKind is what a column headed "clumps" alone counts.
func (r *reader) clumpKind(t *table, row *sheet.Row) (survey.Substrate, bool) {
	if v := t.text(row, roleSubstrate); v != "" {
		s, _ := r.substrateWord(t, row, t.at[roleSubstrate], v)
		return s, true
	}
	r.note(t.cell(row.Number, t.at[roleClumps]), "clump-kind", t.place(), "", func(g *group) string {
		return r.Say("The clumps are not told apart by kind; we took them all for bunchgrass.")
	})
	return survey.Bunchgrass, true
}

// count reads one count of clumps. An empty cell says nothing.
func (r *reader) count(t *table, row *sheet.Row, col int, name survey.Substrate, b *survey.Belt, said *string) bool {
	raw := t.textAt(row, col)
	if raw == "" {
		return true
	}
	cell := t.cell(row.Number, col)
	n, rest, ok := number(raw, t.Delimiter == ';')
	if !ok && strings.IndexAny(raw, "0123456789") > 0 { // "about 12"
		n, rest, ok = number(raw[strings.IndexAny(raw, "0123456789"):], t.Delimiter == ';')
		rest += " "
	}
	if !ok || n < 0 || n > 1e6 || n != float64(int(n)) {
		r.refuse(cell, raw, r.Say("“%s” is not a count of clumps. Please write a whole number, 0 where there were none.", short(raw)))
		return false
	}
	if rest != "" && rest != "?" {
		if length, found := strings.CutPrefix(strings.ToLower(rest), "in "); found {
			*said = length
		} else if second, ok := secondNumber(rest); ok {
			a := r.ask(cell, prompt{
				kind: "two-counts", place: t.place(row.Number, col), weight: PleaseLook, byDefault: "first", rest: r.Say("have two numbers for one count; we keep the first"),
				text: func(g *group) string {
					return r.Say("“%s” in row %d: we keep %d and your note. Or is it %d?", short(raw), row.Number, int(n), second)
				},
				choices: []Choice{{"first", r.Say("Keep %d", int(n))}, {"second", r.Say("Use %d", second)}},
			})
			if a == "second" {
				n = float64(second)
			}
		} else if !r.note(cell, "count-words", t.place(), raw, func(g *group) string {
			return r.Say("Some counts have words beside the number (%s); we kept the number.", r.quoted(g.words[:min(3, len(g.words))]))
		}) {
			r.refuse(cell, raw, r.Say("Please write a whole number, 0 where there were none."))
			return false
		}
	}
	b.Counts[name] += int(n)
	return true
}

func secondNumber(s string) (int, bool) {
	i := strings.IndexAny(s, "0123456789")
	if i < 0 {
		return 0, false
	}
	n, _, ok := number(s[i:], false)
	if !ok || n > 1e6 || n != float64(int(n)) {
		return 0, false
	}
	return int(n), true
}

// measure reads a length or a width in feet; 0 where it, its unit or the length of a step is not told.
func (r *reader) measure(t *table, row *sheet.Row, ro, unitRole role, said string) (float64, bool) {
	col, raw := t.at[ro], t.text(row, ro)
	if raw == "" {
		raw = said
	}
	what, unread := "length", r.Say("“%s” is not a length we can read. Please write a number above 0, with its unit in “length_unit”.", short(raw))
	if ro == roleWidth {
		what, unread = "width", r.Say("“%s” is not a width we can read. Please write a number above 0, with its unit in “width_unit”.", short(raw))
	}
	cell := t.named1(row, col, what)
	if raw == "" {
		r.askMeasure(cell, what)
		return 0, true
	}
	v, rest, ok := number(raw, t.Delimiter == ';')
	if !ok || v <= 0 || v > 1e6 {
		r.refuse(cell, raw, unread)
		return 0, false
	}
	unit := rest
	if unit == "" {
		unit = t.text(row, unitRole)
	}
	if unit == "" && col >= 0 {
		unit = t.cols[col].unit
	}
	if unit == "" {
		unit = t.text(row, roleUnit)
	}
	unit = words(unit)
	switch per, known := feetPer[unit]; {
	case known:
		return v * per, true
	case isStep(unit):
		return r.steps(t, row, v, cell)
	case unit == "":
		r.askMeasure(cell, what+"-unit")
		return 0, true
	}
	r.refuse(t.named1(row, t.at[unitRole], what+"_unit"), unit, r.Say("“%s” is not a unit we know; we know ft, yd, m, in and steps.", short(unit)))
	return 0, false
}

func (r *reader) steps(t *table, row *sheet.Row, n float64, cell survey.Cell) (float64, bool) {
	raw := t.text(row, roleStepLength)
	if raw == "" {
		r.askMeasure(cell, "step")
		return 0, true
	}
	v, rest, ok := number(raw, t.Delimiter == ';')
	per, known := feetPer[words(rest)]
	if rest == "" {
		per, known = 1, true
	}
	if !ok || !known || v <= 0 || v*per > 20 {
		r.refuse(t.named1(row, t.at[roleStepLength], "step_length"), raw, r.Say("“%s” is not the length of a step. Please write it in feet, such as 2.5.", short(raw)))
		return 0, false
	}
	return n * v * per, true
}

// askMeasure asks for what a belt's area needs; the count is kept meanwhile.
func (r *reader) askMeasure(c survey.Cell, what string) {
	r.ask(c, prompt{
		kind: "belt-measure", place: c.File + "\x00" + c.Sheet + "\x00" + what, weight: PleaseLook, byDefault: "count-only",
		text: func(g *group) string {
			return g.unmeasured(what) + " " + r.Say("Without it we keep the count but can't give clumps an acre. Please write it in the sheet and send it again.")
		},
		choices: []Choice{{"count-only", r.Say("Keep the count alone")}},
	})
}

// unmeasured says what belts lack.
func (g *group) unmeasured(what string) string {
	switch where := g.where(); what {
	case "length":
		return g.Count("The length of %d belt is not written down (%s).", "The length of %d belts is not written down (%s).", g.n, g.n, where)
	case "width":
		return g.Count("The width of %d belt is not written down (%s).", "The width of %d belts is not written down (%s).", g.n, g.n, where)
	case "length-unit":
		return g.Count("The length of %d belt has no unit (%s).", "The length of %d belts has no unit (%s).", g.n, g.n, where)
	case "width-unit":
		return g.Count("The width of %d belt has no unit (%s).", "The width of %d belts has no unit (%s).", g.n, g.n, where)
	default:
		return g.Count("The length of %d belt is counted in steps, and the length of a step is not written down (%s).",
			"The length of %d belts is counted in steps, and the length of a step is not written down (%s).", g.n, g.n, where)
	}
}

// joinBelt adds a row of a long table, one row a kind of clump, to the belt it belongs to.
func (r *reader) joinBelt(t *table, row *sheet.Row, b *survey.Belt) bool {
	name := t.text(row, roleBelt)
	if name == "" || t.at[roleClumps] < 0 {
		return false
	}
	key := fmt.Sprintf("%s\x00%s\x00%d\x00%s\x00%s", b.Ranch, b.Site, b.Season, b.Transect, strings.ToLower(name))
	i, seen := r.belts[key]
	if !seen || i >= len(r.out.Data.Belts) {
		r.belts[key] = len(r.out.Data.Belts)
		return false
	}
	have := &r.out.Data.Belts[i]
	for s := range b.Counts {
		if _, twice := have.Counts[s]; twice || have.LengthFt != b.LengthFt || have.WidthFt != b.WidthFt {
			return false // another belt under the same name
		}
	}
	for s, n := range b.Counts {
		have.Counts[s] += n
	}
	return true
}

func (r *reader) crowdedBelt(t *table, row *sheet.Row, b *survey.Belt) {
	acres := b.Acres()
	n := 0
	for _, c := range b.Counts {
		n += c
	}
	if acres <= 0 || float64(n)/acres <= crowded || n < 5 {
		return
	}
	r.ask(b.From, prompt{
		kind: "crowded", place: t.place(), weight: PleaseLook, byDefault: "keep",
		text: func(g *group) string {
			return g.Count("%d belt has more than %d clumps an acre (%s; %.0f in row %d): that is one every few feet. Was the count for the whole belt, and are the units right?",
				"%d belts have more than %d clumps an acre (%s; %.0f in row %d): that is one every few feet. Was the count for the whole belt, and are the units right?",
				g.n, g.n, crowded, g.where(), float64(n)/acres, row.Number)
		},
		choices: []Choice{{"keep", r.Say("It is right")}, {"mend", r.Say("I will correct it and send it again")}},
	})
}

// settleBelts gives belts without a season that of the nests, where there is one only.
func (r *reader) settleBelts() {
	only, several := 0, false
	for i := range r.out.Data.Nests {
		s := r.out.Data.Nests[i].Season
		several = several || only != 0 && only != s
		only = s
	}
	kept := r.out.Data.Belts[:0]
	for _, b := range r.out.Data.Belts {
		if b.Season == 0 && !several {
			b.Season = only
		}
		if b.Season == 0 {
			c := b.From
			c.Column = "season"
			r.refuse(c, "", r.Say("The season of this belt is not written down. Please fill in the column “season” with the year."))
			continue
		}
		kept = append(kept, b)
	}
	r.out.Data.Belts = kept
}
