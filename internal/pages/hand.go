package pages

import (
	"cmp"
	"math"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Days after setting on which a nest is checked (common practice, no source).
const (
	firstCheck  = 14
	secondCheck = 28
)

// longPast is how many days after the last check a season is over for good, and nobody is reminded of anything.
const longPast = 60

// handPage is where a hand's day begins: the lines on the ranches assigned to them and what is due on each. It holds
// no result and no comparison.
type handPage struct {
	base
	Ranches []handRanch
}

type handRanch struct {
	ID    access.ID
	Name  string
	Lines []line
	Sent  []postgres.Upload // newest first, the last few
}

// line is one transect of the newest season as a hand sees it.
type line struct {
	Name  string
	Set   string // "12 nests set Tuesday, April 28"
	Due   string // "second check on Monday, May 26, in 3 days"
	Late  bool
	onDay survey.Date // the day due, 0 where nothing is
	key   survey.TransectKey
}

// handHome shows a hand's first page.
func (s *server) handHome(c *fiber.Ctx, a access.Actor) error {
	page := handPage{base: s.base(c, a, "")}
	type loaded struct {
		ranch   postgres.Ranch
		data    *survey.Data
		sent    []postgres.Upload
		planned []season.Line
		looks   []fieldwork.Look
	}
	var all []loaded
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			l := loaded{ranch: r}
			if l.sent, err = tx.Uploads(r.ID); err != nil {
				return err
			}
			if l.data, err = latestSurvey(tx, r.ID, l.sent); err != nil {
				return err
			}
			if l.planned, l.looks, err = latestPlan(tx, r.ID); err != nil {
				return err
			}
			if err := tx.Looked(r.ID); err != nil {
				return err
			}
			all = append(all, l)
		}
		return nil
	})
	if err != nil {
		return err
	}

	due := 0
	for _, l := range all {
		r := handRanch{ID: l.ranch.ID, Name: l.ranch.Name, Lines: handLines(l.data, l.planned, l.looks, s.today(), page.Say), Sent: l.sent}
		slices.SortStableFunc(r.Sent, func(x, y postgres.Upload) int { return y.SentAt.Compare(x.SentAt) })
		r.Sent = r.Sent[:min(3, len(r.Sent))]
		for _, line := range r.Lines {
			if line.onDay != 0 && line.onDay <= s.today()+1 {
				due++
			}
		}
		page.Ranches = append(page.Ranches, r)
	}
	dueFirst(page.Ranches)
	page.Title = handTitle(due, page.Say)
	return s.render(c, fiber.StatusOK, "hand", page)
}

// latestSurvey returns the rows of the latest season with nests.
func latestSurvey(tx *postgres.Tx, ranch access.ID, sent []postgres.Upload) (*survey.Data, error) {
	d := &survey.Data{}
	var seasons []int
	for _, u := range sent {
		if u.State == postgres.Current {
			seasons = append(seasons, u.Seasons...)
		}
	}
	slices.Sort(seasons)
	var err error
	for _, y := range slices.Backward(slices.Compact(seasons)) {
		if d, err = tx.Survey([]access.ID{ranch}, y); err != nil || len(d.Nests) > 0 {
			break
		}
	}
	return d, err
}

// dueFirst puts the ranch first that has the line due soonest, and those where nothing is due last.
func dueFirst(ranches []handRanch) {
	soonest := func(r handRanch) survey.Date {
		day := survey.Date(math.MaxInt32)
		for _, l := range r.Lines {
			if l.onDay != 0 {
				day = min(day, l.onDay)
			}
		}
		return day
	}
	slices.SortStableFunc(ranches, func(x, y handRanch) int { return cmp.Compare(soonest(x), soonest(y)) })
}

func handTitle(due int, say words.Speaker) string {
	if due == 0 {
		return say.Say("No line to check today or tomorrow")
	}
	return say.Count("%d line to check by tomorrow", "%d lines to check by tomorrow", due)
}

// latestPlan returns the lines of the latest season planned on a ranch and what was seen on them.
func latestPlan(tx *postgres.Tx, ranch access.ID) ([]season.Line, []fieldwork.Look, error) {
	years, err := tx.Planned(ranch)
	if err != nil || len(years) == 0 {
		return nil, nil, err
	}
	lines, err := tx.Lines(ranch, years[0])
	if err != nil {
		return nil, nil, err
	}
	looks, err := tx.Looks(ranch, years[0])
	return lines, looks, err
}

// handLines are the planned lines as the looks leave them, and the transects that sheets alone tell of; those due come
// first. Where a season is planned, what is over is left out.
func handLines(d *survey.Data, planned []season.Line, looks []fieldwork.Look, today survey.Date, say words.Speaker) []line {
	var list []line
	known := map[survey.TransectKey]bool{}
	folded := fieldwork.Fold(planned, looks)
	for _, state := range folded.Lines {
		for _, c := range folded.Conflicts { // somebody was there, whatever they found
			if c.Line.ID == state.Line.ID {
				state.Checked[0]++
			}
		}
		known[survey.TransectKey{Season: state.Line.Season, Site: state.Line.Pasture, Transect: state.Line.Name}] = true
		if l, ok := plannedLine(&state, today, say); ok {
			list = append(list, l)
		}
	}
	for _, l := range lines(d, today, say) {
		l.key.Ranch = ""
		if !known[l.key] && (len(list) == 0 || l.onDay != 0) {
			list = append(list, l)
		}
	}
	sortLines(list)
	return list
}

