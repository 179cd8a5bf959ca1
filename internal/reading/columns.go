package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

type tableKind uint8

const (
	notOurs    tableKind = iota
	nestTable            // a nest a row
	visitTable           // a visit a row
	lineTable            // a line a row: days, pastures, exceptions, belts
	beltTable            //
	siteTable            //
	keyTable             // codes and what they mean
	proseTable           // days and what was done, in sentences
)

// sampleRows is how many records of a block are looked at to tell what its columns hold.
const sampleRows = 300

// A column is one column of a block.
type column struct {
	at    int // in the grid
	head  lexicon.Heading
	role  lexicon.Role
	visit int // into block.visits, -1 for none
	codes *codeGroup
	asks  lexicon.Mark
	stats
	why      string // for a column that is not used
	fixed    bool   // the sender said what it holds
	pair     pairStyle
	style    string // of names that hold a line and a nest
	colors   bool   // what was found is told by the color
	sentence bool   // visits are told in sentences
	ofMonth  bool   // its numbers are days of the month
	told     bool   // its cells list counts of clumps
	sets     bool   // it names the row that sets each nest

	// by word, as it was read first
	sights     byText[*readSight]
	coverWords byText[*readCover]
	remains    byText[*readRemain]
}

type pairStyle uint8

const (
	noPair    pairStyle = iota
	dateState           // "May 12 - ok"
	stateDate           // "ok 5/12"
)

// Stats are how many cells of a column could be what.
type stats struct {
	n         int // filled
	rows      int // records looked at
	date      int
	after     int // days counted from setting
	monthDay  int
	num       int
	whole     int
	small     int // 0 to 4
	year      int
	doy       int // 60 to 300
	days      int // 5 to 75
	sight     int // tells what was found, and could tell little else
	weak      int // a letter or a number that could tell what was found
	cover     int
	coverWeak int
	id        int
	label     int // names a nest by its word: n1, nest 2, #3
	prose     int // five words or more
	animal    int
	yes       int
	fraction  int
	ditto     int
	event     int
	range_    int
	dash      int    // "--", "n/a": nothing to say
	rule      int    // covers by odd and even
	idStyle   string // of most names that hold a line and a nest
	styles    map[string]int
	dated     int // a date and a state in one cell
	timed     int // a day with a time of day
	led       int // begins with a day in figures
	long      int // visits in sentences
	fill      int // painted
	fillWords int // of them, with a text
	textual   int
	distinct  map[string]int
	first     string
	rising    bool // whole numbers that never fall
	unique    bool
	struck    int
	maxNum    float64
	minNum    float64
}

// headed makes the columns of a block from its headings.
func (r *reader) headed(b *block) []column {
	cols := make([]column, b.right-b.left)
	var texts []string
	switch len(b.heads) {
	case 2:
		s := bandScan{r: r, g: b.g, left: b.left, right: b.right}
		texts = s.stacked(b.heads[0], b.heads[1])
	case 1:
		for col := b.left; col < b.right; col++ {
			texts = append(texts, b.g.lines[b.heads[0]].at(col).text)
		}
	}
	for i := range cols {
		cols[i] = column{at: b.left + i, visit: -1}
		if i < len(texts) && texts[i] != "" {
			cols[i].head = r.kindOf(texts[i]).head
		}
	}
	return cols
}

// measure counts what the cells of each column could be.
func (r *reader) measure(b *block) {
	records := b.records[:min(len(b.records), sampleRows)]
	for i := range b.cols {
		c := &b.cols[i]
		c.stats = stats{distinct: map[string]int{}, styles: map[string]int{}, rising: true, minNum: 1e18, maxNum: -1e18}
		last := -1.0
		for _, rec := range records {
			c.rows++
			cl := b.g.lines[rec.row].at(c.at)
			if cl.look().Fill != "" {
				c.fill++
				if cl.text != "" {
					c.fillWords++
				}
			}
			if cl.text == "" {
				continue
			}
			c.n++
			if c.first == "" {
				c.first = cl.text
			}
			if cl.look().Struck {
				c.struck++
			}
			k := r.kind(cl)
			if k.ditto {
				c.ditto++
				continue
			}
			if len(c.distinct) < 80 || c.distinct[cl.text] > 0 {
				c.distinct[cl.text]++
			}
			r.count(c, k, cl)
			if k.whole {
				if k.num < last {
					c.rising = false
				}
				last = k.num
			}
		}
		c.unique = c.n-c.ditto > 1 && len(c.distinct) == c.n-c.ditto
		if c.whole == 0 {
			c.rising = false
		}
		if c.num > c.whole && c.id > 0 && !r.decimalNames(b, c) {
			c.id, c.styles = 0, nil
		}
		for style, n := range c.styles {
			if n*10 >= c.id*7 {
				c.idStyle = style
			}
		}
	}
}

