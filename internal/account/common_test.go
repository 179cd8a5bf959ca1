package account_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"tussock/internal/account"
	"tussock/internal/errs"
)

// What is refused beside common passwords; the rules are those of OWASP ASVS 5.0, 6.2.1 to 6.2.12.
func TestPasswords(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	link := h.invite(t, "ada.whitcomb@meadow-office.example")
	for i, tt := range []struct {
		name, password, says string // "" says it is taken
	}{
		{"a digit, a capital and a sign, but short", "A1!aaaaaa", "10 characters"},
		{"common", "qwertyuiop", "guessed first"},
		{"common, in capitals", "QWERTYUIOP", "guessed first"},
		{"common, with a year", "Sunshine2024", "guessed first"},
		{"common, with signs", "!!password!!", "guessed first"},
		{"common, twice", "monkeymonkey", "guessed first"},
		{"one character", "zzzzzzzzzzzz", "guessed first"},
		{"a short pattern", "xkqxkqxkqxkq", "guessed first"},
		{"a row", "ghijklmnopqr", "guessed first"},
		{"a row backwards", "9876543210", "guessed first"},
		{"our own name", "tussock-2026", "little more than a name"},
		{"the cooperative's", "Bluestem 99", "little more than a name"},
		{"their own", "AdaMarsh123", "little more than a name"},
		{"their address", "whitcomb.12", "little more than a name"},
		{"a name with enough beside it", "meadow0ffice", ""},
		{"not text", "\xff\xfe\xfd\xfc\xfb\xfa\xf9\xf8\xf7\xf6", "cannot be read"},
		{"no composition rules", "rain rain rain on the roof", ""},
		{"small letters only", "cornflakegiraffe", ""},
		{"the name among other words", "the tussock behind our barn", ""},
		{"other alphabets", "трава под снегом", ""},
		{"64 and more", strings.Repeat("four words ", 12), ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			token, called := link, "Ada Marsh"
			if tt.says == "" {
				token, called = h.invite(t, ""), "Ada Marsh "+strings.Repeat(string(rune('b'+i)), 8)
			}
			_, err := h.Accept(ctx, token, account.Acceptance{Name: called, Email: strings.ToLower(strings.ReplaceAll(t.Name(), "/", ".")) + "@example.org", Password: tt.password}, "")
			if tt.says == "" {
				if err != nil {
					t.Errorf("refused: %v", err)
				}
				return
			}
			if message, _ := errs.Message(err); !errors.Is(err, errs.Invalid) || !strings.Contains(message, tt.says) {
				t.Errorf("got %v, want a sentence with %q", err, tt.says)
			}
		})
	}
}
