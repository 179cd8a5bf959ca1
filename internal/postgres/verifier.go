package postgres

import (
	"crypto/hmac"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
)

// Verifier returns what PostgreSQL keeps of a password (RFC 5803, and the manual, "pg_authid"), so that a statement that sets a
// password does not say it: statements are shown to whoever watches the server, and kept in its statistics.
//
// PostgreSQL's own has 4 096 rounds. One will do here: our passwords are 256 random bits, or were made slow to guess before.
func Verifier(password string) (string, error) {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails
	const rounds = 1
	salted, err := pbkdf2.Key(sha256.New, password, salt, rounds, sha256.Size)
	if err != nil {
		return "", err
	}
	mac := func(word string) []byte {
		h := hmac.New(sha256.New, salted)
		h.Write([]byte(word))
		return h.Sum(nil)
	}
	stored := sha256.Sum256(mac("Client Key"))
	b64 := base64.StdEncoding.EncodeToString
	return fmt.Sprintf("SCRAM-SHA-256$%d:%s$%s:%s", rounds, b64(salt), b64(stored[:]), b64(mac("Server Key"))), nil
}
