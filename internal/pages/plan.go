package pages

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// planPage plans one ranch's season: what it is to find out, how many nests that takes, where the lines lie and when
// they are walked.
type planPage struct {
	base
	Ranch    postgres.Ranch
	Ranches  []navLink
	Season   int
	Seasons  []navLink
	Owner    bool // may change it; a hand reads
	Planned  bool
	Form     planForm
	Purposes []planPurpose
	Covers   []planCover
	Told     []planTold // what so many nests would tell
	TellsOf  string
	Next     *nextPart
	Wanted   []string // how many lines and belts for so sure an answer
	Map      template.HTML
	NoMap    bool
	Lines    []planLine
	Short    []string // what found no room
	Seed     string
	Days     []planDay
	CopyFrom int // an earlier season to take over; 0 for none
	Phones   []postgres.Phone
	Problem  string
	Kept     bool
	DrawnNow bool
}

type planPurpose struct {
	Value   season.Purpose
	Label   string
	Hint    string
	Checked bool
}

type planCover struct {
	Value, Label string
	Checked      bool
}

// planTold is one row of the picture: so many nests, and how sure one would be.
type planTold struct {
	Nests, Half int
	Mark        template.HTML
	Own         bool // the number that is planned
	Sentence    string
}

type planLine struct {
	ID                          access.ID
	Name, Pasture, Lies, Covers string
	Code                        string
	Unplaced, Unfit, Closed     bool
	Redrawn                     string
}

type planDay struct{ What, On, Window string }

// planForm is the plan as it is typed.
type planForm struct {
	Purpose                   season.Purpose
	Lines, Stops              string
	Spacing, Pace             string
	Own                       string // a cover of the crew's own word
	Covers                    []survey.Substrate
	Fence, Road, Water, Apart string
	SetOn, First, Last, Slack string
	BeltWidth, BeltLength     string
}

// Where a plan begins (common practice, no source).
var firstPlan = season.Plan{
	Purpose: season.Trend, Lines: 4, Stops: 12, Spacing: 50, Covers: []survey.Substrate{survey.Bunchgrass, survey.Yucca},
	Apart: season.Apart{Fence: 150, Road: 300, Water: 500, Lines: 1320}, First: firstCheck, Last: secondCheck, Slack: 2,
	BeltWidth: 6, BeltLength: 726,
}

var purposes = []planPurpose{
	{Value: season.Trend, Label: words.Mark("Is it getting better or worse on this ranch?"), Hint: words.Mark("Lines are shared out over all pastures by their size.")},
	{Value: season.Covers, Label: words.Mark("Do nests last longer in one kind of cover than in another?"), Hint: words.Mark("Covers take turns along every line, so that both see the same animals.")},
	{Value: season.Rest, Label: words.Mark("Do nests last longer where pastures rest from grazing?"), Hint: words.Mark("Half of the lines lie in rested pastures, half in grazed ones. Say on the map which ones rest.")},
}

var planCovers = []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb}

// planFirst opens the season ahead on the only ranch, or on the first of several.
func (s *server) planFirst(c *fiber.Ctx, a access.Actor) error {
	if len(a.Ranches) == 0 {
		return s.see(c, firstPage[a.Role])
	}
	var list []postgres.Ranch
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Ranches()
		return err
	})
	if err != nil || len(list) == 0 {
		return errors.Join(err, s.see(c, firstPage[a.Role]))
	}
	return s.see(c, "/plan/"+string(list[0].ID))
}

// planRanch opens the latest season planned on a ranch, or the one ahead.
func (s *server) planRanch(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var planned []int
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		planned, err = tx.Planned(id)
		return err
	})
	if err != nil {
		return err
	}
	year := nextSeason(s.today())
	if len(planned) > 0 {
		year = planned[0]
	}
	return s.see(c, fmt.Sprintf("/plan/%s/%d", id, year))
}

