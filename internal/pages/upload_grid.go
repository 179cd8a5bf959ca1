package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/readback"
	"tussock/internal/words"
)

// How much of a grid stands on one page, beside what package readback leaves out.
const (
	formsOnPage = 60 // columns that can be changed there
	shortText   = 36 // letters of a cell before the rest is folded away
)

// tableView is one table of the sheet as the page shows it.
type tableView struct {
	Title  string // "Tab Line 1", "nests.csv"
	Anchor string
	Count  string // "60 rows"
	Hidden bool
	Cut    bool   // rows are left out
	All    string // the address of all rows, "" where all are here
	Alone  string // the address of the table by itself
	More   int    // columns that are not shown
	Side   bool   // records stand in columns
	Pieces []pieceView
}

type pieceView struct {
	Columns []columnView
	Rows    []rowView
}

// columnView is the tag over a column, or beside a row of a table that lies on its side.
type columnView struct {
	Letter  string
	Tags    []tagView
	Heading string
}

type tagView struct {
	ID, Label, Heading string
	Used               bool
	Groups             []roleGroup // what it may be changed to; nil where the page has no room for that
}

type roleGroup struct {
	Label   string
	Options []roleOption
}

type roleOption struct {
	Value, Label string
	Chosen       bool
}

type rowView struct {
	ID     string // where a question leads
	N      int
	Gap    string // "12 rows left out"
	Hidden bool
	Class  string
	Mark   string
	Tags   []tagView // of a table on its side
	Cells  []cellView
}

type cellView struct {
	Class, Mark string
	Span        int // columns it runs over, where all that follow are empty
	Text        string
	Whole       string // where Text is cut
	Struck      bool
	Note        string
}

// marks are what a marked cell carries besides its color, and the class it has.
var gridMarks = map[readback.Mark]struct{ sign, class string }{
	readback.Tidied:  {"~", "m-tidied"},
	readback.Aside:   {"–", "m-aside"},
	readback.Refused: {"×", "m-refused"},
	readback.Asked:   {"?", "m-asked"},
}

func markOf(m readback.Mark, ref int) (sign, class string) {
	if m == readback.AsIs {
		return "", ""
	}
	return gridMarks[m].sign + strconv.Itoa(ref+1), gridMarks[m].class
}

// named says what a table is, and where it is by itself.
func named(say words.Speaker, upload access.ID, p *readback.Page, i int) tableView {
	t := &p.Tables[i]
	v := tableView{Title: t.File, Anchor: fmt.Sprintf("t%d", i), Count: say.Count("%d row", "%d rows", t.Count), Hidden: t.Hidden, More: t.More, Side: len(t.Side) > 0,
		Cut: len(t.Rows) < t.Count, Alone: fmt.Sprintf("/uploads/%s?tab=%d", upload, i)}
	if t.Sheet != "" {
		v.Title = say.Say("Tab “%s”", t.Sheet)
		if p.Tables[0].File != p.Tables[len(p.Tables)-1].File {
			v.Title = say.Say("Tab “%s” of %s", t.Sheet, t.File)
		}
	}
	if t.Parts > 0 {
		v.All = fmt.Sprintf("/uploads/%s/rows/%d", upload, t.Part+1)
		if len(t.Rows) == 0 {
			v.Alone = v.All
		}
	}
	return v
}

// A gridLayout is the tables of one page being laid out.
type gridLayout struct {
	say   words.Speaker
	forms int          // tags that can still be made ones that change
	fixed bool         // none may be changed by the reader
	asked map[int]bool // questions that a row on the page has the place of
}

// newLayout lays out for a reader who may change how the columns are read, or for one who may only look.
func newLayout(say words.Speaker, changeable bool) *gridLayout {
	return &gridLayout{say, formsOnPage, !changeable, map[int]bool{}}
}

// tables lays out the tables of a page: that numbered tab alone, or with -1 as many as have room for their tags.
func (l *gridLayout) tables(upload access.ID, p *readback.Page, tab int) (shown, elided []tableView) {
	for i := range p.Tables {
		t := &p.Tables[i]
		if tab >= 0 && tab < len(p.Tables) && tab != i {
			elided = append(elided, named(l.say, upload, p, i))
			continue
		}
		n := len(t.Side)
		for _, h := range t.Heads {
			n += len(h.Tags)
		}
		if tab < 0 && (len(t.Rows) == 0 || n > l.forms && i > 0) {
			elided = append(elided, named(l.say, upload, p, i))
			continue
		}
		v := named(l.say, upload, p, i)
		v.Pieces = l.pieces(t, t.Rows)
		shown = append(shown, v)
	}
	return shown, elided
}

