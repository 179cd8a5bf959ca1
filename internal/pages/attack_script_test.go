package pages_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
)

// hostile would become markup where it stands in a page, an attribute, a script, a drawing or a table as it is, and a line of
// its own where lines mean something. The random end keeps names apart.
const hostile = `"pwn'pwn<pwn>]]>&pwn;\pwn` + "\r\nX-PWN:1\u2028"

// written are the columns that people fill with words of their own.
var written = []string{"tussock.coop.name", "tussock.person.name", "tussock.account.phone", "tussock.ranch.name", "tussock.entity.name", "tussock.area.name", "tussock.area.group_name",
	"tussock.upload_file.name", "tussock.nest.transect", "tussock.nest.number", "tussock.nest.plant", "tussock.nest.steps", "tussock.nest.bearing", "tussock.nest.spot", "tussock.nest.notes",
	"tussock.belt.transect", "tussock.site.name", "tussock.season_line.name", "tussock.season_line.pasture", "tussock.season_line.redrawn", "tussock.season_map.name",
	"tussock.look.device", "tussock.word.word", "tussock.introduction.place", "tussock.introduction.purpose", "tussock.introduction.reply", "tussock.sharing.purpose", "tussock.showcase.name",
	"tussock.invitation.name", "tussock.api_token.name", "tussock.field_link.name", "tussock.passkey.name", "tussock.device.agent", "tussock.session.agent", "tussock.view_log.item",
	"pub.cell.area", "pub.place.label"}

var jsonScripts = regexp.MustCompile(`(?s)<script type="application/json"[^>]*>(.*?)</script>`)

// markup tells whether anything of hostile stands in a page as markup, and where.
func markup(page string) string {
	for _, s := range jsonScripts.FindAllStringSubmatch(page, -1) {
		if !json.Valid([]byte(s[1])) || strings.ContainsAny(s[1], "<>") {
			return s[1]
		}
	}
	page = jsonScripts.ReplaceAllString(page, "")
	for _, s := range []string{`"pwn'`, `'pwn<`, `<pwn>`, `&pwn;`} {
		if i := strings.Index(page, s); i >= 0 {
			return page[max(0, i-120):min(len(page), i+60)]
		}
	}
	return ""
}

// TestNothingBecomesMarkup: whatever people write in names, notes, purposes, sheets and questions is shown as they wrote it, on
// every page that anybody can reach, in drawings and in files, and what stands in an address is not shown at all.
func TestNothingBecomesMarkup(t *testing.T) {
	w := newWorld(t)
	for _, column := range written {
		at := strings.LastIndexByte(column, '.')
		table, name := column[:at], column[at+1:]
		if _, err := w.db.Owner.Exec(context.Background(), "UPDATE "+table+" SET "+name+" = left($1 || gen_random_uuid(), 60)", hostile); err != nil {
			t.Errorf("%s: %v", column, err)
		}
	}
	w.members[access.Landowner].wakes()
	shown := 0
	look := func(m *member, path string) {
		t.Helper()
		got := m.opens(path)
		kind := got.header.Get("Content-Type")
		switch {
		case got.status >= 500:
			t.Errorf("%s as %s: %d", path, m.actor.Role, got.status)
		case strings.HasPrefix(kind, "text/html"):
			if found := markup(got.body); found != "" {
				t.Errorf("%s as %s: …%s…", path, m.actor.Role, found)
			}
			if strings.Contains(got.body, "pwn&lt;pwn") || strings.Contains(got.body, `pwn\u003c`) {
				shown++
			}
		case got.status == http.StatusOK && !strings.HasSuffix(path, "/file"):
			inFile(t, path, kind, []byte(got.body))
		}
	}
	fields := url.Values{}
	for _, name := range []string{"next", "back", "ranch", "season", "replaces", "place", "code", "size", "set", "n", "right", "answer", "said", "kept", "named", "zz"} {
		fields.Set(name, hostile)
	}
	for _, role := range access.Roles {
		m := w.members[role]
		paths, _ := m.walks()
		for _, path := range paths {
			look(m, path)
		}
		for _, route := range pages.Table() {
			if route[0] == http.MethodGet {
				look(m, at(route[1], string(w.mine))+"?"+fields.Encode())
				look(m, at(route[1], url.PathEscape(hostile)))
			}
		}
	}
	if shown < 40 {
		t.Errorf("only on %d pages there was anything to show", shown)
	}
}

// inFile reads files in which names could end a line or begin an element: XML, JSON, calendars, and what is packed in archives.
func inFile(t *testing.T, name, kind string, data []byte) {
	t.Helper()
	path := strings.Split(name, "?")[0]
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			part, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(f.Name, "as-sent/") {
				inFile(t, path+" "+f.Name, "", part)
			}
		}
	case strings.Contains(kind, "xml") || slices.ContainsFunc([]string{".xml", ".gpx", ".svg", ".kml", ".rels"}, func(end string) bool { return strings.HasSuffix(path, end) }):
		for d := xml.NewDecoder(bytes.NewReader(data)); ; {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
			if e, ok := token.(xml.StartElement); ok && e.Name.Local == "pwn" {
				t.Errorf("%s: a name became an element", name)
			}
		}
	case strings.Contains(kind, "json") || strings.HasSuffix(path, ".json") || strings.HasSuffix(path, ".geojson"):
		if !json.Valid(data) {
			t.Errorf("%s is no JSON", name)
		}
	case strings.HasPrefix(kind, "text/calendar") || strings.HasSuffix(path, ".ics"):
		if regexp.MustCompile(`(?m)^X-PWN`).Match(data) {
			t.Errorf("%s: a name became a line", name)
		}
	}
}
