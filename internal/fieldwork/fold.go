package fieldwork

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"tussock/internal/access"
	"tussock/internal/season"
)

// Folded is what a season's looks come to.
type Folded struct {
	Nests [][]string // a sheet in the columns of our blank workbook, its headings first
	Belts [][]string

	Conflicts []Conflict // what waits for somebody to choose; meanwhile none of it is in the sheet
	Settled   []Settled  // where somebody chose
	Seconds   []Second   // what two people saw of the same thing
	Lines     []LineState
	Stray     int // looks at lines that are not among those given
}

// A Conflict is two or more looks that cannot all be true.
type Conflict struct {
	Line  season.Line
	Stop  int
	Looks []Look // in the order they were made
}

// HasOwner tells whether an owner's look is among them: then an owner chooses.
func (c Conflict) HasOwner() bool {
	return slices.ContainsFunc(c.Looks, func(l Look) bool { return l.Owner })
}

// A Settled is a conflict in which somebody chose.
type Settled struct {
	Conflict
	Kept   access.ID // which holds
	Choice Look      // who said so
}

// A Second is another person's look at what somebody else had looked at: for agreement between people, never for
// results.
type Second struct {
	Line          access.ID
	Stop          int
	First, Second Look
}

// A LineState is how far a line is.
type LineState struct {
	Line     season.Line
	Set      int            // nests put out
	Checked  [2]int         // nests looked at once, and twice or more
	Ended    int            // nests whose fate is known or that were not found
	Open     int            // nests that have not ended and were not looked at twice
	Belts    int            // belts counted
	In       map[string]int // by item: what is out there and must come in
	Out      map[string]int // by item: what was carried out
	ClosedBy string         // who said so last; a member's word stands above one that came by a link
	ByLink   string         // the field link by which that came, "" for a member's
}

// Closed tells whether everything that went out has come in.
func (s *LineState) Closed() bool {
	if s.ClosedBy == "" {
		return false
	}
	return !slices.ContainsFunc(Items, func(item string) bool { return s.Out[item] < s.In[item] })
}

// Fold turns all looks of a ranch's season, in any order, into its sheet. Lines give the looks their pasture and the
// transect's name.
func Fold(lines []season.Line, looks []Look) Folded {
	f := folder{byLine: map[access.ID][]Look{}, kept: map[access.ID]choice{}}
	f.out.Nests, f.out.Belts = [][]string{nestHeadings()}, [][]string{beltHeadings(looks)}
	f.sort(looks)

	lines = slices.Clone(lines)
	slices.SortFunc(lines, func(a, b season.Line) int {
		return cmp.Or(cmp.Compare(a.Pasture, b.Pasture), cmp.Compare(len(a.Name), len(b.Name)), cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
	})
	for _, l := range lines {
		f.line(l)
		delete(f.byLine, l.ID)
	}
	for _, rest := range f.byLine {
		f.out.Stray += len(rest)
	}
	return f.out
}

// WithoutOwners leaves out the looks at stops, and the belts of lines, at which an owner looked or chose: those are an owner's to count.
func WithoutOwners(looks []Look) []Look {
	type spot struct {
		line  access.ID
		stop  int
		belts bool
	}
	at := func(l Look) spot {
		return spot{l.Line, l.Stop, l.Kind == Belt || l.Kind == Pace || l.Kind == Choose && l.Stop == 0}
	}
	undone, owners := map[access.ID]bool{}, map[spot]bool{}
	for _, l := range looks {
		if l.Kind == Undo {
			undone[l.Undoes] = true
		}
	}
	for _, l := range looks {
		if l.Owner && !undone[l.ID] && l.Kind != Undo {
			owners[at(l)] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(looks), func(l Look) bool { return l.Kind != Undo && owners[at(l)] })
}

// A folder is Fold at work.
type folder struct {
	byLine map[access.ID][]Look // live looks in order
	kept   map[access.ID]choice // those that somebody chose
	out    Folded
}

// A choice is what somebody chose, and how much it weighs: an owner's more than anybody else's, the later more than the earlier.
type choice struct {
	Look
	weight int
}

// sort takes back what was taken back, notes what was chosen, and puts the rest in order of time by line.
func (f *folder) sort(looks []Look) {
	looks = slices.Clone(looks)
	slices.SortStableFunc(looks, func(a, b Look) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.ID, b.ID))
	})
	undone := map[access.ID]bool{}
	for _, l := range looks {
		if l.Kind == Undo {
			undone[l.Undoes] = true
		}
	}
	seen := map[access.ID]bool{}
	for i, l := range looks {
		if seen[l.ID] || undone[l.ID] {
			continue
		}
		seen[l.ID] = true
		switch l.Kind {
		case Undo:
		case Choose:
			weight := 1 + i
			if l.Owner {
				weight += len(looks)
			}
			if id := access.ID(l.Answers["keep"]); f.kept[id].weight < weight {
				f.kept[id] = choice{l, weight}
			}
		default:
			f.byLine[l.Line] = append(f.byLine[l.Line], l)
		}
	}
}

