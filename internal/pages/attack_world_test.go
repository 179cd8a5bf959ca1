package pages_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"log/slog"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

// A world is what the attacks are tried on: one cooperative with somebody of every role, a neighbor in it, and another
// cooperative that has one of everything. Names and figures are made up.
type world struct {
	*stage
	log     *journal
	members map[access.Role]*member // ada's ranch is worked by the hand and shared with the biologist
	bo, cy  *member                 // the neighbor, and a landowner of the other cooperative
	mine    access.ID
	theirs  access.ID
	upload  access.ID // ada's
}

// A journal is the server's log, which several requests may write at once.
type journal struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (j *journal) Write(p []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.b.Write(p)
}

// said returns what was written down since the last time.
func (j *journal) said() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	s := j.b.String()
	j.b.Reset()
	return s
}

func newWorld(t testing.TB) *world {
	t.Helper()
	return newWorldOn(t, pgtest.New(t))
}

func newWorldOn(t testing.TB, f *pgtest.Fixture) *world {
	t.Helper()
	w := &world{log: &journal{}, members: map[access.Role]*member{}}
	w.stage = &stage{t: t, db: f, accounts: account.New(f.DB, account.Options{Wait: func(context.Context, time.Duration) error { return nil }})}
	logger := slog.New(slog.NewTextHandler(w.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	var err error
	if w.app, err = pages.NewUnpaced(pages.Config{DB: f.DB, Account: w.accounts, Now: time.Now, Log: logger}); err != nil {
		t.Fatal(err)
	}
	opensDesk(t, f)
	rosa := w.cooperative("Sandhill Grass")
	w.mine, w.theirs = rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada := rosa.invites(access.Landowner, w.mine)
	w.bo = rosa.invites(access.Landowner, w.theirs)
	w.members = map[access.Role]*member{access.Coordinator: rosa, access.Landowner: ada, access.Hand: rosa.invites(access.Hand, w.mine),
		access.Biologist: rosa.invites(access.Biologist), access.Planner: rosa.invites(access.Planner)}
	w.upload, _ = ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	w.bo.kept(w.bo.sends([]sheet{{"nests.csv", season(1, 2)}}))
	w.fill(rosa, w.bo, w.members[access.Biologist], w.theirs)
	w.fill(rosa, ada, w.members[access.Biologist], w.mine)

	ines := w.cooperative("North Fork")
	far := ines.adds("Far Breaks", "Cy Far")
	w.cy = ines.invites(access.Landowner, far)
	w.cy.kept(w.cy.sends([]sheet{{"nests.csv", plain}}))
	w.fill(ines, w.cy, ines.invites(access.Biologist), far)
	for _, m := range []*member{rosa, ada, w.bo, w.cy} {
		m.wakes()
	}
	w.log.said()
	return w
}

// fill gives a cooperative one of everything that has an id.
func (w *world) fill(boss, owner, biologist *member, ranch access.ID) {
	w.t.Helper()
	boss.does(func(tx *postgres.Tx) error {
		if err := tx.SaveArea("Far "+string(ranch[:4]), ""); err != nil {
			return err
		}
		_, err := tx.Invite(access.Biologist, "", "", nil)
		return err
	})
	owner.does(func(tx *postgres.Tx) error {
		if err := tx.SetConsent(ranch, 1); err != nil {
			return err
		}
		if _, err := tx.MakeToken("R in the office", 30); err != nil {
			return err
		}
		_, err := tx.Share(postgres.Sharing{Ranch: ranch, Person: biologist.actor.Person, Purpose: "burn plan", Through: time.Now().AddDate(0, 6, 0)})
		return err
	})
	seed := func(statement string, args ...any) {
		w.t.Helper()
		if _, err := w.db.Owner.Exec(context.Background(), statement, args...); err != nil {
			w.t.Fatalf("%s: %v", statement, err)
		}
	}
	coop := boss.actor.Coop
	seed("INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on) VALUES ($1, 2025, '2025-03-01', '2025-09-01', '2025-09-02', '2025-09-14') ON CONFLICT DO NOTHING", coop)
	seed("INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, 2025, 4, '2025-12-01', 'h') ON CONFLICT DO NOTHING", coop)
	seed(`INSERT INTO tussock.passkey (coop_id, person_id, key_id, credential, name) VALUES ($1, $2, sha256('k'), '{}', 'phone')`, coop, owner.actor.Person)
	seed(`INSERT INTO tussock.device (coop_id, person_id, device_hash, agent, trusted_at, trusted_until) VALUES ($1, $2, sha256('d'), 'phone', now(), now() + interval '90 days')`, coop, owner.actor.Person)
	seed(`INSERT INTO tussock.introduction (coop_id, asked_by, asked_at, place, purpose) VALUES ($1, $2, now(), 'North', 'a field day')`, coop, biologist.actor.Person)
	seed(`INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES ($1, $2, 'hour', now(), ARRAY[$3::uuid])`, coop, biologist.actor.Person, ranch)
	seed(`INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at) VALUES ($1, $2, $3, now())`, coop, ranch, biologist.actor.Person)
	by := owner.actor.Person
	seed(`INSERT INTO tussock.departure (coop_id, kind, ranch_id, person_id) VALUES ($1, 'erase', $2, $3)`, coop, ranch, by)
	seed(`INSERT INTO tussock.showcase (coop_id, ranch_id, entity_id, name, season, item, put_by) SELECT $1, $2, entity_id, name, 2026, 'cover', $3 FROM tussock.ranch WHERE coop_id = $1 AND id = $2`, coop, ranch, by)
	seed(`INSERT INTO tussock.season_map (coop_id, ranch_id, id, kind, shape) VALUES ($1, $2, gen_random_uuid(), 'pasture', '{"polygons": [[[[-100.6, 42.4], [-100.4, 42.4], [-100.4, 42.6], [-100.6, 42.4]]]]}')`, coop, ranch)
	seed(`INSERT INTO tussock.calendar (coop_id, person_id, token_hash, named, language) VALUES ($1, $2, sha256('c'), true, 'en')`, coop, by)
	seed(`INSERT INTO tussock.late_call (coop_id, ranch_id, season, called_by) VALUES ($1, $2, 2026, $3)`, coop, ranch, boss.actor.Person)
	seed(`INSERT INTO tussock.season_plan (coop_id, ranch_id, season, purpose, lines, stops, spacing, pace, covers, seed, apart_fence, apart_road, apart_water, apart_lines, first_days, last_days, slack, belt_width, belt_length, saved_by, saved_at)
		VALUES ($1, $2, 2026, 'trend', 1, 10, 50, 0.8, '["bunchgrass"]', '7', 50, 50, 50, 100, 14, 28, 2, 6, 660, $3, now())`, coop, ranch, by)
	seed(`INSERT INTO tussock.season_line (coop_id, ranch_id, id, season, name, code, placed, lon, lat, bearing, stops, spacing, pace, covers, slack, belt_width, belt_length)
		VALUES ($1, $2, gen_random_uuid(), 2026, 'A', substr(md5(random()::text), 1, 8), true, -100.5, 42.5, 90, 10, 50, 0.8, '["bunchgrass"]', 2, 6, 660)`, coop, ranch)
	const line = `FROM tussock.season_line WHERE coop_id = $1 AND ranch_id = $2`
	seed(`INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers) SELECT $1, $2, gen_random_uuid(), 2026, id, 1, 'note', 'AM', 'phone', 1, now(), '{}' `+line, coop, ranch)
	seed(`INSERT INTO tussock.photo (coop_id, ranch_id, id, line_id, data) SELECT $1, $2, gen_random_uuid(), id, 'x' `+line, coop, ranch)
	seed(`INSERT INTO tussock.field_link (coop_id, ranch_id, token_hash, name, lines, from_on, through, made_by) SELECT $1, $2, sha256('x'), 'summer hand', ARRAY[id], current_date, current_date + 30, $3 `+line, coop, ranch, by)
	seed(`INSERT INTO tussock.unfiled (coop_id, person_id, sending_id, name, size, data, language, unclear) VALUES ($1, $2, gen_random_uuid(), 'old.csv', 1, 'x', 'en', 'ranch')`, coop, by)
	seed(`INSERT INTO tussock.sending_consent (coop_id, ranch_id, given_by) VALUES ($1, $2, $3)`, coop, ranch, by)
	for row, place := range []any{nil, "North"} {
		seed(`INSERT INTO pub.cell (coop_id, season, row, area, measure, predator, estimate, low, high, entities, n)
			VALUES ($1, 2025, $2, $3, 'survival_28', '', 0.5, 0.4, 0.6, '10-19', 12) ON CONFLICT DO NOTHING`, coop, row, place)
	}
}

// everything lists the ids of all rows of the database that a condition on the table's rows picks, by table.
func (w *world) everything(where func(columns []string) string) map[string][]access.ID {
	w.t.Helper()
	tables, err := w.db.Owner.Text(context.Background(), `SELECT jsonb_object_agg(t, c) FROM (
		SELECT table_schema || '.' || table_name AS t, jsonb_agg(column_name) AS c FROM information_schema.columns
		WHERE table_schema IN ('tussock', 'pub') GROUP BY 1) x WHERE x.c ? 'id' AND x.c ? 'coop_id'`)
	if err != nil {
		w.t.Fatal(err)
	}
	var columns map[string][]string
	if err := json.Unmarshal([]byte(tables), &columns); err != nil {
		w.t.Fatal(err)
	}
	ids := map[string][]access.ID{}
	for table, cs := range columns {
		condition := where(cs)
		if condition == "" {
			continue
		}
		found, err := w.db.Owner.Text(context.Background(), "SELECT coalesce(string_agg(id::text, ' '), '') FROM "+table+" WHERE "+condition)
		if err != nil {
			w.t.Fatal(err)
		}
		ids[table] = nil
		for _, id := range strings.Fields(found) {
			ids[table] = append(ids[table], access.ID(id))
		}
	}
	return ids
}

// far are the ids of the other cooperative's rows.
func (w *world) far() map[string][]access.ID {
	return w.everything(func([]string) string { return fmt.Sprintf("coop_id = '%s'", w.cy.actor.Coop) })
}

// near are the ids of the neighbor's rows.
func (w *world) near() map[string][]access.ID {
	return w.everything(func(columns []string) string {
		var of []string
		for column, id := range map[string]access.ID{"ranch_id": w.theirs, "person_id": w.bo.actor.Person} {
			if slices.Contains(columns, column) {
				of = append(of, fmt.Sprintf("%s = '%s'", column, id))
			}
		}
		return strings.Join(of, " OR ")
	})
}

// pathWords are what stands in a path for what is no id.
var pathWords = map[string]string{":season": "2025", ":edition": "1", ":file": "sheets.zip", ":place": "north"}

var parameter = regexp.MustCompile(`:\w+`)

// at fills the parameters of a route's path: ids with id, tokens with a token of nobody's.
func at(path, id string) string {
	return parameter.ReplaceAllStringFunc(path, func(p string) string {
		if word, ok := pathWords[p]; ok {
			return word
		}
		if p == ":token" {
			return strings.Repeat("ab", 32)
		}
		return id
	})
}

// A foundForm is one on a page, with what stands in it.
type foundForm struct {
	page, action, kind string
	fields             [][2]string
}

var (
	formTags   = regexp.MustCompile(`(?s)<form\b([^>]*)>(.*?)</form>`)
	fieldTags  = regexp.MustCompile(`(?s)<(input|textarea|button)\b([^>]*)>|<select\b([^>]*)>(.*?)</select>`)
	optionTags = regexp.MustCompile(`<option\b([^>]*)>`)
	attributes = regexp.MustCompile(`\b([a-z-]+)="([^"]*)"`)
)

func attribute(tag, name string) string {
	for _, a := range attributes.FindAllStringSubmatch(tag, -1) {
		if a[1] == name {
			return html.UnescapeString(a[2])
		}
	}
	return ""
}

// forms reads the forms that change something off a page.
func formsOf(path, body string) (list []foundForm) {
	for _, f := range formTags.FindAllStringSubmatch(body, -1) {
		if !strings.EqualFold(attribute(f[1], "method"), "post") {
			continue
		}
		found := foundForm{page: path, action: attribute(f[1], "action"), kind: attribute(f[1], "enctype")}
		if found.action == "" {
			found.action = path
		}
		for _, tag := range fieldTags.FindAllStringSubmatch(f[2], -1) {
			name, value := attribute(tag[2], "name"), attribute(tag[2], "value")
			if tag[3] != "" {
				name = attribute(tag[3], "name")
				if option := optionTags.FindStringSubmatch(tag[4]); option != nil {
					value = attribute(option[1], "value")
				}
			}
			if name != "" {
				found.fields = append(found.fields, [2]string{name, value})
			}
		}
		list = append(list, found)
	}
	return list
}

var pageLinks = regexp.MustCompile(`href="(/[^"#]*)"`)

// walks opens every page that can be reached by links from a member's first page, and returns paths and forms.
func (m *member) walks() (paths []string, forms []foundForm) {
	m.t.Helper()
	seen := map[string]bool{"/": true}
	queue := []string{"/"}
	for len(queue) > 0 && len(seen) < 400 {
		path := queue[0]
		queue = queue[1:]
		got := m.opens(path)
		if to := got.header.Get("Location"); to != "" && !seen[to] {
			seen[to] = true
			queue = append(queue, to)
		}
		if got.status >= 500 {
			m.t.Errorf("%s as %s: %d", path, m.actor.Role, got.status)
		}
		if got.status == http.StatusOK && strings.HasPrefix(got.header.Get("Content-Type"), "text/html") {
			forms = append(forms, formsOf(path, got.body)...)
			for _, l := range pageLinks.FindAllStringSubmatch(got.body, -1) {
				to := html.UnescapeString(l[1])
				if !seen[to] && !strings.HasPrefix(to, "/static/") {
					seen[to] = true
					queue = append(queue, to)
				}
			}
		}
		paths = append(paths, path)
	}
	return paths, forms
}
