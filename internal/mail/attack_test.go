package mail_test

import (
	"context"
	"strings"
	"testing"

	"tussock/internal/mail"
	"tussock/internal/mail/mailtest"
)

// TestLettersCannotBeSplit: whatever is in an address, a subject or a text, one letter arrives for one person with one set
// of header lines, or none arrives. (RFC 5322, section 2.2: a field ends with its line.)
func TestLettersCannotBeSplit(t *testing.T) {
	box := mailtest.New(t)
	s, err := mail.Open(box.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	letters := []mail.Letter{
		{To: "ada@example.org", Subject: "Hello\r\nBcc: eve@evil.example\r\n\r\nBought", Text: "a"},
		{To: "ada@example.org\r\nBcc: eve@evil.example", Subject: "Hello", Text: "b"},
		{To: "ada@example.org, eve@evil.example", Subject: "Hello", Text: "c"},
		{To: "ada@example.org", Subject: "Hello", Text: "d\r\n.\r\nMAIL FROM:<x@evil.example>\r\nRCPT TO:<eve@evil.example>\r\nDATA\r\nSubject: evil\r\n\r\nbought\r\n.\r\n"},
		{To: `"a\r\nRCPT TO:<eve@evil.example>"@example.org`, Subject: "Hello", Text: "e"},
		{To: "ada@example.org", Subject: "\nX-Evil: 1", Text: "\n.\nf"},
	}
	for _, l := range letters {
		s.Later(func(context.Context) ([]mail.Letter, error) { return []mail.Letter{l}, nil })
	}
	s.Close()
	for _, l := range box.All() {
		if !strings.HasSuffix(l.To, "@example.org") { // what stands before it may be as odd as quotes allow
			t.Errorf("a letter for %q", l.To)
		}
		for name, values := range l.Header {
			if name == "Bcc" || name == "X-Evil" || strings.Contains(name, "Evil") || strings.ContainsAny(strings.Join(values, ""), "\r\n") {
				t.Errorf("the header line %s: %q", name, values)
			}
		}
		if l.Subject == "evil" {
			t.Error("a letter within a letter")
		}
	}
	if n := len(box.All()); n < 3 || n > len(letters) {
		t.Errorf("%d letters arrived", n)
	}
}
