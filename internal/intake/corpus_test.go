package intake_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A truth is what a sheet of the corpus says, as its author wrote it down before the sheet.
type truth struct {
	About  string
	Ranch  *string
	Season *int
	Nests  []truthNest
	Belts  []truthBelt
	Open   []struct{ Kind, Why string }
}

type truthNest struct {
	Ranch, Site    string
	Season         int
	Transect, Nest string
	Substrate      string
	SetOn          string `json:"set_on"`
	Checks         []struct{ On, State string }
}

type truthBelt struct {
	Ranch, Site string
	Season      int
	Transect    string
	LengthFt    float64 `json:"length_ft"`
	WidthFt     float64 `json:"width_ft"`
	Counts      map[string]int
}

// A score says how the nests and belts of one sheet came out.
type score struct {
	nests, right, asked, noted, wrong, extra, spare int
	belts, beltsRight, beltsAsked, beltsWrong       int
	questions, needless                             int
	sites                                           int
	lines                                           []string
}

func loadCase(t testing.TB, dir string) (truth, []intake.File, intake.Options) {
	t.Helper()
	var tr truth
	data, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &tr); err != nil {
		t.Fatal(dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var files []intake.File
	for _, e := range entries {
		if e.Name() == "truth.json" {
			continue
		}
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, intake.File{Name: e.Name(), Data: data})
	}
	opt := intake.Options{Today: survey.DateOf(2026, 11, 30), Places: true}
	if tr.Ranch != nil {
		opt.Ranch = *tr.Ranch
	}
	if tr.Season != nil {
		opt.Season = *tr.Season
	}
	return tr, files, opt
}

// lineName is a line's name without what people leave off as easily as write: its case, accents and punctuation, the word
// line or transect before or behind it, T or L before its number, the "of" of a Spanish name (línea del papalote), zeros before
// its number, and an aside in parentheses behind it. The rest has to agree, word by word: T9-1 is not T91.
func lineName(s string) string {
	s = strings.ToLower(s)
	if name := strings.TrimSpace(aside.ReplaceAllString(s, "")); name != "" {
		s = name
	}
	words := wordsOf(s)
	ofALine := []string{"line", "linea", "transect", "transecto"}
	if n := len(words); n > 1 && slices.Contains(ofALine, words[n-1]) {
		words = words[:n-1]
	}
	if len(words) > 1 && slices.Contains(ofALine, words[0]) {
		words = words[1:]
	} else if len(words) > 1 && slices.Contains([]string{"t", "tr", "l", "ln"}, words[0]) && number.MatchString(words[1]) {
		words = words[1:]
	}
	switch {
	case len(words) > 1 && words[0] == "del":
		words = words[1:]
	case len(words) > 2 && words[0] == "de" && slices.Contains([]string{"la", "las", "los"}, words[1]):
		words = words[2:]
	}
	return strings.Join(words, " ")
}

// wordsOf takes a name apart into its words and its numbers, these without zeros before them.
func wordsOf(s string) []string {
	var words []string
	for _, w := range runs.FindAllString(strings.ToLower(s), -1) {
		if number.MatchString(w) {
			w = cmp.Or(strings.TrimLeft(w, "0"), "0")
		}
		if w = lexicon.Fold(w); w != "" {
			words = append(words, w)
		}
	}
	return words
}

var (
	aside  = regexp.MustCompile(`\([^()]*\)\s*$`)
	runs   = regexp.MustCompile(`[0-9]+|[\pL\pM]+`)
	number = regexp.MustCompile(`^[0-9]+$`)
)

// lineKeys tells by which name to compare each line of two sides, the truth's and the reading's. It is lineName, save
//   - where two lines of one side would become one: on both sides these go by all their letters and figures; and
//   - where on each side all nests of a season stand on one line, which has no name or the name 1: that is one line, and
//     belts without a name or of the name 1 are its own. Somebody with a single line need not name it, and a reading has to
//     call it something.
type lineKeys struct {
	clash map[string]bool
	sole  map[string]bool
}

// A namedLine is a line as one side writes it, within the ranch and the season in which its name has to be its own.
type namedLine struct {
	within, name string
	belt         bool
}

