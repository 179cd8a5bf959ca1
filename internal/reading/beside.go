package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/fieldwork"
	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// maxText is how many bytes of a remark are kept.
const maxText = 2000

// beside reads what else a record says of its nest: remains, guess, camera, the way back, notes.
func (e *emitter) beside(l *line) {
	row := &e.row
	get := func(col *column) string {
		if col == nil {
			return ""
		}
		if t := l.at(col.at).text; t != e.kept[col.at] {
			e.kept[col.at] = e.text(t)
		}
		return e.kept[col.at]
	}
	row.Spot.Steps, row.Spot.Bearing, row.Spot.Text = get(e.steps), get(e.bearing), get(e.spot)
	row.Remains.Trace = get(e.trace)
	for _, c := range e.remarks {
		if t := l.at(c.at).text; t != "" {
			row.Notes = e.joined(row.Notes, t)
		}
	}
	for i := range l.cells { // notes attached to cells
		if c := &l.cells[i]; c.shown != nil && c.shown.Comment != "" {
			row.Notes = e.joined(row.Notes, lexicon.Tidy(c.shown.Comment))
		}
	}
	if e.eggsSet != nil {
		if v, _, ok := lexicon.Number(l.at(e.eggsSet.at).text, false); ok && v >= 1 && v < 100 {
			row.EggsSet = int(v)
		}
	}
	if e.eggsLeft != nil && e.b.kind == nestTable {
		if t := l.at(e.eggsLeft.at).text; t != "" {
			switch s := &e.kind(l.at(e.eggsLeft.at)).sight; {
			case s.Mark == lexicon.Zero:
				row.EggsLeft = 0
			case s.Mark == lexicon.One:
				row.EggsLeft = 1
			case s.Eggs >= 0:
				row.EggsLeft = s.Eggs
			}
			row.EggsCell = e.place(l.at(e.eggsLeft.at), e.eggsLeft)
		}
	}
	for _, c := range e.features {
		e.feature(l, c)
	}
	for _, c := range e.lostHow {
		if row.LostHow == "" {
			row.LostHow = get(c)
			e.causeUnknown(l.at(c.at), c)
		}
	}
	if e.second != nil && e.b.kind == nestTable {
		if t := l.at(e.second.at).text; t != "" {
			row.SecondMark = e.sight(t, l.at(e.second.at), e.second).Mark
		}
	}
	if e.guess != nil {
		row.Guess = get(e.guess)
		row.GuessCell = e.place(l.at(e.guess.at), e.guess)
	}
	if e.camera != nil {
		row.Camera = get(e.camera)
		row.CameraCell = e.place(l.at(e.camera.at), e.camera)
	}
}

// cameraDay reads the day on which a camera recorded the loss. What is no day is kept among the remarks.
func (e *emitter) cameraDay(l *line, sc *scope) {
	if e.cameraOn == nil {
		return
	}
	c := l.at(e.cameraOn.at)
	if k := e.kindOf(c.text); c.text == "" || k.sight.Mark == lexicon.Skipped || k.sight.Mark == lexicon.No || k.ditto {
		return
	}
	row, where := &e.row, e.place(c, e.cameraOn)
	got := e.resolve(e.dateAt(c, c.text, e.cameraOn), e.b, sc, row.Season, row.SetOn, where, c.text)
	switch got.note {
	case "":
		row.CameraOn = got.on
	case "order":
		row.Waits = true
	default:
		row.Notes = e.joined(row.Notes, "camera: "+c.text)
		e.Note(where, "camera-day", e.key(e.cameraOn.at), c.text, func(g *group) string {
			return e.Say("%s under “%s” (%s) is no day that we can read, so we keep it among the remarks. Please write the day like 2025-05-12.", e.Quoted(g.Words[:min(3, len(g.Words))]), g.Cells[0].Column, g.Where())
		})
	}
}

// feature reads one answer about remains. The same word of a column is read once.
func (e *emitter) feature(l *line, c *column) {
	cl := l.at(c.at)
	if cl.text == "" {
		return
	}
	k := e.kind(cl)
	read := c.remains.at(k)
	if *read == nil || k.number == 0 {
		w := &readRemain{}
		w.said = e.Listen(func() { w.answer = e.remain(cl, c) })
		*read = w
	} else if len((*read).said) > 0 {
		e.Repeat((*read).said, e.place(cl, c))
	}
	if v := (*read).answer; v != "" {
		*survey.Features[c.head.Feature].Value(&e.row.Remains) = v
	}
}

