package bulletin

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// QualityMeasures say how well a season was carried out. Each is a share in steps of 5 points, so that 0 is less than 1 in 40.
var QualityMeasures = []string{FirstOnDay, SecondOnDay, KnownEnd, LostFromView, SecondLooks, SecondAgree, OpenQuestions}

// The measures of how well a season was carried out.
const (
	FirstOnDay    = "first_checks_on_day"         // of first checks, those within OnDay of the cooperative's day for them
	SecondOnDay   = "second_checks_on_day"        // of second checks, likewise
	KnownEnd      = "followed_to_known_end"       // of nests, those followed to a loss, or intact on day 25 or later
	LostFromView  = "lost_from_view"              // of nests, those not found again
	SecondLooks   = "second_looks"                // of nests, those that a second person looked at on their own
	SecondAgree   = "second_looks_that_agree"     // of second looks, those that found what the first person did
	OpenQuestions = "ranches_with_open_questions" // of ranches with results, those whose sheets have questions left open
)

// OnDay is how many days a check may be off its day.
const OnDay = 3

// Open gives a share of quality at either end as all that rounds to it, "0.975 or more" or "0.025 or less": a plain 1 or 0 would tell of every
// one. Every other cell is itself.
func (c Cell) Open() Cell {
	if c.Estimate == nil || !slices.Contains(QualityMeasures, c.Measure) {
		return c
	}
	switch {
	case *c.Estimate >= 1:
		c.Estimate, c.Low, c.High = nil, new(0.975), nil
	case *c.Estimate <= 0:
		c.Estimate, c.Low, c.High = nil, nil, new(0.025)
	}
	return c
}

// quality adds them, of nests in all plants: from ten landowners on, none with more than a quarter of the nests, and where leaving out
// any one of them moves a share by no more than one step.
func (c *composer) quality() {
	held := c.policy.CheckModel(amounts(c.nests))
	n := len(amounts(c.nests))
	all, without := c.tallied(c.nests), []tally{}
	for i, from := 0, 0; i < len(c.nests); i++ { // in order of owner
		if i+1 == len(c.nests) || c.nests[i+1].entity != c.nests[i].entity {
			if !c.nests[i].known {
				without = append(without, all.less(c.tallied(c.nests[from:i+1])))
			}
			from = i + 1
		}
	}
	// Who had a second look is a choice of few: how well two people agree has a gate of its own.
	twice := c.policy.CheckModel(amounts(pick(c.nests, func(n *looked) bool { return seenTwice(n.Nest) })))
	for _, measure := range QualityMeasures {
		cell, why := c.cell(measure, "", ""), held
		if measure == SecondAgree && why == "" {
			why = twice
		}
		if measure == OpenQuestions && c.open == nil && why == "" {
			why = disclosure.Nobody
		}
		share := all[measure].on5()
		if why == "" && math.IsNaN(share) {
			why = disclosure.Nobody
		}
		if why == "" && slices.ContainsFunc(without, func(t tally) bool { return !(math.Abs(t[measure].on5()-share) <= 0.05+1e-9) }) {
			why = disclosure.Unsteady
		}
		if why != "" {
			c.hold(cell, why)
			continue
		}
		cell.Nests = c.count(n, len(c.nests))
		c.publish(cell, n, disclosure.Figure{Estimate: &share})
	}
}

// A tally counts by measure.
type tally map[string]*portion

type portion struct{ part, of float64 }

// on5 is the share in steps of 5 points.
func (p *portion) on5() float64 { return math.Round(20*p.part/p.of) / 20 }

func (t tally) add(measure string, yes bool) {
	t[measure].of++
	if yes {
		t[measure].part++
	}
}

// less takes one owner's counts off.
func (t tally) less(own tally) tally {
	left := tally{}
	for measure, p := range t {
		left[measure] = &portion{p.part - own[measure].part, p.of - own[measure].of}
	}
	return left
}

func (c *composer) tallied(nests []*looked) tally {
	t := tally{}
	for _, measure := range QualityMeasures {
		t[measure] = &portion{}
	}
	ranches := map[string]bool{}
	for _, n := range nests {
		if !ranches[n.Ranch] {
			ranches[n.Ranch] = true
			t.add(OpenQuestions, c.open[n.Ranch])
		}
		for j, v := range n.Visits {
			day := int(v.On - n.SetOn)
			switch j {
			case 0:
				t.add(FirstOnDay, day >= c.days[0]-OnDay && day <= c.days[0]+OnDay)
			case 1:
				t.add(SecondOnDay, day >= c.days[1]-OnDay && day <= c.days[1]+OnDay)
			}
			if v.Second != "" {
				t.add(SecondAgree, v.Second == v.State)
			}
		}
		t.add(SecondLooks, seenTwice(n.Nest))
		t.add(LostFromView, n.Fate() == survey.Lost)
		t.add(KnownEnd, n.Fate().Failed() || n.Fate() == survey.Intact && n.LastIntact() >= 25)
	}
	return t
}

// seenTwice tells whether a second person looked at the nest on their own.
func seenTwice(n *survey.Nest) bool {
	return slices.ContainsFunc(n.Visits, func(v survey.Visit) bool { return v.Second != "" })
}

// concurrently does work for 0 to n−1 on all processors. What panics in one of them panics here.
func concurrently(n int, work func(i int)) {
	var group sync.WaitGroup
	jobs := make(chan int)
	faults := make(chan any, n)
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for i := range jobs {
				func() {
					defer func() {
						if r := recover(); r != nil {
							faults <- r
						}
					}()
					work(i)
				}()
			}
		})
	}
	for i := range n {
		jobs <- i
	}
	close(jobs)
	group.Wait()
	select {
	case r := <-faults:
		panic(r)
	default:
	}
}
