package intake

import (
	"crypto/sha256"
	"fmt"
	"maps"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"tussock/internal/inquiry"
	"tussock/internal/reading"
	"tussock/internal/survey"
)

// A sheet of which little can be read is read again with the choices of its reading the other way, one at a time and then
// one more, and the reading that makes a whole season of it wins. What the first reading was sure of must stay as it was,
// and whatever leaves a question that must be answered wins nothing, so that no guess replaces a question.
const (
	mostReadings = 250     // of one batch
	mostCells    = 500_000 // in all readings of one batch
	mostRows     = 1500    // of a batch that is read more than once
	mostBytes    = 1 << 20
	mostTurns    = 3  // choices that go the other way in one reading
	leastGain    = 60 // in worth: two nests and their looks
)

// worth is how much of a season a reading makes of the files, less what it leaves open. A nest is worth most where it was
// set, looked at in time and is numbered next to the one before on its line.
func worth(res *Result) int {
	if res == nil {
		return 0
	}
	w := 0
	last := map[string]int{} // by line: the number of the nest before
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		looks, off := 0, n.SetOn == 0
		for _, v := range n.Visits {
			if v.State == "" {
				continue
			}
			gap := int(v.On - n.SetOn)
			off = off || looks == 0 && (gap < 3 || gap > longFirst) || gap > 60
			looks++
		}
		if looks == 0 || n.Substrate == "" {
			continue
		}
		w += 20 + 4*min(looks, 5)
		if off {
			w -= 15
		}
		line := fmt.Sprint(n.Ranch, "\x00", n.Season, "\x00", n.Transect)
		if k, err := strconv.Atoi(lastDigits.FindString(n.Number)); err == nil {
			if was, begun := last[line]; begun && k != was+1 || !begun && k != 1 {
				w -= 3
			}
			last[line] = k
		}
	}
	for i := range res.Data.Belts {
		if b := &res.Data.Belts[i]; b.LengthFt > 0 && b.WidthFt > 0 {
			w += 20
		}
	}
	for _, q := range res.Questions {
		switch {
		case q.Weight == inquiry.MustAnswer:
			w -= 10
		case q.Kind == "ranch":
			w -= 5
		default:
			w -= 5 + min(len(q.Cells), 20)
		}
	}
	w -= 3 * min(len(res.Refused), len(res.Data.Nests))
	for _, a := range res.NotUsed {
		w -= len(a.Cells) / 4
	}
	return w
}

var lastDigits = regexp.MustCompile(`\d+$`)

// doubtful tells whether a reading leaves much of a sheet unread.
func doubtful(res *Result) bool {
	if res == nil {
		return true
	}
	open := len(res.Refused) + len(res.Waiting)
	for _, q := range res.Questions {
		if q.Weight == inquiry.MustAnswer || q.Kind == "other" {
			open += len(q.Cells)
		}
	}
	return open > max(2, len(res.Data.Nests)/10)
}

// better reads a batch whose reading is doubtful in other ways, and returns the reading that makes a season of it, else the
// first.
func better(files []File, opt Options, res *Result, err error) (*Result, error) {
	bytes := 0
	for _, f := range files {
		bytes += len(f.Data)
	}
	if !doubtful(res) || res != nil && res.Rows > mostRows || bytes > mostBytes {
		return res, err
	}
	base := opt // the sender's word on columns counts before; other answers are to questions of the reading that wins
	base.Answers, base.Places = map[string]string{}, true
	for id, a := range opt.Answers {
		if strings.HasPrefix(id, "role-") {
			base.Answers[id] = a
		}
	}
	turns := searched(files, base)
	if len(turns) == 0 {
		return res, err
	}
	return read(files, opt, turns)
}

// searches keeps what was found for the batches read last, since a sheet is read again at each of its sender's answers.
var searches = struct {
	sync.Mutex
	turns map[[sha256.Size]byte]map[string]int
}{turns: map[[sha256.Size]byte]map[string]int{}}

