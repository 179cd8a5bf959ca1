package postgres

import (
	"encoding/json"

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