// A readRemain is what a word of a column was read as, and what was said of it.
type readRemain struct {
	answer string
	said   inquiry.Said
}

// remain reads what a cell says about remains: "" for nothing.
func (e *emitter) remain(cl *cell, c *column) string {
	raw := cl.text
	f := survey.Features[c.head.Feature]
	v, ok := e.lex.Remain(c.head.Feature, raw)
	unknown := func(g *group) string {
		return e.Say("“%s” under “%s” (%s) is none of the answers we know: %s. The nest counts without it.", inquiry.Short(raw), c.head.Text, g.Where(), e.answers(f))
	}
	if !ok && lexicon.Fold(c.head.Text) != lexicon.Fold(f.Name) { // words of their own under a heading of their own
		e.Note(e.place(cl, c), "remains", f.Name+"\x00"+lexicon.Fold(raw), "", unknown)
		return ""
	}
	if !ok {
		choices := []inquiry.Choice{{ID: "leave-out", Label: e.Say("Leave it out")}}
		for _, choice := range f.Choices {
			choices = append(choices, inquiry.Choice{ID: choice, Label: e.Say(fieldwork.ChoiceLabel(f.Name, choice))})
		}
		v = e.Ask(e.place(cl, c), inquiry.Prompt{
			Kind: "other", Place: "remains\x00" + f.Name + "\x00" + lexicon.Fold(raw), Weight: inquiry.PleaseLook, Default: "leave-out", Rank: 8, Text: unknown, Choices: choices,
		})
		if v == "leave-out" {
			return ""
		}
	}
	return v
}

// answers lists those of a column: in English as a sheet spells them, else as people read them.
func (r *reader) answers(f survey.Feature) string {
	var out []string
	for _, c := range f.Choices {
		if r.Language == words.Spanish {
			out = append(out, r.Say(fieldwork.ChoiceLabel(f.Name, c)))
		} else {
			out = append(out, strings.ReplaceAll(c, "_", " "))
		}
	}
	return strings.Join(out, ", ")
}

// text keeps one copy of what people write in their own words, so that a workbook that holds one long remark once and
// shows it in every row does not fill the memory.
func (r *reader) text(s string) string {
	if s == "" {
		return ""
	}
	if len(s) > maxText {
		s = strings.ToValidUTF8(s[:maxText], "") + "…"
	}
	if kept, ok := r.texts[s]; ok {
		return kept
	}
	s = strings.Clone(s)
	if len(r.texts) < 200_000 {
		r.texts[s] = s
	}
	return s
}

func (r *reader) joined(a, b string) string {
	if a == "" || a == b {
		return r.text(b)
	}
	return r.text(a + "; " + b)
}

// causeUnknown asks about a nest of which one column says that it failed, and this one that nobody knows how: an animal is not
// to be blamed, nor is the nest one that could not be found.
func (e *emitter) causeUnknown(cl *cell, c *column) {
	for i := range e.row.Looks {
		look := &e.row.Looks[i]
		if !look.Failed || look.Mark != lexicon.Taken || cl.text == "" || !e.lex.CauseUnknown(cl.text, true) {
			continue
		}
		s, ok := e.settledState(cl.text)
		if !ok {
			s = e.askState(cl.text, cl, c, s)
		}
		look.Mark, look.Worded = s.Mark, true
		e.row.Waits = e.row.Waits || s.Mark == lexicon.Unknown
	}
}

// noteCause finds the end that the remarks tell of where the eggs are only counted: 0 eggs, "cow stepped on it". A word for
// what was found outweighs any remark, and what was left behind tells of a cause only where it names who brought it: shells
// "crushed small" were a predator's meal, and "none found" means that nothing was left.
func (e *emitter) noteCause(l *line) {
	row := &e.row
	if len(row.Looks) == 0 || row.Notes == "" && row.Remains.Trace == "" && row.LostHow == "" {
		return
	}
	last := &row.Looks[0]
	for i := range row.Looks {
		if row.Looks[i].Mark != lexicon.Blank {
			last = &row.Looks[i]
		}
	}
	if last.Worded || !(last.Mark == lexicon.Zero || last.Mark == lexicon.Taken && last.Eggs < 3) {
		return
	}
	for _, t := range [3]string{row.Notes, row.Remains.Trace, row.LostHow} {
		if len(t) == 0 || len(t) > 120 {
			continue
		}
		switch s := &e.remark(t).sight; s.Mark {
		case lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled, lexicon.NotFound:
			if s.Animal == "" && !s.Faint && (s.Agent || t != row.Remains.Trace && endWord.MatchString(t) || s.Mark == lexicon.NotFound && (t == row.Notes || t == row.LostHow) && !noneLeft.MatchString(t)) {
				row.Because = s.Mark
			}
		}
	}
	if row.Because != lexicon.Unknown {
		return
	}
	if e.notes != nil && e.askEnd(l.at(e.notes.at), e.notes) {
		return
	}
	for _, col := range e.lostHow {
		if e.askEnd(l.at(col.at), col) {
			return
		}
	}
}

