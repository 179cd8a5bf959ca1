package main

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tussock/internal/access"
	"tussock/internal/demo"
)

// A sharedCache is a proxy of an office or a phone company that keeps for everybody whatever an answer does not forbid it to
// keep, told apart by address alone.
type sharedCache struct {
	to   *httputil.ReverseProxy
	mu   sync.Mutex
	kept map[string]*httptest.ResponseRecorder
}

func (c *sharedCache) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	c.mu.Lock()
	kept := c.kept[r.URL.String()]
	c.mu.Unlock()
	if r.Method != http.MethodGet || kept == nil {
		kept = httptest.NewRecorder()
		c.to.ServeHTTP(kept, r)
		if cache := kept.Header().Get("Cache-Control"); r.Method == http.MethodGet && !strings.Contains(cache, "no-store") && !strings.Contains(cache, "private") {
			c.mu.Lock()
			c.kept[r.URL.String()] = kept
			c.mu.Unlock()
		}
	}
	for name, values := range kept.Header() {
		w.Header()[name] = values
	}
	w.WriteHeader(kept.Code)
	io.Copy(w, bytes.NewReader(kept.Body.Bytes()))
}

// testCaches (T35): two members behind one proxy that keeps what it may each get their own pages and never the other's;
// after signing out the back button, the address and the browser's own store show none of them; and nothing personal
// stays in the browser.
func testCaches(t *testing.T, b *browser, base string) {
	behind, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	forward := httputil.NewSingleHostReverseProxy(behind)
	cache := &sharedCache{to: forward, kept: map[string]*httptest.ResponseRecorder{}}
	proxy := httptest.NewServer(cache)
	defer proxy.Close()
	landowner, hired := emails()[access.Landowner], emails()[access.Hand]
	ada, hand := b.open(t, proxy.URL), b.open(t, proxy.URL)
	ada.signIn(landowner, demo.Password)
	hand.signIn(hired, demo.Password)
	main := `(document.querySelector('main') || document.body).innerText`
	head := `document.body.innerText`
	for _, path := range []string{"/account", "/who", "/uploads", "/send"} {
		ada.visit(path)
		hers := eval[string](ada, head)
		hand.visit(path)
		his := eval[string](hand, head)
		if hers == his {
			t.Errorf("%s: both see the same", path)
		}
		ada.visit(path)
		if text := eval[string](ada, head); text == his || path != "/who" && strings.Contains(text, hired) { // owners read on /who the addresses of who is there
			t.Errorf("%s: one sees the other's", path)
		}
	}
	cache.mu.Lock()
	for address := range cache.kept {
		if !strings.HasPrefix(address, "/static/") && address != "/favicon.ico" && !strings.HasSuffix(address, ".webmanifest") && !strings.HasSuffix(address, ".js") {
			t.Errorf("the proxy keeps %s", address)
		}
	}
	cache.mu.Unlock()

	ada.visit("/ranch")
	ranch := eval[string](ada, main)
	address := ada.path()
	ada.visit("/account")
	ada.do(chromedp.Click(chromedp.CSS(`form[action="/sign-out"] [type="submit"]`)), chromedp.WaitVisible(chromedp.CSS(`input[name="password"]`)))
	for range 3 {
		eval[bool](ada, `history.back(), true`)
		time.Sleep(500 * time.Millisecond)
		if text := eval[string](ada, main); text == ranch || strings.Contains(text, landowner) || !strings.HasPrefix(ada.path(), "/sign-in") {
			t.Errorf("the back button shows %s: %.200q", ada.path(), text)
		}
	}
	for _, path := range []string{address, "/account", "/who"} {
		ada.visit(path)
		if !strings.HasPrefix(ada.path(), "/sign-in") {
			t.Errorf("%s opens after signing out, at %s", path, ada.path())
		}
	}
	if left := eval[string](ada, `JSON.stringify({local: {...localStorage}, session: {...sessionStorage}, cookies: document.cookie})`); strings.Contains(left, "nest") || strings.Contains(left, "@") || strings.Contains(left, "tussock=") {
		t.Errorf("scripts can read %s", left)
	}
	// A service worker's store, where there is one, holds nothing that was the member's.
	stored := eval[string](ada, `(async () => { let list = []; if (self.caches) for (const name of await caches.keys()) for (const r of await (await caches.open(name)).keys()) list.push(new URL(r.url).pathname); return list.join(' ') })()`)
	for _, path := range strings.Fields(stored) {
		for _, personal := range []string{"/ranch", "/account", "/who", "/uploads", "/files", "/region", "/cooperative"} {
			if path == personal || strings.HasPrefix(path, personal+"/") {
				t.Errorf("the browser keeps %s after signing out", path)
			}
		}
	}
}
