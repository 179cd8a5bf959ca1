package postgres

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/words"
)

// A Known is somebody whom a passkey, a link or a half-done sign-in names.
type Known struct {
	Coop, Person             access.ID
	Cooperative, Name, Email string
	Hash                     string // of the password, argon2id in PHC form
}

// Known returns who may come in under the ids: errs.Unauthenticated where nobody, or they have left or are suspended.
// For package account alone.
func (db *DB) Known(ctx context.Context, coop, person access.ID) (Known, error) {
	k := Known{Coop: coop, Person: person}
	if !isID(coop) || !isID(person) {
		return Known{}, errs.New(errs.Unauthenticated, words.Mark("Please sign in."))
	}
	err := db.door.QueryRowContext(ctx, "SELECT coop_name, person_name, email, password_hash FROM tussock.known($1, $2)", coop, person).
		Scan(&k.Cooperative, &k.Name, &k.Email, &k.Hash)
	if errors.Is(err, sql.ErrNoRows) {
		return Known{}, errs.New(errs.Unauthenticated, words.Mark("Please sign in."))
	}
	return k, translate(err)
}

// Prove notes that the actor proved again, in this session, who they are. For package account alone, which checked.
func (db *DB) Prove(ctx context.Context, a access.Actor) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.prove($1, $2, $3)", a.Coop, a.Person, handleOf(a.Session))
	return translate(err)
}

// Proof is how long ago the actor proved who they are, in this session.
func (tx *Tx) Proof() (time.Duration, error) {
	var seconds float64
	_, err := tx.row(&seconds, "SELECT extract(epoch FROM tussock.my_proof())", nil)
	return time.Duration(seconds * float64(time.Second)), err
}

// A Passkey is one that a member registered.
type Passkey struct {
	ID             access.ID
	Name           string // the member's word for it
	MadeAt, UsedAt time.Time
	Credential     []byte // JSON, as package account has it
}

// Passkeys lists the actor's own, oldest first.
func (tx *Tx) Passkeys() ([]Passkey, error) {
	var rows []struct {
		ID         access.ID
		Name       string
		MadeAt     time.Time
		UsedAt     *time.Time
		Credential string
	}
	err := tx.rows(&rows, `SELECT id, name, made_at, used_at, credential FROM tussock.passkey
		WHERE coop_id = @coop AND person_id = @me ORDER BY made_at, id`, nil)
	list := make([]Passkey, len(rows))
	for i, r := range rows {
		list[i] = Passkey{ID: r.ID, Name: r.Name, MadeAt: r.MadeAt, Credential: []byte(r.Credential)}
		if r.UsedAt != nil {
			list[i].UsedAt = *r.UsedAt
		}
	}
	return list, err
}

// passkeysMost is how many one member may have: a phone, a computer, a key in the drawer, and some to spare.
const passkeysMost = 20

// AddPasskey keeps one of the actor's. errs.Invalid without a name, errs.Conflict where there are too many.
func (tx *Tx) AddPasskey(name string, key, credential []byte) error {
	name, err := names.Name(name)
	if err != nil {
		return err
	}
	if name == "" {
		return errs.New(errs.Invalid, words.Mark("Give the passkey a name of your own, such as “my phone”."))
	}
	have, err := tx.Passkeys()
	if err != nil {
		return err
	}
	if len(have) >= passkeysMost {
		return errs.New(errs.Conflict, words.Mark("You have twenty passkeys already. Remove those you no longer use."))
	}
	_, err = tx.exec(`INSERT INTO tussock.passkey (coop_id, person_id, id, key_id, credential, name) VALUES (@coop, @me, @id, @key, @credential, @name)`,
		map[string]any{"id": newID(), "key": key, "credential": string(credential), "name": name})
	return err
}

// RemovePasskey makes one of the actor's useless; any other is errs.NotFound.
func (tx *Tx) RemovePasskey(id access.ID) error {
	missing := errs.New(errs.NotFound, "There is no such passkey.")
	if !isID(id) {
		return missing
	}
	return tx.must(missing, "DELETE FROM tussock.passkey WHERE coop_id = @coop AND person_id = @me AND id = @id", map[string]any{"id": id})
}

