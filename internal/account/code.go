package account

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/base32"
	"fmt"
	"image/png"
	"net/url"
	"strings"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// One-time codes are those of RFC 6238 with the settings that every app understands: six digits, SHA-1, half a minute.
const (
	codeStep   = 30 // seconds
	codeDigits = otp.DigitsSix
	secretSize = 20 // bytes, as RFC 4226, section 4, R6 recommends
	// A clock may be one step off, either way (RFC 6238, section 5.2).
	codeDrift = 1
)

// Recovery codes stand in for a lost device: ten, of 80 random bits each, good once.
const (
	recoveryCodes = 10
	recoverySize  = 10 // bytes
)

var errCode = errs.New(errs.Invalid, words.Mark("That code is not right, or it was used before. Wait for the next one and type it in."))

// An Enrollment is what an app needs to make a member's codes.
type Enrollment struct {
	Secret string // in groups of four, to be typed
	QR     []byte // the same as a picture, PNG
}

// text is how apps want secrets: base 32 without padding (RFC 4648, section 6).
func text(b []byte) string { return base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b) }

func grouped(s string, sep string) string {
	var groups []string
	for ; len(s) > 4; s = s[4:] {
		groups = append(groups, s[:4])
	}
	return strings.Join(append(groups, s), sep)
}

// StartCodes makes a secret for the actor's codes. ConfirmCodes turns them on. errs.Conflict where they are on.
func (s *Service) StartCodes(ctx context.Context, actor access.Actor) (Enrollment, error) {
	secret := make([]byte, secretSize)
	rand.Read(secret) // never fails
	if err := s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.StartCodes(s.keys.seal(actor.Coop, actor.Person, secret)) }); err != nil {
		return Enrollment{}, err
	}
	return s.enrollment(ctx, actor, secret)
}

// PendingCodes returns the secret again until the first code was right; errs.NotFound where there is none such.
func (s *Service) PendingCodes(ctx context.Context, actor access.Actor) (Enrollment, error) {
	_, secret, err := s.db.CodeState(ctx, actor.Coop, actor.Person)
	if err != nil {
		return Enrollment{}, err
	}
	if secret == nil {
		return Enrollment{}, errs.New(errs.NotFound, "Please begin again.")
	}
	if secret, err = s.keys.open(actor.Coop, actor.Person, secret); err != nil {
		return Enrollment{}, err
	}
	return s.enrollment(ctx, actor, secret)
}

func (s *Service) enrollment(ctx context.Context, actor access.Actor, secret []byte) (Enrollment, error) {
	who, err := s.db.Known(ctx, actor.Coop, actor.Person)
	if err != nil {
		return Enrollment{}, err
	}
	// The form of these addresses is common practice among apps; there is no standard.
	address := url.URL{Scheme: "otpauth", Host: "totp", Path: "/Tussock:" + who.Email,
		RawQuery: url.Values{"secret": {text(secret)}, "issuer": {"Tussock"}}.Encode()}
	key, err := otp.NewKeyFromURL(address.String())
	if err != nil {
		return Enrollment{}, fmt.Errorf("write the secret's address: %w", err)
	}
	img, err := key.Image(240, 240)
	if err != nil {
		return Enrollment{}, fmt.Errorf("draw the secret: %w", err)
	}
	var b bytes.Buffer
	err = png.Encode(&b, img)
	return Enrollment{Secret: grouped(text(secret), " "), QR: b.Bytes()}, err
}

// ConfirmCodes turns the actor's codes on with a first code, and returns recovery codes, which can be shown this once.
// errs.Invalid where the code is not right.
func (s *Service) ConfirmCodes(ctx context.Context, actor access.Actor, code string) (recovery []string, err error) {
	if err := s.checkCode(ctx, actor.Coop, actor.Person, code); err != nil {
		return nil, err
	}
	s.tell(actor, notice{"One-time codes are on", "From now on, signing in with your password also asks for a code from your device."},
		notice{"códigos de un solo uso activados", "Desde ahora, al entrar con su contraseña también se pide un código de su aparato."})
	return s.NewRecoveryCodes(ctx, actor)
}

// StopCodes turns them off.
func (s *Service) StopCodes(ctx context.Context, actor access.Actor) error {
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.StopCodes() })
	if err == nil {
		s.tell(actor, notice{"One-time codes are off", "Signing in with your password no longer asks for a code."},
			notice{"códigos de un solo uso desactivados", "Al entrar con su contraseña ya no se pide ningún código."})
	}
	return err
}

// NewRecoveryCodes makes new ones in place of the old. errs.Conflict where codes are not on.
func (s *Service) NewRecoveryCodes(ctx context.Context, actor access.Actor) ([]string, error) {
	codes, kept := make([]string, recoveryCodes), make([]string, recoveryCodes)
	for i := range codes {
		b := make([]byte, recoverySize)
		rand.Read(b) // never fails
		kept[i] = strings.ToLower(text(b))
		codes[i] = grouped(kept[i], "-")
	}
	err := s.db.As(ctx, actor, func(tx *postgres.Tx) error {
		since, _, err := tx.Codes()
		if err == nil && since.IsZero() {
			err = errs.New(errs.Conflict, words.Mark("One-time codes are not on."))
		}
		if err != nil {
			return err
		}
		return tx.SetRecoveryCodes(kept)
	})
	return codes, err
}

// checkCode takes a one-time code or a recovery code, each once. errs.Invalid where it is none, errs.Unavailable after
// ten wrong ones.
func (s *Service) checkCode(ctx context.Context, coop, person access.ID, code string) error {
	code = bare(code)
	if len(code) != codeDigits.Length() {
		taken, err := s.db.TakeRecoveryCode(ctx, coop, person, code)
		if err == nil && !taken {
			err = errCode
		}
		return err
	}
	secret, last, err := s.db.TryCode(ctx, coop, person)
	if err != nil {
		return err
	}
	if secret, err = s.keys.open(coop, person, secret); err != nil {
		return err
	}
	step, ok := stepOf(code, secret, s.now())
	if !ok || step <= last {
		return errCode
	}
	taken, err := s.db.TakeCode(ctx, coop, person, step)
	if err == nil && !taken { // somebody else did, in this very moment
		err = errCode
	}
	return err
}

// stepOf finds the time step that a code belongs to, at most one off.
func stepOf(code string, secret []byte, now time.Time) (step int64, ok bool) {
	for d := int64(-codeDrift); d <= codeDrift; d++ {
		t := now.Unix()/codeStep + d
		if t < 0 {
			continue
		}
		right, err := hotp.ValidateCustom(code, uint64(t), text(secret), hotp.ValidateOpts{Digits: codeDigits, Algorithm: otp.AlgorithmSHA1})
		if err == nil && right {
			step, ok = t, true
		}
	}
	return step, ok
}
