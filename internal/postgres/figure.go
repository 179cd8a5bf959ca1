package postgres

import (
	"context"
	"encoding/json"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
)

// Figures returns the frozen figures of a season (0: of all) and kind ("": of all) that the actor may see, the whole
// cooperative's before those of places. One that rests on too few landowners for this actor, or known to them but for too
// few, is not there: as if never published.
func (tx *Tx) Figures(season int, kind string) ([]bulletin.Figure, error) {
	var rows []struct {
		Season int
		Kind   string
		Place  *string
		Body   string
	}
	err := tx.rows(&rows, `SELECT season, kind, place, body::text AS body FROM pub.figure
		WHERE coop_id = @coop AND (@season = 0 OR season = @season) AND (@kind = '' OR kind = @kind)
		ORDER BY season, kind, place NULLS FIRST`, map[string]any{"season": season, "kind": kind})
	list := make([]bulletin.Figure, len(rows))
	for i, r := range rows {
		list[i] = bulletin.Figure{Season: r.Season, Kind: r.Kind, Place: r.Place, Body: json.RawMessage(r.Body)}
	}
	return list, err
}

// queueFigures freezes a bulletin's figures.
func queueFigures(batch *pgx.Batch, coop access.ID, b bulletin.Bulletin) {
	for i, f := range b.Figures {
		batch.Queue("INSERT INTO pub.figure (coop_id, season, row, kind, place, body, n) VALUES ($1, $2, $3, $4, $5, $6, $7)",
			string(coop), f.Season, i+1, f.Kind, f.Place, string(f.Body), f.N)
	}
}

// frozenFigures returns the figures of a season for the press: a final revision has those of the first edition. The
// database keeps a body's values and not its letters, so that it is written again as its type writes it.
func frozenFigures(ctx context.Context, tx pgx.Tx, coop access.ID, season int) ([]bulletin.Figure, error) {
	rows, err := tx.Query(ctx, "SELECT season, kind, place, body::text, n FROM pub.figure WHERE coop_id = $1 AND season = $2 ORDER BY row", string(coop), season)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (f bulletin.Figure, err error) {
		var body string
		if err = row.Scan(&f.Season, &f.Kind, &f.Place, &body, &f.N); err != nil {
			return f, err
		}
		f.Body = json.RawMessage(body)
		return f.Rewritten()
	})
}

// openQuestions returns the ranches whose current sheets of the order's season have questions left open.
func openQuestions(ctx context.Context, tx pgx.Tx, o Order) (map[string]bool, error) {
	rows, err := tx.Query(ctx, `SELECT r.name FROM tussock.ranch r
		WHERE r.coop_id = $1 AND EXISTS (SELECT 1 FROM tussock.upload u
			WHERE u.coop_id = r.coop_id AND u.ranch_id = r.id AND (u.season = $2 OR $2 = ANY (u.seasons)) AND u.state = 'current' AND u.open_count > 0)`, string(o.Coop), o.Season)
	if err != nil {
		return nil, err
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	left := map[string]bool{}
	for _, name := range names {
		left[name] = true
	}
	return left, err
}
