package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/fieldwork"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// Limits of the field form (the project's own, for a slow line and an old phone).
const (
	firstFieldPage = 150_000   // bytes on the wire, everything the first page loads
	fieldPackBytes = 3_000_000 // all that is kept on the phone for a season
	smallestTarget = 60        // CSS pixels, for gloves
	healthyTaps    = 4         // for a nest that is as it was
)

// TestField walks a line with a phone in a real Chromium: get ready, lose the signal, put out and check twelve nests, count
// a belt, with the form begun again after every single tap and the tab killed at many; come back, send twice, and find in
// the database each tap once.
func TestField(t *testing.T) {
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	t.Parallel()
	chromium := startBrowser(t)
	f := newFieldWorld(t)
	phone := f.phone(t, chromium)
	script := axeScript(t)

	phone.openLink(f.link)
	if phone.bytes > firstFieldPage {
		t.Errorf("the first page takes %d bytes, want at most %d", phone.bytes, firstFieldPage)
	}
	t.Logf("the first page takes %d bytes", phone.bytes)
	phone.look(script, "first")
	phone.getReady()
	phone.look(script, "ready")

	f.signal.off.Store(true)
	phone.kill()
	phone.forgetful = true
	phone.tap("home")
	phone.look(script, "home")
	phone.tap("line-1")
	phone.wants("hazards")
	phone.look(script, "hazards")
	phone.kill()
	phone.tap("hazards-read")
	want := []fieldwork.Look{{Kind: fieldwork.Note, Answers: map[string]string{"hazards_read": f.day()}}}

	want = append(want, f.putOut(phone, script)...)
	want = append(want, f.measure(phone, script)...)
	f.later(phone, 14) // it comes back to the line, and the day's card comes first
	phone.wants("hazards")
	phone.tap("hazards-read")
	want = append(want, fieldwork.Look{Kind: fieldwork.Note, Answers: map[string]string{"hazards_read": f.day()}})
	want = append(want, f.check(phone, script)...)
	want = append(want, f.takeBack(phone)...)
	want = append(want, f.close(phone, script)...)
	phone.forgetful = false

	f.signal.off.Store(false)
	phone.kill()
	phone.sent(len(want))
	f.compare(want)
	phone.sendAgain()
	phone.sent(len(want))
	f.compare(want)
	phone.look(script, "sent")

	f.asMember(chromium)
	f.conflict(phone, chromium, script)
	f.cutOff(phone)
	for _, w := range phone.complaints() {
		if !strings.Contains(w, "ERR_CONNECTION") && !strings.Contains(w, "ERR_EMPTY_RESPONSE") && !strings.Contains(w, "Failed to fetch") {
			t.Error(w)
		}
	}
}

// TestFieldFull fills the phone between two taps.
func TestFieldFull(t *testing.T) {
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	t.Parallel()
	chromium := startBrowser(t)
	f := newFieldWorld(t)
	phone := f.phone(t, chromium)
	phone.openLink(f.link)
	phone.getReady()
	f.signal.off.Store(true)
	for _, name := range []string{"home", "line-1", "hazards-read", "next", "bunchgrass"} {
		phone.tap(name)
	}
	f.later(phone, 14)
	phone.tap("next") // the day's card comes first
	phone.tap("hazards-read")
	f.whenFull(phone)
	phone.kill()
	f.signal.off.Store(false)
	phone.tap("next") // to the line
	phone.tap("back")
	phone.tap("send")
	phone.sent(4)
	looks := f.looks()
	if n := len(looks); n != 4 || !slices.ContainsFunc(looks, func(l fieldwork.Look) bool { return l.Kind == fieldwork.Check && l.Answers["found"] == "all" }) {
		t.Errorf("%d looks are in the database, want two readings of the card, a nest put out and its check: %v", n, looks)
	}
}

// A fieldWorld is a ranch with one planned line, a link to it, and the service behind a signal that comes and goes.
type fieldWorld struct {
	t      *testing.T
	db     *pgtest.Fixture
	owner  access.Actor
	ranch  access.ID
	line   season.Line
	link   string
	base   string
	signal *mast
	ago    atomic.Int64 // days that the clocks of phone and server are behind the database’s, which takes no look of a day to come
}

