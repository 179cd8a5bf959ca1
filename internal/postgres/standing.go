package postgres

import (
	"cmp"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/survey"
)

// A place is a line of a ranch and season, or with nest a nest on it, in the form in which all spellings are equal.
type place struct {
	ranch, site string
	season      int
	line, nest  string
}

// A naming gives names their form, each spelling once.
type naming struct{ sites, lines, nests map[string]string }

func newNaming() naming {
	return naming{map[string]string{}, map[string]string{}, map[string]string{}}
}

func (n naming) place(k survey.TransectKey, nest string) place {
	return place{k.Ranch, formOf(n.sites, k.Site, survey.SamePasture), k.Season, formOf(n.lines, k.Transect, survey.SameLine), formOf(n.nests, nest, survey.SameNest)}
}

func formOf(known map[string]string, name string, form func(string) string) string {
	if name == "" {
		return ""
	}
	f, ok := known[name]
	if !ok {
		f = form(name)
		known[name] = f
	}
	return f
}

// A standing says of rows, those that count before others first, which of two with the same nest, or belts of the same line, counts. Where an owner's
// sheet has nests of a season (or belts of it), those of sheets below an owner's wait until an owner accepts them: whether they are the same ones under
// another name, no program can tell.
type standing struct {
	names   naming
	spelled map[place]survey.TransectKey // each line as it was spelled first
	first   map[place]access.ID          // the upload that a nest, or a line's belts, were first seen in
	owners  map[place]bool               // the seasons of ranches of which an owner's sheet has rows
}

func newStanding() standing {
	return standing{newNaming(), map[place]survey.TransectKey{}, map[place]access.ID{}, map[place]bool{}}
}

// next takes the next row and gives its line as it was spelled first, and whether the row counts.
func (s standing) next(k survey.TransectKey, nest string, upload access.ID, below bool) (survey.TransectKey, bool) {
	at := s.names.place(k, nest)
	line := at
	line.nest = ""
	if was, ok := s.spelled[line]; ok {
		k = was
	} else {
		s.spelled[line] = k
	}
	season := place{ranch: at.ranch, season: at.season}
	if !below {
		s.owners[season] = true
	} else if s.owners[season] {
		return k, false
	}
	if seen, ok := s.first[at]; ok && seen != upload {
		return k, false
	}
	s.first[at] = upload
	return k, true
}

// An Overlap is another upload that counts and has nests, or belts of a line, which an upload has, too. One sent for an owner counts once accepted.
type Overlap struct {
	Upload access.ID
	File   string
	SentBy string
	SentAt time.Time
	Nests  int  // that both have
	Belts  int  // of the upload, on lines of which both have some
	Holds  bool // what counts of these stands there, and not in this one
}

// A row is where a row of an upload that has not been taken back stands.
type row struct {
	upload access.ID
	rank   int
	seq    int
	nest   bool // else belts
	place
}

// above tells that what counts of two is r's.
func (r row) above(o row) bool {
	return cmp.Or(cmp.Compare(r.rank, o.rank), cmp.Compare(r.seq, o.seq)) > 0
}

// rowsOf loads the rows of a ranch's uploads that count or wait.
func (tx *Tx) rowsOf(ranch access.ID) (list []row, err error) {
	err = native(tx.conn, func(c *pgx.Conn) error {
		read, err := c.Query(tx.ctx, `SELECT u.id::text, u.rank, u.seq, x.nest, coalesce(x.site, ''), x.season, x.transect, x.number
			FROM tussock.upload u CROSS JOIN LATERAL (
				SELECT true AS nest, n.site, n.season, n.transect, n.number FROM tussock.nest n WHERE n.coop_id = $1 AND n.ranch_id = $2 AND n.upload_id = u.id
				UNION ALL SELECT false, b.site, b.season, b.transect, '' FROM tussock.belt b WHERE b.coop_id = $1 AND b.ranch_id = $2 AND b.upload_id = u.id) x
			WHERE u.coop_id = $1 AND u.ranch_id = $2 AND u.state = 'current'`, string(tx.actor.Coop), string(ranch))
		if err != nil {
			return err
		}
		defer read.Close()
		names := newNaming()
		for read.Next() {
			var r row
			k, number := survey.TransectKey{Ranch: string(ranch)}, ""
			if err := read.Scan(&r.upload, &r.rank, &r.seq, &r.nest, &k.Site, &k.Season, &k.Transect, &number); err != nil {
				return err
			}
			r.place = names.place(k, number)
			list = append(list, r)
		}
		return read.Err()
	})
	return list, errRows("upload", err)
}

// rowKey tells what rows are of the same nest, or belts of the same line.
type rowKey struct {
	place
	nest bool
}

