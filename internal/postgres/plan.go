package postgres

import (
	"encoding/json"
	"strconv"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

var (
	errNoPlan = errs.New(errs.NotFound, "No season is planned here.")
	errNoLine = errs.New(errs.NotFound, "There is no such line.")
)

const planColumns = `SELECT ranch_id, season, purpose, lines, stops, spacing, pace, covers, seed, apart_fence, apart_road, apart_water, apart_lines,
	set_on, first_days, last_days, slack, belt_width, belt_length FROM tussock.season_plan WHERE coop_id = @coop AND ranch_id = @ranch`

type planRow struct {
	RanchID                                       access.ID
	Season                                        int
	Purpose                                       season.Purpose
	Lines, Stops                                  int
	Spacing, Pace                                 float64
	Covers, Seed                                  string
	ApartFence, ApartRoad, ApartWater, ApartLines float64
	SetOn                                         *time.Time
	FirstDays, LastDays, Slack                    int
	BeltWidth, BeltLength                         float64
}

func (r planRow) plan() (season.Plan, error) {
	p := season.Plan{Ranch: r.RanchID, Season: r.Season, Purpose: r.Purpose, Lines: r.Lines, Stops: r.Stops, Spacing: r.Spacing, Pace: r.Pace,
		Apart: season.Apart{Fence: r.ApartFence, Road: r.ApartRoad, Water: r.ApartWater, Lines: r.ApartLines},
		SetOn: dayOf(r.SetOn), First: r.FirstDays, Last: r.LastDays, Slack: r.Slack, BeltWidth: r.BeltWidth, BeltLength: r.BeltLength}
	var err error
	if p.Seed, err = strconv.ParseUint(r.Seed, 10, 64); err != nil {
		return p, err
	}
	return p, json.Unmarshal([]byte(r.Covers), &p.Covers)
}

// Plan returns what holds for a ranch's season. Those who may open the ranch; others get errs.NotFound, and so they do
// where nothing is planned.
func (tx *Tx) Plan(ranch access.ID, year int) (season.Plan, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return season.Plan{}, err
	}
	var r planRow
	ok, err := tx.row(&r, planColumns+" AND season = @season", map[string]any{"ranch": ranch, "season": year})
	if err == nil && !ok {
		err = errNoPlan
	}
	if err != nil {
		return season.Plan{}, err
	}
	return r.plan()
}

// Planned lists the seasons that are planned on a ranch, latest first. Those who may open it; others get errs.NotFound.
func (tx *Tx) Planned(ranch access.ID) ([]int, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var list []int
	err := tx.rows(&list, "SELECT season FROM tussock.season_plan WHERE coop_id = @coop AND ranch_id = @ranch ORDER BY season DESC", map[string]any{"ranch": ranch})
	return list, err
}

const lineColumns = `SELECT id, ranch_id, season, name, code, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers,
	set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, coalesce(walked::text, '') AS walked, closed
	FROM tussock.season_line WHERE coop_id = @coop`

type lineRow struct {
	ID, RanchID                   access.ID
	Season                        int
	Name, Code, Pasture, SiteKind string
	Placed                        bool
	Lon, Lat, Bearing             float64
	Stops                         int
	Spacing, Pace                 float64
	Covers                        string
	SetOn, FirstCheck, LastCheck  *time.Time
	Slack                         int
	BeltWidth, BeltLength         float64
	Redrawn                       string
	Earlier, Walked               string
	Closed                        bool
}

func (r lineRow) line() (season.Line, error) {
	l := season.Line{ID: r.ID, Ranch: r.RanchID, Season: r.Season, Name: r.Name, Code: r.Code, Pasture: r.Pasture, SiteKind: r.SiteKind,
		Placed: r.Placed, Start: geo.Position{r.Lon, r.Lat}, Bearing: r.Bearing, Stops: r.Stops, Spacing: r.Spacing, Pace: r.Pace,
		SetOn: dayOf(r.SetOn), FirstCheck: dayOf(r.FirstCheck), LastCheck: dayOf(r.LastCheck), Slack: r.Slack,
		BeltWidth: r.BeltWidth, BeltLength: r.BeltLength, Redrawn: r.Redrawn, Closed: r.Closed}
	if err := json.Unmarshal([]byte(r.Covers), &l.Covers); err != nil {
		return l, err
	}
	if r.Walked != "" {
		if err := json.Unmarshal([]byte(r.Walked), &l.Walked); err != nil {
			return l, err
		}
	}
	return l, json.Unmarshal([]byte(r.Earlier), &l.Earlier)
}

