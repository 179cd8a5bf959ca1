package postgres

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// Credentials are what sign-in needs to check a password, and nothing else.
type Credentials struct {
	Coop, Person access.ID
	Cooperative  string
	Hash         string // argon2id, in PHC form
	// A suspension: until when (zero where two coordinators said yes to it), and the names of those who can end it.
	Suspended    bool
	Until        time.Time
	Coordinators []string
}

// A NewSession is a session about to be opened.
type NewSession struct {
	Coop, Person access.ID
	Idle, Max    time.Duration // how long it lasts unused, and at all
	Agent        string        // what the browser calls itself, for the member's own list
}

// An Acceptance is what somebody invited fills in.
type Acceptance struct {
	Name  string
	Email string // used where the invitation names none
	Phone string
	Hash  string // of the password, argon2id in PHC form
}

// Credentials returns the accounts of an e-mail address, one a cooperative, those that are suspended last; none where nobody has it. For
// package account alone.
func (db *DB) Credentials(ctx context.Context, email string) ([]Credentials, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT coop_id, person_id, coop_name, password_hash, suspended, until, coalesce(to_jsonb(coordinators), '[]') FROM tussock.credentials($1)", strings.TrimSpace(email))
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []Credentials
	for rows.Next() {
		var c Credentials
		var until sql.NullTime
		var names []byte
		if err := rows.Scan(&c.Coop, &c.Person, &c.Cooperative, &c.Hash, &c.Suspended, &until, &names); err != nil {
			return nil, translate(err)
		}
		c.Until = until.Time
		if err := json.Unmarshal(names, &c.Coordinators); err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, translate(rows.Err())
}

// OpenSession opens a session for somebody whose password was checked and returns its secret, of which only a hash is kept.
// For package account alone. errs.Unauthenticated where they have left.
func (db *DB) OpenSession(ctx context.Context, s NewSession) (secret string, err error) {
	var made sql.NullString
	err = db.door.QueryRowContext(ctx, "SELECT tussock.open_session($1, $2, make_interval(secs => $3), make_interval(secs => $4), $5)",
		s.Coop, s.Person, s.Idle.Seconds(), s.Max.Seconds(), strings.ToValidUTF8(s.Agent, "")).Scan(&made)
	if err == nil && !made.Valid {
		return "", errs.New(errs.Unauthenticated, words.Mark("Please sign in."))
	}
	return made.String, translate(err)
}

// ActorOf returns who a session's token belongs to: errs.Unauthenticated where it is nobody's, has ended or its
// member has left.
func (db *DB) ActorOf(ctx context.Context, token string) (access.Actor, error) {
	var r struct {
		CoopID, PersonID access.ID
		Name             string
		Role             access.Role
		Ranches          string
		Known            int
	}
	err := db.As(ctx, access.Actor{Session: token}, func(tx *Tx) error {
		ok, err := tx.row(&r, "SELECT coop_id, person_id, name, role, to_jsonb(ranches) AS ranches, known FROM tussock.whoami()", nil)
		if err == nil && !ok {
			err = errs.New(errs.Unauthenticated, words.Mark("Please sign in."))
		}
		return err
	})
	if err != nil {
		return access.Actor{}, err
	}
	a := access.Actor{Session: token, Coop: r.CoopID, Person: r.PersonID, Name: r.Name, Role: r.Role, Known: r.Known}
	return a, json.Unmarshal([]byte(r.Ranches), &a.Ranches)
}

// CloseSession ends a session. Ending one that has ended, or that never was, changes nothing.
func (db *DB) CloseSession(ctx context.Context, token string) error {
	if !isToken(token) {
		return nil
	}
	return db.As(ctx, access.Actor{Session: token}, func(tx *Tx) error {
		_, err := tx.exec("SELECT tussock.close_session()", nil)
		return err
	})
}

// Invitation returns what a link offers, to whoever has it: errs.NotFound where there is no such link. An invitation
// that is no longer open says so in its state.
func (db *DB) Invitation(ctx context.Context, token string) (Invitation, error) {
	if !isToken(token) {
		return Invitation{}, errNoInvitation
	}
	var r invitationRow
	err := db.door.QueryRowContext(ctx, `SELECT id, coop_name, role, name, email, to_jsonb(ranch_names), inviter, created_at, expires_at, state
		FROM tussock.invitation_of($1)`, hashOf(token)).
		Scan(&r.ID, &r.CoopName, &r.Role, &r.Name, &r.Email, &r.RanchNames, &r.Inviter, &r.CreatedAt, &r.ExpiresAt, &r.State)
	if errors.Is(err, sql.ErrNoRows) {
		return Invitation{}, errNoInvitation
	}
	if err != nil {
		return Invitation{}, translate(err)
	}
	return r.invitation()
}

// AcceptInvitation uses a link up and makes the person with their account and ranches. errs.NotFound where the link is
// not open, errs.Conflict where the address signs in already, or where an owner's name is like somebody's on the list and none that the ranch
// stands under.
func (db *DB) AcceptInvitation(ctx context.Context, token string, a Acceptance) (Credentials, error) {
	if !isToken(token) {
		return Credentials{}, errNoInvitation
	}
	c := Credentials{Hash: a.Hash}
	err := db.door.QueryRowContext(ctx, "SELECT coop_id, person_id, coop_name FROM tussock.accept_invitation($1, $2, $3, $4, $5)",
		hashOf(token), a.Name, a.Email, a.Phone, a.Hash).Scan(&c.Coop, &c.Person, &c.Cooperative)
	if errors.Is(err, sql.ErrNoRows) {
		return Credentials{}, errs.New(errs.NotFound, "This invitation is not open any more. Ask the coordinator for a new one.")
	}
	return c, translate(err)
}

// JoinedRanches lists what the ranches are called into whose cooperative an open invitation leads. For package account alone.
func (db *DB) JoinedRanches(ctx context.Context, token string) (list []string, err error) {
	rows, err := db.door.QueryContext(ctx, "SELECT r FROM tussock.ranches_joined($1) r", hashOf(token))
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, translate(err)
		}
		list = append(list, name)
	}
	return list, translate(rows.Err())
}