// decimalNames tells whether numbers such as 1.1, 1.2, 2.1 are names of a line and a nest: the part behind the point
// rises while the part before it stays. Measures do not.
func (r *reader) decimalNames(b *block, c *column) bool {
	steps, n, was := 0, 0, 0
	var last ident
	lines := map[string]bool{}
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		k := r.kind(b.g.lines[rec.row].at(c.at))
		nest, ok := lexicon.Atoi(k.id.nest)
		if !k.isID || !ok {
			continue
		}
		if n++; n > 1 && (k.id.line == last.line && nest >= was || k.id.line != last.line && !lines[k.id.line]) {
			steps++
		}
		last, was = k.id, nest
		lines[k.id.line] = true
	}
	return n > 2 && steps*10 >= (n-1)*8 && len(lines)*2 <= n
}

// Between these days a bare number is taken for a day by itself: 36 000 to 60 000 where days count from 1900.
var firstSerial, lastSerial = survey.DateOf(1998, 7, 24), survey.DateOf(2064, 4, 8)

func (r *reader) count(c *column, k *kind, cl *cell) {
	switch k.date.Form {
	case lexicon.AfterDate:
		c.after++
	case lexicon.MonthDay:
		c.monthDay++
	case lexicon.NoDate:
	case lexicon.SerialDate:
		if day := r.dateOf(cl, false).Day; cl.look().Date != 0 || day >= firstSerial && day < lastSerial {
			c.date++
		}
	default:
		of := k.sight.Of > 0 && k.sight.Of <= 4 && k.date.Year == 0 && cl.look().Date == 0 && c.head.Role != lexicon.SetOn && c.head.Role != lexicon.CheckOn // 2/3
		dayHead := c.head.Role == lexicon.SetOn || c.head.Role == lexicon.CheckOn || c.head.Role == lexicon.Check
		if !of && !(k.isNum && cl.look().Date == 0 && len(cl.text) <= 6 && !(dayHead && len(cl.text) == 6)) { // 050322
			c.date++
		}
	}
	if k.sight.Mark == lexicon.Skipped && len(cl.text) <= 4 {
		c.dash++
	}
	if k.isNum {
		c.num++
		c.minNum, c.maxNum = min(c.minNum, k.num), max(c.maxNum, k.num)
	}
	if k.whole {
		c.whole++
		if k.num >= 0 && k.num <= 4 {
			c.small++
		}
		if k.num >= 1950 && k.num <= 2100 {
			c.year++
		}
		if k.num >= 60 && k.num <= 300 {
			c.doy++
		}
		if k.num >= 5 && k.num <= 75 {
			c.days++
		}
	}
	s := &k.sight
	switch {
	case s.Mark == lexicon.Yes || s.Mark == lexicon.No:
		c.yes++
		c.weak++
	case s.Mark == lexicon.SetOut:
		c.event++
	case s.Mark == lexicon.Unknown || s.Mark == lexicon.Blank:
	case s.Weak || s.Mark == lexicon.Zero || s.Mark == lexicon.One:
		c.weak++
	default:
		c.sight++
	}
	if s.Of > 0 && s.Of <= 6 {
		c.fraction++
	}
	if k.isCover {
		if k.cover.Weak || k.cover.How == lexicon.Misspelt {
			c.coverWeak++
		} else {
			c.cover++
		}
	}
	if k.isID {
		c.id++
		c.styles[k.id.style]++
	}
	if nestLabel.MatchString(cl.text) {
		c.label++
	}
	if k.animal {
		c.animal++
	}
	if k.words >= 5 {
		c.prose++
	}
	if k.words >= 4 && parity.MatchString(cl.text) && r.coverRuleIn(r.scan(cl.text)) != nil {
		c.rule++
	}
	if leads(cl.text) {
		c.led++
	}
	if k.date.Form != lexicon.NoDate && strings.Contains(cl.text, ":") {
		c.timed++
	}
	if k.words >= 2 {
		if d, st := r.dated(k); d != lexicon.NoDate && st {
			c.dated++
		}
		if k.words >= 3 && len(r.tellings(cl.text)) > 0 {
			c.long++
		}
	}
	if _, ok := nestRange(cl.text); ok {
		c.range_++
	}
	if !k.isNum && k.date.Form == lexicon.NoDate {
		c.textual++
	}
}

var nestLabel = regexp.MustCompile(`(?i)^(?:n|nest|nido|#|no\.)\s*#?\d{1,3}[a-z]?$`)

// share is a part of the cells that are neither blank nor ditto marks.
func (c *column) share(part int) float64 {
	if c.n == c.ditto {
		return 0
	}
	return float64(part) / float64(c.n-c.ditto)
}

// toldShare is a part of the cells that say anything: no blank, no ditto mark and no dash.
func (c *column) toldShare(part int) float64 {
	if n := c.n - c.ditto - c.dash; n > 0 {
		return float64(part) / float64(n)
	}
	return 0
}

// isDate tells whether the cells are days. Names such as 1-1, 1-2, 1-3 could be days too, but no two are alike.
func (c *column) isDate() bool {
	n := c.n - c.ditto - c.dash
	if c.date == 0 && (c.head.Role == lexicon.Line || c.head.Role == lexicon.Nest || c.head.Role == lexicon.Site) { // W1 is a line, and no week
		return false
	}
	return n > 0 && (c.date+c.after)*10 >= n*6 && !c.namesNests()
}

