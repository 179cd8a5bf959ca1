// Package account is how people come in: invitations by link, sign-in by e-mail and password, sessions.
//
// There is no way to sign up: a person comes by an invitation from the cooperative's coordinator. What a sign-in says
// when it fails is always the same, and takes as long, whether there is such an account or not.
package account

import (
	"context"
	"strings"
	"time"
	"unicode/utf8"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// The usual lengths of a session. Members come a few times a season, by phone: a fortnight without a visit, a season
// at most.
const (
	usualIdle = 14 * 24 * time.Hour
	usualMax  = 90 * 24 * time.Hour
)

// The limits of a password: long rather than contrived, as OWASP ASVS 5.0 asks (6.2.1, 6.2.5, 6.2.9). The upper one
// bounds the work of hashing.
const (
	passwordMin = 10  // characters
	passwordMax = 256 // bytes
)

// Options are the settings of a Service; the zero value is the usual service.
type Options struct {
	Now  func() time.Time // the clock of the throttle; nil is time.Now
	Idle time.Duration    // a session unused for so long ends; 0 is 14 days
	Max  time.Duration    // and ends at all after; 0 is 90 days
	// Wait holds a sign-in back; nil waits for that long or until ctx is done.
	Wait func(ctx context.Context, d time.Duration) error
}

// A Service lets people in.
type Service struct {
	db        *postgres.DB
	idle, max time.Duration
	hasher    *hasher
	throttle  *throttle
	wait      func(context.Context, time.Duration) error
}

// New returns a service over the store.
func New(db *postgres.DB, opt Options) *Service {
	s := &Service{db: db, idle: opt.Idle, max: opt.Max, hasher: newHasher(), throttle: newThrottle(opt.Now), wait: opt.Wait}
	if s.idle == 0 {
		s.idle = usualIdle
	}
	if s.max == 0 {
		s.max = usualMax
	}
	if s.wait == nil {
		s.wait = wait
	}
	return s
}

func wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// MaxAge is how long a session can last at all, for the cookie.
func (s *Service) MaxAge() time.Duration { return s.max }

var errNoMatch = errs.New(errs.Unauthenticated, "That e-mail address and password do not go together. Check both, or ask your coordinator for a new invitation.")

// SignIn opens a session and returns its token, for a cookie. ip and agent are the browser's, for the throttle and the
// member's own list. errs.Unauthenticated where address and password do not go together.
func (s *Service) SignIn(ctx context.Context, email, password, ip, agent string) (token string, err error) {
	email = strings.ToLower(strings.TrimSpace(email))
	if err := s.wait(ctx, s.throttle.delay(email, ip)); err != nil {
		return "", errs.Hide(errs.Unavailable, "That took too long. Please try again.", err)
	}
	accounts, err := s.db.Credentials(ctx, email)
	if err != nil {
		return "", err
	}
	c, rehash, err := s.match(ctx, accounts, password)
	if err != nil {
		return "", err
	}
	if c.Person == "" {
		s.throttle.failed(email, ip)
		return "", errNoMatch
	}
	s.throttle.succeeded(email, ip)
	if token, err = s.open(ctx, c, agent); err != nil || !rehash {
		return token, err
	}
	// The parameters have risen since the password was set, and only now is it at hand.
	actor := access.Actor{Session: token, Coop: c.Coop, Person: c.Person}
	return token, s.setPassword(ctx, actor, password, func(*postgres.Tx) error { return nil })
}

// match returns the account that the password opens, or none. Someone in several cooperatives under one address comes
// in to the first whose password it is. Where there is no account, as much work is done.
func (s *Service) match(ctx context.Context, accounts []postgres.Credentials, password string) (found postgres.Credentials, rehash bool, err error) {
	if len(accounts) == 0 || len(password) > passwordMax {
		return found, false, s.hasher.waste(ctx)
	}
	for _, c := range accounts[:min(len(accounts), 5)] {
		ok, old, err := s.hasher.check(ctx, password, c.Hash)
		if err != nil {
			return found, false, err
		}
		if ok {
			return c, old, nil
		}
	}
	return found, false, nil
}

func (s *Service) open(ctx context.Context, c postgres.Credentials, agent string) (string, error) {
	token := postgres.NewToken()
	err := s.db.OpenSession(ctx, postgres.NewSession{Coop: c.Coop, Person: c.Person, Token: token, Idle: s.idle, Max: s.max, Agent: agent})
	if err != nil {
		return "", err
	}
	return token, nil
}

// Actor returns who the token belongs to: errs.Unauthenticated where nobody.
func (s *Service) Actor(ctx context.Context, token string) (access.Actor, error) {
	return s.db.ActorOf(ctx, token)
}

// SignOut ends the session.
func (s *Service) SignOut(ctx context.Context, token string) error {
	return s.db.CloseSession(ctx, token)
}

// SignOutEverywhere ends all sessions of the actor, this one too.
func (s *Service) SignOutEverywhere(ctx context.Context, actor access.Actor) error {
	return s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.EndSessions(false) })
}