func lineKeysOf(sides ...[]namedLine) lineKeys {
	k := lineKeys{map[string]bool{}, map[string]bool{}}
	sole := map[string]int{}
	for _, side := range sides {
		written := map[namedLine]string{}
		nests, belts := map[string][]string{}, map[string][]string{}
		for _, l := range side {
			short := namedLine{within: l.within, name: lineName(l.name)}
			if was, ok := written[short]; ok && was != lexicon.Fold(l.name) {
				k.clash[short.within+"|"+short.name] = true
			}
			written[short] = lexicon.Fold(l.name)
			of := nests
			if l.belt {
				of = belts
			}
			if !slices.Contains(of[l.within], short.name) {
				of[l.within] = append(of[l.within], short.name)
			}
		}
		single := func(names []string) bool { return len(names) == 1 && (names[0] == "" || names[0] == "1") }
		for within, names := range nests {
			if single(names) && (len(belts[within]) == 0 || single(belts[within])) {
				sole[within]++
			}
		}
	}
	for within, n := range sole {
		k.sole[within] = n == len(sides)
	}
	return k
}

func (k lineKeys) of(within, line string) string {
	name := lineName(line)
	switch {
	case k.clash[within+"|"+name]:
		return lexicon.Fold(line)
	case k.sole[within] && (name == "" || name == "1"):
		return "1"
	}
	return name
}

// openKinds are the kinds of our questions that authors call otherwise.
var openKinds = map[string]string{"word": "state", "code": "state", "loss cause": "state", "length": "belt", "set date": "other", "date order": "date-order", "same day": "same-day", "cover": "substrate"}

// sameNest is a nest's number or name within its line, word by word: some authors write the line before it, too.
func sameNest(line, nest string) string {
	line, nest = strings.ToLower(line), strings.ToLower(nest)
	if rest, ok := strings.CutPrefix(nest, line); ok && line != "" && afterLine.MatchString(line[len(line)-1:]+rest) {
		nest = rest
	}
	return strings.Join(wordsOf(nest), " ")
}

// afterLine is where a line's name ends and a nest's number begins, from the last character of the name on.
var afterLine = regexp.MustCompile(`^(?:.[-./# ]+[0-9]|[a-z][0-9])`)

func sameRanch(s string) string {
	f := lexicon.Fold(s)
	for _, w := range []string{"ranch", "rancho", "place", "the", "bros", "brothers", "farm"} {
		f = strings.ReplaceAll(f, w, "")
	}
	return f
}

// A look is what was found at a nest on one day, as both sides are brought to for comparing.
type look struct{ on, state string }

// known is what looks tell of a nest: up to and including the one at which it was first gone each has to agree, in its day
// and in its state. Left out is what repeats and tells nothing new: the same written twice of one day, and the same end
// written again at later looks; and a look that did not find a nest, where another one did later or did not find it before.
// Another state after the end stays, since then the two contradict each other.
func known(looks []look) string {
	s, end := "", ""
	for i, l := range looks {
		if l.state == string(survey.Lost) && (i > 0 && looks[i-1].state == l.state || slices.ContainsFunc(looks[i:], func(k look) bool { return k.state != l.state })) {
			continue
		}
		if i > 0 && l == looks[i-1] || end != "" && l.state == end {
			continue
		}
		s += " " + l.on + "=" + l.state
		if survey.State(l.state).Failed() {
			end = l.state
		}
	}
	return s
}

func visitsOf(n *survey.Nest, yearless bool) string {
	on := func(d survey.Date) string {
		if s := d.String(); yearless && len(s) > 4 {
			return "-" + s[4:]
		}
		return d.String()
	}
	var looks []look
	for _, v := range n.Visits {
		looks = append(looks, look{on(v.On), string(v.State)})
	}
	return string(n.Substrate) + " " + on(n.SetOn) + known(looks)
}

func truthOf(n *truthNest) string {
	var looks []look
	for _, c := range n.Checks {
		if c.State != "unknown" { // nobody looked
			looks = append(looks, look{c.On, c.State})
		}
	}
	return n.Substrate + " " + n.SetOn + known(looks)
}

// yearless tells whether the author found no year anywhere and wrote days as --05-17. Then the sender's answer gives the
// year, and the months and days have to agree, all within one season.
func (tr *truth) yearless(nests []survey.Nest) bool {
	for i := range tr.Nests {
		if tr.Nests[i].Season != 0 {
			return false
		}
	}
	for i := range nests {
		if nests[i].Season != nests[0].Season {
			return false
		}
	}
	return len(tr.Nests) > 0 && slices.ContainsFunc(tr.Open, func(o struct{ Kind, Why string }) bool { return o.Kind == "year" })
}

// leavesOpen tells whether the author left it open what the last look at a nest found: whether an open word is said of
// this very nest, as line 2 nest 3, East nest 6, Ridge 3 or C-4. A line's number and a nest's need a word between them.
func (tr *truth) leavesOpen(n *truthNest) bool {
	line, between := strings.ToLower(n.Transect), ` (?:nest|nido) `
	if line == "" {
		return false
	}
	if last := line[len(line)-1]; last < '0' || last > '9' {
		between = `(?: nest | nido | |-)`
	}
	names := regexp.MustCompile(`(?:^|[^\pL\pM0-9])` + regexp.QuoteMeta(line) + between + regexp.QuoteMeta(strings.ToLower(n.Nest)) + `(?:$|[^\pL\pM0-9])`)
	for _, o := range tr.Open {
		if o.Kind == "word" && names.MatchString(strings.ToLower(o.Why)) {
			return true
		}
	}
	return false
}

