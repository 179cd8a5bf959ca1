package pages_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"mime/multipart"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/web"
)

// The attacks here send what no browser would: every route as every role with odd paths, queries, forms, files, headers
// and bodies. Whatever comes, the answer is a page with a sentence, never a fault of ours (5xx) and never silence.

// oddValues are values that break what reads them carelessly.
var oddValues = []string{
	"", " ", "\t", "0", "-1", "1", "2", "10", "1e309", "NaN", "Infinity", "-0", "0x10", "1_000", "٢٠٢٦", "２０２６", "2026", "1949", "1950", "2027", "9999",
	"32767", "32768", "65536", "2147483647", "2147483648", "-2147483649", "9223372036854775807", "9223372036854775808", "99999999999999999999999999",
	"\x00", "a\x00b", "\xff\xfe", "\xc3\x28", "\xed\xa0\x80", "\xf8\x88\x80\x80\x80", "\ufeff", "\u202e", "\u2028", "\uffff", "💥", strings.Repeat("é", 300),
	"'", "''; DROP TABLE tussock.nest; --", `"`, "`", "$1", "@coop", "@id @me", "?", "%s%n%d", "%", "%zz", "%00", "{{.}}", "${x}", "<script>alert(1)</script>", "]]>", "-->",
	"=HYPERLINK(\"http://evil.example\")", "+1", "@SUM(1)", "a\r\nSet-Cookie: evil=1", "a\nb", "\\", "/", "//evil.example", "../../../../etc/passwd", "..\\..", ".", "..", "CON", "a/b",
	"null", "true", "[]", "{}", "[[[[", `{"a":`, `{"id":"x","response":{}}`, `{"type":"FeatureCollection","features":[null]}`,
	"2026-02-30", "0000-00-00", "9999-12-31", "10000-01-01", "-0001-01-01", "2026-13-01", "2026-08-31", "31/12/2026", "24:00", "infinity", "epoch",
	"a@b.example", "a@b.example\r\nBcc: c@d.example", "@", "A@B", strings.Repeat("a", 300) + "@example.org",
	"00000000-0000-0000-0000-000000000000", "FFFFFFFF-FFFF-FFFF-FFFF-FFFFFFFFFFFF", "{3b241101-e2bb-4255-8caf-4136c566a962}", "3b241101e2bb42558caf4136c566a962",
	strings.Repeat("9", 400), strings.Repeat("a", 5000), strings.Repeat("<", 20000), strings.Repeat("ab", 32), strings.Repeat("AB", 32),
	"bunchgrass", "yucca", "month", "day", "intact", "taken", "coordinator", "landowner", "on", "off",
}

// files are uploads that are not what they say.
var oddFiles = []sheet{
	{"nests.csv", plain}, {"nests.csv", ""}, {"", "x"}, {"nests.csv", "\x00\x00\x00"}, {"a\x00.csv", plain}, {"../../x.csv", plain}, {"nests.csv", columns},
	{"nests.csv", strings.Repeat(",", 5000) + "\n"}, {"nests.csv", strings.Repeat("\"", 9999)}, {"nests.csv", columns + strings.Repeat("A,1,yucca,9999-99-99,,\xff,,\n", 50)},
	{"nests.csv", columns + "A,99999999999999999999,yucca,2026-04-28,2026-05-12,intact,2026-05-26,taken\n"},
	{"nests.csv", columns + "A\x00,1,yu\x00cca,2026-04-28,2026-05-12,intact,2026-05-26,taken\n"},
	{"nests.csv", columns + strings.Repeat("x", 40000) + ",1,yucca,2026-04-28,2026-05-12,intact,2026-05-26,taken\n"},
	{"n.xlsx", "PK\x03\x04"}, {"n.xlsx", "PK\x05\x06" + strings.Repeat("\x00", 18)}, {"n.xlsx", "PK\x05\x06" + strings.Repeat("\xff", 18)}, {"a.zip", "PK\x03\x04" + strings.Repeat("A", 300)},
	{"m.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":null}]}`},
	{"m.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"North"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1e308,1e308],[-1e308,5],[0,0]]]}}]}`},
	{"m.geojson", strings.Repeat("[", 100000)}, {"m.geojson", `{"type":"Polygon","coordinates":[]}`}, {"p.jpg", "\xff\xd8\xff\xe1\x00\x10Exif"}, {"x.svg", "<svg onload=alert(1)>"}, {"nests.csv", "\xff\xfea"},
}

