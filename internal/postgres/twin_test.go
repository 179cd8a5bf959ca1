package postgres_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

// town is a cooperative of four landowners who were counted in the season of 2026, all brought in by its only coordinator.
type town struct {
	*pgtest.Fixture
	boss    access.Actor
	names   []string
	ranches []access.ID
	owners  []access.Actor
}

func newTown(t *testing.T) *town {
	t.Helper()
	s := &town{Fixture: pgtest.New(t), names: []string{"Ilse Varrow", "Jo Marlow", "Ada Quill", "Ben Orrin"}}
	s.boss = s.Cooperative(t, "Bluestem")
	for _, name := range s.names {
		ranch := s.add(t, "Ranch of "+name, name)
		owner := s.Member(t, s.boss, access.Landowner, name, ranch)
		s.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		s.ranches, s.owners = append(s.ranches, ranch), append(s.owners, owner)
	}
	s.Vouch(t, s.boss.Coop)
	s.Open(t, s.boss.Coop, 2026)
	s.Cut(t, s.boss.Coop, 2026)
	return s
}

func (s *town) add(t testing.TB, ranch, owner string) (id access.ID) {
	t.Helper()
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		id, err = tx.SaveRanch(postgres.Ranch{Name: ranch, Owner: owner})
		return err
	})
	return id
}

// joins comes in by an invitation, and is confirmed by nobody.
func (s *town) joins(t testing.TB, name string, ranches ...access.ID) access.Actor {
	t.Helper()
	ctx := context.Background()
	var token string
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, name, "", ranches)
		return err
	})
	c, err := s.DB.AcceptInvitation(ctx, token, postgres.Acceptance{Name: name, Email: postgres.NewToken()[:12] + "@example.org", Hash: "x"})
	if err != nil {
		t.Fatal(err)
	}
	return s.SignIn(t, c)
}

