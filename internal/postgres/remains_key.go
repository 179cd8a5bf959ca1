package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/stat/predator"
	"tussock/internal/words"
)

// A RemainsKey is a version of the cooperative's key to remains. It counts for the seasons that open after it. Version 0 is common
// practice, which nobody set.
type RemainsKey struct {
	Version int
	Table   predator.Table
	SetBy   string // "" for somebody who has gone
	SetAt   time.Time
	Seasons []int // that opened with it, in order
}

// keyColumns are what keyTable makes a table of.
const keyColumns = "version, source, counted, lines::text AS lines"

// keyTable makes a table of what is kept.
func keyTable(source string, counted bool, lines string) (predator.Table, error) {
	t := predator.Table{Source: source}
	var list [][]any
	if err := json.Unmarshal([]byte(lines), &list); err != nil {
		return t, fmt.Errorf("read a key: %w", err)
	}
	for _, line := range list {
		if len(line) != 4 {
			continue
		}
		sign, _ := line[0].(string)
		answer, _ := line[1].(string)
		animal, _ := line[2].(string)
		number, _ := line[3].(float64)
		if counted {
			t.Counts = append(t.Counts, predator.Count{Sign: sign, Answer: answer, Animal: animal, Nests: int(number)})
		} else {
			t.Leanings = append(t.Leanings, predator.Leaning{Sign: sign, Answer: answer, Animal: animal, Times: number})
		}
	}
	return t, nil
}

// keyLines is the table as it is kept.
func keyLines(t predator.Table) (string, error) {
	list := [][]any{}
	for _, n := range t.Counts {
		list = append(list, []any{n.Sign, n.Answer, n.Animal, n.Nests})
	}
	if t.Assumed() {
		for _, l := range t.Leanings {
			list = append(list, []any{l.Sign, l.Answer, l.Animal, l.Times})
		}
	}
	text, err := json.Marshal(list)
	return string(text), err
}

// Keys lists the versions of the key, the latest first and common practice last: every member may read them.
func (tx *Tx) Keys() ([]RemainsKey, error) {
	var rows []struct {
		Version       int
		Source, Lines string
		Counted       bool
		SetBy         string
		SetAt         time.Time
	}
	err := tx.rows(&rows, `SELECT k.version, k.source, k.counted, k.lines::text AS lines, k.set_at, coalesce(l.by_name, '') AS set_by
		FROM tussock.remains_key k LEFT JOIN tussock.roster_log('-infinity') l ON l.kind = 'key' AND l.what = k.version::text
		WHERE k.coop_id = @coop ORDER BY k.version DESC`, nil)
	if err != nil {
		return nil, err
	}
	var opened []struct{ Year, RemainsKey int }
	if err := tx.rows(&opened, "SELECT year, remains_key FROM tussock.season WHERE coop_id = @coop AND opened_at IS NOT NULL ORDER BY year", nil); err != nil {
		return nil, err
	}
	list := make([]RemainsKey, 0, len(rows)+1)
	for _, r := range rows {
		t, err := keyTable(r.Source, r.Counted, r.Lines)
		if err != nil {
			return nil, err
		}
		list = append(list, RemainsKey{Version: r.Version, Table: t, SetBy: r.SetBy, SetAt: r.SetAt})
	}
	list = append(list, RemainsKey{})
	for i := range list {
		for _, s := range opened {
			if s.RemainsKey == list[i].Version {
				list[i].Seasons = append(list[i].Seasons, s.Year)
			}
		}
	}
	return list, nil
}

// SeasonTables returns the table with which each season is read: that of its opening, or of the next opening after it where it had none, or the
// latest. Every member may.
func (tx *Tx) SeasonTables() (of func(season int) predator.Table, err error) {
	err = native(tx.conn, func(c *pgx.Conn) error {
		of, err = keysOf(tx.ctx, c, tx.actor.Coop)
		return err
	})
	return of, err
}

// keysOf returns the tables with which a cooperative's seasons are read.
func keysOf(ctx context.Context, c *pgx.Conn, coop access.ID) (func(season int) predator.Table, error) {
	rows, err := c.Query(ctx, "SELECT "+keyColumns+" FROM tussock.remains_key WHERE coop_id = $1", string(coop))
	if err != nil {
		return nil, err
	}
	tables, latest := map[int]predator.Table{}, 0
	var version int
	var source, lines string
	var counted bool
	_, err = pgx.ForEachRow(rows, []any{&version, &source, &counted, &lines}, func() (err error) {
		latest = max(latest, version)
		tables[version], err = keyTable(source, counted, lines)
		return err
	})
	if err != nil {
		return nil, err
	}
	rows, err = c.Query(ctx, "SELECT year, remains_key FROM tussock.season WHERE coop_id = $1 AND opened_at IS NOT NULL ORDER BY year", string(coop))
	if err != nil {
		return nil, err
	}
	var years, opened []int
	var year, with int
	_, err = pgx.ForEachRow(rows, []any{&year, &with}, func() error {
		years, opened = append(years, year), append(opened, with)
		return nil
	})
	return func(season int) predator.Table {
		for i, year := range years {
			if year >= season {
				return tables[opened[i]]
			}
		}
		return tables[latest]
	}, err
}

// SetKey adds a version of the key, for the seasons that open from now on; the zero table is common practice again. The coordinator; others get
// errs.Forbidden. errs.Invalid where the table has no source, none that fits a line (names.Source), or one that names a ranch or a member (nameless). Every member reads it among the changes.
func (tx *Tx) SetKey(t predator.Table) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	var err error
	if t.Source, err = names.Source(t.Source); err != nil {
		return err
	}
	lines, err := keyLines(t)
	if err != nil {
		return err
	}
	switch {
	case lines == "[]":
		t.Source = ""
	case t.Source == "":
		return errs.New(errs.Invalid, words.Mark("Say where the table comes from: a book, a paper, an agency, your own cameras and years. The line stands beside every mix of animals."))
	}
	if err := tx.nameless(t.Source); err != nil {
		return err
	}
	_, err = tx.exec("INSERT INTO tussock.remains_key (coop_id, set_by, source, counted, lines) VALUES (@coop, @me, @source, @counted, CAST(@lines AS jsonb))",
		map[string]any{"source": t.Source, "counted": !t.Assumed(), "lines": lines})
	return err
}
