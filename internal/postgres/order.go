package postgres

import (
	"time"

	"tussock/internal/access"
)

// What a press order asks for.
const (
	PreviewKind = "preview" // what would be published and what held, and why: no figures
	PublishKind = "publish" // freeze the season's bulletin
)

// The states of a press order.
const (
	Waiting = "waiting"
	Working = "working"
	Done    = "done"
	Failed  = "failed"
)

// A PressOrder asks the press for a preview or for the season's bulletin.
type PressOrder struct {
	ID         access.ID
	Season     int
	Kind       string
	State      string
	OrderedBy  string
	OrderedAt  time.Time
	FinishedAt time.Time // zero until then
	Note       string    // why it failed: a sentence for the coordinator
}

// A BulletinHead says that a season's bulletin exists.
type BulletinHead struct {
	Season      int
	Number      int // counts a cooperative's bulletins from 1
	PublishedAt time.Time
	Hash        string
}
