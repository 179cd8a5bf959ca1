package press_test

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/press"
	"tussock/internal/press/presstest"
	"tussock/internal/survey"
)

// A coop is a cooperative of ranches with one season each.
type coop struct {
	*pgtest.Fixture
	boss    access.Actor
	owners  []access.Actor
	ranches []access.ID
}

func newCoop(t *testing.T, ranches int) *coop {
	t.Helper()
	c := &coop{Fixture: pgtest.New(t)}
	c.boss = c.Cooperative(t, "Bluestem")
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SaveArea("North", "") })
	for i := range ranches {
		c.add(t, i)
	}
	return c
}

// add lets one more ranch join, consent and send its season.
func (c *coop) add(t *testing.T, i int) {
	t.Helper()
	id, owner := c.Ranch(t, c.boss, postgres.Ranch{Name: fmt.Sprintf("Ranch %02d", i), Area: "North"})
	c.ranches, c.owners = append(c.ranches, id), append(c.owners, owner)
	c.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(id, 1) })
	c.send(t, i, rows(t, i), "")
}

func (c *coop) send(t *testing.T, i int, d *survey.Data, replaces access.ID) (id access.ID) {
	t.Helper()
	c.As(t, c.owners[i], func(tx *postgres.Tx) (err error) {
		id, _, err = tx.Send(postgres.Sending{Ranch: c.ranches[i], File: "f", Data: fmt.Append(nil, replaces, i, d.Nests[0].Season), Rows: d, Replaces: replaces})
		return err
	})
	return id
}

// rows are 60 nests on three transects, of which every (i%3+3)rd is taken by day 14, and a belt a transect.
func rows(t *testing.T, i int) *survey.Data { return rowsOf(t, i, 2026) }

func rowsOf(t *testing.T, i, season int) *survey.Data {
	set, err := survey.ParseDate(fmt.Sprint(season, "-05-11"))
	if err != nil {
		t.Fatal(err)
	}
	d := &survey.Data{}
	for n := range 60 {
		nest := survey.Nest{Season: season, Transect: fmt.Sprint(n % 3), Number: fmt.Sprint(n), Substrate: survey.Bunchgrass, SetOn: set, EggsLeft: -1,
			Visits: []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Intact}}}
		if n%(i%3+3) == 0 {
			nest.Visits = []survey.Visit{{On: set + 14, State: survey.Taken}}
		}
		d.Nests = append(d.Nests, nest)
	}
	for n := range 3 {
		d.Belts = append(d.Belts, survey.Belt{Season: season, Transect: fmt.Sprint(n), LengthFt: 660, WidthFt: 66, Counts: map[survey.Substrate]int{survey.Bunchgrass: 100 + 10*i}})
	}
	return d
}

// frozen is all that is published, byte for byte.
func (c *coop) frozen(t *testing.T) string {
	t.Helper()
	return c.text(t, `SELECT string_agg(x, E'\n' ORDER BY x) FROM (
		SELECT b::text FROM pub.bulletin b UNION ALL SELECT c::text FROM pub.cell c UNION ALL SELECT p::text FROM pub.place p UNION ALL SELECT v::text FROM pub.revision v) t(x)`)
}

func (c *coop) text(t *testing.T, query string, args ...any) string {
	t.Helper()
	got, err := c.Owner.Text(context.Background(), query, args...)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func (c *coop) exec(t *testing.T, statement string, args ...any) {
	t.Helper()
	if _, err := c.Owner.Exec(context.Background(), statement, args...); err != nil {
		t.Fatal(err)
	}
}

// cells is what the actor sees of a season.
func (c *coop) cells(t *testing.T, a access.Actor, season int) (list []bulletin.Cell) {
	t.Helper()
	c.As(t, a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Cells(season)
		return err
	})
	return list
}

// editions are what coordinators see.
func (c *coop) editions(t *testing.T) (list []postgres.Edition) {
	t.Helper()
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		list, err = tx.Editions()
		return err
	})
	return list
}

