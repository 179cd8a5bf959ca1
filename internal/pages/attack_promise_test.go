package pages_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
	"tussock/internal/survey"
)

// TestT39T40FromOutside is the coordinator's attack through pages and tokens alone, the composer out of sight, season after season
// in one cooperative. Before each season opens an owner leaves, joins, or is moved into an area of decoys; later one mends a sheet.
// The decoys' sheets are sent again and again, each time with other losses, and all that the coordinator can open is read: before
// the cut-off, after it, and beside the print. It never changes, so there is nothing to halve. Bulletins that are out keep their
// bytes, and two of them side by side tell of whoever left, joined, moved or mended no more than chance does. A print composed again from
// what is in would be seen to change by the same reading.
//
// One season of each kind runs by itself, in a small cooperative. TUSSOCK_ATTACK=200 runs so many in larger ones and holds the
// correlations, which need that many.
func TestT39T40FromOutside(t *testing.T) {
	seasons, owners, decoys := 4, 12, 5
	if n, err := strconv.Atoi(os.Getenv("TUSSOCK_ATTACK")); err == nil {
		seasons, owners, decoys = n, 24, 10
	}
	const perCooperative = 25 // seasons
	var all outsideReading
	for seed := 0; len(all.preview) < seasons; seed++ {
		o := newOutside(t, uint64(seed), owners, decoys)
		for range min(perCooperative, seasons-len(all.preview)) {
			o.season(&all)
		}
		o.again()
		t.Logf("%d of %d seasons", len(all.preview), seasons)
	}
	for what, r := range map[string]float64{
		"previews with the target's losses": correlation(all.preview, all.losses),
		"left, joined, moved, mended":       correlation(all.change, all.truth),
	} {
		if len(all.preview) < 100 {
			continue // a handful goes together by chance
		}
		t.Logf("%s, %d seasons: r = %.3f", what, len(all.preview), r)
		if math.Abs(r) > 0.15 {
			t.Errorf("%s: r = %.3f, want less than 0.15", what, r)
		}
	}
}

// outsideReading is what was read, beside what was true.
type outsideReading struct{ preview, losses, change, truth []float64 }

// outside is a cooperative with a coordinator who attacks it, and a landowner and a planner who read along with tokens.
type outside struct {
	*stage
	r       *rand.Rand
	boss    *member
	tokens  []string
	ranches []access.ID
	owners  []access.Actor
	rate    []float64 // of each owner's nests that last
	in      []bool    // said yes
	lost    []int     // of the last season's nests
	decoys  []access.ID
	puppet  access.Actor
	year    int
	out     map[int]string // each bulletin, as it first came out
}

const outsideNests = 30

func newOutside(t *testing.T, seed uint64, owners, decoys int) *outside {
	t.Helper()
	o := &outside{stage: sharedStage(t), r: rand.New(rand.NewPCG(seed, 39)), year: 1950, out: map[int]string{}}
	var err error
	if o.app, err = pages.NewUnpaced(pages.Config{DB: o.db.DB, Account: o.accounts}); err != nil {
		t.Fatal(err)
	}
	o.boss = o.cooperative("Sandhill Grass")
	for _, area := range []string{"North", "South", "Decoys"} {
		if got := o.boss.posts("/cooperative/areas", "name", area); got.status != http.StatusSeeOther {
			t.Fatalf("adding an area: %d %s", got.status, got.text())
		}
	}
	for i := range owners {
		o.adds(t, []string{"North", "South"}[i%2])
	}
	for i := range decoys {
		var id access.ID
		o.boss.does(func(tx *postgres.Tx) (err error) {
			id, err = tx.SaveRanch(postgres.Ranch{Name: fmt.Sprint("Decoy ", i), Owner: fmt.Sprint("Typed name ", i), Area: "Decoys"})
			return err
		})
		o.decoys = append(o.decoys, id)
	}
	o.db.Vouch(t, o.boss.actor.Coop)
	o.puppet = o.db.Member(t, o.boss.actor, access.Landowner, "Puppet", o.decoys...)
	for _, id := range o.decoys {
		o.db.As(t, o.puppet, func(tx *postgres.Tx) error { return tx.SetConsent(id, 1) })
	}
	planner := o.db.Member(t, o.boss.actor, access.Planner, "Planner")
	for _, a := range []access.Actor{o.boss.actor, o.owners[1], planner} {
		o.tokens = append(o.tokens, (&member{stage: o.stage, session: a.Session, actor: a}).token())
	}
	return o
}

