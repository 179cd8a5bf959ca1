package intake

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/reading"
	"tussock/internal/survey"
)

type group = inquiry.Group

// A season gathers the rows of a batch and settles what they say together.
type season struct {
	*inquiry.Log
	lex *lexicon.Lexicon
	opt Options
	out Result

	names     [4]names           // ranches, sites, transects, nests
	spelled   map[nestKey]string // each line
	loose     map[string]string
	lastSite  [2]string // of a pasture and a ranch, asked about last
	lastWhole bool
	only      map[string]string
	lines     map[nestKey]*lineNests
	work      []work
	origins   []origin
	rowsOf    [][]place // by nest, where they are asked for: the rows that tell of it

	lastLine  nestKey // looked for last
	lastNests *lineNests

	twice    []int32 // nests that stand twice, and nobody has said how
	looks    []look
	places   places
	people   map[string]int32
	belts    map[string]int
	siteAt   map[string]int
	files    map[string]*zeros // by file, and by file, tab and column
	oddZeros bool              // some column of counts does not fit eggs left
	texts    map[string]string
	guesses  map[string]guess
	lineless bool                              // some checks name no line
	firstGap int                               // see usualFirst
	usual    map[columnDay]map[survey.Date]int // how many looks of a column of a line are of a day, once asked
}

func newSeason(log *inquiry.Log, opt Options) *season {
	s := &season{
		Log: log, lex: lexicon.New(), opt: opt, places: newPlaces(), spelled: map[nestKey]string{}, loose: map[string]string{}, lines: map[nestKey]*lineNests{}, people: map[string]int32{}, belts: map[string]int{}, siteAt: map[string]int{}, files: map[string]*zeros{}, texts: map[string]string{}, guesses: map[string]guess{},
	}
	for i, form := range []func(string) string{strings.ToLower, survey.SamePasture, survey.SameLine, survey.SameNest} { // in the order of nameRanch
		s.names[i] = names{form: form, known: map[string]spelling{}, folded: map[string]uint32{}}
	}
	if opt.OnlyRanches != nil {
		s.only = map[string]string{}
		for _, had := range slices.Sorted(maps.Keys(opt.RanchesHad)) {
			s.only[looseRanch(had)] = opt.RanchesHad[had]
			s.only[strings.ToLower(lexicon.Tidy(had))] = opt.RanchesHad[had]
		}
		for _, name := range opt.OnlyRanches {
			s.only[looseRanch(name)] = name
		}
		for _, name := range opt.OnlyRanches { // spelled out it is surer
			s.only[strings.ToLower(lexicon.Tidy(name))] = name
		}
	}
	return s
}

// names gives each spelling of a name a number, the same for spellings of one form.
type names struct {
	form   func(string) string
	known  map[string]spelling
	folded map[string]uint32
	text   []string // as it was spelled first
	raw    string   // asked for last
	last   spelling
}

// A spelling is a name as it is written, and its number.
type spelling struct {
	id   uint32
	text string
}

func (n *names) of(raw string) uint32 { return n.spelled(raw).id }

func (n *names) spelled(raw string) spelling {
	if raw != n.raw || len(n.known) == 0 {
		n.raw, n.last = raw, n.find(raw)
	}
	return n.last
}

func (n *names) find(raw string) spelling {
	if known, ok := n.known[raw]; ok {
		return known
	}
	text := raw
	if whole, ok := strings.CutSuffix(raw, ".0"); ok {
		if _, number := lexicon.Atoi(whole); number {
			text = whole
		}
	}
	f := n.form(text)
	id, ok := n.folded[f]
	text = strings.Clone(text)
	if !ok {
		id = uint32(len(n.text))
		n.text = append(n.text, text)
		n.folded[strings.Clone(f)] = id
	}
	n.known[strings.Clone(raw)] = spelling{id, text}
	return spelling{id, text}
}

// lineText is a line's name as it was spelled first in its pasture, raw where it is new.
func (s *season) lineText(key nestKey, raw string) string {
	key = nestKey{ranch: key.ranch, site: key.site, transect: key.transect}
	text, ok := s.spelled[key]
	if !ok {
		text = s.names[nameTransect].text[key.transect]
		if as := s.names[nameTransect].spelled(raw); as.id == key.transect {
			text = as.text
		}
		s.spelled[key] = text
	}
	return text
}

const (
	nameRanch = iota
	nameSite
	nameTransect
	nameNest
)

// A nestKey names a nest by the numbers its names have in this reading.
type nestKey struct {
	ranch, site, transect, nest uint32
	season                      int32
}