func (s *town) text(t testing.TB, query string, args ...any) string {
	t.Helper()
	got, err := s.Owner.Text(context.Background(), query, args...)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func (s *town) asks(t testing.TB, who access.Actor) (list []string) {
	t.Helper()
	s.As(t, who, func(tx *postgres.Tx) error {
		asks, err := tx.NameAsks()
		for _, x := range asks {
			list = append(list, x.RanchName+" of "+x.Owner+" for "+x.Who)
		}
		return err
	})
	return list
}

// TestTwinCountsForNothing: a coordinator puts a ranch under the name of an owner who is a member, and brings somebody in by that name.
// The twin waits for the owner's yes, counts for nothing, and vouches for nobody; the owner reads of it, and ends it.
func TestTwinCountsForNothing(t *testing.T) {
	ctx := context.Background()
	s := newTown(t)
	ilse := s.owners[0]
	shadow := s.add(t, "Shadow Six", "Ilsé Varrow") // with an accent
	twin := s.joins(t, "Ilse Varrow", shadow)
	if len(twin.Ranches) != 0 {
		t.Error("the twin is on the ranch at once")
	}
	if got, want := s.asks(t, ilse), []string{"Shadow Six of Ilsé Varrow for Ilse Varrow"}; !slices.Equal(got, want) {
		t.Errorf("the owner reads %q, want %q", got, want)
	}
	for _, who := range []access.Actor{s.owners[1], twin, s.boss} {
		if got := s.asks(t, who); got != nil {
			t.Errorf("%s is asked about %q", who.Name, got)
		}
		if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return tx.AnswerName(shadow, true) }); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s answers: %v", who.Name, err)
		}
	}
	mine := func(who access.Actor) (list []string) {
		s.As(t, who, func(tx *postgres.Tx) error {
			changes, err := tx.RosterChanges(time.Time{})
			for _, x := range changes {
				if x.Mine && x.What == "Shadow Six" {
					list = append(list, x.Kind+": "+x.Was+" > "+x.Became+", by "+x.By)
				}
			}
			return err
		})
		return list
	}
	if got, want := mine(ilse), []string{"placed: Ilse Varrow > owner waits, by " + s.boss.Name, "ranch:  > Ilsé Varrow, by " + s.boss.Name}; !slices.Equal(got, want) {
		t.Errorf("about her are %q, want %q", got, want)
	}
	if got := mine(s.owners[1]); got != nil {
		t.Errorf("about another owner are %q", got)
	}

	// Let in by whatever way, the twin is worth nothing: as twin, as voucher, or as the second beside the coordinator.
	s.Confirm(t)
	twin = s.Again(t, twin)
	s.As(t, twin, func(tx *postgres.Tx) error { return tx.SetConsent(shadow, 1) })
	decoy := s.add(t, "Decoy Nine", "Dee Nine")
	dee := s.joins(t, "Dee Nine", decoy)
	s.As(t, dee, func(tx *postgres.Tx) error { return tx.SetConsent(decoy, 1) })
	for _, id := range []access.ID{dee.Person, twin.Person} {
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Vouch(id) })
	}
	if err := s.DB.As(ctx, twin, func(tx *postgres.Tx) error { return tx.Vouch(dee.Person) }); err == nil {
		t.Error("the twin vouches")
	}
	s.Open(t, s.boss.Coop, 2027)
	settled := func(season int, ranch access.ID) string {
		return s.text(t, "SELECT settled::text FROM tussock.season_ranch WHERE season = $1 AND ranch_id = $2", season, ranch)
	}
	if settled(2027, shadow) != "false" || settled(2027, decoy) != "false" || settled(2027, s.ranches[0]) != "true" {
		t.Errorf("settled: twin %s, decoy %s, owner %s", settled(2027, shadow), settled(2027, decoy), settled(2027, s.ranches[0]))
	}
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT owners::text FROM tussock.edition WHERE season = 2027 AND edition = 1"); got != "4" {
		t.Errorf("%s owners count, want the four", got)
	}
	if got := s.text(t, "SELECT count(*)::text FROM tussock.season_ranch a JOIN tussock.season_ranch b ON b.counts_as = a.counts_as WHERE a.season = 2027 AND b.season = 2027 AND a.ranch_id = $1", s.ranches[0]); got != "1" {
		t.Error("the twin's ranch is put in the owner's place")
	}

	// Vouched for by two as anybody else, the twin adds nobody to the count: the record's name is one landowner.
	s.As(t, s.owners[1], func(tx *postgres.Tx) error { return tx.Vouch(twin.Person) })
	s.Open(t, s.boss.Coop, 2028)
	s.Cut(t, s.boss.Coop, 2028)
	if got := s.text(t, "SELECT owners::text FROM tussock.edition WHERE season = 2028 AND edition = 1"); settled(2028, shadow) != "true" || got != "4" {
		t.Errorf("the twin is settled %s; %s owners count", settled(2028, shadow), got)
	}

	// The lines tell them apart.
	s.As(t, s.owners[2], func(tx *postgres.Tx) error {
		changes, err := tx.RosterChanges(time.Time{})
		named := map[bool]bool{}
		for _, x := range changes {
			if x.Kind == postgres.Vouched && x.What == "Ilse Varrow" {
				named[x.WhatAgain == postgres.Again{Again: true, Inviter: s.boss.Name}] = true
			}
		}
		if !named[true] || !named[false] {
			t.Errorf("lines name %v", named)
		}
		list, err2 := tx.OwnersToVouch()
		if !slices.ContainsFunc(list, func(o postgres.LandOwner) bool {
			return o.ID == twin.Person && o.Again.Again && o.Again.Inviter == s.boss.Name
		}) {
			t.Errorf("owners to vouch for: %+v", list)
		}
		return errors.Join(err, err2)
	})

	// Her no takes her name off the ranch, for good.
	s.As(t, ilse, func(tx *postgres.Tx) error { return tx.AnswerName(shadow, false) })
	if got := s.text(t, "SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.id = r.entity_id WHERE r.id = $1", shadow); got != "Shadow Six" || s.asks(t, ilse) != nil {
		t.Errorf("after her no it stands under %q, and she is asked %q", got, s.asks(t, ilse))
	}
	err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error {
		_, err := tx.SaveRanch(postgres.Ranch{ID: shadow, Name: "Shadow Six", Owner: "ILSE VARROW"})
		return err
	})
	if !errors.Is(err, errs.Conflict) {
		t.Errorf("put under her name again: %v", err)
	}
}

