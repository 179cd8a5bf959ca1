package account

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// How long links in letters are good for.
const (
	linkLasts    = 10 * time.Minute // the most by OWASP ASVS 5.0, 6.5.5
	addressLasts = 24 * time.Hour
)

// How fast one may ask for links, for one address and from one place.
var (
	linksOfAddress = postgres.Pace{Most: 3, Every: 5 * time.Minute}
	linksOfPlace   = postgres.Pace{Most: 20, Every: 45 * time.Second}
)

// HasMail tells whether letters can be sent.
func (s *Service) HasMail() bool { return s.mail != nil }

// linkData is kept of a link until it is used.
type linkData struct {
	Browser string `json:"browser,omitempty"` // a hash of the asking browser's secret
	Email   string `json:"email,omitempty"`   // the new address, where the link confirms one
}

// spendTakes is how long counting may take; without it no letter goes out.
const spendTakes = 3 * time.Second

// AskLink has a link for signing in sent to an address, where it is a member's. It says nothing and takes no time:
// whether there is such a member is looked up after the answer.
func (s *Service) AskLink(email string, v Visit) {
	email = strings.ToLower(strings.TrimSpace(email))
	if s.mail == nil || !postgres.IsEmail(email) {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), spendTakes)
	defer cancel()
	if ok, err := s.mayAskLink(ctx, email, v); err != nil || !ok {
		return
	}
	s.mail.Later(func(ctx context.Context) ([]mail.Letter, error) { return s.writeLinks(ctx, email, v.Browser, v.Say) })
}

// mayAskLink counts a link for an address and from a place, whichever is over. A device that the member signed in with
// before counts for itself alone, so that nobody keeps a member's links away by asking for them elsewhere.
func (s *Service) mayAskLink(ctx context.Context, email string, v Visit) (bool, error) {
	known, err := s.db.KnowsDevice(ctx, email, v.Device)
	if err != nil {
		return false, err
	}
	if known {
		return s.throttle.take(ctx, "link to "+email+" from "+fingerprint(v.Device), linksOfAddress)
	}
	address, err := s.throttle.take(ctx, "link to "+email, linksOfAddress)
	place, err2 := s.throttle.take(ctx, "link from "+placeOf(v.IP), linksOfPlace)
	return address && place, errors.Join(err, err2)
}

// writeLinks makes a link for each cooperative that the address is a member of.
func (s *Service) writeLinks(ctx context.Context, email, browser string, say words.Speaker) ([]mail.Letter, error) {
	accounts, err := s.db.Credentials(ctx, email)
	if err != nil {
		return nil, err
	}
	var letters []mail.Letter
	for _, a := range accounts {
		if a.Suspended {
			continue
		}
		token := postgres.NewToken()
		data, err := json.Marshal(linkData{Browser: fingerprint(browser)})
		if err != nil {
			return nil, err
		}
		if err := s.db.OpenStep(ctx, "link "+token, postgres.Step{Coop: a.Coop, Person: a.Person, Data: data}, linkLasts); err != nil {
			return nil, err
		}
		letters = append(letters, mail.Letter{To: email, Subject: say.Say("Your link to sign in to Tussock"), Text: say.Say(
			"Somebody asked to sign in to Tussock, to %s, with this address.\n\nIf it was you, open this within ten minutes and press the button:\n\n%s/sign-in/link/%s\n\nIf it was not you, there is nothing to do: nobody comes in without this letter. Do not pass it on.\n",
			a.Cooperative, s.url, token)})
	}
	return letters, nil
}

// A Link is what a link in a letter offers.
type Link struct {
	Name, Cooperative string
	Email             string // the new address, where it confirms one
	Same              bool   // it was opened in the browser that asked for it
}

// Link looks at a link for signing in, without using it: programs that look into letters open links too. errs.NotFound
// where it is none, or no longer.
func (s *Service) Link(ctx context.Context, token string, v Visit) (Link, error) {
	step, err := s.db.Step(ctx, "link "+token)
	if err != nil {
		return Link{}, err
	}
	return s.link(ctx, step, v)
}

func (s *Service) link(ctx context.Context, step postgres.Step, v Visit) (Link, error) {
	var data linkData
	if err := json.Unmarshal(step.Data, &data); err != nil {
		return Link{}, err
	}
	who, err := s.db.Known(ctx, step.Coop, step.Person)
	if errors.Is(err, errs.Unauthenticated) {
		return Link{}, errs.New(errs.NotFound, "That link is not good any more.")
	}
	return Link{Name: who.Name, Cooperative: who.Cooperative, Email: data.Email, Same: data.Browser == fingerprint(v.Browser)}, err
}

// SignInWithLink uses a link up. errs.NotFound where it is none, or no longer.
func (s *Service) SignInWithLink(ctx context.Context, token string, v Visit) (In, error) {
	step, err := s.db.TakeStep(ctx, "link "+token)
	if err != nil {
		return In{}, err
	}
	return s.enterOrAsk(ctx, step.Coop, step.Person, FirstLink, v)
}