func (c *column) namesNests() bool {
	return c.share(c.id) >= 0.7 && c.n-c.ditto >= 4 && len(c.distinct)*10 >= min(c.n-c.ditto, 80)*8
}

func (c *column) isMonthDay() bool { return c.share(c.monthDay) >= 0.8 && c.n >= 3 }

// tellsState tells how well the contents read as what a look found: 0 to 1.
func (c *column) tellsState() float64 {
	if c.n == c.ditto {
		return 0
	}
	if c.codes != nil && !c.codes.covers {
		return 1
	}
	return c.share(c.sight + c.weak/2)
}

// mayTell tells whether the contents could be what a look found, letters and numbers included.
func (c *column) mayTell() bool {
	return c.n > c.ditto && c.share(c.sight+c.weak) >= 0.5
}

func (c *column) tellsCover() float64 {
	if c.codes != nil && c.codes.covers {
		return 1
	}
	return c.share(c.cover) + 0.6*c.share(c.coverWeak)
}

// understand tells what each column of a block holds, and what kind of table it is.
func (r *reader) understand(b *block) {
	if b.kind == keyTable {
		return
	}
	r.blankZeros(b)
	r.unnumber(b)
	r.shareColumns(b)
	r.eggColumnsJoined(b)
	r.tickedColumns(b)
	r.histories(b)
	r.lastGoodLooks(b)
	r.measure(b)
	r.runOnHeads(b)
	r.findCodes(b)
	r.chooseRoles(b)
	r.initialCovers(b)
	r.rolesByHeading(b)
	r.sizeHeads(b)
	r.sizesByUnit(b)
	r.rolesByContents(b)
	r.placesByRows(b)
	r.findVisits(b)
	r.settleKind(b)
	r.applyRoleAnswers(b)
	r.askRivals(b)
	r.askNest(b)
	r.askFound(b)
	r.askLook(b)
}

// findCodes ties keys to columns.
func (r *reader) findCodes(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		h := c.head.Role
		if h == lexicon.Line || h == lexicon.Nest || h == lexicon.Ranch || h == lexicon.Site || h == lexicon.Season || h == lexicon.Notes || c.isDate() || h == lexicon.Count || h == lexicon.Length || h == lexicon.RowNumber || h == lexicon.Guess || h == lexicon.Who {
			continue
		}
		states, covers := r.codesFor(b, c, false), r.codesFor(b, c, true)
		likelyCover := h == lexicon.Substrate || h == lexicon.Plant
		likelyState := h == lexicon.Found || h == lexicon.Check || h == lexicon.EggsLeft || h == lexicon.CheckOn
		switch {
		case covers != nil && (likelyCover || states == nil && !likelyState && (h == lexicon.NoRole || covers.field != "")):
			c.codes = covers
		case states != nil && (likelyState || !likelyCover && (h == lexicon.NoRole || states.field != "" || h == lexicon.SetOn || h == lexicon.Event || h == lexicon.Trace)):
			c.codes = states
		case covers != nil && h == lexicon.NoRole:
			c.codes = covers
		}
		if c.codes != nil && c.codes.field == "" && !r.firing("codes", r.rolePlace(b, c)) {
			c.codes = nil
		}
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.fill*3 >= c.rows && c.rows > 0 && c.fill > 0 && r.colorKey(b) != nil {
			c.colors = true
		}
	}
}

// colorKey returns the key of colors that holds for a block.
func (r *reader) colorKey(b *block) *codeGroup {
	for _, k := range r.codes {
		if len(k.colors) > 0 && k.file == b.g.File {
			return k
		}
	}
	return nil
}

// rolesByHeading gives each column the role its heading names, where what stands below can be that.
func (r *reader) rolesByHeading(b *block) {
	ours := b.inOurForm()
	for i := range b.cols {
		c := &b.cols[i]
		if c.head.Role == lexicon.SecondLook && c.head.Visit == 2 && !c.asOurs() && (r.firstLookBeside(b) || c.isDate()) {
			c.head.Role = lexicon.Check
		}
		if c.head.Role == lexicon.CameraOn && !r.couldBe(c, lexicon.CameraOn) && !(ours && c.asOurs()) { // "taken on camera" above animals
			c.head.Role = lexicon.Camera
		}
		r.chooseRole(b, c)
		if c.head.Role == lexicon.NoRole || !r.couldBe(c, c.head.Role) && !(ours && c.asOurs()) {
			continue
		}
		c.role = c.head.Role
		if c.role == lexicon.EggsLeft && c.yes > 0 && c.share(c.yes+c.sight) >= 0.8 && c.share(c.small) < 0.2 { // "Eggs there?" above yes and no
			c.role = lexicon.Found
			if c.asks == lexicon.Unknown {
				c.asks = lexicon.Intact
			}
		}
		if c.role == lexicon.StepLength && c.num > 0 && c.minNum > 60 { // "Steps long": how many there were
			c.role, c.head.Unit = lexicon.Length, "steps"
		}
	}
	r.timeStamps(b)
	r.countsOfNests(b)
	// Of two columns for one thing the surer keeps it.
	single := map[lexicon.Role]*column{}
	for i := range b.cols {
		c := &b.cols[i]
		switch c.role {
		case lexicon.NoRole, lexicon.Check, lexicon.CheckOn, lexicon.Found, lexicon.EggsLeft, lexicon.DaysOut, lexicon.Feature, lexicon.Count, lexicon.Notes, lexicon.Passed, lexicon.Who, lexicon.SetOn, lexicon.Trace, lexicon.Guess, lexicon.LostHow, lexicon.RowNumber, lexicon.SecondLook:
			continue
		}
		was := single[c.role]
		if was == nil {
			single[c.role] = c
			continue
		}
		worse := c
		if r.fit(c) > r.fit(was)+0.05 {
			worse = was
			single[c.role] = c
		}
		switch {
		case worse.role == lexicon.Substrate && worse.cover > 0:
			worse.role = lexicon.Plant
		default:
			worse.role = lexicon.NoRole
		}
	}
}

