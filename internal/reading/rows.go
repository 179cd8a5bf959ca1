package reading

import (
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A Row is what one row of a sheet, or one sentence, says of one nest. Only what it says is set.
type Row struct {
	At       survey.Cell // the row
	Table    int         // which table of all that were read
	Ranch    string
	Site     string
	Season   int
	Line     string
	Nest     string
	Cover    survey.Substrate
	Plant    string
	SetOn    survey.Date
	Sets     bool // the row tells of the nest itself: one row a nest
	Waits    bool // a question about it is open, or it could not be read: the nest does not count yet
	Lineless bool // its sender said that it is not on the line of the row above
	Looks    []Look
	Remains  survey.Remains
	Guess    string
	LostHow  string
	Camera   string
	CameraOn survey.Date
	Notes    string
	Spot     survey.Spot
	EggsLeft int          // of the column of a nest a row; -1 where there is none
	EggsSet  int          // 0 where not said
	Because  lexicon.Mark // an end that the remarks tell of, beside a mere count of eggs
	Signs    bool         // the table asks for remains or a guess

	EggsCell, GuessCell, CameraCell, NestCell survey.Cell
	Unfound                                   survey.Cell  // a day of a check that is over, where no column of the table says what was found
	SecondMark                                lexicon.Mark // what a second person found at the last visit
}

// A Look is one visit as it was written.
type Look struct {
	On     survey.Date // 0 where a blank has none
	Mark   lexicon.Mark
	Eggs   int // -1 where not said
	Of     int
	Second lexicon.Mark
	Who    string
	At     survey.Cell
	Used   bool // the column says something in some row, so that a blank is a gap
	Before bool // it says that the nest was lost at a look before
	Worded bool // a word says what was found, not a number of eggs alone
	Failed bool // it says that the nest failed and not how
}

// A BeltRow is one belt, or one count of it.
type BeltRow struct {
	At       survey.Cell
	Ranch    string
	Site     string
	Season   int
	Line     string
	Whole    bool   // its table has no lines: the belt is of a whole pasture or ranch
	Belt     string // its own name, where several rows tell of one belt
	Long     bool   // one kind of clump a row: the rows of a belt follow one another
	LengthFt float64
	WidthFt  float64
	Counts   map[survey.Substrate]int
}

// A SiteRow is one pasture, or with an empty Name a ranch.
type SiteRow struct {
	At                               survey.Cell
	Ranch, Name, Owner, Region, Type string
	Acres                            float64
}

// A Sink takes the rows as they are read.
type Sink interface {
	Expect(rows, looks int) // about how many nests are to come and looks of each, where a table is long
	Nest(*Row)
	Belt(*BeltRow)
	Site(*SiteRow)
}
