package press_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// entities are the numbers of the ranches' entities as the gate of a season has them, in order of ranch, -1 for one that nobody vouched
// for and -2 for one that is not in it.
func (c *coop) entities(t *testing.T, season int) (list []int) {
	t.Helper()
	number := map[string]int{}
	in := c.due(t, season, 1)
	for _, ranch := range c.ranches {
		n := -2
		for _, m := range in.Roster {
			switch {
			case m.ID != string(ranch):
			case m.Unsettled:
				n = -1
			default:
				if _, ok := number[m.Entity]; !ok {
					number[m.Entity] = len(number)
				}
				n = number[m.Entity]
			}
		}
		list = append(list, n)
	}
	return list
}

// TestT42OnePersonOneEntity: owners that share a person, a mailbox, a telephone or a browser are one for the gate, over however many
// steps; so are those that came to share one by the cut-off, and those of whom one browser was forgotten.
func TestT42OnePersonOneEntity(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	device := func(i int, name string) {
		hash := sha256.Sum256([]byte(name))
		c.exec(t, "INSERT INTO tussock.device (coop_id, person_id, device_hash) VALUES ($1, $2, $3)", c.boss.Coop, c.owners[i].Person, hash[:])
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.Assign(c.owners[0].Person, c.ranches[1]) })
	c.Confirm(t)
	c.exec(t, "UPDATE tussock.account SET email = 'ada@example.org' WHERE person_id = $1", c.owners[2].Person)
	c.exec(t, "UPDATE tussock.account SET email = 'ada+two@example.org', phone = '(555) 010-0199' WHERE person_id = $1", c.owners[3].Person)
	c.exec(t, "UPDATE tussock.account SET phone = '+1 555 0100199' WHERE person_id = $1", c.owners[4].Person)
	device(5, "the ranch house")
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	device(6, "the ranch house")
	c.exec(t, "DELETE FROM tussock.device") // whoever has the service forget a browser
	c.Cut(t, c.boss.Coop, 2026)
	if got, want := c.entities(t, 2026), []int{0, 0, 1, 1, 1, 2, 2, 3, 4}; !slices.Equal(got, want) {
		t.Errorf("the nine ranches are of entities %v, want %v", got, want)
	}
	if e := c.editions(t)[0]; e.Owners != 5 || e.Ranches != 9 {
		t.Errorf("coordinators read %+v", e)
	}
}

