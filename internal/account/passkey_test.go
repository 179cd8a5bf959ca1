package account_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"testing"

	"github.com/fxamacker/cbor/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

const home = "https://tussock.example.org"

// An authenticator is a passkey's device, made from W3C Web Authentication, level 3: authenticator data (6.1), attested
// credential data (6.5.1), attestation "none" (8.7), signatures over authenticator data and the hash of the client data
// (6.3.3); keys as COSE has them (RFC 9053, section 2.1, ES256).
type authenticator struct {
	t      *testing.T
	key    *ecdsa.PrivateKey
	id     []byte
	handle []byte // whose it is
	count  uint32
	flags  byte // user present and verified
	origin string
	name   string // the relying party's
}

func newAuthenticator(t *testing.T) *authenticator {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	id := make([]byte, 32)
	rand.Read(id)
	return &authenticator{t: t, key: key, id: id, flags: 0x05, origin: home, name: "tussock.example.org"}
}

var b64 = base64.RawURLEncoding.EncodeToString

func (k *authenticator) clientData(kind, challenge string) []byte {
	return k.json(map[string]any{"type": kind, "challenge": challenge, "origin": k.origin, "crossOrigin": false})
}

func (k *authenticator) json(v any) []byte {
	k.t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		k.t.Fatal(err)
	}
	return b
}

func (k *authenticator) data(flags byte) []byte {
	name := sha256.Sum256([]byte(k.name))
	return binary.BigEndian.AppendUint32(append(name[:], flags), k.count)
}

// make answers the options of NewPasskey.
func (k *authenticator) make(options []byte) []byte {
	k.t.Helper()
	var o struct {
		PublicKey struct {
			Challenge string
			RP        struct{ ID string }
			User      struct{ ID string }
		}
	}
	if err := json.Unmarshal(options, &o); err != nil {
		k.t.Fatal(err)
	}
	if o.PublicKey.RP.ID != k.name {
		k.t.Fatalf("the passkey would belong to %q", o.PublicKey.RP.ID)
	}
	var err error
	if k.handle, err = base64.RawURLEncoding.DecodeString(o.PublicKey.User.ID); err != nil {
		k.t.Fatal(err)
	}
	public, err := k.key.PublicKey.ECDH()
	if err != nil {
		k.t.Fatal(err)
	}
	point := public.Bytes() // 4, x, y
	cose, err := cbor.Marshal(map[int]any{1: 2, 3: -7, -1: 1, -2: point[1:33], -3: point[33:]})
	if err != nil {
		k.t.Fatal(err)
	}
	data := append(k.data(k.flags|0x40), make([]byte, 16)...)
	data = binary.BigEndian.AppendUint16(data, uint16(len(k.id)))
	data = append(append(data, k.id...), cose...)
	object, err := cbor.Marshal(map[string]any{"fmt": "none", "attStmt": map[string]any{}, "authData": data})
	if err != nil {
		k.t.Fatal(err)
	}
	return k.json(map[string]any{"id": b64(k.id), "rawId": b64(k.id), "type": "public-key", "response": map[string]any{
		"clientDataJSON": b64(k.clientData("webauthn.create", o.PublicKey.Challenge)), "attestationObject": b64(object)}})
}

// answer answers the options of AskPasskey.
func (k *authenticator) answer(options []byte) []byte {
	k.t.Helper()
	var o struct {
		PublicKey struct{ Challenge, UserVerification string }
	}
	if err := json.Unmarshal(options, &o); err != nil {
		k.t.Fatal(err)
	}
	if o.PublicKey.UserVerification != "required" {
		k.t.Errorf("user verification is %q, want required", o.PublicKey.UserVerification)
	}
	k.count++
	client, data := k.clientData("webauthn.get", o.PublicKey.Challenge), k.data(k.flags)
	hash := sha256.Sum256(client)
	digest := sha256.Sum256(append(append([]byte{}, data...), hash[:]...))
	signature, err := ecdsa.SignASN1(rand.Reader, k.key, digest[:])
	if err != nil {
		k.t.Fatal(err)
	}
	return k.json(map[string]any{"id": b64(k.id), "rawId": b64(k.id), "type": "public-key", "response": map[string]any{
		"clientDataJSON": b64(client), "authenticatorData": b64(data), "signature": b64(signature), "userHandle": b64(k.handle)}})
}

