package postgres_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// empty is a ranch on the roster, with nobody on it.
func (s *stage) empty(t testing.TB, name, owner string) (id access.ID) {
	t.Helper()
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		id, err = tx.SaveRanch(postgres.Ranch{Name: name, Owner: owner})
		return err
	})
	return id
}

// opens tells whether somebody can open a ranch.
func (s *stage) opens(t testing.TB, a access.Actor, ranch access.ID) bool {
	t.Helper()
	return s.DB.As(context.Background(), a, func(tx *postgres.Tx) error { _, err := tx.Ranch(ranch); return err }) == nil
}

// TestPlacedBeforeTheOwner: whoever a coordinator put onto a ranch before its owner came reads nothing of what the owner sends, says no
// yes for them, and lets nobody in.
func TestPlacedBeforeTheOwner(t *testing.T) {
	for _, role := range []access.Role{access.Landowner, access.Hand} {
		t.Run(string(role), func(t *testing.T) {
			s := newStage(t)
			ranch := s.empty(t, "Fresh", "June Aldous")
			decoy := s.joinsUnconfirmed(t, role, "Decoy Person", ranch)
			if role == access.Landowner && s.DB.As(context.Background(), decoy, func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) }) == nil {
				t.Error("a decoy says the owner's yes")
			}
			june := s.joinsUnconfirmed(t, access.Landowner, "June Aldous", ranch)
			if !s.opens(t, june, ranch) {
				t.Fatal("the landowner of the record waits for somebody's yes")
			}
			s.fill(t, june, ranch)
			decoy = s.Again(t, decoy)
			if s.opens(t, decoy, ranch) {
				t.Error("the decoy opens the ranch")
			}
			s.raw(t, decoy.Session, func(tx pgx.Tx) {
				if n := count(t, tx, "(SELECT 1 FROM tussock.nest WHERE ranch_id = '"+string(ranch)+"') x"); n != 0 {
					t.Errorf("the decoy reads %v nests", n)
				}
			})
			s.As(t, june, func(tx *postgres.Tx) error {
				list, err := tx.Newcomers()
				if len(list) != 1 || list[0].Name != "Decoy Person" {
					t.Errorf("the owner is asked about %+v", list)
				}
				return errors.Join(err, tx.TurnAway(decoy.Person, ranch))
			})
		})
	}
}

// TestRecordMended: the first owner whom the record does not name waits, until the record does.
func TestRecordMended(t *testing.T) {
	s := newStage(t)
	ranch := s.empty(t, "Fresh", "")
	june := s.joinsUnconfirmed(t, access.Landowner, "June Aldous", ranch)
	if s.opens(t, june, ranch) {
		t.Fatal("somebody whom the record does not name is the owner")
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		_, err := tx.SaveRanch(postgres.Ranch{ID: ranch, Name: "Fresh", Owner: "Aldous family"})
		return err
	})
	if !s.opens(t, s.Again(t, june), ranch) {
		t.Error("the record names the owner, who still waits")
	}
}

// TestSecondOwnerReadsWhoIsThere: who comes onto a ranch that has an owner by that owner's yes reads who is there, with addresses, before
// they send anything; their no ends it.
func TestSecondOwnerReadsWhoIsThere(t *testing.T) {
	s := newStage(t)
	ranch := s.empty(t, "Fresh", "June Aldous")
	decoy := s.joinsUnconfirmed(t, access.Landowner, "June Aldous", ranch) // the coordinator's, named like the owner
	june := s.joinsUnconfirmed(t, access.Landowner, "June Aldous", ranch)
	s.As(t, decoy, func(tx *postgres.Tx) error { return tx.LetOnto(june.Person, ranch) })
	if s.opens(t, s.Again(t, june), ranch) {
		t.Fatal("the owner is in beside somebody whom they have not heard of")
	}
	s.As(t, june, func(tx *postgres.Tx) error {
		list, err := tx.Gates()
		if len(list) != 1 || len(list[0].People) != 1 || list[0].People[0].Email != s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", decoy.Person) || list[0].People[0].Inviter != s.boss.Name {
			t.Errorf("the owner reads %+v", list)
		}
		return errors.Join(err, tx.ComeOnto(ranch, false))
	})
	if err := s.DB.As(context.Background(), june, func(tx *postgres.Tx) error { return tx.ComeOnto(ranch, true) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("a yes after a no: %v", err)
	}
}