// TestNoEndsTheWaiting: by a no nobody comes onto the ranch who waited, nor by an invitation that is open; by a yes they do.
func TestNoEndsTheWaiting(t *testing.T) {
	for _, yes := range []bool{true, false} {
		s := newTown(t)
		second := s.add(t, "Second place", "Ilse Varrow")
		son := s.joins(t, "Lute Varrow", second)
		var token string
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			token, err = tx.Invite(access.Landowner, "Ilse Varrow", "", []access.ID{second})
			return err
		})
		s.As(t, s.owners[0], func(tx *postgres.Tx) error { return tx.AnswerName(second, yes) })
		if got := len(s.Again(t, son).Ranches) == 1; got != yes {
			t.Errorf("after %v the son is on it: %v", yes, got)
		}
		_, err := s.DB.AcceptInvitation(context.Background(), token, postgres.Acceptance{Name: "Ilse Varrow", Email: "w@example.org", Hash: "x"})
		if (err == nil) != yes {
			t.Errorf("after %v an open invitation: %v", yes, err)
		}
	}
}

// TestRetypedUnderAName: a ranch whose record is typed over asks the owner of that name; its own owner keeps access, yes and the words for
// them; and its own record, typed away and back, never makes a twin the bearer of the name.
func TestRetypedUnderAName(t *testing.T) {
	s := newTown(t)
	retype := func(i int, owner string) {
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: s.ranches[i], Name: "Ranch of " + s.names[i], Owner: owner})
			return err
		})
	}
	retype(1, "Ilse Varrow")
	if got := s.asks(t, s.owners[0]); len(got) != 1 {
		t.Errorf("the owner of the name is asked %q", got)
	}
	retype(2, "Zed Nobody")
	if got := s.Again(t, s.owners[2]); len(got.Ranches) != 1 {
		t.Error("the owner of a ranch that was typed over lost it")
	}
	s.Open(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT string_agg(settled::text || yes::text || fresh::text, ' ') FROM tussock.season_ranch WHERE season = 2027"); got != "truetruefalse truetruefalse truetruefalse truetruefalse" {
		t.Errorf("the four stand as %q", got)
	}
	shadow := s.add(t, "Shadow Six", "Ben Orrin")
	twin := s.joins(t, "Ben Orrin", shadow)
	s.Confirm(t)
	retype(3, "Somebody")
	retype(3, "Ben Orrin")
	if got := s.asks(t, s.Again(t, twin)); got != nil {
		t.Errorf("the twin is asked about %q", got)
	}
}

// TestHersNeverMakeTwo: of whom a coordinator brings in after the first season, nobody makes two with her, however long they have counted.
func TestHersNeverMakeTwo(t *testing.T) {
	s := newTown(t)
	one, two := s.add(t, "One", "Una Nye"), s.add(t, "Two", "Dora Nye")
	una, dora := s.joins(t, "Una Nye", one), s.joins(t, "Dora Nye", two)
	s.As(t, una, func(tx *postgres.Tx) error { return tx.SetConsent(one, 1) })
	s.As(t, s.boss, func(tx *postgres.Tx) error { return errors.Join(tx.Vouch(una.Person), tx.Vouch(dora.Person)) })
	s.As(t, s.owners[0], func(tx *postgres.Tx) error { return tx.Vouch(una.Person) })
	s.Open(t, s.boss.Coop, 2027)
	if _, err := s.Owner.Exec(context.Background(), "UPDATE tussock.season_ranch SET fresh = false WHERE ranch_id = $1", one); err != nil {
		t.Fatal(err)
	}
	s.As(t, una, func(tx *postgres.Tx) error { return tx.Vouch(dora.Person) }) // counted, so she may
	if got := s.text(t, "SELECT tussock.vouched_for($1, $2)::text || tussock.vouched_for($1, $3)::text", s.boss.Coop, una.Person, dora.Person); got != "truefalse" {
		t.Errorf("vouched for: %s", got)
	}
	s.As(t, s.owners[1], func(tx *postgres.Tx) error { return tx.Vouch(dora.Person) })
	if got := s.text(t, "SELECT tussock.vouched_for($1, $2)::text", s.boss.Coop, dora.Person); got != "true" {
		t.Error("a landowner of the first season beside the coordinator does not settle it")
	}
}

