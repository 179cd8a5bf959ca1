package bulletin

import (
	"cmp"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
)

// counts is what one ranch counted on one belt.
type counts struct {
	member
	ranch  string
	label  string
	acres  float64
	clumps int
}

// density adds the cells of clumps an acre, the plants of every belt together.
//
// Cover changes slowly, so the figures of two seasons work like two versions of one: with one ranch more in the second,
// their difference is its value. So once a density was given finer than a band, it is given for the same ranches, the
// roster, until the roster is exchanged; a ranch of the roster without belts this season counts with its last ones. Who
// comes in between waits. Where a ranch of the roster is gone, there are bands, for all who have belts.
func (c *composer) density() {
	now, digits := c.onRoster()
	c.belts = now
	var plan []disclosure.Unit
	if c.plan > 0 {
		plan = countUnits(c.counts(c.plan))
	}
	root := c.policy.Split(countUnits(now), plan, 0)
	groups := byPlace(now, func(b counts) string { return b.label })

	var fine []LoggedTotal
	for _, node := range append([]*disclosure.Node{root}, root.Children...) {
		label := at(node)
		if rows := belts(now, label); node.Held == "" && node.N >= c.policy.DensityDigitsFrom {
			fine = append(fine, c.countTotal(label, rows))
		}
	}
	if digits && c.exposes(ClumpsPerAcre, fine...) != nil {
		c.step(ClumpsPerAcre, "span audit", disclosure.Exposed)
		digits = false
	}
	if digits && len(fine) > 0 {
		for _, t := range fine {
			c.record(t)
		}
		c.log.Roster = ranchTokens(c, now)
	}

	effect, walked := c.policy.Scatter(disclosure.Counts, coverOf(now)), c.countsByPlace(beltUnits(now))
	c.densityCell("", root, now, effect, digits, walked)
	for _, node := range root.Children {
		c.densityCell(at(node), node, groups[at(node)], effect, digits, walked)
	}
	for _, label := range c.placeLabels() {
		if !slices.ContainsFunc(root.Children, func(n *disclosure.Node) bool { return at(n) == label }) {
			c.hold(c.cell(ClumpsPerAcre, label, ""), unsplit(root.Held, len(groups[label])))
		}
	}
}

// at is the place of a node, "" for the whole cooperative.
func at(n *disclosure.Node) string {
	if len(n.At) == 0 {
		return ""
	}
	return n.At[0]
}

func belts(rows []counts, label string) []counts {
	return pick(rows, func(b counts) bool { return label == "" || b.label == label })
}

func ranchTokens(c *composer, rows []counts) (tokens []string) {
	for _, b := range rows {
		tokens = append(tokens, c.token("ranch", b.id))
	}
	slices.Sort(tokens)
	return slices.Compact(tokens)
}

// countTotal is the total behind a density: its secrets are the ranches' covers, the same ones each season.
func (c *composer) countTotal(label string, rows []counts) LoggedTotal {
	t := LoggedTotal{Cell: c.cell(ClumpsPerAcre, label, "").name()}
	seen := map[string]bool{}
	for _, b := range rows {
		if !seen[b.id] {
			seen[b.id] = true
			t.Parts = append(t.Parts, LoggedPart{Entity: c.token("entity", b.entity), Column: c.token("ranch", b.id)})
		}
	}
	return t
}

// onRoster returns the belts that the season's density is made of, and whether it may be finer than a band.
func (c *composer) onRoster() (rows []counts, digits bool) {
	today := c.counts(c.season)
	roster, since, unknown := c.roster()
	if c.policy.RosterSeasons == 0 || roster == nil && !unknown {
		c.log.RosterSince = c.season
		return today, true
	}
	if unknown {
		return today, false
	}
	c.log.Roster, c.log.RosterSince = roster, since
	last, gone := c.lastBelts(roster)
	if c.season-since >= c.policy.RosterSeasons && c.exchangeable(roster, today) {
		c.step(ClumpsPerAcre, "roster exchanged", "")
		c.log.RosterSince = c.season
		return today, true
	}
	if gone {
		c.step(ClumpsPerAcre, "roster", disclosure.Exposed)
		return today, false
	}
	c.step(ClumpsPerAcre, "roster", "")
	return last, true
}

// roster returns the ranches that the newest earlier density is given for and since when. Unknown is a bulletin with
// digits and no log: nobody can tell what it must not be compared with.
func (c *composer) roster() (tokens []string, since int, unknown bool) {
	newest := 0
	for _, b := range c.earlier {
		if len(b.Log.Roster) > 0 && b.Season >= newest && b.Season < c.season {
			tokens, since, newest = b.Log.Roster, b.Log.RosterSince, b.Season
		}
		unknown = unknown || b.Log.Hash == "" && slices.ContainsFunc(b.Cells, func(x Cell) bool { return x.Measure == ClumpsPerAcre && x.Estimate != nil })
	}
	return tokens, since, unknown
}

