package main

import (
	"context"
	"fmt"
	"net"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/fieldwork"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// keyPresses is what a line of twelve nests may take, remains and all: two minutes for somebody who finds two keys a second.
const keyPresses = 240

// A keyDesk is a browser in front of a planned line's sheet.
type keyDesk struct {
	t        *testing.T
	db       *pgtest.Fixture
	owner    access.Actor
	boss     access.Actor
	ranch    access.ID
	line     season.Line
	chromium *browser
	base     string
}

func newKeyDesk(t *testing.T, stops int) *keyDesk {
	t.Helper()
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	d := &keyDesk{t: t, chromium: startBrowser(t), db: pgtest.New(t)}
	d.boss = d.db.Cooperative(t, "Sandhill Grass")
	d.ranch, d.owner = d.db.Ranch(t, d.boss, postgres.Ranch{Name: "Cottonwood Draw", Owner: "Ada Marsh"})
	set := survey.DateOf(2026, 5, 4)
	d.db.As(t, d.owner, func(tx *postgres.Tx) error {
		plan := season.Plan{Ranch: d.ranch, Season: 2026, Purpose: season.Covers, Lines: 1, Stops: stops, Spacing: 50, SetOn: set, First: 14, Last: 28, Slack: 2}
		line := season.Line{Name: "1", Pasture: "North", Stops: stops, Spacing: 50, SetOn: set, FirstCheck: set + 14, LastCheck: set + 28, Slack: 2}
		if err := tx.SaveLines(d.ranch, 2026, plan, []season.Line{line}); err != nil {
			return err
		}
		lines, err := tx.Lines(d.ranch, 2026)
		d.line = lines[0]
		return err
	})
	app, err := pages.New(pages.Config{DB: d.db.DB, Account: account.New(d.db.DB, account.Options{}), Now: func() time.Time { return set.Time().AddDate(0, 2, 0) }})
	if err != nil {
		t.Fatal(err)
	}
	at, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go app.Listener(at) // ends with Shutdown
	t.Cleanup(func() { app.Shutdown() })
	d.base = "http://" + at.Addr().String()
	return d
}

// signedIn opens a tab in which the owner is signed in, in a language.
func (d *keyDesk) signedIn(language string) *tab { return d.signedInAs(d.owner, language) }

func (d *keyDesk) signedInAs(who access.Actor, language string) *tab {
	d.t.Helper()
	p := d.chromium.open(d.t, d.base)
	if _, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: "tussock", Value: who.Session, URL: d.base}); err != nil {
		d.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.SetExtraHTTPHeaders, network.SetExtraHTTPHeadersParams{Headers: network.Headers{"Accept-Language": language}}); err != nil {
		d.t.Fatal(err)
	}
	return p
}

// looks returns what is kept.
func (d *keyDesk) looks() (looks []fieldwork.Look) {
	d.t.Helper()
	d.db.As(d.t, d.owner, func(tx *postgres.Tx) (err error) {
		looks, err = tx.Looks(d.ranch, 2026)
		return err
	})
	return looks
}

// TestKeying keys a paper sheet of twelve nests by keyboard alone in a browser without scripts, and finds it in the
// database; the pages of paper are looked at as a phone and a desk have them, in both languages.
func TestKeying(t *testing.T) {
	d := newKeyDesk(t, 12)
	line, script := d.line, axeScript(t)
	keyer := d.signedIn("en")
	keyer.withoutScripts()
	keyer.width(1280)
	keyer.visit("/key/" + line.Code)
	presses := 0
	press := func(keys string) {
		presses += len([]rune(keys))
		keyer.do(chromedp.KeyEvent(keys))
	}
	keyer.do(chromedp.Focus("#cover\\.1"))
	for stop := 1; stop <= 12; stop++ {
		cells := []string{"1", "", "", "a", "", "", "3", "a", "", "", ""}
		if stop == 4 {
			cells = []string{"y", "", "", "l", "", "1", "", "", "", "", ""}
		}
		for i, cell := range cells {
			if i == 0 {
				if at := eval[string](keyer, `document.activeElement.id`); at != fmt.Sprintf("cover.%d", stop) {
					t.Fatalf("the keyboard is at %q, want the cover of stop %d", at, stop)
				}
			}
			press(cell + kb.Tab)
		}
	}
	keyer.do(chromedp.Focus("#bits\\.4"))
	for _, cell := range []string{"4", "3", "2", "1", "", "", "1", "1", "2"} {
		press(cell + kb.Tab)
	}
	if presses > keyPresses {
		t.Errorf("a line takes %d presses, want at most %d", presses, keyPresses)
	}
	t.Logf("a line of twelve nests takes %d presses", presses)
	keyer.submit(`form.keying button[type="submit"]:not([name])`)
	if looks := d.looks(); len(looks) != 12+12+11 {
		t.Errorf("%d looks, want twelve nests put out, looked at once, and eleven twice", len(looks))
	}
	keyer.shot("key-kept")

	var eyes *tab
	for language, paths := range map[string][]string{
		"en": {"/paper", "/key", "/key/" + line.Code + "/again", "/quiz?set=7", "/quiz?set=7&n=2&answer=0", "/quiz?set=7&n=11&right=8"},
		"es": {"/paper", "/key/" + line.Code, "/quiz?set=7&n=2&answer=0"},
	} {
		eyes = d.signedIn(language)
		for _, path := range paths {
			lookAt(t, eyes, script, "paper-"+language, path)
		}
	}
	eyes = d.signedIn("en")
	eyes.visit("/key/" + line.Code)
	eyes.do(chromedp.SetValue("#found2\\.3", "q"))
	if _, err := chromedp.RunResponse(eyes.ctx, chromedp.Click(chromedp.CSS(`form.keying button[type="submit"]:not([name])`))); err != nil {
		t.Fatal(err)
	}
	if text := eval[string](eyes, `document.querySelector('main').innerText`); !strings.Contains(text, "“q”") {
		t.Errorf("a slip is not said: %.300s", text)
	}
	for _, v := range eyes.axe(script) {
		t.Errorf("with a slip: %s", v)
	}
	eyes.shot("key-slip")
}