// askEnd asks what ended a nest whose eggs are gone, where a remark speaks of cattle or hail and does not say that they did it.
func (e *emitter) askEnd(c *cell, col *column) bool {
	if c.text == "" || len(c.text) > 120 {
		return false
	}
	if m := e.remark(c.text); !m.otherEnd || m.sight.Animal != "" || m.sight.Mark == lexicon.Taken {
		return false
	}
	switch s := e.askState(c.text, c, col, lexicon.Sight{}); s.Mark {
	case lexicon.Unknown:
		e.row.Waits = true
	case lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled, lexicon.NotFound:
		e.row.Because = s.Mark
	}
	return true
}

// A remark is what could be told by words beside what the columns say.
type remark struct {
	sight    lexicon.Sight
	corrects bool // it may take back what stands in the sheet
	looked   bool // it may move a check to another day
	otherEnd bool // it names what ends nests other than predators
}

// remark looks at the same words once.
func (r *reader) remark(text string) *remark {
	if m, ok := r.remarks[text]; ok {
		return m
	}
	m := &remark{}
	if len(text) <= 400 {
		m.corrects, m.looked = corrects.MatchString(text), lookedThen.MatchString(text)
	}
	if len(text) <= 120 {
		m.sight = r.lex.Sight(text)
		m.otherEnd = m.sight.Animal == "" && m.sight.Mark != lexicon.Taken && r.lex.OtherEnd(text)
	}
	if len(r.remarks) < 10_000 {
		r.remarks[text] = m
	}
	return m
}

// endWord is a remark that is nothing but the end a nest came to.
var endWord = regexp.MustCompile(`(?i)^(?:was |were |got |fue |por )?(?:trampled|stepped on|flooded|washed out|rotten|spoiled|mowed|pisotead[oa]s?|pisad[oa]s?|inundad[oa]s?|podrid[oa]s?)[.!]?$`)

// noneLeft finds remarks that say that nothing was left, rather than that the nest was not found.
var noneLeft = regexp.MustCompile(`(?i)^\W*(?:none|nothing|no|ningun[oa]?|nada|sin)\b`)

// corrects finds remarks that take back what stands in the sheet.
var corrects = regexp.MustCompile(`(?i)\b(?:scratch (?:that|the|this)|correct(?:ion|ed)|should (?:be|have been|say|read)|mix(?:ed)? up|crossed up|(?:got|were|are|rows?|numbers?|dates?|looks?|nests?) (?:swapp?ed|switched)|(?:swapp?ed|switched) (?:the )?(?:two|rows?|numbers?|nests?|lines?|dates?|looks?|with)|wrong (?:clump|nest|spot|flag|date|day|line|row)|wrote (?:it |this |that )?(?:down )?wrong|by mistake|my mistake|not (?:really )?gone|was(?:n't| not) gone|actually|on second (?:look|thought)|(?:a|one|1|two|2) days? (?:later|earlier|late|early|off)|disregard|ignore (?:this|that|the)|throw (?:this|that|it) out|me equivoqu[eé]|equivocado|mal apuntado|mal anotado|en realidad|no es cierto|corregid[oa]|correcci[oó]n|un d[ií]a (?:despu[eé]s|antes|tarde))\b`)

// neighbors finds notes on lines that are somebody else's.
var neighbors = regexp.MustCompile(`(?i)\b(?:neighbou?r['’]?s?|vecin[oa]s?)\b[^.;]{0,20}\b(?:lines?|l[ií]neas?|transects?|nests?)\b`)