// nestsOn are the nests of one line: its key without the nest. Rows of a line mostly follow one another.
func (s *season) nestsOn(line nestKey) *lineNests {
	if s.lastNests == nil || line != s.lastLine {
		nests := s.lines[line]
		if nests == nil {
			nests = &lineNests{}
			s.lines[line] = nests
		}
		s.lastLine, s.lastNests = line, nests
	}
	return s.lastNests
}

// find returns the nest of a key.
func (s *season) find(key nestKey) (i int32, ok bool) {
	return s.nestsOn(lineKey(key)).find(key.nest)
}

// A lineNests finds the nests of a line by the numbers of their names.
type lineNests struct {
	text string // the line's name, once a nest is made; see lineText
	few  []nestAt
	many map[uint32]int32 // once there are more than one soon looks through
}

type nestAt struct {
	name uint32
	at   int32
}

const fewNests = 40

func (l *lineNests) find(name uint32) (i int32, ok bool) {
	if l.many != nil {
		i, ok = l.many[name]
		return i, ok
	}
	for k := range l.few {
		if l.few[k].name == name {
			return l.few[k].at, true
		}
	}
	return 0, false
}

func (l *lineNests) set(name uint32, i int32) {
	if l.many == nil && len(l.few) == fewNests {
		l.many = map[uint32]int32{}
		for _, n := range l.few {
			l.many[n.name] = n.at
		}
	}
	if l.many != nil {
		l.many[name] = i
		return
	}
	for k := range l.few {
		if l.few[k].name == name {
			l.few[k].at = i
			return
		}
	}
	l.few = append(l.few, nestAt{name, i})
}

// Work is what is known of a nest while the batch is being read.
type work struct {
	key         nestKey
	first, last int32 // its looks, -1 for none
	second      lexicon.Mark
	who         int32
	cause       lexicon.Mark // an end that no animal brought
	eggsSet     int8
	ownRow      bool         // a row tells of the nest itself
	dead        bool         // it does not count
	waits       bool         // it does not count yet
	fromGuess   bool         // the cause stood where a predator is asked for
	seasonOpen  bool         // the row of a check gave no season
	signs       bool         // its table asks for remains or a guess
	eggsColumn  bool         // its table has a column of eggs left
	because     lexicon.Mark // an end that the remarks tell of, beside a mere count of eggs
	table       int32        // of the row that tells of the nest itself
	origin      int32        // into season.origins, from 1; 0 for none
}

// An origin is where it was read what few nests have.
type origin struct {
	unfound place // a day of a check, in a table that says nowhere what was found
	because place
	guess   place
	eggs    place
}

// origin returns that of a nest, to be filled in.
func (s *season) origin(w *work) *origin {
	if w.origin == 0 {
		s.origins = append(s.origins, origin{})
		w.origin = int32(len(s.origins))
	}
	return &s.origins[w.origin-1]
}

// A look is one visit as it was written.
type look struct {
	on     survey.Date // 0 where a blank has none
	next   int32
	at     place
	mark   lexicon.Mark
	eggs   int8 // -1 where not said
	of     int8
	second lexicon.Mark
	used   bool
	order  uint8 // as written among the looks of its row
	who    int32
}

// Expect makes room for what is to come at once: making more as it comes would copy all that is there several times. A file may
// promise anything, so the room has an end.
func (s *season) Expect(nests, looks int) {
	nests, looks = min(nests, 200_000), min(looks, 4)
	s.out.Data.Nests = slices.Grow(s.out.Data.Nests, nests) // the largest first: the garbage collector then has no reason to come again
	s.work = slices.Grow(s.work, nests)
	s.looks = slices.Grow(s.looks, nests*looks)
}

// Nest takes one row of nests or visits.
func (s *season) Nest(row *reading.Row) {
	key, ok := s.identity(row)
	if !ok {
		return
	}
	key.season = int32(row.Season)
	if row.Sets && row.SetOn == 0 && len(row.Looks) == 0 { // a list of nests: their days stand in another table
		row.Sets = false
	}
	if row.Sets {
		s.nestRow(row, key)
	} else {
		s.checkRow(row, key)
	}
}