func (o *outside) adds(t *testing.T, area string) {
	t.Helper()
	id, owner := o.db.Ranch(t, o.boss.actor, postgres.Ranch{Name: "Made-up Ranch " + spelled(len(o.ranches)), Area: area})
	o.db.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(id, 1) })
	o.ranches, o.owners = append(o.ranches, id), append(o.owners, owner)
	o.rate = append(o.rate, 0.35+0.4*o.r.Float64())
	o.in, o.lost = append(o.in, true), append(o.lost, 0)
}

// sends replaces a ranch's sheet of the season with one in which so many nests were taken.
func (o *outside) sends(a access.Actor, id access.ID, year, lost int) {
	o.t.Helper()
	set, err := survey.ParseDate(fmt.Sprint(year, "-05-11"))
	if err != nil {
		o.t.Fatal(err)
	}
	d := &survey.Data{}
	for n := range outsideNests {
		nest := survey.Nest{Season: year, Transect: fmt.Sprint(n % 3), Number: fmt.Sprint(n), Substrate: survey.Bunchgrass, SetOn: set, EggsLeft: -1,
			Visits: []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Intact}}}
		if n*7%outsideNests < lost {
			nest.Visits = []survey.Visit{{On: set + 14, State: survey.Taken}}
		}
		d.Nests = append(d.Nests, nest)
	}
	o.db.As(o.t, a, func(tx *postgres.Tx) error {
		old, err := tx.Uploads(id)
		if err != nil {
			return err
		}
		replaces := access.ID("")
		for _, u := range old {
			if u.Season == year && u.State == postgres.Current {
				replaces = u.ID
			}
		}
		_, _, err = tx.Send(postgres.Sending{Ranch: id, File: "nests.csv", Data: fmt.Append(nil, id, year, lost, o.r.Uint64()), Rows: d, Replaces: replaces})
		return err
	})
}

// reads is all that a coordinator can open of the season and of those before it, and what tokens are told. The log is left out: it
// counts what was refused, this reading's own questions among it.
func (o *outside) reads(year int) string {
	o.t.Helper()
	var all strings.Builder
	for _, path := range []string{"/cooperative", "/cooperative/bulletins", fmt.Sprintf("/cooperative/bulletins/%d/1", year), fmt.Sprintf("/cooperative/bulletins/%d/retract", year),
		fmt.Sprintf("/cooperative/uploads/%d", year), "/cooperative/late", "/changes", "/region", fmt.Sprintf("/region/%d", year), fmt.Sprintf("/region/quality/%d", year),
		fmt.Sprintf("/region/%d/cells.csv", year), "/outreach/cooperative", "/outreach/decoys", "/outreach/map.json", "/files"} {
		got := steady(o.boss.opens(path))
		fmt.Fprintln(&all, path, got.status, len(got.header), got.body)
	}
	for _, token := range o.tokens {
		for _, path := range []string{"/api/v1/bulletins", fmt.Sprintf("/api/v1/bulletins/%d", year), fmt.Sprintf("/api/v1/bulletins/%d/cells", year)} {
			got := o.calls(token, http.MethodGet, path)
			fmt.Fprintln(&all, path, got.status, got.body)
		}
	}
	return all.String()
}

// cells is a bulletin as a landowner's token is told it.
func (o *outside) cells(year int) string {
	o.t.Helper()
	return o.calls(o.tokens[1], http.MethodGet, fmt.Sprintf("/api/v1/bulletins/%d/cells", year)).body
}

