package account

import (
	"sync"
	"time"
)

// A throttle slows guessing down without ever locking a member out: each failure makes the next try from the same
// place for the same address wait longer, up to a few seconds. Guesses at one address from many places, and at many
// addresses from one place, wait too, but never longer than that. A device that the member signed in with before is
// slowed by its own failures alone, so that nobody can make the member wait by guessing elsewhere.
type throttle struct {
	now func() time.Time

	mu    sync.Mutex
	fails map[string]fails
}

type fails struct {
	n    int
	last time.Time
	next time.Time // when the next try may be looked at: tries at once line up
}

// The waits: nothing for a slip or two, then doubling from a quarter of a second to five seconds. A quarter of an hour
// without a failure forgives everything.
const (
	freeTries  = 3
	firstDelay = 250 * time.Millisecond
	mostDelay  = 5 * time.Second
	forget     = 15 * time.Minute
	lineMost   = 12 * time.Second // who would stand in line for longer is sent away; a page has 15 s
	keysMost   = 100_000
)

// Failures that count across addresses or places count this much less: a ranch office shares one address.
const sharedTries = 30

func newThrottle(now func() time.Time) *throttle {
	if now == nil {
		now = time.Now
	}
	return &throttle{now: now, fails: map[string]fails{}}
}

type key struct {
	name string
	free int
	line bool // tries at once wait for each other
}

// keys are what a try counts under. device is "" for one that is not known.
func keys(email, place, device string) []key {
	if device != "" {
		return []key{{"device " + device + " " + email, freeTries, true}}
	}
	return []key{{"both " + place + " " + email, freeTries, true}, {"email " + email, sharedTries, false}, {"place " + place, sharedTries, false}}
}

// delay is how long to wait before a try is looked at; not ok where too many wait already.
func (t *throttle) delay(email, place, device string) (longest time.Duration, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	for _, k := range keys(email, place, device) {
		f, seen := t.fails[k.name]
		if !seen || f.n < k.free || now.Sub(f.last) > forget {
			continue
		}
		d := mostDelay
		if over := f.n - k.free; over < 5 {
			d = min(mostDelay, firstDelay<<over)
		}
		if k.line {
			if f.next.After(now) {
				d += f.next.Sub(now)
			}
			if d > lineMost {
				return 0, false
			}
			f.next = now.Add(d)
			t.fails[k.name] = f
		}
		longest = max(longest, d)
	}
	return longest, true
}

// spend counts towards a limit and tells whether it was not reached before.
func (t *throttle) spend(name string, most int) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if len(t.fails) > keysMost {
		t.sweep(now)
	}
	f := t.fails[name]
	if now.Sub(f.last) > forget {
		f.n = 0
	}
	t.fails[name] = fails{n: f.n + 1, last: now}
	return f.n < most
}

func (t *throttle) failed(email, place, device string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if len(t.fails) > keysMost {
		t.sweep(now)
	}
	for _, k := range keys(email, place, device) {
		f := t.fails[k.name]
		if now.Sub(f.last) > forget {
			f.n = 0
		}
		t.fails[k.name] = fails{f.n + 1, now, f.next}
	}
}

// succeeded forgives the member's own slips.
func (t *throttle) succeeded(email, place, device string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.fails, keys(email, place, device)[0].name)
}

// sweep forgets what is forgiven, and everything where that is not enough: a full memory would hurt more.
func (t *throttle) sweep(now time.Time) {
	for k, f := range t.fails {
		if now.Sub(f.last) > forget {
			delete(t.fails, k)
		}
	}
	if len(t.fails) > keysMost {
		clear(t.fails)
	}
}