// untilLost leaves a last look that did not find the nest out: it is known up to the look before.
func untilLost(visits string) string { return lastLost.ReplaceAllString(visits, "") }

var lastLost = regexp.MustCompile(` \S+=lost$`)

// grade holds a reading against the truth.
func grade(tr *truth, res *intake.Result) score {
	var sc score
	byRanch := map[string]bool{}
	for i := range tr.Nests {
		byRanch[sameRanch(tr.Nests[i].Ranch)] = true
	}
	many := len(byRanch) > 1
	yearless := tr.yearless(res.Data.Nests)
	within := func(ranch string, season int) string {
		if yearless {
			season = 0
		}
		if many {
			return sameRanch(ranch) + "|" + strconv.Itoa(season)
		}
		return strconv.Itoa(season)
	}
	lines := linesOf(tr, res, within)
	key := func(ranch string, season int, line, nest string) string {
		w := within(ranch, season)
		return w + "|" + lines.of(w, line) + "|" + sameNest(line, nest)
	}
	told := map[string]bool{}
	tell := func(cells []survey.Cell) {
		for _, c := range cells {
			told[c.File+"\x00"+c.Sheet+"\x00"+strconv.Itoa(c.Row)] = true
			if c.Row == 0 {
				told[c.File] = true
			}
		}
	}
	for _, q := range res.Questions {
		tell(q.Cells)
	}
	for _, p := range res.Refused {
		tell([]survey.Cell{{File: p.File, Sheet: p.Sheet, Row: p.Row}})
	}
	got := map[string][]int{}
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		k := key(n.Ranch, n.Season, n.Transect, n.Number)
		got[k] = append(got[k], i)
	}
	waiting := map[string]bool{}
	for i := range res.Waiting {
		n := &res.Waiting[i]
		waiting[key(n.Ranch, n.Season, n.Transect, n.Number)] = true
		waiting["|"+lineName(n.Transect)+"|"+sameNest(n.Transect, n.Number)] = true
	}
	used := map[int]bool{}
	for i := range tr.Nests {
		n := &tr.Nests[i]
		sc.nests++
		k := key(n.Ranch, n.Season, n.Transect, n.Nest)
		want := truthOf(n)
		found, at := false, -1
		for _, j := range got[k] {
			if used[j] {
				continue
			}
			if at < 0 || sameRanch(res.Data.Nests[at].Ranch) != sameRanch(n.Ranch) { // where none agrees, the ranch's own is meant
				at = j
			}
			if got := visitsOf(&res.Data.Nests[j], yearless); got == want || tr.leavesOpen(n) && untilLost(got) == want {
				found, at = true, j
				break
			}
		}
		if at >= 0 {
			used[at] = true
		}
		switch {
		case found:
			sc.right++
			if !strings.EqualFold(lexicon.Fold(res.Data.Nests[at].Site), lexicon.Fold(n.Site)) {
				sc.sites++
				if sc.sites <= 2 {
					sc.lines = append(sc.lines, fmt.Sprintf("  site of %s: %q want %q", k, res.Data.Nests[at].Site, n.Site))
				}
			}
		case at >= 0:
			asked := false
			if at < len(res.NestsAt) {
				for _, c := range res.NestsAt[at] {
					asked = asked || told[c.File+"\x00"+c.Sheet+"\x00"+strconv.Itoa(c.Row)] || told[c.File]
				}
			}
			if asked {
				sc.asked++
				sc.lines = append(sc.lines, "  asked "+k+": "+visitsOf(&res.Data.Nests[at], yearless)+" want "+want)
			} else {
				sc.wrong++
				sc.lines = append(sc.lines, "  WRONG "+k+": "+visitsOf(&res.Data.Nests[at], yearless)+" want "+want)
			}
		case waiting[k] || waiting["|"+lineName(n.Transect)+"|"+sameNest(n.Transect, n.Nest)] || len(res.Refused) > 0 || len(res.Questions) > 0:
			sc.asked++
			sc.lines = append(sc.lines, "  waits "+k+" want "+want)
		default:
			sc.wrong++
			sc.lines = append(sc.lines, "  MISSING "+k+" want "+want)
		}
	}
	for i := range res.Data.Nests {
		if !used[i] {
			n := &res.Data.Nests[i]
			asked := false
			if i < len(res.NestsAt) {
				for _, c := range res.NestsAt[i] {
					asked = asked || told[c.File+"\x00"+c.Sheet+"\x00"+strconv.Itoa(c.Row)] || told[c.File]
				}
			}
			sc.spare++
			if !asked {
				sc.extra++
			}
			sc.lines = append(sc.lines, "  EXTRA "+key(n.Ranch, n.Season, n.Transect, n.Number)+": "+visitsOf(n, yearless)+fmt.Sprintf(" asked %v site %q", asked, n.Site))
		}
	}
	gradeBelts(tr, res, &sc, told, func(ranch string, season int, line string) string {
		w := within(ranch, season)
		return w + "|" + lines.of(w, line)
	})
	return sc
}

