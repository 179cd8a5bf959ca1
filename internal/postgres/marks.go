package postgres

import (
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/names"
	"tussock/internal/words"
)

// Marks returns what the figures of a season are held against: the targets of its opening, or of the next one that opened where it never did, else the
// latest that were set by the end of its year. Where none were they are findings.CommonMarks. Every member may read them.
func (tx *Tx) Marks(season int) (findings.Marks, error) {
	return tx.targets(`coalesce((SELECT s.targets FROM tussock.season s WHERE s.coop_id = @coop AND s.year >= @season AND s.opened_at IS NOT NULL ORDER BY s.year LIMIT 1),
		(SELECT max(x.version) FROM tussock.targets x WHERE x.coop_id = @coop AND x.set_at < make_date(@season + 1, 1, 1)))`, season)
}

// LatestMarks returns those of the seasons that are yet to open. Every member may read them.
func (tx *Tx) LatestMarks() (findings.Marks, error) {
	return tx.targets("(SELECT max(x.version) FROM tussock.targets x WHERE x.coop_id = @coop)", 0)
}

func (tx *Tx) targets(version statement, season int) (findings.Marks, error) {
	var row struct {
		Cover, Hope, FirstCheck, LastCheck int
		Source                             string
	}
	ok, err := tx.row(&row, "SELECT cover, hope, first_check, last_check, source FROM tussock.targets WHERE coop_id = @coop AND version = "+version, map[string]any{"season": season})
	if err != nil || !ok {
		return findings.CommonMarks, err
	}
	return findings.Marks{Cover: float64(row.Cover), Hope: float64(row.Hope) / 100, First: row.FirstCheck, Last: row.LastCheck, From: row.Source}, nil
}

// SetMarks sets them, in whole clumps and whole nests of 100, for the seasons that open from now on; every member reads it. The same again is no
// change. The coordinator; others get errs.Forbidden.
func (tx *Tx) SetMarks(m findings.Marks) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	var err error
	if m.From, err = names.Source(m.From); err != nil {
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
	case m.From == "":
		return errs.New(errs.Invalid, words.Mark("Say where the targets come from: a book, an agency, a vote of yours, or “common practice”."))
	}
	if err := tx.nameless(m.From); err != nil {
		return err
	}
	m.Cover, m.Hope = float64(int(m.Cover)), float64(hope)/100
	if now, err := tx.LatestMarks(); err != nil || now == m {
		return err
	}
	_, err = tx.exec(`INSERT INTO tussock.targets (coop_id, set_by, cover, hope, first_check, last_check, source) VALUES (@coop, @me, @cover, @hope, @first, @last, @source)`,
		map[string]any{"cover": int(m.Cover), "hope": hope, "first": m.First, "last": m.Last, "source": m.From})
	return err
}
