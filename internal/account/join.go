package account

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"tussock/internal/errs"
	"tussock/internal/mail"
	"tussock/internal/names"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// An Acceptance is the form behind an invitation's link.
type Acceptance struct {
	Name     string
	Email    string // used where the invitation names none
	Phone    string
	Password string // 10 characters or more, 256 bytes at most
}

// How fast one link may be tried, and how fast letters go out by one.
var (
	acceptsOfLink = postgres.Pace{Most: 10, Every: time.Minute}
	lettersOfLink = postgres.Pace{Most: 5, Every: 5 * time.Minute}
)

// Accept makes the account, signs in and returns the session's token. errs.Invalid, with what to do, where the form
// is not right; errs.NotFound where the link is not open any more; errs.Conflict where the address signs in already, or
// an owner's name is like somebody's on the list, which ends the link the third time; errs.TooMany after many tries.
func (s *Service) Accept(ctx context.Context, token string, a Acceptance, agent string) (session string, err error) {
	found, err := s.acceptable(ctx, token, a)
	if err != nil {
		return "", err
	}
	return s.accept(ctx, token, found, agent)
}

// AskToJoin has a letter sent to the address that somebody would join with, which the invitation does not name: whoever reads it finishes the joining
// (Finish). Whether the address signs in already is told there, so the link tells nobody of anybody else's address. Errors as Accept's, but for
// errs.Conflict.
func (s *Service) AskToJoin(ctx context.Context, token string, a Acceptance, say words.Speaker) error {
	found, err := s.acceptable(ctx, token, a)
	if err != nil {
		return err
	}
	link, err := s.throttle.take(ctx, "letters of "+token, lettersOfLink)
	address, err2 := s.throttle.take(ctx, "joining with "+found.Email, linksOfAddress)
	if err := errors.Join(err, err2); err != nil {
		return err
	}
	if !link || !address {
		return errs.New(errs.TooMany, words.Mark("There were many tries in a short time. Wait a minute, then try again."))
	}
	data, err := json.Marshal(found)
	if err != nil {
		return err
	}
	inv, err := s.db.Invitation(ctx, token)
	if err != nil {
		return err
	}
	key := postgres.NewToken()
	if err := s.db.OpenStep(ctx, joining(token, key), postgres.Step{Data: data}, addressLasts); err != nil {
		return err
	}
	s.later(mail.Letter{To: found.Email, Subject: say.Say("Finish joining %s", inv.Cooperative), Text: say.Say(
		"Somebody would join %s on Tussock with this address.\n\nIf it was you, open this within a day and press the button:\n\n%s/join/%s/%s\n\nIf it was not you, there is nothing to do. Do not pass this letter on.\n", inv.Cooperative, s.url, token, key)})
	return nil
}

// Joining returns the address of a letter's link, without using it. errs.NotFound where it is none, or no longer.
func (s *Service) Joining(ctx context.Context, token, key string) (email string, err error) {
	step, err := s.db.Step(ctx, joining(token, key))
	if err != nil {
		return "", err
	}
	var found postgres.Acceptance
	return found.Email, errors.Join(json.Unmarshal(step.Data, &found), err)
}

// Finish uses a letter's link up: it makes the account, signs in and returns the session's token. Errors as Accept's.
func (s *Service) Finish(ctx context.Context, token, key, agent string) (session string, err error) {
	step, err := s.db.TakeStep(ctx, joining(token, key))
	if err != nil {
		return "", err
	}
	var found postgres.Acceptance
	if err := json.Unmarshal(step.Data, &found); err != nil {
		return "", err
	}
	return s.accept(ctx, token, found, agent)
}

func joining(token, key string) string { return "join " + token + " " + key }

// acceptable checks the form behind an invitation's link and returns what is kept of it.
func (s *Service) acceptable(ctx context.Context, token string, a Acceptance) (found postgres.Acceptance, err error) {
	inv, err := s.db.Invitation(ctx, token)
	if err != nil {
		return found, err
	}
	if inv.State != "open" {
		return found, errs.New(errs.NotFound, "This invitation is not open any more. Ask the coordinator for a new one.")
	}
	if a.Name, err = names.Person(a.Name); err != nil {
		return found, err
	}
	a.Email = strings.ToLower(strings.TrimSpace(a.Email))
	switch {
	case a.Name == "":
		return found, errs.New(errs.Invalid, words.Mark("Write your name."))
	case inv.Email == "" && !postgres.IsEmail(a.Email):
		return found, errs.New(errs.Invalid, words.Mark("Write your e-mail address: you will sign in with it."))
	}
	if err := s.checkPassword(a.Password, inv.Cooperative, a.Name, a.Email, inv.Email); err != nil {
		return found, err
	}
	if ok, err := s.throttle.take(ctx, "accepting "+token, acceptsOfLink); err != nil {
		return found, err
	} else if !ok {
		return found, errs.New(errs.TooMany, words.Mark("There were many tries in a short time. Wait a minute, then try again."))
	}
	hash, err := s.hasher.hash(ctx, a.Password)
	return postgres.Acceptance{Name: a.Name, Email: a.Email, Phone: strings.TrimSpace(a.Phone), Hash: hash}, err
}

func (s *Service) accept(ctx context.Context, token string, a postgres.Acceptance, agent string) (session string, err error) {
	ranches, err := s.db.JoinedRanches(ctx, token)
	if err != nil {
		return "", err
	}
	var c postgres.Credentials
	if slices.ContainsFunc(ranches, func(ranch string) bool { return names.Tells(a.Name, ranch) }) {
		err = errs.New(errs.Conflict, words.Mark("That has the name of a ranch in it. Write your own name, and nothing else."))
	} else {
		c, err = s.db.AcceptInvitation(ctx, token, a)
	}
	if errors.Is(err, errs.Conflict) {
		ended, err2 := s.db.AddressTaken(ctx, token)
		if err2 != nil {
			return "", err2
		}
		if ended {
			return "", errs.New(errs.Conflict, words.Mark("That name or that e-mail address is somebody else’s here, as with two that were tried before: this link has ended. Ask the coordinator for a new one."))
		}
		return "", err
	}
	if err != nil {
		return "", err
	}
	return s.open(ctx, c, agent)
}