func newFieldWorld(t *testing.T) *fieldWorld {
	t.Helper()
	f := &fieldWorld{t: t, db: pgtest.New(t)}
	f.ago.Store(14)
	opensDesk(t, f.db, f.now)
	boss := f.db.Cooperative(t, "Sandhill Grass")
	f.ranch, f.owner = f.db.Ranch(t, boss, postgres.Ranch{Name: "Cottonwood Draw", Owner: "Ada Marsh"})
	today := survey.DateFrom(f.now())
	year := today.Year()
	plan := season.Plan{Ranch: f.ranch, Season: year, Purpose: season.Covers, Lines: 1, Stops: 12, Spacing: 50, Pace: 2.5, SetOn: today, First: 14, Last: 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
	line := season.Line{Ranch: f.ranch, Season: year, Name: "1", Pasture: "North", Placed: true, Bearing: 90, Stops: 12, Spacing: 50, Pace: 2.5,
		Covers: []survey.Substrate{survey.Bunchgrass, survey.PricklyPear}, SetOn: today, FirstCheck: today + 14, LastCheck: today + 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
	var secret string
	f.db.As(t, f.owner, func(tx *postgres.Tx) error {
		if err := tx.SaveLines(f.ranch, year, plan, []season.Line{line}); err != nil {
			return err
		}
		lines, err := tx.Lines(f.ranch, year)
		if err != nil {
			return err
		}
		f.line = lines[0]
		secret, err = tx.MakeFieldLink(postgres.FieldLink{Ranch: f.ranch, Name: "Lupe Ortega", Lines: []access.ID{f.line.ID}, From: today, Through: today + 60})
		return err
	})
	app, err := pages.New(pages.Config{DB: f.db.DB, Account: account.New(f.db.DB, account.Options{}), Now: f.now})
	if err != nil {
		t.Fatal(err)
	}
	inside, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go app.Listener(inside) // ends with Shutdown
	t.Cleanup(func() { app.Shutdown() })
	f.signal = newMast(t, inside.Addr().String())
	f.base = "http://" + f.signal.address
	f.link = "/field/open/" + secret
	return f
}

func (f *fieldWorld) now() time.Time { return time.Now().AddDate(0, 0, -int(f.ago.Load())) }

func (f *fieldWorld) day() string { return f.now().Format(time.DateOnly) }

// later lets days pass.
func (f *fieldWorld) later(p *phone, days int64) {
	f.ago.Add(-days)
	p.kill()
}

// putOut puts twelve nests out, the tab killed after every tap on the first three.
func (f *fieldWorld) putOut(p *phone, script string) (want []fieldwork.Look) {
	for stop := 1; stop <= 12; stop++ {
		cover := []string{"prickly_pear", "bunchgrass"}[stop%2]
		p.wants(map[bool]string{true: "line", false: "done"}[stop == 1])
		if stop == 2 {
			p.look(script, "done")
		}
		p.tap("next")
		if stop <= 3 {
			p.kill()
		}
		p.wants("set")
		if stop == 1 {
			p.look(script, "set")
		}
		p.tap(cover)
		if stop <= 3 {
			p.kill()
		}
		want = append(want, fieldwork.Look{Stop: stop, Kind: fieldwork.Set, Answers: map[string]string{"cover": cover, "set_on": f.day(), "eggs_set": "3", "flags_set": "1"}})
	}
	p.wants("done")
	p.tap("spot")
	p.tap("NE")
	p.tap("camera")
	p.look(script, "spot")
	p.kill()
	p.tap("keep")
	p.wants("done")
	want = append(want, fieldwork.Look{Stop: 12, Kind: fieldwork.Set, Answers: map[string]string{"cover": "prickly_pear", "set_on": f.day(), "eggs_set": "3", "flags_set": "1", "steps": "10", "bearing": "NE", "camera_here": "yes"}})
	p.tap("next") // to the line
	p.wants("line")
	p.look(script, "line")
	return want
}

// measure measures the pace and counts a belt.
func (f *fieldWorld) measure(p *phone, script string) []fieldwork.Look {
	p.tap("pace")
	for range 6 {
		p.tap("more") // 120 to 126 on the first walk
	}
	p.look(script, "pace")
	p.kill()
	p.tap("keep")
	p.wants("line")
	p.tap("belt")
	for i := range 7 {
		p.tap("more") // the first kind is bunchgrass
		if i == 3 {
			p.kill()
		}
	}
	if area := p.text(".area"); !strings.Contains(area, "0.100 acre") {
		p.t.Errorf("the belt's area is %q, want 290-odd paces of 2.459 ft by 6 ft: 0.100 acre", area)
	}
	p.look(script, "belt")
	p.tap("belt-done")
	p.wants("line")
	return []fieldwork.Look{
		{Kind: fieldwork.Pace, Answers: map[string]string{"measured_ft": "900", "paces": "366", "pace_ft": "2.459"}},
		{Kind: fieldwork.Belt, Answers: map[string]string{"belt": "1", "belt_on": f.day(), "pace_ft": "2.459", "paces": "295", "belt_wide_ft": "6", "clumps_bunchgrass": "7", "clumps_prickly_pear": "0"}},
	}
}

// check looks at twelve nests: one lost with its signs, one with an egg left, one not found, the rest whole.
func (f *fieldWorld) check(p *phone, script string) (want []fieldwork.Look) {
	add := func(stop int, answers map[string]string) {
		answers["looked_on"] = f.day()
		want = append(want, fieldwork.Look{Stop: stop, Kind: fieldwork.Check, Answers: answers})
	}
	for stop := 1; stop <= 12; stop++ {
		kill := stop <= 4
		before := p.taps
		step := func(names ...string) {
			for _, name := range names {
				p.tap(name)
				if kill {
					p.kill()
				}
			}
		}
		step("next")
		p.wants("check")
		switch stop {
		case 1:
			p.look(script, "check")
			step("lost")
			p.look(script, "how")
			step("animal")
			p.look(script, "photo")
			p.photograph()
			step("go-on")
			p.look(script, "sign")
			step("halves", "under_3", "none", "skip", "across", "none", "licked", "calm", "neat")
			p.look(script, "guess")
			step("raccoon")
			add(stop, map[string]string{"found": "lost", "lost_how": "animal", "bits": "halves", "bits_far_ft": "under_3", "heaps": "none", "bite_way": "across", "holes": "none", "inside": "licked", "ground": "calm", "bowl": "neat", "guess": "raccoon"})
		case 2:
			step("some", "eggs1", "hoof", "go-on")
			add(stop, map[string]string{"found": "some", "eggs_left": "1", "lost_how": "hoof"})
		case 3:
			step("not_found")
			add(stop, map[string]string{"found": "not_found"})
		case 5: // on the way to another answer
			step("lost", "hoof", "back", "back", "all", "yes")
			add(stop, map[string]string{"found": "all", "eggs_fresh_put": "3"})
		default:
			step("all", "yes")
			p.wants("done")
			if taps := p.taps - before + 1; taps > healthyTaps { // and one more for the next stop
				p.t.Errorf("a healthy nest takes %d taps, want at most %d", taps, healthyTaps)
			}
			add(stop, map[string]string{"found": "all", "eggs_fresh_put": "3"})
		}
		p.wants("done")
	}
	return want
}

// takeBack takes the last look back and makes it again.
func (f *fieldWorld) takeBack(p *phone) []fieldwork.Look {
	p.tap("history")
	p.look(axeScript(p.t), "history")
	p.tap("undo")
	p.wants("line")
	p.tap("stop12")
	p.tap("all")
	p.tap("no")
	p.wants("done")
	return []fieldwork.Look{{Stop: 12, Kind: fieldwork.Undo}, {Stop: 12, Kind: fieldwork.Check, Answers: map[string]string{"looked_on": f.day(), "found": "all", "eggs_fresh_put": "0"}}}
}

// whenFull fills the phone before a nest: a tap is kept, in the room held back for it, or the screen says that it is
// not and stays. Then there is room again.
func (f *fieldWorld) whenFull(p *phone) {
	quota := func(bytes float64) {
		params := storage.OverrideQuotaForOriginParams{Origin: f.base}
		if bytes > 0 {
			params.QuotaSize = &bytes
		}
		if _, err := chromedp.Call(p.ctx, storage.OverrideQuotaForOrigin, params); err != nil {
			p.t.Fatal(err)
		}
	}
	p.tap("stop1")
	p.wants("check")
	quota(1)
	for range 45 { // the browser goes for half a minute by the room that there was
		p.tap("all")
		if p.screen() != "fresh" {
			break
		}
		p.tap("back")
		if p.screen() != "check" {
			break
		}
		time.Sleep(time.Second)
	}
	if trouble := p.text("#trouble"); !strings.Contains(trouble, "FULL") || !strings.Contains(trouble, "NOT kept") {
		p.t.Errorf("a full phone says %q", trouble)
	}
	p.look(axeScript(p.t), "full")
	quota(0)
	p.tap("read")
	if p.screen() == "check" {
		p.tap("all")
	}
	p.wants("fresh")
	p.tap("yes")
	p.wants("done")
}

// close carries everything out: eggs of nine whole nests, of the one not found and one left over; a flag for each nest; the camera.
func (f *fieldWorld) close(p *phone, script string) []fieldwork.Look {
	p.tap("next")
	p.wants("line")
	p.tap("close")
	p.tap("all-eggs")
	p.kill()
	p.tap("all-flags")
	p.tap("all-cameras")
	p.look(script, "close")
	p.tap("keep")
	p.wants("line")
	if left := p.text(".left"); !strings.Contains(left, "Closed") {
		p.t.Errorf("with all out the line says %q", left)
	}
	p.tap("language")
	if h := p.text("h1"); h != "Línea 1" {
		p.t.Errorf("in Spanish the line is called %q", h)
	}
	p.tap("night")
	p.look(script, "line-night")
	p.tap("night")
	p.tap("language")
	return []fieldwork.Look{{Kind: fieldwork.Close, Answers: map[string]string{"eggs_out": "31", "flags_out": "12", "markers_out": "0", "cameras_out": "1"}}}
}

// compare finds in the database each look once and no other.
func (f *fieldWorld) compare(want []fieldwork.Look) {
	f.t.Helper()
	say := func(looks []fieldwork.Look) (list []string) {
		for _, l := range looks {
			if photo := l.Answers["photo"]; photo != "" {
				delete(l.Answers, "photo")
			}
			list = append(list, fmt.Sprintf("%d %s %v", l.Stop, l.Kind, l.Answers))
		}
		slices.Sort(list)
		return list
	}
	for i := range want {
		if want[i].Answers == nil {
			want[i].Answers = map[string]string{}
		}
	}
	a, b := say(f.looks()), say(want)
	for _, s := range b {
		if !slices.Contains(a, s) {
			f.t.Errorf("lost: %s", s)
		}
	}
	if len(a) != len(b) {
		f.t.Errorf("%d looks are in the database, want %d:\n%s", len(a), len(b), strings.Join(a, "\n"))
	}
	if n, err := f.db.Owner.Text(context.Background(), "SELECT count(*)::text FROM tussock.photo"); err != nil || n != "1" {
		f.t.Errorf("%s photos are in the database, %v, want 1", n, err)
	}
}

func (f *fieldWorld) looks() (looks []fieldwork.Look) {
	f.t.Helper()
	f.db.As(f.t, f.owner, func(tx *postgres.Tx) (err error) {
		looks, err = tx.Looks(f.ranch, f.line.Season)
		return err
	})
	return looks
}

// asMember has the owner use the form signed in, without a link: the same nest on the same day is a second look.
func (f *fieldWorld) asMember(chromium *browser) {
	p := f.phone(f.t, chromium)
	p.enterAs(f.owner.Session)
	p.visit("/field")
	p.settled()
	p.getReady()
	p.tap("home")
	p.tap("line-1")
	p.tap("hazards-read")
	p.tap("stop6")
	p.tap("all")
	p.tap("yes")
	p.wants("done")
	p.sent(2)
	lines := []season.Line{f.line}
	if got := fieldwork.Fold(lines, f.looks()); len(got.Seconds) != 1 || len(got.Conflicts) != 0 {
		f.t.Errorf("the owner's own look makes %d second looks and %d conflicts, want 1 and 0", len(got.Seconds), len(got.Conflicts))
	}
}

// conflict has a second phone say otherwise about a nest, and the owner choose; then what came in is counted.
func (f *fieldWorld) conflict(first *phone, chromium *browser, script string) {
	second := f.phone(f.t, chromium)
	second.openLink(f.link)
	second.getReady()
	second.tap("home")
	second.tap("line-1")
	second.tap("hazards-read")
	second.tap("stop5")
	second.wants("check")
	second.tap("lost")
	second.tap("unknown")
	second.tap("go-on")
	for range 9 {
		second.tap("skip")
	}
	second.tap("no-guess")
	second.wants("done")
	second.sent(2)

	desk := chromium.open(f.t, f.base)
	desk.width(360)
	desk.enterAs(f.owner.Session)
	results := fmt.Sprintf("/field/results/%s/%d", f.ranch, f.line.Season)
	look := func(name string) {
		for _, v := range desk.axe(script) {
			f.t.Errorf("%s: %s", name, v)
		}
		if wide := desk.wide(); wide != "" {
			f.t.Errorf("%s scrolls sideways, %s", name, wide)
		}
		desk.shot("field-" + name)
	}
	desk.visit(results)
	look("results-conflict")
	if n := eval[int](desk, `document.querySelectorAll('form[action$="/choose"]').length`); n != 2 {
		f.t.Fatalf("%d cards to choose from, want 2", n)
	}
	desk.submit(`li:nth-child(2) form[action$="/choose"] button`)
	if n := eval[int](desk, `document.querySelectorAll('form[action$="/choose"]').length`); n != 1 {
		f.t.Errorf("%d cards are left after the choice, want the other one, to change it", n)
	}
	look("results")
	desk.submit(`form[action$="/count"] button`)
	if at := desk.path(); !strings.HasPrefix(at, "/uploads/") {
		f.t.Errorf("counting led to %s", at)
	}
	f.db.As(f.t, f.owner, func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{f.ranch}, f.line.Season)
		if err != nil {
			return err
		}
		states := map[survey.State]int{}
		for _, n := range d.Nests {
			states[n.Fate()]++
		}
		if states[survey.Taken] != 2 || states[survey.Trampled] != 1 || states[survey.Lost] != 1 || states[survey.Intact] != 8 || len(d.Belts) != 1 {
			f.t.Errorf("counted: %v and %d belts, want 2 taken, 1 trampled, 1 not found, 8 intact and 1 belt", states, len(d.Belts))
		}
		return nil
	})
	desk.visit("/field/links")
	look("links")
}

