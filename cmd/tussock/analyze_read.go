package main

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/reading"
	"tussock/internal/survey"
)

// reading prints what became of the sheets, before any result: how the columns were read, what was tidied, what was set
// aside, what there is to ask and what could not be used.
func (a *analysis) reading(b *strings.Builder) {
	a.columns(b)
	a.tidied(b)
	a.setAside(b)
	a.questions(b)
	a.problems(b)
}

func (a *analysis) columns(b *strings.Builder) {
	tables := a.tables()
	if len(tables) == 0 && len(a.read.Sentences) == 0 {
		return
	}
	title(b, "How we read it", '=')
	for _, t := range tables {
		para(b, "", t.sentence())
	}
	for _, s := range a.read.Sentences {
		para(b, "  ", s)
	}
}

// A table is one kind of rows of one tab or file, or of several that were read alike.
type table struct {
	file   string
	sheets []string
	holds  string // "nests", "checks", "belts", "pastures"
	count  int    // of nests or belts read from it
	odd    string // the columns that are not plain
}

// tables lists the tables that were read, those read alike as one.
func (a *analysis) tables() []table {
	type key struct{ file, sheet, holds string }
	var order []key
	columns := map[key][]reading.Role{}
	for from := 0; from < len(a.read.Roles); {
		to := from
		for to < len(a.read.Roles) && sameBlock(&a.read.Roles[from], &a.read.Roles[to]) {
			to++
		}
		block := a.read.Roles[from:to]
		k := key{block[0].File, block[0].Sheet, holds(block)}
		if columns[k] == nil {
			order = append(order, k)
		}
		columns[k] = append(columns[k], block...)
		from = to
	}
	counts := map[key]int{}
	seen := func(c survey.Cell, holds string) {
		k := key{c.File, c.Sheet, holds}
		if checks := (key{c.File, c.Sheet, "checks"}); holds == "nests" && columns[k] == nil && columns[checks] != nil {
			k = checks
		}
		if counts[k]++; columns[k] == nil && counts[k] == 1 {
			order = append(order, k)
		}
	}
	for i := range a.read.Data.Nests {
		seen(a.read.Data.Nests[i].From, "nests")
	}
	for i := range a.read.Waiting {
		seen(a.read.Waiting[i].From, "nests")
	}
	for i := range a.read.Data.Belts {
		seen(a.read.Data.Belts[i].From, "belts")
	}

	lex := lexicon.New()
	var out []table
	for _, k := range order {
		t := table{file: k.file, sheets: []string{k.sheet}, holds: k.holds, count: counts[k], odd: odd(lex, columns[k])}
		i := slices.IndexFunc(out, func(o table) bool { return o.file == t.file && o.holds == t.holds && o.odd == t.odd })
		if i < 0 {
			out = append(out, t)
			continue
		}
		out[i].sheets = append(out[i].sheets, k.sheet)
		out[i].count += t.count
	}
	return out
}

func sameBlock(a, b *reading.Role) bool {
	return a.File == b.File && a.Sheet == b.Sheet && a.Block == b.Block
}

// holds tells what the rows of a table are.
func holds(block []reading.Role) string {
	has := func(test func(role string) bool) bool {
		return slices.ContainsFunc(block, func(r reading.Role) bool { return test(r.Role) })
	}
	switch {
	case has(func(r string) bool {
		return strings.HasPrefix(r, "count_") || r == "clumps" || r == "length" || r == "width"
	}):
		return "belts"
	case has(func(r string) bool { return r == "checked_on" || r == "state" || r == "look" }):
		return "checks"
	case has(func(r string) bool { return r == "owner" || r == "region" || r == "site_type" || r == "area" }):
		return "pastures"
	}
	return "nests"
}

// sentence says how a table was read, in one line where its headings are plain.
func (t *table) sentence() string {
	where := t.file
	if named := slices.DeleteFunc(slices.Clone(t.sheets), func(s string) bool { return s == "" }); len(named) > 0 {
		where += ", " + tabs(named)
	}
	what := t.holds
	switch {
	case t.holds == "nests" && t.count > 0:
		what = count(t.count, "nest", "nests")
	case t.holds == "checks" && t.count > 0:
		what = count(t.count, "nest", "nests") + ", a row a check"
	case t.holds == "belts" && t.count > 0:
		what = count(t.count, "belt", "belts")
	}
	switch t.odd {
	case "":
		return where + ": " + what + ". Each column is what its heading says."
	case noColumns:
		return where + ": " + what + ", read from what the lines say."
	}
	return where + ": " + what + ". " + inquiry.Capital(t.odd)
}