// timeStamps passes over columns of days with a time of day under headings nobody knows, where another column holds days: they
// say when a form was sent.
func (r *reader) timeStamps(b *block) {
	days := 0
	for i := range b.cols {
		if c := &b.cols[i]; c.isDate() && c.share(c.timed) < 0.5 {
			days++
		}
	}
	for i := range b.cols {
		if c := &b.cols[i]; days > 0 && c.role == lexicon.NoRole && c.head.Text != "" && c.share(c.timed) >= 0.9 {
			c.role = lexicon.Passed
		}
	}
}

// oneColumn tells whether a table has one column of a role.
func oneColumn(role lexicon.Role) bool {
	switch role {
	case lexicon.Ranch, lexicon.Site, lexicon.Season, lexicon.Line, lexicon.Nest, lexicon.Substrate, lexicon.SetOn, lexicon.Event:
		return true
	}
	return false
}

// chooseRole chooses among the roles that the words of a long heading name the one that fits best what stands below: "What
// cover is the nest in?" above covers. A role that a surer heading names already is not taken twice.
func (r *reader) chooseRole(b *block, c *column) {
	if len(c.head.Also) < 2 || c.n == 0 {
		return
	}
	if slices.Contains(c.head.Also, lexicon.Event) { // what was done, and at a check what was found
		for t := range c.distinct {
			if setEvent(t) {
				c.head.Role = lexicon.Event
				return
			}
		}
	}
	best, most := lexicon.NoRole, 0.0
	for _, role := range append([]lexicon.Role{c.head.Role}, c.head.Also...) {
		if !r.couldBe(c, role) || slices.ContainsFunc(b.cols, func(o column) bool {
			return o.at != c.at && o.head.Role == role && o.head.Sure > c.head.Sure && oneColumn(role)
		}) {
			continue
		}
		was := c.head.Role
		c.head.Role = role
		fit := r.makesSense(c)
		c.head.Role = was
		if role == lexicon.Line && c.unique && b.hasHead(lexicon.Nest) { // each line once a row is no line of several nests
			fit *= 0.5
		}
		if fit > most+0.001 {
			best, most = role, fit
		}
	}
	if best != lexicon.NoRole {
		c.head.Role = best
	}
}

// inOurForm tells whether a table is headed as our own sheets are. Then its headings are taken at their word, so that what
// stands below them and makes no sense is refused by its place, and no column goes unread.
func (b *block) inOurForm() bool {
	return slices.ContainsFunc(b.cols, func(c column) bool {
		return strings.Contains(c.head.Text, "_") && (c.asOurs() || c.head.Text == "check1_on")
	})
}

// asOurs tells whether a column is headed exactly as in our own sheets.
func (c *column) asOurs() bool {
	return c.head.Role != lexicon.NoRole && c.head.Text == c.head.Role.Name() || c.head.Role == lexicon.Count && strings.HasPrefix(c.head.Text, "count_")
}

// countsOfNests takes the role of nests from a column that only counts them: a row a line in a table of sums.
func (r *reader) countsOfNests(b *block) {
	var nests, line *column
	sums := false
	for i := range b.cols {
		switch c := &b.cols[i]; c.role {
		case lexicon.Nest:
			nests = c
		case lexicon.Line:
			line = c
		case lexicon.Count, lexicon.Length, lexicon.SetOn:
			sums = sums || c.role != lexicon.SetOn
		}
	}
	if nests == nil || line == nil || !line.unique || nests.share(nests.whole) < 1 || nests.unique && nests.rising {
		return
	}
	switch lexicon.Fold(nests.head.Text) {
	case "nests", "nidos", "nonests", "numberofnests", "nestsset":
	default:
		return
	}
	nests.role, nests.why = lexicon.NoRole, "sum"
	for i := range b.cols { // and what stands beside it counts or shares them
		if c := &b.cols[i]; c.role == lexicon.Found || c.role == lexicon.EggsLeft || c.role == lexicon.Check {
			c.role, c.why = lexicon.NoRole, "sum"
			c.head.Role = lexicon.NoRole
		}
	}
}

