package readback

import (
	"slices"
	"strings"

	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
)

// blocks are the tables within one tab, each with the tags of its columns. Where each begins is found by its headings as the
// rows go by.
type blocks struct {
	list    []*block
	headed  map[string][]int // columns by heading
	roles   map[string][]int // columns by role
	current []Tag            // over the rows that go by
	starts  []Head
	side    []Tag
}

// A block is one table.
type block struct {
	tags   []Tag
	side   []Tag // of a table that lies on its side, still to be found
	placed bool
}

func newBlocks(t *sheet.Table, res *intake.Result) *blocks {
	b := &blocks{headed: map[string][]int{}, roles: map[string][]int{}}
	last := 0
	for _, r := range res.Roles {
		if r.File != t.File || r.Sheet != t.Name {
			continue
		}
		if r.Block != last || len(b.list) == 0 {
			b.list, last = append(b.list, &block{}), r.Block
		}
		of := b.list[len(b.list)-1]
		tag := Tag{Column: column(r.Column), Heading: r.Heading, Role: r.Role, ID: r.ID}
		if tag.Column < 0 {
			of.side = append(of.side, tag)
			continue
		}
		of.tags = append(of.tags, tag)
		for name, columns := range map[string]map[string][]int{r.Heading: b.headed, r.Role: b.roles} {
			if name != "" && !slices.Contains(columns[name], tag.Column) {
				columns[name] = append(columns[name], tag.Column)
			}
		}
	}
	return b
}

// ahead is how many blocks are looked for at once: they come in the order of the sheet, side by side or below each other.
const ahead = 6

// see looks whether a row heads a block, or names what a row of a table on its side holds.
func (b *blocks) see(r *Row) (header bool) {
	looked := 0
	for _, k := range b.list {
		if k.placed && len(k.side) == 0 {
			continue
		}
		if looked++; looked > ahead {
			break
		}
		b.seeSide(k, r)
		if !k.placed && k.headedBy(r) {
			k.placed, header = true, true
			b.start(r.N, k.tags)
		}
	}
	return header
}

// seeSide finds the row that a tag of a table on its side stands beside: the first that begins with its heading.
func (b *blocks) seeSide(k *block, r *Row) {
	if len(k.side) == 0 {
		return
	}
	for i := range min(len(r.Cells), 4) {
		text := strings.TrimRight(lexicon.Tidy(r.Cells[i].Text), ": ")
		if text == "" {
			continue
		}
		for j, tag := range k.side {
			if strings.EqualFold(tag.Heading, text) {
				tag.Column, tag.Row = i, r.N
				b.side = append(b.side, tag)
				k.side = slices.Delete(k.side, j, j+1)
				break
			}
		}
	}
}

// headedBy tells whether most headings of a block stand in a row.
func (k *block) headedBy(r *Row) bool {
	headings, here := 0, 0
	for _, t := range k.tags {
		if t.Heading == "" {
			continue
		}
		headings++
		if t.Column < len(r.Cells) && sameHeading(t.Heading, r.Cells[t.Column].Text) {
			here++
		}
	}
	return headings > 0 && 5*here >= 3*headings
}

// start lets tags hold from a row on. A table that begins beside the one that goes by joins it: its columns are its own.
func (b *blocks) start(row int, tags []Tag) {
	first, last := span(tags)
	n := len(b.starts)
	if from, to := span(b.current); n > 0 && (to < first || from > last) {
		tags = append(slices.Clone(b.current), tags...)
		row = b.starts[n-1].Row
		b.starts = b.starts[:n-1]
	}
	slices.SortStableFunc(tags, func(x, y Tag) int { return x.Column - y.Column })
	b.current = tags
	b.starts = append(b.starts, Head{row, tags})
}

func span(tags []Tag) (first, last int) {
	first, last = 1<<30, -1
	for _, t := range tags {
		first, last = min(first, t.Column), max(last, t.Column)
	}
	return first, last
}

// heads tells whether other tags hold from a row on.
func (b *blocks) heads(row int) bool {
	return slices.ContainsFunc(b.starts, func(h Head) bool { return h.Row == row })
}

// found returns what stands over the columns, from which row on. Titles above the first headings stand under the first tags;
// tags of blocks whose headings were not found stand at the top.
func (b *blocks) found() []Head {
	heads := slices.Clone(b.starts)
	if len(heads) == 0 {
		heads = append(heads, Head{})
	}
	heads[0].Row = 0
	for _, k := range b.list {
		if k.placed || len(k.tags) == 0 {
			continue
		}
		first, last := span(heads[0].Tags)
		if from, to := span(k.tags); to < first || from > last {
			heads[0].Tags = append(slices.Clone(heads[0].Tags), k.tags...)
		}
	}
	for i := range heads {
		heads[i].Tags = slices.DeleteFunc(slices.Clone(heads[i].Tags), func(t Tag) bool { return t.Column >= columnsMost })
	}
	return heads
}

// Cut puts rows of the table under their tags.
func (t *Table) Cut(rows []Row) []Piece {
	var pieces []Piece
	at := -1
	for _, r := range rows {
		i := max(at, 0)
		for i+1 < len(t.Heads) && t.Heads[i+1].Row <= r.N {
			i++
		}
		if i != at {
			at = i
			piece := Piece{}
			if i < len(t.Heads) {
				piece.Tags = t.Heads[i].Tags
			}
			pieces = append(pieces, piece)
		}
		last := &pieces[len(pieces)-1]
		last.Rows = append(last.Rows, r)
	}
	return pieces
}