// TestT42TwoVouch: an owner counts from the opening on after two people have vouched: not two coordinators, not two whom one brought
// in, not somebody of their own, not with one browser for both, not one who came after the last opening, and not later than the opening.
func TestT42TwoVouch(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 10)
	second := c.Member(t, c.boss, access.Coordinator, "Second") // brought in by the first, as the owners were
	var owners []access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		list, err := tx.OwnersToVouch()
		for _, o := range list {
			owners = append(owners, o.ID)
		}
		return err
	})
	vouch := func(a access.Actor, i int) error {
		return c.DB.As(context.Background(), a, func(tx *postgres.Tx) error { return tx.Vouch(owners[i]) })
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	sister := c.Member(t, second, access.Landowner, "Sister") // brought in by the second coordinator
	must(c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error {
		id, err := tx.SaveRanch(postgres.Ranch{Name: "Sister's"})
		return errors.Join(err, tx.Assign(sister.Person, id))
	}))
	c.Confirm(t)
	sister = c.Again(t, sister)
	shared := sha256.Sum256([]byte("the office"))
	for _, a := range []access.Actor{c.boss, c.owners[9]} {
		c.exec(t, "INSERT INTO tussock.device (coop_id, person_id, device_hash) VALUES ($1, $2, $3)", a.Coop, a.Person, shared[:])
	}
	must(errors.Join(vouch(c.boss, 0), vouch(c.owners[3], 0)))      // a coordinator and a landowner: settled
	must(errors.Join(vouch(c.owners[3], 1), vouch(sister, 1)))      // two landowners of two inviters: settled
	must(errors.Join(vouch(c.boss, 2), vouch(second, 2)))           // two coordinators
	must(errors.Join(vouch(c.owners[0], 3), vouch(c.owners[1], 3))) // two whom one brought in
	must(vouch(c.boss, 4))                                          // one
	must(errors.Join(vouch(c.boss, 5), vouch(c.owners[9], 5)))      // who share a browser
	if err := vouch(c.owners[6], 6); err == nil {
		t.Error("an owner vouches for themselves")
	}
	must(vouch(c.boss, 6))
	must(errors.Join(vouch(c.boss, 7), vouch(c.owners[3], 7)))
	must(c.DB.As(context.Background(), c.owners[3], func(tx *postgres.Tx) error { return tx.EndVouch(owners[7]) })) // taken back
	for _, statement := range []string{"ALTER TABLE tussock.vouch DISABLE TRIGGER USER", "UPDATE tussock.vouch SET ended_at = ended_at - interval '31 days' WHERE ended_at IS NOT NULL",
		"ALTER TABLE tussock.vouch ENABLE TRIGGER USER"} { // a month ago
		c.exec(t, statement)
	}
	must(c.DB.As(context.Background(), c.owners[3], func(tx *postgres.Tx) error { return tx.EndVouch(owners[1]) })) // a landowner’s, the day before: it counts on
	must(c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error { return tx.EndVouch(owners[0]) }))      // and a coordinator’s
	if err := vouch(c.Member(t, c.boss, access.Planner, "Planner"), 0); err == nil {
		t.Error("a planner vouches")
	}
	c.Open(t, c.boss.Coop, 2026)
	must(errors.Join(vouch(c.boss, 8), vouch(c.owners[0], 8))) // after the opening
	c.Cut(t, c.boss.Coop, 2026)
	if got, want := c.entities(t, 2026), []int{0, 1, -1, -1, -1, -1, -1, -1, -1, -1}; !slices.Equal(got, want) {
		t.Errorf("the ten ranches are of entities %v, want %v", got, want)
	}
	// From the first opening on, a landowner's word counts who was counted. Who was settled stays so.
	fresh := c.Member(t, second, access.Landowner, "Fresh")
	must(c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error {
		id, err := tx.SaveRanch(postgres.Ranch{Name: "Fresh"})
		return errors.Join(err, tx.Assign(fresh.Person, id))
	}))
	c.Confirm(t)
	for name, a := range map[string]access.Actor{"a name made today": c.Again(t, fresh), "who was not counted": c.owners[5]} {
		if vouch(a, 9) == nil {
			t.Errorf("%s vouches", name)
		}
	}
	must(errors.Join(vouch(c.owners[1], 9), vouch(c.boss, 9)))
	c.Remove(t, c.boss, c.owners[3].Person)
	c.Open(t, c.boss.Coop, 2027)
	c.Cut(t, c.boss.Coop, 2027)
	if got, want := c.entities(t, 2027), []int{0, 1, -1, -2, -1, -1, -1, -1, 2, -1}; !slices.Equal(got, want) {
		t.Errorf("a season later the ten ranches are of entities %v, want %v", got, want)
	}
}