// noteCorrections gathers the notes beside tables that may take back what stands in them, by the line and nests they name.
func (r *reader) noteCorrections() {
	for _, c := range r.captions {
		if c.used == "key" || len(c.c.text) > 400 || !corrects.MatchString(c.c.text) && !neighbors.MatchString(c.c.text) || !r.tableOf(c.g) && len(r.grids) == 1 {
			continue
		}
		k := correcting{note: c.c.text, at: at(c.g, c.c)}
		for _, it := range r.scan(c.c.text) {
			switch it.is {
			case aLine:
				k.lines = append(k.lines, it.list...)
			case someNests:
				if it.word == "named" {
					k.nests = append(k.nests, it.list...)
				}
			}
		}
		if len(k.lines) > 0 || len(k.nests) > 0 {
			r.corrections = append(r.corrections, k)
			c.used = "rule"
		}
	}
}

// A correcting is a note that may take back what a sheet says of some nests.
type correcting struct {
	lines, nests []string
	note         string
	at           survey.Cell
}

// speaksOf tells whether a note is about a nest.
func (k *correcting) speaksOf(line, nest string) bool {
	among := func(list []string, name string) bool {
		return len(list) == 0 || slices.ContainsFunc(list, func(s string) bool { return strings.EqualFold(s, name) })
	}
	return among(k.lines, line) && among(k.nests, nest)
}

// correctionBeside asks about nests that a note beside the table may correct.
func (e *emitter) correctionBeside() {
	for i := range e.corrections {
		k := &e.corrections[i]
		if !k.speaksOf(e.row.Line, e.row.Nest) {
			continue
		}
		switch e.Ask(e.row.At, inquiry.Prompt{
			Kind: "other", Place: "correction\x00" + k.at.File + "\x00" + k.note, Weight: inquiry.MustAnswer, Rank: 4,
			Text: func(g *group) string {
				return e.Say("A note may take back what the sheet says: “%s” (%s). Does the table have it right already? These nests wait for your answer (%s).", inquiry.Short(k.note), e.At(k.at), g.Where())
			},
			Choices: []inquiry.Choice{{ID: "keep", Label: e.Say("The table is right")}, {ID: "leave-out", Label: e.Say("Leave these nests out; I will correct the table and send it again")}},
		}) {
		case "":
			e.row.Waits = true
		case "leave-out":
			e.row.Waits = true
		}
	}
}

// otherDay tells whether a remark says that its nest was looked at on a day that no column names.
func (e *emitter) otherDay(note string) bool {
	if !e.remark(note).looked {
		return false
	}
	days := []survey.Date{e.row.SetOn}
	for i := range e.row.Looks {
		days = append(days, e.row.Looks[i].On)
	}
	for _, f := range lexicon.FindDates(note) {
		on := f.On(e.days(e.b.g).order == dayFirst, orYear(f.Year, e.row.SetOn.Year()))
		if on > e.row.SetOn && !slices.Contains(days, on) {
			return true
		}
	}
	return false
}

// lookedThen are words of a remark that moves a check to another day.
var lookedThen = regexp.MustCompile(`(?i)\b(?:checked|looked|visited|(?:did|made|was|were)[^.;]{0,20}(?:check|look|visit)|(?:check|look|visit)[^.;]{0,20}(?:\bon\b|\bwas\b)|revis[eéoó]\w*|se revis[oó]|fui|volv[ií])\b`)

// correction asks about a remark that may take back what the columns say of its nest.
func (e *emitter) correction() {
	e.correctionBeside()
	row := &e.row
	if len(row.Looks) == 0 || row.Notes == "" || len(row.Notes) > 400 || !e.remark(row.Notes).corrects && !e.otherDay(row.Notes) {
		return
	}
	note := row.Notes
	a := e.Ask(row.At, inquiry.Prompt{
		Kind: "other", Place: "correction\x00" + row.At.File + "\x00" + note, Weight: inquiry.MustAnswer, Rank: 4,
		Text: func(g *group) string {
			return e.Say("A remark may take back what the sheet says (%s): “%s”. What was found at the last look? The nest waits for your answer.", g.Where(), inquiry.Short(note))
		},
		Choices: append([]inquiry.Choice{{ID: "keep", Label: e.Say("As it stands in the column")}}, e.stateChoices()...),
	})
	switch a {
	case "":
		row.Waits = true
	case "keep":
	default:
		row.Looks[len(row.Looks)-1].Mark = markNamed(a)
	}
}