// fit says how well heading and contents of a column support its role.
func (r *reader) fit(c *column) float64 {
	s := c.head.Sure
	switch c.role {
	case lexicon.Nest:
		s += c.share(c.whole+c.id) * 0.5
		if c.n*2 < c.rows {
			s -= 0.5
		}
	case lexicon.Substrate, lexicon.Plant:
		s += c.tellsCover()
	case lexicon.Line, lexicon.Site, lexicon.Ranch:
		if c.prose > 0 {
			s -= 0.5
		}
	case lexicon.Event:
		s += r.tellsEvent(c)
	}
	if c.n == 0 {
		s -= 1
	}
	return s
}

var eventWords = regexp.MustCompile(`(?i)^\W*(?:revis\pL*|che?c?k\w*|ck\w*|look\w*|visit\w*|vuelta|round|trip|ronda|set|put|placed|deployed?|puso|puse|puesta?o?s?|colo\w+|(?:1st|2nd|3rd|first|second|third|primera?|segunda?|tercera?)\b|w(?:ee)?k\b)`)

// tellsEvent is the share of cells that say which visit a row is of.
func (r *reader) tellsEvent(c *column) float64 {
	n, all := 0, 0
	for t, k := range c.distinct {
		all += k
		if e := r.kindOf(t); eventWords.MatchString(t) || e.head.Visit != 0 || e.head.Role == lexicon.SetOn || e.head.Role == lexicon.Check || e.head.Role == lexicon.Event || e.sight.Mark == lexicon.SetOut || e.whole && e.num >= 0 && e.num <= 9 {
			n += k
		}
	}
	if all == 0 {
		return 0
	}
	return float64(n) / float64(all)
}

// couldBe tells whether the contents of a column allow a role.
func (r *reader) couldBe(c *column, role lexicon.Role) bool {
	if c.n == 0 {
		return role != lexicon.Nest && role != lexicon.Line
	}
	date := c.isDate() || c.isMonthDay()
	switch role {
	case lexicon.Ranch, lexicon.Site:
		return !date && c.share(c.prose) < 0.3 && (c.tellsState() < 0.9 || c.head.Sure == 1)
	case lexicon.Line:
		return !date && c.share(c.prose) < 0.2 && c.share(c.sight) < 0.5
	case lexicon.Nest:
		return !date && c.share(c.prose) < 0.2 && c.share(c.sight) < 0.5 && (c.share(c.whole+c.id+c.range_) >= 0.5 || len(c.distinct) > c.rows/4)
	case lexicon.Season:
		return c.share(c.year) >= 0.5 || c.textual > 0 || c.share(c.whole) >= 0.9 && c.maxNum < 100
	case lexicon.Substrate:
		return !date && c.share(c.num) < 0.5 && c.tellsState() < 0.8 || c.codes != nil && c.codes.covers
	case lexicon.Plant:
		return !date && c.share(c.num) < 0.5 || c.codes != nil && c.codes.covers
	case lexicon.CameraOn: // a heading that speaks of a day and a camera leaves nothing else
		return c.head.Sure < 1 || date
	case lexicon.SetOn, lexicon.CheckOn:
		return date || c.toldShare(c.doy) >= 0.9 || c.toldShare(c.days) >= 0.9 || c.n > 0 && c.share(c.date+c.after) >= 0.3 && c.tellsState() < 0.5
	case lexicon.Count, lexicon.Clumps:
		return c.share(c.num) >= 0.4 || c.share(c.textual) < 0.9 && c.num > 0
	case lexicon.DaysOut:
		return c.toldShare(c.whole) >= 0.6 && !date
	case lexicon.Found:
		return !date || c.tellsState() > 0.5
	case lexicon.EggsLeft:
		return c.share(c.small+c.fraction+c.sight+c.weak) >= 0.5
	case lexicon.Event:
		return !date && c.share(c.prose) < 0.5 && (c.head.Sure == 1 || r.tellsEvent(c) >= 0.5)
	case lexicon.EggsSet:
		return c.share(c.small+c.whole) >= 0.5
	case lexicon.Width, lexicon.Length, lexicon.StepLength, lexicon.BeltArea, lexicon.Area:
		return c.num > 0 || c.textual > 0 && hasDigits(c.first)
	case lexicon.Steps:
		return hasDigits(c.first)
	case lexicon.Passed:
		return true
	case lexicon.SecondLook:
		return c.mayTell() && !date
	}
	return true
}

func hasDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if lexicon.Digit(s[i]) {
			return true
		}
	}
	return false
}

func (b *block) has(role lexicon.Role) bool { return b.column(role) != nil }

func (b *block) column(role lexicon.Role) *column {
	for i := range b.cols {
		if b.cols[i].role == role {
			return &b.cols[i]
		}
	}
	return nil
}