func tabs(names []string) string {
	if len(names) == 1 {
		return "tab “" + names[0] + "”"
	}
	quoted := make([]string, 0, 4)
	for i, n := range names {
		if i == 3 && len(names) > 4 {
			return "tabs " + strings.Join(quoted, ", ") + " and " + strconv.Itoa(len(names)-3) + " more"
		}
		quoted = append(quoted, "“"+n+"”")
	}
	return "tabs " + strings.Join(quoted[:len(quoted)-1], ", ") + " and " + quoted[len(quoted)-1]
}

const noColumns = "-"

// odd says how those columns were read of which the heading alone does not say it; "" where there are none.
func odd(lex *lexicon.Lexicon, columns []reading.Role) string {
	if len(columns) == 0 {
		return noColumns
	}
	visits := 0
	for _, c := range columns {
		visits = max(visits, visitOf(c.Role))
	}
	var order []string
	says := map[string]*readAs{}
	plain := 0
	for _, c := range columns {
		if c.Role == "" {
			continue
		}
		if isPlain(lex, c, visits) {
			plain++
			continue
		}
		role, visit := c.Role, visitOf(c.Role)
		if visit > 0 {
			role = strings.TrimPrefix(c.Role, "check"+strconv.Itoa(visit))
		}
		if says[role] == nil {
			says[role] = &readAs{role: role}
			order = append(order, role)
		}
		says[role].add(headed(c), visit)
	}
	if len(order) == 0 {
		return ""
	}
	var parts []string
	for _, role := range order {
		parts = append(parts, says[role].clause())
	}
	s := strings.Join(parts, "; ") + "."
	if plain > 0 {
		s += " The other columns are what their headings say."
	}
	return s
}

// A readAs gathers the headings of columns that were read alike but for the check they tell of.
type readAs struct {
	role     string
	headings []string
	checks   []int // beside each heading; 0 for none
}

func (s *readAs) add(heading string, check int) {
	for i := range s.headings {
		if s.headings[i] == heading && s.checks[i] == check {
			return
		}
	}
	s.headings = append(s.headings, heading)
	s.checks = append(s.checks, check)
}

// clause says it: “1st” and “2nd” are the days of checks 1 and 2.
func (s *readAs) clause() string {
	if s.checks[0] == 0 {
		return joined(few(s.headings)) + isOrAre(len(s.headings)) + meaning(s.role)
	}
	headings := slices.Compact(slices.Sorted(slices.Values(s.headings)))
	switch {
	case len(headings) == 1 && len(s.checks) > 1:
		return headings[0] + " is " + checkMeanings[s.role][0] + " each check" + checkMeanings[s.role][1]
	case len(headings) > 1 && len(headings) == len(s.checks) && slices.IsSorted(s.checks) && len(slices.Compact(slices.Clone(s.checks))) == len(s.checks) && len(headings) <= 4:
		var checks []string
		for _, c := range s.checks {
			checks = append(checks, strconv.Itoa(c))
		}
		return joined(s.headings) + " are " + strings.Replace(checkMeanings[s.role][0], "the day", "the days", 1) + " checks " + joined(checks) + checkMeanings[s.role][1]
	}
	var parts []string
	for _, check := range slices.Compact(slices.Sorted(slices.Values(s.checks))) {
		var of []string
		for i, c := range s.checks {
			if c == check {
				of = append(of, s.headings[i])
			}
		}
		parts = append(parts, joined(few(of))+isOrAre(len(of))+checkMeanings[s.role][0]+" check "+strconv.Itoa(check)+checkMeanings[s.role][1])
	}
	return strings.Join(parts, "; ")
}

// checkMeanings says what a column of a check holds, before and after the check is named.
var checkMeanings = map[string][2]string{"_on": {"the day of", ""}, "": {"what", " found"}, "_eggs": {"the eggs left at", ""}}

func isOrAre(n int) string {
	if n == 1 {
		return " is "
	}
	return " are "
}

