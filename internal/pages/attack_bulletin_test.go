package pages_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// shows is all that a reader can get of the bulletins: pages, tables, files and the interface for programs.
func (m *member) shows(token string) (list []answer) {
	m.t.Helper()
	for _, path := range bulletinPaths {
		if path != "/files" { // which lists the reader's own too
			list = append(list, steady(m.opens(path)))
		}
	}
	for _, path := range []string{"/api/v1/bulletins", "/api/v1/bulletins/2026", "/api/v1/bulletins/2026/cells"} {
		list = append(list, m.calls(token, http.MethodGet, path))
	}
	return list
}

func sameAll(t *testing.T, what string, got, want []answer) {
	t.Helper()
	for i := range want {
		if !same(got[i], want[i]) {
			t.Errorf("%s: answer %d changed from %d to %d bytes", what, i, len(want[i].body), len(got[i].body))
		}
	}
}

// TestT09T10T12Frozen: once a bulletin is out, a ranch that joins, a nest that is mended and an owner who takes everything
// back change nothing of it that anybody can get, whatever is asked for afterward; and the owner's own page
// changes at once.
func TestT09T10T12Frozen(t *testing.T) {
	p := newPublishedStage(t)
	bo, planner := p.bo, p.planner
	token, outside := bo.token(), planner.token()
	before, far := bo.shows(token), planner.shows(outside)
	if before[0].status != http.StatusOK || !strings.Contains(before[len(before)-1].body, "survival_28") {
		t.Fatalf("no bulletin to look at: %d %s", before[0].status, before[len(before)-1].body)
	}
	everything := func() {
		t.Helper()
		p.rosa.posts("/cooperative/bulletins", "year", "2026", "opens", "2026-01-01", "cut", "2026-02-01", "composed", "2026-02-02", "published", "2026-02-09")
		p.rosa.posts("/cooperative/bulletins/2026/1", "says", "no")
		presstest.Compose(t, p.rosa.db)
	}

	// T9: one more ranch.
	late := p.rosa.adds("Latecomer", "")
	owner := p.rosa.invites(access.Landowner, late)
	owner.does(func(tx *postgres.Tx) error { return tx.SetConsent(late, 1) })
	owner.kept(owner.sends([]sheet{{"nests.csv", season(3, 5)}}))
	p.rosa.db.Vouch(t, p.rosa.actor.Coop)
	everything()
	sameAll(t, "one ranch more", bo.shows(token), before)

	// T10: one nest's fate.
	own := p.ada.opens("/ranch/" + string(p.ranches[0])).text()
	sent := p.ada.sent(p.ranches[0])[0]
	mended := strings.Replace(season(0, 2), "intact\n", "taken\n", 1)
	if mended == season(0, 2) {
		t.Fatal("nothing was mended")
	}
	p.ada.kept(p.ada.sends([]sheet{{"nests.csv", mended}}, "replaces", string(sent.ID)))
	if now := p.ada.opens("/ranch/" + string(p.ranches[0])).text(); now == own {
		t.Error("the owner's page does not show the mended nest")
	}
	everything()
	sameAll(t, "one nest mended", bo.shows(token), before)

	// T12: everything of one owner.
	for _, statement := range []string{"DELETE FROM tussock.upload WHERE ranch_id = $1", "DELETE FROM tussock.consent WHERE ranch_id = $1"} {
		if _, err := p.ada.db.Owner.Exec(context.Background(), statement, p.ranches[0]); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := p.ada.db.Owner.Text(context.Background(), `SELECT ((SELECT count(*) FROM tussock.nest WHERE ranch_id = $1) + (SELECT count(*) FROM tussock.belt WHERE ranch_id = $1)
		+ (SELECT count(*) FROM tussock.upload_file f JOIN tussock.upload u ON u.coop_id = f.coop_id AND u.id = f.upload_id WHERE u.ranch_id = $1))::text`, p.ranches[0])
	if err != nil || rows != "0" {
		t.Errorf("after taking everything back %s rows are left (%v)", rows, err)
	}
	everything()
	sameAll(t, "one owner gone", bo.shows(token), before)
	sameAll(t, "one owner gone, from outside", planner.shows(outside), far)
}
