package pages

import (
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// planLinePage is one line: where it lies, what it is called, its days; drawn again with a reason, or walked elsewhere.
type planLinePage struct {
	base
	Ranch    postgres.Ranch
	Line     season.Line
	Owner    bool
	Map      template.HTML
	Start    string
	Stops    []planStop
	Days     []planDay
	Form     lineForm
	Pastures []string
	CanDraw  bool // its pasture is on the map
	Problem  string
	Kept     bool
}

type planStop struct {
	Number          int
	Cover, Lat, Lon string
}

type lineForm struct {
	Name, Pasture, SiteKind, Pace string
	SetOn, First, Last            string
	Why                           string
	Lat, Lon, Bearing             string
}

func (s *server) planLine(c *fiber.Ctx, a access.Actor) error {
	return s.showPlanLine(c, a, fiber.StatusOK, planLinePage{Kept: c.Query("kept") != ""}, nil)
}

func (s *server) showPlanLine(c *fiber.Ctx, a access.Actor, status int, page planLinePage, typedForm *lineForm) error {
	var d planData
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Line, err = tx.Line(access.ID(c.Params("line"))); err != nil {
			return err
		}
		d, err = loadPlan(tx, a, page.Line.Ranch, page.Line.Season)
		return err
	})
	if err != nil {
		return err
	}
	l := &page.Line
	page.base = s.base(c, a, s.speaker(c).Say("Line %s of %d", l.Name, l.Season))
	page.fill(&d)
	if typedForm != nil {
		page.Form = *typedForm
	}
	return s.render(c, status, "plan_line", page)
}

func (p *planLinePage) fill(d *planData) {
	l, say := &p.Line, p.Say
	p.Ranch, p.Owner = d.ranch, p.Actor.CanRanch(access.CompareRanch, d.ranch.ID)
	p.Form = lineForm{Name: l.Name, Pasture: l.Pasture, SiteKind: l.SiteKind, SetOn: l.SetOn.String(), First: l.FirstCheck.String(), Last: l.LastCheck.String()}
	if l.Pace > 0 {
		p.Form.Pace = typed(l.Pace)
	}
	p.Map = planMap(say, &d.ground, []season.Line{*l})
	for _, x := range d.ground.Pastures {
		p.Pastures = append(p.Pastures, x.Name)
		p.CanDraw = p.CanDraw || x.Name == l.Pasture
	}
	if at, ok := l.Stop(1); ok {
		p.Start = fmt.Sprintf("%.5f, %.5f", at[1], at[0])
	}
	for n := 1; n <= l.Stops; n++ {
		row := planStop{Number: n, Cover: say.Say(string(l.Cover(n)))}
		if at, ok := l.Stop(n); ok {
			row.Lat, row.Lon = fmt.Sprintf("%.5f", at[1]), fmt.Sprintf("%.5f", at[0])
		}
		p.Stops = append(p.Stops, row)
	}
	for _, day := range daysOf([]season.Line{*l}) {
		p.Days = append(p.Days, planDay{season.Todo(say, day.Name), say.Weekday(day.On.Time()), windowWords(say, day)})
	}
}

