package fieldwork

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Keyed is a paper sheet as somebody types it: what stands in each of its boxes, by the box's name. A box of a row ends in
// a dot and the stop: cover.3, found2.3 (week 2), found3.3 (week 4), bits.3. For ticked boxes it is the number printed in
// the box; where a word says more, its first letter in English or Spanish will do.
type Keyed map[string]string

// Keyed boxes by block. The days are 1 set out, 2 and 3 the checks.
const (
	daySet = 1
	dayEnd = 3
)

// Founds are the states with a box on paper, in its order.
var Founds = []string{AllHere, SomeGone, AllLost, NotFound}

// OtherDays is how many rows there are for nests that were looked at on another day than their line.
const OtherDays = 4

// A Slip is a box whose content cannot be: which one, and a sentence about it in English, the key of its translation.
type Slip struct {
	Box  string
	Text string
	Args []any
}

// RowBoxes lists the boxes of one stop on the page of the nests, in the order of the sheet.
func RowBoxes() []string {
	return []string{"cover", "eggs", "place", "found2", "left2", "how2", "fresh2", "found3", "left3", "how3", "note"}
}

// RemainsBoxes lists those on the page of the remains.
func RemainsBoxes() []string {
	var list []string
	for _, f := range survey.Features {
		list = append(list, f.Name)
	}
	return append(list, "trace", "guess")
}

// Looks turns the sheet into looks without an ID, and tells what cannot be: then there are no looks, so that a sheet is kept
// whole or not at all. Every look of a sheet was made by whoever's initials stand over its block, and none after the day after today: where
// they were made, tomorrow may have begun.
func (k Keyed) Looks(l season.Line, today survey.Date) ([]Look, []Slip) {
	r := keyReader{k: k, line: l, today: today, days: map[[2]int]survey.Date{}, boxes: map[[2]int]string{}}
	r.readDays()
	for stop := 1; stop <= l.Stops; stop++ {
		r.nest(stop)
	}
	r.belt()
	r.close()
	if len(r.slips) > 0 {
		return nil, r.slips
	}
	return r.looks, nil
}

// A keyReader is Looks at work.
type keyReader struct {
	k     Keyed
	line  season.Line
	today survey.Date
	days  map[[2]int]survey.Date // by stop and day; stop 0 is the line
	boxes map[[2]int]string      // where a stop's own day stands
	looks []Look
	slips []Slip
}

func (r *keyReader) get(box string, stop int) (value, name string) {
	if stop > 0 {
		box = fmt.Sprintf("%s.%d", box, stop)
	}
	return strings.TrimSpace(r.k[box]), box
}

func (r *keyReader) slip(box, text string, args ...any) {
	r.slips = append(r.slips, Slip{box, text, args})
}

// readDays reads the days over the blocks and those of nests that were looked at on another day.
func (r *keyReader) readDays() {
	for day := daySet; day <= dayEnd; day++ {
		box := fmt.Sprintf("on%d", day)
		if d, ok := r.date(box); ok {
			r.days[[2]int{0, day}] = d
		}
	}
	for i := 1; i <= OtherDays; i++ {
		stopText, stopBox := r.get("other_stop", i)
		dayText, dayBox := r.get("other_day", i)
		on, onBox := r.get("other_on", i)
		if stopText == "" && on == "" {
			continue
		}
		stop, day := whole(stopText), whole(dayText)
		switch {
		case stop < 1 || stop > r.line.Stops:
			r.slip(stopBox, words.Mark("This line has stops 1 to %d."), r.line.Stops)
		case day < daySet || day > dayEnd:
			r.slip(dayBox, words.Mark("Choose which look it was."))
		case on == "":
			r.slip(onBox, words.Mark("The day is missing."))
		default:
			if d, ok := r.date(onBox); ok {
				r.days[[2]int{stop, day}], r.boxes[[2]int{stop, day}] = d, onBox
			}
		}
	}
}

func (r *keyReader) date(box string) (survey.Date, bool) {
	text := strings.TrimSpace(r.k[box])
	if text == "" {
		return 0, false
	}
	d, err := survey.ParseDate(text)
	switch {
	case err != nil:
		r.slip(box, words.Mark("Write the day like 2026-05-12."))
	case d.Year() != r.line.Season:
		r.slip(box, words.Mark("This sheet is of the season %d."), r.line.Season)
	default:
		return d, true
	}
	return 0, false
}