// lastBelts returns for each ranch of a roster its belts of this season or the last it has, and whether one is gone: it
// left, took back its consent, or walked no belt for as long as a roster must last.
func (c *composer) lastBelts(roster []string) (rows []counts, gone bool) {
	missing := map[string]bool{}
	for _, t := range roster {
		missing[t] = true
	}
	for season := c.season; season > c.season-max(1, c.policy.RosterSeasons); season-- {
		found := pick(c.counts(season), func(b counts) bool { return missing[c.token("ranch", b.id)] })
		for _, b := range found {
			delete(missing, c.token("ranch", b.id))
		}
		rows = append(rows, found...)
	}
	slices.SortFunc(rows, byRanch)
	return rows, len(missing) > 0
}

// exchangeable tells whether the ranches of today may take the place of a roster: those in one of the two only must be
// enough entities, and safe as a cell by themselves.
func (c *composer) exchangeable(roster []string, today []counts) bool {
	isOn, isToday := map[string]bool{}, map[string]bool{}
	for _, t := range roster {
		isOn[t] = true
	}
	changed := pick(today, func(b counts) bool { return !isOn[c.token("ranch", b.id)] })
	for _, b := range today {
		isToday[c.token("ranch", b.id)] = true
	}
	old, gone := c.lastBelts(roster)
	changed = append(changed, pick(old, func(b counts) bool { return !isToday[c.token("ranch", b.id)] })...)
	held, _ := c.policy.CheckUnits(countUnits(changed))
	return !gone && held == ""
}

// counts reads the belts of a season on which something was counted over a known area.
func (c *composer) counts(season int) []counts {
	var belts []counts
	for i := range c.data.Belts {
		b := &c.data.Belts[i]
		m, counted := c.members[b.Ranch]
		if !counted || b.Season != season || !(b.Acres() > 0) || len(b.Counts) == 0 {
			continue
		}
		row := counts{member: m, ranch: b.Ranch, label: c.labels[m.area], acres: b.Acres()}
		for _, n := range b.Counts {
			row.clumps += n
		}
		belts = append(belts, row)
	}
	// Sums of acres depend on their order in the last bits.
	slices.SortFunc(belts, byRanch)
	return belts
}

func byRanch(a, b counts) int {
	return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.ranch, b.ranch), cmp.Compare(a.acres, b.acres), cmp.Compare(a.clumps, b.clumps))
}

func countUnits(belts []counts) []disclosure.Unit {
	if len(belts) == 0 {
		return nil
	}
	us := make([]disclosure.Unit, len(belts))
	for i, b := range belts {
		us[i] = disclosure.Unit{Entity: b.entity, Known: b.known, At: []string{b.label}, Amounts: []float64{b.acres, float64(b.clumps)}}
	}
	return us
}

func (c *composer) densityCell(label string, node *disclosure.Node, belts []counts, effect float64, digits bool, walked map[string]int) {
	cell := c.cell(ClumpsPerAcre, label, "")
	if n, ok := walked[label]; ok {
		cell.Belts = c.count(node.N, n)
	}
	if node.Held != "" {
		c.hold(cell, node.Held)
		return
	}
	cell.N = node.N
	clumps, acres, all := 0.0, 0.0, coverOf(belts)
	for _, p := range all {
		clumps, acres = clumps+p.Kept, acres+p.Of
	}
	estimate := clumps / acres // above 0: five entities have clumps
	low, high := interval.Log(estimate, math.Sqrt(clumps*effect)/acres, float64(len(all)-1)).Interval(interval.Level)
	switch {
	case high-low > c.policy.MaxRelativeWidth*estimate:
		c.hold(cell, disclosure.TooVague)
	case digits:
		c.publish(cell, node.N, c.policy.Density(node.N, estimate, low, high))
	default:
		c.publish(cell, node.N, c.policy.Band(estimate))
	}
}

// coverOf gives each entity's clumps and the acres they were counted on.
func coverOf(belts []counts) (ps []disclosure.Part) {
	for _, b := range belts { // in order of entity
		if len(ps) == 0 || ps[len(ps)-1].Entity != b.entity {
			ps = append(ps, disclosure.Part{Entity: b.entity, Known: b.known})
		}
		ps[len(ps)-1].Kept += float64(b.clumps)
		ps[len(ps)-1].Of += b.acres
	}
	return ps
}
