package export

import (
	"encoding/json"
	"fmt"
	"strings"
)

// The descriptor of a data package: the Data Package standard, version 2, in the words that readers of version 1
// understand too. A nil cell is an empty one, which both versions take.

type descriptor struct {
	Schema       string            `json:"$schema"`
	Profile      string            `json:"profile"`
	Name         string            `json:"name"`
	Title        string            `json:"title"`
	Description  string            `json:"description"`
	Version      string            `json:"version"`
	Created      string            `json:"created"`
	Keywords     []string          `json:"keywords"`
	Licenses     []license         `json:"licenses"`
	Contributors []contributor     `json:"contributors"`
	Sources      []source          `json:"sources"`
	Limits       string            `json:"limits"`
	Software     map[string]string `json:"software"`
	Bulletin     *bulletinNumber   `json:"bulletin,omitempty"`
	Resources    []resource        `json:"resources"`
}

type license struct {
	Name  string `json:"name"`
	Path  string `json:"path"`
	Title string `json:"title"`
}

type contributor struct {
	Title string `json:"title"`
	Role  string `json:"role"`
}

type source struct {
	Title string `json:"title"`
}

type resource struct {
	Name        string            `json:"name"`
	Profile     string            `json:"profile"`
	Path        string            `json:"path"`
	Title       string            `json:"title"`
	Titles      map[string]string `json:"titles"`
	Description string            `json:"description"`
	Format      string            `json:"format"`
	Mediatype   string            `json:"mediatype"`
	Encoding    string            `json:"encoding"`
	Dialect     dialect           `json:"dialect"`
	Bytes       int               `json:"bytes"`
	Hash        string            `json:"hash"`
	Schema      tableSchema       `json:"schema"`
}

type dialect struct {
	Delimiter      string `json:"delimiter"`
	LineTerminator string `json:"lineTerminator"`
	QuoteChar      string `json:"quoteChar"`
	DoubleQuote    bool   `json:"doubleQuote"`
	Header         bool   `json:"header"`
}

type tableSchema struct {
	Fields        []field      `json:"fields"`
	MissingValues []string     `json:"missingValues"`
	PrimaryKey    []string     `json:"primaryKey,omitempty"`
	UniqueKeys    [][]string   `json:"uniqueKeys,omitempty"`
	ForeignKeys   []foreignKey `json:"foreignKeys,omitempty"`
}

type field struct {
	Name        string            `json:"name"`
	Type        string            `json:"type"`
	Format      string            `json:"format,omitempty"`
	Title       string            `json:"title"`
	Titles      map[string]string `json:"titles"`
	Description string            `json:"description"`
	Constraints map[string]any    `json:"constraints,omitempty"` // encoding/json sorts its keys
}

type foreignKey struct {
	Fields    []string  `json:"fields"`
	Reference reference `json:"reference"`
}

type reference struct {
	Resource string   `json:"resource"`
	Fields   []string `json:"fields"`
}

// sheets makes the ZIP of CSV files.
func sheets(m meta, tables []table) ([]byte, error) {
	d := m.descriptor()
	var files []file
	for _, t := range tables {
		data, err := csvOf(t)
		if err != nil {
			return nil, fmt.Errorf("export %s: %w", m.name, err)
		}
		files = append(files, file{t.name + ".csv", data})
		d.Resources = append(d.Resources, t.resource(data))
	}
	about, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("export %s: %w", m.name, err)
	}
	return pack(m, sheetsHow, append([]file{{"datapackage.json", append(about, '\n')}}, files...))
}

const sheetsHow = `An empty cell is “nobody wrote it down”. A text that would run as a formula in a spreadsheet program has an
apostrophe before it. datapackage.json says what each column holds, in English and Spanish.

In R:       library(frictionless); p <- read_package("datapackage.json"); read_resource(p, resources(p)[1])
In Python:  from frictionless import Package; Package("datapackage.json").resources[0].to_pandas()
`

func (m meta) descriptor() descriptor {
	description := strings.TrimSpace(m.warning + " " + m.meaning + " " + limits())
	return descriptor{
		Schema:       "https://datapackage.org/profiles/2.0/datapackage.json",
		Profile:      "tabular-data-package",
		Name:         m.name,
		Title:        m.title,
		Description:  description,
		Version:      m.version,
		Created:      m.day() + "T00:00:00Z",
		Keywords:     []string{"simulated nests", "nest survival", "ground-nesting birds", "clump density"},
		Licenses:     []license{{m.rightsName, "RIGHTS.txt", "Use with credit; no re-identification"}},
		Contributors: []contributor{{m.Cooperative, "publisher"}},
		Sources:      []source{{"Season sheets of " + m.Cooperative}},
		Limits:       limits(),
		Software:     map[string]string{"name": "Tussock", "version": m.Version},
		Bulletin:     m.bulletin,
	}
}

func (t table) resource(data []byte) resource {
	return resource{Name: t.name, Profile: "tabular-data-resource", Path: t.name + ".csv", Title: t.en, Titles: map[string]string{"en": t.en, "es": t.es},
		Description: t.meaning, Format: "csv", Mediatype: "text/csv", Encoding: "utf-8", Dialect: dialect{",", "\r\n", `"`, true, true},
		Bytes: len(data), Hash: "sha256:" + sum(data), Schema: t.schema()}
}

func (t table) schema() tableSchema {
	s := tableSchema{MissingValues: []string{""}}
	for _, c := range t.columns {
		s.Fields = append(s.Fields, c.field())
		if c.unique {
			s.PrimaryKey = append(s.PrimaryKey, c.name)
		}
	}
	if t.unique != nil {
		s.UniqueKeys = [][]string{t.unique}
	}
	for _, l := range t.links {
		s.ForeignKeys = append(s.ForeignKeys, foreignKey{[]string{l.column}, reference{l.table, []string{l.key}}})
	}
	return s
}

// The types of Table Schema. A year is one of its own there.
var fieldTypes = map[kind]string{text: "string", word: "string", integer: "integer", number: "number", date: "date", year: "year"}

func (c column) field() field {
	f := field{Name: c.name, Type: fieldTypes[c.kind], Title: c.en, Titles: map[string]string{"en": c.en, "es": c.es}, Description: c.meaning, Constraints: map[string]any{}}
	if c.kind == date {
		f.Format = "%Y-%m-%d"
	}
	if c.needed {
		f.Constraints["required"] = true
	}
	if c.unique {
		f.Constraints["unique"] = true
	}
	if c.choices != nil {
		f.Constraints["enum"] = c.choices
	}
	if c.least != nil {
		f.Constraints["minimum"] = *c.least
	}
	if c.most != nil {
		f.Constraints["maximum"] = *c.most
	}
	return f
}