// pieces puts rows of a table under their tags.
func (l *gridLayout) pieces(t *readback.Table, rows []readback.Row) []pieceView {
	side := map[int][]readback.Tag{}
	for _, tag := range t.Side {
		side[tag.Row] = append(side[tag.Row], tag)
	}
	var pieces []pieceView
	for _, piece := range t.Cut(rows) {
		v := pieceView{}
		for col := range t.Width {
			v.Columns = append(v.Columns, columnView{Letter: letterOf(col)})
		}
		for _, tag := range piece.Tags {
			if tag.Column < t.Width {
				c := &v.Columns[tag.Column]
				c.Tags, c.Heading = append(c.Tags, l.tag(t, tag)), tag.Heading
			}
		}
		above := make([]string, t.Width+1) // the mark that the last row has in each column, and as a whole
		for _, r := range piece.Rows {
			row := l.row(r, t.Width, above)
			for _, tag := range side[r.N] {
				row.Tags = append(row.Tags, l.tag(t, tag))
			}
			v.Rows = append(v.Rows, row)
		}
		pieces = append(pieces, v)
	}
	return pieces
}

// row shows a row. A mark that the cell above or to the left has is not said again: the cell's look goes on.
func (l *gridLayout) row(r readback.Row, width int, above []string) rowView {
	row := rowView{N: r.N, Hidden: r.Hidden, ID: l.placeOf(&r)}
	if r.Gap > 0 {
		row.Gap = l.say.Count("%d row left out", "%d rows left out", r.Gap)
	}
	once := func(i int, mark string) string {
		if mark == above[i] {
			return ""
		}
		above[i] = mark
		return mark
	}
	row.Mark, row.Class = markOf(r.Mark, r.Ref)
	row.Mark = once(width, row.Mark)
	left := ""
	for col := range width {
		var c readback.Cell
		if col < len(r.Cells) {
			c = r.Cells[col]
		}
		shown := cellOf(l.say, c)
		if mark := shown.Mark; c.Mark != readback.Asked {
			if shown.Mark = once(col, mark); mark == left {
				shown.Mark = ""
			}
			left = mark
		}
		row.Cells = append(row.Cells, shown)
	}
	return spread(row)
}

// placeOf is the id of the first row on the page that a question is about, or "".
func (l *gridLayout) placeOf(r *readback.Row) string {
	about := -1
	if r.Mark == readback.Asked {
		about = r.Ref
	}
	for _, c := range r.Cells {
		if c.Mark == readback.Asked && about < 0 {
			about = c.Ref
		}
	}
	if about < 0 || l.asked[about] {
		return ""
	}
	l.asked[about] = true
	return placeID(about)
}

func placeID(question int) string { return fmt.Sprintf("at%d", question+1) }

// spread lets the one cell of a title or a note run over the columns beside it.
func spread(row rowView) rowView {
	filled := -1
	for i, c := range row.Cells {
		if c == (cellView{}) {
			continue
		}
		if filled >= 0 {
			return row
		}
		filled = i
	}
	if filled >= 0 && len(row.Cells)-filled > 1 {
		row.Cells[filled].Span = len(row.Cells) - filled
		row.Cells = row.Cells[:filled+1]
	}
	return row
}

// cellOf shows a cell: a day as people write it, a long text by its beginning.
func cellOf(say words.Speaker, c readback.Cell) cellView {
	v := cellView{Text: c.Text, Struck: c.Struck, Note: c.Note}
	v.Mark, v.Class = markOf(c.Mark, c.Ref)
	if c.Day {
		if day, err := time.Parse(time.DateOnly, c.Text); err == nil {
			v.Text = say.Day(day)
		}
	}
	if utf8.RuneCountInString(v.Text) > shortText {
		v.Whole = v.Text
		v.Text = firstWords(v.Text)
	}
	return v
}

// firstWords cuts a text after a word.
func firstWords(s string) string {
	runes := []rune(s)
	short := string(runes[:shortText-6])
	if i := strings.LastIndexByte(short, ' '); i > shortText/2 {
		short = short[:i]
	}
	return short + "…"
}

// letterOf names a column as spreadsheet programs do.
func letterOf(col int) string {
	s := ""
	for col++; col > 0; col = (col - 1) / 26 {
		s = string(rune('A'+(col-1)%26)) + s
	}
	return s
}

// tag says how a column was read, and what it may be changed to.
func (l *gridLayout) tag(t *readback.Table, tag readback.Tag) tagView {
	v := tagView{ID: tag.ID, Label: roleSaid(l.say, tag.Role), Heading: tag.Heading, Used: tag.Role != ""}
	if l.forms > 0 {
		l.forms--
		if !l.fixed {
			v.Groups = roleGroups(l.say, t, tag.Role)
		}
	}
	return v
}