// day returns the day on which a stop was seen: its own, or that of the line.
func (r *keyReader) day(stop, day int) survey.Date {
	return cmp.Or(r.days[[2]int{stop, day}], r.days[[2]int{0, day}])
}

// nest reads one row: the set-out, the two checks, and the remains, which belong to the check that found the loss.
func (r *keyReader) nest(stop int) {
	set := r.set(stop)
	if set != nil {
		r.looks = append(r.looks, *set)
	}
	eggs := 3
	if set != nil && set.Answers["eggs_set"] != "" {
		eggs = whole(set.Answers["eggs_set"])
	}
	first, last := r.check(stop, 2, eggs), r.check(stop, dayEnd, eggs)
	if first != nil && last != nil && ended(*first) && last.Answers["found"] == AllHere {
		_, box := r.get("found3", stop)
		r.slip(box, words.Mark("It was gone at week 2 and is all here at week 4."))
	}
	loss := last
	if first != nil && ended(*first) {
		loss = first
	}
	r.remains(stop, loss)
	for _, check := range []*Look{first, last} {
		if check == nil {
			continue
		}
		r.looks = append(r.looks, *check)
		if set == nil {
			_, box := r.get("cover", stop)
			r.slip(box, words.Mark("What is the nest in? It was looked at."))
		}
	}
}

func (r *keyReader) set(stop int) *Look {
	cover, coverBox := r.get("cover", stop)
	place, placeBox := r.get("place", stop)
	note, noteBox := r.get("note", stop)
	eggs, eggsBox := r.get("eggs", stop)
	if cover == "" {
		if place != "" || eggs != "" {
			r.slip(coverBox, words.Mark("What is the nest in?"))
		}
		return nil
	}
	on := r.day(stop, daySet)
	if on == 0 && !r.slipped("on1") {
		r.slip("on1", words.Mark("Write the day on which the eggs were put out."))
	}
	a := map[string]string{"cover": coverOf(cover), "set_on": on.String(), "eggs_set": r.number(eggs, eggsBox, 12), "place": r.text(place, placeBox, 200), "note": r.text(note, noteBox, 500)}
	if len([]rune(a["cover"])) > 60 {
		r.slip(coverBox, words.Mark("This is too long."))
	}
	return r.look(Set, stop, daySet, on, a)
}

func (r *keyReader) check(stop, day, eggs int) *Look {
	n := strconv.Itoa(day)
	found, foundBox := r.get("found"+n, stop)
	left, leftBox := r.get("left"+n, stop)
	how, howBox := r.get("how"+n, stop)
	fresh, freshBox := r.get("fresh"+n, stop)
	state, ok := foundOf(found)
	switch {
	case !ok:
		r.slip(foundBox, words.Mark("“%s” is none of the boxes: 1 all here, 2 some gone, 3 all lost, 4 spot not found; leave it empty where nobody looked."), found)
		return nil
	case state == "":
		if left != "" || how != "" {
			r.slip(foundBox, words.Mark("What was found? Something is written beside it."))
		}
		return nil
	}
	on := r.day(stop, day)
	box := "on" + n
	switch set := r.day(stop, daySet); {
	case on == 0 && !r.slipped(box):
		r.slip(box, words.Mark("Write the day on which the nests were looked at."))
	case on != 0 && set != 0 && on < set && !r.slipped(box):
		r.slip(box, words.Mark("This is before the eggs were put out."))
	case day == dayEnd && on != 0 && on <= r.day(stop, 2) && !r.slipped(box):
		r.slip(box, words.Mark("Week 4 must be later than week 2."))
	}
	a := map[string]string{"look": strconv.Itoa(day - 1), "looked_on": on.String(), "found": state, "eggs_left": r.number(left, leftBox, eggs), "eggs_fresh_put": r.number(fresh, freshBox, 12)}
	switch {
	case state == AllHere && left != "" && whole(left) != eggs, state == SomeGone && left != "" && (whole(left) == 0 || whole(left) >= eggs), state == AllLost && whole(left) > 0:
		r.slip(leftBox, words.Mark("This number of eggs does not go with what was found."))
	case how != "" && !ended(Look{Answers: a}):
		r.slip(howBox, words.Mark("Nothing was lost here. Leave it empty."))
	case how != "":
		i, err := strconv.Atoi(how)
		if err != nil || i < 1 || i > len(LostHow) {
			r.slip(howBox, words.Mark("Write the number of the list, 1 to %d."), len(LostHow))
			break
		}
		a["lost_how"] = LostHow[i-1]
	}
	return r.look(Check, stop, day, on, a)
}

