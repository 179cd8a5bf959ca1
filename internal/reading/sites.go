package reading

import (
	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
)

// readSites reads the tables of pastures.
func (r *reader) readSites(sink Sink) {
	for _, b := range r.blocks {
		if b.kind != siteTable {
			continue
		}
		e := r.newEmitter(b, sink)
		owner, region, kind, area, unit := b.column(lexicon.Owner), b.column(lexicon.Region), b.column(lexicon.SiteType), b.column(lexicon.Area), b.column(lexicon.AreaUnit)
		get := func(l *line, c *column) string {
			if c == nil {
				return ""
			}
			return e.text(l.at(c.at).text)
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			if e.asideRecord(l) {
				continue
			}
			r.rows++
			e.row = Row{}
			row := &SiteRow{Ranch: e.ranchOf(l, rec.scope, "", true), Name: get(l, e.site), Owner: get(l, owner), Region: get(l, region), Type: get(l, kind)}
			row.At.File, row.At.Sheet, row.At.Row = b.g.File, b.g.Name, l.number
			switch lexicon.Fold(row.Name) {
			case "wholeranch", "ranchoentero", "todoelrancho":
				row.Name = ""
			}
			if area != nil && get(l, area) != "" {
				u := area.head.Unit
				if t := get(l, unit); t != "" {
					u = lexicon.Words(t)
				}
				c := e.place(l.at(area.at), area)
				raw := get(l, area)
				if u == "" {
					if _, rest, ok := lexicon.Number(raw, b.g.Delimiter == ';'); ok && rest == "" {
						e.Note(c, "area-unit", e.key(0), "", func(g *group) string {
							return e.Say("The areas in %s have no unit; we took them as acres.", g.Where())
						})
						u = "acre"
					}
				}
				m, ok := r.lex.Measure(raw, u, b.g.Delimiter == ';')
				switch {
				case ok && m.Acres > 0, ok && m.Acres == 0 && m.Bare == 0 && (lexicon.IsAcre(u) || lexicon.IsHectare(u)):
					row.Acres = m.Acres
				case ok && m.Bare > 0 && u != "":
					c.Column = "area_unit"
					if unit != nil {
						c.Column = unit.head.Text
					}
					e.Refuse(c, u, e.Say("“%s” is not a unit of area we know; we know acre and ha.", inquiry.Short(u)))
					continue
				default:
					e.Refuse(c, raw, e.Say("“%s” is not an area we can read. Please write a number, with acre or ha in “area_unit”.", inquiry.Short(raw)))
					continue
				}
			}
			sink.Site(row)
		}
		r.use(b, "sites")
	}
}