// rolesByContents gives roles to columns whose headings do not tell, from what they hold.
func (r *reader) rolesByContents(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.role == lexicon.Spot && c.share(c.id) >= 0.7 && !b.has(lexicon.Nest) {
			c.role = lexicon.Nest
		}
		if (c.role == lexicon.RowNumber || c.role == lexicon.Who || c.role == lexicon.NoRole) && c.share(c.id) >= 0.6 && !(b.has(lexicon.Count) && c.num == c.n) && !b.has(lexicon.Nest) && c.n*2 > c.rows && c.tellsCover() < 0.5 && c.n <= 4*len(c.distinct) && !(c.unnamed() && r.countsBeside(b, c)) {
			c.role = lexicon.Nest
		}
		if c.role == lexicon.Plant && !b.has(lexicon.Substrate) && c.tellsCover() > 0.4 {
			c.role = lexicon.Substrate
		}
		if c.role == lexicon.SetOn && !c.isDate() && !c.isMonthDay() && c.tellsCover() > 0.6 {
			c.role = lexicon.Substrate
		}
	}
	r.findRanch(b)
	r.findGuesses(b)
	r.findNotes(b)
	r.findLines(b)
	r.findSettingRows(b)
	r.findEvent(b)
	r.findCover(b)
	r.findNest(b)
	r.findBeltLine(b)
}

// unnamed tells whether the heading of a column says nothing of what it holds.
func (c *column) unnamed() bool { return c.head.Role == lexicon.NoRole || c.head.Sure < 0.5 }

// countsBeside tells whether names such as T1 are those of lines: the same name stands in several rows, and another column
// counts up within it.
func (r *reader) countsBeside(b *block, names *column) bool {
	if len(names.distinct)*2 > names.n {
		return false
	}
	for i := range b.cols {
		if c := &b.cols[i]; c.at != names.at && c.share(c.whole) >= 0.9 && len(c.distinct) >= 3 && c.maxNum <= 400 && c.year == 0 && r.countsUp(b, c) >= 0.8 {
			return true
		}
	}
	return false
}

// findGuesses takes a column under a heading nobody knows, in some of the rows, whose cells name animals and what else ends nests.
func (r *reader) findGuesses(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.n < 3 || !c.unnamed() || c.role != lexicon.NoRole || c.n*10 > c.rows*9 || c.share(c.textual) < 0.9 || c.share(c.prose) > 0.2 || c.codes != nil || b.has(lexicon.Guess) {
			continue
		}
		if c.share(c.animal) >= 0.5 && c.tellsCover() < 0.3 {
			c.role = lexicon.Guess
		}
	}
}

// findNotes takes texts under a heading nobody knows, in some of the rows and hardly two alike, for remarks.
func (r *reader) findNotes(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.n < 2 || !c.unnamed() || c.role != lexicon.NoRole || c.n*10 > c.rows*7 || c.share(c.textual) < 0.9 || c.isDate() || c.codes != nil {
			continue
		}
		if c.share(c.prose) >= 0.3 || len(c.distinct)*10 >= c.n*6 && c.share(c.sight) >= 0.2 && c.share(c.sight) < 0.8 && c.tellsCover() < 0.3 && c.share(c.animal) < 0.5 {
			c.role = lexicon.Notes
		}
	}
}

// findRanch takes a column under a heading nobody knows whose cells are named as ranches for theirs.
func (r *reader) findRanch(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.n < 3 || !c.unnamed() || c.role != lexicon.NoRole || b.has(lexicon.Ranch) || c.share(c.prose) > 0.2 {
			continue
		}
		n := 0
		for t, k := range c.distinct {
			if ranchNamed(t) != "" {
				n += k
			}
		}
		if n*10 >= (c.n-c.ditto)*8 {
			c.role = lexicon.Ranch
			return
		}
	}
}

// findLines takes the column whose cells name lines, "Line A", "Transect 2", for that of lines, where no heading names it.
func (r *reader) findLines(b *block) {
	if b.has(lexicon.Line) {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.n < 3 || c.fixed || c.role != lexicon.NoRole && c.role != lexicon.Spot && c.role != lexicon.Site && c.role != lexicon.RowNumber {
			continue
		}
		n := 0
		for t, k := range c.distinct {
			if lineLabel(t) != "" || lineName(t) != t {
				n += k
			}
		}
		if n*10 >= (c.n-c.ditto)*9 {
			c.role = lexicon.Line
			return
		}
	}
}

// findBeltLine looks for the column of lines of a table of belts, where no heading names it: names of lines, each once.
func (r *reader) findBeltLine(b *block) {
	if b.has(lexicon.Line) || b.has(lexicon.Nest) || !b.has(lexicon.Length) && !b.has(lexicon.Width) && !b.has(lexicon.Count) {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.n == 0 || c.role != lexicon.NoRole && c.role != lexicon.Clumps && c.role != lexicon.Belt || c.n*4 < c.rows*3 || c.isDate() || c.share(c.prose) > 0 {
			continue
		}
		lines := 0
		for t, n := range c.distinct {
			if lineHead(t) || r.kindOf(t).whole && r.kindOf(t).num < 100 || len([]rune(t)) <= 3 && !r.kindOf(t).isCover {
				lines += n
			}
		}
		if lines*10 >= c.n*9 && c.unique {
			c.role = lexicon.Line
			return
		}
		return
	}
}