// remains adds what was found beside a nest to the look that found it gone.
func (r *keyReader) remains(stop int, loss *Look) {
	for _, name := range RemainsBoxes() {
		value, box := r.get(name, stop)
		if value == "" {
			continue
		}
		if loss == nil || !ended(*loss) {
			r.slip(box, words.Mark("Remains are written down, but no eggs were gone at stop %d."), stop)
			return
		}
		i := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == name })
		if i < 0 {
			loss.Answers[name] = r.text(value, box, map[string]int{"trace": 200, "guess": 60}[name])
			continue
		}
		n, err := strconv.Atoi(value)
		if err != nil || n < 1 || n > len(survey.Features[i].Choices) {
			r.slip(box, words.Mark("Write the number of the ticked box, 1 to %d."), len(survey.Features[i].Choices))
			continue
		}
		loss.Answers[name] = survey.Features[i].Choices[n-1]
	}
}

// belt reads the last page: one strip, and its second count.
func (r *keyReader) belt() {
	counts, any := r.counts("count")
	again, twice := r.counts("again")
	a := map[string]string{"belt": "1"}
	for _, name := range []string{"belt_wide_ft", "belt_long_ft", "paces", "pace_ft"} {
		v, box := r.get(name, 0)
		a[name] = r.number(v, box, 100_000)
	}
	if pace := r.pace(); pace != "" {
		a["pace_ft"] = pace
	}
	if !any && !twice {
		return
	}
	on, _ := r.date("belt_on")
	if on == 0 && !r.slipped("belt_on") {
		r.slip("belt_on", words.Mark("Write the day of the count."))
	}
	if a["belt_wide_ft"] == "" {
		r.slip("belt_wide_ft", words.Mark("How wide was the strip?"))
	}
	if a["belt_long_ft"] == "" && (a["paces"] == "" || a["pace_ft"] == "") {
		r.slip("belt_long_ft", words.Mark("How long was the strip? In feet, or in paces with the three walks that give the pace."))
	}
	a["belt_on"] = on.String()
	maps.Copy(a, counts)
	r.looks = append(r.looks, *r.look(Belt, 0, 4, on, a))
	if !twice {
		return
	}
	second := strings.TrimSpace(r.k["second_who"])
	if second == "" || second == strings.TrimSpace(r.k["who4"]) {
		r.slip("second_who", words.Mark("Who counted the second time?"))
	}
	b := maps.Clone(a)
	maps.DeleteFunc(b, func(name, _ string) bool { return strings.HasPrefix(name, clumps) })
	maps.Copy(b, again)
	r.looks = append(r.looks, *r.look(Belt, 0, 5, on, b))
}

// counts reads one row of sums of the tally.
func (r *keyReader) counts(prefix string) (map[string]string, bool) {
	all, any := map[string]string{}, false
	for _, kind := range append(slices.Clone(Covers), "maybe") {
		v, box := r.get(prefix+"_"+kind, 0)
		if v = r.number(v, box, 100_000); v != "" {
			all[clumps+kind], any = v, true
		}
	}
	return all, any
}

// pace returns the feet per pace of three walks over 300 feet, to the hundredth; "" where not all are written down.
func (r *keyReader) pace() string {
	all := 0.0
	for i := 1; i <= 3; i++ {
		v, box := r.get("pace", i)
		v = r.number(v, box, 1000)
		x, err := strconv.ParseFloat(v, 64)
		if err != nil || x == 0 {
			return ""
		}
		all += x
	}
	return strconv.FormatFloat(math.Round(90000/all)/100, 'f', -1, 64)
}

