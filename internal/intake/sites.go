package intake

import (
	"fmt"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// acresPerHectare follows from the international foot: 10 000 m² over 43 560 ft² of 0.09290304 m² each
// (NIST Handbook 44, Appendix C).
const acresPerHectare = 10_000 / (43_560 * 0.09290304)

// siteRow reads one row of a table of sites.
func (r *reader) siteRow(t *table, row *sheet.Row) {
	ranch, ok := r.ranch(t, row)
	name := t.text(row, roleSite)
	if oneOf(fold(name), "wholeranch", "ranchoentero", "todoelrancho") {
		name = ""
	}
	s := survey.Site{
		Name: r.names[nameSite].text[r.names[nameSite].of(name)], Owner: strings.Clone(t.text(row, roleOwner)),
		Region: strings.Clone(t.text(row, roleRegion)), Type: strings.Clone(t.text(row, roleType)), From: t.cell(row.Number, -1),
	}
	acres, areaOK := r.area(t, row)
	if !ok || !areaOK {
		return
	}
	s.Ranch, s.Acres = r.names[nameRanch].text[ranch], acres

	key := fmt.Sprintf("%d\x00%s", ranch, strings.ToLower(name))
	if i, seen := r.siteAt[key]; seen && i < len(r.out.Data.Sites) {
		first := &r.out.Data.Sites[i]
		if first.Owner != s.Owner || first.Region != s.Region || first.Type != s.Type || first.Acres != s.Acres {
			r.refuse(t.cell(row.Number, t.at[roleSite]), name, r.Say("This site stands twice, first in row %d, and the two rows differ. We kept the first; please correct or delete one.", first.From.Row))
		}
		return
	}
	r.siteAt[key] = len(r.out.Data.Sites)
	r.out.Data.Sites = append(r.out.Data.Sites, s)
}

func (r *reader) area(t *table, row *sheet.Row) (acres float64, ok bool) {
	col, raw := t.at[roleArea], t.text(row, roleArea)
	if raw == "" {
		return 0, true
	}
	v, rest, ok := number(raw, t.Delimiter == ';')
	if !ok || v < 0 || v > 1e8 {
		r.refuse(t.cell(row.Number, col), raw, r.Say("“%s” is not an area we can read. Please write a number, with acre or ha in “area_unit”.", short(raw)))
		return 0, false
	}
	unit := rest
	if unit == "" {
		unit = t.text(row, roleAreaUnit)
	}
	if unit == "" {
		unit = t.cols[col].unit
	}
	switch fold(unit) {
	case "acre", "acres", "ac", "":
		if unit == "" {
			r.note(t.cell(row.Number, col), "area-unit", t.place(), "", func(g *group) string {
				return r.Say("The areas in %s have no unit; we took them as acres.", g.where())
			})
		}
		return v, true
	case "ha", "hectare", "hectares", "hectarea", "hectareas":
		return v * acresPerHectare, true
	}
	r.refuse(t.named1(row, t.at[roleAreaUnit], "area_unit"), unit, r.Say("“%s” is not a unit of area we know; we know acre and ha.", short(unit)))
	return 0, false
}