// An attacker makes requests out of chance, always the same for a seed.
type attacker struct {
	*world
	r     *rand.Rand
	word  map[*member]string
	forms map[access.Role][]foundForm
	names []string // of all fields of all forms
	paths []string // real ones, with ids that exist
	ids   []string
	conn  net.Conn
	addr  string
}

func newAttacker(t testing.TB, seed uint64) *attacker {
	t.Helper()
	a := &attacker{world: newWorld(t), r: rand.New(rand.NewPCG(seed, 0)), word: map[*member]string{}, forms: map[access.Role][]foundForm{}}
	for role, m := range a.members {
		paths, forms := m.walks()
		a.paths, a.forms[role], a.word[m] = append(a.paths, paths...), forms, m.word()
	}
	a.members[""] = &member{stage: a.stage} // nobody
	names := map[string]bool{}
	templates, err := web.FS.ReadDir("templates/pages")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range templates {
		b, err := web.FS.ReadFile("templates/pages/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range regexp.MustCompile(`\bname="([a-z0-9_-]+)"`).FindAllSubmatch(b, -1) {
			names[string(n[1])] = true
		}
	}
	sources, err := filepath.Glob("*.go") // what handlers ask for, whether a page has a field for it or not
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range sources {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range regexp.MustCompile(`(?:\.(?:FormValue|FormFile|Query|QueryInt|QueryBool)\(|sentFile\(c, )"([a-z0-9_-]+)"`).FindAllSubmatch(b, -1) {
			names[string(n[1])] = true
		}
	}
	for n := range names {
		a.names = append(a.names, n)
	}
	for _, of := range []map[string][]access.ID{a.far(), a.near(), a.everything(func([]string) string { return "true" })} {
		for _, ids := range of {
			for _, id := range ids {
				a.ids = append(a.ids, string(id))
			}
		}
	}
	slices.Sort(a.names)
	slices.Sort(a.ids)
	slices.Sort(a.paths)
	for _, f := range a.forms {
		slices.SortFunc(f, func(x, y foundForm) int { return strings.Compare(x.page+" "+x.action, y.page+" "+y.action) })
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go a.app.Listener(ln)
	a.addr = ln.Addr().String()
	t.Cleanup(func() {
		if a.conn != nil {
			a.conn.Close()
		}
		if err := a.app.ShutdownWithTimeout(time.Minute); err != nil {
			t.Error(err)
		}
	})
	return a
}

func pick[T any](a *attacker, list []T) T { return list[a.r.IntN(len(list))] }

func (a *attacker) value() string {
	switch a.r.IntN(11) {
	case 10:
		return a.json(3)
	case 0, 1:
		return pick(a, a.ids)
	case 2:
		b := make([]byte, a.r.IntN(40))
		for i := range b {
			b[i] = byte(a.r.IntN(256))
		}
		return string(b)
	case 3:
		return pick(a, oddValues) + pick(a, oddValues)
	}
	return pick(a, oddValues)
}

// json makes a value such as scripts send, of names that ours use and some of anything.
func (a *attacker) json(deep int) string {
	keys := []string{"id", "ranch", "season", "line", "stop", "kind", "who", "device", "seq", "at", "answers", "undoes", "type", "features", "geometry", "properties", "coordinates", "name", "response", "rawId"}
	switch n := a.r.IntN(9); {
	case n < 3 && deep > 0:
		var parts []string
		for range a.r.IntN(8) {
			parts = append(parts, strconv.Quote(pick(a, keys))+":"+a.json(deep-1))
		}
		return "{" + strings.Join(parts, ",") + "}"
	case n < 5 && deep > 0:
		var parts []string
		for range a.r.IntN(4) {
			parts = append(parts, a.json(deep-1))
		}
		return "[" + strings.Join(parts, ",") + "]"
	case n < 6:
		return pick(a, []string{"null", "true", "0", "-1", "1e309", "2026", "99999999999999999999", "0.5", "1e-400"})
	}
	b, err := json.Marshal(pick(a, append([]string{pick(a, a.ids), "set", "check", "undo", "2026-05-12T12:00:00Z", "9999-12-31T23:59:60Z", "FeatureCollection", "Polygon"}, oddValues...)))
	if err != nil {
		return "null"
	}
	return string(b)
}

// looks is what the field form sends, with one thing or another wrong in it.
func (a *attacker) looks() string {
	look := map[string]any{"id": pick(a, a.ids), "ranch": string(a.mine), "season": 2026, "line": pick(a, a.ids), "stop": 1, "kind": pick(a, []string{"set", "check", "belt", "pace", "close", "note", "undo"}), "who": "AM",
		"device": "phone-1", "seq": 1, "at": "2026-05-12T12:00:00Z", "answers": map[string]string{"found": "all_here", "note": a.value()}}
	for range 1 + a.r.IntN(2) {
		keys := slices.Sorted(maps.Keys(look))
		look[pick(a, keys)] = json.RawMessage(a.json(2))
	}
	b, err := json.Marshal([]any{look})
	if err != nil {
		return "[]"
	}
	return string(b)
}

// raw writes bytes as they are, save what would end the request line.
func rawPath(s string) string {
	return strings.NewReplacer(" ", "%20", "\r", "%0d", "\n", "%0a", "\x00", "%00", "#", "%23").Replace(s)
}

func (a *attacker) path() string {
	routes := append(pages.Table(), nil...)
	for _, r := range pages.APITable() {
		routes = append(routes, [2]string{r[0], r[1]})
	}
	path := pick(a, routes)[1]
	if a.r.IntN(4) == 0 {
		path = pick(a, a.paths)
	}
	path = parameter.ReplaceAllStringFunc(path, func(p string) string {
		switch {
		case a.r.IntN(4) == 0:
			return url.PathEscape(a.value())
		case a.r.IntN(6) == 0:
			return rawPath(a.value())
		case pathWords[p] != "" && a.r.IntN(5) > 0:
			return pathWords[p]
		}
		return pick(a, a.ids)
	})
	switch a.r.IntN(12) {
	case 0:
		path += pick(a, []string{"/", "//", "/..", "/.", "%2f", "/%2e%2e/", ";x", "%", "%00", "?", "/" + rawPath(a.value())})
	case 1:
		path = "/static/" + pick(a, []string{"../pages.go", "%2e%2e/%2e%2e/etc/passwd", "..%5c..", "", "/", "tussock.css", "vendor/"})
	}
	if len(path) > 6000 {
		path = path[:6000]
	}
	return path
}

func (a *attacker) pairs(n int) url.Values {
	v := url.Values{}
	for range n {
		name := pick(a, a.names)
		if a.r.IntN(12) == 0 {
			name = a.value()
		}
		v.Add(name, a.value())
	}
	return v
}

// request makes the next one: who asks, and the bytes.
func (a *attacker) request() (*member, []byte, string) {
	role := pick(a, append([]access.Role{""}, access.Roles...))
	m := a.members[role]
	method, path, kind, body := pick(a, []string{"GET", "GET", "POST", "POST", "POST", "HEAD", "PUT", "DELETE", "OPTIONS", "PATCH"}), a.path(), "application/x-www-form-urlencoded", ""
	fields := url.Values{}
	if forms := a.forms[role]; len(forms) > 0 && a.r.IntN(2) == 0 { // one that a page offers, nearly as it stands
		f := pick(a, forms)
		method, path = "POST", f.action
		for _, p := range f.fields {
			fields.Add(p[0], p[1])
		}
		if len(f.fields) > 0 {
			for range 1 + a.r.IntN(3) {
				fields.Set(pick(a, f.fields)[0], a.value())
			}
		}
	} else {
		fields = a.pairs(a.r.IntN(6))
	}
	if ending.MatchString(path) && a.r.IntN(20) > 0 {
		return a.request()
	}
	if !strings.Contains(path, "?") && a.r.IntN(2) == 0 {
		path += "?" + a.pairs(a.r.IntN(4)).Encode()
	}
	if a.r.IntN(20) > 0 {
		fields.Set("csrf", a.word[m])
	}
	if strings.HasPrefix(path, "/field/looks") && a.r.IntN(2) == 0 {
		method = "POST"
		fields.Set("looks", a.looks())
	}
	body = fields.Encode()
	switch a.r.IntN(8) {
	case 0, 1:
		kind, body = a.multipart(fields)
	case 2:
		kind, body = "application/json", a.value()
	case 3:
		kind, body = pick(a, []string{"multipart/form-data", "multipart/form-data; boundary=", "multipart/form-data; boundary=x", "text/plain", "\xff", "application/x-www-form-urlencoded; charset=utf-7"}), a.value()+body
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\nHost: %s\r\n", method, rawPath(path), "tussock.example.org")
	if m.session != "" && a.r.IntN(30) > 0 {
		fmt.Fprintf(&b, "Cookie: tussock=%s\r\n", m.session)
	} else if a.r.IntN(2) == 0 {
		fmt.Fprintf(&b, "Cookie: tussock=%s; tussock-visitor=%s\r\n", header(a.value()), header(a.value()))
	}
	for range a.r.IntN(3) {
		fmt.Fprintf(&b, "%s: %s\r\n", pick(a, []string{"Accept", "Accept-Encoding", "Accept-Language", "Range", "If-None-Match", "If-Modified-Since", "X-Forwarded-For", "X-Real-Ip",
			"X-Forwarded-Proto", "Authorization", "User-Agent", "Referer", "Origin", "Sec-Fetch-Site", "X-Http-Method-Override", "Expect-Nothing", "Content-Language"}), header(a.value()))
	}
	if method != "GET" && method != "HEAD" || a.r.IntN(10) == 0 {
		fmt.Fprintf(&b, "Content-Type: %s\r\nContent-Length: %d\r\n\r\n%s", kind, len(body), body)
	} else {
		b.WriteString("\r\n")
	}
	return m, b.Bytes(), method
}

// ending are paths behind which somebody is a member no more: tried less often, for then the world has to be made again.
var ending = regexp.MustCompile(`/leave|/remove|/suspend|/sessions`)

func header(s string) string {
	return strings.NewReplacer("\r", "", "\n", "").Replace(s[:min(len(s), 2000)])
}

func (a *attacker) multipart(fields url.Values) (kind, body string) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, values := range fields {
		for _, v := range values {
			w.WriteField(name, v)
		}
	}
	for range a.r.IntN(3) {
		f := pick(a, oddFiles)
		part, err := w.CreateFormFile("file", f.name)
		if err == nil {
			io.WriteString(part, f.data)
		}
	}
	if a.r.IntN(10) > 0 {
		w.Close()
	}
	return w.FormDataContentType(), b.String()
}

// send puts bytes on the wire and returns the status, or 0 where the server hung up without a word.
func (a *attacker) send(request []byte, method string) (status int, head http.Header, body string, err error) {
	if a.conn == nil {
		if a.conn, err = net.Dial("tcp", a.addr); err != nil {
			return 0, nil, "", err
		}
	}
	drop := func() { a.conn.Close(); a.conn = nil }
	a.conn.SetDeadline(time.Now().Add(20 * time.Second))
	if _, err = a.conn.Write(request); err != nil {
		drop()
		return 0, nil, "", err
	}
	resp, err := http.ReadResponse(bufio.NewReader(a.conn), &http.Request{Method: method})
	if err != nil {
		drop()
		return 0, nil, "", err
	}
	b, err := io.ReadAll(resp.Body)
	resp.Body.Close()
	if resp.Close || err != nil {
		drop()
	}
	return resp.StatusCode, resp.Header, string(b), err
}

// strike sends one request and fails where the answer is a fault of ours.
func (a *attacker) strike(t testing.TB, m *member, request []byte, method string) (status int, bad bool) {
	t.Helper()
	status, head, body, err := a.send(request, method)
	said := a.log.said()
	show := request[:min(len(request), 700)]
	switch {
	case err != nil:
		t.Errorf("as %q: %v\n%q\n%s", m.actor.Role, err, show, said)
	case status >= 500:
		t.Errorf("as %q: %d\n%q\n%s", m.actor.Role, status, show, said)
	case head.Get("Evil") != "" || strings.Contains(head.Get("Set-Cookie"), "evil"):
		t.Errorf("as %q: a header was split\n%q\n%v", m.actor.Role, show, head)
	case strings.Contains(body, "SQLSTATE") || strings.Contains(body, "goroutine ") || strings.Contains(body, ".go:"):
		t.Errorf("as %q: the answer tells a cause\n%q", m.actor.Role, show)
	default:
		return status, false
	}
	return status, true
}

// keep gives those another session whose own has ended on the way.
func (a *attacker) keep(t testing.TB) (left bool) {
	for _, m := range a.members {
		if m.session == "" {
			continue
		}
		if _, err := a.db.DB.ActorOf(t.Context(), m.session); err == nil {
			continue
		}
		session, err := a.db.DB.OpenSession(t.Context(), postgres.NewSession{Coop: m.actor.Coop, Person: m.actor.Person, Idle: time.Hour, Max: time.Hour})
		if err != nil {
			return true // left, or was made to leave
		}
		m.session = session
		a.word[m] = m.word()
	}
	return false
}

// TestFuzzedRoutes is the quick form that is the same every time; -fuzz FuzzRoutes looks for more.
func TestFuzzedRoutes(t *testing.T) {
	n := 400
	if testing.Short() {
		n = 200
	}
	if s := fuzzLong(); s > 0 {
		n = s
	}
	statuses := map[int]int{}
	for seed := fuzzSeed(); n > 0; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			a := newAttacker(t, seed)
			for bad := 0; n > 0 && bad < 12; n-- {
				m, request, method := a.request()
				status, wrong := a.strike(t, m, request, method)
				statuses[status]++
				if wrong {
					bad++
				}
				if n%25 == 0 && a.keep(t) {
					return
				}
			}
		})
	}
	t.Logf("answers by status: %v", statuses)
}

