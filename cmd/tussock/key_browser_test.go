package main

import (
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

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

// TestKeying keys a paper sheet of twelve nests by keyboard alone in a browser without scripts, and finds it in the
// database; the pages of paper are looked at as a phone and a desk have them, in both tongues.
func TestKeying(t *testing.T) {
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	chromium := startBrowser(t)
	db := pgtest.New(t)
	boss := db.Cooperative(t, "Sandhill Grass")
	ranch, owner := db.Ranch(t, boss, postgres.Ranch{Name: "Cottonwood Draw", Owner: "Ada Marsh"})
	set := survey.DateOf(2026, 5, 4)
	var line season.Line
	db.As(t, owner, func(tx *postgres.Tx) error {
		plan := season.Plan{Ranch: ranch, Season: 2026, Purpose: season.Covers, Lines: 1, Stops: 12, Spacing: 50, SetOn: set, First: 14, Last: 28, Slack: 2}
		if err := tx.SaveLines(ranch, 2026, plan, []season.Line{{Name: "1", Pasture: "North", Stops: 12, Spacing: 50, SetOn: set, FirstCheck: set + 14, LastCheck: set + 28, Slack: 2}}); err != nil {
			return err
		}
		lines, err := tx.Lines(ranch, 2026)
		line = lines[0]
		return err
	})
	app, err := pages.New(pages.Config{DB: db.DB, Account: account.New(db.DB, account.Options{}), Now: func() time.Time { return set.Time().AddDate(0, 2, 0) }})
	if err != nil {
		t.Fatal(err)
	}
	at, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go app.Listener(at) // ends with Shutdown
	t.Cleanup(func() { app.Shutdown() })
	base := "http://" + at.Addr().String()
	script := axeScript(t)

	signedIn := func() *tab {
		p := chromium.open(t, base)
		if _, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: "tussock", Value: owner.Session, URL: base}); err != nil {
			t.Fatal(err)
		}
		return p
	}
	keyer := signedIn()
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
	var looks []fieldwork.Look
	db.As(t, owner, func(tx *postgres.Tx) (err error) {
		looks, err = tx.Looks(ranch, 2026)
		return err
	})
	if len(looks) != 12+12+11 {
		t.Errorf("%d looks, want twelve nests put out, looked at once, and eleven twice", len(looks))
	}
	keyer.shot("key-kept")

	eyes := signedIn()
	for tongue, paths := range map[string][]string{
		"en": {"/paper", "/key", "/key/" + line.Code + "/again", "/quiz?set=7", "/quiz?set=7&n=2&answer=0", "/quiz?set=7&n=11&right=8"},
		"es": {"/paper", "/key/" + line.Code, "/quiz?set=7&n=2&answer=0"},
	} {
		if _, err := chromedp.Call(eyes.ctx, network.SetExtraHTTPHeaders, network.SetExtraHTTPHeadersParams{Headers: network.Headers{"Accept-Language": tongue}}); err != nil {
			t.Fatal(err)
		}
		for _, path := range paths {
			lookAt(t, eyes, script, "paper-"+tongue, path)
		}
	}
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