// linesOf names the lines of the truth and of the reading alike.
func linesOf(tr *truth, res *intake.Result, within func(ranch string, season int) string) lineKeys {
	var ours, theirs []namedLine
	for _, n := range tr.Nests {
		theirs = append(theirs, namedLine{within(n.Ranch, n.Season), n.Transect, false})
	}
	for _, b := range tr.Belts {
		theirs = append(theirs, namedLine{within(b.Ranch, b.Season), b.Transect, true})
	}
	for _, n := range res.Data.Nests {
		ours = append(ours, namedLine{within(n.Ranch, n.Season), n.Transect, false})
	}
	for _, b := range res.Data.Belts {
		ours = append(ours, namedLine{within(b.Ranch, b.Season), b.Transect, true})
	}
	return lineKeysOf(theirs, ours)
}

func gradeBelts(tr *truth, res *intake.Result, sc *score, told map[string]bool, key func(ranch string, season int, line string) string) {
	used := map[int]bool{}
	for i := range tr.Belts {
		b := &tr.Belts[i]
		sc.belts++
		near := -1
		ok := false
		for j := range res.Data.Belts {
			g := &res.Data.Belts[j]
			if used[j] || key(g.Ranch, g.Season, g.Transect) != key(b.Ranch, b.Season, b.Transect) {
				continue
			}
			if near < 0 || sameRanch(g.Ranch) == sameRanch(b.Ranch) {
				near = j
			}
			if beltLine(together(b, g)) == beltTruth(b) {
				near, ok = j, true
				break
			}
		}
		if near >= 0 {
			used[near] = true
		}
		switch {
		case ok:
			sc.beltsRight++
		case near >= 0 && (told[res.Data.Belts[near].From.File+"\x00"+res.Data.Belts[near].From.Sheet+"\x00"+strconv.Itoa(res.Data.Belts[near].From.Row)]):
			sc.beltsAsked++
			sc.lines = append(sc.lines, "  belt asked "+b.Transect+": "+beltLine(&res.Data.Belts[near])+" want "+beltTruth(b))
		case near >= 0:
			sc.beltsWrong++
			sc.lines = append(sc.lines, "  BELT "+b.Transect+": "+beltLine(&res.Data.Belts[near])+" want "+beltTruth(b))
		case len(res.Refused)+len(res.Questions) > 0:
			sc.beltsAsked++
			sc.lines = append(sc.lines, "  belt waits "+b.Transect+" want "+beltTruth(b))
		default:
			sc.beltsWrong++
			sc.lines = append(sc.lines, "  BELT MISSING "+b.Transect+" want "+beltTruth(b))
		}
	}
	for j := range res.Data.Belts {
		b := &res.Data.Belts[j]
		if !used[j] && !told[b.From.File+"\x00"+b.From.Sheet+"\x00"+strconv.Itoa(b.From.Row)] {
			sc.beltsWrong++
			sc.lines = append(sc.lines, "  BELT EXTRA "+b.Transect+": "+beltLine(b))
		}
	}
}

func beltLine(b *survey.Belt) string {
	var cs []string
	for s, n := range b.Counts {
		if n > 0 {
			cs = append(cs, fmt.Sprintf("%s %d", s, n))
		}
	}
	sort.Strings(cs)
	return fmt.Sprintf("%.0f x %.1f %s", math.Round(b.LengthFt), b.WidthFt, strings.Join(cs, ", "))
}

// beltTruth is what beltLine should say. Where only all clumps together are known, they stand under no cover.
func beltTruth(b *truthBelt) string {
	var cs []string
	for s, n := range b.Counts {
		if n > 0 {
			cs = append(cs, fmt.Sprintf("%s %d", s, n))
		}
	}
	sort.Strings(cs)
	return fmt.Sprintf("%.0f x %.1f %s", math.Round(b.LengthFt), b.WidthFt, strings.Join(cs, ", "))
}

