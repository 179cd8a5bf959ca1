package reading

import (
	"slices"
	"strconv"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// use marks a block as taken up.
func (r *reader) use(b *block, as string) { b.name = as }

// setAsideRow records the cells of a row that became nothing.
func (r *reader) setAsideRow(g *grid, i, left, right int, why string) {
	l := &g.lines[i]
	for col := left; col < min(right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span && !c.down {
			r.aside(g, c, why)
		}
	}
}

func (e *emitter) setAsideLine(l *line, why string) {
	for i := range l.cells {
		if c := &l.cells[i]; c.text != "" && !c.span && !c.down {
			e.aside(e.b.g, c, why)
		}
	}
}

func (r *reader) aside(g *grid, c *cell, why string) {
	r.SetAside(at(g, c), why+"\x00"+g.File+"\x00"+g.Name, func(gr *group) string {
		switch why {
		case "heading-again":
			return inquiry.Capital(r.Say("%s: the headings again.", gr.Where()))
		case "total":
			return inquiry.Capital(r.Say("%s: a total; we count the nests ourselves.", gr.Where()))
		case "short":
			return inquiry.Capital(r.Say("%s: too little to be a nest or a belt.", gr.Where()))
		case "unfilled":
			return inquiry.Capital(r.Say("%s: a number and nothing else; no nest was counted there.", gr.Where()))
		case "other-point":
			return inquiry.Capital(r.Say("%s: named unlike the nests, and says nothing of any.", gr.Where()))
		case "copy":
			return inquiry.Capital(r.Say("%s: a copy of what stands elsewhere; left out.", gr.Where()))
		case "table":
			return inquiry.Capital(r.Say("%s: a table of which we know no columns.", gr.Where()))
		}
		return inquiry.Capital(r.Say("%s: a note; not used.", gr.Where()))
	})
}

// account lists what was not used: columns, notes, totals and tables nobody knows.
func (r *reader) account() {
	for _, c := range r.captions {
		switch {
		case c.used == "total":
			r.aside(c.g, c.c, "total")
		case c.used == "" && !r.spoke(c):
			r.aside(c.g, c.c, "note")
		}
	}
	for _, b := range r.blocks {
		switch b.kind {
		case notOurs:
			if b.name == "" {
				for _, rec := range b.records {
					r.setAsideRow(b.g, rec.row, b.left, b.right, "table")
				}
				for _, h := range b.heads {
					r.setAsideRow(b.g, h, b.left, b.right, "table")
				}
			}
		case keyTable, proseTable:
		default:
			r.unusedColumns(b)
		}
	}
}

// spoke tells whether a caption gave a fact to what stands below it.
func (r *reader) spoke(c *caption) bool {
	if c.scope == nil {
		return false
	}
	f := &c.scope.facts
	return f.ranch.at == c.c || f.line.at == c.c || f.site.at == c.c || f.set.at == c.c || f.year == c.c || f.rule != nil && f.rule.at == c.c || f.step > 0 || f.width > 0 || slices.ContainsFunc(f.checks, func(k checkFact) bool { return k.at == c.c })
}

// unusedColumns lists the columns of a table that became nothing.
func (r *reader) unusedColumns(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.role != lexicon.NoRole && c.role != lexicon.Passed && c.role != lexicon.RowNumber && r.uses(b.kind, c.role) || c.n == 0 && c.head.Text == "" {
			continue
		}
		if c.colors || c.sentence || c.why == "set" || c.why == "ticks" || c.head.Set && c.head.Date.Form != lexicon.NoDate {
			continue
		}
		heading := c.head.Text
		if heading == "" {
			heading = letter(c.at)
		}
		if len(heading) > 80 {
			heading = strings.ToValidUTF8(heading[:80], "") + "…"
		}
		b := b
		for _, rec := range b.records {
			cl := b.g.lines[rec.row].at(c.at)
			if cl.text == "" {
				continue
			}
			r.SetAside(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: cl.row, Column: heading}, "column\x00"+b.g.File+"\x00"+b.g.Name+"\x00"+heading, func(*group) string {
				if r.Many {
					return r.Say("The column “%s” in %s was not used.", heading, r.TableName(b))
				}
				return r.Say("The column “%s” was not used.", heading)
			})
		}
		if c.n == 0 && c.head.Text != "" && c.role == lexicon.NoRole {
			r.SetAside(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: headRow(b), Column: heading}, "column\x00"+b.g.File+"\x00"+b.g.Name+"\x00"+heading, func(*group) string {
				if r.Many {
					return r.Say("The column “%s” in %s was not used.", heading, r.TableName(b))
				}
				return r.Say("The column “%s” was not used.", heading)
			})
		}
	}
}

// TableName names the table of a block in a sentence.
func (r *reader) TableName(b *block) string { return r.Log.Voice.Table(b.g.File, b.g.Name) }

func headRow(b *block) int {
	if len(b.heads) == 0 {
		return 0
	}
	return b.g.lines[b.heads[len(b.heads)-1]].number
}

// uses tells whether a role means anything in a table of a kind.
func (r *reader) uses(k tableKind, role lexicon.Role) bool {
	belts := role == lexicon.Length || role == lexicon.LengthUnit || role == lexicon.Width || role == lexicon.WidthUnit || role == lexicon.Unit || role == lexicon.StepLength || role == lexicon.Count || role == lexicon.Clumps || role == lexicon.Belt || role == lexicon.BeltArea
	sites := role == lexicon.Owner || role == lexicon.Region || role == lexicon.SiteType || role == lexicon.AreaUnit
	names := role == lexicon.Ranch || role == lexicon.Site || role == lexicon.Season || role == lexicon.Line
	switch k {
	case beltTable:
		return belts || names || role == lexicon.Steps || role == lexicon.Area || role == lexicon.Notes || role == lexicon.Substrate
	case siteTable:
		return sites || names || role == lexicon.Area
	}
	return !sites && role != lexicon.Area
}

