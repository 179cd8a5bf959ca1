package account

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// One proof is not enough in a browser that we do not know (OWASP ASVS 5.0, 6.3.3). A passkey is two by itself, and
// one-time codes are asked of whoever has them. Everybody else gives two of these three: the password, a letter to
// their address, a code that the coordinator tells them. Then the browser is remembered, and one of the first two is
// enough there.
//
// Letters are good for level 2 of that standard and no more (6.3.6): passkeys and one-time codes are better, and members
// are told so.

const (
	rememberFor = 90 * 24 * time.Hour
	// letterLasts is the most by OWASP ASVS 5.0, 6.5.5.
	letterLasts  = 10 * time.Minute
	letterDigits = 8
	// A coordinator's code is told by telephone and has five tries in all.
	helpLasts  = 24 * time.Hour
	helpDigits = 12
)

// lettersOfMember is how fast one member gets letters. Each allows five tries, so that guessing finds a code in one of four
// million quarters of an hour.
var lettersOfMember = postgres.Pace{Most: 5, Every: 3 * time.Minute}

var errSecond = errs.New(errs.Invalid, words.Mark("That is not right. Look at it again, then type it once more."))

// A First is the proof that came first.
type First string

// The first proofs that a second is asked for after.
const (
	FirstPassword First = "password"
	FirstLink     First = "link"
)

// secondData is kept until the second proof is there.
type secondData struct {
	First First
	Sum   string // of the letter's code and the browser's secret; "" where no letter was sent
}

// A Second is what a browser waits for.
type Second struct {
	First  First
	Letter bool // one was sent: not where there were many already
}

// enterOrProve lets somebody in who gave one proof in a browser that we know, or where no letter can be sent;
// elsewhere it keeps the step until a second proof is there.
func (s *Service) enterOrProve(ctx context.Context, coop, person access.ID, first First, v Visit) (In, error) {
	if s.mail == nil {
		return s.enter(ctx, coop, person, v)
	}
	known, err := s.db.TrustsDevice(ctx, coop, person, v.Device)
	if err != nil {
		return In{}, err
	}
	if known {
		return s.enter(ctx, coop, person, v)
	}
	return In{Second: true}, s.askSecond(ctx, coop, person, first, v)
}

// askSecond keeps the step and, after a password, sends the letter.
func (s *Service) askSecond(ctx context.Context, coop, person access.ID, first First, v Visit) error {
	who, err := s.db.Known(ctx, coop, person)
	if err != nil {
		return err
	}
	data := secondData{First: first}
	if first == FirstPassword {
		ok, err := s.throttle.take(ctx, "letter to "+string(person), lettersOfMember)
		if err != nil {
			return err
		}
		if ok {
			code := digits(letterDigits)
			data.Sum = sumOf(code, v)
			s.later(letterWithCode(who, code, v.Say))
		}
	}
	kept, err := json.Marshal(data)
	if err != nil {
		return err
	}
	return s.db.OpenStep(ctx, secondKey(v), postgres.Step{Coop: coop, Person: person, Data: kept}, letterLasts)
}

func secondKey(v Visit) string { return "second " + v.Browser }

func letterWithCode(who postgres.Known, code string, say words.Speaker) mail.Letter {
	return mail.Letter{To: who.Email, Subject: say.Say("Your code to sign in to Tussock"), Text: say.Say(
		"Somebody typed your password to sign in to Tussock, to %s, in a browser that we do not know.\n\n"+
			"If it was you, type this code there within ten minutes:\n\n    %s\n\n"+
			"If it was not you, do not pass the code on: sign in yourself and change your password. Nobody from Tussock or the cooperative will ever ask you for the code.\n",
		who.Cooperative, grouped(code, " "))}
}

// digits returns as many random ones.
func digits(n int) string {
	var b strings.Builder
	for range n {
		d, err := rand.Int(rand.Reader, big.NewInt(10))
		if err != nil {
			panic("account: the system's generator: " + err.Error()) // it never fails
		}
		b.WriteByte(byte('0' + d.Int64()))
	}
	return b.String()
}

