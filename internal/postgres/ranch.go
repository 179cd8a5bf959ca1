package postgres

import (
	"time"

	"tussock/internal/access"
)

// A Ranch as those see it who may open it, and the coordinator's roster.
type Ranch struct {
	ID      access.ID
	Name    string
	Area    string // the cooperative's own area, "" where none is given
	Owner   string // the entity: the person or company behind the ranch
	Consent int    // the owner's level: 0 private, 1 in the anonymous comparisons, 2 named sharing, 3 show-case
}

// A Person is somebody who can open a ranch's results.
type Person struct {
	Name       string
	Role       access.Role
	Since      time.Time
	LastLooked time.Time // zero where they never did
}