// due is what an edition would be composed from.
func (c *coop) due(t *testing.T, season, edition int) bulletin.Input {
	t.Helper()
	in, _, err := c.Press(t).Load(context.Background(), postgres.Print{Coop: c.boss.Coop, Season: season, Edition: edition})
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// mend sends a season again in which one more nest was taken in the place of the first.
func (c *coop) mend(t *testing.T, i int) {
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

// TestT43ASeasonOnce: what counts is the roster at the opening and the results at the cut-off. Whatever comes after is in no figure;
// the print is made once, and made again from the copy it is the same to the byte; and it is out when its day has come and the
// coordinator has said yes, and never before.
func TestT43ASeasonOnce(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 10)
	for _, area := range []string{"South"} {
		c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SaveArea(area, "") })
	}
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)

	// After the opening: one comes, one moves, one is another owner's, one says yes late, an area gets another name.
	c.add(t, 10)
	c.Vouch(t, c.boss.Coop)
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		ranches, err := tx.AllRanches()
		if err != nil {
			return err
		}
		ranches[0].Area, ranches[1].Owner = "South", ranches[2].Owner
		for _, r := range ranches[:2] {
			if _, err := tx.SaveRanch(r); err != nil {
				return err
			}
		}
		return tx.SaveArea("North", "A group")
	})
	c.mend(t, 0) // before the cut-off: counts
	c.Cut(t, c.boss.Coop, 2026)
	in := c.due(t, 2026, 1)
	entities := map[string]bool{}
	for _, m := range in.Roster {
		entities[m.Entity] = true
		if m.Area != "North" || m.Unsettled {
			t.Errorf("the roster has changed since the opening: %+v", m)
		}
	}
	if len(in.Roster) != 10 || len(entities) != 10 || in.Areas[0].Group != "" {
		t.Errorf("%d ranches of %d owners, areas %v", len(in.Roster), len(entities), in.Areas)
	}
	taken := func(in bulletin.Input) (n int) {
		for i := range in.Data.Nests {
			if in.Data.Nests[i].Ranch == string(c.ranches[0]) && in.Data.Nests[i].Fate() == survey.Taken {
				n++
			}
		}
		return n
	}
	if got := taken(in); got != 21 {
		t.Errorf("%d nests of the first ranch are taken at the cut-off, want 21", got)
	}

	// After the cut-off nothing counts that is sent.
	c.mend(t, 1)
	if list := c.editions(t); len(list) != 1 || list[0].Ranches != 10 || list[0].Sheets != 10 || list[0].Owners != 10 || list[0].Tries != 0 {
		t.Errorf("coordinators read %+v", list)
	}
	presstest.Compose(t, c.Fixture)
	print := c.frozen(t)
	p := c.Press(t)
	p.Version = "the test's"
	again, err := press.Compose(context.Background(), p, postgres.Print{Coop: c.boss.Coop, Season: 2026, Edition: 1})
	if err != nil || !strings.Contains(print, again.Hash) {
		t.Errorf("composed again it has another hash: %v", err)
	}
	c.mend(t, 2)
	presstest.Compose(t, c.Fixture)
	if c.frozen(t) != print {
		t.Error("it was composed again")
	}
	if due := c.text(t, "SELECT coalesce(coop::text, 'none') FROM tussock.print_due('a later version')"); due != "none" {
		t.Error("what is composed is due again, for a later version of the program")
	}

	// Coordinators see the print; nobody else sees anything, and nothing is out.
	var preview []bulletin.Cell
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		preview, err = tx.Print(2026, 1)
		return err
	})
	heads := func(a access.Actor) (list []postgres.BulletinHead) {
		c.As(t, a, func(tx *postgres.Tx) (err error) {
			list, err = tx.Bulletins()
			return err
		})
		return list
	}
	if len(preview) == 0 || len(c.cells(t, c.boss, 2026))+len(c.cells(t, c.owners[0], 2026))+len(heads(c.boss)) != 0 {
		t.Errorf("before it is out coordinators preview %d cells; readers see some", len(preview))
	}
	err = c.DB.As(context.Background(), c.owners[0], func(tx *postgres.Tx) error {
		_, err := tx.Print(2026, 1)
		return err
	})
	if err == nil {
		t.Error("a landowner previews it")
	}
	if list := c.editions(t); list[0].Tries != 1 || list[0].Held == 0 || !list[0].PublishedAt.IsZero() {
		t.Errorf("coordinators read %+v", list)
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
	if got := c.cells(t, c.owners[0], 2026); len(got) != len(preview) || len(heads(c.owners[0])) != 1 {
		t.Errorf("a landowner reads %d cells of %d", len(got), len(preview))
	}
}