// together adds the covers of a belt up where the truth knows no covers.
func together(b *truthBelt, g *survey.Belt) *survey.Belt {
	if _, all := b.Counts[""]; !all {
		return g
	}
	sum := 0
	for _, n := range g.Counts {
		sum += n
	}
	added := *g
	added.Counts = map[survey.Substrate]int{"": sum}
	return &added
}

// value is what an honest sender maximizes in answering: what comes out right, less what comes out wrong.
func (s *score) value() int {
	return 30*(s.right+s.beltsRight) - 40*(s.wrong+s.extra+s.beltsWrong) - s.spare
}

// refusedWhole is the result of files that were refused aloud as a whole.
func refusedWhole(err error) *intake.Result {
	return &intake.Result{Refused: []inquiry.Problem{{Problem: err.Error()}}}
}

// answerAll answers the questions of a reading as a sender would who knows the truth: each by the answer after which most is right.
func answerAll(tr *truth, files []intake.File, opt intake.Options, res *intake.Result) (*intake.Result, map[string]string, []inquiry.Question) {
	answers := map[string]string{}
	var asked []inquiry.Question
	read := func(a map[string]string) *intake.Result {
		o := opt
		o.Answers = a
		res, err := intake.Read(files, o)
		if err != nil {
			return refusedWhole(err)
		}
		return res
	}
	for round := 0; round < 12; round++ {
		var q *inquiry.Question
		for i := range res.Questions {
			if _, done := answers[res.Questions[i].ID]; !done {
				q = &res.Questions[i]
				break
			}
		}
		if q == nil {
			break
		}
		asked = append(asked, *q)
		best, bestValue := "", math.MinInt
		var bestRes *intake.Result
		for _, c := range q.Choices {
			a := map[string]string{}
			for k, v := range answers {
				a[k] = v
			}
			a[q.ID] = c.ID
			r := read(a)
			g := grade(tr, r)
			if v := g.value(); v > bestValue {
				best, bestValue, bestRes = c.ID, v, r
			}
		}
		answers[q.ID] = best
		res = bestRes
	}
	return res, answers, asked
}

func corpusDirs(t testing.TB, roots ...string) []string {
	var out []string
	for _, root := range roots {
		found, _ := filepath.Glob(filepath.Join(root, "*", "truth.json"))
		for _, f := range found {
			out = append(out, filepath.Dir(f))
		}
	}
	slices.Sort(out)
	return out
}

// A bar is what a part of the corpus must reach. Its figures are those last measured; a change may raise them.
type bar struct {
	right, wrong           int // nests as sent: right at least, wrong or made up at most
	beltsRight, beltsWrong int
	rightAnswered          int // nests after the questions were answered
}

// TestCorpus reads sheets that strangers laid out (testdata/sheets/README.md), compares every nest and belt with what their
// authors meant, prints the score of both parts and holds each to its bar. TUSSOCK_CORPUS names other folders of sheets, and
// TUSSOCK_CORPUS_ONLY a piece of the names of those of which all is printed.
func TestCorpus(t *testing.T) {
	if roots := os.Getenv("TUSSOCK_CORPUS"); roots != "" {
		scorePart(t, strings.Split(roots, ":"))
		return
	}
	for part, bar := range map[string]bar{
		"tuned":  {right: 20730, wrong: 33, beltsRight: 1426, beltsWrong: 6, rightAnswered: 21944},
		"unseen": {right: 3364, wrong: 93, beltsRight: 130, beltsWrong: 15, rightAnswered: 3662},
	} {
		t.Run(part, func(t *testing.T) {
			roots, err := filepath.Glob("../../testdata/sheets/" + part + "/*")
			if err != nil || len(roots) == 0 {
				t.Fatal("no sheets", err)
			}
			first, after := scorePart(t, roots)
			if first.right < bar.right || first.wrong+first.extra > bar.wrong || first.beltsRight < bar.beltsRight || first.beltsWrong > bar.beltsWrong || after.right < bar.rightAnswered {
				t.Errorf("below the bar %+v", bar)
			}
		})
	}
}

// A sheetRead is a sheet of the corpus, read without answers and with them.
type sheetRead struct {
	dir        string
	tr         truth
	res, after *intake.Result
	answers    map[string]string
	asked      []inquiry.Question
}