// TestAlike: names that look alike are alike, and others are not.
func TestAlike(t *testing.T) {
	s := pgtest.New(t)
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"Ilse Varrow", "I. Varrow", true},
		{"Ilse Varrow", "Varrow, I.", true},
		{"Ilse Varrow", "I. M. Varrow", true},
		{"Ilse Varrow", "Mrs. I Varow", true},
		{"Ilse Marie Varrow", "I. Marie Varrow", true},
		{"Ilse Marie Varrow", "M. Varrow Ilse", true},
		{"Ilse M. Varrow", "I. Marie Varrow", true},
		{"Sam Trevick", "S. Trevick", true},
		{"Ida Poe", "I. Poe", true},
		{"Ilse Irwin", "I. Irwin", true},
		{"Ilse Varrow", "llse  VARROW", true},
		{"Ilse Varrow", "Íłşê Våṛŕøẅ", true},
		{"Ilse Varrow", "Il$e V@rr0w", true},
		{"Ilse Varrow", "|l5e Varrow!", true},
		{"Ilse Varrow", "A. Varrow", false},
		{"Ilse Varrow", "I. V.", false},
		{"I. Varrow", "Ilse V.", false},
		{"Ada Marsh", "B. Marsh", false},
		{"Landowner11", "Landowner12", false},
		{"Bar 4", "Bar 5", false},
		{"Ilse Varrow", "Ilse\u200b Várrow.", true},
		{"Ilse Varrow", "I1se Varr0w", true},
		{"Ilse Varrow", "Ｉｌｓｅ Varrow", true},
		{"Ilse Varrow", "Varrow, Ilse", true},
		{"Ilse Varrow", "Varrow Ilse", true},
		{"Ilse Varrow", "Ilse M. Varrow", true},
		{"Ilse Varrow", "Mrs Ilse Varrow", true},
		{"Ilse Varrow", "Doña Ilse Varrow, Sr.", true},
		{"Ilse Varrow", "IlseVarrow", true},
		{"Ilse Varrow", "VarrowIlse", true},
		{"Ilse Varrow", "Ilse Varrovv", true},
		{"Ilse Varrow", "Ilse Varow", true},
		{"Ilse Varrow", "Ilse Varrows", true},
		{"Ilse Varrow", "Ilse Farrow", true},
		{"Ilse Varrow", "Varow, Dr. Ilse", true},
		{"Pat O’Brien", "Pat OBrien", true},
		{"Barnes", "Bames", true},
		{"Bastian Uvedale", "Lic. Bastian Uvedale", true},
		{"Hale Windrow", "Hale Windrow, DVM", true},
		{"Hale Windrow", "Hale Windrow 2nd", true},
		{"Una Pell", "Tía Una Pell", true},
		{"Una Pell", "Pell, La Tía Una", true},
		{"Nell Harkstead", "Nell Harksteacl", true},
		{"Bastian Uvedale", "B a s t i a n  U v e d a l e", true},
		{"Bastian Uvedale", "U v e d a l e  B a s t i a n", true},
		{"Windrow & Pell", "Windrow and Pell", true},
		{"Windrow & Pell", "WindrowandPell", true},
		{"Kaspar Illingworth Stroud", "Kaspar Illingworth", true},
		{"Kaspar Illingworth Stroud", "Illingworth, K.", true},
		{"Kaspar Illingworth Stroud", "K Ilingworth", true},
		{"Kaspar Illingworth Stroud", "Kaspar Pell Stroud", false},
		{"Ilse K. Varrow", "Ilse M. Varrow", true},
		{"Hale Windrow", "Hale Pell", false},
		{"Ilse Varrow", "Elsa Farrow", false},
		{"Ilse Varrow", "Ilse", false},
		{"Don Marsh", "Ada Marsh", false},
		{"East Fork", "West Fork", false},
		{"Owner 1", "Owner 2", false},
		{"Landowner 11", "Landowner 12", false},
		{"Decoy A", "Decoy B", false},
		{"Anna", "Hanna", false}, // short
		{"…", "!!", false},
		{"Mr", "Mrs", false},
	} {
		for _, pair := range [][2]string{{c.a, c.b}, {c.b, c.a}} {
			got, err := s.Owner.Text(context.Background(), "SELECT tussock.alike(tussock.fold($1), tussock.fold($2))::text", pair[0], pair[1])
			if err != nil {
				t.Fatal(err)
			}
			if (got == "true") != c.same {
				t.Errorf("%q and %q are alike: %s", pair[0], pair[1], got)
			}
		}
	}
}