// season lets one pass, with the attack beside it, and adds what was read.
func (o *outside) season(all *outsideReading) {
	t := o.t.(*testing.T)
	coop, year := o.boss.actor.Coop, o.year
	o.year++
	again := o.db.SignIn(t, postgres.Credentials{Coop: coop, Person: o.boss.actor.Person}) // what matters asks for a fresh proof
	o.boss = &member{stage: o.stage, session: again.Session, actor: again}
	kind := []string{"leaves", "joins", "moves", "mends"}[year%4]
	if kind == "joins" && !o.someOut() {
		kind = "mends"
	}
	who := 0
	for who < 2 || o.in[who] == (kind == "joins") { // the first two stay: one reads with a token
		who = o.r.IntN(len(o.ranches))
	}
	before := o.mean()
	deviation := func(i int, mean float64) float64 { return 1 - float64(o.lost[i])/outsideNests - mean }
	truth := 0.0
	switch kind {
	case "leaves":
		truth = -deviation(who, before)
		o.yes(who, 0)
	case "joins":
		o.yes(who, 1)
	case "moves":
		truth = deviation(who, before)
		o.moves(who)
	}
	o.db.Open(t, coop, year)
	target := who
	luck := 0.06 * o.r.NormFloat64() // of the season
	for i := range o.ranches {
		o.lost[i] = 0
		for range outsideNests {
			if o.r.Float64() > o.rate[i]+luck {
				o.lost[i]++
			}
		}
		o.sends(o.owners[i], o.ranches[i], year, o.lost[i])
	}
	decoys := func(lost int) {
		for i, id := range o.decoys {
			o.sends(o.puppet, id, year, min(outsideNests, (lost+i)/len(o.decoys)))
		}
	}
	// The read: at which of the decoys' losses anything that the coordinator can open changes, by halving; 0 where it never does.
	halving := func(when string) float64 {
		least, most := 0, outsideNests*len(o.decoys)
		decoys(least)
		low := o.reads(year)
		decoys(most)
		high := o.reads(year)
		if low == high {
			return 0
		}
		t.Errorf("%d, %s: what the coordinator reads changes with what the decoys send: %s", year, when, firstDifference(low, high))
		for most-least > 1 {
			mid := (least + most) / 2
			if decoys(mid); o.reads(year) == low {
				least = mid
			} else {
				most = mid
			}
		}
		return float64(most)
	}
	throughout, read := len(all.preview) < 4, 0.0 // later on beside the print alone
	if throughout {
		read += halving("before the cut-off")
	}
	o.db.Cut(t, coop, year)
	if throughout {
		read += halving("after it")
	}
	presstest.Compose(t, o.db)
	read += halving("beside the print")
	o.db.Approve(t, coop, year, 1)
	if throughout {
		read += halving("when it is out")
	}
	all.preview, all.losses = append(all.preview, read), append(all.losses, float64(o.lost[target]))
	o.out[year] = o.cells(year)
	if !strings.Contains(o.out[year], "survival_28") {
		t.Fatalf("the bulletin of %d has no survival: %s", year, o.out[year])
	}
	if kind == "joins" {
		truth = deviation(who, o.mean())
	}
	if kind == "mends" {
		mended := 1 + o.r.IntN(6)
		o.sends(o.owners[who], o.ranches[who], year, min(outsideNests, o.lost[who]+mended))
		truth = -float64(mended) / outsideNests
	}
	for y, first := range o.out {
		if o.cells(y) != first {
			t.Errorf("%d: the bulletin of %d changed", year, y)
		}
	}
	if earlier := o.out[year-1]; earlier != "" {
		read := rise(t, earlier, o.out[year])
		if kind == "mends" { // the season that it was mended in, before and after
			read = rise(t, o.out[year], o.cells(year))
		}
		all.change, all.truth = append(all.change, read), append(all.truth, truth)
	}
}

