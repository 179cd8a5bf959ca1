package pages

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// How fast one member may take files and one token may ask: far more than anybody's work needs, and too little to copy
// a cooperative out by a program unnoticed. (OWASP ASVS 5.0, 2.4.1)
const (
	takesBurst = 60               // at once
	takesEvery = 2 * time.Second  // and then one more each
	asksBurst  = 300              // of one token
	asksEvery  = time.Second / 5  //
	paceKeys   = 10_000           // kept in mind at most
	paceForget = 10 * time.Minute // by when any burst is whole again
)

// A pace counts for each key what is left of its burst.
type pace struct {
	burst float64
	every time.Duration
	now   func() time.Time

	mu   sync.Mutex
	left map[[sha256.Size]byte]left
}

type left struct {
	n  float64
	at time.Time
}

func newPace(burst int, every time.Duration, now func() time.Time) *pace {
	return &pace{burst: float64(burst), every: every, now: now, left: map[[sha256.Size]byte]left{}}
}

// take uses one up, or tells how long until there is one. The key may be a secret: it is not kept.
func (p *pace) take(key string) (wait time.Duration) {
	k, now := sha256.Sum256([]byte(key)), p.now()
	p.mu.Lock()
	defer p.mu.Unlock()
	l, seen := p.left[k]
	if !seen {
		if len(p.left) >= paceKeys {
			p.forget(now)
		}
		l = left{p.burst, now}
	}
	l.n = min(p.burst, l.n+float64(now.Sub(l.at))/float64(p.every))
	l.at = now
	if l.n < 1 {
		wait = time.Duration((1 - l.n) * float64(p.every))
	} else {
		l.n--
	}
	p.left[k] = l
	return wait
}

// forget drops keys that were not used for long, or all where that leaves no room.
func (p *pace) forget(now time.Time) {
	for k, l := range p.left {
		if now.Sub(l.at) > paceForget {
			delete(p.left, k)
		}
	}
	if len(p.left) >= paceKeys {
		clear(p.left)
	}
}

// slowly answers errs.TooMany, and when to come again, where key has used its burst up.
func slowly(c *fiber.Ctx, p *pace, key string) error {
	wait := p.take(key)
	if wait == 0 {
		return nil
	}
	seconds := int(wait/time.Second) + 1
	c.Set(fiber.HeaderRetryAfter, fmt.Sprint(seconds))
	return errs.Tell(errs.TooMany, words.LaterCount("That was a lot at once. Nothing is wrong with it: wait %d second and go on.", "That was a lot at once. Nothing is wrong with it: wait %d seconds and go on.", seconds), nil)
}

// handsOut tells whether a path is that of a file to keep: the last part has an ending, or stands for one.
func handsOut(path string) bool {
	last := path[strings.LastIndexByte(path, '/')+1:]
	return strings.Contains(last, ".") || last == ":file" || last == "file"
}

// keepsPace holds back who takes files faster than anybody could look at them.
func (s *server) keepsPace(c *fiber.Ctx, r route, a access.Actor) error {
	if r.method != fiber.MethodGet || !handsOut(r.path) {
		return nil
	}
	who := string(a.Coop + a.Person)
	if strings.Contains(r.path, ":token") {
		who = c.Path() // whoever has the link
	}
	if who == "" {
		return nil // the same for everybody, and nobody's
	}
	return slowly(c, s.takes, who)
}
