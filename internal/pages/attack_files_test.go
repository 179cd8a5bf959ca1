package pages_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"context"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// starts are what a spreadsheet program takes for a formula at the start of a cell (OWASP, "CSV Injection").
var starts = []string{"=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"}

// TestFormulasInNoExport: a sheet, and names, full of formulas come out of every file that any page leads to as plain
// text: CSV, whatever is packed in archives, and workbooks.
func TestFormulasInNoExport(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("=1+1")
	ranch := rosa.adds("=HYPERLINK(\"http://evil.example\",\"x\")", "@SUM(A1:A9)")
	rosa.does(func(tx *postgres.Tx) error { return tx.SaveArea("+44", "-2") })
	ada := rosa.invites(access.Landowner, ranch)
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Write([]string{"transect", "nest", "substrate", "set_on", "check1_on", "check1", "check2_on", "check2", "predator", "notes"})
	for i, s := range starts {
		evil := s + "cmd|' /C calc'!A" + strconv.Itoa(i)
		w.Write([]string{evil, strconv.Itoa(i + 1), "yucca", "2026-04-28", "2026-05-12", "taken", "", "", evil, evil})
	}
	w.Flush()
	ada.kept(ada.sends([]sheet{{"nests.csv", b.String()}}))
	ada.posts("/who/"+string(ranch), "level", "1")

	cells, files := 0, 0
	for _, m := range []*member{rosa, ada, rosa.invites(access.Biologist), rosa.invites(access.Planner), rosa.invites(access.Hand, ranch)} {
		paths, _ := m.walks()
		for _, path := range paths {
			got := m.opens(path)
			if got.status != http.StatusOK || strings.HasPrefix(got.header.Get("Content-Type"), "text/html") || strings.HasSuffix(path, "/file") { // the sender's own, as it came
				continue
			}
			files++
			cells += noFormulas(t, path, got.header.Get("Content-Type"), []byte(got.body))
		}
	}
	if files < 4 || cells < 50 {
		t.Errorf("only %d files with %d cells were read", files, cells)
	}
}