// TestNotBeforeItsDay: however many say yes, nothing is out before the day of publication; nothing is composed before its day, nothing
// copied before the cut-off, and dates that have begun cannot be changed.
func TestNotBeforeItsDay(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	presstest.Compose(t, c.Fixture)
	if list := c.editions(t); len(list) != 0 {
		t.Fatalf("before the cut-off there is %+v", list)
	}
	day := 24 * time.Hour
	for _, year := range []int{2026} {
		err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error {
			at := time.Now().UTC().Truncate(day).Add(2 * day)
			return tx.SetSeason(postgres.Season{Year: year, Opens: at, CutOff: at.Add(day), Composed: at.Add(day), Published: at.Add(day)})
		})
		if err == nil {
			t.Error("a season that has opened got other dates")
		}
		if err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error { return tx.DropSeason(year) }); err == nil {
			t.Error("a season that has opened was dropped")
		}
	}
	c.exec(t, `UPDATE tussock.season SET opens_on = d - 3, cut_off_on = d, composed_on = d + 1, published_on = d + 2 FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x`)
	c.exec(t, "SELECT tussock.freeze_due(NULL)")
	presstest.Compose(t, c.Fixture)
	if c.frozen(t) != "" || len(c.editions(t)) != 1 {
		t.Error("composed before its day")
	}
	c.exec(t, `UPDATE tussock.season SET composed_on = cut_off_on`)
	presstest.Compose(t, c.Fixture)
	if c.frozen(t) == "" {
		t.Fatal("not composed on its day")
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
	c.exec(t, "SELECT tussock.publish_due(NULL)")
	if len(c.cells(t, c.owners[0], 2026)) != 0 {
		t.Error("out before its day")
	}
	c.exec(t, `UPDATE tussock.season SET published_on = cut_off_on`)
	c.exec(t, "SELECT tussock.publish_due(NULL)")
	if len(c.cells(t, c.owners[0], 2026)) == 0 {
		t.Error("not out on its day")
	}
}

// TestT43NoPressAwake: a season's day counts from its first second on, whether or not a press is awake then. Whoever changes anything
// that is frozen has it frozen first, as it was.
func TestT43NoPressAwake(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 7)
	unsent, late := c.Ranch(t, c.boss, postgres.Ranch{Name: "Unsent", Area: "North"})
	c.As(t, late, func(tx *postgres.Tx) error { return tx.SetConsent(unsent, 1) })
	c.Vouch(t, c.boss.Coop)
	boss := func(fn func(*postgres.Tx) error) func() { return func() { c.As(t, c.boss, fn) } }
	owner := func(i int, fn func(*postgres.Tx) error) func() { return func() { c.As(t, c.owners[i], fn) } }
	move := boss(func(tx *postgres.Tx) error {
		_, err := tx.SaveRanch(postgres.Ranch{ID: c.ranches[0], Name: "Ranch 00"})
		return err
	})
	year := 2030
	for _, change := range []struct {
		what string
		do   func()
	}{
		{"an area", boss(func(tx *postgres.Tx) error { return tx.SaveArea("South", "") })},
		{"a ranch", move},
		{"a word for an owner", boss(func(tx *postgres.Tx) error { return tx.EndVouch(c.owners[1].Person) })},
		{"a yes", owner(2, func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[2], 0) })},
		{"an owner's ranch", boss(func(tx *postgres.Tx) error { return tx.Assign(c.owners[3].Person, c.ranches[4]) })},
		{"a member", func() { c.Remove(t, c.boss, c.owners[5].Person) }},
	} {
		year++
		c.exec(t, `INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on)
			SELECT $1, $2, d, d + 60, d + 61, d + 62 FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x`, c.boss.Coop, year)
		change.do()
		if got := c.text(t, "SELECT (opened_at IS NOT NULL)::text FROM tussock.season WHERE year = $1", year); got != "true" {
			t.Errorf("%s is changed on the day of the opening, and the season has not opened", change.what)
		}
	}
	if got := c.text(t, "SELECT area FROM tussock.season_ranch WHERE season = 2032 AND ranch_id = $1", c.ranches[0]); got != "North" {
		t.Errorf("the roster has the change: %q", got)
	}

	c.exec(t, "UPDATE tussock.season SET opens_on = d - 3, cut_off_on = d FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x WHERE year = 2031")
	c.As(t, late, func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: unsent, File: "f", Data: []byte("late"), Rows: rowsOf(t, 1, 2031)})
		return err
	})
	if got := c.text(t, "SELECT count(*) FILTER (WHERE nests <> '[]') || ' of ' || count(*) FROM tussock.snapshot WHERE season = 2031"); got != "0 of 7" { // one has said no since; the yes of one who was taken off stands
		t.Errorf("copied are the sheets of %s, want none: the one there is came late", got)
	}
}