// TestOneNoEndsAllNotices: an owner's no ends what every coordinator asked about them and the ranch, and none asks again for 90 days; who
// takes back what they asked themselves said no no, and another owner of the ranch still asks.
func TestOneNoEndsAllNotices(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Coordinator, "Second Coordinator")
	ask := func(who access.Actor) (id access.ID, err error) {
		err = s.DB.As(context.Background(), who, func(tx *postgres.Tx) (err error) { id, err = tx.TakeOff(s.a.Person, s.ranchA); return err })
		return id, err
	}
	one, err := ask(s.boss)
	if err != nil {
		t.Fatal(err)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.CallOff(one) })
	if one, err = ask(s.boss); err != nil {
		t.Fatalf("asked again after it was taken back: %v", err)
	}
	if _, err := ask(second); err != nil {
		t.Fatal(err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		err := tx.CallOff(one)
		list, err2 := tx.Departures()
		if len(list) != 0 {
			t.Errorf("after one no there are left: %+v", list)
		}
		return errors.Join(err, err2)
	})
	for _, who := range []access.Actor{s.boss, second} {
		if _, err := ask(who); !errors.Is(err, errs.Conflict) {
			t.Errorf("asked again after a no: %v", err)
		}
	}
	s.seed(t, "UPDATE tussock.departure SET called_off_at = called_off_at - interval '90 days'")
	if _, err := ask(second); err != nil {
		t.Errorf("asked 90 days after: %v", err)
	}
}

// TestNobodyEndsAnOwnerAlone: a coordinator's asking takes fourteen days, is read by all, and ends with the owner's no; until it is done
// nothing changes, and after it the owner's yes stands for the season that has opened.
func TestNobodyEndsAnOwnerAlone(t *testing.T) {
	ctx := context.Background()
	s := newStage(t)
	for what, end := range map[string]func(*postgres.Tx) error{
		"ends the access": func(tx *postgres.Tx) error { return tx.Unassign(s.a.Person, s.ranchA) },
		"removes":         func(tx *postgres.Tx) error { return tx.RemoveMember(s.a.Person) },
	} {
		if err := s.DB.As(ctx, s.boss, end); err == nil {
			t.Errorf("a coordinator %s an owner", what)
		}
	}
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		if n := try(t, tx, "UPDATE tussock.assignment SET until = now() WHERE kind = 'owner' AND confirmed_at IS NOT NULL"); n != 0 {
			t.Errorf("a statement ends owners: %v", n)
		}
	})
	ask := func() (id access.ID) {
		t.Helper()
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) { id, err = tx.TakeOff(s.a.Person, s.ranchA); return err })
		return id
	}
	log := func(kind string) (n int) {
		s.As(t, s.b, func(tx *postgres.Tx) error {
			list, err := tx.RosterChanges(time.Time{})
			for _, x := range list {
				if x.Kind == kind && x.What == "Dry Fork" && x.Was == s.a.Name {
					n++
				}
			}
			return err
		})
		return n
	}
	id := ask()
	if log(postgres.OwnerAsked) != 1 {
		t.Error("members read nothing of it")
	}
	if done := s.later(t, 13*24*time.Hour); len(done) != 0 || !s.opens(t, s.a, s.ranchA) {
		t.Errorf("done before its day: %+v", done)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		list, err := tx.Departures()
		if len(list) != 1 || list[0].Kind != postgres.TakeOffKind || list[0].WhomName != s.a.Name {
			t.Errorf("the owner reads %+v", list)
		}
		return errors.Join(err, tx.CallOff(id))
	})
	if done := s.later(t, 15*24*time.Hour); len(done) != 0 || !s.opens(t, s.a, s.ranchA) || log(postgres.OwnerStays) != 1 {
		t.Errorf("done after the owner's no: %+v", done)
	}

	s.seed(t, "UPDATE tussock.departure SET called_off_at = called_off_at - interval '90 days'")
	id = ask()
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
	s.seed(t, "UPDATE tussock.departure SET due_at = now() + interval '1 day'")
	if done := s.later(t, 13*24*time.Hour); len(done) != 0 {
		t.Errorf("somebody who is kept out is taken off: %+v", done)
	}
	if err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { _, err := tx.TakeOff(s.a.Person, s.ranchA); return err }); !errors.Is(err, errs.NotFound) {
		t.Errorf("asked while the owner is kept out: %v", err)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.a.Person) })
	s.a = s.SignIn(t, postgres.Credentials{Coop: s.a.Coop, Person: s.a.Person})

	ask()
	if done := s.later(t, 15*24*time.Hour); len(done) != 1 || done[0].Failure != "" || s.opens(t, s.Again(t, s.a), s.ranchA) || log(postgres.OwnerOff) != 1 {
		t.Errorf("after fourteen days: %+v", done)
	}
	if got := s.text(t, "SELECT tussock.says_yes($1, $2)::text || tussock.said_yes($1, $2)::text", s.boss.Coop, s.ranchA); got != "falsetrue" {
		t.Errorf("yes today, yes in the season that has opened: %s", got)
	}
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT count(*)::text FROM tussock.snapshot WHERE ranch_id = $1 AND season = 2027", s.ranchA); got != "1" {
		t.Error("a coordinator dropped a ranch out of a season that had opened")
	}
}

