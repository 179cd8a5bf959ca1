// Package account is how people come in: invitations by link, sign-in by e-mail and password, sessions.
package account

import (
	"context"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// Options are the settings of a Service; the zero value is the usual service.
type Options struct {
	Now  func() time.Time // the clock of the throttle; nil is time.Now
	Idle time.Duration    // a session unused for so long ends; 0 is 14 days
	Max  time.Duration    // and ends at all after; 0 is 90 days
}

// A Service lets people in.
type Service struct{ db *postgres.DB }

var errSoon = errs.New(errs.Unavailable, "Not built yet.")

// New returns a service over the store.
func New(db *postgres.DB, opt Options) *Service { return &Service{db: db} }

// SignIn opens a session and returns its token, for a cookie.
func (s *Service) SignIn(ctx context.Context, email, password, ip, agent string) (token string, err error) {
	return "", errSoon
}

// Actor returns who the token belongs to: errs.Unauthenticated where nobody.
func (s *Service) Actor(ctx context.Context, token string) (access.Actor, error) {
	return access.Actor{}, errSoon
}

// SignOut ends the session.
func (s *Service) SignOut(ctx context.Context, token string) error { return errSoon }

// SignOutEverywhere ends all sessions of the actor.
func (s *Service) SignOutEverywhere(ctx context.Context, actor access.Actor) error { return errSoon }

// Invitation returns what the link offers.
func (s *Service) Invitation(ctx context.Context, token string) (postgres.Invitation, error) {
	return postgres.Invitation{}, errSoon
}

// An Acceptance is the form behind an invitation's link.
type Acceptance struct {
	Name     string
	Email    string // used where the invitation names none
	Phone    string
	Password string // 10 characters or more, 256 bytes at most
}

// Accept makes the account, signs in and returns the session's token.
func (s *Service) Accept(ctx context.Context, token string, a Acceptance, agent string) (session string, err error) {
	return "", errSoon
}

// ChangePassword sets a new password, ends all sessions but the actor's own.
func (s *Service) ChangePassword(ctx context.Context, actor access.Actor, old, new string) error {
	return errSoon
}

// MaxAge is how long a session can last at all, for the cookie.
func (s *Service) MaxAge() time.Duration { return 90 * 24 * time.Hour }