// findSettingRows finds, where each nest has several rows, the column that names the row which sets it, whatever its heading: the
// first row of nearly every nest says "set", "Placed 3 eggs" or "Setting out" there, and no other row does. Where the others say
// what was found, it is what looks found; else which visit a row is of.
func (r *reader) findSettingRows(b *block) {
	nest := b.column(lexicon.Nest)
	if nest == nil {
		return
	}
	several := false // each nest has several rows
	for i := range b.cols {
		c := &b.cols[i]
		switch c.role {
		case lexicon.NoRole, lexicon.RowNumber, lexicon.SiteType, lexicon.Check, lexicon.CheckOn, lexicon.SetOn, lexicon.DaysOut, lexicon.Notes, lexicon.Event:
		default:
			continue
		}
		if c.n*10 < c.rows*9 || c.share(c.date) > 0.1 || !slices.ContainsFunc(b.cols, func(o column) bool { return o.at != c.at && o.share(o.date) >= 0.6 }) {
			continue
		}
		sets := false
		for t := range c.distinct {
			sets = sets || r.setsNest(t)
		}
		if several = several || sets && r.repeats(b, nest); !sets || !several {
			continue
		}
		nests, settings, told, others := map[string]bool{}, 0, 0, 0
		late := false
		for _, rec := range b.records[:min(len(b.records), wholeRows)] {
			l := &b.g.lines[rec.row]
			name := r.nestIn(b, l, rec.scope)
			text := l.at(c.at).text
			if name == "" || text == "" {
				continue
			}
			mark := r.kindOf(text).sight.Mark
			switch {
			case r.setsNest(text):
				late = late || nests[name]
				settings++
			default:
				others++
				if mark.State() != "" || mark == lexicon.Skipped {
					told++
				}
			}
			nests[name] = true
		}
		if late || others == 0 || settings*10 < len(nests)*8 {
			continue
		}
		role := lexicon.Event
		if told*10 >= others*7 {
			role = lexicon.Found
		}
		for k := range b.cols {
			if o := &b.cols[k]; k != i && o.role == role && (role == lexicon.Event || o.tellsState() < c.tellsState()) {
				o.role = lexicon.NoRole
				if o.tellsState() >= 0.5 {
					o.role, o.head.Role = lexicon.Found, lexicon.Found
				}
			}
		}
		c.role, c.head.Role, c.head.After, c.head.Visit, c.head.Set, c.sets = role, role, 0, 0, false, true
		return
	}
}

// setsNest tells whether a text says that a nest was set, and not what was found.
func (r *reader) setsNest(text string) bool {
	mark := r.kindOf(text).sight.Mark
	return mark == lexicon.SetOut || mark.State() == "" && setEvent(text)
}

// nestIn names the nest of a row, with the line that the row or what stands above it names.
func (r *reader) nestIn(b *block, l *line, sc *scope) string {
	nest := b.column(lexicon.Nest)
	name := l.at(nest.at).text
	if name == "" {
		return ""
	}
	for _, role := range []lexicon.Role{lexicon.Line, lexicon.Site, lexicon.Ranch} {
		if c := b.column(role); c != nil {
			name += "\x00" + l.at(c.at).text
		}
	}
	return name + "\x00" + sc.lineName()
}

// findEvent looks for the column that says of each row whether it sets a nest or checks it, where no heading names it.
func (r *reader) findEvent(b *block) {
	if b.has(lexicon.Event) || !b.has(lexicon.Nest) && !b.has(lexicon.Line) {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		asks := c.role == lexicon.Check && c.head.Visit == 0 && c.head.Date.Form == lexicon.NoDate && c.share(c.sight) < 0.3 // "Which check?"
		if c.role != lexicon.NoRole && c.role != lexicon.SiteType && !asks || c.n*2 < c.rows || len(c.distinct) < 2 || len(c.distinct) > 8 || c.isDate() || c.share(c.num) > 0.2 || r.tellsEvent(c) < 0.95 {
			continue
		}
		set, check := false, false
		for t := range c.distinct {
			if setEvent(t) || setPattern.MatchString(t) || r.kindOf(t).sight.Mark == lexicon.SetOut {
				set = true
			} else {
				check = true
			}
		}
		if set && check {
			c.role = lexicon.Event
			return
		}
	}
}

// findCover looks for the column of covers where no heading names it.
func (r *reader) findCover(b *block) {
	if b.has(lexicon.Substrate) {
		return
	}
	for i := range b.cols {
		if c := &b.cols[i]; c.n > 0 && c.share(c.rule) >= 0.6 {
			c.role = lexicon.Substrate
			return
		}
	}
	var best *column
	for i := range b.cols {
		c := &b.cols[i]
		if c.n == 0 || !mayBeCover(c) {
			continue
		}
		enough := 0.7
		if c.unnamed() && c.role == lexicon.NoRole && c.share(c.cover+c.coverWeak) >= 0.9 && len(c.distinct) <= 8 { // grass and yucca
			enough = 0.55
		}
		if c.tellsCover() < enough || c.isDate() || c.share(c.prose) > 0.5 || c.tellsState() >= c.tellsCover() && c.codes == nil {
			continue
		}
		if best == nil || c.tellsCover() > best.tellsCover() {
			best = c
		}
	}
	if best != nil {
		best.role = lexicon.Substrate
	}
}