// nextSeason is this year's until July is over: eggs are out from April to June (common practice, no source).
func nextSeason(today survey.Date) int {
	if today.Time().Month() > time.July {
		return today.Year() + 1
	}
	return today.Year()
}

// planData is what the page is made of, loaded in one transaction.
type planData struct {
	ranch   postgres.Ranch
	ranches []postgres.Ranch
	years   []int
	plan    season.Plan
	planned bool
	lines   []season.Line
	ground  season.Ground
	past    findings.Past
	phones  []postgres.Phone
	told    bulletin.Published // for whoever may set it beside the ranch
}

func loadPlan(tx *postgres.Tx, actor access.Actor, id access.ID, year int) (d planData, err error) {
	if d.ranch, err = tx.Ranch(id); err != nil {
		return d, err
	}
	var failed [7]error
	d.ranches, failed[0] = tx.Ranches()
	d.years, failed[1] = tx.Planned(id)
	d.lines, failed[2] = tx.Lines(id, year)
	d.ground, failed[3] = tx.Ground(id)
	found, err := tx.Findings(id)
	failed[4] = err
	d.phones, failed[5] = tx.Phones()
	failed[6] = tx.Looked(id) // what was found before is on the page
	if err := errors.Join(failed[:]...); err != nil {
		return d, err
	}
	d.past = found.Past
	if actor.CanRanch(access.CompareRanch, id) {
		heads, err := tx.Bulletins()
		if err != nil {
			return d, err
		}
		cells, err := tx.Cells(0)
		if err != nil {
			return d, err
		}
		d.told = publishedFor(heads, cells)
	}
	d.plan = firstPlan
	marks, err := tx.Marks(year)
	if err != nil {
		return d, err
	}
	d.plan.First, d.plan.Last = marks.First, marks.Last
	if d.planned = slices.Contains(d.years, year); d.planned {
		d.plan, err = tx.Plan(id, year)
	}
	return d, err
}

// seasonParam reads the season of a path.
func seasonParam(c *fiber.Ctx) (int, error) {
	year, err := strconv.Atoi(c.Params("season"))
	if err != nil || year < 1990 || year > 2150 || strconv.Itoa(year) != c.Params("season") {
		return 0, errNothing
	}
	return year, nil
}

// ownSeason reads the ranch and the season of a path where the actor is the ranch's owner.
func ownSeason(c *fiber.Ctx, a access.Actor) (id access.ID, year int, err error) {
	id = access.ID(c.Params("id"))
	year, err = seasonParam(c)
	if err == nil && !a.CanRanch(access.CompareRanch, id) {
		err = errNothing
	}
	return id, year, err
}

func (s *server) plan(c *fiber.Ctx, a access.Actor) error {
	return s.showPlan(c, a, fiber.StatusOK, planPage{Kept: c.Query("kept") != "", DrawnNow: c.Query("drawn") != ""})
}

// showPlan shows the page; with a problem the form is as it was typed.
func (s *server) showPlan(c *fiber.Ctx, a access.Actor, status int, page planPage) error {
	id := access.ID(c.Params("id"))
	year, err := seasonParam(c)
	if err != nil {
		return err
	}
	var d planData
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		d, err = loadPlan(tx, a, id, year)
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	page.base = s.base(c, a, say.Say("The %d season on %s", year, d.ranch.Name))
	page.fill(&d, year, s.Now().Year())
	return s.render(c, status, "plan", page)
}

