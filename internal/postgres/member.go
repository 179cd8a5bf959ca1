package postgres

import (
	"time"

	"tussock/internal/access"
)

// A Member is a person of the cooperative as the coordinator sees them.
type Member struct {
	ID       access.ID
	Name     string
	Email    string
	Phone    string
	Role     access.Role
	Ranches  []string // names of those they own or are assigned to now
	LastSeen time.Time
	Left     bool
}

// An Invitation lets one person join by a link.
type Invitation struct {
	ID          access.ID
	Cooperative string
	Role        access.Role
	Name, Email string   // as the inviter wrote them; may be ""
	Ranches     []string // names
	InvitedBy   string
	CreatedAt   time.Time
	ExpiresAt   time.Time
	State       string // "open", "used", "expired", "revoked"
}

// An Area is a part of the cooperative. Areas of one Group are published together where one alone has too few
// landowners.
type Area struct {
	ID          access.ID
	Name, Group string
	Ranches     int
}
