package disclosure

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"
)

// A Total is a published sum over secrets of entities, as an attacker writes it down: one row of a system of equations.
type Total struct {
	Name  string
	Terms []Term
}

// A Term is one secret in a total. Two totals with the same Column of an Entity hold the same value; what was corrected
// or belongs to another season is another column. A quantity that hardly changes keeps its column over the seasons.
type Term struct {
	Entity string
	Column string
}

// An Exposure is a combination of published totals that fixes something of one entity.
type Exposure struct {
	Entity    string
	Coalition []string // who must pool what they know
	Totals    []string // the connected totals it is worked out from
}

func (e *Exposure) String() string {
	return fmt.Sprintf("%s, by %v, from %v", e.Entity, e.Coalition, e.Totals)
}

// Span is the span audit: whether all totals ever published together let anybody work out, exactly, a sum of one
// entity's secrets. It supposes that every Known entity's secrets are public and that up to Coalition others pool
// theirs. It returns the first exposure it finds, or nil.
//
// What the coalition does not know is a system A·x = b. Some combination of rows holds secrets of the target alone if
// and only if striking the target's columns out of A lowers its rank. Elimination is with exact fractions. Totals that
// share no secret are separate systems, and secrets that are in the same totals are one column: so the systems stay
// small, and only entities in columns of at most Coalition + 1 entities can ever be exposed. Five to a cell leave none.
func (p Policy) Span(totals []Total, known map[string]bool) *Exposure {
	if !p.SpanAudit {
		return nil
	}
	for _, part := range connected(totals, known) {
		if e := p.expose(part); e != nil {
			return e
		}
	}
	return nil
}

// A system is the totals that hang together: its classes are the columns of A, each with the entities that have a
// secret there.
type system struct {
	names   []string
	classes []class
	ranks   map[string]int // by which classes are struck out
}

type class struct {
	in      []bool // by total
	members map[string]bool
}

// connected writes the totals down as separate systems.
func connected(totals []Total, known map[string]bool) []*system {
	at := map[Term][]int{} // the totals of each secret
	for i, t := range totals {
		for _, term := range t.Terms {
			if rows := at[term]; !known[term.Entity] && (len(rows) == 0 || rows[len(rows)-1] != i) {
				at[term] = append(rows, i)
			}
		}
	}
	root := make([]int, len(totals))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	members := map[string]map[string]bool{} // by the totals of a class
	rowsOf := map[string][]int{}
	for term, rows := range at {
		for _, r := range rows[1:] {
			root[find(r)] = find(rows[0])
		}
		key := fmt.Sprint(rows)
		if members[key] == nil {
			members[key], rowsOf[key] = map[string]bool{}, rows
		}
		members[key][term.Entity] = true
	}
	systems, place := map[int]*system{}, make([]int, len(totals))
	for i, t := range totals {
		r := find(i)
		if systems[r] == nil {
			systems[r] = &system{ranks: map[string]int{}}
		}
		place[i] = len(systems[r].names)
		systems[r].names = append(systems[r].names, t.Name)
	}
	for _, key := range slices.Sorted(maps.Keys(members)) {
		rows := rowsOf[key]
		s := systems[find(rows[0])]
		c := class{in: make([]bool, len(s.names)), members: members[key]}
		for _, r := range rows {
			c.in[place[r]] = true
		}
		s.classes = append(s.classes, c)
	}
	var list []*system
	for _, r := range slices.Sorted(maps.Keys(systems)) {
		list = append(list, systems[r])
	}
	return list
}

// expose tries every target and coalition that could strike a column out.
func (p Policy) expose(s *system) *Exposure {
	exposed := map[string]bool{}
	for _, c := range s.classes {
		if len(c.members) <= p.Coalition+1 {
			maps.Copy(exposed, c.members)
		}
	}
	candidates := slices.Sorted(maps.Keys(exposed))
	for _, target := range candidates {
		for coalition := range coalitions(candidates, target, p.Coalition) {
			before := s.rankWithout(coalition)
			if s.rankWithout(append(slices.Clone(coalition), target)) < before {
				return &Exposure{target, coalition, s.names}
			}
		}
	}
	return nil
}

// coalitions yields the sets of at most size others, the smallest first.
func coalitions(all []string, target string, size int) func(func([]string) bool) {
	others := slices.DeleteFunc(slices.Clone(all), func(e string) bool { return e == target })
	return func(yield func([]string) bool) {
		var grow func(from, left int, set []string) bool
		grow = func(from, left int, set []string) bool {
			if left == 0 {
				return yield(slices.Clone(set))
			}
			for i := from; i < len(others); i++ {
				if !grow(i+1, left-1, append(set, others[i])) {
					return false
				}
			}
			return true
		}
		for n := 0; n <= min(size, len(others)); n++ {
			if !grow(0, n, nil) {
				return
			}
		}
	}
}

// rankWithout is the rank of A with the columns struck out in which nobody else has a secret.
func (s *system) rankWithout(who []string) int {
	var key strings.Builder
	var left []class
	for _, c := range s.classes {
		others := len(c.members)
		for _, w := range who {
			if c.members[w] {
				others--
			}
		}
		if others > 0 {
			left = append(left, c)
			key.WriteByte('1')
		} else {
			key.WriteByte('0')
		}
	}
	r, done := s.ranks[key.String()]
	if !done {
		r = rank(left)
		s.ranks[key.String()] = r
	}
	return r
}

// rank eliminates with exact fractions; each class is a row here, for the rank of a matrix is that of its transpose.
func rank(columns []class) int {
	var m [][]*big.Rat
	for _, c := range columns {
		row := make([]*big.Rat, len(c.in))
		for i, in := range c.in {
			row[i] = new(big.Rat)
			if in {
				row[i].SetInt64(1)
			}
		}
		m = append(m, row)
	}
	r := 0
	for col := 0; len(m) > 0 && col < len(m[0]) && r < len(m); col++ {
		pivot := r
		for pivot < len(m) && m[pivot][col].Sign() == 0 {
			pivot++
		}
		if pivot == len(m) {
			continue
		}
		m[r], m[pivot] = m[pivot], m[r]
		for i := r + 1; i < len(m); i++ {
			if m[i][col].Sign() == 0 {
				continue
			}
			f := new(big.Rat).Quo(m[i][col], m[r][col])
			for j := col; j < len(m[i]); j++ {
				if m[r][j].Sign() != 0 {
					m[i][j].Sub(m[i][j], new(big.Rat).Mul(f, m[r][j]))
				}
			}
		}
		r++
	}
	return r
}