// noFormulas reads a file, and what is packed in it, and fails where a cell is a formula.
func noFormulas(t *testing.T, name, kind string, data []byte) (cells int) {
	t.Helper()
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return 0
		}
		for _, f := range z.File {
			if strings.Contains(f.Name, "/as-sent/") {
				continue // the sender's own, byte for byte
			}
			if strings.Contains(f.Name, "..") || strings.HasPrefix(f.Name, "/") || strings.Contains(f.Name, `\`) {
				t.Errorf("%s: the path %q", name, f.Name)
			}
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			part, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			cells += noFormulas(t, name+" "+f.Name, "", part)
		}
	case strings.Contains(name, "xl/worksheets/") && strings.HasSuffix(name, ".xml"):
		if formula := regexp.MustCompile(`<f\b[^>]*>([^<]*)`).FindSubmatch(data); formula != nil && bytes.Contains(formula[1], []byte("cmd")) {
			t.Errorf("%s: a formula %s", name, formula[1])
		}
	case strings.HasSuffix(name, ".csv") || strings.HasPrefix(kind, "text/csv") || strings.HasSuffix(name, ".txt") && bytes.Contains(data, []byte("\t")):
		r := csv.NewReader(bytes.NewReader(data))
		if strings.HasSuffix(name, ".txt") {
			r.Comma = '\t'
			r.LazyQuotes = true
		}
		rows, err := r.ReadAll()
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, row := range rows {
			for _, cell := range row {
				cells++
				if _, err := strconv.ParseFloat(cell, 64); err == nil {
					continue // a number is one
				}
				for _, s := range starts {
					if strings.HasPrefix(cell, s) {
						t.Errorf("%s: the cell %q", name, cell)
					}
				}
			}
		}
	}
	return cells
}

// TestHeadersCannotBeSplit: no name, no path and no field ends a header line or starts another, in any answer.
func TestHeadersCannotBeSplit(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	split := "a\r\nSet-Cookie: evil=1\r\nX-Evil: 1\r\n\r\n<script>"
	ranch := rosa.adds("Draw", "Ada Marsh")
	if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.ranch SET name = $1 WHERE id = $2", "Draw "+split, ranch); err != nil { // from before names were one line
		t.Fatal(err)
	}
	ada := rosa.invites(access.Landowner, ranch)
	id, _ := ada.kept(ada.sends([]sheet{{split + ".csv", plain}}))
	encoded := url.QueryEscape(split)
	var answers []answer
	for _, path := range []string{
		"/uploads/" + string(id) + "/file", "/files/ranches/" + string(ranch) + "/sheets.zip", "/sign-in?next=" + encoded, "/sign-in?next=/" + encoded, "/ranch/" + url.PathEscape(split),
		"/region/" + url.PathEscape(split), "/nothing?x=" + encoded, "/outreach/" + url.PathEscape(split), "/static/" + url.PathEscape(split),
	} {
		answers = append(answers, ada.opens(path))
	}
	for _, path := range []string{"/sign-in", "/who/" + string(ranch), "/uploads/" + string(id) + "/answers", "/language", "/tokens", "/account/sessions/end"} {
		answers = append(answers, ada.posts(path, "next", "/x"+split, "back", "/x"+split, "language", split, "level", split, "name", split, "email", split, "password", split))
	}
	// Nobody signed in is sent to the door, with where they wanted to go.
	r := httptest.NewRequest(http.MethodGet, "/ranch?x="+encoded, nil)
	resp, err := st.app.Test(r, -1)
	if err != nil {
		t.Fatal(err)
	}
	answers = append(answers, answer{resp.StatusCode, resp.Header, ""})
	for i, a := range answers {
		for name, values := range a.header {
			if strings.Contains(name, "Evil") || strings.ContainsAny(strings.Join(values, ""), "\r\n") || name == "Set-Cookie" && strings.Contains(fmt.Sprint(values), "evil=1") {
				t.Errorf("answer %d (%d): %s: %q", i, a.status, name, values)
			}
		}
		if to := a.header.Get("Location"); to != "" && (!strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//")) {
			t.Errorf("answer %d sends to %q", i, to)
		}
	}
}

// TestPathTricks: no spelling of a path leads out of the static files, past a right or to another's file.
func TestPathTricks(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	for _, path := range []string{
		"/static/../routes.go", "/static/%2e%2e/%2e%2e/go.mod", "/static/..%2f..%2fgo.mod", "/static/..%5c..%5cgo.mod", "/static//etc/passwd", "/static/%2fetc%2fpasswd", "/static/./../templates/layout/base.html",
		"/static/vendor/../../templates/layout/base.html", "/static/tussock.css%00.js", "/static/", "/static", "/templates/layout/base.html", "/.git/config", "/files/../cooperative/members",
		"/ranch/../cooperative", "/ranch/%2e%2e/cooperative", "/COOPERATIVE", "/cooperative%2fmembers", "//cooperative/members", "/./cooperative/members", "/cooperative/;/members", "/cooperative/members%00",
		"/files/ranches/%2e%2e/%2e%2e/sheets.zip", "/debug/pprof/", "/metrics", "/openapi.json",
	} {
		got := ada.opens(path)
		if got.status < 400 && !strings.HasPrefix(got.header.Get("Location"), "/") || strings.Contains(got.body, "root:") || strings.Contains(got.body, "{{define") || strings.Contains(got.body, "module tussock") ||
			strings.Contains(got.text(), "Invite") {
			t.Errorf("%s: %d %s", path, got.status, got.text())
		}
	}
	for _, name := range []string{"../../../../tmp/x.csv", `..\..\x.csv`, "/etc/x.csv", "C:\\x.csv", "x.csv/", ".x.csv"} {
		id, _ := ada.kept(ada.sends([]sheet{{name, plain + "A," + strconv.Itoa(len(name)) + "9,yucca,2026-04-28,2026-05-12,intact,,\n"}}))
		got := ada.opens("/uploads/" + string(id) + "/file").header.Get("Content-Disposition")
		if !strings.HasPrefix(got, "attachment") || strings.ContainsAny(got, `/\`) || strings.Contains(got, "..") {
			t.Errorf("%q comes back as %s", name, got)
		}
	}
}

// packed makes an archive of files, deflated.
func packed(files ...sheet) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate}
		if len(f.data) < 100 {
			h.Method = zip.Store
		}
		w, err := z.CreateHeader(h)
		if err != nil {
			panic(err)
		}
		io.WriteString(w, f.data)
	}
	z.Close()
	return b.Bytes()
}

// lying makes an archive say that its files are small when unpacked.
func lying(data []byte) []byte {
	out := bytes.Clone(data)
	for at := 0; ; { // the sizes in the central directory (APPNOTE 6.3, 4.3.12)
		i := bytes.Index(out[at:], []byte("PK\x01\x02"))
		if i < 0 {
			return out
		}
		at += i + 4
		binary.LittleEndian.PutUint32(out[at+20:], 100)
	}
}

// TestBombs: what is small as sent and huge as unpacked is refused in words, quickly, without the memory to hold it:
// archives, archives in archives, workbooks, and those that lie about their size.
func TestBombs(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	zeros := strings.Repeat("\x00", 30<<20)
	bomb := packed(sheet{"nests.csv", zeros})
	rows := columns + strings.Repeat("A,1,yucca,2026-04-28,2026-05-12,intact,2026-05-26,taken\n", 500_000)
	many := make([]sheet, 12_000)
	for i := range many {
		many[i] = sheet{fmt.Sprintf("%d.csv", i), "x"}
	}
	book := func(sheetXML string) []byte {
		return packed(
			sheet{"[Content_Types].xml", `<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`},
			sheet{"_rels/.rels", `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
			sheet{"xl/_rels/workbook.xml.rels", `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
			sheet{"xl/workbook.xml", `<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>`},
			sheet{"xl/worksheets/sheet1.xml", sheetXML})
	}
	const open = `<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`
	big := book(open + strings.Repeat(" ", 140<<20) + "</sheetData></worksheet>")
	laughs := `<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "haha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY x SYSTEM "file:///etc/passwd">]>` +
		`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&c;&x;</t></is></c></row></sheetData></worksheet>`
	wide := open + `<row r="1"><c r="XFD1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>`
	for _, tt := range []struct {
		name string
		file sheet
	}{
		{"Zeros", sheet{"a.zip", string(bomb)}},
		{"ZerosLying", sheet{"a.zip", string(lying(bomb))}},
		{"Rows", sheet{"a.zip", string(packed(sheet{"nests.csv", rows}))}},
		{"ManyFiles", sheet{"a.zip", string(packed(many...))}},
		{"ZipInZip", sheet{"a.zip", string(packed(sheet{"b.zip", string(bomb)}))}},
		{"Workbook", sheet{"a.xlsx", string(big)}},
		{"WorkbookLying", sheet{"a.xlsx", string(lying(big))}},
		{"Entities", sheet{"a.xlsx", string(book(laughs))}},
		{"FarCell", sheet{"a.xlsx", string(book(wide))}},
		{"ZerosAsWorkbook", sheet{"a.xlsx", strings.ReplaceAll(string(bomb), "nests.csv", "xl/wb.xml")}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			runtime.GC()
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			got := ada.sends([]sheet{tt.file})
			if got.status == http.StatusSeeOther { // for the clerk to find out
				_, got = ada.kept(got)
				ada.want(got, http.StatusOK, "Nothing in this sheet could be read")
			}
			runtime.ReadMemStats(&after)
			if strings.Contains(got.body, "root:") || strings.Contains(got.body, "hahahaha") {
				t.Errorf("%d KB of %s: %d %s", len(tt.file.data)>>10, tt.name, got.status, got.text())
			}
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 600 {
				t.Errorf("%s took %d MB", tt.name, mb)
			}
		})
	}
	if got := len(ada.rows()); got != 0 {
		t.Errorf("%d nests of them count", got)
	}
}

// TestPicturesAreNotTaken: a picture would carry where and when it was taken (EXIF); none is taken in, whatever it calls
// itself.
func TestPicturesAreNotTaken(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	exif := "\xff\xd8\xff\xe1\x00\x2aExif\x00\x00II*\x00GPSLatitude"
	for _, name := range []string{"nest.jpg", "nest.csv", "nest.xlsx", "nest", "nest.jpg.csv", "NEST.JPG"} {
		if got := ada.sends([]sheet{{name, exif}}); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, got.status)
		}
	}
	if got, err := st.db.Owner.Text(context.Background(), "SELECT count(*)::text FROM tussock.upload_file"); got != "0" || err != nil {
		t.Errorf("%s files were kept (%v)", got, err)
	}
}

