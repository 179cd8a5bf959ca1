package press_test

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// TestT11FinalRevision, through the database: thirty days after a bulletin came out its season is copied once more. Four late sheets
// are refused; of five that differ there is a second edition, from the two copies alone, which comes out when the coordinator says yes;
// and the first stays where no reader is.
func TestT11FinalRevision(t *testing.T) {
	t.Parallel()
	for late, why := range map[int]string{0: "Nothing", 4: "Too few", 5: ""} {
		c := newCoop(t, 10)
		presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
		first, frozen := c.cells(t, c.boss, 2026), c.frozen(t)
		for i := range late {
			c.mend(t, i)
		}
		presstest.Compose(t, c.Fixture)
		if c.frozen(t) != frozen || len(c.editions(t)) != 1 {
			t.Fatalf("%d late: revised before its time", late)
		}
		c.Later(t, c.boss.Coop, 2026)
		frozen = c.frozen(t)
		c.mend(t, 9) // after the second cut-off
		presstest.Compose(t, c.Fixture)
		e := c.editions(t)[0]
		if e.Edition != 2 || !strings.HasPrefix(e.Note, why) || (e.Note == "") != (why == "") {
			t.Fatalf("%d late: %+v, want %q", late, e, why)
		}
		if why != "" {
			if c.frozen(t) != frozen {
				t.Errorf("%d late: a refused revision left something behind", late)
			}
			continue
		}
		if got := c.cells(t, c.owners[0], 2026); *got[0].Estimate != *first[0].Estimate {
			t.Error("the second edition is read before it is out")
		}
		c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.Approve(2026, 2, true) })
		second := c.cells(t, c.owners[0], 2026)
		if len(second) != len(first) {
			t.Errorf("the second edition gives %d cells, the first %d", len(second), len(first))
		}
		c.As(t, c.owners[0], func(tx *postgres.Tx) error {
			heads, err := tx.Bulletins()
			if len(heads) != 1 || heads[0].RevisedAt.IsZero() {
				t.Errorf("the bulletin says %+v", heads)
			}
			return err
		})
		if left := c.text(t, "SELECT count(*) FROM pub.cell WHERE edition = 1"); left == "0" {
			t.Error("the first edition is gone")
		}
		presstest.Compose(t, c.Fixture)
		c.Later(t, c.boss.Coop, 2026)
		presstest.Compose(t, c.Fixture)
		if n := len(c.editions(t)); n != 2 {
			t.Errorf("there are %d editions", n)
		}
	}
}

// TestTheLogIsSealed: only the press reads the gate's log; it names nobody, and the next bulletin is held against it. Who withdraws is
// no longer in it.
func TestTheLogIsSealed(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	log := func() string { return c.text(t, "SELECT log FROM tussock.gate_log") }
	var sealed bulletin.Log
	if err := json.Unmarshal([]byte(log()), &sealed); err != nil {
		t.Fatal(err)
	}
	if len(sealed.Places) != 8 || strings.Contains(log(), "Ranch 0") || strings.Contains(log(), string(c.ranches[0])) {
		t.Errorf("the log is %s", log())
	}
	conn, err := pgx.Connect(context.Background(), c.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	for _, statement := range []string{"SELECT log FROM tussock.gate_log", "SELECT salt FROM tussock.gate_key", "SELECT n FROM pub.retraction", "DELETE FROM pub.retraction", "INSERT INTO pub.retraction SELECT * FROM pub.retraction",
		"SELECT nests FROM tussock.snapshot", "SELECT counts_as FROM tussock.season_ranch", "SELECT tussock.freeze_due(NULL)", "SELECT tussock.publish_due(NULL)", "INSERT INTO tussock.approval SELECT * FROM tussock.approval", "SELECT device_hash FROM tussock.browser"} {
		if _, err := conn.Exec(context.Background(), statement); err == nil {
			t.Errorf("pages may %s", statement)
		}
	}
	c.Erase(t, c.ranches[3])
	left := 0
	for token := range sealed.Places {
		if strings.Contains(log(), token) {
			left++
		}
	}
	if left != len(sealed.Places)-1 {
		t.Errorf("after one withdrew, %d of %d tokens are left", left, len(sealed.Places))
	}
	if err := json.Unmarshal([]byte(log()), &sealed); err != nil {
		t.Errorf("the log is broken: %v", err)
	}
}

// TestRetraction: nobody but the owner of the tables can put a cell back, and no later edition brings it.
func TestRetraction(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 10)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	before := c.cells(t, c.owners[0], 2026)
	taken := bulletin.Cell{Season: 2026, Measure: bulletin.ClumpsPerAcre}
	err := c.DB.As(context.Background(), c.owners[0], func(tx *postgres.Tx) error {
		_, err := tx.Retract(2026, taken)
		return err
	})
	if err == nil {
		t.Error("a landowner takes a figure back")
	}
	for i := range 5 {
		c.mend(t, i)
	}
	c.Later(t, c.boss.Coop, 2026)
	presstest.Compose(t, c.Fixture)
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		n, err := tx.Retract(2026, taken)
		if n != 1 {
			t.Errorf("took %d cells, want 1", n)
		}
		return err
	})
	seen := func() (n int) {
		for _, cell := range c.cells(t, c.owners[0], 2026) {
			if cell.Measure == bulletin.ClumpsPerAcre {
				n++
			}
		}
		return n
	}
	if after := c.cells(t, c.owners[0], 2026); len(after) != len(before)-1 || seen() != 0 {
		t.Errorf("a landowner sees %d cells after %d", len(after), len(before))
	}
	c.Approve(t, c.boss.Coop, 2026, 2)
	if got := c.text(t, "SELECT count(*) FROM pub.revision WHERE published_at IS NOT NULL"); got != "1" {
		t.Fatal("no revision came out")
	}
	if seen() != 0 {
		t.Error("the final revision brings back what was taken back")
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		list, err := tx.Retractions()
		if len(list) != 1 || list[0].RetractedAt.IsZero() || list[0].Measure != bulletin.ClumpsPerAcre {
			t.Errorf("the trail has %v", list)
		}
		return err
	})
}