// changeLine runs change on one line among those of its season and saves it. The change gets the plan's data, with which
// it may draw, and the line's place in it.
func (s *server) changeLine(c *fiber.Ctx, a access.Actor, form *lineForm, change func(d *planData, i int) error) error {
	id := access.ID(c.Params("line"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		l, err := tx.Line(id)
		if err != nil {
			return err
		}
		if !a.CanRanch(access.CompareRanch, l.Ranch) {
			return errNothing
		}
		d, err := loadPlan(tx, a, l.Ranch, l.Season)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(d.lines, func(x season.Line) bool { return x.ID == id })
		if err := change(&d, i); err != nil {
			return err
		}
		return tx.SaveLines(l.Ranch, l.Season, d.plan, d.lines)
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showPlanLine(c, a, fiber.StatusUnprocessableEntity, planLinePage{Problem: message}, form)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/plan/line/"+string(id)+"?kept=1")
}

// savePlanLine keeps a line's name, pasture and days.
func (s *server) savePlanLine(c *fiber.Ctx, a access.Actor) error {
	v := func(name string) string { return strings.TrimSpace(c.FormValue(name)) }
	form := lineForm{Name: v("name"), Pasture: v("pasture"), SiteKind: v("site_kind"), Pace: v("pace"), SetOn: v("set_on"), First: v("first"), Last: v("last")}
	closed := v("closed") == "1"
	return s.changeLine(c, a, &form, func(d *planData, i int) error {
		l := &d.lines[i]
		if form.Name == "" || len([]rune(form.Name)) > 20 {
			return errs.New(errs.Invalid, words.Mark("A line’s name has from 1 to 20 letters or digits."))
		}
		if len([]rune(form.Pasture)) > 60 || len([]rune(form.SiteKind)) > 60 {
			return errs.New(errs.Invalid, words.Mark("A pasture’s name and the kind of ground have 60 letters at most."))
		}
		l.Name, l.Pasture, l.SiteKind, l.Closed = form.Name, form.Pasture, form.SiteKind, closed
		l.Pace = 0
		if form.Pace != "" {
			if err := withinTyped(form.Pace, 1, 6, "A pace is from 1 to 6 feet long. Leave it empty until somebody has measured it.", func(x float64) { l.Pace = x }); err != nil {
				return err
			}
		}
		return form.days(l)
	})
}

func (f *lineForm) days(l *season.Line) error {
	for typedDay, into := range map[*string]*survey.Date{&f.SetOn: &l.SetOn, &f.First: &l.FirstCheck, &f.Last: &l.LastCheck} {
		*into = 0
		if *typedDay == "" {
			continue
		}
		day, err := survey.ParseDate(*typedDay)
		if err != nil || day.Year() != l.Season {
			return errs.New(errs.Invalid, words.Mark("The days must be days of the season’s year."))
		}
		*into = day
	}
	if l.FirstCheck != 0 && l.FirstCheck <= l.SetOn || l.LastCheck != 0 && l.LastCheck <= max(l.SetOn, l.FirstCheck) {
		return errs.New(errs.Invalid, words.Mark("Eggs are put out first, then checked, then checked for the last time."))
	}
	return nil
}

// redrawPlanLine draws one line again, for a reason. Where it lay is kept.
func (s *server) redrawPlanLine(c *fiber.Ctx, a access.Actor) error {
	why := strings.Join(strings.Fields(c.FormValue("why")), " ")
	return s.changeLine(c, a, nil, func(d *planData, i int) error {
		l := &d.lines[i]
		if l.Placed && (len([]rune(why)) < 3 || len([]rune(why)) > 200) {
			return errs.New(errs.Invalid, words.Mark("Say in a few words why the line is drawn again: a cliff, a bull, a house. A line that is moved because the grass looks better elsewhere measures nothing."))
		}
		if l.Placed {
			l.Earlier = append(l.Earlier, season.Drawn{Start: l.Start, Bearing: l.Bearing, Why: why})
			l.Redrawn = why
		}
		if !season.Place(&d.ground, &d.plan, l, i+1, open(d.lines)) {
			return errs.New(errs.Invalid, words.Mark("No room was found for the line at these distances. Make it shorter, or let it come nearer to fences, roads, water or other lines."))
		}
		l.Walked = nil
		return nil
	})
}

// walkedPlanLine keeps where a line was walked, beside where it was planned; empty takes it back.
func (s *server) walkedPlanLine(c *fiber.Ctx, a access.Actor) error {
	v := func(name string) string { return strings.TrimSpace(c.FormValue(name)) }
	lat, lon, bearing, why := v("lat"), v("lon"), v("bearing"), strings.Join(strings.Fields(v("why")), " ")
	return s.changeLine(c, a, nil, func(d *planData, i int) error {
		l := &d.lines[i]
		if lat == "" && lon == "" {
			l.Walked = nil
			return nil
		}
		y, err1 := strconv.ParseFloat(lat, 64)
		x, err2 := strconv.ParseFloat(lon, 64)
		b, err3 := strconv.ParseFloat(bearing, 64)
		switch {
		case errors.Join(err1, err2) != nil || !(y >= -90 && y <= 90 && x >= -180 && x <= 180):
			return errs.New(errs.Invalid, words.Mark("Write the start in degrees, such as 36.40125 and -99.51234."))
		case err3 != nil || !(b >= 0 && b <= 360):
			return errs.New(errs.Invalid, words.Mark("The bearing is from 0 to 360 degrees from true north."))
		case l.Placed && geo.Feet(l.Start, geo.Position{x, y}) > 5*5280:
			return errs.New(errs.Invalid, words.Mark("That is more than five miles from where the line was drawn. Is the minus sign of the longitude missing?"))
		case len([]rune(why)) > 200:
			return errs.New(errs.Invalid, words.Mark("Say it in 200 letters or fewer."))
		}
		l.Walked = &season.Drawn{Start: geo.Position{x, y}, Bearing: b, Why: why}
		if !l.Placed {
			l.Placed, l.Start, l.Bearing = true, l.Walked.Start, b
		}
		return nil
	})
}
