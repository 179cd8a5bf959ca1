package account

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"time"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// challengeLasts is how long a member has to touch the reader.
const challengeLasts = 5 * time.Minute

var errPasskey = errs.New(errs.Unauthenticated, words.Mark("That passkey did not open anything here. Try again, or sign in another way."))

// newWebAuthn returns nil where there can be no passkeys: they belong to a name, over https or on this very machine
// (W3C Web Authentication, level 3, sections 5.1.3 and 13.4.9).
func newWebAuthn(address string) *webauthn.WebAuthn {
	u, err := url.Parse(address)
	if err != nil || u.Hostname() == "" || (u.Scheme != "https" && u.Hostname() != "localhost") {
		return nil
	}
	timeout := webauthn.TimeoutConfig{Enforce: true, Timeout: challengeLasts, TimeoutUVD: challengeLasts}
	w, err := webauthn.New(&webauthn.Config{
		RPID:          u.Hostname(),
		RPDisplayName: "Tussock",
		RPOrigins:     []string{u.Scheme + "://" + u.Host},
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired,
			// A finger, a face or a PIN: so a passkey alone is two proofs, something one has and something one is or knows.
			UserVerification: protocol.VerificationRequired,
		},
		AttestationPreference: protocol.PreferNoAttestation,
		Timeouts:              webauthn.TimeoutsConfig{Login: timeout, Registration: timeout},
	})
	if err != nil {
		return nil // the host is an IP address, or no name that browsers take
	}
	return w
}

// HasPasskeys tells whether members can have passkeys here.
func (s *Service) HasPasskeys() bool { return s.web != nil }

func (s *Service) passkeys() (*webauthn.WebAuthn, error) {
	if s.web == nil {
		return nil, errs.New(errs.NotFound, "There are no passkeys here.")
	}
	return s.web, nil
}

// A holder is a member as the library wants one.
type holder struct {
	postgres.Known
	credentials []webauthn.Credential
}

// WebAuthnID is what a passkey says of whose it is: the two random ids, 32 bytes.
func (h holder) WebAuthnID() []byte {
	coop, person := uuid.MustParse(string(h.Coop)), uuid.MustParse(string(h.Person)) // from the database
	return append(coop[:], person[:]...)
}
func (h holder) WebAuthnName() string                       { return h.Email }
func (h holder) WebAuthnDisplayName() string                { return h.Name }
func (h holder) WebAuthnCredentials() []webauthn.Credential { return h.credentials }

func (s *Service) holder(ctx context.Context, coop, person access.ID) (holder, error) {
	known, err := s.db.Known(ctx, coop, person)
	if err != nil {
		return holder{}, err
	}
	list, err := s.db.PasskeysOf(ctx, coop, person)
	if err != nil {
		return holder{}, err
	}
	h := holder{Known: known, credentials: make([]webauthn.Credential, len(list))}
	for i, k := range list {
		if err := json.Unmarshal(k.Credential, &h.credentials[i]); err != nil {
			return holder{}, fmt.Errorf("read a passkey: %w", err)
		}
	}
	return h, nil
}

// NewPasskey begins to register one: it returns the options for the browser, as JSON.
func (s *Service) NewPasskey(ctx context.Context, actor access.Actor) ([]byte, error) {
	web, err := s.passkeys()
	if err != nil {
		return nil, err
	}
	h, err := s.holder(ctx, actor.Coop, actor.Person)
	if err != nil {
		return nil, err
	}
	var have []protocol.CredentialDescriptor
	for _, c := range h.credentials {
		have = append(have, c.Descriptor())
	}
	options, session, err := web.BeginRegistration(h, webauthn.WithExclusions(have))
	if err != nil {
		return nil, fmt.Errorf("begin a passkey: %w", err)
	}
	return s.challenge(ctx, "new passkey "+actor.Session, actor, options, session)
}

// challenge keeps what the library wants to see again, and returns the options.
func (s *Service) challenge(ctx context.Context, key string, a access.Actor, options, session any) ([]byte, error) {
	data, err := json.Marshal(session)
	if err != nil {
		return nil, err
	}
	if err := s.db.OpenStep(ctx, key, postgres.Step{Coop: a.Coop, Person: a.Person, Data: data}, challengeLasts); err != nil {
		return nil, err
	}
	return json.Marshal(options)
}

