package reading

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
)

// mostNested is how many records within one cell, and how many fields of each, become columns.
const mostNested = 12

// A nest of records within cells, as programs for forms write them, is what they wrote: each record's fields in order.
type nested struct {
	fields []string // of the records, in order of their first appearance
	most   int      // records in one cell
	list   bool     // the cells hold lists of records, not one record
}

// unnest makes columns of cells that hold records in JSON: [{"on": "2023-05-25", "found": "ok"}], {"yucca": 7}.
func (r *reader) unnest(g *grid) {
	if g.held > 0 || len(g.lines) < 2 {
		return
	}
	for col := 0; col < g.width; col++ {
		n, ok := nestedIn(g, col)
		if !ok {
			continue
		}
		head := g.lines[0].at(col).text
		width := g.width
		for i := range g.lines {
			l := &g.lines[i]
			c := *l.at(col)
			if c.text == "" {
				continue
			}
			for len(l.cells) < width+n.most*len(n.fields) {
				l.cells = append(l.cells, cell{row: l.number, col: col})
			}
			records, _ := recordsOf(c.raw)
			for k := range n.most {
				for f, field := range n.fields {
					text := ""
					switch {
					case i == 0 && n.list:
						text = fmt.Sprintf("check %d %s", k+1, field)
					case i == 0:
						text = strings.TrimSpace(field + " " + head)
					case k < len(records):
						text = records[k][field]
					}
					l.cells[width+k*len(n.fields)+f] = cell{text: lexicon.Tidy(text), raw: text, row: l.number, col: col}
				}
			}
			l.cells[col].text, l.cells[col].raw = "", ""
		}
		if g.columns == nil {
			for k := range width {
				g.columns = append(g.columns, k)
			}
		}
		for range n.most * len(n.fields) {
			g.columns = append(g.columns, col)
		}
		g.width = width + n.most*len(n.fields)
	}
}

// nestedIn tells whether the cells of a column below its heading hold records.
func nestedIn(g *grid, col int) (n nested, ok bool) {
	cells := 0
	for i := 1; i < len(g.lines); i++ {
		c := g.lines[i].at(col)
		if c.text == "" {
			continue
		}
		records, list := recordsOf(c.raw)
		if records == nil {
			return n, false
		}
		cells++
		n.list = n.list || list
		n.most = max(n.most, len(records))
		for _, rec := range records {
			for _, field := range strings.Split(rec[fieldOrder], "\x00") {
				if field != "" && !slices.Contains(n.fields, field) {
					n.fields = append(n.fields, field)
				}
			}
		}
	}
	return n, cells > 0 && len(n.fields) > 0 && len(n.fields) <= mostNested && n.most <= mostNested
}

// fieldOrder is the key under which recordsOf keeps the names of the fields in order.
const fieldOrder = "\x00"

// recordsOf reads a cell that holds one record or a list of them; nil where it holds neither.
func recordsOf(raw string) (records []map[string]string, list bool) {
	raw = strings.TrimSpace(raw)
	if len(raw) < 2 || raw[0] != '{' && !strings.HasPrefix(raw, "[") {
		return nil, false
	}
	var parts []json.RawMessage
	if list = raw[0] == '['; !list {
		parts = []json.RawMessage{json.RawMessage(raw)}
	} else if json.Unmarshal([]byte(raw), &parts) != nil {
		return nil, false
	}
	for _, p := range parts {
		rec := recordOf(p)
		if rec == nil {
			return nil, false
		}
		records = append(records, rec)
	}
	return records, list
}

func recordOf(p json.RawMessage) map[string]string {
	d := json.NewDecoder(bytes.NewReader(p))
	d.UseNumber()
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return nil
	}
	rec := map[string]string{}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			return nil
		}
		var value any
		if d.Decode(&value) != nil {
			return nil
		}
		name := inquiry.Short(fmt.Sprint(key))
		switch v := value.(type) {
		case nil:
			rec[name] = ""
		case map[string]any, []any:
			return nil
		default:
			rec[name] = fmt.Sprint(v)
		}
		rec[fieldOrder] += name + "\x00"
	}
	return rec
}
