package press_test

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// cells is what the actor sees of a season.
func (c *coop) cells(t *testing.T, a access.Actor, season int) (list []bulletin.Cell) {
	t.Helper()
	c.As(t, a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Cells(season)
		return err
	})
	return list
}

// late sends a season in which one more nest was taken in the place of the first.
func (c *coop) late(t *testing.T, i int) {
	t.Helper()
	d := rows(t, i)
	for n := range d.Nests {
		if d.Nests[n].Fate() == survey.Intact {
			d.Nests[n].Visits = []survey.Visit{{On: d.Nests[n].SetOn + 14, State: survey.Taken}}
			break
		}
	}
	var old []postgres.Upload
	c.As(t, c.owners[i], func(tx *postgres.Tx) (err error) {
		old, err = tx.Uploads(c.ranches[i])
		return err
	})
	c.send(t, i, d, old[0].ID)
}

// TestT11FinalRevision, through the database: before thirty days there is none; then four late sheets are refused, five
// make a second edition, once; and the first stays where no reader is.
func TestT11FinalRevision(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 10)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s", o.Note)
	}
	first, frozen := c.cells(t, c.boss, 2026), c.frozen(t)
	refused := func(why string) {
		t.Helper()
		err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error {
			_, err := tx.OrderPress(2026, postgres.FinalKind)
			return err
		})
		if message, _ := errs.Message(err); !strings.Contains(message, why) {
			t.Errorf("got %v, want %q", err, why)
		}
	}
	refused("30 days")
	c.exec(t, "UPDATE pub.bulletin SET published_at = now() - interval '31 days'")
	frozen = c.frozen(t)
	for i := range 4 {
		c.late(t, i)
	}
	if o := c.order(t, 2026, postgres.FinalKind); o.State != postgres.Failed || !strings.Contains(o.Note, "Too few") {
		t.Fatalf("four late: %s, %q", o.State, o.Note)
	}
	if c.frozen(t) != frozen {
		t.Fatal("a refused revision left something behind")
	}
	c.late(t, 4)
	if o := c.order(t, 2026, postgres.FinalKind); o.State != postgres.Done {
		t.Fatalf("five late: %s, %q", o.State, o.Note)
	}
	second := c.cells(t, c.boss, 2026)
	if len(second) != len(first) {
		t.Errorf("the second edition gives %d cells, the first %d", len(second), len(first))
	}
	if left, err := c.Owner.Text(context.Background(), "SELECT count(*) FROM pub.cell WHERE edition = 1"); err != nil || left == "0" {
		t.Errorf("%s cells of the first edition are left, %v", left, err)
	}
	refused("has had its final revision")
}

// TestTheLogIsSealed: only the press reads the gate's log; it names nobody, tells what was decided, and comes out the
// same again from the same rows. Who withdraws is no longer in it.
func TestTheLogIsSealed(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s", o.Note)
	}
	ctx := context.Background()
	log := func() (text string) {
		t.Helper()
		text, err := c.Owner.Text(ctx, "SELECT log FROM tussock.gate_log")
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	var sealed bulletin.Log
	if err := json.Unmarshal([]byte(log()), &sealed); err != nil {
		t.Fatal(err)
	}
	if len(sealed.Steps) == 0 || len(sealed.Totals) == 0 || sealed.Hash == "" || strings.Contains(log(), "Ranch 0") {
		t.Errorf("the log has %d steps, %d totals, hash %q", len(sealed.Steps), len(sealed.Totals), sealed.Hash)
	}
	p := c.Press(t)
	in, err := p.Load(ctx, postgres.Order{Coop: c.boss.Coop, Season: 2026})
	if err != nil {
		t.Fatal(err)
	}
	in.Earlier = nil
	if again, err := bulletin.Compose(in); err != nil || again.Log.Hash != sealed.Hash {
		t.Errorf("composed again the log is %s, want %s (%v)", again.Log.Hash, sealed.Hash, err)
	}
	conn, err := pgx.Connect(ctx, c.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	for _, statement := range []string{"SELECT log FROM tussock.gate_log", "SELECT salt FROM tussock.gate_key", "SELECT n FROM pub.retraction", "DELETE FROM pub.retraction", "INSERT INTO pub.retraction SELECT * FROM pub.retraction"} {
		if _, err := conn.Exec(ctx, statement); err == nil {
			t.Errorf("pages may %s", statement)
		}
	}

	all := sealed.Totals[0].Parts
	c.Erase(t, c.ranches[3])
	left := 0
	for _, part := range all {
		if strings.Contains(log(), part.Entity) {
			left++
		}
	}
	if left != len(all)-1 {
		t.Errorf("after one withdrew, %d of %d tokens are left", left, len(all))
	}
	if err := json.Unmarshal([]byte(log()), &sealed); err != nil {
		t.Errorf("the log is broken: %v", err)
	}
}

// TestRetraction: nobody but the owner of the tables can put a cell back, and the press still knows it was published.
func TestRetraction(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s", o.Note)
	}
	before := c.cells(t, c.owners[0], 2026)
	taken := before[0]
	for _, cell := range before {
		if cell.Substrate != nil {
			taken = cell
		}
	}
	err := c.DB.As(context.Background(), c.owners[0], func(tx *postgres.Tx) error {
		_, err := tx.Retract(2026, taken)
		return err
	})
	if err == nil {
		t.Error("a landowner takes a figure back")
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		n, err := tx.Retract(2026, taken)
		if n != 3 {
			t.Errorf("took %d cells, want the substrate's and both of all substrates", n)
		}
		return err
	})
	if after := c.cells(t, c.owners[0], 2026); len(after) != len(before)-3 {
		t.Errorf("a landowner sees %d cells after %d", len(after), len(before))
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		list, err := tx.Retractions()
		if len(list) != 3 || list[0].RetractedAt.IsZero() {
			t.Errorf("the trail has %v", list)
		}
		return err
	})
	in, err := c.Press(t).Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2027})
	if err != nil {
		t.Fatal(err)
	}
	if got := len(in.Earlier[0].Cells); got != len(before) {
		t.Errorf("the press knows of %d published cells, want %d", got, len(before))
	}
}