// TestRun: the press at work composes by itself, once.
func TestRun(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 6)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	p := c.Press(t)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := press.Run(ctx, p, slog.New(slog.DiscardHandler)); err != nil {
			t.Error(err)
		}
	}()
	t.Cleanup(func() { cancel(); <-done })
	c.Cut(t, c.boss.Coop, 2026)
	for deadline := time.Now().Add(30 * time.Second); c.frozen(t) == ""; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the press did not compose what was due")
		}
	}
}

// TestOutIsOut: whatever comes after, what is out stays as it is.
func TestOutIsOut(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	before := c.frozen(t)
	for name, do := range map[string]func(){
		"a ranch joins":     func() { c.add(t, 8) },
		"a fate is mended":  func() { c.mend(t, 1) },
		"a ranch is erased": func() { c.Erase(t, c.ranches[2]) },
		"one more says no":  func() { c.As(t, c.owners[3], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[3], 0) }) },
		"the press goes on": func() { presstest.Compose(t, c.Fixture) },
		"a coordinator is asked": func() {
			if err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, false) }); err == nil {
				t.Error("there was something to say no to")
			}
		},
	} {
		do()
		if after := c.frozen(t); after != before {
			t.Errorf("%s: the bulletin changed from\n%s\nto\n%s", name, before, after)
		}
	}
	left := c.text(t, `SELECT count(*) FROM (SELECT 1 FROM tussock.nest WHERE ranch_id = $1 UNION ALL SELECT 1 FROM tussock.snapshot WHERE ranch_id = $1 UNION ALL SELECT 1 FROM tussock.season_ranch WHERE ranch_id = $1
		UNION ALL SELECT 1 FROM tussock.roster_change WHERE ranch_id = $1 UNION ALL SELECT 1 FROM tussock.upload_file WHERE ranch_id = $1) x`, c.ranches[2])
	if left != "0" {
		t.Errorf("of the ranch that was erased %s rows are left", left)
	}
}

// TestPrivateRanch: a ranch without its owner's yes is not even copied, nor one that said yes after the opening, or no before the
// bulletin was composed.
func TestPrivateRanch(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	no := func(i int) {
		c.As(t, c.owners[i], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[i], 0) })
	}
	no(0)
	no(1)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	c.As(t, c.owners[1], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[1], 1) })
	no(2)
	c.Cut(t, c.boss.Coop, 2026)
	no(3)
	presstest.Compose(t, c.Fixture)
	in := c.due(t, 2026, 1)
	if len(in.Roster) != 5 || len(in.Data.Nests) != 5*60 {
		t.Errorf("loaded %d on the roster, %d nests, want 5, 300", len(in.Roster), len(in.Data.Nests))
	}
	for _, n := range in.Data.Nests {
		for _, private := range c.ranches[:4] {
			if n.Ranch == string(private) || n.Spot.Text != "" || n.Notes != "" {
				t.Fatalf("the press reads %+v", n)
			}
		}
	}
}

// TestThePressReadsCopiesAlone: results, roster, owners and words of consent are closed to it. Of a season it reads the dates and versions, and the key to
// remains is read by every member.
func TestThePressReadsCopiesAlone(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 5)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	got := c.text(t, `SELECT string_agg(DISTINCT table_schema || '.' || table_name, ' ' ORDER BY table_schema || '.' || table_name) FROM information_schema.column_privileges WHERE grantee = 'tussock_press'`)
	if want := "pub.bulletin pub.cell pub.place pub.retraction pub.revision tussock.edition tussock.gate_key tussock.gate_log tussock.remains_key tussock.season tussock.season_ranch tussock.snapshot"; got != want {
		t.Errorf("the press may touch %s, want %s", got, want)
	}
}

// TestChecksOfTheirDay: a bulletin counts checks by the days of the targets at its opening, and keeps them whatever is set later.
func TestChecksOfTheirDay(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 11)
	marks := findings.CommonMarks
	marks.First, marks.Last, marks.From = 9, 28, "our own vote"
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SetMarks(marks) })
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	marks.First = 14
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SetMarks(marks) })
	for _, cell := range c.cells(t, c.boss, 2026) {
		if want := map[string]float64{bulletin.FirstOnDay: 0, bulletin.SecondOnDay: 1}; cell.Measure == bulletin.FirstOnDay || cell.Measure == bulletin.SecondOnDay {
			if *cell.Estimate != want[cell.Measure] {
				t.Errorf("%s is %v, want %v", cell.Measure, *cell.Estimate, want[cell.Measure])
			}
		}
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		heads, err := tx.Bulletins()
		if len(heads) != 1 || heads[0].First != 9 || heads[0].Last != 28 {
			t.Errorf("got %+v", heads)
		}
		return err
	})
}