func (p *planPage) fill(d *planData, year, thisYear int) {
	p.Ranch, p.Season, p.Planned = d.ranch, year, d.planned
	p.Owner = p.Actor.CanRanch(access.CompareRanch, d.ranch.ID)
	if p.Problem == "" {
		p.Form = planFormOf(&d.plan)
	}
	say := p.Say
	for _, x := range purposes {
		x.Label, x.Hint, x.Checked = say.Say(x.Label), say.Say(x.Hint), x.Value == p.Form.Purpose
		p.Purposes = append(p.Purposes, x)
	}
	p.covers()
	if len(d.ranches) > 1 {
		for _, r := range d.ranches {
			p.Ranches = append(p.Ranches, navLink{r.Name, "/plan/" + string(r.ID), r.ID == d.ranch.ID})
		}
	}
	years := append(slices.Clone(d.years), year)
	if next := thisYear + 1; p.Owner {
		years = append(years, next)
	}
	slices.Sort(years)
	for _, y := range slices.Backward(slices.Compact(years)) {
		p.Seasons = append(p.Seasons, navLink{fmt.Sprint(y), fmt.Sprintf("/plan/%s/%d", d.ranch.ID, y), y == year})
		if !d.planned && p.CopyFrom == 0 && slices.Contains(d.years, y) {
			p.CopyFrom = y
		}
	}
	effect := d.told.DesignEffect(year)
	p.Told, p.TellsOf = tells(say, &d.plan, &d.past, effect)
	p.Wanted = wanted(say, &d.plan, &d.past, effect)
	p.Next = nextNests(say, d, year)
	p.NoMap = len(d.ground.Pastures) == 0
	p.Map = planMap(say, &d.ground, d.lines)
	p.Seed = fmt.Sprintf("%016X", d.plan.Seed)
	for i := range d.lines {
		p.Lines = append(p.Lines, lineRow(say, d, i))
	}
	for _, day := range daysOf(d.lines) {
		p.Days = append(p.Days, planDay{season.Todo(say, day.Name), say.Weekday(day.On.Time()), windowWords(say, day)})
	}
	for _, x := range d.phones {
		if x.Ranch == d.ranch.ID && x.Name != p.Actor.Name {
			p.Phones = append(p.Phones, x)
		}
	}
}

func (p *planPage) covers() {
	own := slices.DeleteFunc(slices.Clone(p.Form.Covers), func(c survey.Substrate) bool { return slices.Contains(planCovers, c) })
	for _, c := range planCovers {
		p.Covers = append(p.Covers, planCover{string(c), capital(p.Say.Say(string(c))), slices.Contains(p.Form.Covers, c)})
	}
	if len(own) > 0 && p.Form.Own == "" {
		p.Form.Own = string(own[0])
	}
}

// daysOf lists the days that any open line has, each once.
func daysOf(lines []season.Line) []season.Check {
	var days []season.Check
	for i := range lines {
		if lines[i].Closed {
			continue
		}
		for _, c := range lines[i].Checks() {
			if !slices.Contains(days, c) {
				days = append(days, c)
			}
		}
	}
	slices.SortStableFunc(days, func(a, b season.Check) int { return int(a.On - b.On) })
	return days
}

func windowWords(say words.Speaker, c season.Check) string {
	if c.From == c.To {
		return ""
	}
	return say.Say("from %s to %s is as good", say.Weekday(c.From.Time()), say.Weekday(c.To.Time()))
}

func lineRow(say words.Speaker, d *planData, i int) planLine {
	l := &d.lines[i]
	row := planLine{ID: l.ID, Name: l.Name, Pasture: l.Pasture, Code: l.Code, Closed: l.Closed, Unplaced: !l.Placed, Redrawn: l.Redrawn}
	if l.Placed {
		row.Lies = say.Say("bearing %.0f°, %d stops, %.0f ft", l.Bearing, l.Stops, l.Length())
		row.Unfit = !l.Closed && len(d.ground.Pastures) > 0 && !season.Fits(&d.ground, &d.plan, l, open(d.lines[:i]))
	} else {
		row.Lies = say.Say("%d stops, not drawn on a map", l.Stops)
	}
	covers := make([]string, len(l.Covers))
	for k, c := range l.Covers {
		covers[k] = say.Say(string(c))
	}
	row.Covers = strings.Join(covers, ", ")
	return row
}

func open(lines []season.Line) []season.Line {
	return slices.DeleteFunc(slices.Clone(lines), func(l season.Line) bool { return l.Closed })
}