// roles lists how each column was read.
func (r *reader) roles() []Role {
	var out []Role
	for _, b := range r.blocks {
		if b.kind == notOurs || b.kind == keyTable {
			continue
		}
		for i := range b.cols {
			c := &b.cols[i]
			if c.n == 0 && c.head.Text == "" {
				continue
			}
			role := Role{File: b.g.File, Sheet: b.g.Name, Block: b.number, Column: letter(b.g.column(c.at)), Heading: c.head.Text, ID: inquiry.ID("role", r.rolePlace(b, c))}
			if b.g.turn {
				role.Column = strconv.Itoa(c.at + 1)
			}
			if r.uses(b.kind, c.role) {
				role.Role = r.roleName(b, c)
			}
			out = append(out, role)
		}
	}
	return out
}

func (r *reader) roleName(b *block, c *column) string {
	switch c.role {
	case lexicon.CheckOn, lexicon.DaysOut, lexicon.Found, lexicon.EggsLeft:
		if b.kind == visitTable || c.visit < 0 {
			if c.role == lexicon.DaysOut {
				return lexicon.CheckOn.Name()
			}
			return c.role.Name()
		}
		return lexicon.CheckName(c.role, c.visit+1)
	case lexicon.Feature:
		return survey.Features[c.head.Feature].Name
	case lexicon.Count:
		return "count_" + strings.ReplaceAll(string(c.head.Cover), " ", "_")
	case lexicon.NoRole, lexicon.Passed, lexicon.RowNumber:
		return ""
	}
	return c.role.Name()
}

func (r *reader) rolePlace(b *block, c *column) string {
	return b.g.File + "\x00" + b.g.Name + "\x00" + strconv.Itoa(b.number) + "\x00" + letter(c.at)
}

// applyRoleAnswers takes the sender's word on what columns hold. The answers need no open question: a tag over a column may
// be changed at any time.
func (r *reader) applyRoleAnswers(b *block) {
	changed := false
	for i := range b.cols {
		c := &b.cols[i]
		a := r.Answer("role", r.rolePlace(b, c))
		if a == "" {
			continue
		}
		if r.setRole(b, c, i, a) {
			c.fixed, changed = true, true
		}
	}
	if changed {
		r.settleKind(b)
	}
}

// setRole gives a column the role named; one that another column had goes to it.
func (r *reader) setRole(b *block, c *column, i int, name string) bool {
	if c.visit >= 0 {
		v := &b.visits[c.visit]
		switch i {
		case v.on:
			v.on = -1
		case v.found:
			v.found = -1
		case v.eggs:
			v.eggs = -1
		}
	}
	c.role, c.visit = lexicon.NoRole, -1
	if name == "not-used" {
		return true
	}
	if rest, ok := strings.CutPrefix(name, "check"); ok && rest != "" && lexicon.Digit(rest[0]) {
		n, what, _ := strings.Cut(rest, "_")
		k, ok := lexicon.Atoi(n)
		if !ok || k < 1 || k > 20 {
			return false
		}
		for len(b.visits) < k {
			b.visits = append(b.visits, newVisit())
		}
		v := &b.visits[k-1]
		c.visit = k - 1
		switch what {
		case "on":
			r.free(b, v.on, i)
			v.on, c.role = i, lexicon.CheckOn
		case "eggs":
			r.free(b, v.eggs, i)
			v.eggs, c.role = i, lexicon.EggsLeft
		default:
			r.free(b, v.found, i)
			v.found, c.role = i, lexicon.Found
		}
		return true
	}
	for role := lexicon.Role(1); int(role) < lexicon.Roles; role++ {
		if role.Name() == name && name != "" {
			for j := range b.cols {
				if b.cols[j].role == role && j != i && role != lexicon.Notes && role != lexicon.Count {
					b.cols[j].role = lexicon.NoRole
				}
			}
			c.role = role
			return true
		}
	}
	return false
}

func (r *reader) free(b *block, was, i int) {
	if was >= 0 && was != i {
		b.cols[was].role, b.cols[was].visit = lexicon.NoRole, -1
	}
}

// chooseTabs looks for tabs that may not belong: hidden ones, and ones called old or draft beside others.
func (r *reader) chooseTabs() {
	nests := map[int]bool{}
	for _, b := range r.blocks {
		if b.kind == nestTable || b.kind == visitTable {
			nests[b.g.index] = true
		}
	}
	for _, g := range r.grids {
		belts := slices.ContainsFunc(r.blocks, func(b *block) bool { return b.g.index == g.index && b.kind == beltTable })
		if g.Name == "" || !nests[g.index] && !belts || !lateTab(g) {
			continue
		}
		byDefault := "read"
		if !g.Hidden && len(nests) > 1 {
			byDefault = "leave-out"
		}
		if r.askTab(g.Table, byDefault) == "leave-out" {
			for _, b := range r.blocks {
				if b.g.index == g.index {
					r.dropBlock(b)
				}
			}
		}
	}
}

// dropBlock leaves out a table that the sender does not want, or that repeats another.
func (r *reader) dropBlock(b *block) {
	b.kind, b.name = notOurs, "copy"
	for _, rec := range b.records {
		r.setAsideRow(b.g, rec.row, b.left, b.right, "copy")
	}
}

// oldTab are words in a tab's name that make one wonder whether it belongs to the season.
var oldTab = []string{"old", "copy", "backup", "draft", "viejo", "vieja", "copia", "borrador", "anterior", "test", "prueba"}
