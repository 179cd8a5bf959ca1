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

// partsOfOne drops the names of ranches guessed from those of files where one file tells of checks alone and another sets the
// nests out: "visits.csv" beside "nests.csv" are no two ranches.
func (r *reader) partsOfOne() {
	if r.opt.Ranch != "" {
		return
	}
	sets, checks := map[string]bool{}, map[string]bool{}
	for _, b := range r.blocks {
		switch {
		case b.kind != nestTable && b.kind != visitTable || !b.has(lexicon.Nest):
		case b.has(lexicon.SetOn) || b.has(lexicon.Event) || b.kind == nestTable && b.has(lexicon.Substrate):
			sets[b.g.File] = true
		default:
			checks[b.g.File] = true
		}
	}
	apart := false
	for file := range checks {
		apart = apart || !sets[file] && len(sets) > 0
	}
	if !apart {
		return
	}
	for _, tab := range r.tabScope {
		for ; tab != nil; tab = tab.up {
			if tab.up == nil && tab.ranch.weak {
				tab.ranch = fact{}
			}
		}
	}
}

// ranchesOfLines takes from a table of nests with their ranches which ranch each line is of, for tables of checks and belts that name
// lines alone.
func (r *reader) ranchesOfLines() {
	if r.opt.Ranch != "" {
		return
	}
	open := false
	for _, b := range r.blocks {
		open = open || (b.kind == visitTable || b.kind == beltTable || b.elsewhere) && b.has(lexicon.Line) && !b.has(lexicon.Ranch)
	}
	if !open {
		return
	}
	for _, b := range r.blocks {
		if b.kind != nestTable || b.elsewhere || !b.has(lexicon.Ranch) || !b.has(lexicon.Line) {
			continue
		}
		e := r.newEmitter(b, nil)
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			name, _ := e.told(l, e.line, true)
			ranch, _ := e.told(l, e.ranch, true)
			if name == "" || ranch == "" {
				continue
			}
			f := r.lineFacts(lineName(name), rec.scope)
			f.twice = f.twice || f.ranch != "" && f.ranch != ranch
			f.ranch = ranch
		}
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