// TestBodiesHaveAnEnd: a body that says it is huge, that is, or that never comes costs the server nothing: it is refused or
// its connection ends, and others are answered in the meantime.
func TestBodiesHaveAnEnd(t *testing.T) {
	st := sharedStage(t)
	st.cooperative("Sandhill Grass")
	if got := st.app.Server().ReadTimeout; got <= 0 || got > time.Minute {
		t.Errorf("a request may take %v to arrive", got)
	}
	if got := st.app.Server().IdleTimeout; got <= 0 || got > 2*time.Minute {
		t.Errorf("a connection may idle for %v", got)
	}
	st.app.Server().ReadTimeout = 700 * time.Millisecond
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go st.app.Listener(ln)
	defer st.app.ShutdownWithTimeout(3 * time.Second)
	dial := func() net.Conn {
		t.Helper()
		c, err := net.Dial("tcp", ln.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		c.SetDeadline(time.Now().Add(10 * time.Second))
		return c
	}
	status := func(c net.Conn) int {
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			return 0 // it hung up
		}
		return resp.StatusCode
	}
	huge := dial()
	fmt.Fprint(huge, "POST /send HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 99999999999\r\n\r\nabc")
	if got := status(huge); got != http.StatusUnauthorized && got != http.StatusRequestEntityTooLarge && got != http.StatusBadRequest && got != 0 {
		t.Errorf("100 GB announced: %d", got)
	}
	chunks := dial()
	fmt.Fprint(chunks, "POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nTransfer-Encoding: chunked\r\n\r\n")
	go func() {
		for range 60 {
			if _, err := fmt.Fprintf(chunks, "100000\r\n%s\r\n", strings.Repeat("a", 1<<20)); err != nil {
				return
			}
		}
		fmt.Fprint(chunks, "0\r\n\r\n")
	}()
	if got := status(chunks); got != http.StatusRequestEntityTooLarge && got != 0 {
		t.Errorf("60 MB in chunks: %d", got)
	}
	slow := dial()
	fmt.Fprint(slow, "POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\n")
	ended := make(chan struct{})
	go func() {
		for {
			if _, err := slow.Write([]byte("a")); err != nil {
				break
			}
			time.Sleep(50 * time.Millisecond)
		}
		close(ended)
	}()
	head := dial()
	fmt.Fprint(head, "GET /about HTTP/1.1\r\nX-Slow: ")
	other := dial()
	fmt.Fprint(other, "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n")
	if got := status(other); got != http.StatusOK {
		t.Errorf("while somebody was slow: %d", got)
	}
	select {
	case <-ended:
	case <-time.After(30 * time.Second): // the whole body takes 50
		t.Error("a slow body is waited for without end")
	}
	head.SetDeadline(time.Now().Add(30 * time.Second))
	if _, err := io.ReadAll(head); err != nil {
		t.Errorf("a head that never ends: %v", err)
	}
}

