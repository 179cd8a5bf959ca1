package main

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tussock/internal/access"
	"tussock/internal/demo"
)

// TestBrowser runs the demo as a visitor gets it and looks at every page through a real browser. One of its parts runs
// alone with, for example,
//
//	go test ./cmd/tussock -run TestBrowser/Pages/landowner
//
// TUSSOCK_SHOTS=FOLDER keeps a picture of each page; TUSSOCK_PICTURES=1 draws the README's pictures again.
func TestBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	chromium := startBrowser(t)
	base := startDemo(t)
	for _, tt := range []struct {
		name string
		test func(t *testing.T, b *browser, base string)
	}{
		{"Poster", testPoster},
		{"Pictures", testPictures}, // before anything is sent
		{"Pages", testPages},
		{"WithoutScripts", testWithoutScripts},
		{"Keyboard", testKeyboard},
		{"Upload", testUpload},
		{"Sheet", testSheet},
		{"Neighbor", testNeighbor},
		{"Caches", testCaches},
	} {
		t.Run(tt.name, func(t *testing.T) { tt.test(t, chromium, base) })
	}
}

// startDemo runs "tussock demo" on a free port until the test ends, and returns its address.
func startDemo(t *testing.T) string {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	out := &announcement{ready: make(chan string, 1)}
	ended := make(chan int, 1)
	begun := time.Now()
	go func() {
		ended <- run(ctx, []string{"demo", "--addr", "127.0.0.1:0"}, testEnv, out, out)
	}()
	t.Cleanup(func() {
		cancel()
		select {
		case code := <-ended:
			if code != 0 {
				t.Errorf("the demo ended with status %d:\n%s", code, out.text())
			}
		case <-time.After(2 * time.Minute):
			t.Error("the demo did not end")
		}
	})
	select {
	case address := <-out.ready:
		t.Logf("the demo was ready after %.1f s", time.Since(begun).Seconds())
		return address
	case code := <-ended:
		ended <- code
		if os.Getenv("REQUIRE_DB") != "1" && strings.Contains(out.text(), "initdb") {
			t.Skip("no PostgreSQL found; install the package postgresql to run the browser tests")
		}
		t.Fatalf("the demo ended with status %d before it was ready:\n%s", code, out.text())
	case <-time.After(10 * time.Minute):
		t.Fatalf("the demo was not ready after ten minutes:\n%s", out.text())
	}
	return ""
}

// testEnv hands the program nothing of this machine's own settings but where its commands are.
func testEnv(name string) string {
	if strings.HasPrefix(name, "TUSSOCK_") {
		return ""
	}
	return os.Getenv(name)
}

// An announcement waits for the line with the address.
type announcement struct {
	ready chan string

	mu   sync.Mutex
	said bytes.Buffer
	sent bool
}

var addressLine = regexp.MustCompile(`http://127\.0\.0\.1:[0-9]+`)

func (a *announcement) Write(p []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.said.Write(p)
	if at := addressLine.Find(a.said.Bytes()); at != nil && !a.sent && bytes.Contains(a.said.Bytes(), []byte(demo.Password)) {
		a.sent = true
		a.ready <- string(at)
	}
	return len(p), nil
}

func (a *announcement) text() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.said.String()
}

var _ io.Writer = (*announcement)(nil)

// emails are the five sign-ins the demo prints.
func emails() map[access.Role]string {
	byRole := map[access.Role]string{}
	for _, p := range demo.Members() {
		if p.Shown {
			byRole[p.Role] = p.Email
		}
	}
	return byRole
}

// testPages: every page that a role can reach by links is free of script errors, of breaches of the content security
// policy, of requests to other hosts, of grave accessibility faults, and of sideways scrolling on a phone.
func testPages(t *testing.T, b *browser, base string) {
	script := axeScript(t)
	t.Run("visitor", func(t *testing.T) { lookAround(t, b.open(t, base), script, "visitor", "/sign-in", "/about") })
	for _, role := range access.Roles {
		t.Run(string(role), func(t *testing.T) {
			t.Parallel()
			p := b.open(t, base)
			p.signIn(emails()[role], demo.Password)
			first := []string{p.path(), "/about"}
			if role.Has(access.ViewOutreach) {
				first = append(first, "/outreach/cooperative") // a place that has figures, before one that has none
			}
			lookAround(t, p, script, string(role), first...)
		})
	}
}

