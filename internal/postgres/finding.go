package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/findings"
)

// What changes a ranch's rows works out its findings in the same transaction and keeps them (tussock.finding, under the rows' own
// policy): the clerk (after the last of the sheets of a ranch that wait), Send, undoing and restoring. A trigger forgets them whenever
// an upload or the ranch's name changes, so that a road that does not keep them leaves none rather than old ones; the next look then
// works them out once, as a clerk does for every ranch when it starts with a new method. A change of a number or a sentence of package
// findings raises findings.Method; findings.TestMethod says when, and findings.TestKeptWhole fails where a new field is not kept. A
// program's token only reads, so what it finds missing is worked out and not kept. The plan reads the ranch's past here too.
//
// Not kept are the shares of the animals (MixOf): they start from what their reader may see of what is published, and are made of 200
// nests at most. What a biologist sees of ranches shared by name is still computed at each look, and beside a sheet of 20 MB not in
// time; so are the rows behind how far two people agree.

// Findings returns what a ranch's rows come to, of all seasons. They are kept by whoever changes the rows; where they are
// missing, as under a new method, they are worked out and kept (in a transaction that only reads, worked out alone). Those who
// may send for the ranch or own it; others get errs.NotFound.
func (tx *Tx) Findings(ranch access.ID) (*findings.Result, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	var found *findings.Result
	err := native(tx.conn, func(c *pgx.Conn) (err error) {
		at := findingsOf{tx.ctx, c, tx.actor.Coop, ranch}
		if found, err = at.kept(); err != nil || found != nil {
			return err
		}
		if tx.reading {
			found, err = at.compute()
			return err
		}
		found, err = at.settle()
		return err
	})
	return found, err
}

// keepFindings works out and keeps what a ranch's rows come to, where its rows have changed in this transaction.
func (tx *Tx) keepFindings(ranch access.ID) error {
	_, err := tx.Findings(ranch)
	return err
}

// findingsOf are the findings of one ranch on one connection.
type findingsOf struct {
	ctx   context.Context
	conn  *pgx.Conn
	coop  access.ID
	ranch access.ID
}

// kept returns what is kept, nil where nothing is.
func (f findingsOf) kept() (*findings.Result, error) {
	var body []byte
	err := f.conn.QueryRow(f.ctx, "SELECT body FROM tussock.finding WHERE coop_id = $1 AND ranch_id = $2 AND method = $3",
		string(f.coop), string(f.ranch), findings.Method).Scan(&body)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return findings.Unpack(body)
}

// settle returns what is kept, or works it out and keeps it: alone, so that no rows change between (see the trigger
// forget_findings) and it is done once.
func (f findingsOf) settle() (*findings.Result, error) {
	if _, err := f.conn.Exec(f.ctx, "SELECT pg_advisory_xact_lock(hashtextextended('findings of ' || $1, 0))", string(f.ranch)); err != nil {
		return nil, err
	}
	found, err := f.kept()
	if err != nil || found != nil {
		return found, err
	}
	if found, err = f.compute(); err != nil {
		return nil, err
	}
	body, err := found.Pack()
	if err != nil {
		return nil, err
	}
	_, err = f.conn.Exec(f.ctx, "INSERT INTO tussock.finding (coop_id, ranch_id, method, body) VALUES ($1, $2, $3, $4)",
		string(f.coop), string(f.ranch), findings.Method, body)
	return found, err
}

// catchUp works out the findings of one ranch that has none under this method, and tells whether there was one.
func (c *Clerk) catchUp(ctx context.Context) (found bool, err error) {
	f := findingsOf{ctx: ctx, conn: c.conn}
	err = pgx.BeginFunc(ctx, c.conn, func(tx pgx.Tx) error {
		err := tx.QueryRow(ctx, `SELECT u.coop_id::text, u.ranch_id::text FROM tussock.upload u
			WHERE NOT EXISTS (SELECT 1 FROM tussock.finding f WHERE f.coop_id = u.coop_id AND f.ranch_id = u.ranch_id AND f.method = $1)
			LIMIT 1`, findings.Method).Scan(&f.coop, &f.ranch)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		found = true
		if err == nil {
			_, err = f.settle()
		}
		return err
	})
	return found, err
}

// compute works the findings out of the ranch's rows. Whatever else they rest on (what is published, settings of the cooperative) is loaded here too, and what
// changes it forgets the findings of all ranches of the cooperative by a trigger of its own.
func (f findingsOf) compute() (*findings.Result, error) {
	r := Ranch{ID: f.ranch}
	if err := f.conn.QueryRow(f.ctx, "SELECT name FROM tussock.ranch WHERE coop_id = $1 AND id = $2", string(f.coop), string(f.ranch)).Scan(&r.Name); err != nil {
		return nil, err
	}
	roster := map[access.ID]Ranch{f.ranch: r}
	from := current(f.coop, roster, 0)
	from.private = false // no figure is made of what leads back to a nest
	d, err := load(f.ctx, f.conn, from, roster)
	if err != nil {
		return nil, err
	}
	keys, err := keysOf(f.ctx, f.conn, f.coop)
	if err != nil {
		return nil, err
	}
	return findings.Compute(d, findings.Options{Key: keys}), nil
}
