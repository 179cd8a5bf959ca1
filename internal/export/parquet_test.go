package export_test

import (
	"encoding/json"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

type parquetFile struct {
	CreatedBy string
	Metadata  map[string]string
	Columns   []struct {
		Name, Physical, Logical string
		Optional                bool
	}
	Rows []map[string]any
}

// readParquet reads with hyparquet, which shares no code with what wrote the file.
func readParquet(t testing.TB, path string) (f parquetFile) {
	t.Helper()
	out := output(t, tool(t, "node", "nodejs"), "testdata/parquet.mjs", module(t, "hyparquet"), path)
	if err := json.Unmarshal(out, &f); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return f
}

// The logical types are those of the Parquet format's LogicalTypes.md.
func TestParquetTypes(t *testing.T) {
	dir := folder(t, made(t, sample().Parquet))
	nests := readParquet(t, filepath.Join(dir, "nests.parquet"))
	want := map[string][3]string{ // physical, logical, optional
		"nest_uid": {"BYTE_ARRAY", "STRING", ""}, "site": {"BYTE_ARRAY", "STRING", "optional"}, "season": {"INT32", "INTEGER", ""},
		"set_on": {"INT32", "DATE", "optional"}, "bits": {"BYTE_ARRAY", "ENUM", "optional"}, "eggs_left": {"INT32", "INTEGER", "optional"},
	}
	for _, c := range nests.Columns {
		w, ok := want[c.Name]
		if !ok {
			continue
		}
		delete(want, c.Name)
		if c.Physical != w[0] || c.Logical != w[1] || c.Optional != (w[2] != "") {
			t.Errorf("%s: %+v, want %v", c.Name, c, w)
		}
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
	if got := nests.Columns[0].Name; got != "nest_uid" {
		t.Errorf("the first column is %s, want nest_uid as in the CSV", got)
	}
	belts := readParquet(t, filepath.Join(dir, "belts.parquet"))
	for _, c := range belts.Columns {
		if c.Name == "length" && c.Physical != "DOUBLE" {
			t.Errorf("length is %s", c.Physical)
		}
	}
	if !strings.Contains(nests.CreatedBy, "Tussock") || nests.Metadata["tussock_version"] != "1.2.3" || !strings.Contains(nests.Metadata["limits"], "not a hatch rate") ||
		!strings.Contains(nests.Metadata["rights"], "Nobody may try") || !strings.Contains(nests.Metadata["table_schema"], "Cobertura del nido") {
		t.Errorf("metadata = %q by %q", nests.Metadata, nests.CreatedBy)
	}
	cells := readParquet(t, filepath.Join(folder(t, made(t, sampleBulletin().Parquet)), "cells.parquet"))
	if !strings.Contains(cells.Metadata["bulletin"], `"number":3`) {
		t.Errorf("bulletin = %q", cells.Metadata["bulletin"])
	}
}

// The Parquet files hold what the CSV files hold, cell by cell, save for what is private.
func TestParquetHoldsTheSame(t *testing.T) {
	r, b := sample(), sampleBulletin()
	for _, set := range []struct {
		sheets, parquet func() ([]byte, error)
		private         []string
	}{
		{r.Sheets, r.Parquet, []string{"steps", "bearing", "spot", "notes"}},
		{b.Sheets, b.Parquet, nil},
	} {
		sheets, dir := unzipped(t, made(t, set.sheets)), folder(t, made(t, set.parquet))
		for name, data := range sheets {
			if !strings.HasSuffix(name, ".csv") {
				continue
			}
			rows := read(t, data)
			got := readParquet(t, filepath.Join(dir, strings.TrimSuffix(name, ".csv")+".parquet"))
			if len(got.Rows) != len(rows)-1 {
				t.Errorf("%s: %d rows, want %d", name, len(got.Rows), len(rows)-1)
				continue
			}
			for i, row := range rows[1:] {
				for j, cell := range row {
					column := rows[0][j]
					value, there := got.Rows[i][column]
					if slices.Contains(set.private, column) {
						if there {
							t.Errorf("%s: the private column %s is in the Parquet file", name, column)
						}
						continue
					}
					// The apostrophe is the CSV's alone: Parquet is opened by no spreadsheet program.
					if want := strings.TrimPrefix(cell, "'"); asText(value) != want {
						t.Errorf("%s row %d, %s: %q, want %q", name, i+1, column, asText(value), want)
					}
				}
			}
		}
	}
}

func asText(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return x
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return "?"
}