// TestPhotoKeying sends two photos of a sheet in a browser without scripts, and goes through what is not clear by keyboard alone; the page
// is looked at as a phone and a desk have it, in both languages.
func TestPhotoKeying(t *testing.T) {
	d := newKeyDesk(t, 12)
	// The sheets in the pictures say that they are of this line.
	if _, err := d.db.Owner.Exec(context.Background(), "UPDATE tussock.season_line SET code = 'KX7P2M' WHERE id = $1", d.line.ID); err != nil {
		t.Fatal(err)
	}
	keyer := d.signedIn("en")
	keyer.withoutScripts()
	keyer.width(360)
	keyer.visit("/key")
	var photos []string
	for _, name := range []string{"316.jpg", "315.jpg"} {
		path, err := filepath.Abs("../../internal/scan/testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		photos = append(photos, path)
	}
	keyer.do(chromedp.SetUploadFiles(chromedp.CSS("#photo"), photos), chromedp.Focus("#photo"))
	if _, err := chromedp.RunResponse(keyer.ctx, chromedp.KeyEvent(kb.Tab+kb.Enter)); err != nil {
		t.Fatal(err)
	}
	if at := keyer.path(); at != "/key/KX7P2M" {
		t.Fatalf("the photos led to %s: %.500s", at, eval[string](keyer, `document.querySelector('main').innerText`))
	}
	for _, l := range d.looks() {
		if l.Kind != fieldwork.Note {
			t.Fatalf("counted before anybody looked: %+v", l)
		}
	}
	// By keyboard: from place to place that is to be looked at, past the folded sheet, to the button.
	want := eval[[]string](keyer, `[...document.querySelectorAll('.key-say input')].map(i => i.id)`)
	if len(want) < 10 {
		t.Fatalf("only %d places to look at", len(want))
	}
	keyer.do(chromedp.Focus("#" + strings.ReplaceAll(want[0], ".", "\\.")))
	var went []string
	for range len(want) * 4 {
		at := eval[string](keyer, `document.activeElement.id || document.activeElement.tagName`)
		if at == "SUMMARY" {
			break
		}
		if len(went) == 0 || went[len(went)-1] != at {
			went = append(went, at)
		}
		keyer.do(chromedp.KeyEvent(kb.Tab))
	}
	if went = slices.DeleteFunc(went, func(at string) bool { return at == "DIV" }); !slices.Equal(went, want) {
		t.Errorf("the keyboard goes by %v, want %v", went, want)
	}
	keyer.do(chromedp.KeyEvent(kb.Tab + " " + kb.Tab)) // from the folded sheet to the box and the button
	if said := eval[string](keyer, `document.activeElement.innerText`); said != "This is what the sheet says" {
		t.Errorf("the keyboard is at %q, want the button", said)
	}
	if _, err := chromedp.RunResponse(keyer.ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
	if text := eval[string](keyer, `document.querySelector('main').innerText`); !strings.Contains(text, "Nothing of this sheet counts yet") {
		t.Errorf("a sheet without its days counts: %.300s", text)
	}
	keyer.shot("photo-slips")
	script := axeScript(t)
	for language, title := range map[string]string{"en": "Please look", "es": "Revise, por favor"} {
		eyes := d.signedIn(language)
		lookAt(t, eyes, script, "photo-"+language, "/key/KX7P2M")
		if text := eval[string](eyes, `document.querySelector('main').innerText`); !strings.Contains(text, title) {
			t.Errorf("%s: %q is not on the page", language, title)
		}
		// The cut-outs show the photo: it is there, as wide as the sheet.
		if n := eval[int](eyes, `performance.getEntriesByType('resource').filter(e => e.name.includes('/field/photos/')).length`); n < 2 {
			t.Errorf("%d photos were loaded, want 2", n)
		}
		if wide := eval[float64](eyes, `document.querySelector('.key-photos image').getBBox().width`); wide < 279 {
			t.Errorf("a photo is %g mm wide", wide)
		}
	}
}
