package bulletin_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// likeInput makes a cooperative in which nearly every nest lasts, or hardly any.
func likeInput(seed uint64) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 78))
	kept := 0.93
	if seed%2 == 1 {
		kept = 0.08
	}
	var hs []holding
	for i := range 10 + r.IntN(12) {
		hs = append(hs, holding{owner: fmt.Sprint("owner ", i), area: fmt.Sprint("area ", i%2), consent: 1, nests: 30 + r.IntN(20),
			kept: kept, clumps: 20 + r.IntN(20)})
	}
	return input(2025, seed, grassAndPear, hs...)
}

// hunted gives animals territories: each has a few owners' nests, and one of them more often than the others.
func hunted(in bulletin.Input, seed uint64) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 79))
	owner, owners := map[string]string{}, map[string]bool{}
	for _, m := range in.Roster {
		owner[m.Ranch] = m.Entity
		owners[m.Entity] = true
	}
	animals := predator.Predators()
	r.Shuffle(len(animals), func(i, j int) { animals[i], animals[j] = animals[j], animals[i] })
	animals = animals[:4+r.IntN(3)]
	hunts := map[string]map[string]int{} // how many of an owner's nests an animal has its eye on
	for i, a := range animals {
		list := namesIn(owners)
		r.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		for k, o := range list[:min(len(list), 3+r.IntN(5))] {
			if hunts[o] == nil {
				hunts[o] = map[string]int{}
			}
			hunts[o][a] = 4 + r.IntN(8)
			if k == 0 {
				hunts[o][a] *= 1 + i%3
			}
		}
	}
	d := *in.Data
	d.Nests = slices.Clone(d.Nests)
	for i := range d.Nests {
		n := &d.Nests[i]
		if n.Camera == "" {
			continue
		}
		n.Camera = survey.Predator(animals[0])
		for _, a := range animals {
			if o := owner[n.Ranch]; hunts[o][a] > 0 {
				hunts[o][a]--
				n.Camera = survey.Predator(a)
				break
			}
		}
	}
	in.Data = &d
	return in
}

// alone makes one season of a cooperative; in every third nearly all do well, or badly: the hardest to protect.
func alone(p disclosure.Policy, seed uint64) ([]*release, error) {
	in := randomInput(1000 + seed)
	if seed%3 == 0 {
		in = likeInput(seed / 3)
	}
	in = hunted(in, seed)
	b, err := bulletin.ComposeUnder(p, in)
	return []*release{released(b, in)}, err
}

// large is the number of the largest ranch of a history.
const large = 2

// history makes two seasons of a cooperative, and of the second both editions where the policy allows a final one. Between the
// seasons one owner comes, one leaves and one moves.
func history(p disclosure.Policy, seed uint64) (rs []*release, err error) {
	r := rand.New(rand.NewPCG(seed, 80))
	areas := 1 + r.IntN(3)/2
	var hs []holding
	for i := range 8 + r.IntN(14) {
		hs = append(hs, holding{owner: fmt.Sprint("owner ", i), area: fmt.Sprint("area ", r.IntN(areas)), consent: 1,
			nests: 10 + r.IntN(30), kept: 0.15 + 0.7*r.Float64(), clumps: r.IntN(60)})
	}
	hs[large].nests, hs[large].kept = 70, 0.3
	substrates := grassAndPear[:1+r.IntN(2)]
	in := input(2024, seed, substrates, hs...)
	if seed%4 == 1 {
		in = widely(in)
	}
	one, err := bulletin.ComposeUnder(p, in)
	if err != nil {
		return nil, err
	}
	rs = append(rs, released(one, in))

	next := slices.Clone(hs)
	next[0].area = fmt.Sprint("area ", r.IntN(areas))
	next[1].consent = r.IntN(2)
	next = append(next, holding{owner: "newcomer", area: "area 0", consent: 1, nests: 20, kept: r.Float64(), clumps: 200})
	whole := input(2025, seed, substrates, next...)
	if seed%4 == 1 {
		whole = widely(whole)
	}
	whole.Data.Nests = append(whole.Data.Nests, in.Data.Nests...)
	whole.Data.Belts = append(whole.Data.Belts, in.Data.Belts...)
	whole.Earlier = []bulletin.Bulletin{one}
	first, final := late(r, whole, seed)
	two, err := bulletin.ComposeUnder(p, first)
	if err != nil {
		return nil, err
	}
	rs = append(rs, released(two, first))
	final.Earlier, final.Final = []bulletin.Bulletin{one, two}, true
	three, err := bulletin.ComposeUnder(p, final)
	if errors.Is(err, errs.Conflict) {
		return rs, nil
	}
	if err != nil {
		return nil, err
	}
	rs = append(rs, released(three, final))
	rs[2].first = rs[1]
	return rs, nil
}

