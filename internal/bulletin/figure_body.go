package bulletin

import (
	"encoding/json"
	"fmt"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
)

// likely is the chance from which a verdict is given: that of findings.
const likely = 0.8

// figures makes the figures of a season beside its cells. They are given for the whole cooperative and for places where
// there are ten landowners at least and none with more than a quarter of the nests, on the grids of the cells, and only where
// leaving out any one landowner and fitting everything again moves no number by more than one step of its grid. A number that
// moves more is not shown; nor is a body without any number.
//
// The models are fitted to nests in standard substrates alone, of the season and all before it.
func (c *composer) figures(open map[string]bool) ([]Figure, error) {
	e := c.evidence(open)
	scopes := e.scopes()
	shown := map[string][]float64{}
	for _, s := range scopes {
		for name, values := range e.released(s) {
			shown[name] = values
		}
	}
	var list []Figure
	for _, s := range scopes {
		b := &bodies{e: e, scope: s, shown: shown}
		var least int
		b.basis, least = c.basis(s.label)
		for _, f := range []struct {
			kind string
			n    int
			body func() any // nil where nothing is shown
		}{
			{StandardisedKind, s.fewest(), b.standardised},
			{TrendKind, s.n, b.trend},
			{CoverKind, min(s.fewest(), s.cover), b.cover},
			{LimitsKind, min(s.now, s.belts), b.limits},
			{QualityKind, s.now, b.quality},
		} {
			body := f.body()
			if body == nil {
				c.step(f.kind+"|"+s.label, "figure", disclosure.Unsteady)
				continue
			}
			text, err := json.Marshal(body)
			if err != nil {
				return nil, fmt.Errorf("figure %s of %d: %w", f.kind, c.season, err)
			}
			list = append(list, Figure{Season: c.season, Kind: f.kind, Place: placeOf(s.label), Body: text, N: min(f.n, least, c.gate(s.label))})
			c.step(f.kind+"|"+s.label, "figure", "")
		}
	}
	c.verdicts = e.verdicts(scopes, e.held)
	return list, nil
}

func placeOf(label string) *string {
	if label == "" {
		return nil
	}
	return &label
}

// fewest is the number of entities behind the season and substrate with the fewest.
func (s scope) fewest() int {
	n := s.n
	for _, x := range s.rates {
		n = min(n, x)
	}
	return n
}

// bodies writes the figures of a scope from the numbers that may be shown.
type bodies struct {
	e     *evidence
	scope scope
	shown map[string][]float64
	basis Basis
}

func (b *bodies) get(format string, a ...any) []float64 {
	return b.shown[b.scope.label+"|"+fmt.Sprintf(format, a...)]
}

func (b *bodies) value(format string, a ...any) Value {
	v := b.get(format, a...)
	if len(v) != 3 {
		return Value{}
	}
	return Value{&v[0], &v[1], &v[2]}
}

func (b *bodies) one(format string, a ...any) *float64 {
	if v := b.get(format, a...); len(v) == 1 {
		return &v[0]
	}
	return nil
}

func (b *bodies) standardised() any {
	s := Standardised{Basis: b.basis, Entities: disclosure.EntityBand(b.scope.fewest()), Substrates: slices.Clone(b.e.standards), Rates: []StandardisedRate{}}
	any := false
	for _, season := range b.e.seasons {
		for _, h := range append([]string{""}, b.e.standards...) {
			r := StandardisedRate{Season: season, Substrate: placeOf(h), Value: b.value("rate|%d|%s", season, h)}
			any = any || r.Estimate != nil
			s.Rates = append(s.Rates, r)
		}
	}
	if !any {
		return nil
	}
	return s
}

func (b *bodies) trend() any {
	t := Trend{Basis: b.basis, Entities: disclosure.EntityBand(b.scope.n), Seasons: b.e.seasons, Yearly: b.value("yearly"), Verdict: CannotTell}
	if y := t.Yearly; y.Estimate != nil {
		switch {
		case *y.High < 1:
			t.Verdict = Better
		case *y.Low > 1:
			t.Verdict = Worse
		default:
			t.Verdict = NoClearChange
		}
	}
	if v := b.get("ranks"); len(v) == 3 {
		t.Ranks = TrendRanks{Tau: &v[0], Slope: &v[1], Chance: &v[2]}
	}
	if t.Yearly.Estimate == nil && t.Ranks.Tau == nil {
		return nil
	}
	return t
}

