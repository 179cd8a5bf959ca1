package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// setElsewhere finds tables of what was found whose nests another table sets out, with their covers: rows of them tell of
// checks only, however many checks stand in a row.
func (r *reader) setElsewhere() {
	var sets, checks []*block
	for _, b := range r.blocks {
		if b.kind != nestTable || b.tail {
			continue
		}
		found := false
		for _, v := range b.visits {
			found = found || v.found >= 0
		}
		switch {
		case b.has(lexicon.Substrate):
			sets = append(sets, b)
		case found && !b.has(lexicon.SetOn) && !b.has(lexicon.Plant):
			checks = append(checks, b)
		}
	}
	if len(sets) == 0 || len(checks) == 0 {
		return
	}
	known := map[string]bool{}
	for _, b := range sets {
		for _, name := range r.namesIn(b) {
			known[name] = true
		}
	}
	for _, b := range checks {
		names := r.namesIn(b)
		n := 0
		for _, name := range names {
			if known[name] {
				n++
			}
		}
		b.elsewhere = n > 0 && n*10 >= len(names)*9
	}
}

// namesIn lists the nests of a table, with their lines.
func (r *reader) namesIn(b *block) []string {
	e := r.newEmitter(b, nil)
	var out []string
	above := ""
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		text, _ := e.nestText(l)
		if text == "" {
			continue
		}
		if e.line != nil {
			if t := l.at(e.line.at).text; t != "" && !e.kindOf(t).ditto {
				above = t
			}
		}
		line := lineName(above)
		if line == "" {
			line = rec.scope.lineName()
		}
		if k := e.kindOf(text); k.isID && line == "" {
			line, text = k.id.line, k.id.nest
		}
		out = append(out, strings.ToLower(line+"\x00"+text))
	}
	return out
}
