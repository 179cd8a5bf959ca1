package postgres

import (
	"cmp"
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

// anywhere is a place whatever its pasture.
func (p place) anywhere() place {
	p.site = ""
	return p
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

// A standing says of rows, those that count before others first, which of two with the same nest, or belts of the same line, counts. A row of a
// sheet below an owner's is another one's only on a line that no owner's sheet has, or that one has in the very pasture that the row names:
// else "north pasture" or no pasture would bring the owner's nests in once more.
type standing struct {
	names   naming
	spelled map[place]survey.TransectKey // each line as it was spelled first
	first   map[place]access.ID          // the upload that a nest, or a line's belts, were first seen in
	lines   map[place]bool               // owners' lines, in their pastures
	ours    map[place]bool               // owners' nests, or lines with belts, anywhere
}

func newStanding() standing {
	return standing{newNaming(), map[place]survey.TransectKey{}, map[place]access.ID{}, map[place]bool{}, map[place]bool{}}
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
	if !below {
		s.lines[line], s.ours[at.anywhere()] = true, true
	} else if s.ours[at.anywhere()] && !s.lines[line] {
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
	Upload  access.ID
	File    string
	SentBy  string
	SentAt  time.Time
	Nests   int  // that both have
	Belts   int  // of the upload, on lines of which both have some
	Holds   bool // what counts of these stands there, and not in this one
	Pasture bool // under another pasture, so that both count once an owner accepts this one
	Ours    bool // it is an owner's, or an owner accepted it
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

// A shared is a row of an upload that another one, which counts, has too.
type shared struct {
	row, other row
	n          int  // the row's number in the list
	pasture    bool // under another pasture, where it waits for an owner (standing)
}

// sharedRows tells each of the rows of which that other uploads that count have too, once a place of each of them.
func sharedRows(rows []row, which func(row) bool, tell func(shared)) {
	type kind struct {
		place
		nest bool
	}
	there, anywhere := map[kind][]row{}, map[kind][]row{} // the latter owners' alone
	owners := map[place]bool{}                            // the lines of owners' sheets
	add := func(to map[kind][]row, k kind, r row) {
		for _, have := range to[k] {
			if have.upload == r.upload && have.site == r.site {
				return
			}
		}
		to[k] = append(to[k], r)
	}
	for _, r := range rows {
		if r.rank > 0 {
			add(there, kind{r.place, r.nest}, r)
		}
		if r.rank >= 2 {
			add(anywhere, kind{r.anywhere(), r.nest}, r)
			owners[r.line()] = true
		}
	}
	for n, r := range rows {
		if !which(r) {
			continue
		}
		for _, o := range there[kind{r.place, r.nest}] {
			if o.upload != r.upload {
				tell(shared{r, o, n, false})
			}
		}
		if r.rank >= 2 || owners[r.line()] {
			continue
		}
		for _, o := range anywhere[kind{r.anywhere(), r.nest}] {
			if o.site != r.site {
				tell(shared{r, o, n, true})
			}
		}
	}
}

// line is the line that a row is on; nests' and belts' are told apart.
func (r row) line() place {
	p := r.place
	p.nest = ""
	if r.nest {
		p.nest = "nests"
	}
	return p
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
	type counted struct {
		other access.ID
		n     int
	}
	seen, of := map[counted]bool{}, map[access.ID]*Overlap{}
	sharedRows(rows, func(r row) bool { return r.upload == u.ID }, func(x shared) {
		o := of[x.other.upload]
		if o == nil {
			o = &Overlap{Holds: x.other.above(x.row), Ours: x.other.rank >= 2}
			of[x.other.upload] = o
		}
		o.Pasture = o.Pasture || x.pasture
		k := counted{x.other.upload, x.n}
		switch {
		case seen[k]:
		case x.row.nest:
			o.Nests++
		default:
			o.Belts++
		}
		seen[k] = true
	})
	var list []Overlap
	for _, w := range uploads { // latest first
		if o := of[w.ID]; o != nil {
			o.Upload, o.File, o.SentBy, o.SentAt = w.ID, w.File, w.SentBy, w.SentAt
			list = append(list, *o)
		}
	}
	return list, nil
}

// Elsewhere is what does not count as it stands in an upload: a sheet above it has it.
type Elsewhere struct{ Nests, Belts int }

// Elsewhere counts it by upload of a ranch. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Elsewhere(ranch access.ID) (map[access.ID]Elsewhere, error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return nil, err
	}
	rows, err := tx.rowsOf(ranch)
	seen, of := map[int]bool{}, map[access.ID]Elsewhere{}
	sharedRows(rows, func(row) bool { return true }, func(x shared) {
		if seen[x.n] || !x.other.above(x.row) {
			return
		}
		seen[x.n] = true
		e := of[x.row.upload]
		if x.row.nest {
			e.Nests++
		} else {
			e.Belts++
		}
		of[x.row.upload] = e
	})
	return of, err
}

// Unaccepted lists the uploads of a ranch that somebody else sent, and of which an owner has something to say: those sent for an owner, and those
// of hands with nests or belts that stand in a sheet above them. The ranch's people; others get errs.NotFound.
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
		sharedRows(rows, func(r row) bool { return r.rank == 1 }, func(x shared) {
			waits[x.row.upload] = waits[x.row.upload] || x.other.rank > 1
		})
	}
	for _, u := range uploads {
		if u.State == Current && (u.Rank == 0 || waits[u.ID]) {
			list = append(list, u)
		}
	}
	return list, nil
}