// sumOf binds a code to the browser that it was asked for in: the database alone does not tell it.
func sumOf(code string, v Visit) string {
	sum := sha256.Sum256([]byte("letter " + v.Browser + " " + code))
	return hex.EncodeToString(sum[:])
}

// Second tells what the browser's half-done sign-in waits for. errs.NotFound where there is none.
func (s *Service) Second(ctx context.Context, v Visit) (Second, error) {
	_, data, err := s.second(ctx, v)
	return Second{First: data.First, Letter: data.Sum != ""}, err
}

func (s *Service) second(ctx context.Context, v Visit) (step postgres.Step, data secondData, err error) {
	if step, err = s.db.Step(ctx, secondKey(v)); err == nil {
		err = json.Unmarshal(step.Data, &data)
	}
	return step, data, err
}

// SendAgain sends another letter for the half-done sign-in; the one before is no longer good. errs.NotFound where there
// is none that a letter would help.
func (s *Service) SendAgain(ctx context.Context, v Visit) error {
	step, data, err := s.second(ctx, v)
	if err != nil {
		return err
	}
	if data.First != FirstPassword {
		return errs.New(errs.NotFound, "That is over. Please begin again.")
	}
	return s.askSecond(ctx, step.Coop, step.Person, data.First, v)
}

// A SecondProof is what was typed: the first that is not empty counts.
type SecondProof struct {
	Password string // after a link
	Code     string // of the letter or of the coordinator
}

// SignInWithSecond opens the session that a password or a link has half opened in this browser, and remembers the
// browser. errs.Invalid where the proof is not right; errs.NotFound where there is nothing half open, or after five
// wrong ones; errs.Unavailable where there were many.
func (s *Service) SignInWithSecond(ctx context.Context, p SecondProof, v Visit) (In, error) {
	step, _, err := s.second(ctx, v)
	if err != nil {
		return In{}, err
	}
	// These count apart from passwords at the door: whoever has the password could forgive those.
	lane := "second " + string(step.Person)
	if err := s.pause(ctx, lane, v.IP, ""); err != nil {
		return In{}, err
	}
	if step, err = s.db.TryStep(ctx, secondKey(v)); err != nil {
		return In{}, err
	}
	right, err := s.isSecond(ctx, step, p, v)
	if err != nil {
		return In{}, err
	}
	if !right {
		return In{}, errors.Join(s.throttle.failed(ctx, lane, v.IP, ""), errSecond)
	}
	if err := s.throttle.succeeded(ctx, lane, v.IP, ""); err != nil {
		return In{}, err
	}
	if _, err := s.db.TakeStep(ctx, secondKey(v)); err != nil { // once, whoever else has it right in this very moment
		return In{}, err
	}
	in, err := s.enter(ctx, step.Coop, step.Person, v)
	if err != nil {
		return In{}, err
	}
	return in, s.db.TrustDevice(ctx, step.Coop, step.Person, in.Device, v.Agent, rememberFor)
}

func (s *Service) isSecond(ctx context.Context, step postgres.Step, p SecondProof, v Visit) (bool, error) {
	var data secondData
	if err := json.Unmarshal(step.Data, &data); err != nil {
		return false, err
	}
	if data.First == FirstLink && p.Password != "" {
		who, err := s.db.Known(ctx, step.Coop, step.Person)
		if err != nil {
			return false, err
		}
		found, _, err := s.match(ctx, []postgres.Credentials{{Coop: who.Coop, Person: who.Person, Hash: who.Hash}}, p.Password, false)
		return found.Person != "", err
	}
	code := bare(p.Code)
	if len(code) == helpDigits {
		return s.takeHelp(ctx, step.Coop, step.Person, code)
	}
	same := subtle.ConstantTimeCompare([]byte(data.Sum), []byte(sumOf(code, v))) == 1
	return data.First == FirstPassword && same, nil
}

// bare is a code as people type it without what sets its groups apart.
func bare(code string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '\u00a0' {
			return -1
		}
		return r
	}, code))
}