// lookAround follows links from the first pages, one of each kind of page, and looks at each as a phone and a desk have it.
func lookAround(t *testing.T, p *tab, script, who string, first ...string) {
	const most = 80
	queue, seen := first, map[string]bool{}
	for len(queue) > 0 && len(seen) < most {
		path := queue[0]
		queue = queue[1:]
		kind := distinctKind(path)
		if seen[kind] || strings.HasPrefix(path, "/static/") {
			continue
		}
		seen[kind] = true
		if !lookAt(t, p, script, who, path) {
			continue
		}
		queue = append(queue, p.links()...)
	}
	kinds := make([]string, 0, len(seen))
	for k := range seen {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	t.Logf("%s saw %d pages: %s", who, len(kinds), strings.Join(kinds, " "))
}

func lookAt(t *testing.T, p *tab, script, who, path string) bool {
	for _, width := range []int64{360, 1280} {
		p.width(width)
		p.complaints() // what a page that was not there left behind
		resp, err := chromedp.Run(p.ctx, chromedp.NavigateResponse(p.base+path))
		if err != nil {
			if strings.Contains(err.Error(), "ERR_ABORTED") {
				return false // a download
			}
			t.Errorf("%s: %v", path, err)
			return false
		}
		if resp.Status != 200 {
			t.Errorf("%s answers %d", path, resp.Status)
			return false
		}
		if !strings.HasPrefix(resp.MimeType, "text/html") {
			return false
		}
		p.do(chromedp.Sleep(150 * time.Millisecond)) // charts draw after load
		where := fmt.Sprintf("%s at %d px", path, width)
		for _, w := range p.complaints() {
			t.Errorf("%s: %s", where, w)
		}
		for _, v := range p.axe(script) {
			t.Errorf("%s: %s", where, v)
		}
		if wide := p.wide(); width == 360 && wide != "" {
			t.Errorf("%s scrolls sideways, %s", where, wide)
		}
		if n := eval[int](p, `document.querySelectorAll('h1').length`); n != 1 {
			t.Errorf("%s has %d first headings, want 1", where, n)
		}
		if n := eval[int](p, `[...document.querySelectorAll('.chart.drawn')].filter(c => {
			const svg = c.querySelector('svg'); return !svg || svg.getBoundingClientRect().width < 0.9 * c.getBoundingClientRect().width }).length`); n != 0 {
			t.Errorf("%s has %d charts that do not fill their box", where, n)
		}
		p.complaints() // what axe's own probing said
		p.shot(shotName(who, fmt.Sprint(width), distinctKind(path)))
	}
	return true
}

// testWithoutScripts: what matters is there before any script has run.
func testWithoutScripts(t *testing.T, b *browser, base string) {
	p := b.open(t, base)
	p.withoutScripts()
	p.width(360)
	p.signIn(emails()[access.Landowner], demo.Password)
	if n := eval[int](p, `document.querySelectorAll('main table').length`); n == 0 {
		t.Error("My ranch shows no table of its numbers without scripts")
	}
	text := eval[string](p, `document.querySelector('main').innerText`)
	if !regexp.MustCompile(`[0-9]+ of [0-9]+`).MatchString(text) {
		t.Errorf("My ranch does not say how many of how many nests lasted without scripts:\n%.400s", text)
	}
	p.shot("without-scripts-ranch")
	for _, path := range []string{"/region", "/send", "/who"} {
		p.visit(path)
		if text := eval[string](p, `document.querySelector('main').innerText`); len(text) < 80 {
			t.Errorf("%s is almost empty without scripts: %q", path, text)
		}
		p.shot(shotName("without-scripts", path))
	}
}

// testKeyboard: with Tab and Enter alone a landowner signs in and comes to the control that sends results, and always sees
// where the keyboard is.
func testKeyboard(t *testing.T, b *browser, base string) {
	p := b.open(t, base)
	p.width(1280)
	p.visit("/sign-in")
	tabTo(t, p, `input[name="email"]`)
	p.do(chromedp.KeyEvent(emails()[access.Landowner]))
	tabTo(t, p, `input[name="password"]`)
	p.do(chromedp.KeyEvent(demo.Password))
	if _, err := chromedp.RunResponse(p.ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(p.path(), "/ranch") {
		t.Fatalf("Enter in the sign-in form led to %s, want /ranch", p.path())
	}
	p.visit("/send")
	tabTo(t, p, `input[type="file"]`)
	tabTo(t, p, `form:has(input[type="file"]) [type="submit"]`)
}

// tabTo presses Tab until the element has the keyboard.
func tabTo(t *testing.T, p *tab, selector string) {
	t.Helper()
	for range 40 {
		p.do(chromedp.KeyEvent(kb.Tab))
		if eval[bool](p, fmt.Sprintf(`document.activeElement.matches(%q)`, selector)) {
			if !eval[bool](p, `(() => { const s = getComputedStyle(document.activeElement); return s.outlineStyle !== 'none' || s.boxShadow !== 'none' })()`) {
				t.Errorf("%s at %s does not show that it has the keyboard", selector, p.path())
			}
			return
		}
	}
	t.Fatalf("Tab does not come to %s at %s", selector, p.path())
}

// testUpload sends real nest checks through the browser and finds their survival on the ranch's own page: 147 nests of one
// county and season, for which testdata/opendata/grassland_birds_expected.csv has, from R, survival to day 28 of
// 0.380 (0.302 to 0.458).
func testUpload(t *testing.T, b *browser, base string) {
	sheet := openData(t, "Illinois Jo Daviess", "1997")
	p := b.open(t, base)
	p.width(360)
	p.signIn(emails()[access.Landowner], demo.Password)
	home := p.path()
	p.visit("/send")
	p.do(
		chromedp.Click(chromedp.CSS(`fieldset label.choice:nth-of-type(2) input[name="ranch"]`)),
		chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"]`), []string{sheet}),
		chromedp.Click(chromedp.CSS(`form:has(input[type="file"]) [type="submit"]`)),
	)
	p.await("/uploads/")
	read(t, p)
	said := eval[string](p, `document.querySelector('main').innerText`)
	if !strings.Contains(said, "147 nests") {
		t.Errorf("the answer does not say that 147 nests were read:\n%.600s", said)
	}
	p.shot("upload-answer")
	p.visit(strings.SplitN(home, "?", 2)[0])
	if strings.Count(p.path(), "/") < 2 {
		p.visit(regexp.MustCompile(`/ranch/[0-9a-f-]{36}`).FindString(strings.Join(p.links(), " ")))
	}
	row := eval[string](p, `[...document.querySelectorAll('main tr')].map(r => r.innerText).find(r => r.startsWith('1997')) || ''`)
	// 30 to 46 by the model of independent nests; on one transect the page's range is the model's with Student's t of 30 degrees of
	// freedom, times a published design effect of 1 at least.
	if !regexp.MustCompile(`^1997\s+147\s+38\s+29–47\b`).MatchString(row) {
		t.Errorf("My ranch has %q for 1997, want 147 nests, 38 of 100, range 29–47", row)
	}
	p.shot("upload-ranch")
}

// openData writes one ranch and season of the open data to a file of its own, without its ranch: an owner's sheet names none.
func openData(t *testing.T, ranch, season string) string {
	t.Helper()
	data, err := os.ReadFile("../../testdata/opendata/grassland_birds_checks.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	kept := []string{strings.TrimPrefix(lines[0], "ranch,")}
	for _, l := range lines[1:] {
		if rest, ok := strings.CutPrefix(l, ranch+","+season+","); ok {
			kept = append(kept, season+","+rest)
		}
	}
	path := filepath.Join(t.TempDir(), "checks.csv")
	if err := os.WriteFile(path, []byte(strings.Join(kept, "\n")), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// testNeighbor: a landowner who asks for a neighbor's ranch gets the very page that a ranch that does not exist gets.
func testNeighbor(t *testing.T, b *browser, base string) {
	other := b.open(t, base)
	other.signIn(neighbor(), demo.Password)
	theirs := regexp.MustCompile(`/ranch/[0-9a-f-]{36}`).FindString(other.path() + " " + strings.Join(other.links(), " "))
	if theirs == "" {
		t.Fatalf("no ranch's address to be seen at %s", other.path())
	}
	p := b.open(t, base)
	p.signIn(emails()[access.Landowner], demo.Password)
	p.visit(theirs)
	got := eval[string](p, `document.querySelector('main').innerText`)
	p.visit("/ranch/00000000-0000-4000-8000-000000000000")
	want := eval[string](p, `document.querySelector('main').innerText`)
	if got != want {
		t.Errorf("a neighbor's ranch answers %q, one that does not exist %q", got, want)
	}
}

// neighbor is the e-mail of a landowner other than the one the demo shows.
func neighbor() string {
	for _, p := range demo.Members() {
		if slices.Contains(p.Ranches, "Tarrow Creek") {
			return p.Email
		}
	}
	return ""
}

// picturesMost is how many bytes the README's pictures may have together.
const picturesMost = 400_000

// testPictures draws the README's pictures again when asked, so that it shows what the pages are.
func testPictures(t *testing.T, b *browser, base string) {
	if os.Getenv("TUSSOCK_PICTURES") != "1" {
		t.Skip("set TUSSOCK_PICTURES=1 to draw the README's pictures again")
	}
	all := 0
	for _, picture := range []struct {
		name, path string
		as         access.Role
	}{
		{"my-ranch", "", access.Landowner}, // the page after signing in
		{"region", "/region", access.Landowner},
		{"outreach", "/outreach", access.Planner},
	} {
		p := b.open(t, base)
		p.do(chromedp.EmulateViewport(1280, 800))
		p.signIn(emails()[picture.as], demo.Password)
		if picture.path != "" {
			p.visit(picture.path)
		}
		p.do(chromedp.Sleep(time.Second))
		drawn, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(drawn))
		if err != nil {
			t.Fatal(err)
		}
		var small bytes.Buffer
		if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&small, img); err != nil {
			t.Fatal(err)
		}
		all += small.Len()
		if err := os.WriteFile("../../deploy/"+picture.name+".png", small.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if all > picturesMost {
		t.Errorf("the pictures have %d bytes, want at most %d", all, picturesMost)
	}
}