// identity reads what names a nest, and says so where something is missing.
func (s *season) identity(row *reading.Row) (key nestKey, ok bool) {
	ok = true
	ranch := row.Ranch
	if ranch == "" {
		s.Refuse(at(row, "ranch"), "", s.Say("No ranch is named here. Please fill in the column “ranch” with the ranch's name."))
		return key, false
	}
	if ranch = s.ranchOf(row.At, ranch); ranch == "" {
		return key, false
	}
	key.ranch = s.names[nameRanch].of(ranch)
	if s.wholeRanch(row.Site, ranch) {
		row.Site = ""
	}
	key.site = s.names[nameSite].of(row.Site)
	line := row.Line
	if line == "" && !row.Sets && !row.Lineless {
		s.lineless = true // the nests that a table sets out may tell
	} else if line == "" {
		if line = s.noLine(row.At, row.Lineless); line == "" {
			ok = false
		}
	}
	key.transect = s.names[nameTransect].of(line)
	if row.Nest == "" {
		s.Refuse(row.NestCell, "", s.Say("The nest has no number here. Please write its number within the transect."))
		ok = false
	}
	key.nest = s.names[nameNest].of(row.Nest)
	return key, ok
}

// wholeRanch tells whether the name of a pasture is the ranch's own.
func (s *season) wholeRanch(site, ranch string) bool {
	if site == "" {
		return false
	}
	if site == s.lastSite[0] && ranch == s.lastSite[1] {
		return s.lastWhole
	}
	a, b := lexicon.Fold(site), lexicon.Fold(ranch)
	s.lastSite, s.lastWhole = [2]string{site, ranch}, a == b || a+"ranch" == b || a == b+"ranch" || "rancho"+a == b || a == "rancho"+b
	return s.lastWhole
}

func at(row *reading.Row, column string) survey.Cell {
	c := row.At
	c.Column = column
	return c
}

// ranchOf returns the ranch whose rows these are, as the upload spells it; "" where they are left out.
func (s *season) ranchOf(at survey.Cell, ranch string) string {
	switch {
	case s.only != nil:
		for _, name := range []string{strings.ToLower(ranch), s.looseRanch(ranch)} {
			if mine, known := s.only[name]; known {
				return mine
			}
		}
	case s.opt.Ranch == "":
		return ranch
	case s.looseRanch(ranch) == s.looseRanch(s.opt.Ranch):
		return lexicon.Tidy(s.opt.Ranch)
	}
	return s.otherRanch(at, ranch)
}

func (s *season) looseRanch(name string) string {
	loose, ok := s.loose[name]
	if !ok {
		loose = looseRanch(name)
		s.loose[strings.Clone(name)] = loose
	}
	return loose
}

// looseRanch is a ranch's name without what people add or leave out: Vestal, Vestal Ranch, The Vestal.
func looseRanch(name string) string {
	var kept []string
	for _, w := range strings.Fields(lexicon.Words(name)) {
		switch w {
		case "ranch", "rancho", "the", "el", "la", "los", "las", "ranches", "co", "company", "inc", "llc", "place":
		default:
			kept = append(kept, w)
		}
	}
	if len(kept) == 0 {
		return lexicon.Fold(name)
	}
	return strings.Join(kept, " ")
}

// otherRanch asks about rows of a ranch that the upload is not for.
func (s *season) otherRanch(at survey.Cell, ranch string) string {
	p := inquiry.Prompt{Kind: "ranch", Place: looseRanch(ranch), Weight: inquiry.PleaseLook, Default: "leave-out", Rank: 1}
	mine := s.opt.Ranch
	if s.only != nil {
		p.Text = func(g *group) string {
			return s.Say("Some rows say “%s” (%s), which is not the ranch you are sending for. We left them out. If that is this ranch spelled otherwise, say so.", ranch, g.Where())
		}
		if mine == "" && len(s.opt.OnlyRanches) > 0 {
			mine = s.opt.OnlyRanches[0]
		}
	} else {
		p.Default = "keep"
		p.Text = func(g *group) string {
			return s.Say("Some rows say “%s” (%s), in a file sent for %s. Whose are they? Until you say, they stand under the name they have.", ranch, g.Where(), s.opt.Ranch)
		}
		p.Choices = append(p.Choices, inquiry.Choice{ID: "keep", Label: s.Say("Another ranch's: keep them under that name")})
	}
	p.Choices = append(p.Choices, inquiry.Choice{ID: "leave-out", Label: s.Say("Another ranch's: leave them out")}, inquiry.Choice{ID: "mine", Label: s.Say("They are %s's too", mine)})
	switch s.Ask(at, p) {
	case "keep":
		return ranch
	case "mine":
		return lexicon.Tidy(mine)
	}
	s.SetAside(at, "ranch\x00"+ranch, func(g *group) string {
		return inquiry.Capital(s.Say("%s: another ranch, “%s”; left out.", g.Where(), ranch))
	})
	return ""
}