// TestT42NamesArePassedOn: people are vouched for, and not what an owner is called. Where an owner has gone, and a coordinator gives that
// owner's name or ranch to an account of their own, nobody stands behind it; where an owner is only called something else, they do.
func TestT42NamesArePassedOn(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 6)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	c.Cut(t, c.boss.Coop, 2026)
	c.Erase(t, c.ranches[0])
	c.Remove(t, c.boss, c.owners[1].Person)
	c.exec(t, "UPDATE tussock.ranch SET name = 'Sold', entity_id = (SELECT r.entity_id FROM tussock.ranch r WHERE r.id = $1) WHERE id = $2", c.ranches[0], c.ranches[1])
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		for _, r := range []postgres.Ranch{{ID: c.ranches[2], Name: "Ranch 02", Owner: "Another name"}, {Name: "Decoy", Owner: "Ranch 00"}} {
			if _, err := tx.SaveRanch(r); err != nil {
				return err
			}
		}
		return nil
	})
	decoy := c.Member(t, c.boss, access.Landowner, "Decoy", c.ranches[1])
	c.Confirm(t)
	c.As(t, c.Again(t, decoy), func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[1], 1) })
	c.Open(t, c.boss.Coop, 2027)
	c.Cut(t, c.boss.Coop, 2027)
	if got, want := c.entities(t, 2027), []int{-2, -1, 0, 1, 2, 3}; !slices.Equal(got, want) {
		t.Errorf("the ranches are of entities %v, want %v", got, want)
	}
}

// TestT42QuickSeasons: who is vouched for after the first opening is new, and vouches for nobody, until they were counted in a season that
// opened 300 days before: not sooner for seasons that open and end one after the other.
func TestT42QuickSeasons(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 6)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2021)
	c.Cut(t, c.boss.Coop, 2021)
	c.add(t, 6)
	c.Vouch(t, c.boss.Coop)
	fresh := func(season int) (list []int) {
		for i, ranch := range c.ranches {
			for _, m := range c.due(t, season, 1).Roster {
				if m.ID == string(ranch) && m.New {
					list = append(list, i)
				}
			}
		}
		return list
	}
	vouches := func() bool {
		return c.DB.As(context.Background(), c.owners[6], func(tx *postgres.Tx) error { return tx.Vouch(c.owners[0].Person) }) == nil
	}
	for _, year := range []int{2026, 2025} {
		c.Open(t, c.boss.Coop, year)
		c.Cut(t, c.boss.Coop, year)
		if got := fresh(year); !slices.Equal(got, []int{6}) || vouches() {
			t.Errorf("%d: new are %v, want the seventh alone, who vouches for nobody", year, got)
		}
	}
	c.exec(t, "UPDATE tussock.season SET opens_on = opens_on - 400, cut_off_on = cut_off_on - 400, composed_on = composed_on - 400, published_on = published_on - 400 WHERE year = 2026")
	c.Open(t, c.boss.Coop, 2027)
	c.Cut(t, c.boss.Coop, 2027)
	if got := fresh(2027); got != nil || !vouches() {
		t.Errorf("a season later %v are new, or nobody new ever vouches", got)
	}
}

// TestPaperYes: a yes on paper counts where the owner has no account, and is named as such for every member.
func TestPaperYes(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 5)
	var id access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		id, err = tx.SaveRanch(postgres.Ranch{Name: "Paper"})
		return err
	})
	hand := c.Member(t, c.boss, access.Hand, "Hand", id)
	c.ranches, c.owners = append(c.ranches, id), append(c.owners, hand)
	c.send(t, 5, rows(t, 5), "")
	if err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(c.ranches[0], true) }); err == nil {
		t.Error("a yes on paper of an owner who has an account")
	}
	c.Remove(t, c.boss, c.owners[1].Person)
	if err := c.DB.As(context.Background(), c.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(c.ranches[1], true) }); err == nil {
		t.Error("a coordinator takes an owner off a ranch and says yes for them")
	}
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(id, true) })
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	c.Cut(t, c.boss.Coop, 2026)
	if got := c.entities(t, 2026); got[1] != -2 || got[5] != 4 {
		t.Errorf("the ranches are of entities %v", got)
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		list, err := tx.RosterChanges(time.Time{})
		if !slices.ContainsFunc(list, func(x postgres.RosterChange) bool {
			return x.Kind == postgres.PaperYes && x.What == "Paper" && x.By == c.boss.Name
		}) {
			t.Errorf("a landowner reads %+v", list)
		}
		return err
	})
}