// TestOwnersEndOneAnother: an owner takes another off after fourteen days; where each would take the other off, two landowners of other
// ranches say which of them owns it.
func TestOwnersEndOneAnother(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
	ranchC, c := s.Ranch(t, s.boss, postgres.Ranch{Name: "Salt Creek"})
	s.fill(t, c, ranchC)
	s.Vouch(t, s.boss.Coop)
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	s.seed(t, "UPDATE tussock.assignment SET since = since - interval '60 days' WHERE ranch_id = $1", s.ranchA)
	var first access.ID
	s.As(t, second, func(tx *postgres.Tx) (err error) { first, err = tx.TakeOff(s.a.Person, s.ranchA); return err })
	if err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error { return tx.CallOff(first) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("an owner calls off what another asked: %v", err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { _, err := tx.TakeOff(second.Person, s.ranchA); return err })
	if done := s.later(t, 15*24*time.Hour); len(done) != 0 {
		t.Fatalf("done while they disagree: %+v", done)
	}
	for i, who := range []access.Actor{s.b, c} {
		s.As(t, who, func(tx *postgres.Tx) error {
			in, err := tx.GiveWord(s.a.Person, s.ranchA, true)
			if in != (i == 1) {
				t.Errorf("word %d: %v", i, in)
			}
			return err
		})
	}
	if done := s.later(t, 15*24*time.Hour); len(done) != 1 || !s.opens(t, s.Again(t, s.a), s.ranchA) || s.opens(t, s.Again(t, second), s.ranchA) {
		t.Errorf("two landowners said who owns it: %+v", done)
	}
}

// TestPlacedMembersSayYes: a ranch on which a coordinator puts a member is theirs once they have said yes, also where the record names them.
func TestPlacedMembersSayYes(t *testing.T) {
	s := newStage(t)
	for _, who := range []access.Actor{s.a, s.hand} {
		name := "Aldous"
		decoy := s.empty(t, "Dry  Fork of "+string(who.Role), name)
		s.seed(t, "UPDATE tussock.person SET name = 'June Aldous' WHERE id = $1", who.Person)
		place := func() {
			s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(who.Person, decoy) })
		}
		place()
		if s.opens(t, s.Again(t, who), decoy) {
			t.Fatalf("a %s opens a decoy without having said yes", who.Role)
		}
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := tx.Gates()
			if len(list) != 1 || list[0].Ranch != decoy || len(list[0].People) != 0 || list[0].By != s.boss.Name {
				t.Errorf("a %s reads %+v", who.Role, list)
			}
			return errors.Join(err, tx.ComeOnto(decoy, false))
		})
		place()
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: decoy, Name: "Dry  Fork of " + string(who.Role), Owner: "J. Aldous"})
			return err
		})
		if s.opens(t, s.Again(t, who), decoy) {
			t.Errorf("mending the record said the yes of a %s", who.Role)
		}
		s.As(t, who, func(tx *postgres.Tx) error { return tx.ComeOnto(decoy, true) })
		if !s.opens(t, s.Again(t, who), decoy) {
			t.Errorf("a %s said yes and is not in", who.Role)
		}
		s.seed(t, "UPDATE tussock.assignment SET until = now() WHERE ranch_id = $1", decoy)
	}
}

