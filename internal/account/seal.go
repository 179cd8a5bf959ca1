package account

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"tussock/internal/access"
	"tussock/internal/errs"
)

// Keys seal the secrets of one-time codes, so that who reads the database, or a backup of it, can make no codes. The first
// seals; the others only open what was sealed before a change of keys.
type Keys []Key

// A Key is 32 random bytes for AES-256-GCM (NIST SP 800-38D).
type Key [32]byte

// NewKey makes one.
func NewKey() Key {
	var k Key
	rand.Read(k[:]) // never fails
	return k
}

// String is how a key is written down: base 64.
func (k Key) String() string { return base64.StdEncoding.EncodeToString(k[:]) }

// ReadKeys reads keys that are separated by commas or white space.
func ReadKeys(text string) (Keys, error) {
	var keys Keys
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' || r == '\n' || r == '\r' || r == '\t' }) {
		b, err := base64.StdEncoding.DecodeString(word)
		if err != nil || len(b) != len(Key{}) {
			return nil, errs.New(errs.Invalid, "a key is 32 random bytes in base 64, as made by: head -c 32 /dev/urandom | base64")
		}
		keys = append(keys, Key(b))
	}
	return keys, nil
}

// A sealed secret is a version byte, four bytes that name the key, the nonce, and the secret with its tag. The member it
// belongs to is part of what is authenticated: moved to another row it does not open.
const (
	sealVersion = 1
	sealSize    = 5
)

func (k Key) seal() string {
	sum := sha256.Sum256(append([]byte("tussock key "), k[:]...))
	return string(append([]byte{sealVersion}, sum[:sealSize-1]...))
}

func (k Key) aead() cipher.AEAD {
	block, err := aes.NewCipher(k[:])
	if err != nil {
		panic("account: " + err.Error()) // 32 bytes are always right
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		panic("account: " + err.Error())
	}
	return gcm
}

func owner(coop, person access.ID) []byte { return []byte("code secret " + coop + " " + person) }

// seal returns the secret as it is kept: in the open where there is no key.
func (keys Keys) seal(coop, person access.ID, secret []byte) []byte {
	if len(keys) == 0 {
		return secret
	}
	gcm := keys[0].aead()
	nonce := make([]byte, gcm.NonceSize())
	rand.Read(nonce) // never fails
	return gcm.Seal(append([]byte(keys[0].seal()), nonce...), nonce, secret, owner(coop, person))
}

// open returns the secret, also one that was kept in the open. errs.Unavailable where it was sealed with another key.
func (keys Keys) open(coop, person access.ID, kept []byte) ([]byte, error) {
	if len(kept) <= secretSize {
		return kept, nil
	}
	for _, k := range keys {
		gcm := k.aead()
		if string(kept[:sealSize]) != k.seal() || len(kept) < sealSize+gcm.NonceSize() {
			continue
		}
		nonce, rest := kept[sealSize:sealSize+gcm.NonceSize()], kept[sealSize+gcm.NonceSize():]
		secret, err := gcm.Open(nil, nonce, rest, owner(coop, person))
		if err != nil {
			return nil, fmt.Errorf("open the secret of one-time codes: %w", err)
		}
		return secret, nil
	}
	return nil, errs.Hide(errs.Unavailable, "One-time codes cannot be checked just now. Use a recovery code or a passkey, and tell your coordinator.",
		errors.New("a secret of one-time codes is sealed with a key that this server does not have"))
}

// SealSecrets seals with the first key what is in the open or sealed with an older one, and tells how many it sealed and how
// many are sealed with a key that is not among ours.
func (s *Service) SealSecrets(ctx context.Context) (sealed, foreign int, err error) {
	if len(s.keys) == 0 {
		return 0, 0, nil
	}
	list, err := s.db.CodeUnsealed(ctx, s.keys[0].seal())
	if err != nil {
		return 0, 0, err
	}
	for _, old := range list {
		secret, err := s.keys.open(old.Coop, old.Person, old.Secret)
		if errors.Is(err, errs.Unavailable) {
			foreign++
			continue
		}
		if err != nil {
			return sealed, foreign, err
		}
		if err := s.db.ResealCode(ctx, old, s.keys.seal(old.Coop, old.Person, secret)); err != nil {
			return sealed, foreign, err
		}
		sealed++
	}
	return sealed, foreign, nil
}