// cutOff has the owner cut the link off while the phone holds something: it stays there, says so, and goes by another link.
func (f *fieldWorld) cutOff(p *phone) {
	link := func(tx *postgres.Tx) (secret string, err error) {
		today := survey.DateFrom(time.Now())
		return tx.MakeFieldLink(postgres.FieldLink{Ranch: f.ranch, Name: "Lupe again", Lines: []access.ID{f.line.ID}, From: today, Through: today + 60})
	}
	var another string
	f.db.As(f.t, f.owner, func(tx *postgres.Tx) error {
		links, err := tx.FieldLinks(f.ranch)
		if err != nil {
			return err
		}
		if err := tx.RevokeFieldLink(links[0].ID); err != nil {
			return err
		}
		another, err = link(tx)
		return err
	})
	before := len(f.looks())
	p.tap("stop4")
	p.tap("not_checked")
	for range 100 {
		if p.text("#trouble") != "" {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if said := p.text("#trouble"); !strings.Contains(said, "does not know this phone") {
		f.t.Errorf("cut off, the phone says %q", said)
	}
	if strip := p.text("#strip"); !strings.Contains(strip, "1 waiting") {
		f.t.Errorf("cut off, the strip says %q", strip)
	}
	p.openLink("/field/open/" + another)
	p.sent(before - 4) // the others are of other phones
	if n := len(f.looks()); n < before+1 {
		f.t.Errorf("by another link %d looks are in the database, want %d", n, before+1)
	}
}

// enterAs gives the tab a member's session.
func (p *tab) enterAs(session string) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: "tussock", Value: session, URL: p.base}); err != nil {
		p.t.Fatal(err)
	}
}