// TestLettersAreOneTable: a letter that a name may have counts in the database as it does where texts are held against names.
func TestLettersAreOneTable(t *testing.T) {
	s := &town{Fixture: pgtest.New(t)}
	var typed, plain []string
	for r := '\u0080'; r < '\U00030000'; r++ {
		name, err := names.Name("xy" + string(r) + "zab")
		if err != nil || !unicode.IsLetter(r) {
			continue
		}
		as := names.Plain(name)
		if strings.ContainsFunc(as, func(r rune) bool { return r > 'z' && r != '’' }) || !names.Gives(name+" place", "Xy"+names.Plain(string(r))+"zab") {
			t.Errorf("%q counts as %q in texts", name, as)
		}
		typed, plain = append(typed, name), append(plain, as)
	}
	if len(typed) < 500 {
		t.Errorf("%d letters alone may stand in a name", len(typed))
	}
	if got := s.text(t, "SELECT coalesce(string_agg(a || ' ' || b, ', '), '') FROM unnest($1::text[], $2::text[]) x (a, b) WHERE tussock.fold(a) <> tussock.fold(b)", typed, plain); got != "" {
		t.Errorf("the database takes for others: %s", got)
	}
}

// about are the kinds of change about a ranch that somebody reads as theirs.
func (s *town) about(t testing.TB, who access.Actor, ranch string) (kinds []string) {
	t.Helper()
	s.As(t, who, func(tx *postgres.Tx) error {
		changes, err := tx.RosterChanges(time.Time{})
		for _, x := range changes {
			if x.Mine && x.What == ranch {
				kinds = append(kinds, x.Kind)
			}
		}
		return err
	})
	return kinds
}

