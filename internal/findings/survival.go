package findings

import (
	"encoding/json"
	"slices"
	"strings"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/standard"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Survival is one row of results about the nests of a place and season, in one substrate or over all of them.
type Survival struct {
	Ranch     string            `json:"ranch"`
	Site      *string           `json:"site"` // nil: the whole ranch
	Season    int               `json:"season"`
	Substrate *survey.Substrate `json:"substrate"` // nil: all, standardised to the mix

	// Covers are the substrates that a figure over all is standardised over; none for one substrate.
	Covers []survey.Substrate `json:"covers,omitempty"`

	Nests     int `json:"nests"`     // set
	Transects int `json:"transects"` // with such nests
	Known     int `json:"known"`     // with a known state at their last visit: intact or failed, not lost from view
	Intact    int `json:"intact"`    // intact at their last visit, whenever that was

	Apparent Range    `json:"apparent"` // Intact of Known with Wilson's interval: how people count, and blind to the days
	Daily    []Daily  `json:"daily"`    // one a period; over all substrates, of the standardised curve
	Day28    Estimate `json:"day28"`
	Losses   Losses   `json:"losses"` // by the state at the last visit
	Note     string   `json:"note"`

	Notes []words.Phrase `json:"-"` // the sentences of Note, to be said in any tongue

	// Day28Predators counts losses to predators alone: nests lost otherwise are withdrawn at their last intact visit.
	Day28Predators Estimate `json:"day28_predators"`
	// IfLost holds the bounds that nests lost from view leave open. Both ends are Day28 where there are none.
	IfLost IfLost `json:"if_lost"`
	// Steadied is the hierarchical figure, drawn towards what is known of the other ranches, where somebody has made one.
	Steadied *Range `json:"steadied,omitempty"`
	// DesignEffect is how many times the spread between transects widens the variance that nests with luck of
	// their own would have; nil where it cannot be told.
	DesignEffect *float64 `json:"design_effect"`

	Lasted      int  `json:"-"` // intact on day 25 or later: the nests of which people say they lasted four weeks
	Waiting     int  `json:"-"` // nests that wait for an answer and are in none of the counts
	Settled     int  `json:"-"` // Lasted, or failed: those whose four weeks are known
	FirstSeason bool `json:"-"` // no earlier season of this place is in the data

	spread interval.Spread
	lines  []lineUp // of the whole ranch over all substrates
	early  Estimate // see MarshalJSON
}

// MarshalJSON gives the row as the contract of the command line has it. Where nothing was seen after day 14 it differs
// from what pages show: the contract's likelihood sets a period without a loss to a rate of 1, and whoever computes
// with the rows gets that figure and is told that it is an upper bound. People at a page get "cannot be told yet".
func (s Survival) MarshalJSON() ([]byte, error) {
	type row Survival // without this method
	if s.Day28.Estimate == nil && s.early.Estimate != nil {
		s.Day28 = s.early
		noLoss := 1.0
		s.Daily = []Daily{s.Daily[0], s.Daily[1]}
		s.Daily[1].Rate = &noLoss
		s.Note += " The figure given counts no loss from day 14 on, so it is an upper bound."
	}
	return json.Marshal(row(s))
}

// Daily is the daily survival rate from one day to another.
type Daily struct {
	From int      `json:"from"`
	To   int      `json:"to"`
	Rate *float64 `json:"rate"`
	SE   *float64 `json:"se"`
}

// Losses counts nests by what ended them. Lost says nothing of the eggs: the nest was not found again.
type Losses struct {
	Taken    int `json:"taken"`
	Spoiled  int `json:"spoiled"`
	Trampled int `json:"trampled"`
	Flooded  int `json:"flooded"`
	Lost     int `json:"lost"`
}

// Failed returns the nests that are known to have failed.
func (l Losses) Failed() int { return l.Taken + l.Spoiled + l.Trampled + l.Flooded }

// IfLost is survival to day 28 if every nest that was not found again had been taken (Low), and if every one had been intact (High).
type IfLost struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// survival returns the rows of one place and season: over all substrates, then each of them; and of a whole ranch whether its model fits, nil where nothing can be told.
func (c *computation) survival(g group[survey.Nest]) ([]Survival, *Fit) {
	strata := bySubstrate(g.rows)
	rows := make([]Survival, 1, len(strata)+1)
	for i := range strata {
		s := &strata[i]
		s.nests = c.histories(s.rows, headline)
		s.fit = c.fit(g.season, s.nests)
		rows = append(rows, c.substrateRow(g.place, s))
		c.hold(&rows[i+1], g.place, strata[i:i+1])
	}
	rows[0] = c.wholeRow(g, strata)
	if g.whole {
		rows[0].lines = linesUp(strata)
	}
	c.hold(&rows[0], g.place, strata)
	if !g.whole || rows[0].Waiting > 0 {
		return rows, nil
	}
	return rows, c.fitOf(g, strata)
}

// fit estimates survival with the design effect that is published for the season, where there is one.
func (c *computation) fit(season int, nests []survival.Nest) survival.Estimate {
	published := 0.0
	if c.opt.DesignEffect != nil {
		published = c.opt.DesignEffect(season)
	}
	return survival.FitWith(nests, published)
}

// A stratum is the nests in one substrate.
type stratum struct {
	substrate survey.Substrate
	rows      []*survey.Nest
	nests     []survival.Nest
	fit       survival.Estimate
}

func bySubstrate(nests []*survey.Nest) []stratum {
	at := map[survey.Substrate]int{}
	var strata []stratum
	for _, n := range nests {
		i, ok := at[n.Substrate]
		if !ok {
			i = len(strata)
			at[n.Substrate] = i
			strata = append(strata, stratum{substrate: n.Substrate})
		}
		strata[i].rows = append(strata[i].rows, n)
	}
	slices.SortFunc(strata, func(a, b stratum) int { return strings.Compare(string(a.substrate), string(b.substrate)) })
	return strata
}

// A reading is a way to count the end of a nest.
type reading int

const (
	headline      reading = iota // all causes; nests not found again end at their last intact look
	predatorsOnly                // other failures end at the last intact look too
	lostIntact                   // nests not found again were intact that day
	lostTaken                    // nests not found again had failed by that day
)

func (c *computation) histories(rows []*survey.Nest, how reading) []survival.Nest {
	nests := make([]survival.Nest, len(rows))
	for i, n := range rows {
		nests[i] = history(n, how, c.first)
		nests[i].Transect = c.transects[n.Key()]
	}
	return nests
}

// history reads one nest up to the first visit that did not find it intact.
func history(n *survey.Nest, how reading, first FirstChecks) survival.Nest {
	var h survival.Nest
	for _, v := range n.Visits {
		day := int(v.On - n.SetOn)
		if v.State == survey.Intact {
			h.Intact = max(h.Intact, day)
			continue
		}
		day = first.LostBy(n, day, h.Intact)
		switch {
		case v.State == survey.Taken, v.State.Failed() && how != predatorsOnly, v.State == survey.Lost && how == lostTaken:
			h.Lost = day
		case v.State == survey.Lost && how == lostIntact:
			h.Intact = day
		}
		return h
	}
	return h
}

// substrateRow describes the nests in one substrate.
func (c *computation) substrateRow(p place, s *stratum) Survival {
	row := c.counted(p, s.rows)
	row.Substrate = &s.substrate
	row.take(standardised{Estimate: standard.Survival([]standard.Stratum{{Share: 1, Fit: s.fit}}), told: s.fit.Told()})

	var n note
	explain(&n, &row, &s.fit)
	row.Note, row.Notes = n.String(), n

	other := c.fit(p.season, c.histories(s.rows, predatorsOnly))
	row.Day28Predators = estimateOf(&other)
	row.early = early(&s.fit)
	row.IfLost = ifLost(row.Losses.Lost, func(how reading) standardised {
		f := c.fit(p.season, c.histories(s.rows, how))
		return standardised{Estimate: standard.Survival([]standard.Stratum{{Share: 1, Fit: f}}), told: f.Told()}
	}, row.Day28.Estimate)
	return row
}

// wholeRow describes all substrates together.
func (c *computation) wholeRow(g group[survey.Nest], strata []stratum) Survival {
	row := c.counted(g.place, g.rows)
	var n note
	all := c.standardise(strata, headline, &n)
	row.take(all)
	row.Covers = all.covers
	if len(strata) == 1 && len(n) == 0 {
		explain(&n, &row, &strata[0].fit)
		row.early = early(&strata[0].fit)
	} else {
		explainWhole(&n, &row, strata, all)
	}
	row.Note, row.Notes = n.String(), n

	var quiet note
	if other := c.standardise(strata, predatorsOnly, &quiet); other.told {
		row.Day28Predators = estimate(other.S28, other.SE, other.Spread)
	}
	row.IfLost = ifLost(row.Losses.Lost, func(how reading) standardised {
		return c.standardise(strata, how, &quiet)
	}, row.Day28.Estimate)
	return row
}

type standardised struct {
	standard.Estimate
	told   bool
	covers []survey.Substrate
}

// standardise combines the strata in the standard mix. With no mix of the cooperative's it is equal shares of the
// substrates that tell their survival.
func (c *computation) standardise(strata []stratum, how reading, n *note) standardised {
	var told []standard.Stratum
	var covers []survey.Substrate
	var weights []float64
	var untold, outside []string
	present := map[survey.Substrate]bool{}
	for i := range strata {
		s := &strata[i]
		fit := s.fit
		if how != headline {
			fit = c.fit(s.rows[0].Season, c.histories(s.rows, how))
		}
		weight := 1.0
		if c.opt.Mix != nil {
			weight = c.opt.Mix[s.substrate]
		}
		switch {
		case weight == 0:
			outside = append(outside, string(s.substrate))
		case !fit.Told():
			untold = append(untold, string(s.substrate))
		default:
			told = append(told, standard.Stratum{Fit: fit})
			covers = append(covers, s.substrate)
			weights = append(weights, weight)
			present[s.substrate] = true
		}
	}

	if missing := c.missing(present); len(missing) > 0 {
		n.say(words.Later("No figure over all cover types: the standard mix has %s, of which this place tells nothing.", named(missing)))
		return standardised{}
	}
	if len(told) == 0 {
		return standardised{Estimate: firstPeriod(strata)}
	}
	if len(untold) > 0 {
		n.say(words.Later("Left out, since survival to day 28 cannot be told there: %s.", named(untold)))
	}
	if len(outside) > 0 {
		n.say(words.Later("Not in the standard mix, so not counted here: %s.", named(outside)))
	}
	for i, share := range standard.Shares(weights) {
		told[i].Share = share
	}
	return standardised{standard.Survival(told), true, covers}
}

// missing lists the substrates of the standard mix that are not among those present.
func (c *computation) missing(present map[survey.Substrate]bool) []string {
	var list []string
	for s, share := range c.opt.Mix {
		if share > 0 && !present[s] {
			list = append(list, string(s))
		}
	}
	slices.Sort(list)
	return list
}

// firstPeriod returns what can be said where no substrate tells survival to day 28: with one substrate its daily rate
// before day 14, else nothing.
func firstPeriod(strata []stratum) standard.Estimate {
	if len(strata) != 1 {
		return standard.Estimate{}
	}
	return standard.Survival([]standard.Stratum{{Share: 1, Fit: strata[0].fit}})
}

// counted fills in the counts of a row.
func (c *computation) counted(p place, nests []*survey.Nest) Survival {
	row := Survival{Ranch: p.ranch, Site: p.sitePointer(), Season: p.season, Nests: len(nests)}
	transects := map[survey.TransectKey]bool{}
	for _, n := range nests {
		transects[n.Key()] = true
		switch n.Fate() {
		case survey.Intact:
			row.Intact++
			if n.LastIntact() >= aboutDay28 {
				row.Lasted++
			}
		case survey.Taken:
			row.Losses.Taken++
		case survey.Spoiled:
			row.Losses.Spoiled++
		case survey.Trampled:
			row.Losses.Trampled++
		case survey.Flooded:
			row.Losses.Flooded++
		case survey.Lost:
			row.Losses.Lost++
		}
	}
	row.Transects = len(transects)
	row.Known = row.Intact + row.Losses.Failed()
	row.Settled = row.Lasted + row.Losses.Failed()
	if row.Known > 0 {
		low, high := interval.Wilson(row.Intact, row.Known, interval.Level)
		row.Apparent = Range{number(float64(row.Intact) / float64(row.Known)), number(low), number(high)}
	}
	return row
}

// aboutDay28 is the day from which a look counts as the four-week one. The check is commonly made a few days to
// either side; the estimate itself uses the days as they were.
const aboutDay28 = survival.Horizon - 3

// take copies an estimate into the row.
func (s *Survival) take(e standardised) {
	ends := [3]int{0, survival.Cut, survival.Horizon}
	s.Daily = make([]Daily, 2)
	for k, r := range e.Rates {
		s.Daily[k] = Daily{From: ends[k], To: ends[k+1]}
		if r.Known {
			s.Daily[k].Rate = number(r.Daily)
		}
		if r.SE > 0 {
			s.Daily[k].SE = number(r.SE)
		}
	}
	if !e.told {
		return
	}
	s.spread = e.Spread
	s.Day28 = estimate(e.S28, e.SE, e.Spread)
	if e.DesignEffect > 0 {
		s.DesignEffect = number(e.DesignEffect)
	}
}

func estimateOf(f *survival.Estimate) Estimate {
	if !f.Told() {
		return Estimate{}
	}
	return estimate(f.S28, f.SE, f.Spread)
}

// early returns survival to day 14 as the upper bound on day 28, where some nests were lost and none was seen later.
func early(f *survival.Estimate) Estimate {
	if f.Case != survival.NoLateLook || !f.Spread.Known() {
		return Estimate{}
	}
	return estimate(f.S28, f.SE, f.Spread)
}

func estimate(x, se float64, spread interval.Spread) Estimate {
	low, high := spread.Interval(interval.Level)
	e := Estimate{Range: Range{number(x), number(low), number(high)}}
	if se > 0 {
		e.SE = number(se)
	}
	return e
}

func ifLost(lost int, fit func(reading) standardised, headline *float64) IfLost {
	if lost == 0 {
		return IfLost{headline, headline}
	}
	var b IfLost
	if e := fit(lostIntact); e.told {
		b.High = number(e.S28)
	}
	if e := fit(lostTaken); e.told {
		b.Low = number(e.S28)
	}
	return b
}

// explain says what the reader of a fit has to know beside its numbers.
func explain(n *note, row *Survival, f *survival.Estimate) {
	switch f.Case {
	case survival.NoNests, survival.NoExposure:
		n.say(words.Later("No nest was seen again after it was set, so nothing can be told yet."))
		return
	case survival.NoLateLook:
		n.say(words.Later("No nest was looked at after day 14, so survival to day 28 cannot be told yet; the second check will tell."))
		return
	case survival.AllLasted:
		n.say(words.Later("Every nest that was followed lasted; the low end is what so few nests cannot rule out."))
	case survival.NoneLasted:
		n.say(words.Later("No nest lasted; the high end is what so few nests cannot rule out."))
	case survival.OneRate:
		n.say(words.Later("The looks came so that the first two weeks and the second cannot be told apart; one daily rate is used for both."))
	}
	explainSpread(n, f.Case == survival.Between || f.Case == survival.OneRate, f.Transects, f.Rests)
	explainReach(n, row, f.LastDay)
}

func explainWhole(n *note, row *Survival, strata []stratum, e standardised) {
	if !e.told {
		if len(*n) == 0 {
			n.say(words.Later("Survival to day 28 cannot be told for any cover type yet."))
		}
		return
	}
	lastDay, edges := 0, 0
	var certain []string
	for i := range strata {
		lastDay = max(lastDay, strata[i].fit.LastDay)
		if c := strata[i].fit.Case; c == survival.AllLasted || c == survival.NoneLasted {
			edges++
			certain = append(certain, string(strata[i].substrate))
		}
	}
	switch {
	case len(e.Certain) > 0:
		n.say(words.Later("All or none lasted in %s: the range counts that as certain and is a little too narrow.", named(certain)))
	case edges > 0:
		n.say(words.Later("In each cover type all nests lasted or none did; the range is what so few nests cannot rule out."))
	}
	explainSpread(n, edges < len(strata), e.Transects, e.Rests)
	explainReach(n, row, lastDay)
}

// explainSpread says where a range does not rest on the spread between transects.
func explainSpread(n *note, hasSE bool, transects int, rests survival.Basis) {
	switch {
	case !hasSE || rests != survival.OnNests:
	case transects < 2:
		n.say(words.Later("One transect only: nests are taken to have luck of their own, so the range is likely too narrow."))
	case transects >= survival.Few:
		n.say(words.Later("The transects came out exactly alike, so nests are taken to have luck of their own; the range is likely too narrow."))
	}
}

// explainReach says where nests were not followed to day 28.
func explainReach(n *note, row *Survival, lastDay int) {
	if lastDay < aboutDay28 {
		n.say(words.Later("The last look came on day %d; the rate since day 14 is carried on to day 28.", lastDay))
	}
	if early := row.Intact - row.Lasted; early > 0 && row.Lasted+row.Losses.Failed() > 0 {
		n.say(words.LaterCount("%d nest was last seen intact before day %d: counted up to then, and among the intact.",
			"%d nests were last seen intact before day %d: counted up to then, and among the intact.", early, early, aboutDay28))
	}
	if row.Losses.Lost > 0 {
		n.say(words.LaterCount("%d nest was not found again: counted up to the last good look.", "%d nests were not found again: counted up to the last good look.", row.Losses.Lost))
	}
}

// Chance returns the probability that survival to day 28 is x or more, and false where it cannot be told.
func (s *Survival) Chance(x float64) (p float64, ok bool) {
	if !s.spread.Known() {
		return 0, false
	}
	return s.spread.AtLeast(x), true
}

// Dots returns 20 equally likely values of survival to day 28, rising: the quantiles 0.025, 0.075 … 0.975 of its
// spread. It is empty where survival cannot be told.
func (s *Survival) Dots() []float64 {
	if !s.spread.Known() {
		return nil
	}
	const n = 20
	dots := make([]float64, n)
	for i := range dots {
		dots[i] = s.spread.Quantile((float64(i) + 0.5) / n)
	}
	return dots
}

// Dots is Survival.Dots.
func Dots(s *Survival) []float64 { return s.Dots() }

// Find returns the row of a place, season and substrate; site "" is the whole ranch and substrate "" is all of them.
func (r *Result) Find(ranch, site string, season int, substrate survey.Substrate) (*Survival, bool) {
	for i := range r.Survival {
		s := &r.Survival[i]
		if s.Ranch == ranch && s.Season == season && deref(s.Site) == site && deref(s.Substrate) == substrate {
			return s, true
		}
	}
	return nil, false
}

// SurvivalOf returns the row of the whole ranch over all substrates.
func (r *Result) SurvivalOf(ranch string, season int) (*Survival, bool) {
	return r.Find(ranch, "", season, "")
}

// Standardised returns survival to day 28 of the whole ranch over all substrates in shares other than those of the row: with the
// weights of a mix, as Compute gives it with Options.Mix. It is false where a substrate of the mix tells nothing.
func (r *Result) Standardised(ranch string, season int, mix map[survey.Substrate]float64) (s28 float64, ok bool) {
	var sum, missing float64
	for _, weight := range mix {
		missing += max(weight, 0)
	}
	sum = missing
	for _, row := range r.BySubstrate(ranch, season) {
		if weight := mix[*row.Substrate]; weight > 0 && row.Day28.Estimate != nil {
			s28 += weight / sum * *row.Day28.Estimate
			missing -= weight
		}
	}
	return s28, sum > 0 && missing < 1e-9*sum
}

// Seasons lists the seasons of a ranch in which nests were set, in order.
func (r *Result) Seasons(ranch string) []int {
	var seasons []int
	for i := range r.Survival {
		if s := &r.Survival[i]; s.Ranch == ranch && s.Site == nil && s.Substrate == nil {
			seasons = append(seasons, s.Season)
		}
	}
	return seasons
}

// BySubstrate lists the whole ranch's rows of single substrates in a season.
func (r *Result) BySubstrate(ranch string, season int) []*Survival {
	var rows []*Survival
	for i := range r.Survival {
		if s := &r.Survival[i]; s.Ranch == ranch && s.Season == season && s.Site == nil && s.Substrate != nil {
			rows = append(rows, s)
		}
	}
	return rows
}

func deref[T ~string](p *T) T {
	if p == nil {
		return ""
	}
	return *p
}

// markFirstSeasons marks the rows before which the data hold no season of the same place.
func (r *Result) markFirstSeasons() {
	first := map[[2]string]int{}
	for i := range r.Survival {
		s := &r.Survival[i]
		at := [2]string{s.Ranch, deref(s.Site)}
		if season, ok := first[at]; !ok || s.Season < season {
			first[at] = s.Season
		}
	}
	for i := range r.Survival {
		s := &r.Survival[i]
		s.FirstSeason = first[[2]string{s.Ranch, deref(s.Site)}] == s.Season
	}
}