// TestLetInIsSeen: between an owner's yes to a further owner and that one's own, every owner reads of it and can say no; what the
// further owner then does is a line in the log, with their name.
func TestLetInIsSeen(t *testing.T) {
	s := newStage(t)
	aldous := s.joinsUnconfirmed(t, access.Landowner, "Aldous", s.ranchA)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		err := tx.LetOnto(aldous.Person, s.ranchA)
		list, err2 := tx.LetInto()
		if len(list) != 1 || list[0].Name != "Aldous" || list[0].By != s.a.Name {
			t.Errorf("the owner reads %+v", list)
		}
		return errors.Join(err, err2, tx.TurnAway(aldous.Person, s.ranchA))
	})
	if err := s.DB.As(context.Background(), aldous, func(tx *postgres.Tx) error { return tx.ComeOnto(s.ranchA, true) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("after the yes was taken back: %v", err)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(aldous.Person, s.ranchA) })
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.LetOnto(aldous.Person, s.ranchA) })
	s.As(t, aldous, func(tx *postgres.Tx) error { return tx.ComeOnto(s.ranchA, true) })
	aldous = s.Again(t, aldous)
	s.As(t, aldous, func(tx *postgres.Tx) error {
		_, err := tx.Share(postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "a study", Through: time.Now().AddDate(0, 1, 0)})
		return errors.Join(err, tx.StopSending(s.ranchA), tx.LetSend(s.ranchA))
	})
	s.As(t, s.a, func(tx *postgres.Tx) error {
		notes, err := tx.Notes()
		for _, want := range []string{postgres.CameOnto, postgres.GaveShare, postgres.GaveSending, postgres.EndedSending} {
			if !slices.ContainsFunc(notes, func(n postgres.Note) bool { return n.What == want && n.Name == "Aldous" }) {
				t.Errorf("no line of %q in %+v", want, notes)
			}
		}
		changes, err2 := tx.RosterChanges(time.Time{})
		if !slices.ContainsFunc(changes, func(x postgres.RosterChange) bool {
			return x.Kind == postgres.OwnerCame && x.Was == "Aldous" && x.By == s.a.Name && x.Mine
		}) {
			t.Errorf("the coming is no line of the changes: %+v", changes)
		}
		given, err3 := tx.Sharings(s.ranchA)
		sends, err4 := tx.SendingConsents()
		if len(given) == 0 || given[0].By != "Aldous" || len(sends) != 1 || sends[0].By != "Aldous" {
			t.Errorf("given by nobody: %+v %+v", given, sends)
		}
		return errors.Join(err, err2, err3, err4)
	})
}

// TestDayOfAnOffer: whom a ranch is handed over to reads the day on which it can happen, as who hands it over does, also while an owner is
// suspended; and that it waits where nobody knows for how long.
func TestDayOfAnOffer(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchA, Heir: s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", s.b.Person)})
		return err
	})
	offer := func() (o postgres.Offer) {
		t.Helper()
		if err := s.DB.As(ctx, s.b, func(tx *postgres.Tx) error {
			list, err := tx.Offers()
			if len(list) != 1 {
				t.Fatalf("offers: %+v", list)
			}
			o = list[0]
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return o
	}
	near := func(day time.Time, days int) bool { return day.Sub(time.Now().AddDate(0, 0, days)).Abs() < time.Hour }
	if o := offer(); o.Held || !near(o.DueAt, 14) {
		t.Errorf("at first: %+v", o)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
	if o := offer(); o.Held || !near(o.DueAt, 28) {
		t.Errorf("while the owner is suspended: %+v", o)
	}
	s.As(t, second, func(tx *postgres.Tx) error { return tx.KeepSuspended(s.a.Person) })
	if o := offer(); !o.Held {
		t.Errorf("while the owner is suspended until further notice: %+v", o)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.a.Person) })
	if o := offer(); o.Held || !near(o.DueAt, 14) {
		t.Errorf("after: %+v", o)
	}
}

// TestCoOwnerOfASuspendedOwner: what another owner asks for a ranch waits while an owner is suspended, for fourteen days more, and says so.
func TestCoOwnerOfASuspendedOwner(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Landowner, "Second", s.ranchA)
	s.Confirm(t)
	second = s.Again(t, second)
	s.As(t, second, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		return err
	})
	s.seed(t, "UPDATE tussock.departure SET due_at = now() + interval '1 day'")
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
	s.As(t, second, func(tx *postgres.Tx) error {
		list, err := tx.Departures()
		if len(list) != 1 || list[0].Held || list[0].DueAt.Before(time.Now().AddDate(0, 0, 27)) {
			t.Errorf("shown: %+v", list)
		}
		return err
	})
	if done := s.later(t, 2*24*time.Hour); len(done) != 0 {
		t.Errorf("carried out on its day, while she is suspended: %+v", done)
	}
	if done := s.later(t, 15*24*time.Hour); len(done) != 0 {
		t.Errorf("carried out on her way in: %+v", done)
	}
	if done := s.later(t, 27*24*time.Hour); len(done) != 0 {
		t.Errorf("carried out within the fourteen days after: %+v", done)
	}
	if done := s.later(t, 30*24*time.Hour); len(done) != 1 {
		t.Errorf("never carried out: %+v", done)
	}
}
