package clerk_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/access"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// drawnSheet is a sheet of a season as somebody might send it.
func drawnSheet(rng *rand.Rand, year int) string {
	var b strings.Builder
	b.WriteString("Pasture,Line,Nest,Cover,Set out,Look 1,Saw,Look 2,Saw,Shell bits,Camera\n")
	pick := func(list ...string) string { return list[rng.IntN(len(list))] }
	for line := range 2 + rng.IntN(4) {
		for nest := range 6 {
			first := pick("ok", "ok", "eaten", "trampled")
			second := ""
			if first == "ok" {
				second = fmt.Sprintf("5/26/%d,%s", year, pick("ok", "ok", "eaten", "could not find it"))
			} else {
				second = ","
			}
			fmt.Fprintf(&b, "%s,%d,%d,%s,4/28/%d,5/12/%d,%s,%s,%s,%s\n", []string{"North", "South"}[line%2], line+1, nest+1, pick("yucca", "bunchgrass"), year, year, first, second,
				pick("", "halves", "crumbs"), pick("", "", "raccoon"))
		}
	}
	return b.String()
}

// kept is what is kept of a ranch, read past every door; nil where nothing is.
func (h *house) kept(ranch access.ID) *findings.Result {
	h.t.Helper()
	body, err := h.Owner.Text(context.Background(), "SELECT convert_from(string_agg(body, ''), 'UTF8') FROM tussock.finding WHERE ranch_id = $1", ranch)
	if err != nil {
		h.t.Fatal(err)
	}
	if body == "" {
		return nil
	}
	r, err := findings.Unpack([]byte(body))
	if err != nil {
		h.t.Fatal(err)
	}
	return r
}

// agrees holds what is kept against what the rows come to.
func (h *house) agrees(after string, ranch access.ID, nests int) {
	h.t.Helper()
	var d *survey.Data
	var tables func(season int) predator.Table
	h.As(h.t, h.owner, func(tx *postgres.Tx) (err error) {
		if d, err = tx.Survey([]access.ID{ranch}, 0); err == nil {
			tables, err = tx.SeasonTables()
		}
		return err
	})
	if (nests >= 0 && len(d.Nests) != nests) || len(d.Nests) == 0 && nests != 0 {
		h.t.Errorf("after %s: %d nests, want %d", after, len(d.Nests), nests)
	}
	whole := cmp.Exporter(func(reflect.Type) bool { return true })
	if diff := cmp.Diff(findings.Compute(d, findings.Options{Key: tables}), h.kept(ranch), whole, cmpopts.EquateNaNs()); diff != "" {
		h.t.Errorf("after %s what is kept is not what the rows come to (−rows +kept):\n%s", after, diff)
	}
}

