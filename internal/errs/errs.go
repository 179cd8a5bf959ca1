// Package errs gives every failure a kind and a sentence that is safe to show.
//
// The sentence is for the person at the screen: what happened and what to do. The cause is for the log and never
// leaves it. An error without a kind is internal.
package errs

import (
	"errors"

	"tussock/internal/words"
)

// The kinds of failure. Test with errors.Is.
var (
	Invalid         = errors.New("invalid")
	Unauthenticated = errors.New("unauthenticated")
	Forbidden       = errors.New("forbidden")
	NotFound        = errors.New("not found")
	Conflict        = errors.New("conflict")
	TooLarge        = errors.New("too large")
	TooMany         = errors.New("too many") // asked too often in a short time
	Unavailable     = errors.New("unavailable")
)

type failure struct {
	kind, cause error
	phrase      words.Phrase
}

// New returns a failure of the given kind with a sentence for the user.
func New(kind error, message string) error { return Tell(kind, words.Later(message), nil) }

// Hide returns a failure whose cause goes to the log only.
func Hide(kind error, message string, cause error) error {
	return Tell(kind, words.Later(message), cause)
}

// Tell is Hide with a sentence that is filled in, and said in the reader's language. The cause may be nil.
func Tell(kind error, sentence words.Phrase, cause error) error {
	return &failure{kind: kind, phrase: sentence, cause: cause}
}

func (f *failure) Error() string {
	if f.cause != nil {
		return f.phrase.String() + ": " + f.cause.Error()
	}
	return f.phrase.String()
}

func (f *failure) Unwrap() []error {
	if f.cause == nil {
		return []error{f.kind}
	}
	return []error{f.kind, f.cause}
}

// Message returns the sentence for the user in English, and false where err carries none.
func Message(err error) (string, bool) { return MessageIn(words.Speaker{}, err) }

// MessageIn is Message in the speaker's language.
func MessageIn(say words.Speaker, err error) (string, bool) {
	if f, ok := errors.AsType[*failure](err); ok {
		return say.Tell(f.phrase), true
	}
	return "", false
}