// noLine asks once about a table that names no line for some of its nests.
func (s *season) noLine(at survey.Cell, onNone bool) string {
	if !onNone && s.allOneLine(at) {
		return "1"
	}
	at.Column = "transect"
	s.Refuse(at, "", s.Say("The transect (line) is blank. Please write its number or name."))
	return ""
}

func (s *season) allOneLine(at survey.Cell) bool {
	return s.Ask(at, inquiry.Prompt{
		Kind: "other", Place: "line\x00" + at.File, Weight: inquiry.PleaseLook, Default: "one", Rank: 5,
		Text: func(g *group) string {
			return s.Say("No transect (line) is written for the nests in %s. Were they all on one line? Until you say, we take them as one.", g.Where())
		},
		Choices: []inquiry.Choice{{ID: "one", Label: s.Say("All on one line")}, {ID: "wait", Label: s.Say("No; I will add the line and send it again")}},
	}) == "one"
}

// nestRow takes a row that tells of a nest itself.
func (s *season) nestRow(row *reading.Row, key nestKey) {
	if row.Cover == "" && !row.Waits {
		s.noCover(row)
	}
	if row.SetOn == 0 && !row.Waits {
		s.Refuse(at(row, "set_on"), "", s.Say("The day the nest was set is not written down. Please fill in “set_on” with a date like 2025-05-12."))
		row.Waits = true
	}
	first := int32(len(s.looks))
	s.takeLooks(row)
	if row.Season == 0 && row.SetOn != 0 {
		row.Season = row.SetOn.Year()
		key.season = int32(row.Season)
	}
	i, fresh := s.place(row, key, first)
	if i < 0 {
		s.looks = s.looks[:first]
		return
	}
	n, w := &s.out.Data.Nests[i], &s.work[i]
	if fresh || !w.ownRow {
		n.Substrate, n.SetOn = row.Cover, row.SetOn
		if n.From.File == "" || !w.ownRow {
			n.From = row.At
		}
		if row.Plant != "" {
			n.Plant = row.Plant
		}
	}
	w.ownRow, w.table = true, int32(row.Table)
	if w.origin != 0 || row.Unfound.File != "" {
		s.origin(w).unfound = s.places.of(row.Unfound)
	}
	w.waits = w.waits || row.Waits
	s.attach(row, i)
	s.chain(i, first)
}

func (s *season) takeLooks(row *reading.Row) {
	for k := range row.Looks {
		l := &row.Looks[k]
		s.looks = append(s.looks, look{
			on: l.On, next: -1, at: s.places.of(l.At), mark: l.Mark, eggs: int8(l.Eggs), of: int8(l.Of), second: l.Second, used: l.Used, who: s.person(l.Who), order: uint8(k),
		})
		if l.Mark == lexicon.Zero {
			s.zeros(l.At).any = true
			s.zeroColumn(l.At).any = true
		}
		if (l.Mark == lexicon.Taken || l.Mark == lexicon.Intact) && l.Eggs >= 2 && l.Of == 0 {
			s.zeros(l.At).counts = true
			s.zeroColumn(l.At).counts = true
		}
	}
}

// add makes a nest without visits.
func (s *season) add(row *reading.Row, key nestKey) int32 {
	i := int32(len(s.out.Data.Nests))
	number := s.names[nameNest].text[key.nest]
	if as := s.names[nameNest].spelled(row.Nest); as.id == key.nest { // and no second nest of the number
		number = as.text
	}
	s.out.Data.Nests = slices.Grow(s.out.Data.Nests, 1)[:i+1]
	n := &s.out.Data.Nests[i] // filled where it stands, as it is large
	n.Ranch, n.Site, n.Season = s.names[nameRanch].text[key.ranch], s.names[nameSite].text[key.site], int(key.season)
	line := s.nestsOn(lineKey(key))
	if line.text == "" {
		line.text = s.lineText(key, row.Line)
	}
	n.Transect, n.Number = line.text, number
	n.EggsLeft, n.From = -1, row.At
	s.work = append(s.work, work{key: key, first: -1, last: -1})
	if s.opt.Places {
		s.rowsOf = append(s.rowsOf, nil)
	}
	line.set(key.nest, i)
	return i
}

// chain hangs the looks from first on to nest i.
func (s *season) chain(i, first int32) {
	w := &s.work[i]
	for l := first; l < int32(len(s.looks)); l++ {
		s.looks[l].next = -1
		if w.last >= 0 {
			s.looks[w.last].next = l
		} else {
			w.first = l
		}
		w.last = l
	}
}

