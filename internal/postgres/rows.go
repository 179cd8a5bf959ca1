package postgres

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/stdlib"

	"tussock/internal/access"
	"tussock/internal/survey"
)

// native hands out the driver's own connection, in the same transaction: for COPY, and for reading many rows with
// arrays in them.
func native(conn *sql.Conn, fn func(*pgx.Conn) error) error {
	return conn.Raw(func(driver any) error {
		c, ok := driver.(*stdlib.Conn)
		if !ok {
			return fmt.Errorf("the driver gave a %T for a connection", driver)
		}
		return fn(c.Conn())
	})
}

// A copied is one table's rows on their way in: COPY cannot write to a table under row-level security, so they go to a
// temporary twin first and from there, through the policies, in one INSERT.
type copied struct {
	table   statement
	columns []string
	length  int
	values  func(i int) ([]any, error)
}

// insertRows writes the rows of an upload.
func (tx *Tx) insertRows(ranch, upload access.ID, d *survey.Data) error {
	if d == nil {
		return nil
	}
	tables := []copied{nestsOf(d.Nests), beltsOf(d.Belts), sitesOf(d.Sites)}
	return native(tx.conn, func(c *pgx.Conn) error {
		for _, t := range tables {
			if t.length == 0 {
				continue
			}
			if err := t.write(tx.ctx, c, tx.actor.Coop, ranch, upload); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t copied) write(ctx context.Context, c *pgx.Conn, coop, ranch, upload access.ID) error {
	var list statement
	for _, name := range t.columns {
		list += ", " + statement(pgx.Identifier{name}.Sanitize())
	}
	// row comes first in each table's columns; LIMIT 0 copies types without reading a row.
	_, err := c.Exec(ctx, "DROP TABLE IF EXISTS pg_temp.incoming")
	if err != nil {
		return err
	}
	if _, err := c.Exec(ctx, ("CREATE TEMPORARY TABLE incoming ON COMMIT DROP AS SELECT " + list[2:] + " FROM tussock." + t.table + " LIMIT 0").text()); err != nil {
		return err
	}
	if _, err := c.CopyFrom(ctx, pgx.Identifier{"pg_temp", "incoming"}, t.columns, pgx.CopyFromSlice(t.length, t.values)); err != nil {
		return err
	}
	_, err = c.Exec(ctx, ("INSERT INTO tussock." + t.table + " (coop_id, ranch_id, upload_id" + list + ") SELECT $1::uuid, $2::uuid, $3::uuid" +
		list + " FROM pg_temp.incoming").text(), string(coop), string(ranch), string(upload))
	return err
}

var nestColumns = []string{"row", "site", "season", "transect", "number", "substrate", "plant", "set_on", "visit_on", "visit_state", "visit_second",
	"bits", "bits_far", "heaps", "opened_at", "bite_way", "holes", "inside", "ground", "bowl", "trace",
	"guess", "camera", "camera_on", "eggs_left", "steps", "bearing", "spot", "notes", "from_sheet", "from_row"}

func nestsOf(nests []survey.Nest) copied {
	return copied{"nest", nestColumns, len(nests), func(i int) ([]any, error) {
		n, r := &nests[i], nests[i].Signs()
		on := make([]pgtype.Date, len(n.Visits))
		state := make([]string, len(n.Visits))
		var second []string // nil where nobody looked twice
		for j, v := range n.Visits {
			on[j], state[j] = dateOf(v.On), string(v.State)
			if v.Second != "" {
				if second == nil {
					second = make([]string, len(n.Visits))
				}
				second[j] = string(v.Second)
			}
		}
		return []any{int32(i + 1), text(n.Site), int32(n.Season), n.Transect, n.Number, string(n.Substrate), text(n.Plant),
			dateOf(n.SetOn), on, state, second,
			text(r.Bits), text(r.BitsFar), text(r.Heaps), text(r.OpenedAt), text(r.BiteWay), text(r.Holes), text(r.Inside),
			text(r.Ground), text(r.Bowl), text(r.Trace),
			text(n.Guess), text(string(n.Camera)), dateOf(n.CameraOn), pgtype.Int2{Int16: int16(n.EggsLeft), Valid: n.EggsLeft >= 0},
			text(n.Spot.Steps), text(n.Spot.Bearing), text(n.Spot.Text), text(n.Notes),
			text(n.From.Sheet), pgtype.Int4{Int32: int32(n.From.Row), Valid: n.From.Row > 0}}, nil
	}}
}

func beltsOf(belts []survey.Belt) copied {
	columns := []string{"row", "site", "season", "transect", "length_ft", "width_ft", "counts", "from_sheet", "from_row"}
	return copied{"belt", columns, len(belts), func(i int) ([]any, error) {
		b := &belts[i]
		counts, err := json.Marshal(b.Counts)
		if err != nil {
			return nil, err
		}
		if b.Counts == nil {
			counts = []byte("{}")
		}
		return []any{int32(i + 1), text(b.Site), int32(b.Season), b.Transect, b.LengthFt, b.WidthFt, counts,
			text(b.From.Sheet), pgtype.Int4{Int32: int32(b.From.Row), Valid: b.From.Row > 0}}, nil
	}}
}

func sitesOf(sites []survey.Site) copied {
	columns := []string{"row", "name", "site_type", "acres", "from_sheet", "from_row"}
	return copied{"site", columns, len(sites), func(i int) ([]any, error) {
		s := &sites[i]
		return []any{int32(i + 1), text(s.Name), text(s.Type), s.Acres,
			text(s.From.Sheet), pgtype.Int4{Int32: int32(s.From.Row), Valid: s.From.Row > 0}}, nil
	}}
}

// text is a column that may be empty: "" is NULL, "nobody wrote it down".
func text(s string) pgtype.Text { return pgtype.Text{String: s, Valid: s != ""} }

func dateOf(d survey.Date) pgtype.Date {
	if d == 0 {
		return pgtype.Date{}
	}
	return pgtype.Date{Time: d.Time(), Valid: true}
}

func dateFrom(d pgtype.Date) survey.Date {
	if !d.Valid {
		return 0
	}
	return survey.DateFrom(d.Time)
}

// Survey returns the rows of current uploads of the given ranches but those sent for an owner that no owner has accepted, of one season or (0) of all, with each ranch under
// its name and each site under the roster's owner and area. Where two current uploads have the same nest, or belts on
// the same transect, those of the higher rank count (migration 00215), of one rank those sent later; rows of a hand's of a season of which an owner's sheet
// has some wait (standing). Ranches that the actor may not open are as if they did not exist:
// errs.NotFound.
func (tx *Tx) Survey(ranches []access.ID, season int) (*survey.Data, error) {
	roster := map[access.ID]Ranch{}
	for _, id := range ranches {
		r, err := tx.Ranch(id)
		if err != nil {
			return nil, err
		}
		roster[id] = r
	}
	if len(roster) == 0 {
		return &survey.Data{}, nil
	}
	var d *survey.Data
	err := native(tx.conn, func(c *pgx.Conn) (err error) {
		d, err = load(tx.ctx, c, current(tx.actor.Coop, roster, season), roster)
		return err
	})
	return d, err
}

// errRows keeps the place when a row cannot be read.
func errRows(table string, err error) error {
	if err == nil || errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	return fmt.Errorf("read rows of %s: %w", table, err)
}

// A source is where the rows x of a table come from, those that count before others first.
type source struct {
	nests   statement                       // the table of nests, or a function that gives the same rows without what is private
	below   statement                       // tells of a row that its sheet stands below an owner's, until an owner accepts it
	private bool                            // with what leads back to a nest, or to its place in a file
	rows    func(table statement) statement // from FROM on; $1 and so on are args
	args    []any
}

// current is the rows of current uploads of the ranches on the roster, of a season or (0) of all.
func current(coop access.ID, roster map[access.ID]Ranch, season int) source {
	return source{nests: "nest", below: "u.rank < 2", private: true, args: []any{string(coop), idsOf(roster), season}, rows: func(table statement) statement {
		seasons := statement(" AND ($3 = 0 OR x.season = $3)")
		if table == "site" {
			seasons = " AND $3 >= 0" // sites are of no season
		}
		// The uploads are read once, not once a row: the planner does not know what their policies cost.
		return " FROM tussock." + table + ` x
			JOIN (WITH counting AS MATERIALIZED (SELECT coop_id, ranch_id, id, rank, seq FROM tussock.upload
					WHERE coop_id = $1 AND ranch_id = ANY ($2::uuid[]) AND state = 'current' AND rank > 0)
				SELECT * FROM counting) u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
			WHERE x.coop_id = $1 AND x.ranch_id = ANY ($2::uuid[])` + seasons + `
			ORDER BY x.ranch_id, u.rank DESC, u.seq DESC, x.row`
	}}
}

func idsOf(roster map[access.ID]Ranch) []string {
	ids := make([]string, 0, len(roster))
	for id := range roster {
		ids = append(ids, string(id))
	}
	return ids
}

// load reads the rows of the ranches on the roster.
func load(ctx context.Context, c *pgx.Conn, from source, roster map[access.ID]Ranch) (*survey.Data, error) {
	d := &survey.Data{}
	for _, read := range []func() error{
		func() error { return loadNests(ctx, c, from, roster, d) },
		func() error { return loadBelts(ctx, c, from, roster, d) },
		func() error { return loadSites(ctx, c, from, roster, d) },
	} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	return d, nil
}

func loadNests(ctx context.Context, c *pgx.Conn, from source, roster map[access.ID]Ranch, d *survey.Data) error {
	hidden := statement("'', '', '', '', '', 0")
	if from.private {
		hidden = "coalesce(x.steps, ''), coalesce(x.bearing, ''), coalesce(x.spot, ''), coalesce(x.notes, ''), coalesce(x.from_sheet, ''), coalesce(x.from_row, 0)"
	}
	second, seen := statement("x.visit_second"), statement("x.camera_on")
	if from.nests == "shared_nest()" { // ranches shared by name: what nobody sees there is not asked for
		second, seen = "NULL::text[]", "NULL::date"
	}
	rows, err := c.Query(ctx, (`SELECT x.ranch_id::text, x.upload_id::text, coalesce(x.site, ''), x.season, x.transect, x.number, x.substrate, coalesce(x.plant, ''),
		x.set_on, x.visit_on, x.visit_state, ` + second + `,
		coalesce(x.bits, ''), coalesce(x.bits_far, ''), coalesce(x.heaps, ''), coalesce(x.opened_at, ''), coalesce(x.bite_way, ''),
		coalesce(x.holes, ''), coalesce(x.inside, ''), coalesce(x.ground, ''), coalesce(x.bowl, ''), coalesce(x.trace, ''),
		coalesce(x.guess, ''), coalesce(x.camera, ''), ` + seen + `, coalesce(x.eggs_left, -1), ` + hidden + ", " + from.below + from.rows(from.nests)).text(), from.args...)
	if err != nil {
		return errRows("nest", err)
	}
	defer rows.Close()
	stand := newStanding()
	var r survey.Remains
	for rows.Next() {
		var n survey.Nest
		var ranch, upload access.ID
		var set, seen pgtype.Date
		var on []time.Time
		var state, twice []survey.State
		var below bool
		if err := rows.Scan(&ranch, &upload, &n.Site, &n.Season, &n.Transect, &n.Number, &n.Substrate, &n.Plant, &set, &on, &state, &twice,
			&r.Bits, &r.BitsFar, &r.Heaps, &r.OpenedAt, &r.BiteWay, &r.Holes, &r.Inside, &r.Ground, &r.Bowl, &r.Trace,
			&n.Guess, &n.Camera, &seen, &n.EggsLeft, &n.Spot.Steps, &n.Spot.Bearing, &n.Spot.Text, &n.Notes, &n.From.Sheet, &n.From.Row, &below); err != nil {
			return errRows("nest", err)
		}
		if r.Any() {
			signs := r
			n.Remains = &signs
		}
		n.Ranch, n.SetOn, n.CameraOn = roster[ranch].Name, dateFrom(set), dateFrom(seen)
		for i := range on {
			v := survey.Visit{On: survey.DateFrom(on[i]), State: state[i]}
			if i < len(twice) {
				v.Second = twice[i]
			}
			n.Visits = append(n.Visits, v)
		}
		k, counts := stand.next(n.Key(), n.Number, upload, below)
		if n.Site, n.Transect = k.Site, k.Transect; counts {
			d.Nests = append(d.Nests, n)
		}
	}
	return errRows("nest", rows.Err())
}

func loadBelts(ctx context.Context, c *pgx.Conn, from source, roster map[access.ID]Ranch, d *survey.Data) error {
	rows, err := c.Query(ctx, (`SELECT x.ranch_id::text, x.upload_id::text, coalesce(x.site, ''), x.season, x.transect, x.length_ft, x.width_ft, x.counts,
		coalesce(x.from_sheet, ''), coalesce(x.from_row, 0), ` + from.below + from.rows("belt")).text(), from.args...)
	if err != nil {
		return errRows("belt", err)
	}
	defer rows.Close()
	stand := newStanding()
	for rows.Next() {
		var b survey.Belt
		var ranch, upload access.ID
		var below bool
		if err := rows.Scan(&ranch, &upload, &b.Site, &b.Season, &b.Transect, &b.LengthFt, &b.WidthFt, &b.Counts, &b.From.Sheet, &b.From.Row, &below); err != nil {
			return errRows("belt", err)
		}
		b.Ranch = roster[ranch].Name
		k, counts := stand.next(survey.TransectKey{Ranch: b.Ranch, Site: b.Site, Season: b.Season, Transect: b.Transect}, "", upload, below)
		if b.Site, b.Transect = k.Site, k.Transect; counts {
			d.Belts = append(d.Belts, b)
		}
	}
	return errRows("belt", rows.Err())
}

// loadSites adds a row for each ranch itself where no sheet had one: owner and area come from the roster alone.
func loadSites(ctx context.Context, c *pgx.Conn, from source, roster map[access.ID]Ranch, d *survey.Data) error {
	rows, err := c.Query(ctx, (`SELECT x.ranch_id::text, coalesce(x.name, ''), coalesce(x.site_type, ''), x.acres, coalesce(x.from_sheet, ''), coalesce(x.from_row, 0)` +
		from.rows("site")).text(), from.args...)
	if err != nil {
		return errRows("site", err)
	}
	defer rows.Close()
	seen := map[[2]string]bool{}
	for rows.Next() {
		var s survey.Site
		var ranch access.ID
		if err := rows.Scan(&ranch, &s.Name, &s.Type, &s.Acres, &s.From.Sheet, &s.From.Row); err != nil {
			return errRows("site", err)
		}
		r := roster[ranch]
		s.Ranch, s.Owner, s.Region = r.Name, r.Owner, r.Area
		if k := [2]string{s.Ranch, s.Name}; !seen[k] {
			seen[k] = true
			d.Sites = append(d.Sites, s)
		}
	}
	if err := rows.Err(); err != nil {
		return errRows("site", err)
	}
	for _, r := range roster {
		if !seen[[2]string{r.Name, ""}] {
			d.Sites = append(d.Sites, survey.Site{Ranch: r.Name, Owner: r.Owner, Region: r.Area})
		}
	}
	return nil
}
