package account

import (
	"context"
	"errors"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// FreshFor is how long a proof is good for what must not be done at a screen left open (ASVS 5.0, 7.5.1, 7.5.3).
const FreshFor = 10 * time.Minute

// A Proof is one way to show that it is still oneself: the first that is not empty counts.
type Proof struct {
	Passkey  []byte // the browser's answer to AskPasskey, JSON
	Code     string // one-time or recovery
	Password string
}

// Means are the ways a member has to prove who they are, besides the password.
type Means struct{ Passkey, Code bool }

// Means tells which the actor has.
func (s *Service) Means(ctx context.Context, actor access.Actor) (Means, error) {
	var m Means
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) error {
		keys, err := tx.Passkeys()
		if err != nil {
			return err
		}
		since, _, err := tx.Codes()
		m = Means{Passkey: s.web != nil && len(keys) > 0, Code: !since.IsZero()}
		return err
	})
	return m, err
}

// Fresh tells whether the actor proved who they are within FreshFor.
func (s *Service) Fresh(ctx context.Context, actor access.Actor) (bool, error) {
	var ago time.Duration
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) (err error) {
		ago, err = tx.Proof()
		return err
	})
	return err == nil && ago < FreshFor, err
}

// Prove checks a proof and notes it for the actor's session. errs.Invalid where it is none.
func (s *Service) Prove(ctx context.Context, actor access.Actor, p Proof, v Visit) error {
	if err := s.prove(ctx, actor, p, v); err != nil {
		return err
	}
	return s.db.Prove(ctx, actor)
}

func (s *Service) prove(ctx context.Context, actor access.Actor, p Proof, v Visit) error {
	switch {
	case len(p.Passkey) > 0:
		who, err := s.checkPasskey(ctx, p.Passkey, v)
		if err != nil {
			return err
		}
		if who.Coop != actor.Coop || who.Person != actor.Person {
			return errPasskey
		}
		return nil
	case p.Code != "":
		return s.checkCode(ctx, actor.Coop, actor.Person, p.Code)
	}
	return s.checkOwn(ctx, actor, p.Password, words.Mark("That is not your password."))
}

// checkOwn checks the actor's own password: errs.Invalid with the given sentence where it is another.
func (s *Service) checkOwn(ctx context.Context, actor access.Actor, password, wrong string) error {
	who, err := s.db.Known(ctx, actor.Coop, actor.Person)
	if err != nil {
		return err
	}
	// Guesses at one's own open session count apart from those at the door.
	key, place := "own "+string(actor.Person), "inside"
	if err := s.pause(ctx, key, place, ""); err != nil {
		return err
	}
	accounts := []postgres.Credentials{{Coop: who.Coop, Person: who.Person, Hash: who.Hash}}
	c, _, err := s.match(ctx, accounts, password, true)
	if err != nil {
		return err
	}
	if c.Person == "" {
		return errors.Join(s.throttle.failed(ctx, key, place, ""), errs.New(errs.Invalid, wrong))
	}
	return s.throttle.succeeded(ctx, key, place, "")
}
