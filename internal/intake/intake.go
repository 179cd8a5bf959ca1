// Package intake turns the sheets people send into checked survey values, or into the whole list of what stands in
// the way.
//
// Package reading sees what each row says; this package holds it against what a season can be: set before looked at,
// looked at within weeks, nothing after a loss. Nothing a sheet holds is guessed at in silence. What can be read goes
// through; what cannot be read is refused with its place and what to do; what is odd becomes a question; what was tidied
// is listed and can be taken back. Reading is a pure function of the files and the options, so an answer or an undo is
// simply an option of the next reading.
package intake

import (
	"io"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/reading"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
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
	RanchesHad     map[string]string // names that these had before, to what they are called now; where one has such a name now, that one is meant
	Season         int               // the season of dates without a year; 0 where none is given
	DateOrder      string            // "month" or "day" first in 03/04/2025; "" where the files show it
	Zero           survey.State      // what a 0 means where the sheet does not tell: Intact, Taken or ""
	PartLossIntact bool              // a nest with some eggs left counts as intact; the usual rule counts it as taken
	Words          map[string]string // what was settled before: "substrate/tasajillo" is "shrub", "state/hit" is "taken", "predator/coon" is "raccoon", "order" is "day"
	Answers        map[string]string // question ID to choice ID
	Undone         []string          // IDs of tidied notes the sender took back
	Today          survey.Date       // dates after it are refused; 0 allows any
	Say            words.Speaker     // of whoever reads the sentences; the zero Speaker speaks English. It changes nothing else
	Places         bool              // list where in the files each nest and belt stands
}

// A Result is one reading of a batch of files.
type Result struct {
	Data      survey.Data
	Waiting   []survey.Nest // nests that wait for an answer, as far as they could be read
	Refused   []inquiry.Problem
	Questions []inquiry.Question // open ones only, at most inquiry.MaxQuestions: must answer first, then please look
	Tidied    []inquiry.Tidied
	NotUsed   []inquiry.Aside // every filled cell that became nothing, with its reason
	Roles     []reading.Role  // how each column was read
	Sentences []string        // the first three nests read back in words
	Rows      int             // rows of data seen, whether they went through or not
	Words     map[string]string
	Misfits   []inquiry.Misfit // answers that settled nothing
	NestsAt   [][]survey.Cell  // with Options.Places: the rows each nest was read from
	BeltsAt   [][]survey.Cell

	choices []reading.Choice
}

// Read reads the files as one batch: nests may stand in one and their checks in another.
//
// The error is of a kind of package errs and comes only where nothing at all could be read.
func Read(files []File, opt Options) (*Result, error) {
	res, err := read(files, opt, nil)
	return better(files, opt, res, err)
}

// read reads the files with some choices of the reading the other way.
func read(files []File, opt Options, try map[string]int) (*Result, error) {
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, opt.Say.Say("No file came with it. Choose a season sheet, as .xlsx or CSV."))
	}
	log := inquiry.NewLog(opt.Say, opt.Answers, opt.Undone)
	books, err := openAll(files, log)
	defer func() {
		for _, b := range books {
			b.Close() // only temporary files were written
		}
	}()
	if len(books) == 0 {
		return nil, err
	}
	s := newSeason(log, opt)
	read, err := reading.Read(books, log, reading.Options{
		Ranch: lexicon.Tidy(opt.Ranch), Season: opt.Season, DateOrder: opt.DateOrder, Words: opt.Words, Answers: opt.Answers, Today: opt.Today, Weigh: try != nil, Try: try,
	}, s)
	if err != nil {
		return nil, err
	}
	nothing := func() error {
		return errs.New(errs.Invalid, opt.Say.Say("We found nothing in %s that we can read. We look for the line and the number of each nest, what it sits in, the day it was set, and the day and the finding of each check; or for belts with a length, a width and counts of clumps. Please look at the headings, or start from the blank workbook.", files[0].Name))
	}
	if !read.Found && len(log.Refused()) == 0 {
		return nil, nothing()
	}
	s.settle()
	if d := &s.out.Data; len(d.Nests)+len(d.Belts)+len(d.Sites)+len(s.out.Waiting)+len(log.Refused())+len(log.Questions())+len(log.Tidied()) == 0 {
		return nil, nothing() // tables, and nothing of them became anything: silence would look like a season without nests
	}
	s.out.Rows, s.out.Roles, s.out.choices = read.Rows, read.Roles, read.Choices
	s.out.Refused, s.out.Questions, s.out.Tidied, s.out.NotUsed = log.Refused(), log.Questions(), log.Tidied(), log.Asides()
	s.out.Words, s.out.Misfits = log.Settled(), log.Misfits()
	return &s.out, nil
}

// openAll opens every file; one that cannot be opened is refused and the others go on.
func openAll(files []File, log *inquiry.Log) (books []*sheet.Book, first error) {
	refuse := func(name string, err error) {
		if first == nil {
			first = err
		}
		message, _ := errs.Message(err)
		log.Refuse(survey.Cell{File: name}, "", message)
	}
	var flat []sheet.File
	for _, f := range files {
		inside, err := sheet.Unpack(f.Name, f.Data, log.Speaker)
		if err != nil {
			refuse(f.Name, err)
			continue
		}
		flat = append(flat, inside...)
	}
	for _, f := range flat {
		b, err := sheet.Open(f.Name, f.Data, log.Speaker)
		if err != nil {
			refuse(f.Name, err)
			continue
		}
		if b.Encoding != "" && !strings.HasPrefix(b.Encoding, "UTF") {
			log.Note(survey.Cell{File: f.Name}, "encoding", f.Name, "", func(*inquiry.Group) string {
				return log.Say("%s was saved in an older set of letters (%s); we read it so that ñ and é come out right.", f.Name, b.Encoding)
			})
		}
		books = append(books, b)
	}
	return books, first
}

// WriteTemplate writes the blank season workbook, explained by say.
func WriteTemplate(w io.Writer, say words.Speaker) error {
	return sheet.WriteWorkbook(w, voice{say}.template())
}