// TestT09T10TwoPersons: where there were two coordinators when the season opened, nothing comes out on one's word: not by saying it
// twice, not by removing the other, not with a friend brought in after the cut-off. A no of one who may speak keeps it back.
func TestT09T10TwoPersons(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 6)
	second := c.Member(t, c.boss, access.Coordinator, "Second")
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	c.Cut(t, c.boss.Coop, 2026)
	presstest.Compose(t, c.Fixture)
	say := func(a access.Actor, yes bool) error {
		return c.DB.As(context.Background(), a, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, yes) })
	}
	out := func() bool { return len(c.cells(t, c.owners[0], 2026)) > 0 }
	for range 2 {
		if err := say(c.boss, true); err != nil {
			t.Fatal(err)
		}
	}
	if say(c.owners[0], true) == nil || out() {
		t.Fatal("published on one coordinator's word")
	}
	if err := say(second, false); err != nil {
		t.Fatal(err)
	}
	friend := c.Member(t, c.boss, access.Coordinator, "Friend")
	if say(friend, true) == nil || out() {
		t.Fatal("who came after the cut-off has a word, or a no does not count")
	}
	c.Remove(t, c.boss, second.Person)
	if err := say(c.boss, true); err != nil || out() {
		t.Fatal("the one who is left publishes alone")
	}
	// So that nobody's going away keeps it back for good, the friend has a word a month later.
	c.exec(t, "UPDATE pub.bulletin SET composed_at = composed_at - interval '40 days'")
	c.exec(t, "UPDATE tussock.edition SET composed_at = composed_at - interval '40 days'")
	c.exec(t, "UPDATE tussock.season SET opens_on = opens_on - 40, cut_off_on = cut_off_on - 40, composed_on = composed_on - 40, published_on = published_on - 40")
	if say(friend, true) == nil || out() {
		t.Error("who came today has a word because it has waited")
	}
	c.exec(t, "UPDATE tussock.person SET joined_at = joined_at - interval '31 days' WHERE id = $1", friend.Person)
	if err := say(friend, true); err != nil || !out() {
		t.Errorf("it is kept back for good: %v", err)
	}
}

// TestT22OnePopulation: consent has one level for all readers, so that no two readers get figures of two populations.
func TestT22OnePopulation(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 2)
	got := c.text(t, `SELECT string_agg(attname, ' ' ORDER BY attnum) FROM pg_attribute
		WHERE attrelid = 'tussock.consent'::regclass AND attnum > 0 AND NOT attisdropped`)
	if want := "coop_id ranch_id level given_by given_at seq paper closing over"; got != want {
		t.Errorf("consent holds %q, want %q: a column by audience would make populations that subtract", got, want)
	}
	// One flag: no level in between that some readers' figures could count and others' not.
	for _, level := range []int{-1, 2, 3} {
		_, err := c.Owner.Exec(context.Background(), "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES ($1, $2, $3, $4)",
			c.boss.Coop, c.ranches[0], level, c.owners[0].Person)
		if err == nil || !strings.Contains(err.Error(), "consent_level_check") {
			t.Errorf("level %d: %v", level, err)
		}
	}
	got = c.text(t, `SELECT string_agg(attname, ' ' ORDER BY attnum) FROM pg_attribute
		WHERE attrelid = 'pub.cell'::regclass AND attnum > 0 AND NOT attisdropped`)
	if strings.Contains(got, "role") || strings.Contains(got, "audience") {
		t.Errorf("a cell holds %q: it is one for all readers", got)
	}
}