// sameHeads gives a column of lines in one table the role that the contents showed under the same heading in another: "Trail"
// beside nests, and beside clumps.
func (r *reader) sameHeads() {
	lines := map[string]bool{}
	for _, b := range r.blocks {
		if c := b.column(lexicon.Line); c != nil && c.head.Role != lexicon.Line && c.head.Text != "" && b.kind != notOurs {
			lines[lexicon.Fold(c.head.Text)] = true
		}
	}
	for _, b := range r.blocks {
		if b.has(lexicon.Line) || b.kind == keyTable {
			continue
		}
		for i := range b.cols {
			c := &b.cols[i]
			if (c.role == lexicon.NoRole || c.role == lexicon.RowNumber) && lines[lexicon.Fold(c.head.Text)] && c.head.Text != "" && r.couldBe(c, lexicon.Line) {
				c.role = lexicon.Line
				r.settleKind(b)
				break
			}
		}
	}
}

// mayBeCover tells whether the heading of a column leaves open that it holds covers.
func mayBeCover(c *column) bool {
	switch c.role {
	case lexicon.Site:
		return c.head.Sure < 1
	case lexicon.NoRole, lexicon.SetOn, lexicon.Check, lexicon.Plant, lexicon.Spot, lexicon.Found:
		return true
	case lexicon.Nest:
		return c.share(c.whole+c.id) < 0.2
	case lexicon.Line, lexicon.Count, lexicon.Ranch, lexicon.Owner, lexicon.Region: // "Yucca Bench" is a name
		return false
	}
	return c.n*10 >= c.rows*9 && c.tellsCover() >= 0.9 // a heading that lies
}

// findNest looks for the columns of nests and lines where no heading names them.
func (r *reader) findNest(b *block) {
	if b.has(lexicon.Count) && !b.has(lexicon.Substrate) {
		return
	}
	if !b.has(lexicon.Nest) {
		var best *column
		for i := range b.cols {
			c := &b.cols[i]
			if c.role == lexicon.RowNumber && c.head.Sure < 1 || c.role == lexicon.NoRole {
				if c.n*3 < c.rows*2 || c.isDate() || c.codes != nil || c.unnamed() && c.share(c.id) >= 0.6 && r.countsBeside(b, c) {
					continue
				}
				if c.share(c.id) >= 0.7 || c.share(c.label) >= 0.8 || c.share(c.whole) >= 0.8 && len(c.distinct) >= 3 && c.maxNum <= 400 && c.year == 0 && r.countsUp(b, c) >= 0.8 {
					if best == nil || best.share(best.id) < c.share(c.id) || best.unique && !c.unique && b.has(lexicon.Line) || best.share(best.id) < 0.7 && r.countsUp(b, c) > r.countsUp(b, best) {
						best = c
					}
				}
			}
		}
		if best != nil && !(b.has(lexicon.Length) && best.share(best.id) < 0.5) {
			best.role = lexicon.Nest
		}
	}
	nest := b.column(lexicon.Nest)
	if nest == nil || b.has(lexicon.Line) || nest.share(nest.id) >= 0.6 {
		return
	}
	var line *column
	for i := range b.cols { // columns that stay the same for a while, left of the nests; the last is the line, the first a place
		c := &b.cols[i]
		if c.at >= nest.at || c.role != lexicon.NoRole && !(c.role == lexicon.RowNumber && c.head.Sure < 1) || c.isDate() || c.n == 0 {
			continue
		}
		if (c.head.Role == lexicon.NoRole || c.role == lexicon.RowNumber) && len(c.head.Text) <= 20 && c.share(c.prose) < 0.1 && len(c.distinct) <= max(2, c.rows/2) && r.steady(b, c, nest) && c.tellsCover() < 0.5 && c.year == 0 {
			if line != nil && !b.has(lexicon.Site) && line.share(line.textual) > 0.9 && line.share(line.id) < 0.5 && len(line.distinct) <= len(c.distinct) {
				line.role = lexicon.Site
			}
			line = c
		}
	}
	if line != nil {
		line.role = lexicon.Line
	}
}

// countsUp tells how often numbers go up by one or begin again, as nests along lines do; a number that stays is worth a little
// less.
func (r *reader) countsUp(b *block, c *column) float64 {
	up, n := 0.0, 0
	last := -10.0
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		k := r.kind(b.g.lines[rec.row].at(c.at))
		if !k.whole {
			continue
		}
		if last > -5 {
			n++
			switch {
			case k.num == last+1 || k.num == 1 && last != 1:
				up++
			case k.num == last:
				up += 0.9
			}
		}
		last = k.num
	}
	if n < 2 {
		return 0
	}
	return up / float64(n)
}

// steady tells whether a column changes seldom and never comes back to a value it has left, in the rows of nests.
func (r *reader) steady(b *block, c, nest *column) bool {
	seen := map[string]bool{}
	last := ""
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		t := b.g.lines[rec.row].at(c.at).text
		if t == "" || r.kindOf(t).ditto || b.g.lines[rec.row].at(nest.at).text == "" {
			continue
		}
		if t != last {
			if seen[t] {
				return false
			}
			seen[t] = true
		}
		last = t
	}
	return len(seen) > 0
}