// A phone is a tab that can be killed: another tab of the same browser profile keeps what is on the phone.
type phone struct {
	*tab
	keeper context.Context
	shut   context.CancelFunc
	world  *fieldWorld
	bytes  int // on the wire since the tab was opened
	taps   int
	mu     sync.Mutex

	forgetful bool // the form is begun again after every tap: what is not on the disk by then is lost
}

func (f *fieldWorld) phone(t *testing.T, b *browser) *phone {
	t.Helper()
	keeper := b.open(t, f.base)
	p := &phone{tab: keeper, keeper: keeper.ctx, world: f}
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("the phone said: %q", p.complaints())
		}
	})
	p.restart()
	return p
}

// restart opens the form's tab again, as wide as a phone, with the phone's clock where the world's is.
func (p *phone) restart() {
	p.t.Helper()
	fresh := &tab{t: p.t, base: p.base, wrong: p.tab.complaints()}
	ctx, cancel := chromedp.NewContext(p.keeper, chromedp.WithListener(func(ev any) {
		fresh.listen(ev)
		if done, ok := ev.(*network.EventLoadingFinished); ok {
			p.mu.Lock()
			p.bytes += int(done.EncodedDataLength)
			p.mu.Unlock()
		}
	}))
	fresh.ctx, p.tab, p.shut, p.bytes = ctx, fresh, cancel, 0
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		p.t.Fatal(err)
	}
	clock := `(() => { const D = Date, ahead = ` + strconv.FormatInt(-p.world.ago.Load(), 10) + ` * 864e5;
		globalThis.Date = class extends D { constructor(...a) { a.length ? super(...a) : super(D.now() + ahead) } static now() { return D.now() + ahead } } })()`
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: clock}); err != nil {
		p.t.Fatal(err)
	}
	p.width(360)
	fresh.ctx = ctx
}