// AskAddress has a link sent to the actor's new address, which confirms it, and a notice to the old one. errs.Invalid
// where it can be no address. Whether somebody else has it shows only to who gets letters there.
func (s *Service) AskAddress(ctx context.Context, actor access.Actor, email string) error {
	email = strings.ToLower(strings.TrimSpace(email))
	if !postgres.IsEmail(email) {
		return errs.New(errs.Invalid, words.Mark("That does not look like an e-mail address."))
	}
	if s.mail == nil {
		return errs.New(errs.NotFound, "No letters can be sent here.")
	}
	ok, err := s.throttle.take(ctx, "address of "+string(actor.Person), linksOfAddress)
	if err != nil {
		return err
	}
	if !ok {
		return errs.New(errs.Unavailable, words.Mark("You have asked for several letters already. Wait a quarter of an hour, then try again."))
	}
	who, err := s.db.Known(ctx, actor.Coop, actor.Person)
	if err != nil {
		return err
	}
	token := postgres.NewToken()
	data, err := json.Marshal(linkData{Email: email})
	if err != nil {
		return err
	}
	if err := s.db.OpenStep(ctx, "address "+token, postgres.Step{Coop: actor.Coop, Person: actor.Person, Data: data}, addressLasts); err != nil {
		return err
	}
	s.mail.Later(func(context.Context) ([]mail.Letter, error) {
		return []mail.Letter{
			both(email, notice{"Confirm your address for Tussock", fmt.Sprintf(
				"%s wants to sign in to Tussock, to %s, with this address from now on.\n\n"+
					"If that is you, open this within a day, in a browser where you are signed in, and press the button:\n\n%s/account/address/%s\n\n"+
					"If it is not you, there is nothing to do.", who.Name, who.Cooperative, s.url, token)},
				notice{"confirme su correo", fmt.Sprintf(
					"%s quiere entrar a Tussock, a %s, con este correo desde ahora.\n\n"+
						"Si es usted, abra el enlace de arriba antes de un día, en un navegador donde tenga la sesión abierta, y oprima el botón. Si no es usted, no hay nada que hacer.", who.Name, who.Cooperative)}),
			both(who.Email, notice{"Your address for Tussock is about to change", fmt.Sprintf(
				"Somebody who is signed in as you to Tussock, to %s, asked to change your address.\n\n"+
					"If it was you, open the letter that went to the new address. If it was not, sign in at %s, change your password and sign out everywhere, and tell your coordinator.",
				who.Cooperative, s.url)},
				notice{"su correo está por cambiar", fmt.Sprintf(
					"Alguien que entró a Tussock, a %s, como usted pidió cambiar su correo.\n\n"+
						"Si fue usted, abra la carta que se mandó al correo nuevo. Si no, entre en %s, cambie su contraseña, cierre la sesión en todas partes y avise a su coordinador.",
					who.Cooperative, s.url)}),
		}, nil
	})
	return nil
}

// Address looks at a link that confirms the actor's new address, without using it. errs.NotFound where it is none of
// theirs.
func (s *Service) Address(ctx context.Context, actor access.Actor, token string) (Link, error) {
	step, err := s.db.Step(ctx, "address "+token)
	if err != nil {
		return Link{}, err
	}
	if step.Coop != actor.Coop || step.Person != actor.Person {
		return Link{}, errs.New(errs.NotFound, "That link is not good any more.")
	}
	return s.link(ctx, step, Visit{})
}

// ChangeAddress uses such a link up. errs.Conflict where the address signs in already.
func (s *Service) ChangeAddress(ctx context.Context, actor access.Actor, token string) (email string, err error) {
	link, err := s.Address(ctx, actor, token)
	if err != nil {
		return "", err
	}
	if _, err := s.db.TakeStep(ctx, "address "+token); err != nil {
		return "", err
	}
	old, err := s.db.ChangeAddress(ctx, actor.Coop, actor.Person, link.Email)
	if err != nil {
		return "", err
	}
	s.later(both(old,
		notice{"Your address for Tussock has changed", fmt.Sprintf("You no longer sign in to Tussock, to %s, with this address.\n\nIf you did not change it, tell your coordinator at once.", link.Cooperative)},
		notice{"su correo cambió", fmt.Sprintf("Ya no entra a Tussock, a %s, con este correo.\n\nSi usted no lo cambió, avise a su coordinador en seguida.", link.Cooperative)}))
	return link.Email, nil
}

func (s *Service) later(l mail.Letter) {
	if s.mail != nil {
		s.mail.Later(func(context.Context) ([]mail.Letter, error) { return []mail.Letter{l}, nil })
	}
}

// A notice is what a letter says in one language.
type notice struct{ subject, text string }

// both is a letter in English over Spanish, for somebody whose language nobody knows.
func both(to string, en, es notice) mail.Letter {
	return mail.Letter{To: to, Subject: en.subject + " / " + es.subject, Text: en.text + "\n\n" + es.text + "\n"}
}

// tell writes to a member what changed in how they sign in.
func (s *Service) tell(actor access.Actor, en, es notice) {
	if s.mail == nil {
		return
	}
	s.mail.Later(func(ctx context.Context) ([]mail.Letter, error) {
		who, err := s.db.Known(ctx, actor.Coop, actor.Person)
		if err != nil {
			return nil, err
		}
		en.text += fmt.Sprintf("\n\nIf it was you, there is nothing to do. If it was not, sign in at %s, change your password and sign out everywhere, and tell your coordinator.", s.url)
		es.text += fmt.Sprintf("\n\nSi fue usted, no hay nada que hacer. Si no, entre en %s, cambie su contraseña, cierre la sesión en todas partes y avise a su coordinador.", s.url)
		es.subject += ": Tussock"
		return []mail.Letter{both(who.Email, en, es)}, nil
	})
}