// TestNobodyVouchesForTheBearer: an owner whom nobody vouches for is asked about a ranch under their name as anybody else. Until they have
// answered, no yes on paper is written down for it; after it they read that line too.
func TestNobodyVouchesForTheBearer(t *testing.T) {
	s := newTown(t)
	nan := s.joins(t, "Nan Hollis", s.add(t, "Own place", "Nan Hollis"))
	if len(nan.Ranches) != 1 {
		t.Fatal("she is not on her own ranch")
	}
	paper := func(ranch access.ID) error {
		return s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(ranch, true) })
	}
	shadow, other := s.add(t, "Shadow Six", "Nan Hollis"), s.add(t, "Other Six", "Nan Hóllis")
	for _, ranch := range []access.ID{shadow, other} {
		if err := paper(ranch); !errors.Is(err, errs.Conflict) {
			t.Errorf("a yes on paper before her word: %v", err)
		}
	}
	if twin := s.joins(t, "Nan Hollis", shadow); len(twin.Ranches) != 0 {
		t.Error("the twin is on the ranch at once")
	}
	if got, want := s.asks(t, nan), []string{"Other Six of Nan Hóllis for ", "Shadow Six of Nan Hollis for Nan Hollis"}; !slices.Equal(got, want) {
		t.Errorf("she is asked %q, want %q", got, want)
	}
	letters, err := s.DB.RosterLetters(context.Background())
	told := map[string]bool{}
	for _, l := range letters {
		if l.Email == s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", nan.Person) && l.Kind == postgres.RanchAdded && l.By == s.boss.Name {
			told[l.Ranch] = true
		}
	}
	if err != nil || len(told) != 2 || !told["Shadow Six"] || !told["Other Six"] {
		t.Errorf("letters to her are about %v, %v", told, err)
	}
	s.As(t, nan, func(tx *postgres.Tx) error {
		return errors.Join(tx.AnswerName(other, true), tx.AnswerName(shadow, false))
	})
	if err := paper(other); err != nil {
		t.Errorf("after her yes: %v", err)
	}
	if got, want := s.about(t, nan, "Other Six"), []string{postgres.PaperYes, postgres.RanchAdded}; !slices.Equal(got, want) {
		t.Errorf("as hers she reads %q, want %q", got, want)
	}
	if err := paper(shadow); err != nil { // which goes by its own name now
		t.Errorf("after her no: %v", err)
	}
	if got, want := s.about(t, nan, "Shadow Six"), []string{postgres.Placed, postgres.RanchAdded}; !slices.Equal(got, want) {
		t.Errorf("of what she said is another's she reads %q, want %q", got, want)
	}
}

// TestNamesakeWaits: nobody who has a member's name is a ranch's first owner by that alone, whatever the record says; a relative of
// another name is.
func TestNamesakeWaits(t *testing.T) {
	for _, yes := range []bool{true, false} {
		s := newTown(t)
		flat, far := s.add(t, "Elk Flat", "Varrow Family"), s.add(t, "Far Flat", "Varrow Brothers")
		if lute := s.joins(t, "Lute Varrow", far); len(lute.Ranches) != 1 {
			t.Error("a relative whom the record names waits")
		}
		var token string
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			token, err = tx.Invite(access.Landowner, "Ilsé Varrow", "", []access.ID{flat}) // with an accent
			return err
		})
		accept := func() (postgres.Credentials, error) {
			return s.DB.AcceptInvitation(context.Background(), token, postgres.Acceptance{Name: "Ilsé Varrow", Email: "twin@example.org", Hash: "x"})
		}
		if _, err := accept(); !errors.Is(err, errs.Conflict) {
			t.Errorf("the namesake joins for a ranch that stands under another name: %v", err)
		}
		if _, err := s.Owner.Exec(context.Background(), "UPDATE tussock.invitation SET heir_of = gen_random_uuid(), let_in_by = $1 WHERE ranches = ARRAY[$2::uuid]", s.boss.Person, flat); err != nil {
			t.Fatal(err)
		}
		c, err := accept() // as one to whom a ranch is handed over
		if err != nil {
			t.Fatal(err)
		}
		twin := s.SignIn(t, c)
		if len(twin.Ranches) != 0 {
			t.Error("the namesake is on the ranch at once")
		}
		if got, want := s.asks(t, s.owners[0]), []string{"Elk Flat of Varrow Family for Ilsé Varrow"}; !slices.Equal(got, want) {
			t.Errorf("the member is asked %q, want %q", got, want)
		}
		if got := s.asks(t, s.owners[1]); got != nil {
			t.Errorf("another is asked %q", got)
		}
		s.As(t, s.owners[0], func(tx *postgres.Tx) error { return tx.AnswerName(flat, yes) })
		if got := len(s.Again(t, twin).Ranches) == 1; got != yes {
			t.Errorf("after %v the namesake is on it: %v", yes, got)
		}
		if got := s.asks(t, s.owners[0]); got != nil {
			t.Errorf("after the answer still asked %q", got)
		}
		if got := s.text(t, "SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.id = r.entity_id WHERE r.id = $1", flat); got != "Varrow Family" {
			t.Errorf("the record says %q", got)
		}
	}
}
