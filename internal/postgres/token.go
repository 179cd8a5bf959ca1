package postgres

import (
	"context"
	"encoding/json"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/words"
)

// A Token lets a member's own program read what the member may read, until it expires or is revoked.
type Token struct {
	ID        access.ID
	Name      string // what it is for, in the member's words
	MadeAt    time.Time
	UsedAt    time.Time // zero where it never was
	ExpiresAt time.Time
}

// Limits of tokens.
const (
	TokenDays = 365 // the longest a token lasts
	tokensMax = 20  // open ones of one member
)

var errNoToken = errs.New(errs.NotFound, "There is no such token.")

// MakeToken makes a token for the actor and returns its secret, which is stored nowhere: it can be shown once only.
// Everybody who sees bulletins; others get errs.NotFound. errs.Invalid for a name or a number of days that cannot be,
// errs.Conflict where the actor has too many.
func (tx *Tx) MakeToken(name string, days int) (secret string, err error) {
	if name, err = names.Name(name); err != nil {
		return "", err
	}
	if name == "" {
		return "", errs.New(errs.Invalid, words.Mark("Say in a few words what the token is for: you will know it by that."))
	}
	if days < 1 || days > TokenDays {
		return "", errs.Tell(errs.Invalid, words.Later("A token lasts from 1 to %d days.", TokenDays), nil)
	}
	if err := tx.alone("tokens of " + string(tx.actor.Person)); err != nil {
		return "", err
	}
	open, err := tx.Tokens()
	if err != nil {
		return "", err
	}
	if len(open) >= tokensMax {
		return "", errs.Tell(errs.Conflict, words.Later("You have %d tokens already. Take back those that no program uses any more, then make another.", len(open)), nil)
	}
	var made struct{ Secret *string }
	if _, err := tx.row(&made, "SELECT tussock.make_token(@name, @days) AS secret", map[string]any{"name": name, "days": days}); err != nil {
		return "", err
	}
	if made.Secret == nil {
		return "", errNoToken
	}
	return *made.Secret, nil
}

// Tokens lists the actor's own that are still good, latest first.
func (tx *Tx) Tokens() ([]Token, error) {
	var rows []struct {
		ID        access.ID
		Name      string
		MadeAt    time.Time
		UsedAt    *time.Time
		ExpiresAt time.Time
	}
	err := tx.rows(&rows, `SELECT id, name, made_at, used_at, expires_at FROM tussock.api_token
		WHERE coop_id = @coop AND person_id = @me AND revoked_at IS NULL AND now() < expires_at ORDER BY made_at DESC, id`, nil)
	list := make([]Token, len(rows))
	for i, r := range rows {
		list[i] = Token{ID: r.ID, Name: r.Name, MadeAt: r.MadeAt, ExpiresAt: r.ExpiresAt}
		if r.UsedAt != nil {
			list[i].UsedAt = *r.UsedAt
		}
	}
	return list, err
}

// RevokeToken makes one of the actor's tokens useless at once; any other is errs.NotFound.
func (tx *Tx) RevokeToken(id access.ID) error {
	if !isID(id) {
		return errNoToken
	}
	return tx.must(errNoToken, `UPDATE tussock.api_token SET revoked_at = now()
		WHERE coop_id = @coop AND person_id = @me AND id = @id AND revoked_at IS NULL`, map[string]any{"id": id})
}

// Bearer returns whose token it is and notes that it was used, and, where ranch names one of theirs, that they looked.
// errs.Unauthenticated where it is nobody's, has expired or was revoked, or its member has left; a session's token is
// nobody's here. The actor can read only: with Reading.
func (db *DB) Bearer(ctx context.Context, secret string, ranch access.ID) (access.Actor, error) {
	refused := errs.New(errs.Unauthenticated, "This token is not good, or not any more. Make another on the page “Tokens”.")
	if !isToken(secret) {
		return access.Actor{}, refused
	}
	if !isID(ranch) {
		ranch = ""
	}
	var r struct {
		CoopID, PersonID access.ID
		Name             string
		Role             access.Role
		Ranches          string
		Known            int
	}
	err := db.Reading(ctx, access.Actor{Session: secret}, func(tx *Tx) error {
		ok, err := tx.row(&r, "SELECT coop_id, person_id, name, role, to_jsonb(ranches) AS ranches, known FROM tussock.reader()", nil)
		if err == nil && !ok {
			err = refused
		}
		return err
	})
	if err != nil {
		return access.Actor{}, err
	}
	var good bool
	if err := db.door.QueryRowContext(ctx, "SELECT tussock.use_token($1, $2)", handleOf(secret), nullID(ranch)).Scan(&good); err != nil {
		return access.Actor{}, translate(err)
	}
	if !good {
		return access.Actor{}, refused
	}
	a := access.Actor{Session: secret, Coop: r.CoopID, Person: r.PersonID, Name: r.Name, Role: r.Role, Known: r.Known}
	return a, json.Unmarshal([]byte(r.Ranches), &a.Ranches)
}