// kill closes the tab without a word to it and opens the form again.
func (p *phone) kill() {
	p.t.Helper()
	p.shut()
	p.restart()
	p.visit("/field")
	p.settled()
}

// settled waits until a screen is drawn and nothing is being written.
func (p *phone) settled() {
	p.t.Helper()
	eval[bool](p.tab, `new Promise((done, fail) => { let n = 0; const wait = () => document.getElementById('screen').dataset.screen && !document.body.dataset.busy ? done(true)
		: ++n > 400 ? fail(new Error('no screen: ' + document.body.innerText)) : setTimeout(wait, 10); wait(); })`)
}

func (p *phone) openLink(link string) {
	p.t.Helper()
	p.visit(link)
	p.shot("field-open")
	p.bytes = 0
	p.submit(`form[action^="/field/open/"] button`)
	p.settled()
	time.Sleep(300 * time.Millisecond) // for the last of the network's events
}

func (p *phone) getReady() {
	p.t.Helper()
	p.tap("get-ready")
	if h := p.text("h1"); !strings.Contains(h, "READY") {
		p.t.Fatalf("getting ready ends with %q, %q", h, p.text("#trouble"))
	}
	size := eval[int](p.tab, `caches.keys().then(async (names) => { let n = 0; for (const name of names) { const c = await caches.open(name);
		for (const r of await c.keys()) n += (await (await c.match(r)).arrayBuffer()).byteLength } return n })`)
	said := eval[int](p.tab, `new Promise((done) => { const r = indexedDB.open('tussock-field'); r.onsuccess = () => { const g = r.result.transaction('kept').objectStore('kept').get('pack');
		g.onsuccess = () => done(g.result.bytes) } })`)
	p.t.Logf("the phone keeps %d bytes of files; the pack says %d in all", size, said)
	if size+said > fieldPackBytes || size == 0 {
		p.t.Errorf("the phone keeps %d bytes of files and the pack says %d, want less than %d", size, said, fieldPackBytes)
	}
}

