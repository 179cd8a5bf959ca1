package postgres

import (
	"time"

	"tussock/internal/access"
	"tussock/internal/survey"
)

// The states of an upload. Only the rows of a current one count.
const (
	Current  = "current"
	Replaced = "replaced" // by a later upload that said so
	Undone   = "undone"   // taken back by those who may send for the ranch
)

// An Upload is one file somebody sent for one ranch, and what reading it gave.
type Upload struct {
	ID, Ranch access.ID
	RanchName string
	Season    int
	File      string // the name it was sent under
	Size      int    // bytes
	SHA256    string // of the bytes, in hexadecimal
	SentBy    string
	SentAt    time.Time
	State     string
	Replaces  access.ID // the upload it stands in for, or ""
	Nests     int       // rows read
	Belts     int
	Refused   int // rows refused
	Open      int // questions without an answer
}

// Settings are the sender's answers to how a file is to be read as a whole.
type Settings struct {
	DateOrder      string `json:"date_order,omitempty"` // "", "month", "day"
	Zero           string `json:"zero,omitempty"`       // what a 0 means: "", "intact", "taken"
	PartLossIntact bool   `json:"part_loss_intact,omitempty"`
}

// A Sending is a file with what was read from it.
type Sending struct {
	Ranch     access.ID
	File      string
	Data      []byte
	Season    int // 0: the latest season among the rows
	Rows      *survey.Data
	Refused   int            // rows refused
	Open      int            // questions without an answer
	OpenKinds map[string]int // the kinds of those questions: stable words without data, which the coordinator sees
	Answers   map[string]string
	Undone    []string // the tidied notes that the sender took back
	Settings  Settings
	Replaces  access.ID // an upload of the same ranch that this one stands in for, or ""
}

// A Reading is what a file gave when it was read again after answers.
type Reading struct {
	Season    int // 0: the latest season among the rows
	Rows      *survey.Data
	Refused   int
	Open      int
	OpenKinds map[string]int
	Answers   map[string]string
	Undone    []string
	Settings  Settings
}

// A Status is what the coordinator sees of an upload: that it is there and what still waits, no values.
type Status struct {
	Ranch     access.ID
	RanchName string
	Season    int
	SentAt    time.Time
	State     string
	Open      int
	OpenKinds map[string]int
}
