package account

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"strings"
	"unicode"
	"unicode/utf8"

	"tussock/internal/errs"
	"tussock/internal/words"
	"tussock/web"
)

// The limits of a password: long rather than contrived, as OWASP ASVS 5.0 asks (6.2.1, 6.2.5, 6.2.9). The upper one
// bounds the work of hashing.
const (
	passwordMin = 10  // characters; the pages advise 15
	passwordMax = 256 // bytes
)

// shortest is the length from which a common word counts: shorter ones stand in too many good passwords.
const shortest = 4

// readCommon returns the passwords that guessers try first, in lower case. The list comes from npm when the program is
// built; a program without it takes no new password.
func readCommon() (map[string]struct{}, error) {
	text, err := fs.ReadFile(web.FS, "passwords/common.json")
	if err != nil {
		return nil, fmt.Errorf("the list of common passwords was not there when the program was built; deploy/demo.sh, deploy/test.sh and the Dockerfile bring it: %w", err)
	}
	var list []string
	if err := json.Unmarshal(text, &list); err != nil {
		return nil, fmt.Errorf("read the list of common passwords: %w", err)
	}
	common := make(map[string]struct{}, len(list))
	for _, word := range list {
		if len(word) >= shortest {
			common[strings.ToLower(word)] = struct{}{}
		}
	}
	return common, nil
}

// Ready returns an error where the program was built without what new passwords are checked against.
func (s *Service) Ready() error {
	_, err := s.common()
	return err
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
	common, err := s.common()
	if err != nil {
		return err
	}
	plain := strings.ToLower(password)
	switch {
	case isCommon(common, plain) || isPattern(plain):
		return errs.New(errs.Invalid, words.Mark("That password is one of those that are guessed first. Choose another: four words that have nothing to do with each other are good."))
	case isContext(common, plain, context):
		return errs.New(errs.Invalid, words.Mark("That password is little more than a name that others know. Choose another: four words that have nothing to do with each other are good."))
	}
	return nil
}

// isCommon also finds a common word behind a year or a few signs, and one written twice.
func isCommon(common map[string]struct{}, plain string) bool {
	if _, ok := common[plain]; ok {
		return true
	}
	core := strings.TrimFunc(plain, func(r rune) bool { return !unicode.IsLetter(r) })
	if _, ok := common[core]; ok && utf8.RuneCountInString(plain)-utf8.RuneCountInString(core) <= 6 {
		return true
	}
	_, ok := common[unit(plain)]
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
func isContext(common map[string]struct{}, plain string, context []string) bool {
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
	return utf8.RuneCountInString(strings.TrimSpace(rest)) < 6 || isCommon(common, rest)
}