// plannedLine is a line with what is next to be done on it; false where it is closed or long over.
func plannedLine(state *fieldwork.LineState, today survey.Date, say words.Speaker) (line, bool) {
	p := &state.Line
	l := line{Name: say.Say("Line %s", p.Name)}
	if p.Pasture != "" {
		l.Name = p.Pasture + ", " + l.Name
	}
	var next season.Check
	for _, c := range p.Checks() {
		done := map[string]bool{"set": state.Set > 0, "first": state.Set > 0 && state.Checked[0] >= state.Set, "last": state.Set > 0 && state.Open == 0}[c.Name]
		if !done {
			next = c
			break
		}
	}
	if p.Closed || state.Closed() || p.LastCheck != 0 && today > p.LastCheck+longPast {
		return l, false
	}
	l.Set = say.Say("Nothing is put out yet")
	if state.Set > 0 {
		l.Set = say.Count("%d nest set %s", "%d nests set %s", state.Set, state.Set, dayOf(say, p.SetOn))
	}
	if next.Name == "" {
		l.Due = say.Say("All checked. Were eggs, flags and markers carried out?")
		return l, true
	}
	l.onDay = next.On
	l.due(plannedCheck[next.Name], today, say)
	l.Late = l.Late && today > next.To
	return l, true
}

// plannedCheck is what a planned line's days are called here.
var plannedCheck = map[string]string{"set": words.Mark("Setting the eggs out"), "first": words.Mark("First check"), "last": words.Mark("Second check")}

// lines lists the transects of the newest season, those due first.
func lines(d *survey.Data, today survey.Date, say words.Speaker) []line {
	season := 0
	for i := range d.Nests {
		season = max(season, d.Nests[i].Season)
	}
	nests := map[survey.TransectKey][]*survey.Nest{}
	for i := range d.Nests {
		if n := &d.Nests[i]; n.Season == season {
			nests[n.Key()] = append(nests[n.Key()], n)
		}
	}

	list := make([]line, 0, len(nests))
	for key, on := range nests {
		list = append(list, lineOf(key, on, today, say))
	}
	sortLines(list)
	return list
}

func sortLines(list []line) {
	slices.SortFunc(list, func(x, y line) int {
		return cmp.Or(cmp.Compare(whenDue(x), whenDue(y)), cmp.Compare(len(x.Name), len(y.Name)), cmp.Compare(x.Name, y.Name))
	})
}

// whenDue orders lines by the day they are due, those with nothing due last.
func whenDue(l line) survey.Date {
	if l.onDay == 0 {
		return 1 << 30
	}
	return l.onDay
}

func lineOf(key survey.TransectKey, nests []*survey.Nest, today survey.Date, say words.Speaker) line {
	l := line{Name: say.Say("Transect %s", key.Transect), key: key}
	if key.Site != "" {
		l.Name = say.Say("%s, transect %s", key.Site, key.Transect)
	}
	first, check := nests[0].SetOn, ""
	for _, n := range nests {
		first = min(first, n.SetOn)
		if day, name := nextCheck(n); day != 0 && (l.onDay == 0 || day < l.onDay) {
			l.onDay, check = day, name
		}
	}
	l.Set = say.Count("%d nest set %s", "%d nests set %s", len(nests), len(nests), dayOf(say, first))
	switch {
	case today > first+secondCheck+longPast:
		l.onDay, l.Due = 0, say.Say("This season is over")
	case l.onDay == 0:
		l.Due = say.Say("All checked. Were eggs, flags and markers carried out?")
	default:
		l.due(check, today, say)
	}
	return l
}

// due says when a check is to be made, or should have been.
func (l *line) due(check string, today survey.Date, say words.Speaker) {
	on := dayOf(say, l.onDay)
	days := int(max(today-l.onDay, l.onDay-today))
	switch {
	case l.onDay < today:
		l.Late = true
		l.Due = say.Count("%s was due %s, %d day ago", "%s was due %s, %d days ago", days, say.Say(check), on, days)
	case l.onDay == today:
		l.Due = say.Say("%s is due today", say.Say(check))
	default:
		l.Due = say.Count("%s is due %s, in %d day", "%s is due %s, in %d days", days, say.Say(check), on, days)
	}
}

// nextCheck returns the day on which a nest is next to be looked at and which check that is, or 0 where nothing is
// left to look at: it has ended, was lost from view, or was seen on day 28 or later. A check made up to three days
// before its day stands for it.
func nextCheck(n *survey.Nest) (survey.Date, string) {
	seen := -1
	for _, v := range n.Visits {
		if v.State != survey.Intact {
			return 0, ""
		}
		seen = int(v.On - n.SetOn)
	}
	switch {
	case n.SetOn == 0 || seen >= secondCheck-3:
		return 0, ""
	case seen >= firstCheck-3:
		return n.SetOn + secondCheck, words.Mark("Second check")
	}
	return n.SetOn + firstCheck, words.Mark("First check")
}

// dayOf writes a date the way people say it in the year it is in: "Tuesday, April 28".
func dayOf(say words.Speaker, d survey.Date) string { return say.Weekday(d.Time()) }