// place finds the nest a row is about, or makes it. A second row for the same nest is a question; -1 where the row is set
// aside.
func (s *season) place(row *reading.Row, key nestKey, firstLook int32) (i int32, fresh bool) {
	i, seen := s.find(key)
	if !seen || s.work[i].dead {
		return s.add(row, key), true
	}
	if !s.work[i].ownRow {
		return i, false
	}
	if row.Waits {
		if w := &s.work[i]; int32(row.Table) != w.table { // what another table says of it cannot be read yet
			w.waits = true
		}
		return -1, false
	}
	if s.same(i, firstLook, row) {
		if s.Note(row.NestCell, "repeated", "", "", func(g *group) string {
			return inquiry.Capital(s.Say("%s repeats a nest word for word; we count it once.", g.Where()))
		}) {
			return -1, false
		}
	}
	if int32(row.Table) != s.work[i].table && s.endedBefore(i, row) {
		return -1, false
	}
	if int32(row.Table) != s.work[i].table && s.goesOn(i, firstLook, row) {
		return i, false
	}
	switch s.askDuplicate(row.NestCell, i, key) {
	case "first":
		return -1, false
	case "same":
		return i, false
	case "two":
		return s.second(row, key), true
	case "slip":
		return s.slipped(row, key), true
	}
	n := &s.out.Data.Nests[i]
	s.twice = append(s.twice, i)
	s.Refuse(row.NestCell, n.Number, inquiry.Capital(s.Say("%s stands twice, first in row %d, and the two rows differ. Is it the same nest looked at twice, or another nest with a slip in its number?", s.Log.Nest(n), n.From.Row)))
	return -1, false
}

// manyTwice is how many nests that stand twice are no slip of the pen but the way a sheet is laid out: none of them counts
// before somebody says which way it is.
const manyTwice = 3

func (s *season) askDuplicate(cell survey.Cell, i int32, key nestKey) string {
	n := &s.out.Data.Nests[i]
	name := s.Log.Nest(n) // now: nests move while they are settled
	first := n.From.Row
	choices := []inquiry.Choice{}
	if next := s.freeNumber(key); next != "" {
		choices = append(choices, inquiry.Choice{ID: "slip", Label: s.Say("Two nests; the second one is the number that is missing")})
	}
	choices = append(choices, inquiry.Choice{ID: "two", Label: s.Say("Two nests; a number slipped")}, inquiry.Choice{ID: "same", Label: s.Say("The same nest, looked at twice")}, inquiry.Choice{ID: "first", Label: s.Say("Count the first row only")})
	return s.Ask(cell, inquiry.Prompt{
		Kind: "other", Place: "duplicate\x00" + cell.File + "\x00" + cell.Sheet, Weight: inquiry.MustAnswer, Rank: 4,
		Text: func(g *group) string {
			if g.N >= manyTwice {
				return s.Say("%d rows stand for nests that stood before and differ from them (%s). Are they other nests, or the same nests looked at twice? Until you say, these nests wait.", g.N, g.Where())
			}
			if g.N > 1 {
				return s.Say("%d rows stand for nests that stood before and differ from them (%s). Are they other nests, or the same nests looked at twice? Until you say, only the first row of each counts.", g.N, g.Where())
			}
			return inquiry.Capital(s.Say("%s stands twice: in row %d and in %s. Are they two nests, or the same nest looked at twice? Until you say, only the first row counts.", name, first, g.Where()))
		},
		Choices: choices,
	})
}

// freeNumber returns the number that a second row of a nest would have if its number had gone on.
func (s *season) freeNumber(key nestKey) string {
	n, ok := lexicon.Atoi(s.names[nameNest].text[key.nest])
	if !ok {
		return ""
	}
	next := fmt.Sprint(n + 1)
	key.nest = s.names[nameNest].of(next)
	if _, taken := s.find(key); taken {
		return ""
	}
	return next
}

func (s *season) slipped(row *reading.Row, key nestKey) int32 {
	if next := s.freeNumber(key); next != "" {
		key.nest = s.names[nameNest].of(next)
		return s.add(row, key)
	}
	return s.second(row, key)
}

// second makes another nest of the same number, called "4 (2)".
func (s *season) second(row *reading.Row, key nestKey) int32 {
	number := s.names[nameNest].text[key.nest]
	for n := 2; ; n++ {
		key.nest = s.names[nameNest].of(fmt.Sprintf("%s (%d)", number, n))
		if _, taken := s.find(key); !taken {
			return s.add(row, key)
		}
	}
}