// TestTwoPersons: with two coordinators nothing is published on one's word, whatever a page might let through.
func TestTwoPersons(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 6)
	second := c.Member(t, c.boss, access.Coordinator, "Second")
	var id access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		id, err = tx.OrderPress(2026, postgres.PublishKind)
		return err
	})
	ctx := context.Background()
	for _, slip := range []func(*postgres.Tx) error{
		func(tx *postgres.Tx) error { return tx.ApproveOrder(id) },
	} {
		if err := c.DB.As(ctx, c.boss, slip); err == nil {
			t.Error("the one who ordered approved")
		}
	}
	time.Sleep(300 * time.Millisecond)
	if got := c.frozen(t); got != "" {
		t.Fatal("published on one coordinator's word")
	}
	c.As(t, second, func(tx *postgres.Tx) error { return tx.ApproveOrder(id) })
	for deadline := time.Now().Add(30 * time.Second); c.frozen(t) == ""; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the press did not carry out what two approved")
		}
	}
}

// TestT22OnePopulation: consent has one level for all readers, so that no two readers get figures of two populations.
func TestT22OnePopulation(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 2)
	got, err := c.Owner.Text(context.Background(), `SELECT string_agg(attname, ' ' ORDER BY attnum) FROM pg_attribute
		WHERE attrelid = 'tussock.consent'::regclass AND attnum > 0 AND NOT attisdropped`)
	if want := "coop_id ranch_id level given_by given_at through seq"; err != nil || got != want {
		t.Errorf("consent holds %q, want %q: a column by audience would make populations that subtract (%v)", got, want, err)
	}
	// One flag: no level in between that some readers' figures could count and others' not.
	for _, level := range []int{-1, 2, 3} {
		_, err := c.Owner.Exec(context.Background(), "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES ($1, $2, $3, $4)",
			c.boss.Coop, c.ranches[0], level, c.owners[0].Person)
		if err == nil || !strings.Contains(err.Error(), "consent_level_check") {
			t.Errorf("level %d: %v", level, err)
		}
	}
	got, err = c.Owner.Text(context.Background(), `SELECT string_agg(attname, ' ' ORDER BY attnum) FROM pg_attribute
		WHERE attrelid = 'pub.cell'::regclass AND attnum > 0 AND NOT attisdropped`)
	if err != nil || strings.Contains(got, "role") || strings.Contains(got, "audience") {
		t.Errorf("a cell holds %q: it is one for all readers (%v)", got, err)
	}
}

func (c *coop) exec(t *testing.T, statement string) {
	t.Helper()
	if _, err := c.Owner.Exec(context.Background(), statement); err != nil {
		t.Fatal(err)
	}
}