// line folds one line.
func (f *folder) line(l season.Line) {
	state := LineState{Line: l, In: map[string]int{}, Out: map[string]int{}}
	byStop := map[int][]Look{}
	var belts []Look
	for _, look := range f.byLine[l.ID] {
		switch look.Kind {
		case Set, Check:
			byStop[look.Stop] = append(byStop[look.Stop], look)
		case Belt:
			belts = append(belts, look)
		case Close:
			if look.Link != "" && state.ClosedBy != "" && state.ByLink == "" {
				continue
			}
			state.ClosedBy, state.ByLink = look.Who, look.Link
			for _, item := range Items {
				state.Out[item] = whole(look.Answers[item+"_out"])
			}
		}
	}
	stops := make([]int, 0, len(byStop))
	for stop := range byStop {
		stops = append(stops, stop)
	}
	slices.Sort(stops)
	for _, stop := range stops {
		f.nest(l, stop, byStop[stop], &state)
	}
	f.belts(l, belts, &state)
	f.out.Lines = append(f.out.Lines, state)
}

// nest folds the looks at one stop into a row, or into what must be chosen first.
func (f *folder) nest(l season.Line, stop int, looks []Look, state *LineState) {
	var sets, checks []Look
	for _, look := range looks {
		if look.Kind == Set {
			sets = append(sets, look)
		} else if look.Answers["found"] != "" && look.Answers["found"] != NotChecked && look.Answers["looked_on"] != "" {
			checks = append(checks, look)
		}
	}
	set, settled := f.agree(l, stop, latest(sets, ""), "cover", "set_on")
	visits, open := f.visits(l, stop, checks)
	count(state, set, visits)
	if !settled || len(visits) == 0 && open {
		return
	}
	f.out.Nests = append(f.out.Nests, nestRow(l, stop, set, visits, f.second(visits)))
}

// latest keeps of each device's looks the last one, or the last one of each value of an answer where one is named: a
// later look by the same hand mends the earlier one.
func latest(looks []Look, per string) []Look {
	type key struct{ device, value string }
	last := map[key]int{}
	for i, l := range looks {
		k := key{l.Device, l.Answers[per]}
		if j, ok := last[k]; !ok || looks[j].Seq <= l.Seq {
			last[k] = i
		}
	}
	var out []Look
	for i, l := range looks {
		if last[key{l.Device, l.Answers[per]}] == i {
			out = append(out, l)
		}
	}
	return out
}

// byAnswer puts looks that answer a question alike together.
func byAnswer(looks []Look, question string) map[string][]Look {
	groups := map[string][]Look{}
	for _, l := range looks {
		answer := l.Answers[question]
		groups[answer] = append(groups[answer], l)
	}
	return groups
}

// agree returns the look that holds of those by different hands at one thing: the first where they say the same, the
// one chosen where they do not, and false where somebody has still to choose. What came by a link contradicts no member's look.
func (f *folder) agree(l season.Line, stop int, looks []Look, on ...string) (Look, bool) {
	if len(looks) == 0 {
		return Look{}, true
	}
	members := slices.DeleteFunc(slices.Clone(looks), func(l Look) bool { return l.Link != "" })
	if len(members) > 0 && len(members) < len(looks) {
		holds, ok := f.agree(l, stop, members, on...)
		for _, other := range looks {
			if ok && other.Link != "" && other.Who != holds.Who {
				f.out.Seconds = append(f.out.Seconds, Second{l.ID, stop, holds, other})
			}
		}
		return holds, ok
	}
	same := true
	for _, other := range looks[1:] {
		for _, name := range on {
			same = same && other.Answers[name] == looks[0].Answers[name]
		}
	}
	holds := 0
	if !same {
		for i, l := range looks {
			if f.kept[l.ID].weight > f.kept[looks[holds].ID].weight {
				holds = i
			}
		}
		if f.kept[looks[holds].ID].weight > 0 {
			f.out.Settled = append(f.out.Settled, Settled{Conflict{l, stop, looks}, looks[holds].ID, f.kept[looks[holds].ID].Look})
		} else {
			f.out.Conflicts = append(f.out.Conflicts, Conflict{l, stop, looks})
			return Look{}, false
		}
	}
	for i, other := range looks {
		if i != holds && other.Who != looks[holds].Who {
			f.out.Seconds = append(f.out.Seconds, Second{l.ID, stop, looks[holds], other})
		}
	}
	return looks[holds], true
}

