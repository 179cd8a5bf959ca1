package postgres

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"

	"github.com/google/uuid"

	"tussock/internal/access"
)

// newID returns a random id. Random, because ids that tell an order tell a member how much the others send.
func newID() access.ID { return access.ID(uuid.NewString()) }

// isID tells whether id is a UUID in its canonical form; anything else names no row.
func isID(id access.ID) bool {
	u, err := uuid.Parse(string(id))
	return err == nil && u.String() == string(id)
}

// nullID is NULL for no id.
func nullID(id access.ID) any {
	if id == "" {
		return nil
	}
	return id
}

// NewToken returns a secret for a link or a cookie: 256 random bits as 64 hexadecimal digits.
func NewToken() string {
	b := make([]byte, 32)
	rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

// hashOf is all that is stored of a token. A plain hash will do: there is nothing to guess in 256 random bits.
func hashOf(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}
