package account

import (
	"context"
	"time"

	"tussock/internal/postgres"
)

// A throttle slows guessing down without ever locking a member out: each failure makes the next try from the same
// place for the same address wait longer, up to a few seconds (throttle_wait has the lengths). Guesses at one address
// from many places, and at many addresses from one place, wait too, but never longer than that. A device that the member
// signed in with before is slowed by its own failures alone, so that nobody can make the member wait by guessing
// elsewhere. A quarter of an hour without a failure forgives everything.
//
// It is kept in the database, so that all servers know of one another's failures.
type throttle struct {
	db  *postgres.DB
	now func() time.Time
}

const freeTries = 3 // a slip or two

// Failures that count across addresses or places count this much less: a ranch office shares one address.
const sharedTries = 30

// lanes are what a try counts under. device is "" for one that is not known.
func lanes(email, place, device string) []postgres.Lane {
	if device != "" {
		return []postgres.Lane{{Name: "device " + device + " " + email, Free: freeTries, Lines: true}}
	}
	return []postgres.Lane{{Name: "both " + place + " " + email, Free: freeTries, Lines: true},
		{Name: "email " + email, Free: sharedTries}, {Name: "place " + place, Free: sharedTries}}
}

// delay is how long to wait before a try is looked at; not ok where too many wait already.
func (t throttle) delay(ctx context.Context, email, place, device string) (d time.Duration, ok bool, err error) {
	return t.db.ThrottleWait(ctx, lanes(email, place, device), t.now())
}

func (t throttle) failed(ctx context.Context, email, place, device string) error {
	return t.db.ThrottleFailed(ctx, lanes(email, place, device), t.now())
}

// succeeded forgives the member's own slips.
func (t throttle) succeeded(ctx context.Context, email, place, device string) error {
	return t.db.ThrottleForgive(ctx, lanes(email, place, device)[0])
}

// spend counts towards a limit and tells whether it was not reached before.
func (t throttle) spend(ctx context.Context, name string, most int) (ok bool, err error) {
	return t.db.ThrottleSpend(ctx, name, most, t.now())
}