// PasskeysOf lists what checks somebody's passkeys. For package account alone.
func (db *DB) PasskeysOf(ctx context.Context, coop, person access.ID) ([]Passkey, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT id, credential FROM tussock.passkeys_of($1, $2)", coop, person)
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []Passkey
	for rows.Next() {
		var k Passkey
		if err := rows.Scan(&k.ID, &k.Credential); err != nil {
			return nil, translate(err)
		}
		list = append(list, k)
	}
	return list, translate(rows.Err())
}

// UsePasskey keeps what was learned of a passkey when it was used. For package account alone.
func (db *DB) UsePasskey(ctx context.Context, coop, person access.ID, key, credential []byte) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.use_passkey($1, $2, $3, $4)", coop, person, key, string(credential))
	return translate(err)
}

// Codes tells whether the actor's one-time codes are on, since when, and how many recovery codes are left.
func (tx *Tx) Codes() (since time.Time, left int, err error) {
	var r struct{ OnSince *time.Time }
	if _, err := tx.row(&r, "SELECT on_since FROM tussock.code_secret WHERE coop_id = @coop AND person_id = @me", nil); err != nil || r.OnSince == nil {
		return time.Time{}, 0, err
	}
	_, err = tx.row(&left, "SELECT count(*) FROM tussock.recovery_code WHERE coop_id = @coop AND person_id = @me AND used_at IS NULL", nil)
	return *r.OnSince, left, err
}

// StartCodes keeps a secret that a first code has yet to turn on, in place of any other such. errs.Conflict where codes
// are on already.
func (tx *Tx) StartCodes(secret []byte) error {
	since, _, err := tx.Codes()
	if err != nil {
		return err
	}
	if !since.IsZero() {
		return errs.New(errs.Conflict, words.Mark("One-time codes are on already. Turn them off first, then set them up again."))
	}
	if err := tx.StopCodes(); err != nil {
		return err
	}
	_, err = tx.exec("INSERT INTO tussock.code_secret (coop_id, person_id, secret) VALUES (@coop, @me, @secret)", map[string]any{"secret": secret})
	return err
}

// StopCodes turns the actor's one-time codes off and forgets the recovery codes.
func (tx *Tx) StopCodes() error {
	if _, err := tx.exec("DELETE FROM tussock.recovery_code WHERE coop_id = @coop AND person_id = @me", nil); err != nil {
		return err
	}
	_, err := tx.exec("DELETE FROM tussock.code_secret WHERE coop_id = @coop AND person_id = @me", nil)
	return err
}

// SetRecoveryCodes puts new recovery codes in place of the actor's old ones; only their hashes are kept.
func (tx *Tx) SetRecoveryCodes(codes []string) error {
	if _, err := tx.exec("DELETE FROM tussock.recovery_code WHERE coop_id = @coop AND person_id = @me", nil); err != nil {
		return err
	}
	for _, code := range codes {
		_, err := tx.exec("INSERT INTO tussock.recovery_code (coop_id, person_id, code_hash) VALUES (@coop, @me, @hash)", map[string]any{"hash": hashOf(code)})
		if err != nil {
			return err
		}
	}
	return nil
}

// CodeState tells whether somebody's one-time codes are on, and returns the secret of codes that are yet to be turned
// on. For package account alone.
func (db *DB) CodeState(ctx context.Context, coop, person access.ID) (on bool, secret []byte, err error) {
	err = db.door.QueryRowContext(ctx, "SELECT open, secret FROM tussock.code_state($1, $2)", coop, person).Scan(&on, &secret)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil, nil
	}
	return on, secret, translate(err)
}

// A CodeSecret is the secret of somebody's one-time codes, as it is kept.
type CodeSecret struct {
	Coop, Person access.ID
	Secret       []byte
}

// CodeUnsealed lists those that are not sealed with the key of a seal: of another key, or in the open. For package account
// alone, like the next.
func (db *DB) CodeUnsealed(ctx context.Context, seal string) ([]CodeSecret, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT coop, person, secret FROM tussock.code_unsealed($1)", []byte(seal))
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []CodeSecret
	for rows.Next() {
		var s CodeSecret
		if err := rows.Scan(&s.Coop, &s.Person, &s.Secret); err != nil {
			return nil, translate(err)
		}
		list = append(list, s)
	}
	return list, translate(rows.Err())
}