// Lines returns the lines of a ranch's season in the order of pasture and name, shorter names first so that 2 comes before
// 10. None where nothing is planned. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Lines(ranch access.ID, year int) ([]season.Line, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	return tx.lines(" AND ranch_id = @ranch AND season = @season ORDER BY pasture, length(name), name", map[string]any{"ranch": ranch, "season": year})
}

// Line returns one line, open or closed, of a ranch that the actor may open; any other is errs.NotFound.
func (tx *Tx) Line(id access.ID) (season.Line, error) {
	if !isID(id) {
		return season.Line{}, errNoLine
	}
	return tx.oneLine(" AND ranch_id = @ranch AND id = @id", map[string]any{"id": id})
}

// LineOfCode returns the line with a code as it stands on a sheet, likewise.
func (tx *Tx) LineOfCode(code string) (season.Line, error) {
	if code = season.Code(code); code == "" {
		return season.Line{}, errNoLine
	}
	return tx.oneLine(" AND ranch_id = @ranch AND code = @code", map[string]any{"code": code})
}

func (tx *Tx) oneLine(where statement, args map[string]any) (season.Line, error) {
	var r lineRow
	ok, err := tx.rowOfMine(&r, lineColumns+where, args)
	if err == nil && !ok {
		err = errNoLine
	}
	if err != nil {
		return season.Line{}, err
	}
	return r.line()
}