// same tells whether a row says of nest i what an earlier row said.
func (s *season) same(i, firstLook int32, row *reading.Row) bool {
	n, w := &s.out.Data.Nests[i], &s.work[i]
	if n.SetOn != row.SetOn || n.Substrate != row.Cover {
		return false
	}
	if firstLook == int32(len(s.looks)) { // the row tells of the setting alone
		return true
	}
	l := w.first
	for k := firstLook; k < int32(len(s.looks)); k++ {
		if l < 0 || s.looks[l].on != s.looks[k].on || s.looks[l].mark != s.looks[k].mark {
			return false
		}
		l = s.looks[l].next
	}
	return l < 0
}

// goesOn tells whether a row of another table tells what was found later at nest i, which still stood: a table for each
// time that somebody looked.
func (s *season) goesOn(i, firstLook int32, row *reading.Row) bool {
	n := &s.out.Data.Nests[i]
	if n.SetOn != row.SetOn || n.Substrate != row.Cover || firstLook == int32(len(s.looks)) {
		return false
	}
	last := survey.Date(0)
	for l := s.work[i].first; l >= 0; l = s.looks[l].next {
		if k := &s.looks[l]; k.mark != lexicon.Intact || k.on == 0 {
			return false
		}
		last = max(last, s.looks[l].on)
	}
	for k := firstLook; k < int32(len(s.looks)); k++ {
		if s.looks[k].on <= last {
			return false
		}
	}
	return last != 0
}

// endedBefore tells whether a row only says of a nest that was lost that it had been lost before, or says the same again of a later
// day.
func (s *season) endedBefore(i int32, row *reading.Row) bool {
	n := &s.out.Data.Nests[i]
	if n.SetOn != row.SetOn || n.Substrate != row.Cover {
		return false
	}
	for l := s.work[i].first; l >= 0; l = s.looks[l].next {
		if k := &s.looks[l]; k.mark.State().Failed() {
			return !slices.ContainsFunc(row.Looks, func(l reading.Look) bool {
				return !l.Before && (l.Mark != k.mark || k.on == 0 || l.On <= k.on)
			})
		}
	}
	return false
}

