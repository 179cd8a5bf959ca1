package pages_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
)

// TestRightsPerRoute asks every route as every role and as nobody: who has no right to it is told so, or sent to sign in,
// before anything else is looked at. (OWASP ASVS 5.0, 8.2.1)
func TestRightsPerRoute(t *testing.T) {
	w := newWorld(t)
	words := map[access.Role]string{}
	for role, m := range w.members {
		words[role] = m.word()
	}
	nobody := &member{stage: w.stage}
	for route, right := range pages.Rights() {
		method, path := route[0], at(route[1], string(w.mine))
		for _, role := range access.Roles {
			if role.Has(right) {
				continue
			}
			r := httptest.NewRequest(method, path, strings.NewReader("csrf="+words[role]))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if got := w.members[role].asks(r); got.status != http.StatusForbidden {
				t.Errorf("%s %s as %s, who has no right to %q: %d", method, route[1], role, right, got.status)
			}
		}
		if right != access.Anyone {
			r := httptest.NewRequest(method, path, nil)
			got := nobody.asks(r)
			if toDoor := got.status == http.StatusSeeOther && strings.HasPrefix(got.header.Get("Location"), "/sign-in?next="); !toDoor && got.status != http.StatusUnauthorized {
				t.Errorf("%s %s as nobody: %d", method, route[1], got.status)
			}
		}
	}
}

// noted are tables in which a look leaves its note.
var noted = regexp.MustCompile(`(?m)^tussock\.(session|view_log|alarm|denied|denial|refusal|api_token|step|throttle|device|field_session) .*\n`)

// TestReadingChangesNothing: no address that is only looked at, or tried with any other safe method, changes a row, but for
// the notes that somebody looked. (OWASP ASVS 5.0, 3.5.3)
func TestReadingChangesNothing(t *testing.T) {
	w := newWorld(t)
	digest := func() string { return noted.ReplaceAllString(w.digest(w.members[access.Coordinator].actor.Coop), "") }
	before := digest()
	for _, role := range []access.Role{access.Coordinator, access.Landowner, access.Biologist} {
		m := w.members[role]
		word := m.word()
		for route := range pages.Rights() {
			for method, id := range map[string]access.ID{http.MethodGet: w.mine, http.MethodHead: m.actor.Person, http.MethodOptions: w.upload} {
				m.asks(httptest.NewRequest(method, at(route[1], string(id))+"?csrf="+word+"&level=0&state=undone&confirm=yes", nil))
			}
		}
	}
	if after := digest(); after != before {
		t.Errorf("reading changed something:\n%s\n%s", before, after)
	}
}

// TestOwnIDs opens every page that takes an id with one of everything of the asker's own cooperative: whatever the id is of,
// the answer is no fault of ours.
func TestOwnIDs(t *testing.T) {
	w := newWorld(t)
	coop := w.members[access.Coordinator].actor.Coop
	ids := someOf(t, w.everything(func([]string) string { return "coop_id = '" + string(coop) + "'" }))
	opened := 0
	for _, role := range access.Roles {
		for route, right := range pages.Rights() {
			if route[0] != http.MethodGet || !role.Has(right) || at(route[1], "a") == at(route[1], "b") {
				continue
			}
			for _, id := range append(ids, string(w.mine), string(w.upload)) {
				got := w.members[role].opens(at(route[1], id))
				if got.status >= 500 {
					t.Errorf("%s as %s with %s: %d %s", route[1], role, id, got.status, w.log.said())
				}
				if got.status == http.StatusOK {
					opened++
				}
			}
		}
	}
	if opened < 5 {
		t.Errorf("only %d pages opened", opened)
	}
}
