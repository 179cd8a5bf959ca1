package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"tussock/internal/survey"
)

// csvOf writes a table as RFC 4180 has it: one header line, CRLF, quotes doubled; UTF-8 without a byte order mark, ISO
// 8601 dates, decimal points, an empty cell for nil.
func csvOf(t table) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	line := make([]string, len(t.columns))
	for i, c := range t.columns {
		line[i] = c.name
	}
	if err := w.Write(line); err != nil {
		return nil, err
	}
	for _, row := range t.rows {
		if len(row) != len(t.columns) {
			return nil, fmt.Errorf("table %s: %d cells for %d columns", t.name, len(row), len(t.columns))
		}
		for i, cell := range row {
			line[i] = cellText(cell)
		}
		if err := w.Write(line); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

func cellText(cell any) string {
	switch x := cell.(type) {
	case nil:
		return ""
	case string:
		return inert(x)
	case int:
		return strconv.Itoa(x)
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	case survey.Date:
		return x.String()
	}
	panic(fmt.Sprintf("export: a cell of type %T", cell))
}

// inert puts an apostrophe before a text that a spreadsheet program would run as a formula (OWASP, "CSV Injection").
// Numbers never pass here: -3.5 stays a number.
func inert(s string) string {
	if strings.IndexAny(s, "=+-@\t\r\n＝＋－＠") == 0 {
		return "'" + s
	}
	return s
}