// few cuts a list of more than three down to two and a number.
func few(list []string) []string {
	if len(list) <= 3 {
		return list
	}
	return append(slices.Clone(list[:2]), fmt.Sprintf("%d more", len(list)-2))
}

func joined(list []string) string {
	if len(list) == 1 {
		return list[0]
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// headed names a column by its heading, or by its place where it has none.
func headed(c reading.Role) string {
	switch {
	case c.Heading != "":
		return "“" + inquiry.Short(c.Heading) + "”"
	case c.Column != "" && c.Column[0] >= '0' && c.Column[0] <= '9':
		return "row " + c.Column
	}
	return "column " + c.Column
}

// isPlain tells whether a heading alone says what its column was read as.
func isPlain(lex *lexicon.Lexicon, c reading.Role, visits int) bool {
	if strings.EqualFold(lexicon.Fold(c.Heading), lexicon.Fold(c.Role)) {
		return true
	}
	h := lex.Heading(c.Heading)
	if h.Sure < 0.9 || h.Date.Form != lexicon.NoDate {
		return false
	}
	visit := visitOf(c.Role)
	if visit == 0 {
		return h.Role.Name() == c.Role || h.Role == lexicon.Feature || h.Role == lexicon.Count && strings.HasPrefix(c.Role, "count_") || h.Role == lexicon.DaysOut && c.Role == "checked_on"
	}
	if h.Visit != visit && !(h.Visit == 0 && visits == 1) && !(h.Visit == lexicon.Last && visit == visits) {
		return false
	}
	switch {
	case strings.HasSuffix(c.Role, "_on"):
		return h.Role == lexicon.CheckOn || h.Role == lexicon.DaysOut
	case strings.HasSuffix(c.Role, "_eggs"):
		return h.Role == lexicon.EggsLeft
	}
	return h.Role == lexicon.Found
}

// visitOf returns the number of the visit a role belongs to; 0 for none.
func visitOf(role string) int {
	rest, ok := strings.CutPrefix(role, "check")
	if !ok {
		return 0
	}
	n, _, _ := strings.Cut(rest, "_")
	visit, _ := strconv.Atoi(n) // "checked_on" is of no numbered visit
	return visit
}

// meanings says roles in the words of the field.
var meanings = map[string]string{
	"ranch": "the ranch", "site": "the pasture", "season": "the year", "transect": "the line", "nest": "the nest's number", "substrate": "the cover", "plant": "the plant",
	"set_on": "the day it was set", "eggs_set": "the eggs set", "checked_on": "the day of the check", "check": "a check", "state": "what was found", "eggs_left": "the eggs left",
	"days_out": "days after setting", "look": "which check it is", "second_look": "what a second person found", "observer": "who walked", "steps": "the steps to the nest",
	"bearing": "the direction to the nest", "spot": "the way to the nest", "remains": "the remains", "trace": "tracks and signs", "guess": "the crew's guess", "lost_how": "how it was lost",
	"camera": "the camera", "camera_on": "the day of loss on camera", "notes": "remarks", "length": "the length of the belt", "length_unit": "the unit of the length", "width": "the width of the belt",
	"width_unit": "the unit of the width", "unit": "the unit", "step_length": "feet a step", "clumps": "the clumps counted", "belt": "the belt", "belt_area": "the area of the belt",
	"owner": "the owner", "region": "the area of the cooperative", "site_type": "the kind of ground", "area": "the acreage", "area_unit": "the unit of the acreage",
}

// meaning says in the words of the field what a column was read as.
func meaning(role string) string {
	if says := meanings[role]; says != "" {
		return says
	}
	if of, ok := strings.CutPrefix(role, "count_"); ok {
		return "the clumps of " + strings.ReplaceAll(of, "_", " ")
	}
	return "the remains" // one of the questions of the key
}

// tidied prints what was changed in reading, notes of one kind in one paragraph.
func (a *analysis) tidied(b *strings.Builder) {
	if len(a.read.Tidied) == 0 {
		return
	}
	title(b, "What we tidied", '=')
	var order []string
	texts := map[string][]string{}
	for _, t := range a.read.Tidied {
		if texts[t.Kind] == nil {
			order = append(order, t.Kind)
		}
		if !slices.Contains(texts[t.Kind], t.Text) {
			texts[t.Kind] = append(texts[t.Kind], t.Text)
		}
	}
	for _, kind := range order {
		para(b, "", strings.Join(likewise(texts[kind]), " "))
	}
}

// likewise says sentences that differ in their words and rows alone once, where there are many.
func likewise(texts []string) []string {
	first := map[string]int{}
	more := map[int]int{}
	var out []string
	for _, t := range texts {
		key := varies.ReplaceAllString(t, "")
		i, seen := first[key]
		if seen && len(texts) > 3 {
			more[i]++
			continue
		}
		if !seen {
			first[key] = len(out)
		}
		out = append(out, t)
	}
	for i, n := range more {
		out[i] = strings.TrimSuffix(out[i], ".") + "; likewise in " + count(n, "more place.", "more places.")
	}
	return out
}

// A reason for which cells became nothing names a column, or rows before a colon.
var columnNotUsed = regexp.MustCompile(`^The column (“.*”) (?:in .* )?was not used\.$`)

// setAside prints what became nothing: each reason once for a file, with where.
func (a *analysis) setAside(b *strings.Builder) {
	if len(a.read.NotUsed) == 0 {
		return
	}
	title(b, "What we set aside", '=')
	type key struct{ file, reason string }
	var order []key
	columns := map[key][]string{}
	places := map[key]*place{}
	for _, s := range a.read.NotUsed {
		if len(s.Cells) == 0 {
			para(b, "", s.Text)
			continue
		}
		k := key{file: s.Cells[0].File}
		if m := columnNotUsed.FindStringSubmatch(s.Text); m != nil {
			if columns[k] == nil {
				order = append(order, k)
			}
			if !slices.Contains(columns[k], m[1]) {
				columns[k] = append(columns[k], m[1])
			}
			continue
		}
		_, reason, ok := strings.Cut(s.Text, ": ")
		if !ok {
			para(b, "", s.Text)
			continue
		}
		k.reason = reason
		if places[k] == nil {
			places[k] = &place{rows: map[string][]int{}}
			order = append(order, k)
		}
		places[k].add(s.Cells)
	}
	for _, k := range order {
		if k.reason != "" {
			para(b, "", k.file+", "+places[k].String()+": "+k.reason)
			continue
		}
		of := columns[k]
		if len(of) == 1 {
			para(b, "", k.file+": the column "+of[0]+" was not used.")
		} else {
			para(b, "", k.file+": the columns "+joined(of)+" were not used.")
		}
	}
}

// A place is rows of one file, by tab.
type place struct {
	tabs []string
	rows map[string][]int
}

func (p *place) add(cells []survey.Cell) {
	for _, c := range cells {
		if p.rows[c.Sheet] == nil {
			p.tabs = append(p.tabs, c.Sheet)
		}
		p.rows[c.Sheet] = append(p.rows[c.Sheet], c.Row)
	}
}

// String names the rows, or of many tabs the tabs alone.
func (p *place) String() string {
	if len(p.tabs) > 2 {
		return tabs(p.tabs)
	}
	var parts []string
	for _, t := range p.tabs {
		if t == "" {
			parts = append(parts, spans(p.rows[t]))
		} else {
			parts = append(parts, "tab “"+t+"” "+spans(p.rows[t]))
		}
	}
	return joined(parts)
}

// questions prints what there is to ask: first what must be answered, then what had better be looked at.
func (a *analysis) questions(b *strings.Builder) {
	for _, part := range []struct {
		weight inquiry.Weight
		title  string
		says   string
	}{
		{inquiry.MustAnswer, "Please answer", "What hangs on this is in no figure yet."},
		{inquiry.PleaseLook, "Please look", "Until you say otherwise, the choice marked * holds."},
	} {
		first := true
		for _, q := range a.read.Questions {
			if q.Weight != part.weight {
				continue
			}
			if first {
				title(b, part.title, '=')
				para(b, "", part.says)
				first = false
			}
			printQuestion(b, q)
		}
	}
}

func printQuestion(b *strings.Builder, q inquiry.Question) {
	b.WriteByte('\n')
	para(b, "", q.Text)
	fmt.Fprintf(b, "  question %s\n", q.ID)
	width := 0
	for _, c := range q.Choices {
		width = max(width, len([]rune(c.ID)))
	}
	for _, c := range q.Choices {
		mark := ' '
		if c.ID == q.Default {
			mark = '*'
		}
		fmt.Fprintf(b, "  %c %-*s  %s\n", mark, width, c.ID, c.Label)
	}
}

// A complaint is one thing that is wrong, wherever it stands.
type complaint struct {
	file, sheet, column string
	says                string // as it was first said
	first               int    // the row it was said of
	differs             bool   // it is said otherwise of other rows
	rows                []int
}

// varies are the parts of a sentence that differ from row to row: what the cell says, numbers and lists of them, and the
// name of a nest.
var varies = regexp.MustCompile(`“[^”]*”|\brows? |[0-9]+|[–,]|\band (?:[0-9]|others|“)|[Nn]est \S+ of transect .{1,20}? (?:was|stands|had)`)

// problems prints what could not be used, each complaint once with all its rows. What waits for a question has been said
// there.
func (a *analysis) problems(b *strings.Builder) {
	asked := a.asked()
	var order []*complaint
	of := map[string]*complaint{}
	total := 0
	for _, p := range a.refused {
		at := survey.Cell{File: p.File, Sheet: p.Sheet, Row: p.Row}
		if columns, ok := asked[at]; ok && (p.Column == "" || slices.Contains(columns, "") || slices.Contains(columns, p.Column)) {
			continue
		}
		total++
		key := strings.Join([]string{p.File, p.Sheet, p.Column, varies.ReplaceAllString(p.Problem, "#")}, "\x00")
		c := of[key]
		if c == nil {
			c = &complaint{file: p.File, sheet: p.Sheet, column: a.columnName(p), says: p.Problem, first: p.Row}
			of[key] = c
			order = append(order, c)
		}
		c.differs = c.differs || p.Problem != c.says
		if !slices.Contains(c.rows, p.Row) {
			c.rows = append(c.rows, p.Row)
		}
	}
	if total == 0 {
		return
	}
	title(b, "What we could not use", '=')
	para(b, "", "The other rows are counted below.")
	for _, c := range order {
		para(b, "", c.where()+": "+c.says)
	}
}

// asked holds the rows that wait for a question that is printed, each with the columns asked about; "" is the whole row.
func (a *analysis) asked() map[survey.Cell][]string {
	rows := map[survey.Cell][]string{}
	for _, q := range a.read.Questions {
		if q.Weight != inquiry.MustAnswer {
			continue
		}
		for _, c := range q.Cells {
			at := survey.Cell{File: c.File, Sheet: c.Sheet, Row: c.Row}
			if c.Row > 0 && !slices.Contains(rows[at], c.Column) {
				rows[at] = append(rows[at], c.Column)
			}
		}
	}
	return rows
}

// columnName returns the heading a problem stands under, "" where the sheet has none of that name.
func (a *analysis) columnName(p inquiry.Problem) string {
	for _, r := range a.read.Roles {
		if r.File == p.File && r.Sheet == p.Sheet && (r.Heading == p.Column || r.Heading == "" && r.Column == p.Column) {
			return p.Column
		}
	}
	return ""
}

// where says where a complaint is, as the spreadsheet program numbers it.
func (c *complaint) where() string {
	parts := []string{c.file}
	if c.sheet != "" {
		parts = append(parts, "tab “"+c.sheet+"”")
	}
	if rows := spans(c.rows); rows != "" {
		parts = append(parts, rows)
	}
	if c.column != "" {
		parts = append(parts, "column “"+c.column+"”")
	}
	if c.differs {
		parts = append(parts, fmt.Sprintf("as in row %d", c.first))
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}

// spans lists rows as "row 5" or "rows 4–9 and 12".
func spans(rows []int) string {
	slices.Sort(rows)
	rows = slices.DeleteFunc(slices.Compact(rows), func(r int) bool { return r == 0 })
	var parts []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		switch {
		case len(parts) == 20:
			return "rows " + joined(append(parts, fmt.Sprintf("%d more", len(rows)-i)))
		case j == i:
			parts = append(parts, strconv.Itoa(rows[i]))
		default:
			parts = append(parts, fmt.Sprintf("%d–%d", rows[i], rows[j]))
		}
		i = j + 1
	}
	switch len(rows) {
	case 0:
		return ""
	case 1:
		return "row " + parts[0]
	}
	return "rows " + joined(parts)
}
