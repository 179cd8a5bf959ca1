package account

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// The limits of a password: long rather than contrived, as OWASP ASVS 5.0 asks (6.2.1, 6.2.5, 6.2.9). The upper one
// bounds the work of hashing.
const (
	passwordMin = 10  // characters; the pages advise 15
	passwordMax = 256 // bytes
)

// Passwords that guessers try first; common/SOURCE.md says where they are from.
//
//go:embed common/passwords.txt.gz
var commonPasswords []byte

// readCommon unpacks them: a set of lower-case words.
func readCommon() map[string]struct{} {
	z, err := gzip.NewReader(bytes.NewReader(commonPasswords))
	if err != nil {
		panic("account: the embedded passwords: " + err.Error())
	}
	text, err := io.ReadAll(z)
	if err != nil {
		panic("account: the embedded passwords: " + err.Error())
	}
	words := map[string]struct{}{}
	for word := range strings.Lines(string(text)) {
		words[strings.TrimSuffix(word, "\n")] = struct{}{}
	}
	return words
}

// checkPassword refuses a password that is short or that somebody would guess early: a common one (ASVS 6.2.4, 6.2.12),
// one with little more than the names of its context in it (6.2.11), a short pattern over and over. It asks for no kinds
// of character (6.2.5).
func (s *Service) checkPassword(password string, context ...string) error {
	switch {
	case utf8.RuneCountInString(password) < passwordMin:
		return errs.New(errs.Invalid, words.Mark("Choose a password of 10 characters or more. A few words together are good and easy to keep in mind."))
	case len(password) > passwordMax:
		return errs.New(errs.Invalid, words.Mark("That password is too long. 256 characters are the most."))
	case !utf8.ValidString(password):
		return errs.New(errs.Invalid, words.Mark("That password has characters in it that cannot be read. Choose another."))
	}
	plain := strings.ToLower(password)
	switch {
	case s.isCommon(plain) || isPattern(plain):
		return errs.New(errs.Invalid, words.Mark("That password is one of those that are guessed first. Choose another: four words that have nothing to do with each other are good."))
	case s.isContext(plain, context):
		return errs.New(errs.Invalid, words.Mark("That password is little more than a name that others know. Choose another: four words that have nothing to do with each other are good."))
	}
	return nil
}

// isCommon also finds a common word behind a year or a few signs, and one written twice.
func (s *Service) isCommon(plain string) bool {
	words := s.common()
	if _, ok := words[plain]; ok {
		return true
	}
	core := strings.TrimFunc(plain, func(r rune) bool { return !unicode.IsLetter(r) })
	if _, ok := words[core]; ok && utf8.RuneCountInString(plain)-utf8.RuneCountInString(core) <= 6 {
		return true
	}
	_, ok := words[unit(plain)]
	return ok
}

// isPattern finds a few characters over and over, and characters that follow each other: aaaaaaaaaa, abcabcabcabc,
// abcdefghijk.
func isPattern(plain string) bool {
	if utf8.RuneCountInString(unit(plain)) <= 4 {
		return true
	}
	runes := []rune(plain)
	step := runes[1] - runes[0]
	for i := 1; i < len(runes); i++ {
		if runes[i]-runes[i-1] != step {
			return false
		}
	}
	return step == 1 || step == -1
}

// unit is the shortest string that s repeats: s itself where it repeats nothing.
func unit(s string) string {
	// A string that is a turn of itself repeats what it was turned by.
	return s[:1+strings.Index((s + s)[1:], s)]
}

// isContext tells whether less than six characters are left of a password, or a common one, without the names that
// stand around it.
func (s *Service) isContext(plain string, context []string) bool {
	rest := plain
	for _, phrase := range append(context, "tussock") {
		for _, word := range strings.FieldsFunc(strings.ToLower(phrase), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if utf8.RuneCountInString(word) >= 3 {
				rest = strings.ReplaceAll(rest, word, "")
			}
		}
	}
	if rest == plain {
		return false
	}
	return utf8.RuneCountInString(strings.TrimSpace(rest)) < 6 || s.isCommon(rest)
}
