package postgres

import (
	"strings"

	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/words"
)

// Marks returns what the cooperative holds its figures against: every member may read them.
func (tx *Tx) Marks() (findings.Marks, error) {
	var row struct {
		CoverMark, Hope, FirstCheck, LastCheck int
		MarksFrom                              string
	}
	_, err := tx.row(&row, "SELECT cover_mark, hope, first_check, last_check, marks_from FROM tussock.coop WHERE coop_id = @coop", nil)
	return findings.Marks{Cover: float64(row.CoverMark), Hope: float64(row.Hope) / 100, First: row.FirstCheck, Last: row.LastCheck, From: row.MarksFrom}, err
}

// SetMarks changes them, in whole clumps and whole nests of 100. The coordinator; others get errs.Forbidden.
func (tx *Tx) SetMarks(m findings.Marks) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	hope := int(100*m.Hope + 0.5)
	switch {
	case m.Cover < 20 || m.Cover > 5000:
		return errs.New(errs.Invalid, words.Mark("The cover target is from 20 to 5,000 clumps an acre."))
	case hope < 5 || hope > 95:
		return errs.New(errs.Invalid, words.Mark("The hope is from 5 to 95 of 100 nests."))
	case m.First < 1 || m.First > 60:
		return errs.New(errs.Invalid, words.Mark("The first check is from 1 to 60 days after set-out."))
	case m.Last > 120:
		return errs.New(errs.Invalid, words.Mark("The last check is from 2 to 120 days after set-out."))
	case m.Last <= m.First:
		return errs.New(errs.Invalid, words.Mark("The last check comes after the first."))
	case len([]rune(m.From)) > 300:
		return errs.New(errs.Invalid, words.Mark("Say where the targets come from in 300 letters or fewer."))
	}
	return tx.must(errNoMember, `UPDATE tussock.coop SET cover_mark = @cover, hope = @hope, first_check = @first, last_check = @last, marks_from = @from
		WHERE coop_id = @coop`, map[string]any{"cover": int(m.Cover), "hope": hope, "first": m.First, "last": m.Last, "from": strings.TrimSpace(m.From)})
}