// visits returns what holds of the looks at one nest, one a day and none after its end, and whether somebody has still
// to choose about any of them.
func (f *folder) visits(l season.Line, stop int, checks []Look) (visits []Look, open bool) {
	byDay := byAnswer(latest(checks, "looked_on"), "looked_on")
	for _, day := range slices.Sorted(maps.Keys(byDay)) {
		look, ok := f.agree(l, stop, byDay[day], "found", "eggs_left")
		open = open || !ok
		if ok {
			visits = append(visits, look)
		}
	}
	return f.untilEnd(l, stop, visits, open)
}

// second returns what another person saw of a nest's last check, or no look.
func (f *folder) second(visits []Look) Look {
	if len(visits) > 0 {
		for _, s := range f.out.Seconds {
			if s.First.ID == visits[len(visits)-1].ID {
				return s.Second
			}
		}
	}
	return Look{}
}

// untilEnd drops what comes after a nest's end. A nest that was not found and later was is simply a nest seen later.
// One that was gone and is there again cannot be: somebody must choose.
func (f *folder) untilEnd(l season.Line, stop int, visits []Look, open bool) ([]Look, bool) {
	var out []Look
	for i, v := range visits {
		if v.Answers["found"] == NotFound && i+1 < len(visits) {
			continue
		}
		if len(out) > 0 && ended(out[len(out)-1]) {
			last := out[len(out)-1]
			if v.Answers["found"] != AllHere {
				continue
			}
			switch {
			case v.Link != "" && last.Link == "":
				continue
			case v.Link == "" && last.Link != "":
				out = append(out[:len(out)-1], v)
				continue
			case f.kept[last.ID].weight > f.kept[v.ID].weight:
				f.out.Settled = append(f.out.Settled, Settled{Conflict{l, stop, []Look{last, v}}, last.ID, f.kept[last.ID].Look})
				continue
			case f.kept[v.ID].weight > 0:
				f.out.Settled = append(f.out.Settled, Settled{Conflict{l, stop, []Look{last, v}}, v.ID, f.kept[v.ID].Look})
				out = out[:len(out)-1]
			default:
				f.out.Conflicts = append(f.out.Conflicts, Conflict{l, stop, []Look{last, v}})
				return out[:len(out)-1], true
			}
		}
		out = append(out, v)
	}
	return out, open
}

func ended(l Look) bool { return l.Answers["found"] == SomeGone || l.Answers["found"] == AllLost }

// count adds one nest to what is known of its line.
func count(state *LineState, set Look, visits []Look) {
	if set.ID == "" && len(visits) == 0 {
		return
	}
	state.Set++
	eggs := 3 // a clump of three (common practice, no source)
	if n, ok := set.Answers["eggs_set"]; ok {
		eggs = whole(n)
	}
	for _, v := range visits {
		if n := whole(v.Answers["eggs_fresh_put"]); n > 0 {
			eggs = n
		}
		switch v.Answers["found"] {
		case SomeGone:
			eggs = whole(v.Answers["eggs_left"])
		case AllLost:
			eggs = 0
		}
	}
	flags := 1
	if n, ok := set.Answers["flags_set"]; ok {
		flags = whole(n)
	}
	state.In["eggs"] += eggs
	state.In["flags"] += flags
	state.In["markers"] += whole(set.Answers["markers_set"])
	if set.Answers["camera_here"] == "yes" {
		state.In["cameras"]++
	}
	over := false
	if len(visits) > 0 {
		state.Checked[0]++
		last := visits[len(visits)-1]
		over = ended(last) || last.Answers["found"] == NotFound
	}
	if over {
		state.Ended++
	}
	if len(visits) > 1 {
		state.Checked[1]++
	} else if !over {
		state.Open++
	}
}

// whole reads a whole number; 0 where there is none.
func whole(s string) int {
	n, _ := strconv.ParseFloat(s, 64) // checked when it came in
	return int(n)
}
