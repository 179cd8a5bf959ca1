package bulletin

import (
	"fmt"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/misfit"
	"tussock/internal/stat/survival"
	"tussock/internal/stat/turnbull"
)

// FitMeasures say of the whole cooperative whether the model behind the survival of a season fits: 1 where fits, as far as the checks show, 0 where something
// does, with and without any one landowner.
var FitMeasures = []string{FitsWeeks, FitsPeriods, FitsLines, FitsCameras, CamerasAgree}

// The measures of fit.
const (
	FitsWeeks   = "fits_by_week"   // nests are lost at one rate within days 0 to 14, and within days 14 to 28
	FitsPeriods = "fits_by_period" // landowners who lose more in days 0 to 14 lose more in days 14 to 28 in proportion
	FitsLines   = "fits_by_line"   // no more lines than one in twenty lose far more or far fewer than the model expects
	// Of the losses of which a camera recorded the day:
	FitsCameras  = "fits_by_camera" // they come as late between two looks as the model has it
	CamerasAgree = "cameras_agree"  // no more than one in twenty is dated outside the looks that it lies between
)

// DaysLeft are the days for which LeftOn is given, and LeftMeasures the measures, in order.
var (
	DaysLeft     = []int{7, 14, 21, 28}
	LeftMeasures = []string{LeftOn(7), LeftOn(14), LeftOn(21), LeftOn(28)}
)

// LeftOn is the measure of the share of nests left on a day: the estimate is the model's, and low to high is what the checks alone leave open (Turnbull's curve), which is
// no 95 % range. All on steps of 5 points.
func LeftOn(day int) string { return fmt.Sprintf("left_on_day_%d", day) }

// misfitAt is the chance below which data are too odd for the model: less than one in twenty, for tests between few landowners are a little too ready, and one true season in
// twenty is to pass. withoutOne is the same without any one landowner: less is known then. Both are ours.
const misfitAt, withoutOne = 0.035, 0.15

// doubts adds what says whether the model fits: from ten landowners on, none with more than a quarter of the nests, or of the losses on camera.
func (c *composer) doubts() {
	nests := only(c.nests, c.standards...)
	n := c.behind(c.nests, c.standards...)
	held := c.policy.CheckModel(amounts(nests))
	if held == "" && n < c.policy.ModelEntities {
		held = disclosure.TooFew
	}
	c.doubt([]string{FitsWeeks, FitsPeriods, FitsLines}, nests, n, len(nests), held, c.misfits)

	var seen []*looked
	for _, n := range nests {
		if n.CameraOn != 0 && n.nest.Lost > 0 {
			seen = append(seen, n)
		}
	}
	of := len(amounts(seen))
	c.doubt([]string{FitsCameras, CamerasAgree}, nests, of, len(seen), c.policy.CheckModel(amounts(seen)), c.misfitsOnCamera)
}

// doubt adds measures that nothing holds back, of n landowners and so many rows. A misfit is one with and without any one landowner, so no statement hangs on one.
func (c *composer) doubt(measures []string, nests []*looked, n, rows int, held disclosure.Reason, misfits func([]*looked) []float64) {
	var chances []float64
	if held == "" {
		if chances = misfits(nests); chances == nil {
			held = disclosure.TooSmall
		}
	}
	if slices.ContainsFunc(chances, func(p float64) bool { return p < misfitAt }) {
		groups := c.leaving(nests)
		again := make([][]float64, len(groups))
		concurrently(len(groups), func(i int) { again[i] = misfits(groups[i]) })
		for i := range chances {
			for _, without := range again {
				if without == nil || without[i] >= withoutOne {
					chances[i] = 1
				}
			}
		}
	}
	for i, measure := range measures {
		cell := c.cell(measure, "", "")
		if held != "" {
			c.hold(cell, held)
			continue
		}
		cell.Nests = c.count(n, rows)
		fits := 1.0
		if chances[i] < misfitAt {
			fits = 0
		}
		c.publish(cell, n, disclosure.Figure{Estimate: &fits})
	}
}

// leaving lists the nests without those of each landowner in turn; what everybody knows stays.
func (c *composer) leaving(nests []*looked) (groups [][]*looked) {
	for i, from := 0, 0; i < len(nests); i++ { // only keeps the order of owner
		if i+1 == len(nests) || nests[i+1].entity != nests[i].entity {
			if !nests[i].known {
				groups = append(groups, slices.Concat(nests[:from], nests[i+1:]))
			}
			from = i + 1
		}
	}
	return groups
}

// misfits tells, in the order of the first three of FitMeasures, the chance of data as odd as these where the model is true; nil where there is no model of two rates.
func (c *composer) misfits(nests []*looked) []float64 {
	looks, rates := c.checks(nests)
	if looks == nil {
		return nil
	}
	shape, lines := misfit.Shape(looks, rates), misfit.LinesOf(looks, rates)
	_, tails := misfit.Tails(lines.Residuals(lines.Luck(c.effects.lines+c.effects.owners), uint64(c.season)), lines.Owners)
	return []float64{3 * slices.Min(shape[:]), misfit.Periods(looks, rates), tails} // three times: any of three is enough
}