func (tx *Tx) lines(where statement, args map[string]any) ([]season.Line, error) {
	var rows []lineRow
	if err := tx.rows(&rows, lineColumns+where, args); err != nil {
		return nil, err
	}
	list := make([]season.Line, len(rows))
	for i, r := range rows {
		var err error
		if list[i], err = r.line(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// SaveLines keeps a plan and makes the season's lines be those given: those without an ID are added and get a code, those
// with one are changed, and those that are not among them are deleted. Only the owner: anybody else gets errs.NotFound.
// errs.Conflict where two lines of a pasture have one name, or where one to be deleted has looks.
func (tx *Tx) SaveLines(ranch access.ID, year int, p season.Plan, lines []season.Line) error {
	if _, err := tx.Ranch(ranch); err != nil {
		return err
	}
	if err := tx.savePlan(ranch, year, p); err != nil {
		return err
	}
	keep := []access.ID{""}
	for i := range lines {
		if lines[i].ID != "" {
			keep = append(keep, lines[i].ID)
		}
	}
	if err := tx.dropLines(ranch, year, keep); err != nil {
		return err
	}
	for i := range lines {
		if err := tx.saveLine(ranch, year, &lines[i]); err != nil {
			return err
		}
	}
	return nil
}

// dropLines deletes the season's lines but those to keep. A line with looks on it is more than a plan.
func (tx *Tx) dropLines(ranch access.ID, year int, keep []access.ID) error {
	const gone = " FROM tussock.season_line l WHERE l.coop_id = @coop AND l.ranch_id = @ranch AND l.season = @season AND l.id::text NOT IN @keep"
	args := map[string]any{"ranch": ranch, "season": year, "keep": keep}
	var looked string
	ok, err := tx.row(&looked, "SELECT l.name"+gone+" AND EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = l.coop_id AND k.ranch_id = l.ranch_id AND k.line_id = l.id) LIMIT 1", args)
	if err == nil && ok {
		err = errs.Tell(errs.Conflict, words.Later("Something was written down on line %s already, so it stays. Close it instead.", looked), nil)
	}
	if err != nil {
		return err
	}
	_, err = tx.exec("DELETE"+gone, args)
	return err
}

func (tx *Tx) savePlan(ranch access.ID, year int, p season.Plan) error {
	covers, err := json.Marshal(orEmpty(p.Covers))
	if err != nil {
		return err
	}
	n, err := tx.exec(`INSERT INTO tussock.season_plan (coop_id, ranch_id, season, purpose, lines, stops, spacing, pace, covers, seed,
			apart_fence, apart_road, apart_water, apart_lines, set_on, first_days, last_days, slack, belt_width, belt_length, saved_by, saved_at)
		VALUES (@coop, @ranch, @season, @purpose, @lines, @stops, @spacing, @pace, CAST(@covers AS jsonb), @seed,
			@fence, @road, @water, @apart, CAST(@set AS date), @first, @last, @slack, @width, @length, @me, @now)
		ON CONFLICT (coop_id, ranch_id, season) DO UPDATE SET purpose = EXCLUDED.purpose, lines = EXCLUDED.lines, stops = EXCLUDED.stops,
			spacing = EXCLUDED.spacing, pace = EXCLUDED.pace, covers = EXCLUDED.covers, seed = EXCLUDED.seed, apart_fence = EXCLUDED.apart_fence,
			apart_road = EXCLUDED.apart_road, apart_water = EXCLUDED.apart_water, apart_lines = EXCLUDED.apart_lines, set_on = EXCLUDED.set_on,
			first_days = EXCLUDED.first_days, last_days = EXCLUDED.last_days, slack = EXCLUDED.slack, belt_width = EXCLUDED.belt_width,
			belt_length = EXCLUDED.belt_length, saved_by = EXCLUDED.saved_by, saved_at = EXCLUDED.saved_at`,
		map[string]any{"ranch": ranch, "season": year, "purpose": string(p.Purpose), "lines": p.Lines, "stops": p.Stops, "spacing": p.Spacing,
			"pace": p.Pace, "covers": string(covers), "seed": strconv.FormatUint(p.Seed, 10), "fence": p.Apart.Fence, "road": p.Apart.Road,
			"water": p.Apart.Water, "apart": p.Apart.Lines, "set": nullDay(p.SetOn), "first": p.First, "last": p.Last, "slack": p.Slack,
			"width": p.BeltWidth, "length": p.BeltLength})
	if err == nil && n == 0 {
		err = errNoRanch
	}
	return err
}

func (tx *Tx) saveLine(ranch access.ID, year int, l *season.Line) error {
	covers, err := json.Marshal(orEmpty(l.Covers))
	if err != nil {
		return err
	}
	earlier, err := json.Marshal(orEmpty(l.Earlier))
	if err != nil {
		return err
	}
	var walked any
	if l.Walked != nil {
		b, err := json.Marshal(l.Walked)
		if err != nil {
			return err
		}
		walked = string(b)
	}
	args := map[string]any{"ranch": ranch, "season": year, "id": l.ID, "name": strings.TrimSpace(l.Name), "pasture": l.Pasture, "kind": l.SiteKind,
		"placed": l.Placed, "lon": l.Start[0], "lat": l.Start[1], "bearing": l.Bearing, "stops": l.Stops, "spacing": l.Spacing, "pace": l.Pace,
		"covers": string(covers), "set": nullDay(l.SetOn), "first": nullDay(l.FirstCheck), "last": nullDay(l.LastCheck), "slack": l.Slack,
		"width": l.BeltWidth, "length": l.BeltLength, "redrawn": l.Redrawn, "earlier": string(earlier), "walked": walked, "closed": l.Closed}
	if l.ID == "" {
		args["id"] = newID()
		_, err := tx.exec(`INSERT INTO tussock.season_line (coop_id, ranch_id, id, season, name, pasture, site_kind, placed, lon, lat, bearing, stops,
				spacing, pace, covers, set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, walked, closed)
			VALUES (@coop, @ranch, @id, @season, @name, @pasture, @kind, @placed, @lon, @lat, @bearing, @stops, @spacing, @pace, CAST(@covers AS jsonb),
				CAST(@set AS date), CAST(@first AS date), CAST(@last AS date), @slack, @width, @length, @redrawn, CAST(@earlier AS jsonb),
				CAST(@walked AS jsonb), @closed)`, args)
		return err
	}
	if !isID(l.ID) {
		return errNoLine
	}
	return tx.must(errNoLine, `UPDATE tussock.season_line SET name = @name, pasture = @pasture, site_kind = @kind, placed = @placed, lon = @lon,
			lat = @lat, bearing = @bearing, stops = @stops, spacing = @spacing, pace = @pace, covers = CAST(@covers AS jsonb),
			set_on = CAST(@set AS date), first_check = CAST(@first AS date), last_check = CAST(@last AS date), slack = @slack,
			belt_width = @width, belt_length = @length, redrawn = @redrawn, earlier = CAST(@earlier AS jsonb), walked = CAST(@walked AS jsonb),
			closed = @closed
		WHERE coop_id = @coop AND ranch_id = @ranch AND season = @season AND id = @id`, args)
}

// orEmpty makes JSON of no values [] rather than null.
func orEmpty[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func dayOf(t *time.Time) survey.Date {
	if t == nil {
		return 0
	}
	return survey.DateFrom(*t)
}

func nullDay(d survey.Date) any {
	if d == 0 {
		return nil
	}
	return d.String()
}