func planFormOf(p *season.Plan) planForm {
	f := planForm{Purpose: p.Purpose, Lines: fmt.Sprint(p.Lines), Stops: fmt.Sprint(p.Stops), Spacing: typed(p.Spacing), Pace: typed(p.Pace), Covers: p.Covers,
		Fence: typed(p.Apart.Fence), Road: typed(p.Apart.Road), Water: typed(p.Apart.Water), Apart: typed(p.Apart.Lines), SetOn: p.SetOn.String(),
		First: fmt.Sprint(p.First), Last: fmt.Sprint(p.Last), Slack: fmt.Sprint(p.Slack), BeltWidth: typed(p.BeltWidth), BeltLength: typed(p.BeltLength)}
	if p.Pace == 0 {
		f.Pace = ""
	}
	return f
}

// typed writes a number as somebody would type it.
func typed(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// savePlan keeps what was typed. Lines keep their places and get the new days, covers and paces; more are added and the
// last ones taken away as their number says. Where there is a map, lines without a place are drawn.
func (s *server) savePlan(c *fiber.Ctx, a access.Actor) error {
	id, year, err := ownSeason(c, a)
	if err != nil {
		return err
	}
	form := planTyped(c)
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		d, err := loadPlan(tx, a, id, year)
		if err != nil {
			return err
		}
		if err := form.into(&d.plan, year); err != nil {
			return err
		}
		d.plan.Ranch, d.plan.Season = id, year
		if d.plan.Seed == 0 {
			d.plan.Seed = newSeed()
		}
		return tx.SaveLines(id, year, d.plan, adjusted(&d))
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showPlan(c, a, fiber.StatusUnprocessableEntity, planPage{Problem: message, Form: form})
	}
	if err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/%d?kept=1#lines", id, year))
}

// newSeed is random, and never 0, which stands for none.
func newSeed() uint64 {
	b, _ := hex.DecodeString(postgres.NewToken()[:16]) // hexadecimal digits, all of them
	return binary.BigEndian.Uint64(b) | 1
}

// adjusted makes the season's lines follow its plan.
func adjusted(d *planData) []season.Line {
	lines := d.lines
	for i := range lines {
		d.plan.Apply(&lines[i])
	}
	if len(lines) == 0 {
		return freshLines(&d.ground, &d.plan)
	}
	for len(lines) < d.plan.Lines {
		l := season.Unplaced(&d.plan)[0]
		l.Name = freeName(lines)
		shares := season.Shares(d.ground.Pastures, &d.plan)
		for i, n := range shares { // the pasture that has fewest of what it should have
			in := len(slices.DeleteFunc(slices.Clone(lines), func(x season.Line) bool { return x.Pasture != d.ground.Pastures[i].Name || x.Closed }))
			if in < n {
				l.Pasture, l.SiteKind = d.ground.Pastures[i].Name, d.ground.Pastures[i].SiteKind
				break
			}
		}
		season.Place(&d.ground, &d.plan, &l, len(lines)+1, open(lines))
		lines = append(lines, l)
	}
	return lines[:d.plan.Lines]
}

func freeName(lines []season.Line) string {
	for n := len(lines) + 1; ; n++ {
		name := fmt.Sprint(n)
		if !slices.ContainsFunc(lines, func(l season.Line) bool { return l.Name == name }) {
			return name
		}
	}
}

// freshLines draws all lines where there is a map. One that found no room is there without a place, so that sheets can
// be printed for it and somebody sees that it is missing.
func freshLines(g *season.Ground, p *season.Plan) []season.Line {
	lines := season.Unplaced(p)
	if len(g.Pastures) == 0 {
		return lines
	}
	drawn, _ := season.Draw(g, p)
	for _, l := range drawn {
		if n, err := strconv.Atoi(l.Name); err == nil && n <= len(lines) {
			lines[n-1] = l
		}
	}
	return lines
}