// again shows that the reading would see previews: where the last season's print is made again of what is in, with decoys that count,
// it changes with what they send.
func (o *outside) again() {
	t, coop, year := o.t, o.boss.actor.Coop, o.year-1
	again := func(lost int) string {
		for _, id := range o.decoys {
			o.sends(o.puppet, id, year, lost)
		}
		for _, statement := range []string{"DELETE FROM pub.cell WHERE coop_id = $1 AND season = $2", "DELETE FROM pub.place WHERE coop_id = $1 AND season = $2",
			"DELETE FROM tussock.gate_log WHERE coop_id = $1 AND season = $2", "DELETE FROM pub.bulletin WHERE coop_id = $1 AND season = $2",
			"DELETE FROM tussock.approval WHERE coop_id = $1 AND season = $2", "DELETE FROM tussock.snapshot WHERE coop_id = $1 AND season = $2",
			"DELETE FROM tussock.edition WHERE coop_id = $1 AND season = $2",
			"UPDATE tussock.season_ranch SET settled = true, fresh = false, yes = true WHERE coop_id = $1 AND season = $2", "SELECT tussock.freeze_due($1) WHERE $2::integer > 0"} {
			if _, err := o.db.Owner.Exec(t.Context(), statement, coop, year); err != nil {
				t.Fatalf("%s: %v", statement, err)
			}
		}
		presstest.Compose(t, o.db)
		return o.reads(year)
	}
	if again(0) == again(outsideNests) {
		t.Error("a print made again of what is in reads the same: the reading is too weak to prove anything")
	}
}

func (o *outside) yes(i, level int) {
	o.t.Helper()
	o.db.As(o.t, o.owners[i], func(tx *postgres.Tx) error { return tx.SetConsent(o.ranches[i], level) })
	o.in[i] = level > 0
}

// moves has the coordinator move a ranch beside the decoys.
func (o *outside) moves(i int) {
	o.t.Helper()
	name := "Made-up Ranch " + spelled(i)
	got := o.boss.posts("/cooperative/ranches/"+string(o.ranches[i]), "name", name, "owner", name, "area", "Decoys")
	if got.status != http.StatusSeeOther {
		o.t.Fatalf("moving a ranch: %d %s", got.status, got.text())
	}
}

func (o *outside) someOut() bool {
	for _, in := range o.in[2:] {
		if !in {
			return true
		}
	}
	return false
}

// mean is the share of all counted nests of the last season that lasted.
func (o *outside) mean() float64 {
	lost, of := 0, 0
	for i, in := range o.in {
		if in {
			lost, of = lost+o.lost[i], of+outsideNests
		}
	}
	return 1 - float64(lost)/float64(of)
}

// rise is how much the figures on survival went up from one bulletin to the other, all added up, each in widths of its range.
func rise(t *testing.T, before, after string) (sum float64) {
	t.Helper()
	type figure struct{ mid, width float64 }
	read := func(body string) map[string]figure {
		var all struct {
			Cells []struct {
				Measure, Area, Substrate string
				Clumps                   *float64
				Estimate, Low, High      *float64
			}
		}
		if err := json.Unmarshal([]byte(body), &all); err != nil {
			t.Fatal(err)
		}
		of := map[string]figure{}
		for _, c := range all.Cells {
			if !strings.HasPrefix(c.Measure, "survival") || c.Low == nil || c.High == nil {
				continue
			}
			clumps := 0.0
			if c.Clumps != nil {
				clumps = *c.Clumps
			}
			f := figure{(*c.Low + *c.High) / 2, math.Max(*c.High-*c.Low, 0.01)}
			if c.Estimate != nil {
				f.mid = *c.Estimate
			}
			of[fmt.Sprint(c.Measure, "/", c.Area, "/", c.Substrate, "/", clumps)] = f
		}
		return of
	}
	was := read(before)
	for name, f := range read(after) {
		if b, ok := was[name]; ok {
			sum += (f.mid - b.mid) / f.width
		}
	}
	return sum
}

// firstDifference shows where two texts part.
func firstDifference(a, b string) string {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	cut := func(s string) string { return s[max(0, min(len(s), i)-80):min(len(s), i+120)] }
	return fmt.Sprintf("%q and %q", cut(a), cut(b))
}

// correlation of two lists; 0 where one of them is constant: nothing is read then.
func correlation(x, y []float64) float64 {
	mx, my := 0.0, 0.0
	for i := range x {
		mx, my = mx+x[i]/float64(len(x)), my+y[i]/float64(len(y))
	}
	var xy, xx, yy float64
	for i := range x {
		xy, xx, yy = xy+(x[i]-mx)*(y[i]-my), xx+(x[i]-mx)*(x[i]-mx), yy+(y[i]-my)*(y[i]-my)
	}
	if xx < 1e-18 || yy < 1e-18 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}