func (b *bodies) cover() any {
	c := Cover{Basis: b.basis, Entities: disclosure.EntityBand(min(b.scope.fewest(), b.scope.cover)), Gaps: []CoverGap{}, Mark: mark, Gain: b.value("gain")}
	any := c.Gain.Estimate != nil
	for _, pair := range b.scope.pairs {
		g := CoverGap{A: pair[0], B: pair[1], Curve: []CoverPoint{}, Crossing: b.crossing(pair[1])}
		for _, d := range curveDensities() {
			if v := b.value("gap|%s|%v", pair[1], d); v.Estimate != nil {
				g.Curve = append(g.Curve, CoverPoint{d, v})
			}
		}
		any = any || len(g.Curve) > 0
		c.Gaps = append(c.Gaps, g)
	}
	if !any {
		return nil
	}
	return c
}

func (b *bodies) crossing(substrate string) CoverCrossing {
	at, closed, ends := b.one("gap|%s|crossing", substrate), b.one("gap|%s|closed", substrate), b.get("gap|%s|ends", substrate)
	switch {
	case at == nil:
		return CoverCrossing{Said: NotShown}
	case *at < b.scope.low || *at > b.scope.high:
		return CoverCrossing{Said: NoCrossing}
	case closed == nil || *closed == 1 && len(ends) != 2:
		return CoverCrossing{Said: NotShown}
	}
	c := CoverCrossing{Said: CrossingFound, Value: Value{Estimate: at}}
	if *closed == 1 {
		c.Low, c.High = &ends[0], &ends[1]
	}
	return c
}

func (b *bodies) limits() any {
	l := Limits{Basis: b.basis, Entities: disclosure.EntityBand(min(b.scope.now, b.scope.belts)), Survival: b.value("rate|%d|", b.e.c.season), Verdict: CannotTell,
		CoverShort: b.one("short"), LossesHigh: b.one("losses"), LastingWell: b.one("lasting")}
	if l.CoverShort == nil && l.LossesHigh == nil && l.LastingWell == nil {
		return nil
	}
	for _, cell := range b.e.c.cells {
		if cell.Measure == ClumpsPerAcre && cell.Published && same(cell.Area, placeOf(b.scope.label)) {
			l.Cover = Value{cell.Estimate, cell.Low, cell.High}
		}
	}
	for _, v := range []struct {
		chance        *float64
		verdict, talk string
	}{
		{l.CoverShort, CoverShort, findings.FewClumps},
		{l.LossesHigh, LossesHigh, findings.LossesDespiteCover},
		{l.LastingWell, LastingWell, findings.LeaveIt},
	} {
		if v.chance != nil && *v.chance >= likely {
			t := findings.CommonTalk(v.talk)
			l.Verdict, l.Talk = v.verdict, &LimitsTalk{First: t.First, NotFirst: t.NotFirst}
		}
	}
	return l
}

func (b *bodies) quality() any {
	q := Quality{Basis: b.basis, Entities: disclosure.EntityBand(b.scope.now), Ranches: b.e.ranchBands(b.scope.label),
		FirstOnDay: b.one("quality|first"), SecondOnDay: b.one("quality|second"), LostFromView: b.one("quality|lost"),
		KnownEnd: b.one("quality|ended"), OpenQuestions: b.one("quality|open"),
		SecondLooks: b.one("quality|looks"), SecondAgree: b.one("quality|agree")}
	if q.FirstOnDay == nil && q.SecondOnDay == nil && q.LostFromView == nil && q.KnownEnd == nil && q.OpenQuestions == nil {
		return nil
	}
	return q
}

// ranchBands counts the ranches with results, season by season, where ten landowners stand behind it.
func (e *evidence) ranchBands(label string) (list []QualitySeason) {
	for _, season := range e.seasons {
		s := QualitySeason{Season: season}
		ranches := map[string]bool{}
		for i := range e.nests {
			if n := &e.nests[i]; !n.known && n.season == season && in(label, n.label) {
				ranches[n.ranch] = true
			}
		}
		if n, _ := e.allowed(func(n *nest) bool { return n.season == season && in(label, n.label) }); n >= e.c.policy.ModelEntities {
			s.Ranches = disclosure.EntityBand(len(ranches))
		}
		list = append(list, s)
	}
	return list
}
