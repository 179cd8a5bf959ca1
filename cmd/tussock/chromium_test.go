package main

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// A browser is a real Chromium.
type browser struct {
	ctx context.Context
}

// startBrowser starts Chromium, or skips the test where there is none. With REQUIRE_BROWSER=1, as deploy/test.sh has
// it, there must be one.
func startBrowser(t *testing.T) *browser {
	t.Helper()
	path := findChromium()
	if path == "" {
		if os.Getenv("REQUIRE_BROWSER") == "1" {
			t.Fatal("no Chromium found; install the package chromium")
		}
		t.Skip("no Chromium found; install the package chromium to run the browser tests")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(browserFolder(t)),
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	allocator, cancel := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(allocator)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal("start Chromium:", err)
	}
	return &browser{ctx}
}

func findChromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// browserFolder is t.TempDir, but forgives a browser that still writes while it is being removed.
func browserFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "tussock-browser")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		for range 50 {
			if os.RemoveAll(dir) == nil {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
	})
	return dir
}

// A tab is one signed-in (or not yet signed-in) reader with cookies of its own. It keeps what went wrong in it.
type tab struct {
	t    *testing.T
	ctx  context.Context
	base string // the service's address, without a slash at the end

	mu    sync.Mutex
	wrong []string // what the page said to the console, and requests that left for elsewhere
}

func (b *browser) open(t *testing.T, base string) *tab {
	t.Helper()
	p := &tab{t: t, base: base}
	ctx, cancel := chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(p.listen))
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 20*time.Minute)
	t.Cleanup(cancel)
	p.ctx = ctx
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleWarning || m.Type == chromedp.ConsoleException {
				p.complain("console %s (%s)", m, m.URL)
			}
		}
	}()
	return p
}

func (p *tab) listen(ev any) {
	sent, ok := ev.(*network.EventRequestWillBeSent)
	if !ok || strings.HasPrefix(sent.Request.URL, p.base+"/") {
		return
	}
	if u, err := url.Parse(sent.Request.URL); err == nil && (u.Scheme == "data" || u.Scheme == "blob" || u.Scheme == "about") {
		return
	}
	p.complain("request to another host: %s", sent.Request.URL)
}

func (p *tab) complain(format string, args ...any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.wrong = append(p.wrong, fmt.Sprintf(format, args...))
}

// complaints returns what went wrong since it was last asked.
func (p *tab) complaints() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	w := p.wrong
	p.wrong = nil
	return w
}

func (p *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%v (at %s)", err, p.path())
	}
}

// eval runs an expression in the page; a promise is awaited.
func eval[T any](p *tab, expression string) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 60*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%v (evaluating %.60s at %s)", err, expression, p.path())
	}
	return v
}

// path is where the tab is.
func (p *tab) path() string {
	at, err := chromedp.Run(p.ctx, chromedp.Location())
	if err != nil {
		return "?"
	}
	return strings.TrimPrefix(at, p.base)
}

func (p *tab) visit(path string) {
	p.t.Helper()
	p.do(chromedp.Navigate(p.base + path))
}

// width makes the tab as wide as a phone (360) or a desk (1280), in CSS pixels.
func (p *tab) width(px int64) {
	p.t.Helper()
	height := int64(900)
	if px < 600 {
		height = 740
	}
	p.do(chromedp.EmulateViewport(px, height))
}

func (p *tab) withoutScripts() {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		p.t.Fatal(err)
	}
}

func (p *tab) signIn(email, password string) {
	p.t.Helper()
	p.visit("/sign-in")
	p.do(
		chromedp.SendKeys(chromedp.CSS(`input[name="email"]`), email),
		chromedp.SendKeys(chromedp.CSS(`input[name="password"]`), password),
	)
	p.submit(`form:has(input[name="password"]) [type="submit"]`)
	if strings.HasPrefix(p.path(), "/sign-in") {
		p.t.Fatalf("%s could not sign in", email)
	}
}

// submit clicks and waits for the page that follows.
func (p *tab) submit(selector string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, time.Minute)
	defer cancel()
	resp, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector)))
	if err != nil {
		p.t.Fatalf("click %s at %s: %v", selector, p.path(), err)
	}
	if resp != nil && resp.Status >= 400 {
		p.t.Fatalf("click %s led to %s: status %d", selector, p.path(), resp.Status)
	}
}