// drawPlan draws all lines again, with the distances typed and another seed. Codes stay, so that printed sheets do.
func (s *server) drawPlan(c *fiber.Ctx, a access.Actor) error {
	id, year, err := ownSeason(c, a)
	if err != nil {
		return err
	}
	form := planTyped(c)
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		d, err := loadPlan(tx, a, id, year)
		if err != nil {
			return err
		}
		if !d.planned {
			return errNothing
		}
		looks, err := tx.Looks(id, year)
		if err != nil {
			return err
		}
		if len(looks) > 0 {
			return errs.New(errs.Invalid, words.Mark("Something was written down on these lines already. Draw single lines again instead, each with its reason."))
		}
		if err := form.intoApart(&d.plan); err != nil {
			return err
		}
		d.plan.Seed = newSeed()
		fresh := freshLines(&d.ground, &d.plan)
		for i := range fresh {
			if i < len(d.lines) {
				fresh[i].ID = d.lines[i].ID
			}
		}
		return tx.SaveLines(id, year, d.plan, fresh)
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showPlan(c, a, fiber.StatusUnprocessableEntity, planPage{Problem: message, Form: form})
	}
	if err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/%d?drawn=1#map", id, year))
}

// copyPlan takes an earlier season over: the same plan a year or more later, and the same lines walked again or new ones
// drawn.
func (s *server) copyPlan(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	year, err := seasonParam(c)
	if err != nil {
		return err
	}
	from, err := strconv.Atoi(c.FormValue("from"))
	if err != nil || !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	same := c.FormValue("lines") == "same"
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		d, err := loadPlan(tx, a, id, from)
		if err != nil {
			return err
		}
		if !d.planned || slices.Contains(d.years, year) {
			return errNothing
		}
		d.plan.Season, d.plan.Seed = year, newSeed()
		d.plan.SetOn = sameWeekday(d.plan.SetOn, year)
		if !same {
			return tx.SaveLines(id, year, d.plan, freshLines(&d.ground, &d.plan))
		}
		lines := open(d.lines)
		for i := range lines {
			lines[i].ID, lines[i].Earlier, lines[i].Redrawn = "", nil, ""
			if w := lines[i].Walked; w != nil { // the line is where it was walked
				lines[i].Start, lines[i].Bearing, lines[i].Walked = w.Start, w.Bearing, nil
			}
			d.plan.Apply(&lines[i])
		}
		d.plan.Lines = max(1, len(lines))
		return tx.SaveLines(id, year, d.plan, lines)
	})
	if err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/%d?kept=1", id, year))
}

// sameWeekday is the day of another year that falls on the same weekday in the same calendar week, give or take.
func sameWeekday(d survey.Date, year int) survey.Date {
	if d == 0 {
		return 0
	}
	t := d.Time()
	same := survey.DateOf(year, t.Month(), min(t.Day(), 28))
	for same.Time().Weekday() != t.Weekday() {
		same++
	}
	if same-survey.DateOf(year, t.Month(), min(t.Day(), 28)) > 3 {
		same -= 7
	}
	return same
}

// planTyped takes the form's values out of the request.
func planTyped(c *fiber.Ctx) planForm {
	v := func(name string) string { return strings.TrimSpace(c.FormValue(name)) }
	f := planForm{Purpose: season.Purpose(v("purpose")), Lines: v("lines"), Stops: v("stops"), Spacing: v("spacing"), Pace: v("pace"), Own: v("own"),
		Fence: v("fence"), Road: v("road"), Water: v("water"), Apart: v("apart"), SetOn: v("set_on"), First: v("first"), Last: v("last"), Slack: v("slack"),
		BeltWidth: v("belt_width"), BeltLength: v("belt_length")}
	for _, cover := range planCovers {
		if slices.ContainsFunc(c.Request().PostArgs().PeekMulti("cover"), func(b []byte) bool { return string(b) == string(cover) }) {
			f.Covers = append(f.Covers, cover)
		}
	}
	if f.Own != "" {
		f.Covers = append(f.Covers, survey.Substrate(strings.ToLower(f.Own)))
	}
	return f
}