// fuzzLong and fuzzSeed come from the environment, for a long run: TUSSOCK_FUZZ=100000 TUSSOCK_FUZZ_SEED=7.
func fuzzLong() int {
	n, _ := strconv.Atoi(os.Getenv("TUSSOCK_FUZZ"))
	return n
}

func fuzzSeed() uint64 {
	n, _ := strconv.ParseUint(os.Getenv("TUSSOCK_FUZZ_SEED"), 10, 64)
	return n
}

// FuzzRoutes lets Go's fuzzer choose: who asks, for which route, how, with what behind the question mark, as which kind of
// body. Run with -fuzz FuzzRoutes it starts a database for each of its workers.
func FuzzRoutes(f *testing.F) {
	f.Add(uint8(1), uint16(3), "GET", "a", "season=1", "application/x-www-form-urlencoded", []byte("name=x"))
	f.Add(uint8(2), uint16(40), "POST", "2026", "", "multipart/form-data; boundary=x", []byte("--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\n\r\na,b\r\n--x--\r\n"))
	f.Add(uint8(0), uint16(6), "POST", "\xff", "next=%2f%2fevil", "application/json", []byte(`{"id":"x"}`))
	f.Add(uint8(5), uint16(90), "HEAD", "..%2f", "\x00", "", []byte("\x00\xff"))
	a := newAttacker(f, 1)
	routes := pages.Table()
	for _, r := range pages.APITable() {
		routes = append(routes, [2]string{r[0], r[1]})
	}
	roles := append([]access.Role{""}, access.Roles...)
	f.Fuzz(func(t *testing.T, role uint8, route uint16, method, part, query, kind string, body []byte) {
		r := routes[int(route)%len(routes)]
		if ending.MatchString(r[1]) || len(part)+len(query)+len(kind) > 3000 || !regexp.MustCompile(`^[A-Z]{1,10}$`).MatchString(method) {
			t.Skip()
		}
		m := a.members[roles[int(role)%len(roles)]]
		path := rawPath(parameter.ReplaceAllString(r[1], strings.ReplaceAll(part, "$", "$$")) + "?" + query)
		if method == "POST" && !strings.HasPrefix(kind, "multipart") {
			body = append([]byte("csrf="+a.word[m]+"&"), body...)
		}
		request := fmt.Appendf(nil, "%s %s HTTP/1.1\r\nHost: tussock.example.org\r\nCookie: tussock=%s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n%s", method, path, m.session, header(kind), len(body), body)
		a.strike(t, m, request, method)
		a.keep(t)
	})
}