// Remember remembers the browser of a session that an invitation has just opened: its link was the first proof.
func (s *Service) Remember(ctx context.Context, session string, v Visit) (device string, err error) {
	a, err := s.db.ActorOf(ctx, session)
	if err != nil {
		return "", err
	}
	if device, err = s.device(ctx, v); err != nil {
		return "", err
	}
	return device, s.db.TrustDevice(ctx, a.Coop, a.Person, device, v.Agent, rememberFor)
}

func helpKey(coop, person access.ID) string { return fmt.Sprintf("help %s %s", coop, person) }

// Help makes a code that a coordinator tells a member whom they know by voice: for a day, once, it stands in for one
// proof, a letter that does not arrive, a forgotten password or a lost device, and never for two. The coordinator, who
// has neither the member's password nor their letters, comes in with it nowhere. The member is told by letter, and reads it on their own pages.
// errs.Conflict for oneself, errs.NotFound where there is no such member.
func (s *Service) Help(ctx context.Context, actor access.Actor, member access.ID) (code string, err error) {
	if err := s.db.As(ctx, actor, func(tx *postgres.Tx) error { return tx.NoteCode(member) }); err != nil {
		return "", err
	}
	code = digits(helpDigits)
	hash, err := s.hasher.hash(ctx, code)
	if err != nil {
		return "", err
	}
	data, err := json.Marshal(hash)
	if err != nil {
		return "", err
	}
	if err := s.db.OpenStep(ctx, helpKey(actor.Coop, member), postgres.Step{Coop: actor.Coop, Person: member, Data: data}, helpLasts); err != nil {
		return "", err
	}
	s.tell(access.Actor{Coop: actor.Coop, Person: member}, notice{"A code from your coordinator",
		"Your coordinator made a code that helps you sign in: together with your password or with a link from a letter, once, within a day. If you did not ask for it, ring them."},
		notice{"un código de su coordinador",
			"Su coordinador hizo un código que le ayuda a entrar: junto con su contraseña o con el enlace de una carta, una vez, antes de un día. Si usted no lo pidió, llámele."})
	return grouped(code, " "), nil
}

// admitLasts is how long what Admit makes is good.
const admitLasts = time.Hour

// Admit is for whoever runs the server, where nobody else can help: a cooperative's only coordinator has forgotten the
// password, say. It returns the path of a link that signs the member of an address in, once, and the code that goes with
// it where more is asked for. errs.NotFound where there is no such member.
func Admit(ctx context.Context, o *postgres.Owner, email string) (who postgres.Known, path, code string, err error) {
	fail := func(err error) (postgres.Known, string, string, error) { return postgres.Known{}, "", "", err }
	if who, err = o.MemberOf(ctx, email); err != nil {
		return fail(err)
	}
	token, code := postgres.NewToken(), digits(helpDigits)
	hash, err := newHasher().hash(ctx, code)
	if err != nil {
		return fail(err)
	}
	for key, what := range map[string]any{"link " + token: linkData{}, helpKey(who.Coop, who.Person): hash} {
		data, err := json.Marshal(what)
		if err != nil {
			return fail(err)
		}
		if err := o.OpenStep(ctx, key, postgres.Step{Coop: who.Coop, Person: who.Person, Data: data}, admitLasts); err != nil {
			return fail(err)
		}
	}
	return who, "/sign-in/link/" + token, grouped(code, " "), nil
}

// helped tells whether a coordinator's code stands in for a one-time code. The codes stay on.
func (s *Service) helped(ctx context.Context, step postgres.Step, code string) (bool, error) {
	if code = bare(code); len(code) != helpDigits {
		return false, nil
	}
	return s.takeHelp(ctx, step.Coop, step.Person, code)
}

// takeHelp uses a coordinator's code up.
func (s *Service) takeHelp(ctx context.Context, coop, person access.ID, code string) (bool, error) {
	step, err := s.db.TryStep(ctx, helpKey(coop, person))
	if errors.Is(err, errs.NotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	var hash string
	if err := json.Unmarshal(step.Data, &hash); err != nil {
		return false, err
	}
	right, _, err := s.hasher.check(ctx, code, hash, true)
	if err != nil || !right {
		return false, err
	}
	_, err = s.db.TakeStep(ctx, helpKey(coop, person))
	return err == nil, err
}