// readPart reads the sheets of some folders, on all processors.
func readPart(t *testing.T, roots []string) []sheetRead {
	only := os.Getenv("TUSSOCK_CORPUS_ONLY")
	dirs := slices.DeleteFunc(corpusDirs(t, roots...), func(dir string) bool { return !strings.Contains(dir, only) })
	all := make([]sheetRead, len(dirs))
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, dir := range dirs {
		tr, files, opt := loadCase(t, dir)
		g.Go(func() error {
			res, err := intake.Read(files, opt)
			if err != nil {
				res = refusedWhole(err)
			}
			all[i] = sheetRead{dir: dir, tr: tr, res: res}
			all[i].after, all[i].answers, all[i].asked = answerAll(&tr, files, opt, res)
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		t.Fatal(err)
	}
	return all
}

// scorePart reads the sheets of some folders and prints the score.
func scorePart(t *testing.T, roots []string) (first, after score) {
	quiet := os.Getenv("TUSSOCK_CORPUS_QUIET") != ""
	only := os.Getenv("TUSSOCK_CORPUS_ONLY")
	sheets, whole, safe := 0, 0, 0
	for _, read := range readPart(t, roots) {
		dir, tr, res, answers, asked := read.dir, read.tr, read.res, read.answers, read.asked
		a, b := grade(&tr, res), grade(&tr, read.after)
		kinds := map[string]bool{}
		for _, o := range tr.Open {
			kinds[o.Kind], kinds[openKinds[o.Kind]] = true, true
		}
		needless := 0
		for _, q := range asked {
			if !kinds[q.Kind] {
				needless++
			}
		}
		a.questions, a.needless = len(asked), needless
		name := strings.Join(strings.Split(dir, string(filepath.Separator))[len(strings.Split(dir, string(filepath.Separator)))-3:], "/")
		if os.Getenv("TUSSOCK_CORPUS") != "" {
			t.Logf("%-42s nests %3d right %3d asked %3d WRONG %d extra %d | belts %d/%d asked %d WRONG %d | after: right %3d wrong %d+%d belts %d/%d | questions %d needless %d sites off %d", name, a.nests, a.right, a.asked, a.wrong, a.extra, a.beltsRight, a.belts, a.beltsAsked, a.beltsWrong, b.right, b.wrong, b.extra, b.beltsRight, b.belts, a.questions, a.needless, a.sites)
		}
		if !quiet && only != "" {
			for _, l := range a.lines[:min(len(a.lines), 30)] {
				t.Log(l)
			}
			t.Log(" after answers:")
			for _, l := range b.lines[:min(len(b.lines), 20)] {
				t.Log(l)
			}
			for _, q := range asked {
				t.Logf("  Q %s %v -> %s: %s (default %q)", q.Kind, q.Weight, answers[q.ID], q.Text, q.Default)
			}
			for _, p := range res.Refused[:min(len(res.Refused), 10)] {
				t.Logf("  refused %+v", p)
			}
			for _, n := range res.Tidied {
				t.Logf("  tidied %s: %s", n.Kind, n.Text)
			}
			for _, n := range res.NotUsed {
				t.Logf("  aside: %s (%d cells)", n.Text, len(n.Cells))
			}
			for _, r := range res.Roles {
				t.Logf("  role %s!%s/%d %s %q = %s", r.File, r.Sheet, r.Block, r.Column, r.Heading, r.Role)
			}
		}
		if b.right == b.nests && b.wrong+b.extra == 0 && b.beltsRight == b.belts {
			whole++
		}
		if a.wrong+a.extra+a.beltsWrong == 0 {
			safe++
		}
		sheets++
		first.add(a)
		after.add(b)
	}
	t.Logf("%d sheets: %d whole after answers, %d with nothing wrong in silence", sheets, whole, safe)
	t.Logf("AS SENT   %s", first)
	t.Logf("ANSWERED  %s", after)
	return first, after
}

func (s *score) add(o score) {
	s.nests += o.nests
	s.right += o.right
	s.asked += o.asked
	s.noted += o.noted
	s.wrong += o.wrong
	s.extra += o.extra
	s.belts += o.belts
	s.beltsRight += o.beltsRight
	s.beltsAsked += o.beltsAsked
	s.beltsWrong += o.beltsWrong
	s.questions += o.questions
	s.needless += o.needless
	s.sites += o.sites
}

func (s score) String() string {
	return fmt.Sprintf("nests %d right %d (%.1f %%) asked %d wrong %d extra %d; belts %d right %d asked %d wrong %d; questions %d needless %d; sites off %d", s.nests, s.right, 100*float64(s.right)/float64(max(s.nests, 1)), s.asked, s.wrong, s.extra, s.belts, s.beltsRight, s.beltsAsked, s.beltsWrong, s.questions, s.needless, s.sites)
}

// TestGrader holds the grader to what it must take for the same and what it must not.
func TestGrader(t *testing.T) {
	// What two sides call the lines of one season, and whether line by line they are the same.
	for _, c := range []struct {
		truth, reading []string
		same           bool
	}{
		{[]string{"Línea 1", "Línea 2"}, []string{"1", "2"}, true},
		{[]string{"LINE 1", "T02", "Transecto 3", "L-4"}, []string{"1", "2", "3", "4"}, true},
		{[]string{"North fence line", "East"}, []string{"north fence", "Line East"}, true},
		{[]string{"DEL PAPALOTE", "De la Mesa"}, []string{"Papalote", "línea de la mesa"}, true},
		{[]string{"Transect 1 (grazed)", "Transect 2 (rested)"}, []string{"1", "2"}, true},
		{[]string{"0417"}, []string{"417"}, true},
		{[]string{"RK-1", "KB2"}, []string{"RK 1", "kb-2"}, true},
		{[]string{""}, []string{"1"}, true},
		{[]string{"1"}, []string{""}, true},
		{[]string{"Hill line", "Hill transect"}, []string{"Hill line", "Hill transect"}, true},

		{[]string{"1 (north)", "1 (south)"}, []string{"1", "1"}, false},
		{[]string{"1 (north)", "1 (south)"}, []string{"1 (south)", "1 (north)"}, false},
		{[]string{"L1", "T1"}, []string{"1", "1"}, false},
		{[]string{"East", "East line"}, []string{"East", "East"}, false},
		{[]string{"1", "2"}, []string{"1", "1"}, false},
		{[]string{"T9-1"}, []string{"T91"}, false},
		{[]string{"Tank"}, []string{"ank"}, false},
		{[]string{"Lane"}, []string{"ane"}, false},
		{[]string{"L Bar"}, []string{"Bar"}, false},
		{[]string{"Cedar draw"}, []string{"Cedar"}, false},
		{[]string{"Set 1"}, []string{"1"}, false},
		{[]string{"1A"}, []string{"1"}, false},
		{[]string{"10"}, []string{"1"}, false},
		{[]string{"", "2"}, []string{"1", "2"}, false},
		{[]string{""}, []string{"2"}, false},
		{[]string{""}, []string{"East"}, false},
	} {
		var sides [2][]namedLine
		for i, names := range [][]string{c.truth, c.reading} {
			for _, name := range names {
				sides[i] = append(sides[i], namedLine{within: "2025", name: name})
			}
		}
		k := lineKeysOf(sides[0], sides[1])
		same := true
		for i := range c.truth {
			same = same && k.of("2025", c.truth[i]) == k.of("2025", c.reading[i])
		}
		if same != c.same {
			t.Errorf("lines %q and %q are the same: %v, want %v", c.truth, c.reading, same, c.same)
		}
		for _, names := range [][]string{c.truth, c.reading} {
			for i, a := range names {
				for _, b := range names[:i] {
					if lexicon.Fold(a) != lexicon.Fold(b) && k.of("2025", a) == k.of("2025", b) {
						t.Errorf("lines %q and %q of one side become one", a, b)
					}
				}
			}
		}
	}

	// A nest of the truth and one of a reading, as "line nest cover set look...", and what comes of them.
	for _, c := range []struct {
		why, truth, reading string
		open                string
		right               bool
	}{
		{"all agrees", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=taken", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=taken", "", true},
		{"taken is written again", "1 3 yucca 2025-05-01 2025-05-15=taken 2025-05-29=taken", "1 3 yucca 2025-05-01 2025-05-15=taken", "", true},
		{"taken is read again", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 yucca 2025-05-01 2025-05-15=taken 2025-05-29=taken", "", true},
		{"one look is written twice", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-15=intact", "1 3 yucca 2025-05-01 2025-05-15=intact", "", true},
		{"nobody looked", "1 3 yucca 2025-05-01 2025-05-15=unknown 2025-05-29=intact", "1 3 yucca 2025-05-01 2025-05-29=intact", "", true},
		{"the line before the number", "RK-1 RK-1-03 yucca 2025-05-01 2025-05-15=taken", "RK-1 3 yucca 2025-05-01 2025-05-15=taken", "", true},
		{"not found, and left open", "2 3 yucca 2025-05-01 2025-05-15=intact", "2 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=lost", "word: línea 1 nido 3 y linea 2 nido 3: no estaba", true},
		{"not found on a named line, and left open", "Ridge 3 yucca 2025-05-01", "ridge 3 yucca 2025-05-01 2025-05-29=lost", "word: Ridge 3 and Fence 9: could not find", true},
		{"not found at C-4, and left open", "C 4 yucca 2025-05-01", "C 4 yucca 2025-05-01 2025-05-29=lost", "word: C-4 at the second check", true},
		{"the sender gives the year", "1 3 yucca --05-01 --05-15=intact", "1 3 yucca 2026-05-01 2026-05-15=intact", "year: none anywhere", true},

		{"another cover", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 shrub 2025-05-01 2025-05-15=taken", "", false},
		{"another set day", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 yucca 2025-05-02 2025-05-15=taken", "", false},
		{"the day of an intact look", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=taken", "1 3 yucca 2025-05-01 2025-05-16=intact 2025-05-29=taken", "", false},
		{"the day it was first gone", "1 3 yucca 2025-05-01 2025-05-15=taken 2025-05-29=taken", "1 3 yucca 2025-05-01 2025-05-29=taken", "", false},
		{"how it ended", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 yucca 2025-05-01 2025-05-15=trampled", "", false},
		{"two ends", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 yucca 2025-05-01 2025-05-15=taken 2025-05-29=trampled", "", false},
		{"whole again", "1 3 yucca 2025-05-01 2025-05-15=taken 2025-05-29=intact", "1 3 yucca 2025-05-01 2025-05-15=taken", "", false},
		{"a look left out", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=intact", "1 3 yucca 2025-05-01 2025-05-29=intact", "", false},
		{"the last look left out", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=intact", "1 3 yucca 2025-05-01 2025-05-15=intact", "", false},
		{"two findings of one day", "1 3 yucca 2025-05-01 2025-05-15=intact 2025-05-15=taken", "1 3 yucca 2025-05-01 2025-05-15=taken", "", false},
		{"not found, and not left open", "2 3 yucca 2025-05-01 2025-05-15=intact", "2 3 yucca 2025-05-01 2025-05-15=intact 2025-05-29=lost", "", false},
		{"another nest is left open", "2 3 yucca 2025-05-01", "2 3 yucca 2025-05-01 2025-05-15=lost", "word: line 12 nest 3, line 2 nest 33 and line 1 nest 2 3 eggs", false},
		{"left open, and read as taken", "2 3 yucca 2025-05-01", "2 3 yucca 2025-05-01 2025-05-15=taken", "word: line 2 nest 3: could not find", false},
		{"left open is something else", "2 3 yucca 2025-05-01", "2 3 yucca 2025-05-01 2025-05-15=lost", "code: line 2 nest 3", false},
		{"the sender gives the year, and a day is off", "1 3 yucca --05-01 --05-15=intact", "1 3 yucca 2026-05-01 2026-05-16=intact", "year: none anywhere", false},
		{"another nest", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 13 yucca 2025-05-01 2025-05-15=taken", "", false},
		{"a nest of two numbers", "Hill 1-2 yucca 2025-05-01 2025-05-15=taken", "Hill 12 yucca 2025-05-01 2025-05-15=taken", "", false},
		{"another season", "1 3 yucca 2025-05-01 2025-05-15=taken", "1 3 yucca 2024-05-01 2024-05-15=taken", "", false},
	} {
		tr, res := truth{Nests: []truthNest{{}}}, intake.Result{Data: survey.Data{Nests: []survey.Nest{{}}}}
		n, r := &tr.Nests[0], &res.Data.Nests[0]
		f := strings.Fields(c.truth)
		n.Transect, n.Nest, n.Substrate, n.SetOn = f[0], f[1], f[2], f[3]
		n.Season, _ = strconv.Atoi(strings.SplitN(f[3], "-", 2)[0])
		for _, l := range f[4:] {
			on, state, _ := strings.Cut(l, "=")
			n.Checks = append(n.Checks, struct{ On, State string }{on, state})
		}
		if kind, why, ok := strings.Cut(c.open, ": "); ok {
			tr.Open = append(tr.Open, struct{ Kind, Why string }{kind, why})
		}
		day := func(s string) survey.Date {
			var y, m, d int
			if _, err := fmt.Sscanf(s, "%d-%d-%d", &y, &m, &d); err != nil {
				t.Fatal(s, err)
			}
			return survey.DateOf(y, time.Month(m), d)
		}
		f = strings.Fields(c.reading)
		r.Transect, r.Number, r.Substrate, r.SetOn = f[0], f[1], survey.Substrate(f[2]), day(f[3])
		r.Season, _ = strconv.Atoi(strings.SplitN(f[3], "-", 2)[0])
		for _, l := range f[4:] {
			on, state, _ := strings.Cut(l, "=")
			r.Visits = append(r.Visits, survey.Visit{On: day(on), State: survey.State(state)})
		}
		if sc := grade(&tr, &res); (sc.right == 1) != c.right || sc.right+sc.wrong != 1 {
			t.Errorf("%s: right %d wrong %d, want right %v\n%s", c.why, sc.right, sc.wrong, c.right, strings.Join(sc.lines, "\n"))
		}
	}
}
