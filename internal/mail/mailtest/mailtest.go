// Package mailtest gives a test a mail server of its own, which keeps what arrives.
package mailtest

import (
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
)

// A Letter is what arrived.
type Letter struct {
	From, To, Subject, Text string
	Header                  netmail.Header
}

// A Box is the server.
type Box struct {
	URL string // for mail.Open

	mu      sync.Mutex
	letters []Letter
	refused map[string]int
}

// New starts a server that ends with the test.
func New(t testing.TB) *Box {
	t.Helper()
	b := &Box{refused: map[string]int{}}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &session{box: b}, nil }))
	server.Domain = "localhost"
	go server.Serve(listener)
	t.Cleanup(func() { server.Close() })
	b.URL = "smtp://" + listener.Addr().String() + "?from=tussock@example.org"
	return b
}

// Refuse answers letters to an address with a code.
func (b *Box) Refuse(to string, code int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.refused[to] = code
}

// All returns what has arrived so far.
func (b *Box) All() []Letter {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]Letter(nil), b.letters...)
}

// Wait returns the nth letter, from 1, as soon as it is there.
func (b *Box) Wait(t testing.TB, n int) Letter {
	t.Helper()
	for range 500 {
		if all := b.All(); len(all) >= n {
			return all[n-1]
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("letter %d did not arrive", n)
	return Letter{}
}

type session struct {
	box      *Box
	from, to string
}

func (s *session) Reset()        { s.from, s.to = "", "" }
func (s *session) Logout() error { return nil }

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	s.from = from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	if code := s.box.refused[to]; code != 0 {
		return &smtp.SMTPError{Code: code, Message: "no such mailbox " + to}
	}
	s.to = to
	return nil
}

func (s *session) Data(r io.Reader) error {
	m, err := netmail.ReadMessage(r)
	if err != nil {
		return err
	}
	body := m.Body
	if m.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
		body = quotedprintable.NewReader(body)
	}
	text, err := io.ReadAll(body)
	if err != nil {
		return err
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil {
		return err
	}
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	s.box.letters = append(s.box.letters, Letter{From: s.from, To: s.to, Subject: subject, Text: strings.ReplaceAll(string(text), "\r\n", "\n"), Header: m.Header})
	return nil
}
