package pages_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/pages"
)

// open returns the application without a store: enough for everything that is answered before somebody is signed in.
func open(t *testing.T, cfg pages.Config) *fiber.App {
	t.Helper()
	cfg.Now = func() time.Time { return time.Date(2026, time.August, 4, 0, 0, 0, 0, time.UTC) }
	app, err := pages.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return app
}

func do(t *testing.T, app *fiber.App, req *http.Request) (*http.Response, string) {
	t.Helper()
	res, err := app.Test(req, -1)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(body)
}

func TestEveryAnswerCarriesTheSecurityHeaders(t *testing.T) {
	app := open(t, pages.Config{URL: home})
	for _, path := range []string{"/sign-in", "/about", "/nothing", "/healthz"} {
		res, _ := do(t, app, httptest.NewRequest("GET", path, nil))
		csp := res.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: policy = %q", path, csp)
		}
		for name, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store", "X-Frame-Options": "DENY",
		} {
			if got := res.Header.Get(name); got != want {
				t.Errorf("%s: %s = %q, want %q", path, name, got, want)
			}
		}
		for _, name := range []string{"ETag", "Last-Modified"} { // a page is nobody's to keep or to ask about
			if got := res.Header.Get(name); got != "" {
				t.Errorf("%s: %s = %q", path, name, got)
			}
		}
		if got := res.Header.Get("Strict-Transport-Security"); got == "" {
			t.Errorf("%s: no Strict-Transport-Security over https", path)
		}
	}
}

func TestNobodySignedInIsSentToTheDoor(t *testing.T) {
	app := open(t, pages.Config{})
	for _, path := range []string{"/ranch", "/ranch/9d0c", "/who", "/region", "/cooperative", "/send", "/hand"} {
		res, _ := do(t, app, httptest.NewRequest("GET", path, nil))
		if got, want := res.Header.Get("Location"), "/sign-in?next="+url.QueryEscape(path); res.StatusCode != 303 || got != want {
			t.Errorf("%s: %d to %q, want 303 to %q", path, res.StatusCode, got, want)
		}
	}
}

func TestWhatIsNotThereIsTheSameBytes(t *testing.T) {
	app := open(t, pages.Config{})
	res, one := do(t, app, httptest.NewRequest("GET", "/nothing", nil))
	_, two := do(t, app, httptest.NewRequest("GET", "/neither/is/this", nil))
	if res.StatusCode != 404 || one != two {
		t.Errorf("status %d; bodies equal: %v", res.StatusCode, one == two)
	}
}

func TestFormsFromElsewhereAreRefused(t *testing.T) {
	app := open(t, pages.Config{})
	res, body := do(t, app, httptest.NewRequest("GET", "/sign-in", nil))
	field := regexp.MustCompile(`name="csrf" value="([0-9a-f]{64})"`).FindStringSubmatch(body)
	if field == nil {
		t.Fatal("the form carries no csrf field")
	}
	cookie := res.Header.Get("Set-Cookie")
	for _, tt := range []struct {
		name, csrf string
		header     map[string]string
	}{
		{"no field", "", nil},
		{"another's field", strings.Repeat("0", 64), nil},
		{"another site, by Sec-Fetch-Site", field[1], map[string]string{"Sec-Fetch-Site": "cross-site"}},
		{"another site of the same owner", field[1], map[string]string{"Sec-Fetch-Site": "same-site"}},
		{"another site, by Origin", field[1], map[string]string{"Origin": "https://elsewhere.example"}},
		{"no site at all", field[1], map[string]string{"Origin": "null"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			req := httptest.NewRequest("POST", "/sign-in", strings.NewReader(url.Values{"csrf": {tt.csrf}}.Encode()))
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			req.Header.Set("Cookie", strings.Split(cookie, ";")[0])
			for k, v := range tt.header {
				req.Header.Set(k, v)
			}
			if res, _ := do(t, app, req); res.StatusCode != 403 {
				t.Errorf("status = %d, want 403", res.StatusCode)
			}
		})
	}
}

func TestCookiesAreTheHostsAlone(t *testing.T) {
	app := open(t, pages.Config{URL: home})
	res, _ := do(t, app, httptest.NewRequest("GET", "/sign-in", nil))
	got := strings.ToLower(res.Header.Get("Set-Cookie"))
	for _, want := range []string{"__host-tussock", "path=/", "httponly", "secure", "samesite=lax"} {
		if !strings.Contains(got, want) {
			t.Errorf("cookie %q lacks %q", got, want)
		}
	}
}

// A session cookie without a store behind it makes the handler panic: the answer must be our page, with a number for
// the log and no word of the cause.
func TestAFaultOfOursShowsNoCause(t *testing.T) {
	app := open(t, pages.Config{})
	req := httptest.NewRequest("GET", "/who", nil)
	req.Header.Set("Cookie", "tussock="+strings.Repeat("ab", 32))
	res, body := do(t, app, req)
	if res.StatusCode != 500 {
		t.Errorf("status = %d, want 500", res.StatusCode)
	}
	for _, never := range []string{"nil pointer", "runtime error", "goroutine", ".go:"} {
		if strings.Contains(body, never) {
			t.Errorf("the page says %q", never)
		}
	}
	if !strings.Contains(body, "Something went wrong") {
		t.Errorf("body = %q", body)
	}
}

func TestStaticFilesAreKeptForGood(t *testing.T) {
	app := open(t, pages.Config{})
	_, body := do(t, app, httptest.NewRequest("GET", "/about", nil))
	css := regexp.MustCompile(`/static/tussock\.[0-9a-f]{10}\.css`).FindString(body)
	if css == "" {
		t.Fatal("the page names no style sheet with a hash")
	}
	req := httptest.NewRequest("GET", css, nil)
	req.Header.Set("Accept-Encoding", "gzip")
	res, packed := do(t, app, req)
	if res.Header.Get("Content-Encoding") != "gzip" || !strings.Contains(res.Header.Get("Cache-Control"), "immutable") {
		t.Errorf("headers = %v", res.Header)
	}
	_, plain := do(t, app, httptest.NewRequest("GET", css, nil))
	if len(plain) <= len(packed) || !strings.Contains(plain, ":root") {
		t.Errorf("plain %d bytes, packed %d", len(plain), len(packed))
	}
	if res, _ := do(t, app, httptest.NewRequest("GET", "/static/tussock.css", nil)); res.StatusCode != 404 {
		t.Errorf("without its hash: %d, want 404", res.StatusCode)
	}
	// A page on a slow line: everything but the chart library in under 200 kB.
	if got := len(packed) + len(body); got > 200_000 {
		t.Errorf("the first page takes %d bytes", got)
	}
}

func TestNobodyIsSentElsewhereByOurDoor(t *testing.T) {
	app := open(t, pages.Config{})
	for next, want := range map[string]string{
		"/ranch/1?season=2025":       "/ranch/1?season=2025",
		"https://elsewhere.example/": "/", "//elsewhere.example": "/", `/\elsewhere.example`: "/", "ranch": "/", "": "/",
	} {
		_, body := do(t, app, httptest.NewRequest("GET", "/sign-in?next="+url.QueryEscape(next), nil))
		if !strings.Contains(body, `name="next" value="`+want+`"`) {
			t.Errorf("next=%q is not kept as %q", next, want)
		}
	}
}