// await waits until a script has brought the tab to a path that begins so.
func (p *tab) await(prefix string) {
	p.t.Helper()
	for range 200 {
		if strings.HasPrefix(p.path(), prefix) {
			p.do(chromedp.WaitReady(chromedp.CSS("main h1")))
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	p.t.Fatalf("still at %s, want %s…", p.path(), prefix)
}

// links are the paths that the page links to, without those that only jump within it.
func (p *tab) links() []string {
	p.t.Helper()
	return eval[[]string](p, `[...document.querySelectorAll('a[href]')].filter(a => a.origin === location.origin && !a.hasAttribute('download'))
		.map(a => a.pathname + a.search).filter((v, i, all) => v !== location.pathname + location.search && all.indexOf(v) === i)`)
}

// shot writes a picture of the whole page to the folder TUSSOCK_SHOTS, where that is set.
func (p *tab) shot(name string) {
	p.t.Helper()
	dir := os.Getenv("TUSSOCK_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = errors.Join(os.MkdirAll(dir, 0o755), os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
	}
	if err != nil {
		p.t.Error("picture:", err)
	}
}

var notInNames = regexp.MustCompile(`[^a-z0-9-]+`)

func shotName(parts ...string) string {
	return strings.Trim(notInNames.ReplaceAllString(strings.ToLower(strings.Join(parts, "-")), "-"), "-")
}

// A violation is what axe-core found.
type violation struct {
	ID     string `json:"id"`
	Impact string `json:"impact"`
	Help   string `json:"help"`
	Nodes  []struct {
		HTML string `json:"html"`
	} `json:"nodes"`
}

// axe returns what axe-core holds against the page, of the rules for WCAG 2.2 A and AA, where it is serious or worse.
func (p *tab) axe(script string) []string {
	p.t.Helper()
	eval[bool](p, script+";\ntrue")
	found := eval[[]violation](p, `axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then(r => r.violations.map(v => (
		{id: v.id, impact: v.impact, help: v.help, nodes: v.nodes.map(n => ({html: n.html}))})))`)
	var grave []string
	for _, v := range found {
		if v.Impact != "serious" && v.Impact != "critical" {
			continue
		}
		for i, n := range v.Nodes {
			if i == 3 {
				grave = append(grave, fmt.Sprintf("%s: and %d more", v.ID, len(v.Nodes)-i))
				break
			}
			grave = append(grave, fmt.Sprintf("%s (%s): %s: %.160s", v.ID, v.Impact, v.Help, n.HTML))
		}
	}
	return grave
}

func axeScript(t *testing.T) string {
	t.Helper()
	script, err := os.ReadFile("../../web/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("REQUIRE_BROWSER") == "1" {
			t.Fatal(err)
		}
		t.Skip("axe-core is missing; run npm ci in web/")
	}
	return string(script)
}

// wide returns what makes a page scroll sideways.
func (p *tab) wide() string {
	p.t.Helper()
	return eval[string](p, `(() => {
		const w = document.documentElement.clientWidth;
		if (document.documentElement.scrollWidth <= w) return '';
		const out = [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > w + 1)
			.map(e => e.tagName.toLowerCase() + (e.className && e.className.baseVal === undefined ? '.' + e.className : '')).slice(0, 4);
		return document.documentElement.scrollWidth + ' px: ' + out.join(', ');
	})()`)
}

var numbers = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}|[0-9]+`)

var places = regexp.MustCompile(`^/outreach/[a-z-]+`)

// lineCode is the short code of a planned line, as it stands in an address.
var lineCode = regexp.MustCompile(`^/key/[0-9A-Z]{6}`)

// distinctKind is the same for pages that differ by an id, a number, a line or a place only: /ranch/1 and /ranch/2.
func distinctKind(path string) string {
	if !strings.HasPrefix(path, "/outreach/introductions") {
		path = places.ReplaceAllString(path, "/outreach/PLACE")
	}
	path = lineCode.ReplaceAllString(path, "/key/LINE")
	return numbers.ReplaceAllString(strings.SplitN(path, "?place=", 2)[0], "N")
}