// Invitation returns what the link offers: errs.NotFound where it is no link of ours.
func (s *Service) Invitation(ctx context.Context, token string) (postgres.Invitation, error) {
	return s.db.Invitation(ctx, token)
}

// An Acceptance is the form behind an invitation's link.
type Acceptance struct {
	Name     string
	Email    string // used where the invitation names none
	Phone    string
	Password string // 10 characters or more, 256 bytes at most
}

// Accept makes the account, signs in and returns the session's token. errs.Invalid, with what to do, where the form
// is not right; errs.NotFound where the link is not open any more; errs.Conflict where the address signs in already.
func (s *Service) Accept(ctx context.Context, token string, a Acceptance, agent string) (session string, err error) {
	inv, err := s.db.Invitation(ctx, token)
	if err != nil {
		return "", err
	}
	if inv.State != "open" {
		return "", errs.New(errs.NotFound, "This invitation is not open any more. Ask the coordinator for a new one.")
	}
	a.Name, a.Email = strings.TrimSpace(a.Name), strings.ToLower(strings.TrimSpace(a.Email))
	switch {
	case a.Name == "":
		return "", errs.New(errs.Invalid, "Write your name.")
	case inv.Email == "" && !postgres.IsEmail(a.Email):
		return "", errs.New(errs.Invalid, "Write your e-mail address: you will sign in with it.")
	}
	if err := checkPassword(a.Password); err != nil {
		return "", err
	}
	hash, err := s.hasher.hash(ctx, a.Password)
	if err != nil {
		return "", err
	}
	c, err := s.db.AcceptInvitation(ctx, token, postgres.Acceptance{Name: a.Name, Email: a.Email, Phone: strings.TrimSpace(a.Phone), Hash: hash})
	if err != nil {
		return "", err
	}
	return s.open(ctx, c, agent)
}

// ChangePassword sets a new password and ends all sessions but the actor's own. errs.Invalid where the old one is
// wrong or the new one too short.
func (s *Service) ChangePassword(ctx context.Context, actor access.Actor, old, new string) error {
	if err := checkPassword(new); err != nil {
		return err
	}
	var me postgres.Member
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) (err error) {
		me, err = tx.Me()
		return err
	})
	if err != nil {
		return err
	}
	if err := s.wait(ctx, s.throttle.delay(me.Email, string(actor.Person))); err != nil {
		return errs.Hide(errs.Unavailable, "That took too long. Please try again.", err)
	}
	accounts, err := s.db.Credentials(ctx, me.Email)
	if err != nil {
		return err
	}
	var mine []postgres.Credentials
	for _, c := range accounts {
		if c.Person == actor.Person {
			mine = append(mine, c)
		}
	}
	c, _, err := s.match(ctx, mine, old)
	if err != nil {
		return err
	}
	if c.Person == "" {
		s.throttle.failed(me.Email, string(actor.Person))
		return errs.New(errs.Invalid, "That is not your present password.")
	}
	return s.setPassword(ctx, actor, new, func(tx *postgres.Tx) error { return tx.EndSessions(true) })
}

// setPassword stores the password's hash and does what goes with it, or neither.
func (s *Service) setPassword(ctx context.Context, actor access.Actor, password string, then func(*postgres.Tx) error) error {
	hash, err := s.hasher.hash(ctx, password)
	if err != nil {
		return err
	}
	return s.db.As(ctx, actor, func(tx *postgres.Tx) error {
		if err := tx.SetPasswordHash(hash); err != nil {
			return err
		}
		return then(tx)
	})
}

func checkPassword(password string) error {
	switch {
	case utf8.RuneCountInString(password) < passwordMin:
		return errs.New(errs.Invalid, "Choose a password of 10 characters or more. A few words together are good and easy to keep in mind.")
	case len(password) > passwordMax:
		return errs.New(errs.Invalid, "That password is too long. 256 characters are the most.")
	}
	return nil
}