// TestFindingsKept: whatever changes rows leaves the findings of just these rows behind.
func TestFindingsKept(t *testing.T) {
	h := newHouse(t)
	h.opens()
	rng := rand.New(rand.NewPCG(12, 5))
	change := func(what string, ranch access.ID, nests int, fn func(*postgres.Tx) error) {
		t.Helper()
		h.As(t, h.owner, fn)
		h.settles()
		h.agrees(what, ranch, nests)
	}

	for range 3 { // years, each corrected once
		year := 2020 + rng.IntN(5)
		h.sends(h.ranch, "first.csv", drawnSheet(rng, year)+"\n")
		h.settles()
		h.agrees("a sheet", h.ranch, -1)
		h.sends(h.ranch, "second.csv", drawnSheet(rng, year)+"\n\n")
		h.settles()
		h.agrees("another of the same nests", h.ranch, -1)
	}
	h.agrees("nothing but looking", h.ranch, -1)

	asks := h.sends(h.two, "asks.csv", strings.Replace(heads+rows(2024, 9), ",ok\n", ",zzyzx\n", 3))
	h.settles()
	h.agrees("a sheet with questions", h.two, -1)
	before := h.kept(h.two)
	page, _ := h.read(asks, words.English)
	given := map[string]string{}
	for _, q := range page.Questions {
		given[q.ID] = "taken"
	}
	change("an answer", h.two, -1, func(tx *postgres.Tx) error { return tx.ReadAgain(asks, postgres.Answers{Given: given}, words.English) })
	if len(given) == 0 || cmp.Equal(before, h.kept(h.two), cmp.Exporter(func(reflect.Type) bool { return true }), cmpopts.EquateNaNs()) {
		t.Errorf("the answer to %v changes nothing", given)
	}
	change("undoing", h.two, 0, func(tx *postgres.Tx) error { return tx.UndoUpload(asks) })
	change("letting it count again", h.two, 9, func(tx *postgres.Tx) error { return tx.RestoreUpload(asks) })

	// The road of field looks: a sheet in the place of the one before.
	change("a sheet in another's place", h.two, 4, func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: h.two, File: "field work 2024.csv", Data: []byte(heads + rows(2024, 4)), Replaces: asks, Language: words.English})
		return err
	})
	// Rows that no clerk has read.
	change("rows", h.two, 5, func(tx *postgres.Tx) error {
		d := &survey.Data{Nests: []survey.Nest{{Season: 2023, Transect: "1", Number: "1", Substrate: survey.Yucca, SetOn: survey.DateOf(2023, 5, 1), EggsLeft: -1}}}
		_, _, err := tx.Send(postgres.Sending{Ranch: h.two, File: "rows", Data: []byte("rows"), Rows: d})
		return err
	})

	// A name is in the findings: those under the old one go, and the next look makes them once more.
	h.As(t, h.boss, func(tx *postgres.Tx) error {
		_, err := tx.SaveRanch(postgres.Ranch{ID: h.two, Name: "South Breaks", Owner: "Ada Marsh"})
		return err
	})
	if h.kept(h.two) != nil {
		t.Error("findings are kept under a name that is no more")
	}
	for range 2 {
		change("a look", h.two, 5, func(tx *postgres.Tx) error { _, err := tx.Findings(h.two); return err })
	}

	// Another key to remains: nothing stays that was made with the one before, and the clerk reads with the new one.
	h.As(t, h.boss, func(tx *postgres.Tx) error {
		return tx.SetKey(predator.Table{Source: "A book", Leanings: []predator.Leaning{{Sign: "bits", Answer: "halves", Animal: "fox", Times: 20}}})
	})
	if h.kept(h.ranch) != nil || h.kept(h.two) != nil {
		t.Error("findings are kept that were made with another key")
	}
	h.sends(h.ranch, "with the new key.csv", drawnSheet(rng, 2025)+"\n\n\n")
	h.settles()
	h.agrees("a sheet read with another key", h.ranch, -1)
	if r := h.kept(h.ranch); r == nil || len(r.Predators) == 0 || r.Predators[0].KeySource != "A book" {
		t.Errorf("the clerk reads with another key: %+v", r)
	}
	change("a look with another key", h.two, 5, func(tx *postgres.Tx) error { _, err := tx.Findings(h.two); return err })

	h.Erase(t, h.two)
	if h.kept(h.two) != nil {
		t.Error("findings of an erased ranch are left")
	}
	h.agrees("another was erased", h.ranch, -1)
}

// TestFindingsOfOldMethod: what was worked out another way is worked out once more when a clerk comes in, for every ranch.
func TestFindingsOfOldMethod(t *testing.T) {
	h := newHouse(t)
	for _, ranch := range []access.ID{h.ranch, h.two} {
		h.As(t, h.owner, func(tx *postgres.Tx) error {
			d := &survey.Data{Nests: []survey.Nest{{Season: 2023, Transect: "1", Number: "1", Substrate: survey.Yucca, SetOn: survey.DateOf(2023, 5, 1), EggsLeft: -1}}}
			_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: "rows", Data: []byte("rows"), Rows: d})
			return err
		})
	}
	if n, err := h.Owner.Exec(context.Background(), "UPDATE tussock.finding SET method = method - 1, body = 'of old'"); err != nil || n != 2 {
		t.Fatal(n, err)
	}
	h.opens()
	h.sends(h.ranch, "later.csv", heads+rows(2024, 3)) // which waits for no findings
	h.settles()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if n, err := h.Owner.Text(context.Background(), "SELECT count(*) FROM tussock.finding WHERE body <> 'of old'"); err != nil || n == "2" {
			break
		}
	}
	h.Owner.Exec(context.Background(), "DELETE FROM tussock.finding WHERE body = 'of old'")
	h.agrees("a new method", h.two, 1)
	h.agrees("a new method and a sheet", h.ranch, 4)
}