// searched is search, done once for a batch.
func searched(files []File, opt Options) map[string]int {
	h := sha256.New()
	fmt.Fprintf(h, "%q %q %d %q %q %v %q %v %v", opt.Ranch, opt.OnlyRanches, opt.Season, opt.DateOrder, opt.Zero, opt.PartLossIntact, opt.Undone, opt.Words, opt.Answers)
	fmt.Fprint(h, opt.RanchesHad, opt.Today)
	for _, f := range files {
		fmt.Fprintf(h, "%q %d ", f.Name, len(f.Data))
		h.Write(f.Data)
	}
	key := [sha256.Size]byte(h.Sum(nil))
	searches.Lock()
	turns, done := searches.turns[key]
	searches.Unlock()
	if done {
		return turns
	}
	turns = search(files, opt)
	searches.Lock()
	if len(searches.turns) >= 256 {
		clear(searches.turns)
	}
	searches.turns[key] = turns
	searches.Unlock()
	return turns
}

// search returns the choices that the best reading of a batch makes the other way; none where the first is the best.
func search(files []File, opt Options) map[string]int {
	first, _ := read(files, opt, map[string]int{})
	if first == nil {
		return nil
	}
	s := searcher{files: files, opt: opt, first: first, left: min(mostReadings, mostCells/((first.Rows+20)*max(len(first.Roles), 8)))}
	cur, try := first, map[string]int{}
	for len(try) < mostTurns {
		got, turns := s.next(cur, try, cur.choices)
		if got == nil {
			break
		}
		cur, try = got, turns
	}
	if len(try) == 0 || worth(cur) < max(worth(first), 0)+leastGain || doubtful(cur) {
		return nil
	}
	return try
}

// A searcher reads a batch in other ways.
type searcher struct {
	files []File
	opt   Options
	first *Result
	left  int // readings
}

// next returns the best reading with one more choice the other way; nil where none is better.
func (s *searcher) next(cur *Result, try map[string]int, choices []reading.Choice) (best *Result, turns map[string]int) {
	most := worth(cur) + 3
	for _, c := range choices {
		if _, done := try[c.ID]; done {
			continue
		}
		for _, other := range c.Others {
			if s.left--; s.left < 0 {
				return best, turns
			}
			t := maps.Clone(try)
			t[c.ID] = other
			got, err := read(s.files, s.opt, t)
			if err != nil {
				continue
			}
			if w := worth(got); w > most && keeps(s.first, got) {
				best, turns, most = got, t, w
			}
		}
	}
	return best, turns
}

// keeps tells whether a reading leaves the nests as they are that another was sure of.
func keeps(sure, got *Result) bool {
	asked := map[survey.Cell]bool{}
	for _, q := range sure.Questions {
		for _, c := range q.Cells {
			asked[survey.Cell{File: c.File, Sheet: c.Sheet, Row: c.Row}] = true
		}
	}
	for _, p := range sure.Refused {
		asked[survey.Cell{File: p.File, Sheet: p.Sheet, Row: p.Row}] = true
	}
	have := map[string]bool{}
	for i := range got.Data.Nests {
		have[told(&got.Data.Nests[i])] = true
	}
	for i := range sure.Data.Nests {
		open := false
		for _, c := range sure.NestsAt[i] {
			open = open || asked[survey.Cell{File: c.File, Sheet: c.Sheet, Row: c.Row}]
		}
		if !open && !have[told(&sure.Data.Nests[i])] {
			return false
		}
	}
	return true
}

// told is all that counts of a nest.
func told(n *survey.Nest) string {
	s := fmt.Sprint(n.Ranch, "\x00", n.Season, "\x00", n.Transect, "\x00", n.Number, "\x00", n.Substrate, n.SetOn)
	for _, v := range n.Visits {
		s += fmt.Sprint(" ", v.On, v.State)
	}
	return s
}
