// Package fieldwork turns what people tap, write and count beside a nest into a season's sheet.
//
// What somebody saw is a Look. Looks are only ever added: a look taken back stays and is followed by one that says so, so
// that sending the same looks twice, in any order and from any number of phones, comes to the same sheet. Two people at
// one nest are two looks; where they contradict one another somebody chooses, and the choice is a look too.
//
// Fold makes of a season's looks the columns of our own blank workbook. From there they walk the road of every sheet
// that is sent: phone, paper and file cannot come to different results.
package fieldwork

import (
	"time"

	"tussock/internal/access"
)

// A Look is one thing somebody did or saw on a line, as it was written down there.
type Look struct {
	ID      access.ID         `json:"id"` // a random UUID made where the look was written down
	Ranch   access.ID         `json:"ranch"`
	Season  int               `json:"season"`
	Line    access.ID         `json:"line"`             // the planned line (season.Line)
	Stop    int               `json:"stop,omitempty"`   // the nest's number on its line; 0 for the line as a whole
	Kind    Kind              `json:"kind"`             //
	Who     string            `json:"who"`              // initials
	Device  string            `json:"device"`           // a phone's own random name; "paper" for a keyed sheet
	Seq     int               `json:"seq"`              // counts a device's looks, so that a wrong clock cannot shuffle them
	At      time.Time         `json:"at"`               // by the phone's clock
	Answers map[string]string `json:"answers"`          // by column, see Columns
	Undoes  access.ID         `json:"undoes,omitempty"` // the look that this one takes back

	Received time.Time `json:"received,omitzero"` // by the server's clock; set when it is kept

	// Sender is who was signed in when it came in, Link the field link by which it came, "-" where the reader may not know its name;
	// one of them is set when it is kept. Who is what somebody typed.
	Sender string `json:"-"`
	Owner  bool   `json:"-"` // whether Sender owns the ranch
	Link   string `json:"-"`
}

// A Kind says what a look is about.
type Kind string

// The kinds of look.
const (
	Set    Kind = "set"    // a nest was put out
	Check  Kind = "check"  // a nest was looked at
	Belt   Kind = "belt"   // clumps were counted
	Pace   Kind = "pace"   // somebody walked a measured distance to know their pace
	Close  Kind = "close"  // what was carried out at the end of the season
	Note   Kind = "note"   // a remark
	Undo   Kind = "undo"   // takes back the look in Undoes, and says nothing else
	Choose Kind = "choose" // of two looks that contradict one another, "keep" is the one that holds
)