// TestT39DecoyCoordinator: a coordinator makes an area, ten ranches under typed names of owners and one account for all, moves a neighbor
// into the area, and sends the decoys' sheets again and again. What they see of it, the day it is composed and ever after, is the print:
// the same whatever they send once the season has been cut; their decoys are in no number of landowners, in no season to come; the move
// counts from the next season; and everybody reads of it all.
func TestT39DecoyCoordinator(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	var decoys []access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		if err := tx.SaveArea("Decoys", ""); err != nil {
			return err
		}
		for i := range 10 {
			id, err := tx.SaveRanch(postgres.Ranch{Name: fmt.Sprint("Decoy ", i), Owner: fmt.Sprint("Typed name ", i), Area: "Decoys"})
			if err != nil {
				return err
			}
			decoys = append(decoys, id)
		}
		list, err := tx.AllRanches()
		for _, r := range list {
			if r.ID == c.ranches[0] {
				r.Area = "Decoys"
				_, err = tx.SaveRanch(r)
			}
		}
		return err
	})
	puppet := c.Member(t, c.boss, access.Landowner, "Puppet", decoys...)
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		list, err := tx.OwnersToVouch()
		for _, o := range list {
			err = errors.Join(err, tx.Vouch(o.ID))
		}
		return err
	})
	if err := c.DB.As(context.Background(), puppet, func(tx *postgres.Tx) error {
		list, err := tx.OwnersToVouch()
		if len(list) > 0 {
			t.Error("the puppet reads whom to vouch for")
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	sent := 0
	resend := func(season int) {
		for _, id := range decoys {
			d := rowsOf(t, sent%3, season)
			sent++
			c.As(t, puppet, func(tx *postgres.Tx) error {
				old, err := tx.Uploads(id)
				if err != nil {
					return err
				}
				replaces := access.ID("")
				if len(old) > 0 {
					replaces = old[0].ID
				}
				_, _, err = tx.Send(postgres.Sending{Ranch: id, File: "decoy", Data: fmt.Append(nil, sent), Rows: d, Replaces: replaces})
				return errors.Join(err, tx.SetConsent(id, 1))
			})
		}
	}
	// All that a coordinator can read that depends on anybody's results.
	reads := func() string {
		var all struct {
			Editions, Print, Cells, Heads any
		}
		c.As(t, c.boss, func(tx *postgres.Tx) error {
			var errs [4]error
			all.Editions, errs[0] = tx.Editions()
			all.Print, errs[1] = tx.Print(2026, 1)
			all.Cells, errs[2] = tx.Cells(0)
			all.Heads, errs[3] = tx.Bulletins()
			return errors.Join(errs[:]...)
		})
		text, err := json.Marshal(all)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	before := reads()
	resend(2026)
	if reads() != before {
		t.Error("before the cut-off a coordinator reads of what was sent")
	}
	c.Cut(t, c.boss.Coop, 2026)
	cut := reads()
	resend(2026)
	c.mend(t, 0)
	if reads() != cut {
		t.Error("after the cut-off a coordinator reads of what was sent")
	}
	presstest.Compose(t, c.Fixture)
	print := reads()
	for range 3 {
		resend(2026)
		presstest.Compose(t, c.Fixture)
	}
	if reads() != print {
		t.Error("the print changes with what is sent")
	}
	if got := c.entities(t, 2026); !slices.Equal(got, []int{0, 1, 2, 3, 4, 5, 6, 7, 8}) {
		t.Errorf("the ranches are of entities %v", got)
	}
	for _, m := range c.due(t, 2026, 1).Roster {
		if m.Area != "North" || slices.Contains(decoys, access.ID(m.ID)) {
			t.Errorf("the season that had opened has %+v", m)
		}
	}
	c.ranches = append(c.ranches, decoys...)
	c.Open(t, c.boss.Coop, 2027)
	c.Cut(t, c.boss.Coop, 2027)
	if got := c.entities(t, 2027); slices.ContainsFunc(got[9:], func(n int) bool { return n >= 0 }) {
		t.Errorf("the season after, decoys count: %v", got)
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		list, err := tx.RosterChanges(time.Time{})
		added, moved := 0, false
		for _, x := range list {
			switch {
			case x.Kind == postgres.RanchAdded && x.By == c.boss.Name:
				added++
			case x.Kind == postgres.RanchMoved && x.What == "Ranch 00" && x.Was == "North" && x.Became == "Decoys" && x.Mine:
				moved = true
			}
		}
		if added != 19 || !moved {
			t.Errorf("a landowner reads of %d ranches added, of the move %v", added, moved)
		}
		return err
	})
	letters, err := c.DB.RosterLetters(context.Background())
	if err != nil || len(letters) != 1 || letters[0].Kind != postgres.RanchMoved || letters[0].Ranch != "Ranch 00" {
		t.Errorf("letters to owners: %+v, %v", letters, err)
	}
}

// TestPaperNo: a coordinator who writes down a no for an owner without an account chooses nobody out of a season by it: not after the
// opening, nor in the 30 days before; and every member reads of it. Without either rule it drops the ranch.
func TestPaperNo(t *testing.T) {
	t.Parallel()
	for name, rule := range map[string][3]string{
		"": {}, "opened": {"tussock.said_yes(uuid, uuid)", "AND NOT (c.paper AND c.level = 0)", ""},
		"opens": {"tussock.opens_with_yes(uuid, uuid)", "AND NOT (c.paper AND c.level = 0 AND c.given_at > now() - interval '30 days')", ""},
	} {
		t.Run("without "+name, func(t *testing.T) {
			t.Parallel()
			c := newCoop(t, 5)
			if name != "" {
				was := c.text(t, "SELECT pg_get_functiondef($1::regprocedure)", rule[0])
				if !strings.Contains(was, rule[1]) {
					t.Fatalf("%s has no %q", rule[0], rule[1])
				}
				c.exec(t, strings.ReplaceAll(was, rule[1], rule[2]))
			}
			var id access.ID
			c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
				if id, err = tx.SaveRanch(postgres.Ranch{Name: "Paper"}); err != nil {
					return err
				}
				return tx.KeepPaper(id, true)
			})
			c.Vouch(t, c.boss.Coop)
			in := func(year int, no func()) bool {
				c.Open(t, c.boss.Coop, year)
				no()
				c.Cut(t, c.boss.Coop, year)
				return c.text(t, "SELECT count(*)::text FROM tussock.snapshot WHERE season = $1 AND ranch_id = $2", year, id) == "1"
			}
			no := func() { c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(id, false) }) }
			if got := in(2024, no); got != (name != "opened") {
				t.Errorf("a no after the opening: in the season %v", got)
			}
			c.As(t, c.owners[0], func(tx *postgres.Tx) error {
				list, err := tx.RosterChanges(time.Time{})
				if len(list) == 0 || list[0].Kind != postgres.PaperNo || list[0].What != "Paper" || list[0].By != c.boss.Name {
					t.Errorf("a landowner reads %+v", list)
				}
				return err
			})
			if got := in(2025, func() {}); got != (name == "") {
				t.Errorf("a no lately before the opening: in the season %v", got)
			}
			c.exec(t, "UPDATE tussock.consent SET given_at = given_at - interval '31 days' WHERE paper")
			if in(2026, func() {}) {
				t.Error("a no of 31 days ago does not count")
			}
			// The owner's own no, once there is one with an account, counts at once.
			c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(id, true) })
			owner := c.Member(t, c.boss, access.Landowner, "Owner of Paper", id)
			if in(2027, func() { c.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(id, 0) }) }) {
				t.Error("an owner’s own no does not count")
			}
		})
	}
}