// into reads the form into a plan; errs.Invalid with the first thing that cannot be.
func (f *planForm) into(p *season.Plan, year int) error {
	if !slices.Contains(season.Purposes, f.Purpose) {
		return errs.New(errs.Invalid, words.Mark("Choose what the season is to find out."))
	}
	if len([]rune(f.Own)) > 40 {
		return errs.New(errs.Invalid, words.Mark("A cover’s name has 40 letters at most."))
	}
	if f.Purpose == season.Covers && len(f.Covers) < 2 {
		return errs.New(errs.Invalid, words.Mark("To set one cover against another, choose two or more."))
	}
	p.Purpose, p.Covers = f.Purpose, f.Covers
	if f.Pace == "" {
		f.Pace = "0"
	}
	for _, x := range []struct {
		typed       string
		into        func(float64)
		least, most float64
		sentence    string
	}{
		{f.Lines, func(x float64) { p.Lines = int(x) }, 1, 60, words.Mark("The number of lines is from 1 to 60.")},
		{f.Stops, func(x float64) { p.Stops = int(x) }, 1, 60, words.Mark("The number of nests on a line is from 1 to 60.")},
		{f.Spacing, func(x float64) { p.Spacing = x }, 10, 500, words.Mark("Nests are from 10 to 500 paces apart.")},
		{f.Pace, func(x float64) { p.Pace = x }, 0, 6, words.Mark("A pace is from 1 to 6 feet long. Leave it empty until somebody has measured it.")},
		{f.First, func(x float64) { p.First = int(x) }, 1, 60, words.Mark("The first check is from 1 to 60 days after set-out.")},
		{f.Last, func(x float64) { p.Last = int(x) }, 2, 120, words.Mark("The last check is from 2 to 120 days after set-out.")},
		{f.Slack, func(x float64) { p.Slack = int(x) }, 0, 7, words.Mark("Up to 7 days before or after may be as good.")},
		{f.BeltWidth, func(x float64) { p.BeltWidth = x }, 0, 100, words.Mark("A belt is up to 100 feet wide. Put 0 where none is counted.")},
		{f.BeltLength, func(x float64) { p.BeltLength = x }, 0, 20000, words.Mark("A belt is up to 20,000 feet long. Put 0 where none is counted.")},
	} {
		if err := withinTyped(x.typed, x.least, x.most, x.sentence, x.into); err != nil {
			return err
		}
	}
	if p.Pace > 0 && p.Pace < 1 {
		return errs.New(errs.Invalid, words.Mark("A pace is from 1 to 6 feet long. Leave it empty until somebody has measured it."))
	}
	if p.Last <= p.First {
		return errs.New(errs.Invalid, words.Mark("The last check comes after the first."))
	}
	if p.SetOn = 0; f.SetOn == "" {
		return nil
	}
	on, err := survey.ParseDate(f.SetOn)
	if err != nil || on.Year() != year {
		return errs.New(errs.Invalid, words.Mark("The day of set-out must be a day of the season’s year."))
	}
	p.SetOn = on
	return nil
}

func (f *planForm) intoApart(p *season.Plan) error {
	var sentence = words.Mark("Distances are in feet, from 0 to 20,000.")
	return errors.Join(
		withinTyped(f.Fence, 0, 20000, sentence, func(x float64) { p.Apart.Fence = x }),
		withinTyped(f.Road, 0, 20000, sentence, func(x float64) { p.Apart.Road = x }),
		withinTyped(f.Water, 0, 20000, sentence, func(x float64) { p.Apart.Water = x }),
		withinTyped(f.Apart, 0, 20000, sentence, func(x float64) { p.Apart.Lines = x }))
}

func withinTyped(typed string, least, most float64, sentence string, into func(float64)) error {
	x, err := strconv.ParseFloat(strings.ReplaceAll(typed, ",", ""), 64)
	if err != nil || !(x >= least && x <= most) {
		return errs.New(errs.Invalid, sentence)
	}
	into(x)
	return nil
}