// close reads what was carried out.
func (r *keyReader) close() {
	a, any := map[string]string{}, false
	for _, item := range Items {
		v, box := r.get(item+"_out", 0)
		if v = r.number(v, box, 10_000); v != "" {
			a[item+"_out"], any = v, true
		}
	}
	if !any {
		return
	}
	on, _ := r.date("out_on")
	if on == 0 && !r.slipped("out_on") {
		r.slip("out_on", words.Mark("Write the day on which everything was carried out."))
	}
	r.looks = append(r.looks, *r.look(Close, 0, 6, on, a))
}

func (r *keyReader) slipped(box string) bool {
	return slices.ContainsFunc(r.slips, func(s Slip) bool { return s.Box == box })
}

// number checks a number of at most most, and returns it plainly written.
func (r *keyReader) number(text, box string, most int) string {
	if text == "" {
		return ""
	}
	x, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
	if err != nil || !(x >= 0 && x <= float64(most)) {
		r.slip(box, words.Mark("A number from 0 to %d, please."), most)
		return ""
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

func (r *keyReader) text(s, box string, most int) string {
	if !plain(s, most) {
		r.slip(box, words.Mark("This is too long."))
		return ""
	}
	return s
}

// look makes a look of what is not empty. day numbers the block whose initials it carries.
func (r *keyReader) look(kind Kind, stop, day int, on survey.Date, answers map[string]string) *Look {
	maps.DeleteFunc(answers, func(_, v string) bool { return v == "" })
	whoBox := fmt.Sprintf("who%d", day)
	if day == 5 {
		whoBox = "second_who"
	}
	who := strings.TrimSpace(r.k[whoBox])
	if !plain(who, 20) && !r.slipped(whoBox) {
		r.slip(whoBox, words.Mark("This is too long."))
	}
	onBox := cmp.Or(r.boxes[[2]int{stop, day}], map[Kind]string{Belt: "belt_on", Close: "out_on"}[kind], fmt.Sprintf("on%d", day))
	if on > r.today+1 && !r.slipped(onBox) {
		r.slip(onBox, words.Mark("This day has not come yet."))
	}
	return &Look{Ranch: r.line.Ranch, Season: r.line.Season, Line: r.line.ID, Stop: stop, Kind: kind, Who: cmp.Or(who, "paper"),
		Seq: len(r.looks) + 1, At: on.Time().Add(12 * time.Hour), Answers: answers}
}

// foundOf reads what was found: the number of the box, or its letter in either language. "" stands for nobody looked.
func foundOf(s string) (state string, ok bool) {
	switch strings.ToLower(s) {
	case "", "-", "x", "0":
		return "", true
	case "1", "a", "c":
		return AllHere, true
	case "2", "s", "f":
		return SomeGone, true
	case "3", "l", "p":
		return AllLost, true
	case "4", "n":
		return NotFound, true
	}
	return "", false
}

// coverOf reads what a nest sits in; a word that is none of ours is kept as written.
func coverOf(s string) string {
	letters := map[string]string{"b": "bunchgrass", "z": "bunchgrass", "p": "prickly_pear", "n": "prickly_pear", "y": "yucca", "m": "yucca",
		"s": "shrub", "a": "shrub", "w": "forb", "h": "forb"}
	if n, err := strconv.Atoi(s); err == nil && n >= 1 && n <= len(Covers) {
		return Covers[n-1]
	}
	return cmp.Or(letters[strings.ToLower(s)], s)
}

// KeyedOf returns the sheet as it was keyed: the looks that came from paper and were not taken back.
func KeyedOf(l season.Line, looks []Look) Keyed {
	k := Keyed{}
	lineDays := commonDays(looks)
	other := 0
	for i := range looks {
		look := &looks[i]
		day := dayOf(look)
		k.block(look, day)
		on := look.Answers["looked_on"]
		if look.Kind == Set {
			on = look.Answers["set_on"]
		}
		if day <= dayEnd && look.Kind != Belt && on != lineDays[day] && other < OtherDays {
			other++
			k[fmt.Sprintf("other_stop.%d", other)] = strconv.Itoa(look.Stop)
			k[fmt.Sprintf("other_day.%d", other)] = strconv.Itoa(day)
			k[fmt.Sprintf("other_on.%d", other)] = on
		}
	}
	for day, on := range lineDays {
		k[fmt.Sprintf("on%d", day)] = on
	}
	maps.DeleteFunc(k, func(_, v string) bool { return v == "" })
	return k
}

// dayOf returns the block of the sheet that a look comes from.
func dayOf(l *Look) int {
	switch l.Kind {
	case Set:
		return daySet
	case Check:
		return whole(l.Answers["look"]) + 1
	case Belt:
		if strings.HasSuffix(l.Device, secondCount) {
			return 5
		}
		return 4
	}
	return 6
}

// commonDays returns the day that most nests have in each block.
func commonDays(looks []Look) map[int]string {
	count := map[int]map[string]int{}
	for i := range looks {
		l := &looks[i]
		on := l.Answers["looked_on"]
		if l.Kind == Set {
			on = l.Answers["set_on"]
		}
		if l.Kind != Set && l.Kind != Check {
			continue
		}
		if count[dayOf(l)] == nil {
			count[dayOf(l)] = map[string]int{}
		}
		count[dayOf(l)][on]++
	}
	common := map[int]string{}
	for day, on := range count {
		for _, d := range slices.Sorted(maps.Keys(on)) {
			if on[d] > on[common[day]] {
				common[day] = d
			}
		}
	}
	return common
}

// block puts one look's answers into its boxes.
func (k Keyed) block(l *Look, day int) {
	who := l.Who
	if who == "paper" {
		who = ""
	}
	at := func(box string) string { return fmt.Sprintf("%s.%d", box, l.Stop) }
	switch l.Kind {
	case Set:
		k["who1"] = who
		k[at("cover")] = cmp.Or(box(Covers, l.Answers["cover"]), l.Answers["cover"])
		k[at("eggs")], k[at("place")], k[at("note")] = l.Answers["eggs_set"], l.Answers["place"], l.Answers["note"]
	case Check:
		n := strconv.Itoa(day)
		k["who"+n] = who
		k[at("found"+n)] = box(Founds, l.Answers["found"])
		k[at("left"+n)], k[at("fresh"+n)] = l.Answers["eggs_left"], l.Answers["eggs_fresh_put"]
		k[at("how"+n)] = box(LostHow, l.Answers["lost_how"])
		for _, f := range survey.Features {
			if v := l.Answers[f.Name]; v != "" {
				k[at(f.Name)] = box(f.Choices, v)
			}
		}
		for _, name := range []string{"trace", "guess"} {
			if v := l.Answers[name]; v != "" {
				k[at(name)] = v
			}
		}
	case Belt:
		prefix := "count_"
		if day == 5 {
			prefix, k["second_who"] = "again_", who
		} else {
			k["who4"] = who
		}
		k["belt_on"] = l.Answers["belt_on"]
		for _, name := range []string{"belt_wide_ft", "belt_long_ft", "paces", "pace_ft"} {
			k[name] = l.Answers[name]
		}
		for _, kind := range append(slices.Clone(Covers), "maybe") {
			k[prefix+kind] = l.Answers[clumps+kind]
		}
	case Close:
		k["who6"], k["out_on"] = who, survey.DateFrom(l.At.UTC()).String()
		for _, item := range Items {
			k[item+"_out"] = l.Answers[item+"_out"]
		}
	}
}

// box returns the number of the box an answer stands for, "" for none.
func box(choices []string, answer string) string {
	if i := slices.Index(choices, answer); i >= 0 {
		return strconv.Itoa(i + 1)
	}
	return ""
}

// The device of what was keyed: paperDevice and whoever keyed it. A second count of a belt by somebody else is on the
// same sheet and ends in secondCount, so that the two do not pass for one that was mended.
const (
	paperDevice = "paper-"
	secondCount = "-2"
)

// FromPaper returns the looks of a line that were keyed and not taken back, in the order of the sheet.
func FromPaper(line access.ID, looks []Look) []Look {
	undone := map[access.ID]bool{}
	for i := range looks {
		undone[looks[i].Undoes] = true
	}
	var list []Look
	for _, l := range looks {
		if l.Line == line && l.Kind != Undo && l.Kind != Note && l.Kind != Choose && strings.HasPrefix(l.Device, paperDevice) && !undone[l.ID] {
			list = append(list, l)
		}
	}
	slices.SortStableFunc(list, func(a, b Look) int {
		return cmp.Or(cmp.Compare(dayOf(&a), dayOf(&b)), cmp.Compare(a.Stop, b.Stop), cmp.Compare(a.ID, b.ID))
	})
	return list
}

// Rekey returns the looks to be added so that those from paper are the given ones: what is there already stays, what is
// there no longer or differs is taken back, and the rest is new. all are the season's looks. The same sheet keyed again
// adds nothing, and two who save it at once add the same looks.
func Rekey(line access.ID, all, sheet []Look, keyer access.ID, now time.Time) []Look {
	device := paperDevice + string(keyer)[:min(8, len(keyer))]
	had := map[string]int{} // how often each look was kept before, taken back or not
	for i := range all {
		if l := &all[i]; l.Line == line && strings.HasPrefix(l.Device, paperDevice) {
			had[content(l)]++
		}
	}
	live := map[string]Look{}
	for _, l := range FromPaper(line, all) {
		live[content(&l)] = l
	}
	var add []Look
	for _, l := range sheet {
		key := content(&l)
		if _, ok := live[key]; ok {
			delete(live, key)
			continue
		}
		l.ID, l.Device = derived(line, key, had[key]), device
		if l.Kind == Belt && l.Seq > 0 && isSecond(sheet, &l) {
			l.Device += secondCount
		}
		add = append(add, l)
	}
	for _, key := range slices.Sorted(maps.Keys(live)) {
		old := live[key]
		add = append(add, Look{ID: derived(old.ID, "undo", 0), Ranch: old.Ranch, Season: old.Season, Line: line, Stop: old.Stop, Kind: Undo,
			Who: old.Who, Device: device, Seq: old.Seq, At: now, Undoes: old.ID})
	}
	return add
}

// isSecond tells whether a belt's look comes after another of the same sheet.
func isSecond(sheet []Look, l *Look) bool {
	i := slices.IndexFunc(sheet, func(o Look) bool { return o.Kind == Belt })
	return i >= 0 && sheet[i].Seq < l.Seq
}

// content is what makes two looks the same.
func content(l *Look) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s|%d|%s|%s", l.Kind, l.Stop, l.Who, l.At.UTC().Format(time.DateOnly))
	for _, name := range slices.Sorted(maps.Keys(l.Answers)) {
		fmt.Fprintf(&b, "|%s=%s", name, l.Answers[name])
	}
	return b.String()
}

// derived returns the ID that follows from what it is of (RFC 9562, version 5).
func derived(of access.ID, key string, n int) access.ID {
	space, _ := uuid.Parse(string(of)) // a zero one where it is none, as in tests
	return access.ID(uuid.NewSHA1(space, fmt.Appendf(nil, "%s|%d", key, n)).String())
}

// Again returns the stops whose rows are keyed a second time: one in ten, drawn by the line itself so that nobody picks.
func Again(l season.Line) []int {
	order := make([]int, l.Stops)
	draw := func(stop int) uint64 {
		h := fnv.New64a()
		fmt.Fprintf(h, "%s/%d", l.ID, stop)
		return h.Sum64()
	}
	for i := range order {
		order[i] = i + 1
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(draw(a), draw(b)) })
	chosen := order[:(l.Stops+9)/10]
	slices.Sort(chosen)
	return chosen
}

// A Difference is one box that two keyings of a sheet read differently.
type Difference struct {
	Box           string // without its stop
	Stop          int
	First, Second string // as keyed, made plain; "" where empty
}

// Differences compares the rows of some stops. Both sheets are taken as they were kept, so that "a" and "1" are the same.
func Differences(first, second Keyed, stops []int) []Difference {
	var list []Difference
	for _, stop := range stops {
		for _, name := range append(RowBoxes(), RemainsBoxes()...) {
			key := fmt.Sprintf("%s.%d", name, stop)
			if first[key] != second[key] {
				list = append(list, Difference{name, stop, first[key], second[key]})
			}
		}
	}
	return list
}
