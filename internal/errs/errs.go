// Package errs gives every failure a kind and a sentence that is safe to show.
//
// The sentence is for the person at the screen: what happened and what to do. The cause is for the log and never
// leaves it. An error without a kind is internal.
package errs

import "errors"

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
	message     string
}

// New returns a failure of the given kind with a sentence for the user.
func New(kind error, message string) error { return &failure{kind: kind, message: message} }

// Hide returns a failure whose cause goes to the log only.
func Hide(kind error, message string, cause error) error {
	return &failure{kind: kind, message: message, cause: cause}
}

func (f *failure) Error() string {
	if f.cause != nil {
		return f.message + ": " + f.cause.Error()
	}
	return f.message
}

func (f *failure) Unwrap() []error {
	if f.cause == nil {
		return []error{f.kind}
	}
	return []error{f.kind, f.cause}
}

// Message returns the sentence for the user, and false where err carries none.
func Message(err error) (string, bool) {
	if f, ok := errors.AsType[*failure](err); ok {
		return f.message, true
	}
	return "", false
}
