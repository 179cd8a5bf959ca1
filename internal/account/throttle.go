package account

import (
	"context"
	"net/netip"
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

// placeOf is where an address is. Who has one of IPv6 has all of its last 64 bits (RFC 4291, 2.5.4; RFC 8981) and could be
// somewhere else with each try.
func placeOf(ip string) string {
	a, err := netip.ParseAddr(ip)
	if err != nil {
		return ip
	}
	if a = a.Unmap(); a.Is4() {
		return a.String()
	}
	net, _ := a.WithZone("").Prefix(64) // fails for no length that there is
	return net.String()
}

// lanes are what a try counts under. device is "" for one that is not known.
func lanes(email, ip, device string) []postgres.Lane {
	place := placeOf(ip)
	if device != "" {
		return []postgres.Lane{{Name: "device " + device + " " + email, Free: freeTries, Lines: true}}
	}
	return []postgres.Lane{{Name: "both " + place + " " + email, Free: freeTries, Lines: true},
		{Name: "email " + email, Free: sharedTries}, {Name: "place " + place, Free: sharedTries}}
}

// delay is how long to wait before a try is looked at; not ok where too many wait already.
func (t throttle) delay(ctx context.Context, email, ip, device string) (d time.Duration, ok bool, err error) {
	return t.db.ThrottleWait(ctx, lanes(email, ip, device), t.now())
}

func (t throttle) failed(ctx context.Context, email, ip, device string) error {
	return t.db.ThrottleFailed(ctx, lanes(email, ip, device), t.now())
}

// succeeded forgives the member's own slips.
func (t throttle) succeeded(ctx context.Context, email, ip, device string) error {
	return t.db.ThrottleForgive(ctx, lanes(email, ip, device)[0])
}

// take takes one of what a name may have, and tells whether there was one.
func (t throttle) take(ctx context.Context, name string, p postgres.Pace) (ok bool, err error) {
	wait, err := t.db.ThrottleTake(ctx, name, p, t.now())
	return wait == 0, err
}
