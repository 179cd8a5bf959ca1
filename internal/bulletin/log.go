package bulletin

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/disclosure"
)

// A Log is what the gate decided on a bulletin and what the next ones must be checked against. It stays with the press:
// no page may read it, for it says who is in which total. Entities and ranches are in it as tokens.
type Log struct {
	Season, Edition int
	Policy          string // SHA-256 of the parameters
	Input           string // SHA-256 of the roster and rows that counted
	Steps           []Step
	Totals          []LoggedTotal
	Labels          map[string]string // the place of each area
	Standards       []string
	Roster          []string // the ranches that the density is given for, "" where it never was finer than a band
	RosterSince     int
	Hash            string // SHA-256 of the rest: the same input gives the same log
}

// A Step is one decision of the gate.
type Step struct {
	Cell, Gate string
	Held       string `json:",omitempty"` // the reason; "" passed
}

// A LoggedTotal is a total that a reader may come to know, from one cell or from several.
type LoggedTotal struct {
	Cell  string // measure, place and substrate
	Parts []LoggedPart
}

// A LoggedPart is what one entity has in a total.
type LoggedPart struct {
	Entity  string    // a token
	Column  string    // what of the entity's: another season, substrate or version is another secret
	Amounts []float64 // of survival: nests, exposure-days and losses, to tell what a final revision would change
}

func (t LoggedTotal) total() disclosure.Total {
	d := disclosure.Total{Name: t.Cell}
	for _, p := range t.Parts {
		d.Terms = append(d.Terms, disclosure.Term{Entity: p.Entity, Column: p.Column})
	}
	return d
}

// token stands for an entity or a ranch in the log. The salt keeps whoever only has the log from trying names.
func (c *composer) token(kind, name string) string {
	return digest(c.salt + "\n" + kind + "\n" + name)[:20]
}

func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

func (c *composer) step(cell, gate string, held disclosure.Reason) {
	c.log.Steps = append(c.log.Steps, Step{cell, gate, string(held)})
}

func (c *composer) record(t LoggedTotal) {
	slices.SortFunc(t.Parts, func(a, b LoggedPart) int {
		return slices.Compare([]string{a.Entity, a.Column}, []string{b.Entity, b.Column})
	})
	c.log.Totals = append(c.log.Totals, t)
}

// exposes runs the span audit on totals to be published, with those of one measure that are published already.
func (c *composer) exposes(measure string, more ...LoggedTotal) *disclosure.Exposure {
	var totals []disclosure.Total
	add := func(list []LoggedTotal) {
		for _, t := range list {
			if measureOf(t.Cell) == measure {
				totals = append(totals, t.total())
			}
		}
	}
	for _, b := range c.earlier {
		add(b.Log.Totals)
	}
	add(more)
	known := map[string]bool{}
	for _, m := range c.members {
		if m.known {
			known[c.token("entity", m.entity)] = true
		}
	}
	return c.policy.Span(totals, known)
}

// seal closes the log: the hash of what went in, and of all of it.
func (c *composer) seal() error {
	policy, err := json.Marshal(c.policy)
	if err != nil {
		return fmt.Errorf("seal the log of %d: %w", c.season, err)
	}
	c.log.Season, c.log.Labels, c.log.Policy = c.season, c.labels, digest(string(policy))
	c.log.Input = digest(c.rows())
	text, err := json.Marshal(c.log)
	if err != nil {
		return fmt.Errorf("seal the log of %d: %w", c.season, err)
	}
	c.log.Hash = digest(string(text))
	return nil
}

// rows writes down all that the cells are made of, entities and ranches as tokens.
func (c *composer) rows() string {
	tokens := map[string]string{}
	token := func(kind, name string) string {
		if tokens[kind+name] == "" {
			tokens[kind+name] = c.token(kind, name)
		}
		return tokens[kind+name]
	}
	var text []byte
	add := func(words ...string) {
		for _, w := range words {
			text = append(strconv.AppendQuote(text, w), ' ')
		}
	}
	for _, ranch := range slices.Sorted(maps.Keys(c.members)) {
		m := c.members[ranch]
		add(token("entity", m.entity), m.area, strconv.FormatBool(m.known))
	}
	for _, season := range []int{c.plan, c.season} {
		for _, n := range c.looked(season) {
			add(token("entity", n.entity), n.area, string(n.substrate), strconv.Itoa(n.nest.Intact), strconv.Itoa(n.nest.Lost))
		}
		for _, b := range c.counts(season) {
			add(token("ranch", b.id), strconv.FormatFloat(b.acres, 'g', -1, 64), strconv.Itoa(b.clumps))
		}
	}
	for _, l := range c.losses() {
		add(token("entity", l.entity), strconv.Itoa(l.camera), fmt.Sprint(l.signs))
	}
	return string(text)
}

// name is how the log calls a cell.
func (c Cell) name() string {
	name := c.Measure
	for _, s := range []*string{c.Area, c.Substrate} {
		name += "|"
		if s != nil {
			name += *s
		}
	}
	return name + "|" + c.Predator
}

func measureOf(cell string) string {
	for i := range cell {
		if cell[i] == '|' {
			return cell[:i]
		}
	}
	return cell
}

func substrateOf(cell string) string { return strings.Split(cell, "|")[2] }
