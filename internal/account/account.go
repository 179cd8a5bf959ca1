// Package account is how people come in and prove who they are: invitations, passwords, passkeys, one-time codes, links
// by mail, sessions.
//
// There is no way to sign up: a person comes by an invitation from the cooperative's coordinator. What a sign-in says
// when it fails is always the same, and takes as long, whether there is such an account or not.
//
// # The ways in
//
// Where emails can be sent (ASVS 6.1.3). All count under one throttle, all end in the same session.
//
//   - A passkey (with finger, face or PIN): nothing more.
//   - A password or an email's link, of a member with one-time codes: a one-time or recovery code, in every browser.
//   - A password: an emailed code, in a browser that we do not know; nothing more in one that is remembered.
//   - An email's link: the password, in a browser that we do not know; nothing more in one that is remembered.
//   - An invitation's link: the new password, once; and an emailed link to the address, where the invitation names none.
//
// A coordinator's code (twelve figures, a day, once, five tries) stands in for the second step where it is missing, never for the
// first; its member is told by email. Where nobody can make one, the person who runs the server does: tussock admit ADDRESS
// (account.TestAdmit). Emails are no proof at level 3 (6.3.6). Tokens and field links are made by somebody who has just proved who
// they are, read or send only what they were made for, and end by themselves. What matters inside asks again, by any one proof
// (fresh in the route table of package pages).
package account

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"sync"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// The usual lengths of a session. Members come a few times a season, by phone: two weeks without a visit, a season
// at most.
const (
	usualIdle = 14 * 24 * time.Hour
	usualMax  = 90 * 24 * time.Hour
)

// Options are the settings of a Service; the zero value is the usual service.
type Options struct {
	Now  func() time.Time // the clock of the throttle and of one-time codes; nil is time.Now
	Idle time.Duration    // a session unused for so long ends; 0 is 14 days
	Max  time.Duration    // and ends at all after; 0 is 90 days
	// Wait holds a sign-in back; nil waits for that long or until ctx is done.
	Wait func(ctx context.Context, d time.Duration) error
	// URL is the address that people type, without a slash at the end: links in letters begin with it, and passkeys
	// belong to its name. Without one there are neither.
	URL string
	// Mail sends letters; nil sends none.
	Mail *mail.Sender
	// Keys seal the secrets of one-time codes; without any they are kept in the open.
	Keys Keys
}

// A Service lets people in.
type Service struct {
	db        *postgres.DB
	idle, max time.Duration
	hasher    *hasher
	throttle  throttle
	keys      Keys
	wait      func(context.Context, time.Duration) error
	now       func() time.Time
	url       string
	mail      *mail.Sender
	web       *webauthn.WebAuthn
	common    func() (map[string]struct{}, error) // passwords that many people use
}