// noCover asks once about a table that says of no nest what it sits in.
func (s *season) noCover(row *reading.Row) {
	cell := at(row, "substrate")
	bg, yu, pp := s.Cover(survey.Bunchgrass), s.Cover(survey.Yucca), s.Cover(survey.PricklyPear)
	one := func(c survey.Substrate) inquiry.Choice {
		return inquiry.Choice{ID: string(c), Label: inquiry.Capital(s.Cover(c))}
	}
	two := func(a, b survey.Substrate, an, bn string) inquiry.Choice {
		return inquiry.Choice{ID: string(a) + "/" + string(b), Label: s.Say("Odd nests %s, even nests %s", an, bn)}
	}
	a := s.Ask(cell, inquiry.Prompt{
		Kind: "no-substrate", Place: row.At.File + "\x00" + row.At.Sheet, Weight: inquiry.MustAnswer,
		Text: func(g *group) string {
			return s.Say("Nothing says what the nests in %s sit in. Was it the same for all, or one cover for odd and another for even numbers? These rows wait for your answer.", g.Where())
		},
		Choices: []inquiry.Choice{
			two(survey.Bunchgrass, survey.Yucca, bg, yu), two(survey.Bunchgrass, survey.PricklyPear, bg, pp), one(survey.Bunchgrass), one(survey.PricklyPear), one(survey.Yucca), one(survey.Shrub), one(survey.Forb),
			two(survey.Yucca, survey.Bunchgrass, yu, bg), two(survey.PricklyPear, survey.Bunchgrass, pp, bg),
		},
	})
	if odd, even, both := strings.Cut(a, "/"); both {
		a = odd
		if n, ok := lexicon.Atoi(strings.TrimLeft(row.Nest, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-")); ok && n%2 == 0 {
			a = even
		}
	}
	if a == "" {
		s.Refuse(cell, "", s.Say("What the nest sits in is not written down. Please fill in the substrate, such as bunchgrass or prickly pear."))
		row.Waits = true
	}
	row.Cover = survey.Substrate(a)
}

// checkRow takes a row that tells of one visit.
func (s *season) checkRow(row *reading.Row, key nestKey) {
	open := row.Season == 0
	if len(row.Looks) > 0 && open {
		row.Season = row.Looks[0].On.Year()
	}
	key.season = int32(row.Season)
	i, seen := s.find(key)
	if !seen {
		i = s.add(row, key)
		s.work[i].seasonOpen = row.SetOn == 0
	}
	n := &s.out.Data.Nests[i]
	if seen && row.SetOn != 0 && n.SetOn != 0 && n.SetOn != row.SetOn && !s.work[i].ownRow {
		if i = s.otherSet(row, key, i); i < 0 {
			return
		}
		n = &s.out.Data.Nests[i]
	}
	if !s.work[i].ownRow {
		if n.SetOn == 0 {
			n.SetOn = row.SetOn
		}
		if n.Substrate == "" {
			n.Substrate, n.Plant = row.Cover, row.Plant
		}
	}
	s.work[i].waits = s.work[i].waits || row.Waits
	s.attach(row, i)
	first := int32(len(s.looks))
	s.takeLooks(row)
	s.chain(i, first)
}

// otherSet handles a look that gives its nest another day of setting than the looks before it.
func (s *season) otherSet(row *reading.Row, key nestKey, i int32) int32 {
	switch s.askDuplicate(row.NestCell, i, key) {
	case "first":
		return -1
	case "same":
		return i
	case "two", "slip":
		number := s.names[nameNest].text[key.nest]
		for k := 2; ; k++ {
			key.nest = s.names[nameNest].of(fmt.Sprintf("%s (%d)", number, k))
			j, taken := s.find(key)
			if !taken {
				j = s.add(row, key)
				s.out.Data.Nests[j].SetOn = row.SetOn
			}
			if s.out.Data.Nests[j].SetOn == row.SetOn {
				return j
			}
		}
	}
	n := &s.out.Data.Nests[i]
	s.twice = append(s.twice, i)
	s.Refuse(row.NestCell, n.Number, inquiry.Capital(s.Say("%s stands twice: set on %s in row %d and on %s here. Is it another nest with a slip in its number, or did a date slip?", s.Log.Nest(n), s.Date(n.SetOn), n.From.Row, s.Date(row.SetOn))))
	return -1
}

// person numbers the people who looked, from 1; 0 where the sheet does not say.
func (s *season) person(name string) int32 {
	if name == "" {
		return 0
	}
	n, ok := s.people[name]
	if !ok {
		n = int32(len(s.people) + 1)
		s.people[strings.Clone(name)] = n
	}
	return n
}

// attach takes what else a row says of its nest: remains, guess, camera, the way back, notes.
func (s *season) attach(row *reading.Row, i int32) {
	n, w := &s.out.Data.Nests[i], &s.work[i]
	if s.opt.Places {
		s.stands(i, row.At)
		for k := range row.Looks {
			c := row.Looks[k].At
			c.Column = ""
			s.stands(i, c)
		}
	}
	keep := func(into *string, v string) {
		if v != "" {
			*into = v
		}
	}
	keep(&n.Plant, row.Plant)
	keep(&n.Spot.Steps, row.Spot.Steps)
	keep(&n.Spot.Bearing, row.Spot.Bearing)
	keep(&n.Spot.Text, row.Spot.Text)
	if row.Notes != "" && row.Notes != n.Notes {
		n.Notes = s.joined(n.Notes, row.Notes)
	}
	if row.EggsSet > 0 {
		w.eggsSet = int8(min(row.EggsSet, 100))
	}
	if row.EggsLeft >= 0 {
		n.EggsLeft = row.EggsLeft
		w.eggsColumn, s.origin(w).eggs = true, s.places.of(row.EggsCell)
	}
	w.signs = w.signs || row.Signs
	addSigns(n, &row.Remains)
	if v := row.LostHow; v != "" {
		if state, ok := s.lex.Cause(v); ok {
			w.cause = lexicon.MarkOf(state)
		} else if p, ok := s.lex.Predator(v); (!ok || p != "") && !oneOf(lexicon.Words(v), "animal", "predator", "depredador") {
			n.Guess = v
		}
	}
	if row.Because != lexicon.Unknown {
		w.because, s.origin(w).because = row.Because, s.places.of(row.At)
	}
	if row.SecondMark != lexicon.Unknown {
		w.second = row.SecondMark
	}
	if row.Guess != "" {
		s.guess(row, n, w)
	}
	if row.Camera != "" {
		s.camera(row, n, w)
	}
	if row.CameraOn != 0 {
		n.CameraOn = row.CameraOn
	}
}

// addSigns writes down what else was found at a nest.
func addSigns(n *survey.Nest, signs *survey.Remains) {
	if signs == nil || !signs.Any() {
		return
	}
	if n.Remains == nil {
		n.Remains = &survey.Remains{}
	}
	for _, f := range survey.Features {
		if v := *f.Value(signs); v != "" {
			*f.Value(n.Remains) = v
		}
	}
	if signs.Trace != "" {
		n.Remains.Trace = signs.Trace
	}
}

// stands notes a row that tells of a nest.
func (s *season) stands(i int32, c survey.Cell) {
	if at := s.places.of(c); len(s.rowsOf[i]) < 100 && !slices.Contains(s.rowsOf[i], at) {
		s.rowsOf[i] = append(s.rowsOf[i], at)
	}
}

func oneOf(v string, list ...string) bool { return slices.Contains(list, v) }

// joined puts two remarks together, keeping one copy of each text: a workbook may show one long remark in every row.
func (s *season) joined(a, b string) string {
	if a == "" {
		return b
	}
	t := a + "; " + b
	if kept, ok := s.texts[t]; ok {
		return kept
	}
	s.texts[t] = t
	return t
}

// guess keeps the crew's own word. A cause that is no animal is moved to where it belongs when the nest is settled.
func (s *season) guess(row *reading.Row, n *survey.Nest, w *work) {
	v := row.Guess
	g, ok := s.guesses[v]
	if !ok {
		lower := lexicon.Words(v)
		g.open = strings.ContainsAny(lower, "?/") || strings.Contains(lower, " or ") || strings.Contains(lower, " o ")
		if state, ok := s.lex.Cause(v); ok {
			g.cause = lexicon.MarkOf(state)
		}
		if len(s.guesses) < 10_000 {
			s.guesses[v] = g
		}
	}
	if g.cause != lexicon.Unknown {
		w.cause, w.fromGuess, s.origin(w).guess = g.cause, true, s.places.of(row.GuessCell)
	}
	n.Guess = v
	if g.open {
		s.Note(row.GuessCell, "guess", "", v, func(g *group) string {
			return s.Say("%s: good, we keep each as possible and settle on none. The signs at the nest decide how far they lean.", s.Quoted(g.Words))
		})
	}
}

// A guess is what the crew's own word for the predator says.
type guess struct {
	cause lexicon.Mark // an end that no animal brought
	open  bool         // it names several, or doubts
}

// camera reads the predator a trail camera settled. Two animals, or a question mark, settle nothing.
func (s *season) camera(row *reading.Row, n *survey.Nest, w *work) {
	v := row.Camera
	lower := lexicon.Words(v)
	if settled, ok := s.opt.Words["predator/"+lower]; ok && settled != "" {
		n.Camera = survey.Predator(settled)
		return
	}
	if p, ok := s.lex.Predator(v); ok {
		n.Camera = p
		return
	}
	if _, days := lexicon.Atoi(lower); days {
		return // days the camera worked
	}
	if state, ok := s.lex.Cause(v); ok {
		w.cause, w.fromGuess, s.origin(w).guess = lexicon.MarkOf(state), true, s.places.of(row.CameraCell)
		if n.Guess == "" {
			n.Guess = v
		}
		return
	}
	if strings.ContainsAny(lower, "?/&+") || strings.Contains(lower, " or ") || strings.Contains(lower, " o ") || strings.Contains(lower, " and ") {
		if s.Note(row.CameraCell, "camera", "", v, func(g *group) string {
			return s.Say("The camera left it open (%s), so we keep that as a guess and settle on no animal.", s.Quoted(g.Words))
		}) && n.Guess == "" {
			n.Guess = v
		}
		return
	}
	choices := make([]inquiry.Choice, 0, len(survey.Predators))
	for _, p := range survey.Predators {
		choices = append(choices, inquiry.Choice{ID: string(p), Label: inquiry.Capital(s.Animal(p))})
	}
	n.Camera = survey.Predator(s.Ask(row.CameraCell, inquiry.Prompt{
		Kind: "other", Place: "predator\x00" + lower, Weight: inquiry.PleaseLook, Default: string(survey.Other), Word: "predator/" + lower, Rank: 8,
		Text: func(g *group) string {
			return s.Say("“%s” on camera (%s) is an animal we have no name for. Which is it? Until you say, it counts as another animal.", inquiry.Short(v), g.Where())
		},
		Choices: choices,
	}))
	if n.Guess == "" {
		n.Guess = v
	}
}