// AddPasskey keeps the passkey that a browser made. errs.Invalid where it cannot be taken.
func (s *Service) AddPasskey(ctx context.Context, actor access.Actor, name string, answer []byte) error {
	web, err := s.passkeys()
	if err != nil {
		return err
	}
	wrong := errs.New(errs.Invalid, words.Mark("The passkey could not be kept. Please begin again."))
	step, err := s.db.TakeStep(ctx, "new passkey "+actor.Session)
	if err != nil {
		return errs.Hide(errs.Invalid, words.Mark("That took too long. Please begin again."), err)
	}
	var session webauthn.SessionData
	if err := json.Unmarshal(step.Data, &session); err != nil {
		return err
	}
	h, err := s.holder(ctx, actor.Coop, actor.Person)
	if err != nil {
		return err
	}
	made, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return errs.Hide(errs.Invalid, words.Mark("The passkey could not be kept. Please begin again."), err)
	}
	credential, err := web.CreateCredential(h, session, made)
	if err != nil {
		return errs.Hide(errs.Invalid, words.Mark("The passkey could not be kept. Please begin again."), err)
	}
	if !credential.Flags.UserVerified {
		return wrong
	}
	kept, err := json.Marshal(credential)
	if err != nil {
		return err
	}
	if err := s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.AddPasskey(name, credential.ID, kept) }); err != nil {
		return err
	}
	s.tell(actor, notice{"A new passkey", "A passkey was added to your account: from now on it signs you in."},
		notice{"una llave de acceso nueva", "Se agregó una llave de acceso a su cuenta: desde ahora se entra con ella."})
	return nil
}

// RemovePasskey makes one of the actor's useless. errs.NotFound where it is none of theirs.
func (s *Service) RemovePasskey(ctx context.Context, actor access.Actor, id access.ID) error {
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.RemovePasskey(id) })
	if err == nil {
		s.tell(actor, notice{"A passkey was removed", "It no longer signs you in."}, notice{"se quitó una llave de acceso", "Ya no se entra con ella."})
	}
	return err
}

// AskPasskey begins to sign in with one, of whoever has one, or with an actor to prove that it is still them. It returns
// the options for the browser, as JSON.
func (s *Service) AskPasskey(ctx context.Context, a access.Actor, v Visit) ([]byte, error) {
	web, err := s.passkeys()
	if err != nil {
		return nil, err
	}
	var options *protocol.CredentialAssertion
	var session *webauthn.SessionData
	if a.Person == "" {
		options, session, err = web.BeginDiscoverableLogin()
	} else {
		h, failed := s.holder(ctx, a.Coop, a.Person)
		if failed != nil {
			return nil, failed
		}
		if len(h.credentials) == 0 {
			return nil, errs.New(errs.NotFound, "You have no passkey yet.")
		}
		options, session, err = web.BeginLogin(h)
	}
	if err != nil {
		return nil, fmt.Errorf("ask for a passkey: %w", err)
	}
	return s.challenge(ctx, "passkey "+v.Browser, a, options, session)
}

// checkPasskey returns whose passkey answered. errs.Unauthenticated where nobody's did.
func (s *Service) checkPasskey(ctx context.Context, answer []byte, v Visit) (postgres.Known, error) {
	web, err := s.passkeys()
	if err != nil {
		return postgres.Known{}, err
	}
	step, err := s.db.TakeStep(ctx, "passkey "+v.Browser)
	if err != nil {
		return postgres.Known{}, errs.Hide(errs.Unauthenticated, words.Mark("That took too long. Please try again."), err)
	}
	var session webauthn.SessionData
	if err := json.Unmarshal(step.Data, &session); err != nil {
		return postgres.Known{}, err
	}
	response, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return postgres.Known{}, hidePasskey(err)
	}
	h, credential, err := s.answered(ctx, web, step, session, response)
	if err != nil {
		return postgres.Known{}, hidePasskey(err)
	}
	// A counter that fell behind is a copy's.
	if credential.Authenticator.CloneWarning || !credential.Flags.UserVerified {
		return postgres.Known{}, errPasskey
	}
	learned, err := json.Marshal(credential)
	if err != nil {
		return postgres.Known{}, err
	}
	return h.Known, s.db.UsePasskey(ctx, h.Coop, h.Person, credential.ID, learned)
}

func (s *Service) answered(ctx context.Context, web *webauthn.WebAuthn, step postgres.Step, session webauthn.SessionData, response *protocol.ParsedCredentialAssertionData) (h holder, credential *webauthn.Credential, err error) {
	if step.Person != "" {
		if h, err = s.holder(ctx, step.Coop, step.Person); err != nil {
			return h, nil, err
		}
		credential, err = web.ValidateLogin(h, session, response)
		return h, credential, err
	}
	whose := func(_, handle []byte) (webauthn.User, error) {
		if len(handle) != 32 {
			return nil, errPasskey
		}
		coop, person := uuid.UUID(handle[:16]), uuid.UUID(handle[16:])
		h, err = s.holder(ctx, access.ID(coop.String()), access.ID(person.String()))
		return h, err
	}
	_, credential, err = web.ValidatePasskeyLogin(whose, session, response)
	return h, credential, err
}

func hidePasskey(err error) error {
	message, _ := errs.Message(errPasskey)
	return errs.Hide(errs.Unauthenticated, message, err)
}