// ResealCode puts a secret sealed again in the place of an old one, unless another server did.
func (db *DB) ResealCode(ctx context.Context, old CodeSecret, sealed []byte) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.reseal_code($1, $2, $3, $4)", old.Coop, old.Person, old.Secret, sealed)
	return translate(err)
}

// TryCode returns the secret for checking one code, and the time step of the last that was taken. errs.Unavailable where
// there were ten wrong ones within a quarter of an hour, errs.NotFound where there is no secret. For package account
// alone.
func (db *DB) TryCode(ctx context.Context, coop, person access.ID) (secret []byte, last int64, err error) {
	var on bool
	err = db.door.QueryRowContext(ctx, "SELECT secret, open, last_step FROM tussock.try_code($1, $2)", coop, person).Scan(&secret, &on, &last)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, 0, errs.New(errs.Unavailable, words.Mark("There were too many wrong codes. Wait a quarter of an hour, or use a recovery code or a passkey."))
	}
	return secret, last, translate(err)
}

// TakeCode uses a code up, and with it all earlier ones: false where it or a later one was taken before. The first turns
// codes on. For package account alone.
func (db *DB) TakeCode(ctx context.Context, coop, person access.ID, step int64) (taken bool, err error) {
	err = db.door.QueryRowContext(ctx, "SELECT tussock.take_code($1, $2, $3)", coop, person, step).Scan(&taken)
	return taken, translate(err)
}

// TakeRecoveryCode uses one up: false where it is none, or was used. For package account alone.
func (db *DB) TakeRecoveryCode(ctx context.Context, coop, person access.ID, code string) (taken bool, err error) {
	err = db.door.QueryRowContext(ctx, "SELECT tussock.take_recovery_code($1, $2, $3)", coop, person, hashOf(code)).Scan(&taken)
	return taken, translate(err)
}

// KnowsDevice tells whether somebody with the address has signed in with this device within a year. For package account
// alone.
func (db *DB) KnowsDevice(ctx context.Context, email, device string) (known bool, err error) {
	if !isToken(device) {
		return false, nil
	}
	err = db.door.QueryRowContext(ctx, "SELECT tussock.knows_device($1, $2)", email, hashOf(device)).Scan(&known)
	return known, translate(err)
}

// RememberDevice notes that somebody signed in with it. For package account alone.
func (db *DB) RememberDevice(ctx context.Context, coop, person access.ID, device string) error {
	if !isToken(device) {
		return nil
	}
	_, err := db.door.ExecContext(ctx, "SELECT tussock.remember_device($1, $2, $3)", coop, person, hashOf(device))
	return translate(err)
}

// TrustDevice remembers, for as long as said, that somebody gave two proofs in a browser; agent is what it calls itself.
// For package account alone, like the next two.
func (db *DB) TrustDevice(ctx context.Context, coop, person access.ID, device, agent string, lasts time.Duration) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.trust_device($1, $2, $3, $4, make_interval(secs => $5))",
		coop, person, hashOf(device), strings.ToValidUTF8(agent, ""), lasts.Seconds())
	return translate(err)
}

// TrustsDevice tells whether it is remembered still.
func (db *DB) TrustsDevice(ctx context.Context, coop, person access.ID, device string) (trusted bool, err error) {
	if !isToken(device) {
		return false, nil
	}
	err = db.door.QueryRowContext(ctx, "SELECT tussock.trusts_device($1, $2, $3)", coop, person, hashOf(device)).Scan(&trusted)
	return trusted, translate(err)
}

// MadeDevice tells whether a browser's secret is one that we made, for whomever signed in there.
func (db *DB) MadeDevice(ctx context.Context, device string) (made bool, err error) {
	if !isToken(device) {
		return false, nil
	}
	err = db.door.QueryRowContext(ctx, "SELECT tussock.made_device($1)", hashOf(device)).Scan(&made)
	return made, translate(err)
}

// A Browser is one in which the actor gave two proofs: their password alone signs them in there.
type Browser struct {
	ID             access.ID
	Agent          string // what it called itself
	Since, Through time.Time
}

// Browsers lists the actor's own, the newest first.
func (tx *Tx) Browsers() ([]Browser, error) {
	var list []Browser
	err := tx.rows(&list, `SELECT id, agent, trusted_at AS since, trusted_until AS through FROM tussock.device
		WHERE coop_id = @coop AND person_id = @me AND now() < trusted_until ORDER BY trusted_at DESC, id`, nil)
	return list, err
}

