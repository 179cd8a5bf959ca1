package export

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"

	"github.com/parquet-go/parquet-go"

	"tussock/internal/survey"
)

// parquets makes the ZIP of Parquet files.
func parquets(m meta, tables []table) ([]byte, error) {
	var files []file
	for _, t := range tables {
		data, err := parquetOf(m, t)
		if err != nil {
			return nil, fmt.Errorf("export %s: %w", m.name, err)
		}
		files = append(files, file{t.name + ".parquet", data})
	}
	return pack(m, parquetHow, files)
}

const parquetHow = `Each file's own metadata (table_schema) says what each column holds, in English and Spanish.

In R:       arrow::read_parquet("FILE.parquet")
In DuckDB:  SELECT * FROM 'FILE.parquet';
`

// parquetOf writes a table as one Parquet file, its description in the file's metadata.
func parquetOf(m meta, t table) ([]byte, error) {
	about, err := json.Marshal(t.schema())
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	options := []parquet.WriterOption{
		parquet.NewSchema(t.name, recordOf(t.columns)),
		parquet.Compression(&parquet.Snappy),
		parquet.CreatedBy("Tussock", m.Version, ""),
		parquet.KeyValueMetadata("title", m.title),
		parquet.KeyValueMetadata("description", t.meaning),
		parquet.KeyValueMetadata("table_schema", string(about)),
		parquet.KeyValueMetadata("limits", limits()),
		parquet.KeyValueMetadata("rights", m.rights),
		parquet.KeyValueMetadata("tussock_version", m.Version),
		parquet.KeyValueMetadata("created", m.day()),
	}
	if m.bulletin != nil {
		number, err := json.Marshal(m.bulletin)
		if err != nil {
			return nil, err
		}
		options = append(options, parquet.KeyValueMetadata("bulletin", string(number)))
	}
	w := parquet.NewWriter(&b, options...)
	rows := make([]parquet.Row, 0, len(t.rows))
	for _, cells := range t.rows {
		if len(cells) != len(t.columns) {
			return nil, fmt.Errorf("table %s: %d cells for %d columns", t.name, len(cells), len(t.columns))
		}
		rows = append(rows, parquetRow(t.columns, cells))
	}
	if _, err := w.WriteRows(rows); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func parquetRow(columns []column, cells []any) parquet.Row {
	row := make(parquet.Row, len(cells))
	for i, cell := range cells {
		defined := 1
		if columns[i].needed {
			defined = 0
		}
		if cell == nil {
			defined = 0
		}
		row[i] = parquetValue(cell).Level(0, defined, i)
	}
	return row
}

func parquetValue(cell any) parquet.Value {
	switch x := cell.(type) {
	case nil:
		return parquet.NullValue()
	case string:
		return parquet.ByteArrayValue([]byte(x))
	case int:
		return parquet.Int32Value(int32(x))
	case float64:
		return parquet.DoubleValue(x)
	case survey.Date:
		return parquet.Int32Value(int32(x.Time().Unix() / 86400)) // days since 1970-01-01, as DATE has it
	}
	panic(fmt.Sprintf("export: a cell of type %T", cell))
}

// A record is a group of columns in our order; the library's own would sort them by name.
type record struct {
	parquet.Group
	fields []parquet.Field
}

func (r record) Fields() []parquet.Field { return r.fields }

// GoType names the fields in our order too.
func (r record) GoType() reflect.Type {
	fields := make([]reflect.StructField, len(r.fields))
	for i, f := range r.fields {
		fields[i] = reflect.StructField{Name: fmt.Sprintf("F%d", i), Type: f.GoType(), Tag: reflect.StructTag(`parquet:"` + f.Name() + `"`)}
	}
	return reflect.StructOf(fields)
}

func recordOf(columns []column) parquet.Node {
	group := parquet.Group{}
	for _, c := range columns {
		group[c.name] = c.node()
	}
	byName := map[string]parquet.Field{}
	for _, f := range group.Fields() {
		byName[f.Name()] = f
	}
	r := record{Group: group}
	for _, c := range columns {
		r.fields = append(r.fields, byName[c.name])
	}
	return r
}

func (c column) node() parquet.Node {
	var n parquet.Node
	switch c.kind {
	case text:
		n = parquet.String()
	case word:
		n = parquet.Enum()
	case integer, year:
		n = parquet.Int(32)
	case number:
		n = parquet.Leaf(parquet.DoubleType)
	case date:
		n = parquet.Date()
	}
	if c.needed {
		return n
	}
	return parquet.Optional(n)
}
