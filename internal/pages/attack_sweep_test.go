package pages_test

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
)

// nobodys is an id of nothing at all.
const nobodys = "3b241101-e2bb-4255-8caf-4136c566a962"

// same tells whether two answers are the same to whoever asked: status, bytes and headers.
func same(got, want answer) bool {
	for _, a := range []answer{got, want} {
		a.header.Del("Date")
	}
	return got.status == want.status && got.body == want.body && maps.EqualFunc(got.header, want.header, slices.Equal)
}

// someOf takes one id of each table.
func someOf(t testing.TB, ids map[string][]access.ID) (list []string) {
	t.Helper()
	for _, table := range slices.Sorted(maps.Keys(ids)) {
		if len(ids[table]) > 0 {
			list = append(list, string(ids[table][0]))
		}
	}
	return list
}

// digest is what a cooperative's rows come to: any change changes it.
func (w *world) digest(coop access.ID) string {
	w.t.Helper()
	tables, err := w.db.Owner.Text(context.Background(), `SELECT string_agg(table_schema || '.' || table_name, ' ' ORDER BY table_schema, table_name)
		FROM information_schema.columns WHERE table_schema IN ('tussock', 'pub') AND column_name = 'coop_id'`)
	if err != nil {
		w.t.Fatal(err)
	}
	var b strings.Builder
	for _, table := range strings.Fields(tables) {
		sum, err := w.db.Owner.Text(context.Background(), "SELECT count(*) || ' ' || coalesce(md5(string_agg(x, '' ORDER BY x)), '') FROM (SELECT t::text AS x FROM "+table+" t WHERE coop_id = $1) x", coop)
		if err != nil {
			w.t.Fatal(err)
		}
		fmt.Fprintln(&b, table, sum)
	}
	return b.String()
}