// roleWords say in plain words what a column holds, by the name that package reading gives it.
var roleNames = map[string]string{
	"": words.Mark("not used"), "ranch": words.Mark("Ranch"), "site": words.Mark("Pasture"), "season": words.Mark("Season"), "transect": words.Mark("Line"),
	"nest": words.Mark("Nest"), "substrate": words.Mark("Cover"), "plant": words.Mark("Plant"), "set_on": words.Mark("Set out"), "eggs_set": words.Mark("Eggs set"),
	"check": words.Mark("Check"), "checked_on": words.Mark("Check: day"), "state": words.Mark("Check: found"), "eggs_left": words.Mark("Eggs left"),
	"days_out": words.Mark("Days after setting"), "look": words.Mark("Which check"), "second_look": words.Mark("Second person found"), "observer": words.Mark("Who walked"),
	"steps": words.Mark("Steps"), "bearing": words.Mark("Bearing"), "spot": words.Mark("How to find it"), "trace": words.Mark("What was left"), "guess": words.Mark("Which animal"),
	"lost_how": words.Mark("How it was lost"), "camera": words.Mark("Camera"), "camera_on": words.Mark("Camera: day of loss"), "notes": words.Mark("Notes"), "length": words.Mark("Belt: length"),
	"length_unit": words.Mark("Belt: unit of length"), "width": words.Mark("Belt: width"), "width_unit": words.Mark("Belt: unit of width"), "unit": words.Mark("Belt: unit"),
	"step_length": words.Mark("Length of a step"), "clumps": words.Mark("Clumps counted"), "count": words.Mark("Clumps counted"), "belt": words.Mark("Belt"), "belt_area": words.Mark("Belt: area"),
	"owner": words.Mark("Owner"), "region": words.Mark("Area of the cooperative"), "site_type": words.Mark("Kind of ground"), "area": words.Mark("Size"), "area_unit": words.Mark("Unit of size"),
}

// roleSaid says a role in plain words.
func roleSaid(say words.Speaker, role string) string {
	if text, ok := roleNames[role]; ok {
		return say.Say(text)
	}
	if n, what, ok := checkRole(role); ok {
		switch what {
		case "on":
			return say.Say("Check %d: day", n)
		case "eggs":
			return say.Say("Check %d: eggs left", n)
		}
		return say.Say("Check %d: found", n)
	}
	if cover, ok := strings.CutPrefix(role, "count_"); ok {
		return say.Say("Clumps of %s", say.Say(strings.ReplaceAll(cover, "_", " ")))
	}
	if label := fieldwork.Label(role); label != "" {
		return say.Say(label)
	}
	return strings.ReplaceAll(role, "_", " ")
}

// checkRole takes the role of a column of one check apart: "check2_on" is 2, "on".
func checkRole(role string) (n int, what string, ok bool) {
	rest, ok := strings.CutPrefix(role, "check")
	if !ok || rest == "" {
		return 0, "", false
	}
	number, what, _ := strings.Cut(rest, "_")
	n, err := strconv.Atoi(number)
	return n, what, err == nil && n > 0
}

// The roles that a column can be given, by what they are about.
var (
	nestRoles = []string{"nest", "transect", "site", "ranch", "season", "substrate", "plant", "set_on"}
	anyCheck  = []string{"checked_on", "state", "eggs_left", "look"}
	signRoles = []string{"observer", "notes", "guess", "trace", "lost_how", "camera", "camera_on", "steps", "bearing", "spot"}
	beltRoles = []string{"length", "length_unit", "width", "width_unit", "step_length", "clumps"}
)

// checksMost is the highest check that a column can be said to be of.
const checksMost = 8

// notUsed is the answer by which a column is set aside.
const notUsed = "not-used"

// offered tells whether a form offers a role.
func offered(role string) bool {
	if n, what, ok := checkRole(role); ok {
		return n <= checksMost && slices.Contains([]string{"", "on", "eggs"}, what)
	}
	return role == notUsed || slices.Contains(slices.Concat(nestRoles, anyCheck, signRoles, beltRoles), role)
}

// roleGroups lists what a column can be changed to: the checks up to one more than the table has, and what fits its kind.
func roleGroups(say words.Speaker, t *readback.Table, now string) []roleGroup {
	checks, belts := 2, false
	for _, h := range t.Heads {
		for _, tag := range h.Tags {
			if n, _, ok := checkRole(tag.Role); ok {
				checks = max(checks, min(n+1, checksMost))
			}
			belts = belts || slices.Contains(beltRoles, tag.Role) || strings.HasPrefix(tag.Role, "count_")
		}
	}
	chosen := now
	if now == "" {
		chosen = notUsed
	}
	group := func(label string, roles []string) roleGroup {
		g := roleGroup{Label: label}
		for _, role := range roles {
			g.Options = append(g.Options, roleOption{role, roleSaid(say, strings.TrimPrefix(role, notUsed)), role == chosen})
		}
		return g
	}
	var ofChecks []string
	for n := 1; n <= checks; n++ {
		c := fmt.Sprintf("check%d", n)
		ofChecks = append(ofChecks, c+"_on", c, c+"_eggs")
	}
	groups := []roleGroup{group(say.Say("The nest"), append([]string{notUsed}, nestRoles...)), group(say.Say("Checks"), append(ofChecks, anyCheck...)), group(say.Say("Beside it"), signRoles)}
	if belts {
		groups = append(groups, group(say.Say("Belts"), beltRoles))
	}
	if !offered(chosen) { // as it is, so that nothing changes unless somebody chooses
		groups[0].Options = append([]roleOption{{now, roleSaid(say, now), true}}, groups[0].Options...)
	}
	return groups
}
