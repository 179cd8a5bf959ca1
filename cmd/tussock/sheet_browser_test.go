package main

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tussock/internal/access"
	"tussock/internal/clerk"
	"tussock/internal/demo"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/words"
	"tussock/web"
)

// ownSheet is one as people keep them, of a season of which the demo has none.
const ownSheet = `North pasture 2012,,,,,,,
Line,Nest,Plant,Set out,Look 1,Saw,Look 2,Saw 2,Remarks
1,1,soapweed,4/28/2012,5/12/2012,ok,5/26/2012,ok,by the gate
1,2,grass,4/28/2012,5/12/2012,ok,5/26/2012,gone,
1,3,grass,4/28/2012,5/12/2012,gone,,,shells left
1,4,soapweed,4/28/2012,5/12/2012,ok,5/26/2012,ok,
TOTAL,4,,,,,,2 left,
`

// testSheet: on a phone, without scripts and with the keyboard alone, a landowner sends a sheet, sees it as it was read, says what
// a column holds, accepts it and finds it on My ranch.
func testSheet(t *testing.T, b *browser, base string) {
	file := filepath.Join(t.TempDir(), "our nests.csv")
	if err := os.WriteFile(file, []byte(ownSheet), 0o644); err != nil {
		t.Fatal(err)
	}
	p := b.open(t, base)
	p.withoutScripts()
	p.width(360)
	p.signIn(emails()[access.Landowner], demo.Password)
	p.visit("/send")
	tabTo(t, p, `input[name="ranch"]`)
	p.do(chromedp.KeyEvent(kb.ArrowDown)) // the first ranch; above it stands "whichever the sheet says"
	p.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"]`), []string{file}))
	tabTo(t, p, `#send [type="submit"]`)
	enter(t, p)
	p.await("/uploads/")
	read(t, p)
	says := func(what string, want ...string) {
		t.Helper()
		said := strings.Join(strings.Fields(eval[string](p, `document.querySelector('main').innerText`)), " ")
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("%s, the page does not say %q:\n%.900s", what, w, said)
			}
		}
	}
	says("after sending", "4 nests on 1 line: 2 with all eggs at the last check, 2 taken", "Your sheet says, in row 7: “TOTAL · 4 · 2 left”")
	tags := func() string {
		return eval[string](p, `[...document.querySelectorAll('.sheet-grid thead .column-tag > summary')].map(s => s.innerText).join(' | ')`)
	}
	if got, want := tags(), "Line | Nest | Cover | Set out | Check 1: day | Check 1: found | Check 2: day | Check 2: found | Notes"; got != want {
		t.Errorf("the tags are %q, want %q", got, want)
	}
	look := func(what string) {
		t.Helper()
		if wide := p.wide(); wide != "" {
			t.Errorf("%s: the page scrolls sideways, %s", what, wide)
		}
		p.shot(what)
	}
	look("sheet-read")

	tabTo(t, p, `details:has(> select[aria-label*="Remarks"]) > summary`)
	p.do(chromedp.KeyEvent(kb.Enter))
	tabTo(t, p, `select[aria-label*="Remarks"]`)
	p.do(chromedp.KeyEvent("Who"))
	look("sheet-tag-open")
	tabTo(t, p, `details:has(> select[aria-label*="Remarks"]) > button`)
	enter(t, p)
	read(t, p)
	if got := tags(); !strings.HasSuffix(got, "| Who walked") {
		t.Errorf("after saying that the remarks are who walked, the tags are %q", got)
	}
	says("after changing a tag", "4 nests on 1 line")

	sheetAccessible(t, b, base, p.path())

	tabTo(t, p, `form[action$="/accept"] button`)
	enter(t, p)
	p.await("/ranch/")
	row := eval[string](p, `[...document.querySelectorAll('main tr')].map(r => r.innerText).find(r => r.startsWith('2012')) || ''`)
	if !regexp.MustCompile(`^2012\s+4\b`).MatchString(row) {
		t.Errorf("My ranch has %q for 2012, want 4 nests", row)
	}
	p.visit("/uploads")
	says("after accepting", "our nests.csv", "Counts: 4 nests", "Looked over")
}

// sheetAccessible looks at the page of a sheet with scripts, as a phone and a desk have it, with every tag open.
func sheetAccessible(t *testing.T, b *browser, base, path string) {
	t.Helper()
	script := axeScript(t)
	p := b.open(t, base)
	p.signIn(emails()[access.Landowner], demo.Password)
	for _, width := range []int64{360, 1280} {
		p.width(width)
		p.visit(path)
		eval[any](p, `document.querySelectorAll('main details').forEach(d => { d.open = true })`)
		for _, w := range append(p.complaints(), p.axe(script)...) {
			t.Errorf("%s at %d px: %s", path, width, w)
		}
		p.complaints() // what axe's own probing said
		p.shot(shotName("sheet-tags-open", strconv.FormatInt(width, 10)))
	}
}

// enter presses Enter and waits for the page that it leads to.
func enter(t *testing.T, p *tab) {
	t.Helper()
	if _, err := chromedp.RunResponse(p.ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
}

// read waits until a sheet has been read: until then its page loads itself again.
func read(t *testing.T, p *tab) {
	t.Helper()
	for end := time.Now().Add(time.Minute); eval[bool](p, `!!document.querySelector('meta[http-equiv="refresh"]')`); time.Sleep(200 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("the sheet is not read")
		}
	}
}

// opensDesk has a clerk read what is sent, by that clock, until the test ends.
func opensDesk(t *testing.T, db *pgtest.Fixture, now func() time.Time) {
	t.Helper()
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	desk := &clerk.Desk{DB: db.Clerk(t), Book: book, Now: now, Log: slog.New(slog.DiscardHandler)}
	go func() { done <- desk.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}