// TestOnlyMembersAreWaitedFor: of a body that is announced as a season's sheets nothing is kept where no member sends it: the
// answer comes before the body. Nor is more than a form's worth of a form's. (OWASP ASVS 5.0, 5.2.1)
func TestOnlyMembersAreWaitedFor(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go st.app.Listener(ln)
	defer st.app.ShutdownWithTimeout(3 * time.Second)
	// announces sends the head of a request alone and returns the answer, if there is one.
	announces := func(path, session string, size int) (answer, bool) {
		t.Helper()
		c, err := net.Dial("tcp", ln.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		c.SetDeadline(time.Now().Add(2 * time.Second))
		fmt.Fprintf(c, "POST %s HTTP/1.1\r\nHost: x\r\nCookie: tussock=%s\r\nContent-Type: multipart/form-data; boundary=b\r\nContent-Length: %d\r\n\r\n", path, session, size)
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			return answer{}, false
		}
		return answer{resp.StatusCode, resp.Header, ""}, true
	}
	for _, tt := range []struct {
		path, session string
		size, status  int // 0 where the body is waited for
	}{
		{"/send", "", 20 << 20, http.StatusUnauthorized}, {"/send", postgres.NewToken(), 20 << 20, http.StatusUnauthorized}, {"/SEND/", "junk", 1 << 20, http.StatusUnauthorized},
		{"/send", ada.session, 20 << 20, 0}, {"/send", ada.session, 26 << 20, http.StatusRequestEntityTooLarge},
		{"/sign-in", "", 1 << 20, http.StatusRequestEntityTooLarge}, {"/who/share", ada.session, 1 << 20, http.StatusRequestEntityTooLarge}, {"/nothing", "", 1 << 20, http.StatusRequestEntityTooLarge},
		{"/plan/" + string(mine) + "/map", postgres.NewToken(), 1 << 20, http.StatusUnauthorized}, {"/field/photos", "", 2 << 20, http.StatusRequestEntityTooLarge},
		{"/cooperative/areas/map", ada.session, 1 << 20, http.StatusRequestEntityTooLarge},
	} {
		got, answered := announces(tt.path, tt.session, tt.size)
		if got.status != tt.status || answered != (tt.status != 0) {
			t.Errorf("%s with %d bytes announced: %d, want %d", tt.path, tt.size, got.status, tt.status)
		}
		if answered && (got.header.Get("Content-Security-Policy") == "" || got.header.Get("Cache-Control") != "no-store") {
			t.Errorf("%s: the answer has not the headers of every answer: %v", tt.path, got.header)
		}
	}
	// What cannot be read at all is answered with them too.
	c, err := net.Dial("tcp", ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET /about HTTP/1.1\r\nHost: x\r\nCookie: %s\r\n\r\n", strings.Repeat("a=b; ", 4000))
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || resp.StatusCode < 400 || resp.Header.Get("Content-Security-Policy") == "" || resp.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("a head that is too long: %v, %v", resp, err)
	}
}