// tap presses a button by the name the form gives it: the first on the screen.
func (p *phone) tap(name string) {
	p.t.Helper()
	p.taps++
	found := eval[bool](p.tab, fmt.Sprintf(`(() => { const b = document.querySelector('[data-tap=%q]'); if (b) b.click(); return Boolean(b) })()`, name))
	if !found {
		p.t.Fatalf("no button %q on the screen %q:\n%s", name, p.screen(), p.text("main"))
	}
	p.settled()
	if p.forgetful {
		p.visit("/field")
		p.settled()
	}
}

func (p *phone) screen() string {
	return eval[string](p.tab, `document.getElementById('screen').dataset.screen || ''`)
}

func (p *phone) wants(screen string) {
	p.t.Helper()
	if got := p.screen(); got != screen {
		p.t.Fatalf("the screen is %q, want %q:\n%s\n%s", got, screen, p.text("#trouble"), p.text("main"))
	}
}

func (p *phone) text(selector string) string {
	return eval[string](p.tab, fmt.Sprintf(`(document.querySelector(%q) || {innerText: ''}).innerText`, selector))
}

// photograph hands the camera's input a picture.
func (p *phone) photograph() {
	p.t.Helper()
	eval[bool](p.tab, `new Promise((done) => { const c = document.createElement('canvas'); c.width = 2400; c.height = 1800; const g = c.getContext('2d');
		for (let i = 0; i < 400; i++) { g.fillStyle = 'hsl(' + i * 7 + ' 60% 50%)'; g.fillRect((i * 97) % 2400, (i * 61) % 1800, 160, 120) }
		c.toBlob((b) => { const d = new DataTransfer(); d.items.add(new File([b], 'IMG_1.jpg', {type: 'image/jpeg'})); const f = document.getElementById('camera'); f.files = d.files;
			f.dispatchEvent(new Event('change')); done(true) }, 'image/jpeg') })`)
	for range 100 {
		if strings.Contains(p.text("[role=status]:not(#strip)"), "1") {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.t.Fatalf("the photo is not kept: %q", p.text("main"))
}

// sent waits until all looks are safe at base.
func (p *phone) sent(looks int) {
	p.t.Helper()
	for range 200 {
		if eval[string](p.tab, `document.getElementById('strip').dataset.waiting`) == "0" {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if safe, _ := strconv.Atoi(eval[string](p.tab, `document.getElementById('strip').dataset.safe`)); safe < looks {
		p.t.Errorf("%d are safe at base, want %d: %s %s", safe, looks, p.text("#strip"), p.text("#trouble"))
	}
}

// sendAgain has the phone forget that base has anything, so that all goes once more.
func (p *phone) sendAgain() {
	p.t.Helper()
	eval[bool](p.tab, `new Promise((done) => { const r = indexedDB.open('tussock-field'); r.onsuccess = () => { const tx = r.result.transaction('looks', 'readwrite'), s = tx.objectStore('looks');
		s.getAll().onsuccess = (e) => { for (const row of e.target.result) { row.state = 'waiting'; s.put(row) } }; tx.oncomplete = () => done(true) } })`)
	p.kill()
}

// look holds a screen against the form's own rules and takes a picture of it.
func (p *phone) look(script, name string) {
	p.t.Helper()
	for _, v := range p.axe(script) {
		p.t.Errorf("%s: %s", name, v)
	}
	for _, v := range eval[[]string](p.tab, `axe.run(document, {runOnly: {type: 'rule', values: ['color-contrast-enhanced']}, rules: {'color-contrast-enhanced': {enabled: true}}})
		.then(r => r.violations.flatMap(v => v.nodes.map(n => n.html.slice(0, 120))))`) {
		p.t.Errorf("%s: less than 7:1: %s", name, v)
	}
	for _, b := range eval[[]string](p.tab, fmt.Sprintf(`[...document.querySelectorAll('.tap, input:not(.visually-hidden)')].map(b => [b.getBoundingClientRect(), b])
		.filter(([r]) => r.width < %d || r.height < %[1]d).map(([r, b]) => r.width + ' × ' + r.height + ' ' + b.outerHTML.slice(0, 80))`, smallestTarget)) {
		p.t.Errorf("%s: too small for gloves: %s", name, b)
	}
	if small := eval[[]string](p.tab, `[...document.querySelectorAll('body *')].filter(e => e.children.length === 0 && e.textContent.trim() && e.getClientRects().length && parseFloat(getComputedStyle(e).fontSize) < 20)
		.map(e => e.outerHTML.slice(0, 80))`); len(small) > 0 {
		p.t.Errorf("%s: letters below 20 px: %v", name, small)
	}
	if wide := p.wide(); wide != "" {
		p.t.Errorf("%s scrolls sideways, %s", name, wide)
	}
	p.complaints() // what axe's own probing said
	p.shot("field-" + name)
}

// A mast is a line to the service that can be cut.
type mast struct {
	address string
	off     atomic.Bool
}

func newMast(t *testing.T, inside string) *mast {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	s := &mast{address: l.Addr().String()}
	go func() {
		for {
			from, err := l.Accept()
			if err != nil {
				return
			}
			go s.carry(from, inside)
		}
	}()
	return s
}

func (s *mast) carry(from net.Conn, inside string) {
	defer from.Close()
	if s.off.Load() {
		return
	}
	to, err := net.Dial("tcp", inside)
	if err != nil {
		return
	}
	defer to.Close()
	go func() {
		defer to.Close()
		io.Copy(to, cut{from, s})
	}()
	io.Copy(from, cut{to, s})
}

// A cut reader ends when the signal does.
type cut struct {
	io.Reader
	s *mast
}

func (c cut) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	if c.s.off.Load() {
		return 0, io.EOF
	}
	return n, err
}