// widely makes three ranches' belts so long that nearly all clumps are theirs.
func widely(in bulletin.Input) bulletin.Input {
	for i := range in.Data.Belts[:3] {
		b := &in.Data.Belts[i]
		b.LengthFt *= 60
		for plant := range b.Counts {
			b.Counts[plant] = 60 * 25
		}
	}
	return in
}

// late tells a season's sheets apart into those of the first edition and those of the final one: some owners change what
// became of a few nests, or send nests late; or, the hardest to protect, all their nests, of which the same became.
func late(r *rand.Rand, in bulletin.Input, seed uint64) (first, final bulletin.Input) {
	edit := func(in bulletin.Input, do func(n *survey.Nest) bool) bulletin.Input {
		d := *in.Data
		d.Nests = nil
		for _, n := range in.Data.Nests {
			if n.Season != in.Season || do(&n) {
				d.Nests = append(d.Nests, n)
			}
		}
		in.Data = &d
		return in
	}
	who := map[string]int{} // the nests by ranch that change
	for _, k := range r.Perm(len(in.Roster))[:4+r.IntN(len(in.Roster)-3)] {
		who[in.Roster[k].Ranch] = 4 + r.IntN(8)
	}
	if seed%3 == 0 { // five, of whom the largest has most of the change
		clear(who)
		for _, k := range append(r.Perm(len(in.Roster))[:4], large) {
			who[in.Roster[k].Ranch] = 3
		}
		who[in.Roster[large].Ranch] = 40
	}
	set := func(n *survey.Nest, s survey.State) {
		n.Camera = ""
		n.Visits = []survey.Visit{n.Visits[0], {On: n.SetOn + 28, State: s}}
		n.Visits[0].State = survey.Intact
		n.Visits[0].On = n.SetOn + 14
	}
	before, after := func(*survey.Nest) bool { return true }, func(*survey.Nest) bool { return true }
	fate := []survey.State{survey.Intact, survey.Taken}[r.IntN(2)]
	switch seed % 5 {
	case 0, 1: // lost after all
		left := who
		before = func(n *survey.Nest) bool {
			if n.Fate() == survey.Taken && left[n.Ranch] > 0 {
				left[n.Ranch]--
				set(n, survey.Intact)
			}
			return true
		}
	case 2: // sent late
		left := who
		before = func(n *survey.Nest) bool {
			left[n.Ranch]--
			return left[n.Ranch] < 0
		}
	case 3: // all of them sent late, and alike
		before = func(n *survey.Nest) bool { return who[n.Ranch] == 0 }
		after = func(n *survey.Nest) bool {
			if who[n.Ranch] > 0 {
				set(n, fate)
			}
			return true
		}
	case 4: // all of them something else
		before = func(n *survey.Nest) bool {
			if who[n.Ranch] > 0 {
				set(n, survey.Intact)
			}
			return true
		}
		after = func(n *survey.Nest) bool {
			if who[n.Ranch] > 0 {
				set(n, survey.Taken)
			}
			return true
		}
	}
	return edit(in, before), edit(in, after)
}

