package reading

import (
	"path"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// Tables that come out of a database point at one another: a visit holds the number of its nest, a nest that of its line,
// and a cover stands as a code that a table of two columns explains. Here each such number is replaced by what it points at,
// so that a visit reads as it would on a sheet of paper.

// A relation is a table with a row of headings at its top and one record a row below.
type relation struct {
	g     *grid
	name  string // of the tab or file, folded, without what databases put before it
	links []link // that point out of it
	keyed []int  // its columns at which links point
	drop  []int  // its columns that are no longer needed
}

// A link is a column whose values are those of the key of another relation.
type link struct {
	col    int
	to     *relation
	key    int
	lookup bool // the other is but a list of codes with what they mean
}

var (
	tablePrefix = regexp.MustCompile(`^(tbl|lkp|lk|lut|lu|dim|fact|ref|t|v)[_ ]+`)
	camelTable  = regexp.MustCompile(`^(tbl|lkp|lut|dim|fact|ref)([A-Z])`)
	keyHeading  = regexp.MustCompile(`(id|uid|guid|uuid|key|pk|fk|cd|code|ref)$`)
	idHeading   = regexp.MustCompile(`(id|uid|guid|uuid|pk|fk)$`)
	voidHeading = regexp.MustCompile(`^(is)?(void|voided|deleted|removed|cancelled|canceled|borrado|anulado)(flag|yn)?$`)
)

// joinLinked resolves what tables of a batch point at in one another.
func (r *reader) joinLinked() {
	var all []*relation
	for _, g := range r.grids {
		if rel := r.relationOf(g); rel != nil {
			all = append(all, rel)
		}
	}
	for _, rel := range all {
		r.dropVoid(rel)
	}
	for _, rel := range all {
		r.nameColumns(rel)
	}
	for _, from := range all {
		for col := range from.g.lines[0].cells {
			if l, ok := r.linkAt(from, col, all); ok {
				from.links = append(from.links, l)
			}
		}
	}
	linked := map[*relation]bool{}
	for _, from := range all {
		for _, l := range from.links {
			linked[from], linked[l.to] = true, true
		}
	}
	for done := true; done; { // from the end of each chain back
		done = false
		for _, from := range all {
			for i, l := range from.links {
				if len(l.to.links) > 0 {
					continue
				}
				r.join(from, l)
				if !slices.Contains(l.to.keyed, l.key) {
					l.to.keyed = append(l.to.keyed, l.key)
				}
				from.links = slices.Delete(slices.Clone(from.links), i, i+1)
				done = true
				break
			}
		}
	}
	for _, rel := range all {
		if head := plainName(rel.g.lines[0].cells[0].text); (linked[rel] || len(linked) > 0 && idHeading.MatchString(head)) && len(head) > 2 && keyHeading.MatchString(head) && rel.unique(0) {
			rel.keyed = append(rel.keyed, 0) // a number for the database alone
		}
		r.dropKeys(rel)
	}
}

// relationOf tells whether a whole table is a relation; nil where it is not.
func (r *reader) relationOf(g *grid) *relation {
	if g.explains || g.held > 0 || len(g.lines) < 2 || g.width < 2 {
		return nil
	}
	head := &g.lines[0]
	seen := map[string]bool{}
	for col := range head.cells {
		t := head.cells[col].text
		if t == "" || len(t) > 32 || seen[plainName(t)] || !r.canHead(t) {
			return nil
		}
		seen[plainName(t)] = true
	}
	if len(head.cells) < g.width {
		return nil
	}
	name := g.Name
	if name == "" {
		name = strings.TrimSuffix(path.Base(g.File), path.Ext(g.File))
	}
	name = camelTable.ReplaceAllString(name, "$2")
	return &relation{g: g, name: singular(tablePrefix.ReplaceAllString(strings.ToLower(name), ""))}
}

// canHead tells whether a text can stand over a column: no number and no day.
func (r *reader) canHead(t string) bool {
	_, _, number := lexicon.Number(t, false)
	return !number && lexicon.ReadDate(t, false).Form == lexicon.NoDate && !lexicon.IsDitto(t)
}

// plainName is a heading without what only programs write.
func plainName(t string) string {
	return strings.Map(func(c rune) rune {
		if c == '_' || c == ' ' || c == '-' || c == '.' || c == '#' {
			return -1
		}
		return c
	}, lexicon.Fold(t))
}

func singular(name string) string {
	name = plainName(name)
	if strings.HasSuffix(name, "es") && strings.HasSuffix(strings.TrimSuffix(name, "es"), "h") {
		return strings.TrimSuffix(name, "es")
	}
	return strings.TrimSuffix(name, "s")
}

// nameColumns gives the column in which a table names its own records the table's name: “code” in a table of transects.
func (r *reader) nameColumns(rel *relation) {
	role := r.lex.Heading(rel.name).Role
	head := &rel.g.lines[0]
	if role != lexicon.Ranch && role != lexicon.Site && role != lexicon.Line && role != lexicon.Nest {
		return
	}
	own := -1
	for col := range head.cells {
		t := plainName(head.cells[col].text)
		switch {
		case r.lex.Heading(head.cells[col].text).Role == role && !keyHeading.MatchString(t):
			return
		case own < 0 && (t == "code" || t == "name" || t == "label" || t == "number" || t == "no" || t == "num"):
			own = col
		}
	}
	if own >= 0 {
		head.cells[own].text = inquiry.Capital(rel.name)
	}
}

// linkAt finds what a column points at.
func (r *reader) linkAt(from *relation, col int, all []*relation) (link, bool) {
	name := plainName(from.g.lines[0].cells[col].text)
	for _, to := range all {
		if to == from {
			continue
		}
		for key := range to.g.lines[0].cells {
			theirs := plainName(to.g.lines[0].cells[key].text)
			byNest := r.namesNestsOf(from, col, to, key)
			byTable := byNest || keyHeading.MatchString(theirs) && len(theirs) <= 4 && (name == to.name+theirs || name == to.name)
			if !byTable && (name != theirs || !keyHeading.MatchString(name) || len(name) <= 3) {
				continue
			}
			if !to.unique(key) || !byTable && col == 0 && key == 0 && from.unique(col) || !from.within(col, to, key) { // each the key of its own table
				continue
			}
			l := link{col: col, to: to, key: key}
			l.lookup = len(to.g.lines[0].cells) <= 3 && len(to.g.lines) <= maxDictionary && r.lex.Heading(to.name).Role != lexicon.Nest && len(r.columnsOf(from, l)) <= 1
			if l.lookup || r.offers(from, l) {
				return l, true
			}
		}
	}
	return link{}, false
}

// namesNestsOf tells whether a table without lines names its nests as a list of nests with their lines does, in which each
// has a number of its own.
func (r *reader) namesNestsOf(from *relation, col int, to *relation, key int) bool {
	role := func(rel *relation, col int) lexicon.Role { return r.lex.Heading(rel.g.lines[0].cells[col].text).Role }
	if role(from, col) != lexicon.Nest || role(to, key) != lexicon.Nest || len(from.g.lines) < 4 || len(to.g.lines) < 4 {
		return false
	}
	has := func(rel *relation, want lexicon.Role) bool {
		for c := range rel.g.lines[0].cells {
			if role(rel, c) == want {
				return true
			}
		}
		return false
	}
	return !has(from, lexicon.Line) && !has(from, lexicon.Substrate) && has(to, lexicon.Line) && from.within(col, to, key)
}

// unique tells whether a column names each record once.
func (rel *relation) unique(col int) bool {
	seen := map[string]bool{}
	for i := 1; i < len(rel.g.lines); i++ {
		t := rel.g.lines[i].at(col).text
		if t == "" || seen[t] {
			return false
		}
		seen[t] = true
	}
	return true
}

// within tells whether nearly all of a column's values are keys of another table.
func (rel *relation) within(col int, to *relation, key int) bool {
	keys := map[string]bool{}
	for i := 1; i < len(to.g.lines); i++ {
		keys[to.g.lines[i].at(key).text] = true
	}
	n, in := 0, 0
	for i := 1; i < len(rel.g.lines); i++ {
		if t := rel.g.lines[i].at(col).text; t != "" {
			n++
			if keys[t] {
				in++
			}
		}
	}
	return n > 0 && in*10 >= n*9
}

// carried are the roles that a record takes over from the one it points at.
var carried = []lexicon.Role{lexicon.Ranch, lexicon.Site, lexicon.Season, lexicon.Line, lexicon.Nest, lexicon.Substrate, lexicon.Length, lexicon.Width}

// offers tells whether the table at the other end holds anything that this one does not.
func (r *reader) offers(from *relation, l link) bool {
	if len(l.to.links) > 0 {
		return true
	}
	return len(r.columnsOf(from, l)) > 0
}

// columnsOf lists the columns of the other table that are taken over.
func (r *reader) columnsOf(from *relation, l link) []int {
	head := &l.to.g.lines[0]
	have := map[lexicon.Role]bool{}
	for col := range from.g.lines[0].cells {
		if col != l.col {
			have[r.lex.Heading(from.g.lines[0].cells[col].text).Role] = true
		}
	}
	var cols []int
	for col := range head.cells {
		role := r.lex.Heading(head.cells[col].text).Role
		if (role == lexicon.Length || role == lexicon.Width) && !have[lexicon.Count] && !have[lexicon.Clumps] { // of belts
			continue
		}
		if col != l.key && !have[role] && !slices.Contains(l.to.drop, col) && slices.Contains(carried, role) {
			cols = append(cols, col)
			have[role] = true
		}
	}
	if l.lookup && len(cols) == 0 {
		for col := range head.cells {
			if col != l.key {
				return []int{col}
			}
		}
	}
	return cols
}

// names tells whether a column of a role says what people call a thing by, so that it is kept where nothing else does.
func names(role lexicon.Role) bool {
	return role == lexicon.Nest || role == lexicon.Line || role == lexicon.Site || role == lexicon.Ranch
}

// join writes into each record what the one it points at says. The new cells stand where the link stands.
func (r *reader) join(from *relation, l link) {
	cols := r.columnsOf(from, l)
	to := map[string]*line{}
	for i := 1; i < len(l.to.g.lines); i++ {
		to[l.to.g.lines[i].at(l.key).text] = &l.to.g.lines[i]
	}
	mine := r.lex.Heading(from.g.lines[0].cells[l.col].text).Role
	replaced := l.lookup || !names(mine)
	for _, col := range cols {
		replaced = replaced || r.lex.Heading(l.to.g.lines[0].cells[col].text).Role == mine
	}
	if replaced {
		from.drop = append(from.drop, l.col)
	}
	width := from.g.width
	for i := range from.g.lines {
		row := &from.g.lines[i]
		link := *row.at(l.col)
		other := to[link.text]
		if i == 0 {
			other = &l.to.g.lines[0]
		}
		if other == nil {
			continue
		}
		for n, col := range cols {
			text := other.at(col).text
			if i == 0 && l.lookup {
				text = r.meaning(l, col)
			}
			for len(row.cells) <= width+n {
				row.cells = append(row.cells, cell{row: row.number, col: len(row.cells)})
			}
			row.cells[width+n] = cell{text: text, raw: text, row: row.number, col: l.col}
		}
	}
	if from.g.columns == nil {
		for col := range width {
			from.g.columns = append(from.g.columns, col)
		}
	}
	for range cols {
		from.g.columns = append(from.g.columns, l.col)
	}
	from.g.width = width + len(cols)
	if l.lookup && !l.to.g.explains {
		l.to.g.explains = true
		for i := range l.to.g.lines {
			for col := range l.to.g.lines[i].cells {
				if c := &l.to.g.lines[i].cells[col]; c.text != "" {
					r.captions = append(r.captions, &caption{g: l.to.g, c: c, scope: r.tabScope[l.to.g.index], used: "key"})
				}
			}
		}
	}
}

// meaning names the column of what codes mean, by what they mean.
func (r *reader) meaning(l link, col int) string {
	head := l.to.g.lines[0].at(col).text
	if r.lex.Heading(head).Role != lexicon.NoRole {
		return head
	}
	n, covers, sights := 0, 0, 0
	for i := 1; i < len(l.to.g.lines); i++ {
		k := r.kindOf(l.to.g.lines[i].at(col).text)
		n++
		if k.isCover {
			covers++
		}
		if k.sight.Mark != lexicon.Unknown {
			sights++
		}
	}
	switch {
	case covers*2 > n && covers > sights:
		return "Cover"
	case sights*2 > n:
		return "Found"
	case r.lex.Heading(l.to.name).Role != lexicon.NoRole:
		return inquiry.Capital(l.to.name)
	}
	return head
}

// dropKeys takes the numbers that only links need out of a table: those that were replaced, and its own key where it names
// its records otherwise.
func (r *reader) dropKeys(rel *relation) {
	if rel.g.explains {
		return
	}
	head := &rel.g.lines[0]
	for _, key := range rel.keyed {
		role := r.lex.Heading(head.at(key).text).Role
		other := !names(role)
		for col := range head.cells {
			other = other || col != key && r.lex.Heading(head.cells[col].text).Role == role
		}
		if other {
			rel.drop = append(rel.drop, key)
		}
	}
	if len(rel.drop) == 0 {
		return
	}
	slices.Sort(rel.drop)
	rel.drop = slices.Compact(rel.drop)
	if rel.g.columns == nil {
		for col := range rel.g.width {
			rel.g.columns = append(rel.g.columns, col)
		}
	}
	for i := range rel.g.lines {
		l := &rel.g.lines[i]
		for _, col := range slices.Backward(rel.drop) {
			if col >= len(l.cells) {
				continue
			}
			c := l.cells[col]
			r.captions = append(r.captions, &caption{g: rel.g, c: &c, scope: r.tabScope[rel.g.index], used: "key"})
			l.cells = slices.Delete(l.cells, col, col+1)
		}
	}
	for _, col := range slices.Backward(rel.drop) {
		rel.g.columns = slices.Delete(rel.g.columns, col, col+1)
	}
	rel.g.width -= len(rel.drop)
}

// dropVoid leaves out the records that a column marks as void.
func (r *reader) dropVoid(rel *relation) {
	for col := range rel.g.lines[0].cells {
		if !voidHeading.MatchString(plainName(rel.g.lines[0].cells[col].text)) {
			continue
		}
		void := func(t string) (yes, known bool) {
			switch lexicon.Fold(t) {
			case "", "0", "f", "false", "n", "no":
				return false, true
			case "1", "t", "true", "y", "yes", "x", "si":
				return true, true
			}
			return false, false
		}
		known := true
		for i := 1; i < len(rel.g.lines) && known; i++ {
			_, known = void(rel.g.lines[i].at(col).text)
		}
		if !known {
			continue
		}
		rel.g.lines = slices.DeleteFunc(rel.g.lines, func(l line) bool {
			if yes, _ := void(l.at(col).text); !yes || l.number == rel.g.lines[0].number {
				return false
			}
			return r.Note(survey.Cell{File: rel.g.File, Sheet: rel.g.Name, Row: l.number}, "void", rel.g.File+rel.g.Name, "", func(g *group) string {
				return inquiry.Capital(g.Count("%[2]s is marked as void; we left it out.", "%[2]s are marked as void; we left them out.", g.N, g.N, g.Where()))
			})
		})
		rel.drop = append(rel.drop, col)
	}
}