// TestT26ForeignIDs tries every route of the table, as every role, with an id of everything that another cooperative or
// a neighbor has: in the path, in the query of every link and in the forms of every page. The answer is, to the byte
// and the header, that for an id of nothing; and nothing of theirs is changed. (T24, T26)
func TestT26ForeignIDs(t *testing.T) {
	w := newWorld(t)
	far, near := w.far(), w.near()
	for _, table := range slices.Sorted(maps.Keys(far)) {
		if len(far[table]) == 0 {
			t.Errorf("nothing of %s is tried: give the other cooperative one in (*world).fill", table)
		}
	}
	before := w.digest(w.cy.actor.Coop)
	swept := map[string]bool{}
	denied := 0
	for _, role := range access.Roles {
		m := w.members[role]
		word := m.word()
		ask := func(method, path string, fields url.Values) answer {
			if method == http.MethodGet {
				return m.opens(path)
			}
			fields.Set("csrf", word)
			r := httptest.NewRequest(method, path, strings.NewReader(fields.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			return m.asks(r)
		}
		ids := maps.Clone(far)
		if role != access.Coordinator { // whose roster the neighbor is on
			for table, of := range near {
				if len(of) > 0 {
					ids[table] = of
				}
			}
		}
		foreign := someOf(t, ids)
		_, forms := m.walks()
		compare := func(what, method string, path func(id string) string, fields func(id string) url.Values) {
			want := ask(method, path(nobodys), fields(nobodys))
			if want.status == http.StatusForbidden {
				denied++
				return // no id is looked at
			}
			if want.status < 400 && strings.Contains(what, ":id") {
				t.Errorf("%s as %s: an id of nothing gave %d", what, role, want.status)
			}
			for _, id := range foreign {
				denied++
				got := ask(method, path(id), fields(id))
				got.body, want.body = strings.ReplaceAll(got.body, id, nobodys), strings.ReplaceAll(want.body, id, nobodys)
				for name, values := range got.header {
					got.header[name] = []string{strings.ReplaceAll(strings.Join(values, "\n"), id, nobodys)}
				}
				if want.status < 400 && method == http.MethodPost {
					continue // it was done, for no id is asked for here; what is theirs is looked at below
				}
				if !same(got, want) {
					t.Errorf("%s as %s with somebody else's %s: %d, %d bytes; for nothing %d, %d bytes", what, role, table(far, near, id), got.status, len(got.body), want.status, len(want.body))
				}
			}
		}
		for _, route := range pages.Table() {
			for _, p := range parameter.FindAllString(route[1], -1) {
				if pathWords[p] != "" || p == ":token" {
					continue
				}
				swept[route[0]+" "+route[1]] = true
				compare(route[0]+" "+route[1], route[0], func(id string) string {
					return at(strings.Replace(route[1], p, id, 1), string(w.mine))
				}, func(string) url.Values {
					return url.Values{"name": {"x"}, "owner": {"x"}, "level": {"1"}, "zero": {"taken"}}
				})
			}
		}
		for _, f := range forms {
			for i, field := range f.fields {
				if !idText.MatchString(field[1]) || ending.MatchString(f.action) {
					continue
				}
				compare(fmt.Sprintf("the form of %s to %s with another %s", f.page, f.action, field[0]), http.MethodPost, func(string) string { return f.action }, func(id string) url.Values {
					v := url.Values{}
					for j, other := range f.fields {
						if j != i && other[0] != field[0] {
							v.Add(other[0], other[1])
						}
					}
					v.Set(field[0], id)
					return v
				})
			}
		}
	}
	for _, route := range pages.Table() {
		if at(route[1], "a") != at(route[1], "b") && !swept[route[0]+" "+route[1]] {
			t.Errorf("%s %s was not tried", route[0], route[1])
		}
	}
	if after := w.digest(w.cy.actor.Coop); after != before {
		t.Errorf("something of the other cooperative was changed:\n%s\n%s", before, after)
	}
	if said := w.log.said(); strings.Count(said, "request failed") < denied/2 {
		t.Errorf("of %d refusals %d are in the log", denied, strings.Count(said, "request failed"))
	}
	t.Logf("%d attempts", denied)
}

var idText = regexp.MustCompile(`^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$`)

func table(far, near map[string][]access.ID, id string) string {
	for _, of := range []map[string][]access.ID{far, near} {
		for name, ids := range of {
			if slices.Contains(ids, access.ID(id)) {
				return name
			}
		}
	}
	return "?"
}

// TestT26Tokens: a member's token opens nothing of somebody else's by any route of the interface for programs.
func TestT26Tokens(t *testing.T) {
	w := newWorld(t)
	for _, role := range access.Roles {
		m := w.members[role]
		if !role.Has(access.TakeFiles) {
			continue
		}
		token := m.token()
		for _, route := range pages.APITable() {
			if !strings.Contains(route[1], ":id") {
				continue
			}
			want := w.calls(token, route[0], at(route[1], nobodys))
			for _, id := range append(someOf(t, w.far()), someOf(t, w.near())...) {
				if got := w.calls(token, route[0], at(route[1], id)); !same(got, want) || got.status < 400 {
					t.Errorf("%s as %s: somebody else's id gave %d, %d bytes; nothing %d, %d bytes", route[1], role, got.status, len(got.body), want.status, len(want.body))
				}
			}
		}
	}
}

// TestT23IDs: ids are random and tell no order: version 4 wherever one is shown, and nothing in the database counts up.
func TestT23IDs(t *testing.T) {
	w := newWorld(t)
	ada := w.members[access.Landowner]
	for i, m := range []*member{ada, w.bo, ada} { // A, then B, then A
		m.kept(m.sends([]sheet{{"nests.csv", season(i, 1)}}))
	}
	shown := map[string]bool{}
	for _, m := range w.members {
		paths, _ := m.walks()
		for _, path := range paths {
			got := m.opens(path)
			for _, id := range anyID.FindAllString(path+" "+got.body+" "+fmt.Sprint(got.header), -1) {
				shown[id] = true
			}
		}
	}
	for id := range shown {
		if id[14] != '4' || !strings.Contains("89ab", id[19:20]) { // RFC 9562, section 5.4
			t.Errorf("%s is no random id", id)
		}
	}
	if len(shown) < 5 {
		t.Errorf("only %d ids were seen", len(shown))
	}
	counts, err := w.db.Owner.Text(context.Background(), `SELECT string_agg(c.oid::regclass::text, ', ') FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname IN ('tussock', 'pub') AND c.relkind = 'S'`)
	if err != nil || counts != "" {
		t.Errorf("sequences in the database: %s %v", counts, err)
	}
}

var anyID = regexp.MustCompile(`\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\b`)

// bulletinPaths are the pages and files that show bulletins.
var bulletinPaths = []string{"/region", "/region/2026", "/region/quality", "/region/quality/2026", "/region/2026/cells.csv", "/outreach", "/outreach/north", "/outreach/north/poster",
	"/outreach/north/poster.svg", "/outreach/map.json", "/files", "/files/bulletins/2026/figures.zip", "/files/bulletins/2026/parquet.zip"}

// TestT08Parameters: no parameter of any page that shows bulletins, known or made up, alone or with another, cuts the
// region another way: the answer is the same bytes as without it, or none.
func TestT08Parameters(t *testing.T) {
	s := newOutreachStage(t)
	var err error
	if s.app, err = pages.NewUnpaced(pages.Config{DB: s.db.DB, Account: s.accounts}); err != nil {
		t.Fatal(err)
	}
	names := []string{"area", "site", "substrate", "ranch", "except", "without", "exclude", "not", "season", "from", "to", "min", "n", "entities", "group", "by", "split", "format",
		"filter", "where", "q", "measure", "predator", "place", "areas[]", "area[ne]", "_method", "debug", "coop", "as", "held", "preview", "revision", "number", "hash"}
	values := []string{"South", "North", "island", "1", "2025,2026", "*"}
	seen := 0
	for _, m := range []*member{s.rosa, s.ada, s.planner} {
		for _, path := range bulletinPaths {
			bare := m.opens(path)
			if bare.status == http.StatusForbidden {
				continue
			}
			for i, name := range names {
				if (i+len(path))%3 != 0 { // each parameter on a third of the pages
					continue
				}
				value := values[i%len(values)]
				q := "?" + url.QueryEscape(name) + "=" + url.QueryEscape(value)
				if i%2 == 0 {
					q += "&" + names[(i+7)%len(names)] + "=" + values[(i+1)%len(values)]
				}
				seen++
				got := m.opens(path + q)
				if got.status != http.StatusNotFound && !same(steady(got), steady(bare)) {
					t.Errorf("%s%s as %s: %d, and not the same as without", path, q, m.actor.Role, got.status)
				}
			}
		}
	}
	for _, path := range []string{"/region/2024-2026", "/region/2025+2026", "/region/2026/North", "/region/2026/cells.csv/North", "/outreach/south", "/outreach/north+south", "/outreach/far",
		"/files/bulletins/2024/figures.zip", "/files/bulletins/2026/rows.zip", "/region/02026", "/region/2026.0", "/region/%32026"} {
		if got := s.ada.opens(path); got.status < 400 {
			t.Errorf("%s: %d", path, got.status)
		}
		if got := s.planner.opens(path); got.status < 400 && !strings.HasPrefix(path, "/outreach/south") && path != "/region/%32026" {
			t.Errorf("%s as planner: %d", path, got.status)
		}
	}
	t.Logf("%d permutations", seen)
}

var wayBack = regexp.MustCompile(`name="back" value="[^"]*"`)

// steady takes out of an answer the address that was asked for, which a button that comes back here carries.
func steady(a answer) answer {
	a.body = wayBack.ReplaceAllString(a.body, "")
	a.header.Del("Content-Length")
	return a
}

// TestT24NotShown: a cell that rests on too few for a reader is, to them, a cell that is not there: every page, file and
// answer of the interface keeps its bytes and headers.
func TestT24NotShown(t *testing.T) {
	s := newOutreachStage(t)
	seed := func(n int) {
		t.Helper()
		if _, err := s.db.Owner.Exec(context.Background(), `INSERT INTO pub.cell (coop_id, season, row, area, measure, predator, estimate, low, high, entities, n)
			VALUES ($1, 2026, 99, 'North', 'predator_share', 'coyote', 0.4, 0.3, 0.5, '5-9', $2)`, s.rosa.actor.Coop, n); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.db.Owner.Exec(context.Background(), "UPDATE pub.cell SET n = 4"); err == nil || !strings.Contains(err.Error(), "23514") {
		t.Errorf("a cell on four: %v", err)
	}
	for _, tt := range []struct {
		m *member
		n int
	}{{s.planner, 5}, {s.planner, 9}} { // a cell on fewer than five cannot even be stored
		token := tt.m.token()
		look := func() (list []answer) {
			for _, path := range bulletinPaths {
				list = append(list, tt.m.opens(path))
			}
			for _, path := range []string{"/api/v1/bulletins", "/api/v1/bulletins/2026", "/api/v1/bulletins/2026/cells"} {
				list = append(list, s.calls(token, http.MethodGet, path))
			}
			return list
		}
		before := look()
		seed(tt.n)
		for i, got := range look() {
			if !same(got, before[i]) {
				t.Errorf("answer %d of %s tells of a cell on %d: %d and %d bytes", i, tt.m.actor.Role, tt.n, len(before[i].body), len(got.body))
			}
		}
		if _, err := s.db.Owner.Exec(context.Background(), "DELETE FROM pub.cell WHERE row = 99"); err != nil {
			t.Fatal(err)
		}
	}
}
