package account

import (
	"sync"
	"time"
)

// A throttle slows guessing down without ever locking a member out: each failure makes the next try from the same
// place for the same address wait longer, up to a few seconds. Guesses at one address from many places, and at many
// addresses from one place, wait too, but never longer than that.
type throttle struct {
	now func() time.Time

	mu    sync.Mutex
	fails map[string]fails
}

type fails struct {
	n    int
	last time.Time
}

// The waits: nothing for a slip or two, then doubling from a quarter of a second to five seconds. A quarter of an hour
// without a failure forgives everything.
const (
	freeTries  = 3
	firstDelay = 250 * time.Millisecond
	mostDelay  = 5 * time.Second
	forget     = 15 * time.Minute
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

func keys(email, place string) [3]struct {
	key  string
	free int
} {
	return [3]struct {
		key  string
		free int
	}{{"both " + place + " " + email, freeTries}, {"email " + email, sharedTries}, {"place " + place, sharedTries}}
}

// delay is how long to wait before a try is looked at.
func (t *throttle) delay(email, place string) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	var longest time.Duration
	for _, k := range keys(email, place) {
		f, ok := t.fails[k.key]
		if !ok || f.n < k.free || t.now().Sub(f.last) > forget {
			continue
		}
		d := mostDelay
		if over := f.n - k.free; over < 5 {
			d = min(mostDelay, firstDelay<<over)
		}
		longest = max(longest, d)
	}
	return longest
}

func (t *throttle) failed(email, place string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if len(t.fails) > keysMost {
		t.sweep(now)
	}
	for _, k := range keys(email, place) {
		f := t.fails[k.key]
		if now.Sub(f.last) > forget {
			f.n = 0
		}
		t.fails[k.key] = fails{f.n + 1, now}
	}
}

// succeeded forgives the member's own slips.
func (t *throttle) succeeded(email, place string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.fails, keys(email, place)[0].key)
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