// TestLinearProgrammingAttack: no coalition of two proves a survival rate of anybody to less than 30 points, be it told by one
// bulletin, by two editions of one or by those of several seasons; nor to less than half above the truth what changed of
// anybody's losses between two editions, anybody's cover in a season or anybody's losses to an animal; nor a newcomer's cover to
// less than a range of half of it.
func TestLinearProgrammingAttack(t *testing.T) {
	runs, targets := uint64(24), 3
	if *long {
		runs, targets = 150, 12
	}
	found, finals := newReport(), 0
	var one sync.Mutex
	t.Run("all", func(t *testing.T) { // ends when its parallel parts have
		for part := range uint64(4) {
			t.Run(fmt.Sprint(part), func(t *testing.T) {
				t.Parallel()
				for seed := part; seed < runs; seed += 4 {
					for _, make := range []func(disclosure.Policy, uint64) ([]*release, error){alone, history} {
						rs, err := make(disclosure.Default(), seed)
						if err != nil {
							t.Fatal(err)
						}
						got := prove(disclosure.Default(), rs, seed, targets)
						if nearer := got.nearer(namesIn(got.nearest)...); nearer != "" || got.wrong > 0 {
							t.Errorf("seed %d, %d bulletins: %d wrong; nearer than the policy allows: %s", seed, len(rs), got.wrong, nearer)
						}
						one.Lock()
						found.add(got)
						finals += len(rs) / 3
						one.Unlock()
					}
				}
			})
		}
	})
	t.Logf("%d cooperatives, %d final editions\n%v", 2*runs, finals, found)
	for _, kind := range []string{ofRates, ofChanges, ofCover, ofNewcomers, ofMix} {
		if found.asked[kind] == 0 {
			t.Errorf("no %s were attacked", kind)
		}
	}
	if found.failed > found.solved/50 {
		t.Errorf("%d of %d programs had no solution", found.failed, found.solved)
	}
}

// TestLinearProgrammingNeedsEachRule: with a rule off, the same attacker comes nearer in the same cooperatives.
func TestLinearProgrammingNeedsEachRule(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		rule, kind string
		off        func(*disclosure.Policy)
		make       func(disclosure.Policy, uint64) ([]*release, error)
	}{
		{"interval audit", ofRates, func(p *disclosure.Policy) { p.MinRange = 0 }, alone},
		{"interval audit of two editions", ofRates, func(p *disclosure.Policy) { p.Revisions = false }, history},
		{"p% of who changed", ofChanges, func(p *disclosure.Policy) { p.Revisions = false }, history},
		{"p% of cover", ofCover, func(p *disclosure.Policy) { p.Remainder, p.Dominance = 0, nil }, history},
		{"roster and span audit", ofNewcomers, func(p *disclosure.Policy) { p.RosterSeasons, p.SpanAudit = 0, false }, history},
		{"p% of an animal", ofMix, func(p *disclosure.Policy) { p.Remainder = 0 }, alone},
	} {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			p := disclosure.Default()
			tt.off(&p)
			for seed := range uint64(24) {
				rs, err := tt.make(p, seed)
				if err != nil {
					t.Fatal(err)
				}
				if found := prove(p, rs, seed, 3).nearer(tt.kind); found != "" {
					t.Logf("seed %d: %s", seed, found)
					return
				}
			}
			t.Error("nothing found: the attacker is too weak to prove anything")
		})
	}
}

// attackAlike attacks cooperatives in which most do alike.
func attackAlike(p disclosure.Policy) string {
	for seed := range uint64(8) {
		in := likeInput(seed)
		b, err := bulletin.ComposeUnder(p, in)
		if err != nil {
			return err.Error()
		}
		if found := prove(p, []*release{released(b, in)}, seed, 3).nearer(ofRates); found != "" {
			return found
		}
	}
	return ""
}