// AddressTaken notes that an invitation was tried with an address that signs in already, or somebody's name, and tells whether that ended its link: the third time
// does. For package account alone.
func (db *DB) AddressTaken(ctx context.Context, token string) (ended bool, err error) {
	err = db.door.QueryRowContext(ctx, "SELECT tussock.address_taken($1)", hashOf(token)).Scan(&ended)
	return ended, translate(err)
}

// A Lane is what a try at the door counts under. Tries at once under one that lines up wait for each other.
type Lane struct {
	Name  string // kept as a hash
	Free  int    // failures that cost nothing
	Lines bool
}

func lanes(list []Lane) (names [][]byte, free []int32, lines []bool) {
	for _, l := range list {
		names, free, lines = append(names, hashOf(l.Name)), append(free, int32(l.Free)), append(lines, l.Lines)
	}
	return names, free, lines
}

// ThrottleWait is how long a try waits before it is looked at; not ok where too many wait already. For package account
// alone, like the next two.
func (db *DB) ThrottleWait(ctx context.Context, list []Lane, at time.Time) (wait time.Duration, ok bool, err error) {
	names, free, lines := lanes(list)
	var seconds sql.NullFloat64
	err = db.door.QueryRowContext(ctx, "SELECT tussock.throttle_wait($1, $2, $3, $4)", names, free, lines, at).Scan(&seconds)
	return time.Duration(seconds.Float64 * float64(time.Second)), seconds.Valid, translate(err)
}

// ThrottleFailed counts a failure in each lane.
func (db *DB) ThrottleFailed(ctx context.Context, list []Lane, at time.Time) error {
	names, _, _ := lanes(list)
	_, err := db.door.ExecContext(ctx, "SELECT tussock.throttle_failed($1, $2)", names, at)
	return translate(err)
}

// ThrottleForgive forgets the failures of a lane.
func (db *DB) ThrottleForgive(ctx context.Context, l Lane) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.throttle_forgive($1)", hashOf(l.Name))
	return translate(err)
}

// A Pace is how fast something may be had: Most at once, then one more each Every. All of it must be back within a quarter
// of an hour.
type Pace struct {
	Most  int
	Every time.Duration
}

// ThrottleTake takes one of what a name may have, on whichever server, or tells how long until there is one.
func (db *DB) ThrottleTake(ctx context.Context, name string, p Pace, at time.Time) (wait time.Duration, err error) {
	var seconds float64
	err = db.door.QueryRowContext(ctx, "SELECT tussock.throttle_take($1, $2, make_interval(secs => $3), $4)", hashOf(name), p.Most, p.Every.Seconds(), at).Scan(&seconds)
	return time.Duration(seconds * float64(time.Second)), translate(err)
}