// ForgetBrowser makes one of the actor's a new one again; any other is errs.NotFound.
func (tx *Tx) ForgetBrowser(id access.ID) error {
	missing := errs.New(errs.NotFound, "There is no such browser.")
	if !isID(id) {
		return missing
	}
	return tx.must(missing, "DELETE FROM tussock.device WHERE coop_id = @coop AND person_id = @me AND id = @id", map[string]any{"id": id})
}

// NoteCode writes down that the actor makes a code that helps another member in: landowners, hands and coordinators read it among the
// changes, and the member on their own pages (HelpCodes). The coordinator; others get errs.Forbidden. errs.Conflict for oneself,
// errs.NotFound where there is no such member.
func (tx *Tx) NoteCode(id access.ID) error {
	if id == tx.actor.Person {
		return errs.New(errs.Conflict, words.Mark("You cannot make a code for yourself. Another coordinator can."))
	}
	if err := tx.present(id); err != nil {
		return err
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.note_code(@id)", map[string]any{"id": id})
	if err == nil && !done {
		err = errNoMember
	}
	return err
}

// A HelpCode is one that a coordinator made for the actor.
type HelpCode struct {
	At time.Time
	By string
}

// HelpCodes lists those of the last 30 days, the latest first: everybody their own.
func (tx *Tx) HelpCodes() ([]HelpCode, error) {
	var list []HelpCode
	err := tx.rows(&list, "SELECT at, by_name AS by FROM tussock.my_help_codes()", nil)
	return list, err
}

// A Step is something half done: who by, where that is known, and what is to be remembered until the other half.
type Step struct {
	Coop, Person access.ID
	Data         []byte // JSON
}

var errNoStep = errs.New(errs.NotFound, "That is over. Please begin again.")

// OpenStep keeps a step under a key, a secret of its browser or its link, in place of any other under that key. For
// package account alone.
func (db *DB) OpenStep(ctx context.Context, key string, s Step, lasts time.Duration) error {
	_, err := db.door.ExecContext(ctx, "SELECT tussock.open_step($1, $2, $3, $4, make_interval(secs => $5))",
		nullID(s.Coop), nullID(s.Person), hashOf(key), string(s.Data), lasts.Seconds())
	return translate(err)
}

// Step returns what is kept under a key; errs.NotFound where nothing is, or its time is over. For package account
// alone, like the next two.
func (db *DB) Step(ctx context.Context, key string) (Step, error) {
	return db.step(ctx, "step_of", key)
}

// TryStep is Step for one try of five: errs.NotFound after them.
func (db *DB) TryStep(ctx context.Context, key string) (Step, error) {
	return db.step(ctx, "try_step", key)
}

// TakeStep is Step once: afterward there is none.
func (db *DB) TakeStep(ctx context.Context, key string) (Step, error) {
	return db.step(ctx, "take_step", key)
}

func (db *DB) step(ctx context.Context, function statement, key string) (Step, error) {
	var s Step
	var person sql.NullString
	err := db.door.QueryRowContext(ctx, ("SELECT coop, person, what FROM tussock."+function+"($1)").text(), hashOf(key)).Scan(&s.Coop, &person, &s.Data)
	if errors.Is(err, sql.ErrNoRows) {
		return Step{}, errNoStep
	}
	s.Person = access.ID(person.String)
	return s, translate(err)
}

// ChangeAddress gives somebody another address and returns the old one. errs.Conflict where the address signs in
// already, errs.NotFound where the member is gone. For package account alone, which made sure that letters arrive.
func (db *DB) ChangeAddress(ctx context.Context, coop, person access.ID, email string) (old string, err error) {
	var before sql.NullString
	err = db.door.QueryRowContext(ctx, "SELECT tussock.change_address($1, $2, $3)", coop, person, email).Scan(&before)
	if err == nil && !before.Valid {
		return "", errNoMember
	}
	return before.String, translate(err)
}

// Suspend keeps a member out until Restore, or for 14 days unless a second coordinator says KeepSuspended, and ends all their sessions and
// tokens; what they have stays as it is. The coordinator, and not of themselves; others get errs.Forbidden. errs.Conflict where they were
// suspended in the last 90 days, by the actor or when the actor had not been here for 30 days.
func (tx *Tx) Suspend(id access.ID) error {
	if id == tx.actor.Person {
		return errs.New(errs.Conflict, words.Mark("You cannot suspend yourself. Another coordinator can."))
	}
	if err := tx.present(id); err != nil {
		return err
	}
	// Must: where somebody suspends the actor in this very moment, all of it is undone.
	return tx.mustSay("SELECT tussock.suspend(@id)", id)
}

// KeepSuspended keeps a suspended member out until Restore. A coordinator, who was here for 30 days when the suspension began, for one
// that another coordinator began; for others there is nothing to keep: errs.NotFound.
func (tx *Tx) KeepSuspended(id access.ID) error {
	if err := tx.present(id); err != nil {
		return err
	}
	return tx.mustSay("SELECT tussock.keep_suspended(@id)", id)
}

// Restore lets a suspended member in again. The coordinator; others get errs.Forbidden.
func (tx *Tx) Restore(id access.ID) error {
	if err := tx.present(id); err != nil {
		return err
	}
	return tx.mustSay("SELECT tussock.let_in(@id)", id)
}

// mustSay asks a function about a member, for whom it must come true.
func (tx *Tx) mustSay(query statement, id access.ID) error {
	var done bool
	if _, err := tx.row(&done, query, map[string]any{"id": id}); err != nil || done {
		return err
	}
	return errNoMember
}

// present refuses everybody but the coordinator, and an id of nobody who is a member now.
func (tx *Tx) present(id access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(id) {
		return errNoMember
	}
	var there bool
	ok, err := tx.row(&there, "SELECT true FROM tussock.person WHERE coop_id = @coop AND id = @id AND left_at IS NULL", map[string]any{"id": id})
	if err == nil && !ok {
		err = errNoMember
	}
	return err
}

// Leave ends the actor's own membership at once. errs.Invalid for the last coordinator.
func (tx *Tx) Leave() error {
	_, err := tx.exec("SELECT tussock.leave()", nil)
	return err
}

// A Newcomer is somebody whom the coordinator wants to let onto a ranch: they see nothing of it before one of its owners
// says yes.
type Newcomer struct {
	Person    access.ID
	Name      string
	Role      access.Role
	Ranch     access.ID
	RanchName string
	Since     time.Time
	Email     string // tells more than a name
	Inviter   string // "" for somebody who has gone
}

// Newcomers lists who waits for the actor's yes, longest first. Landowners; for others there is nobody.
func (tx *Tx) Newcomers() ([]Newcomer, error) {
	var list []Newcomer
	err := tx.rows(&list, "SELECT person, name, role, ranch, ranch_name, since, email, inviter FROM tussock.my_newcomers()", nil)
	return list, err
}

// LetOnto lets somebody who waits onto a ranch: a hand at once, a further owner once they have said that they know who is there
// (ComeOnto). One of its owners; for anybody else nobody waits: errs.NotFound.
func (tx *Tx) LetOnto(person, ranch access.ID) error {
	if !isID(person) || !isID(ranch) {
		return errNoMember
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.confirm_assignment(@person, @ranch)", map[string]any{"person": person, "ranch": ranch})
	if err == nil && !done {
		err = errNoMember
	}
	return err
}

// TurnAway says no to somebody who waits. One of the ranch's owners; for anybody else nobody waits: errs.NotFound.
func (tx *Tx) TurnAway(person, ranch access.ID) error {
	if !isID(person) || !isID(ranch) {
		return errNoMember
	}
	return tx.must(errNoMember, `UPDATE tussock.assignment SET until = now()
		WHERE coop_id = @coop AND person_id = @person AND ranch_id = @ranch AND until IS NULL AND confirmed_at IS NULL
		  AND ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])`,
		map[string]any{"person": person, "ranch": ranch})
}

// A Gate is an owner's yes to the actor as a further owner of a ranch. Before the actor sees anything of it, or sends anything for
// it, they read who will read that.
type Gate struct {
	Ranch         access.ID
	RanchName, By string
	People        []Company
}

// Company is somebody who is on a ranch.
type Company struct {
	Name    string
	Role    access.Role
	Email   string
	Inviter string // who brought them in; "" for who was never invited, or by somebody who has gone
	Since   time.Time
}

// Gates lists those that wait for the actor's own yes, by ranch.
func (tx *Tx) Gates() ([]Gate, error) {
	var rows []struct {
		Ranch                         access.ID
		RanchName, ByName, Name, Role string
		Email, Inviter                string
		Since                         time.Time
	}
	err := tx.rows(&rows, "SELECT ranch, ranch_name, by_name, name, role, email, inviter, since FROM tussock.my_gates()", nil)
	var list []Gate
	for _, r := range rows {
		if len(list) == 0 || list[len(list)-1].Ranch != r.Ranch {
			list = append(list, Gate{Ranch: r.Ranch, RanchName: r.RanchName, By: r.ByName})
		}
		if r.Name == "" { // nobody is there
			continue
		}
		w := &list[len(list)-1]
		w.People = append(w.People, Company{r.Name, access.Role(r.Role), r.Email, r.Inviter, r.Since})
	}
	return list, err
}

// A LetInto is a further owner who has an owner's yes and has yet to say theirs. Until then TurnAway ends it.
type LetInto struct {
	Person        access.ID
	Name, Email   string
	Ranch         access.ID
	RanchName, By string // By is the owner who said yes
	At            time.Time
}

// LetInto lists those on the actor's own ranches. Landowners; for others there are none.
func (tx *Tx) LetInto() ([]LetInto, error) {
	var rows []struct {
		Person, Ranch                  access.ID
		Name, Email, RanchName, ByName string
		At                             time.Time
	}
	err := tx.rows(&rows, "SELECT person, name, email, ranch, ranch_name, by_name, at FROM tussock.my_let_in()", nil)
	var list []LetInto
	for _, r := range rows {
		list = append(list, LetInto{r.Person, r.Name, r.Email, r.Ranch, r.RanchName, r.ByName, r.At})
	}
	return list, err
}

// ComeOnto is the actor's own yes or no to a ranch that an owner would let them onto as a further owner, or a coordinator onto one where
// nobody is. errs.NotFound where none would.
func (tx *Tx) ComeOnto(ranch access.ID, yes bool) error {
	if !isID(ranch) {
		return errNoRanch
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.come_onto(@ranch, @yes)", map[string]any{"ranch": ranch, "yes": yes})
	if err == nil && !done {
		err = errNoRanch
	}
	return err
}

// An Heir waits to own a ranch that has no owner. Two landowners of other owners' must give their word, no earlier than a
// week after everybody could read of it.
type Heir struct {
	Person    access.ID
	Name      string
	Ranch     access.ID
	RanchName string
	Since     time.Time
	OpensAt   time.Time // from when on a yes counts
	Words     int       // yeses so far
	Mine      bool      // the actor's is among them
	Email     string    // tells more than a name
	Inviter   string    // "" for somebody who has gone
	There     bool      // owns the ranch now, and another owner would have them taken off
	Lost      string    // the owner whom the ranch lost last; "" where it had none
	LostAt    *time.Time
}

// Heirs lists them, longest first: for landowners whose word counts, and for the coordinator to see how it stands. Others
// have none.
func (tx *Tx) Heirs() ([]Heir, error) {
	var list []Heir
	err := tx.rows(&list, "SELECT person, name, ranch, ranch_name, since, opens_at, words, mine, email, inviter, there, lost, lost_at FROM tussock.ownerless_waits()", nil)
	return list, err
}

// GiveWord is a landowner's yes or no to somebody who would own a ranch that has no owner, and tells whether they are in
// now. A no ends it. errs.Invalid before a yes counts; errs.NotFound for those whose word does not count, and where nobody
// waits.
func (tx *Tx) GiveWord(person, ranch access.ID, yes bool) (in bool, err error) {
	if !isID(person) || !isID(ranch) {
		return false, errNoMember
	}
	var came struct{ Came *string }
	if _, err := tx.row(&came, "SELECT tussock.vouch_owner(@person, @ranch, @yes) AS came", map[string]any{"person": person, "ranch": ranch, "yes": yes}); err != nil {
		return false, err
	}
	if came.Came == nil {
		return false, errNoMember
	}
	return *came.Came == "in", nil
}
