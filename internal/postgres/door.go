package postgres

import (
	"time"

	"tussock/internal/access"
)

// Credentials are what sign-in needs to check a password, and nothing else.
type Credentials struct {
	Coop, Person access.ID
	Cooperative  string
	Hash         string // argon2id, in PHC form
}

// A NewSession is a session about to be opened.
type NewSession struct {
	Coop, Person access.ID
	Token        string        // 64 hexadecimal digits; only its hash is kept
	Idle, Max    time.Duration // how long it lasts unused, and at all
	Agent        string        // what the browser calls itself, for the member's own list
}

// An Acceptance is what somebody invited fills in.
type Acceptance struct {
	Name  string
	Email string // used where the invitation names none
	Phone string
	Hash  string // of the password, argon2id in PHC form
}

// Cooperative is what a new cooperative starts with.
type Cooperative struct {
	Name        string
	Coordinator string // the first coordinator's name, may be ""
	Email       string // theirs, may be "": they type it when they accept
}