// misfitsOnCamera tells the same of the other two. That cameras disagree is no matter of chance: it is 0 or 1.
func (c *composer) misfitsOnCamera(nests []*looked) []float64 {
	rates := c.rates(nests)
	if rates == nil {
		return nil
	}
	var records []misfit.Record
	outside := 0
	owner := 0
	for i, n := range nests { // in order of owner
		if i > 0 && n.entity != nests[i-1].entity {
			owner++
		}
		if n.CameraOn == 0 || n.nest.Lost == 0 {
			continue
		}
		records = append(records, misfit.Record{Owner: owner, Kind: slices.Index(c.standards, n.substrate), From: n.nest.Intact, To: n.nest.Lost, Day: int(n.CameraOn - n.SetOn)})
		if !records[len(records)-1].Inside() {
			outside++
		}
	}
	agree := 1.0
	if 20*outside > len(records) {
		agree = 0
	}
	_, chance := misfit.Cameras(records, rates)
	return []float64{chance, agree}
}

// checks lists the looks at the nests of the standard covers, a nest's kind being the index of its cover, with the rates fitted to them: nothing where
// some cover has no two rates.
func (c *composer) checks(nests []*looked) (looks []misfit.Look, rates []misfit.Rates) {
	if rates = c.rates(nests); rates == nil {
		return nil, nil
	}
	owner := 0
	for i, n := range nests { // in order of owner
		if i > 0 && n.entity != nests[i-1].entity {
			owner++
		}
		looks = append(looks, findings.LooksAt(n.Nest, c.first, misfit.Look{Owner: owner, Line: n.nest.Transect, Kind: slices.Index(c.standards, n.substrate), Nest: i})...)
	}
	return looks, rates
}

// rates fits the two rates of each standard cover; nil where one of them has none.
func (c *composer) rates(nests []*looked) (rates []misfit.Rates) {
	for _, h := range c.standards {
		r, known := findings.RatesOf(survival.Fit(histories(only(nests, h))))
		if !known {
			return nil
		}
		rates = append(rates, r)
	}
	return rates
}

func histories(nests []*looked) []survival.Nest {
	list := make([]survival.Nest, len(nests))
	for i, n := range nests {
		list[i] = n.nest
	}
	return list
}

// enoughLooks is how many checks make a day one on which the curve of the checks alone is known.
const enoughLooks = 10

// left adds the share of nests left by day, in equal shares of the standard covers: by the model, and by the checks alone between the days before and
// after on which ten nests or more were checked. From twenty landowners on it is given where it fits into the budget beside all else: of all days, or of days 14 and 28 alone. The model's on day 28 is
// the season's survival once more.
func (c *composer) left(b *budget, exact bool) {
	n := c.behind(c.nests, c.standards...)
	held, every := disclosure.TooMuch, false
	if exact && n >= c.policy.SpreadEntities {
		if every = b.fitsDays(3); every || b.fitsDays(1) {
			held = c.policy.CheckModel(amounts(b.nests))
		}
	}
	figures := make([]disclosure.Figure, len(DaysLeft))
	if held == "" {
		figures, held = c.leftOn(b.nests)
	}
	for i, measure := range LeftMeasures {
		cell, why := c.cell(measure, "", ""), held
		if why == "" && !every && DaysLeft[i]%survival.Cut != 0 {
			why = disclosure.TooMuch
		}
		if why != "" {
			c.hold(cell, why)
			continue
		}
		cell.Nests = c.count(n, len(b.nests))
		c.publish(cell, n, figures[i])
	}
}

// leftOn makes the figures of all days. None is given where one would tell nearly everybody's.
func (c *composer) leftOn(nests []*looked) (figures []disclosure.Figure, held disclosure.Reason) {
	model, low, high := make([]float64, len(DaysLeft)), make([]float64, len(DaysLeft)), make([]float64, len(DaysLeft))
	share := 1 / float64(len(c.standards))
	for _, h := range c.standards {
		list := histories(only(nests, h))
		fit := survival.Fit(list)
		if !fit.Told() || !fit.Rates[0].Known || !fit.Rates[1].Known {
			return nil, disclosure.TooSmall
		}
		checked := map[int]int{}
		spans := make([]turnbull.Span, len(list))
		for i, n := range list {
			spans[i] = turnbull.Span{Intact: n.Intact, Lost: n.Lost}
			checked[n.Intact]++
			checked[n.Lost]++
		}
		curve := turnbull.Fit(spans)
		for i, day := range DaysLeft {
			model[i] += share * math.Pow(fit.Rates[0].Daily, float64(min(day, survival.Cut))) * math.Pow(fit.Rates[1].Daily, float64(max(0, day-survival.Cut)))
			before, after := day, day
			for before > 0 && checked[before] < enoughLooks {
				before--
			}
			for after < 2*day && checked[after] < enoughLooks {
				after++
			}
			least, _ := curve.At(after)
			_, most := curve.At(before)
			low[i], high[i] = low[i]+share*least, high[i]+share*most
		}
	}
	on5 := func(x float64) *float64 { return new(math.Round(20*min(1, max(0, x))) / 20) }
	for i := range DaysLeft {
		for _, x := range []float64{model[i], low[i], high[i]} {
			if why := c.policy.Audit(leftParts(nests, x), x, x); why != "" && x < 1 {
				return nil, why
			}
		}
		figures = append(figures, disclosure.Figure{Estimate: on5(model[i]), Low: on5(low[i]), High: on5(high[i])})
	}
	return figures, ""
}

// leftParts gives each landowner as many nests left as the share of all says.
func leftParts(nests []*looked, share float64) (ps []disclosure.Part) {
	for _, n := range nests { // in order of entity
		if len(ps) == 0 || ps[len(ps)-1].Entity != n.entity {
			ps = append(ps, disclosure.Part{Entity: n.entity, Known: n.known})
		}
		ps[len(ps)-1].Of++
		ps[len(ps)-1].Kept += share
	}
	return ps
}