// A table is the rows of a ranch's uploads, put in order.
type table struct {
	rows   []row
	there  map[rowKey][]row // of uploads that count, each once
	owners map[rowKey]bool  // the seasons of which an owner's sheet has nests, or belts
}

func tableOf(rows []row) table {
	t := table{rows, map[rowKey][]row{}, map[rowKey]bool{}}
	for _, r := range rows {
		k := rowKey{r.place, r.nest}
		if r.rank > 0 && !slices.ContainsFunc(t.there[k], func(have row) bool { return have.upload == r.upload }) {
			t.there[k] = append(t.there[k], r)
		}
		if r.rank >= 2 {
			t.owners[r.ofSeason()] = true
		}
	}
	return t
}

// ofSeason is the season that a row is of; nests' and belts' are told apart.
func (r row) ofSeason() rowKey {
	return rowKey{place{ranch: r.ranch, season: r.season}, r.nest}
}

// waits tells that a row counts nowhere until an owner accepts its sheet, and then for itself: no owner's sheet has it.
func (t table) waits(r row) bool {
	owners := r.rank == 0 || r.rank == 1 && t.owners[r.ofSeason()]
	return owners && !slices.ContainsFunc(t.there[rowKey{r.place, r.nest}], func(o row) bool { return o.rank >= 2 })
}

// Overlaps lists the uploads that have nests or belts of this one, which counts, too. Those who may open its ranch; others get
// errs.NotFound.
func (tx *Tx) Overlaps(u Upload) ([]Overlap, error) {
	if u.State != Current {
		return nil, nil
	}
	uploads, err := tx.Uploads(u.Ranch)
	if err != nil {
		return nil, err
	}
	rows, err := tx.rowsOf(u.Ranch)
	if err != nil {
		return nil, err
	}
	t, of := tableOf(rows), map[access.ID]*Overlap{}
	for _, r := range rows {
		if r.upload != u.ID {
			continue
		}
		for _, other := range t.there[rowKey{r.place, r.nest}] {
			if other.upload == r.upload {
				continue
			}
			o := of[other.upload]
			if o == nil {
				o = &Overlap{Holds: other.above(r)}
				of[other.upload] = o
			}
			if r.nest {
				o.Nests++
			} else {
				o.Belts++
			}
		}
	}
	var list []Overlap
	for _, w := range uploads { // latest first
		if o := of[w.ID]; o != nil {
			o.Upload, o.File, o.SentBy, o.SentAt = w.ID, w.File, w.SentBy, w.SentAt
			list = append(list, *o)
		}
	}
	return list, nil
}

// Elsewhere is what does not count as it stands in an upload: a sheet above it has it, or it waits until an owner accepts it.
type Elsewhere struct{ Nests, Belts, NestsWait, BeltsWait int }

// Elsewhere counts it by upload of a ranch. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Elsewhere(ranch access.ID) (map[access.ID]Elsewhere, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	rows, err := tx.rowsOf(ranch)
	t, of := tableOf(rows), map[access.ID]Elsewhere{}
	for _, r := range rows {
		e := of[r.upload]
		above := slices.ContainsFunc(t.there[rowKey{r.place, r.nest}], func(o row) bool { return o.upload != r.upload && o.above(r) })
		switch waits := t.waits(r); {
		case waits && r.nest:
			e.NestsWait++
		case waits:
			e.BeltsWait++
		case above && r.nest:
			e.Nests++
		case above:
			e.Belts++
		}
		of[r.upload] = e
	}
	return of, err
}

// Unaccepted lists the uploads of a ranch that somebody else sent, and of which an owner has something to say: those that count nowhere until then, and
// those of hands with nests or belts of a season of which an owner's sheet has some. The ranch's people; others get errs.NotFound.
func (tx *Tx) Unaccepted(ranch access.ID) (list []Upload, err error) {
	uploads, err := tx.Uploads(ranch)
	if err != nil {
		return nil, err
	}
	hands, owners := false, false
	for _, u := range uploads {
		hands, owners = hands || u.State == Current && u.Rank == 1, owners || u.State == Current && u.Rank > 1
	}
	waits := map[access.ID]bool{}
	if hands && owners {
		rows, err := tx.rowsOf(ranch)
		if err != nil {
			return nil, err
		}
		t := tableOf(rows)
		for _, r := range rows {
			waits[r.upload] = waits[r.upload] || r.rank == 1 && t.owners[r.ofSeason()]
		}
	}
	for _, u := range uploads {
		if u.State == Current && (u.Rank == 0 || waits[u.ID]) {
			list = append(list, u)
		}
	}
	return list, nil
}