// New returns a service over the store.
func New(db *postgres.DB, opt Options) *Service {
	s := &Service{db: db, idle: opt.Idle, max: opt.Max, hasher: newHasher(), wait: opt.Wait, now: opt.Now,
		url: opt.URL, mail: opt.Mail, web: newWebAuthn(opt.URL), common: sync.OnceValues(readCommon)}
	if s.now == nil {
		s.now = time.Now
	}
	s.throttle, s.keys = throttle{db, s.now}, opt.Keys
	if s.url == "" {
		s.mail = nil // a letter could not say where to go
	}
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

var errNoMatch = errs.New(errs.Unauthenticated, words.Mark("That e-mail address and password do not go together. Check both, or ask your coordinator for a new invitation."))

// suspended says to somebody with the right password why they are not let in, until when, and who can end it.
func suspended(c postgres.Credentials, say words.Speaker) words.Phrase {
	who := strings.Join(c.Coordinators, ", ")
	if c.Until.IsZero() {
		return words.Later("You are suspended in %s and cannot sign in. Two coordinators have said yes to it, so it lasts until a coordinator ends it: %s. Your tokens for programs and your calendars’ addresses have ended for good, so make new ones when you are in again. Field links go on.", c.Cooperative, who)
	}
	return words.Later("You are suspended in %s and cannot sign in. It ends by itself on %s, unless a second coordinator says yes to it. A coordinator can end it before: %s. Your tokens for programs and your calendars’ addresses have ended for good, so make new ones when you are in again. Field links go on.",
		c.Cooperative, say.Day(c.Until.UTC()), who)
}

// A Visit is what is known of a browser before anybody is.
type Visit struct {
	IP, Agent string        // for the throttle, and for the member's own list
	Browser   string        // a secret of the browser's, in a cookie: what is half done belongs to it
	Device    string        // a secret that stays after signing out, in a cookie; "" where it has none
	Say       words.Speaker // for a letter
}

// In is what came of a sign-in.
type In struct {
	Session string // the session's token, for a cookie; "" where a code is wanted first
	Device  string // for a cookie that stays
	Code    bool   // a one-time code is wanted: SignInWithCode
	Second  bool   // another proof is wanted: SignInWithSecond
}

// SignIn opens a session, or asks for a one-time code where the member has them, or for another proof in a browser that
// we do not know. errs.Unauthenticated where address and
// password do not go together, errs.Forbidden where they do and the member is suspended.
func (s *Service) SignIn(ctx context.Context, email, password string, v Visit) (In, error) {
	email = strings.ToLower(strings.TrimSpace(email))
	known, err := s.db.KnowsDevice(ctx, email, v.Device)
	if err != nil {
		return In{}, err
	}
	device := ""
	if known {
		device = fingerprint(v.Device)
	}
	if err := s.pause(ctx, email, v.IP, device); err != nil {
		return In{}, err
	}
	accounts, err := s.db.Credentials(ctx, email)
	if err != nil {
		return In{}, err
	}
	c, rehash, err := s.match(ctx, accounts, password, known)
	if err != nil {
		return In{}, err
	}
	if c.Person == "" {
		return In{}, errors.Join(s.throttle.failed(ctx, email, v.IP, device), errNoMatch)
	}
	if err := s.throttle.succeeded(ctx, email, v.IP, device); err != nil {
		return In{}, err
	}
	if c.Suspended {
		return In{}, errs.Tell(errs.Forbidden, suspended(c, v.Say), nil)
	}
	in, err := s.enterOrAsk(ctx, c.Coop, c.Person, FirstPassword, v)
	if err != nil || !rehash || in.Session == "" {
		return in, err
	}
	// The parameters have risen since the password was set, and only now is it at hand.
	actor := access.Actor{Session: in.Session, Coop: c.Coop, Person: c.Person}
	return in, s.setPassword(ctx, actor, password, func(*postgres.Tx) error { return nil })
}

// pause holds a try back for as long as the throttle says.
func (s *Service) pause(ctx context.Context, email, place, device string) error {
	d, ok, err := s.throttle.delay(ctx, email, place, device)
	if err != nil {
		return err
	}
	if !ok {
		return errs.New(errs.Unavailable, words.Mark("There were many tries in a short time. Wait a minute, then try again."))
	}
	if err := s.wait(ctx, d); err != nil {
		return errs.Hide(errs.Unavailable, words.Mark("That took too long. Please try again."), err)
	}
	return nil
}

// codeLasts is how long a member has to type a code after the password.
const codeLasts = 10 * time.Minute

// enterOrAsk lets somebody in who gave one proof where that is enough, or keeps the step until the code or another proof
// is there.
func (s *Service) enterOrAsk(ctx context.Context, coop, person access.ID, first First, v Visit) (In, error) {
	on, _, err := s.db.CodeState(ctx, coop, person)
	if err != nil {
		return In{}, err
	}
	if !on {
		return s.enterOrProve(ctx, coop, person, first, v)
	}
	err = s.db.OpenStep(ctx, "code "+v.Browser, postgres.Step{Coop: coop, Person: person, Data: []byte("{}")}, codeLasts)
	return In{Code: true}, err
}

// SignInWithCode opens the session that a password or a link has half opened in this browser. errs.Invalid where the
// code is not right; errs.NotFound where there is nothing half open, or after five wrong codes.
func (s *Service) SignInWithCode(ctx context.Context, code string, v Visit) (In, error) {
	step, err := s.db.TryStep(ctx, "code "+v.Browser)
	if err != nil {
		return In{}, err
	}
	helped, err := s.helped(ctx, step, code)
	if err == nil && !helped {
		err = s.checkCode(ctx, step.Coop, step.Person, code)
	}
	if err != nil {
		return In{}, err
	}
	if _, err := s.db.TakeStep(ctx, "code "+v.Browser); err != nil {
		return In{}, err
	}
	return s.enter(ctx, step.Coop, step.Person, v)
}

// SignInWithPasskey opens a session for whoever's passkey answered AskPasskey in this browser. No code is asked for: a
// passkey has checked a finger, a face or a PIN. errs.Unauthenticated where it is nobody's.
func (s *Service) SignInWithPasskey(ctx context.Context, answer []byte, v Visit) (In, error) {
	who, err := s.checkPasskey(ctx, answer, v)
	if err != nil {
		return In{}, err
	}
	return s.enter(ctx, who.Coop, who.Person, v)
}

// enter opens the session and remembers the device.
func (s *Service) enter(ctx context.Context, coop, person access.ID, v Visit) (In, error) {
	token, err := s.open(ctx, postgres.Credentials{Coop: coop, Person: person}, v.Agent)
	if err != nil {
		return In{}, err
	}
	in := In{Session: token}
	if in.Device, err = s.device(ctx, v); err != nil {
		return In{}, err
	}
	return in, s.db.RememberDevice(ctx, coop, person, in.Device)
}

// device is the browser's secret, or a new one where it is none of ours: another may be one that somebody put there.
func (s *Service) device(ctx context.Context, v Visit) (string, error) {
	ours, err := s.db.MadeDevice(ctx, v.Device)
	if err != nil || ours {
		return v.Device, err
	}
	return postgres.NewToken(), nil
}

// fingerprint stands for a secret where only sameness matters.
func fingerprint(secret string) string {
	if secret == "" {
		return ""
	}
	sum := sha256.Sum256([]byte("fingerprint " + secret))
	return hex.EncodeToString(sum[:16])
}

// match returns the account that the password opens, or none. Someone in several cooperatives under one address comes
// in to the first whose password it is. Where there is no account, as much work is done. A known device does not wait
// behind those that are not.
func (s *Service) match(ctx context.Context, accounts []postgres.Credentials, password string, known bool) (found postgres.Credentials, rehash bool, err error) {
	if len(accounts) == 0 || len(password) > passwordMax {
		return found, false, s.hasher.waste(ctx, known)
	}
	for _, c := range accounts[:min(len(accounts), 5)] {
		ok, old, err := s.hasher.check(ctx, password, c.Hash, known)
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
	return s.db.OpenSession(ctx, postgres.NewSession{Coop: c.Coop, Person: c.Person, Idle: s.idle, Max: s.max, Agent: agent})
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

// ChangePassword sets a new password and ends all sessions but the actor's own. The old one may be left out where the
// actor has just proved who they are another way, such as by a link. errs.Invalid where the old one is wrong or the new
// one is too short or easy to guess.
func (s *Service) ChangePassword(ctx context.Context, actor access.Actor, old, new string) error {
	who, err := s.db.Known(ctx, actor.Coop, actor.Person)
	if err != nil {
		return err
	}
	if err := s.checkPassword(new, who.Cooperative, who.Name, who.Email); err != nil {
		return err
	}
	fresh := false
	if old == "" {
		if fresh, err = s.Fresh(ctx, actor); err != nil {
			return err
		}
	}
	if !fresh {
		if err := s.checkOwn(ctx, actor, old, words.Mark("That is not your present password.")); err != nil {
			return err
		}
	}
	if err := s.setPassword(ctx, actor, new, func(tx *postgres.Tx) error { return tx.EndSessions(true) }); err != nil {
		return err
	}
	s.tell(actor, notice{"Your password was changed", "The password of your account was changed, and every other device was signed out."},
		notice{"su contraseña cambió", "Se cambió la contraseña de su cuenta y se cerró la sesión en todos los demás aparatos."})
	return nil
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