// register gives an actor a passkey.
func (h *hall) register(t *testing.T, a access.Actor) *authenticator {
	t.Helper()
	ctx := context.Background()
	k := newAuthenticator(t)
	options, err := h.NewPasskey(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.AddPasskey(ctx, a, "my phone", k.make(options)); err != nil {
		t.Fatal(err)
	}
	return k
}

func (h *hall) actor(t *testing.T, session string) access.Actor {
	t.Helper()
	a, err := h.Service.Actor(context.Background(), session)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestPasskey(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	k := h.register(t, ada)
	browser := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	ask := func() []byte {
		t.Helper()
		options, err := h.AskPasskey(ctx, access.Actor{}, browser)
		if err != nil {
			t.Fatal(err)
		}
		return options
	}

	answer := k.answer(ask())
	in, err := h.SignInWithPasskey(ctx, answer, browser)
	if err != nil {
		t.Fatal(err)
	}
	if got := h.actor(t, in.Session); got.Person != ada.Person {
		t.Errorf("came in as %s, want %s", got.Name, ada.Name)
	}
	if _, err := h.SignInWithPasskey(ctx, answer, browser); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("the same answer again: %v, want unauthenticated", err)
	}
	if in, err := h.SignInWithPasskey(ctx, k.answer(ask()), browser); err != nil || in.Code {
		t.Errorf("a second time: %+v, %v", in, err)
	}

	for name, answer := range map[string]func() []byte{
		"another browser's challenge": func() []byte {
			o, err := h.AskPasskey(ctx, access.Actor{}, account.Visit{Browser: postgres.NewToken()})
			if err != nil {
				t.Fatal(err)
			}
			ask()
			return k.answer(o)
		},
		"no challenge": func() []byte {
			return k.answer([]byte(`{"publicKey":{"challenge":"AAAA","userVerification":"required"}}`))
		},
		"no answer":      func() []byte { ask(); return []byte("{}") },
		"another site's": func() []byte { f := *k; f.origin = "https://tussock.example.org.evil.example"; return f.answer(ask()) },
		"another name's": func() []byte { f := *k; f.name = "evil.example"; return f.answer(ask()) },
		"unverified":     func() []byte { f := *k; f.flags = 0x01; return f.answer(ask()) },
		"another key":    func() []byte { f := *newAuthenticator(t); f.id, f.handle = k.id, k.handle; return f.answer(ask()) },
		"a copy, behind": func() []byte { f := *k; f.count = 0; return f.answer(ask()) },
		"somebody else's": func() []byte {
			f := *k
			f.handle = append([]byte{}, k.handle...)
			f.handle[31] ^= 1
			return f.answer(ask())
		},
		"a handle too long": func() []byte { f := *k; f.handle = append(k.handle, 0); return f.answer(ask()) },
		"not registered":    func() []byte { f := *newAuthenticator(t); f.handle = k.handle; return f.answer(ask()) },
	} {
		if in, err := h.SignInWithPasskey(ctx, answer(), browser); !errors.Is(err, errs.Unauthenticated) || in.Session != "" {
			t.Errorf("%s: got %+v, %v, want unauthenticated", name, in, err)
		}
	}

	// Nobody who was kept out comes in with one.
	h.As(t, h.boss, func(tx *postgres.Tx) error { return tx.Suspend(ada.Person) })
	if _, err := h.SignInWithPasskey(ctx, k.answer(ask()), browser); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("suspended: %v, want unauthenticated", err)
	}
	h.As(t, h.boss, func(tx *postgres.Tx) error { return tx.Restore(ada.Person) })
	in, err = h.SignInWithPasskey(ctx, k.answer(ask()), browser)
	if err != nil {
		t.Fatal(err)
	}
	a := h.actor(t, in.Session)
	var keys []postgres.Passkey
	h.As(t, a, func(tx *postgres.Tx) (err error) { keys, err = tx.Passkeys(); return err })
	if len(keys) != 1 || keys[0].Name != "my phone" || keys[0].UsedAt.IsZero() {
		t.Fatalf("passkeys = %+v", keys)
	}
	if err := h.RemovePasskey(ctx, h.boss, keys[0].ID); !errors.Is(err, errs.NotFound) {
		t.Errorf("the coordinator removes it: %v", err)
	}
	if err := h.RemovePasskey(ctx, a, keys[0].ID); err != nil {
		t.Fatal(err)
	}
	if _, err := h.SignInWithPasskey(ctx, k.answer(ask()), browser); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("removed: %v, want unauthenticated", err)
	}
}

func TestNewPasskey(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	k := h.register(t, ada)
	options := func() []byte {
		t.Helper()
		o, err := h.NewPasskey(ctx, ada)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	for name, tt := range map[string]struct {
		label  string
		answer func() []byte
	}{
		"unverified": {"x", func() []byte { f := newAuthenticator(t); f.flags = 0x01; return f.make(options()) }},
		"elsewhere":  {"x", func() []byte { f := newAuthenticator(t); f.origin = "https://evil.example"; return f.make(options()) }},
		"no name":    {" ", func() []byte { return newAuthenticator(t).make(options()) }},
		"junk":       {"x", func() []byte { options(); return []byte("junk") }},
		"not asked":  {"x", func() []byte { return nil }},
	} {
		if err := h.AddPasskey(ctx, ada, tt.label, tt.answer()); !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: got %v, want invalid", name, err)
		}
	}
	if err := h.AddPasskey(ctx, ada, "twice", k.make(options())); err == nil {
		t.Error("the same passkey was kept twice")
	}
	if h.HasPasskeys() != true {
		t.Error("no passkeys over https")
	}
	for _, address := range []string{"", "http://tussock.example.org", "http://127.0.0.1:8080"} {
		if account.New(h.DB, account.Options{URL: address}).HasPasskeys() {
			t.Errorf("passkeys at %q, where browsers make none", address)
		}
	}
	if !account.New(h.DB, account.Options{URL: "http://localhost:8080"}).HasPasskeys() {
		t.Error("no passkeys on this very machine")
	}
}
