// Package intake turns the sheets people send into checked survey values, or into the whole list of what stands in
// the way.
//
// Nothing a sheet holds is guessed at in silence. What can be read goes through; what cannot be read is refused with
// its place and what to do; what is odd becomes a question with a default that harms nothing; what was tidied is
// listed and can be taken back. Reading is a pure function of the files and the options, so an answer or an undo is
// simply an option of the next reading.
package intake

import (
	"tussock/internal/survey"
	tongue "tussock/internal/words"
)

// A File is one file as it was sent.
type File struct {
	Name string
	Data []byte
}

// Options are what the sender or the cooperative settles beforehand.
type Options struct {
	Ranch          string            // the ranch for rows that name none
	OnlyRanches    []string          // rows of other ranches are refused; nil allows any
	Season         int               // the season of dates without a year; 0 where none is given
	DateOrder      string            // "month" or "day" first in 03/04/2025; "" reads month first unless the file shows otherwise
	Zero           survey.State      // what a 0 means where the sheet does not tell: Intact, Taken or ""
	PartLossIntact bool              // a nest with some eggs left counts as intact; the usual rule counts it as taken
	Words          map[string]string // words settled before: "substrate/tasajillo" is "shrub", "state/hit" is "taken", "predator/coon" is "raccoon"
	Answers        map[string]string // question ID to choice ID
	Undone         []string          // IDs of tidied notes the sender took back
	Today          survey.Date       // dates after it are refused; 0 allows any
	Say            tongue.Speaker    // of whoever reads the sentences; the zero Speaker speaks English. It changes nothing else
}

// A Result is one reading of a batch of files.
type Result struct {
	Data      survey.Data
	Refused   []Problem
	Questions []Question // open ones only: must answer first, then please look
	Tidied    []Tidied
	NotUsed   []string          // a sentence for each column or tab nobody knows
	Sentences []string          // the first three nests read back in words
	Rows      int               // rows of data seen, whether they went through or not
	Words     map[string]string // words settled by answers, in the form Options.Words takes
}

// A Problem is a cell, row or file that could not be used. Row is 0 where the whole file or sheet is meant, Column ""
// where the whole row is.
type Problem struct {
	File    string `json:"file"`
	Sheet   string `json:"sheet"`
	Row     int    `json:"row"`
	Column  string `json:"column"`
	Value   string `json:"value"`
	Problem string `json:"problem"`
}

// A Weight says how much hangs on a question.
type Weight int

// MustAnswer holds the rows concerned back until it is answered; PleaseLook goes on with its default.
const (
	MustAnswer Weight = iota
	PleaseLook
)

// A Question groups all cells that one answer settles.
type Question struct {
	ID      string // the same at every reading of the same files
	Kind    string // a fixed word without any of the sheet's data
	Weight  Weight
	Text    string
	Choices []Choice
	Default string // the choice in force until it is answered; "" where the rows wait
	Cells   []survey.Cell
}

// A Choice is one answer.
type Choice struct{ ID, Label string }

// A Tidied note tells of a change made in reading, which the sender can take back by its ID.
type Tidied struct {
	ID, Kind, Text string
	Cells          []survey.Cell
}
