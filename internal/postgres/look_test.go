package postgres_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	seasons "tussock/internal/season"
	"tussock/internal/survey"
)

// A lookStage has two lines on ranch A.
type lookStage struct {
	*stage
	one, two seasons.Line
}

func newLookStage(t *testing.T) lookStage {
	t.Helper()
	s := lookStage{stage: newStage(t)}
	p, lines := planned(s.ranchA)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		if err := tx.SaveLines(s.ranchA, 2027, p, lines); err != nil {
			return err
		}
		got, err := tx.Lines(s.ranchA, 2027)
		if err == nil {
			s.one, s.two = got[0], got[1]
		}
		return err
	})
	return s
}

func (s lookStage) look(line seasons.Line, kind fieldwork.Kind, answers ...string) fieldwork.Look {
	l := fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: s.ranchA, Season: 2027, Line: line.ID, Stop: 1, Kind: kind, Who: "JR", Device: "phone", Seq: 1,
		At: time.Date(2027, 5, 10, 9, 0, 0, 0, time.UTC), Answers: map[string]string{}}
	for i := 0; i+1 < len(answers); i += 2 {
		l.Answers[answers[i]] = answers[i+1]
	}
	return l
}

// connect runs statements of its own as the application, in the name of an actor.
func (s lookStage) connect(t *testing.T, a access.Actor) func(statement string) (int64, error) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(ctx) })
	return func(statement string) (int64, error) {
		tx := pgtest.Enter(t, conn, pgx.ReadWrite, a.Session)
		defer tx.Rollback(ctx)
		tag, err := tx.Exec(ctx, statement)
		return tag.RowsAffected(), errors.Join(err, tx.Commit(ctx))
	}
}

// TestLooks: sending again is harmless, nobody changes or deletes a look, and no other ranch's people see or add any.
func TestLooks(t *testing.T) {
	s := newLookStage(t)
	looks := []fieldwork.Look{s.look(s.one, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-10"), s.look(s.one, fieldwork.Check, "looked_on", "2026-05-24", "found", "all")}
	for _, want := range []int{2, 0} {
		s.As(t, s.hand, func(tx *postgres.Tx) error {
			kept, err := tx.KeepLooks(looks)
			if err == nil && kept != want {
				t.Errorf("kept %d, want %d", kept, want)
			}
			return err
		})
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		got, err := tx.Looks(s.ranchA, 2027)
		if err == nil && (len(got) != 2 || got[0].Answers["cover"] == "" && got[1].Answers["cover"] == "" || got[0].Received.IsZero()) {
			t.Errorf("looks %+v", got)
		}
		return err
	})
	ctx := context.Background()
	for _, who := range []access.Actor{s.b, s.boss, s.planner} {
		err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.KeepLooks(looks[:1]); return err })
		if !errors.Is(err, errs.NotFound) {
			t.Errorf("%s adds a look: %v", who.Role, err)
		}
		err = s.DB.As(ctx, who, func(tx *postgres.Tx) error {
			got, err := tx.Looks(s.ranchA, 2027)
			if len(got) > 0 {
				t.Errorf("%s sees %d looks", who.Role, len(got))
			}
			return err
		})
		if err != nil && !errors.Is(err, errs.NotFound) {
			t.Errorf("%s reads looks: %v", who.Role, err)
		}
	}
	bad := looks[0]
	bad.Answers = map[string]string{"nonsense": "1"}
	if err := s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { _, err := tx.KeepLooks([]fieldwork.Look{bad}); return err }); !errors.Is(err, errs.Invalid) {
		t.Errorf("nonsense: %v", err)
	}
	app := s.connect(t, s.a)
	for _, statement := range []string{"UPDATE tussock.look SET who = 'x'", "DELETE FROM tussock.look", "UPDATE tussock.photo SET data = ''", "DELETE FROM tussock.photo",
		"SELECT token_hash FROM tussock.field_link", "SELECT token_hash FROM tussock.field_session", "INSERT INTO tussock.field_session DEFAULT VALUES"} {
		if _, err := app(statement); err == nil {
			t.Errorf("the application may %s", statement)
		}
	}
}

// TestFieldLink: a link reads its lines and adds looks to them, and nothing else, until its owner cuts it off.
func TestFieldLink(t *testing.T) {
	s := newLookStage(t)
	ctx := context.Background()
	today := survey.DateFrom(time.Now())
	link := postgres.FieldLink{Ranch: s.ranchA, Name: "Lupe", Lines: []access.ID{s.one.ID}, From: today, Through: today + 30}
	var secret string
	s.As(t, s.a, func(tx *postgres.Tx) (err error) { secret, err = tx.MakeFieldLink(link); return err })
	for _, who := range []access.Actor{s.b, s.hand, s.boss} {
		if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.MakeFieldLink(link); return err }); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s makes a link: %v", who.Name, err)
		}
	}

	offer, err := s.DB.FieldOffer(ctx, secret)
	if err != nil || offer.State != "open" || len(offer.Lines) != 1 || offer.Lines[0] != "1" {
		t.Errorf("offer %+v, %v", offer, err)
	}
	session, err := s.DB.OpenField(ctx, secret, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	others := s.look(s.one, fieldwork.Check, "looked_on", "2026-05-24", "found", "lost", "bits", "halves", "guess", "raccoon", "note", "private")
	elsewhere := s.look(s.two, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-10")
	s.As(t, s.a, func(tx *postgres.Tx) error { _, err := tx.KeepLooks([]fieldwork.Look{others, elsewhere}); return err })

	f, err := s.DB.Field(ctx, session)
	if err != nil || len(f.Lines) != 1 || f.Lines[0].ID != s.one.ID || len(f.Looks) != 1 {
		t.Fatalf("the link shows %d lines and %d looks: %v", len(f.Lines), len(f.Looks), err)
	}
	if a := f.Looks[0].Answers; a["done"] != "yes" || len(a) != 1 || f.Looks[0].Who != "" {
		t.Errorf("the link shows %v by %q", a, f.Looks[0].Who)
	}
	if _, err := s.DB.ActorOf(ctx, session); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("the link's session is a member: %v", err)
	}
	app := s.connect(t, access.Actor{Session: session})
	for _, table := range []string{"look", "photo", "season_line", "ranch", "nest", "upload", "person", "coop", "field_link", "field_session"} {
		if n, err := app("SELECT 1 FROM tussock." + table); n != 0 || err != nil {
			t.Errorf("the link's session sees %d rows of %s: %v", n, table, err)
		}
	}

	mine := s.look(s.one, fieldwork.Check, "looked_on", today.String(), "found", "all")
	for _, want := range []int{1, 0} {
		if kept, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{mine}); err != nil || kept != want {
			t.Errorf("kept %d, %v, want %d", kept, err, want)
		}
	}
	undoOthers, undoMine := s.look(s.one, fieldwork.Undo), s.look(s.one, fieldwork.Undo)
	undoOthers.Undoes, undoMine.Undoes = others.ID, mine.ID
	otherRanch := s.look(s.one, fieldwork.Note, "note", "x")
	otherRanch.Line = access.ID(uuid.NewString())
	for name, l := range map[string]fieldwork.Look{"another line": elsewhere, "another's look taken back": undoOthers, "a choice": s.look(s.one, fieldwork.Choose, "keep", string(mine.ID)), "no line": otherRanch} {
		if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{l}); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{undoMine}); err != nil {
		t.Errorf("its own look taken back: %v", err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		looks, err := tx.Looks(s.ranchA, 2027)
		for _, l := range looks {
			if l.ID == mine.ID && l.Device == "phone" {
				t.Error("a link writes in the name of another's device")
			}
		}
		return err
	})

	s.As(t, s.a, func(tx *postgres.Tx) error {
		links, err := tx.FieldLinks(s.ranchA)
		if err != nil {
			return err
		}
		if len(links) != 1 || links[0].Phones != 1 || links[0].Name != "Lupe" {
			t.Errorf("links %+v", links)
		}
		return tx.RevokeFieldLink(links[0].ID)
	})
	if _, err := s.DB.Field(ctx, session); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("cut off, it still shows: %v", err)
	}
	if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{s.look(s.one, fieldwork.Note, "note", "x")}); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("cut off, it still keeps: %v", err)
	}
	if _, err := s.DB.OpenField(ctx, secret, ""); !errors.Is(err, errs.NotFound) {
		t.Errorf("cut off, it still opens: %v", err)
	}
}

// TestFieldLinkShowsNoResults: of what others found a link tells only where nests are and which want no more looks; what
// came by it stands as it was written down.
func TestFieldLinkShowsNoResults(t *testing.T) {
	s := newLookStage(t)
	ctx := context.Background()
	today := survey.DateFrom(time.Now())
	var secret string
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFieldLink(postgres.FieldLink{Ranch: s.ranchA, Name: "Lupe", Lines: []access.ID{s.one.ID}, From: today - 30, Through: today + 30})
		return err
	})
	session, err := s.DB.OpenField(ctx, secret, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	at := func(stop int, kind fieldwork.Kind, answers ...string) fieldwork.Look {
		l := s.look(s.one, kind, answers...)
		l.Stop, l.Seq = stop, stop
		return l
	}
	day, later := (today - 14).String(), today.String()
	check := func(stop int, on, found string, more ...string) fieldwork.Look {
		return at(stop, fieldwork.Check, append([]string{"looked_on", on, "found", found}, more...)...)
	}
	wrong := check(6, day, "lost")
	back := at(6, fieldwork.Undo)
	back.Undoes = wrong.ID
	mine, mineToo := check(7, day, "some", "eggs_left", "1", "lost_how", "animal"), check(8, day, "all")
	if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{mine, mineToo}); err != nil {
		t.Fatal(err)
	}
	s.As(t, s.hand, func(tx *postgres.Tx) error {
		_, err := tx.KeepLooks([]fieldwork.Look{
			at(1, fieldwork.Set, "cover", "yucca", "set_on", day, "place", "by the gate"),
			check(1, day, "all"), check(2, day, "lost"), check(3, day, "some", "eggs_left", "2"), check(4, day, "all"), check(4, later, "all"),
			check(5, day, "not_found"), wrong, back, check(8, later, "lost"), check(9, day, "not_checked"),
		})
		return err
	})
	f, err := s.DB.Field(ctx, session)
	if err != nil {
		t.Fatal(err)
	}
	got := map[int][]map[string]string{}
	for _, l := range f.Looks {
		if l.Kind == fieldwork.Check {
			got[l.Stop] = append(got[l.Stop], l.Answers)
		} else if l.Kind != fieldwork.Set || l.Answers["place"] != "by the gate" {
			t.Errorf("the link shows %+v", l)
		}
	}
	done := map[string]string{"done": "yes"}
	want := map[int][]map[string]string{1: {{"looked_on": day}}, 2: {done}, 3: {done}, 4: {done}, 5: {done}, 7: {mine.Answers}, 8: {mineToo.Answers, done}}
	if diff := cmp.Diff(want, got, cmpopts.SortSlices(func(a, b map[string]string) bool { return len(a) > len(b) })); diff != "" {
		t.Errorf("the link's pack (-want +got):\n%s", diff)
	}

	for _, early := range []fieldwork.Look{check(1, (today - 31).String(), "all"), at(2, fieldwork.Set, "cover", "yucca", "set_on", (today - 31).String())} {
		if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{early}); !errors.Is(err, errs.Invalid) {
			t.Errorf("a look of before the link's first day: %v", err)
		}
	}
	// A day that has not come, but for the day by which a place may be before UTC.
	if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{check(2, (today + 1).String(), "all")}); err != nil {
		t.Errorf("a look where tomorrow has begun: %v", err)
	}
	toCome := []fieldwork.Look{check(3, (today + 2).String(), "all"), at(3, fieldwork.Set, "cover", "yucca", "set_on", (today + 20).String()), at(1, fieldwork.Belt, "belt", "9", "belt_on", (today + 2).String())}
	for _, l := range toCome {
		_, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{l})
		if said, _ := errs.Message(err); !errors.Is(err, errs.Invalid) || !strings.Contains(said, "dated after today") {
			t.Errorf("a look of %v, which has not come: %v", l.Answers, err)
		}
		err = s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { _, err := tx.KeepLooks([]fieldwork.Look{l}); return err })
		if !errors.Is(err, errs.Invalid) {
			t.Errorf("an owner's look of %v, which has not come: %v", l.Answers, err)
		}
	}
	if _, err := s.Owner.Exec(ctx, "UPDATE tussock.field_link SET through = $1", (today - 3).Time()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{check(1, (today - 2).String(), "all")}); !errors.Is(err, errs.Invalid) {
		t.Errorf("a look of after the link's last day: %v", err)
	}
}

// TestFieldLinkDays: before and after its days a link shows nothing; what was written down comes in for a while after.
func TestFieldLinkDays(t *testing.T) {
	s := newLookStage(t)
	ctx := context.Background()
	today := survey.DateFrom(time.Now())
	for _, tt := range []struct {
		name          string
		from, through survey.Date
		state         string
		lines         int
		keeps         bool
	}{
		{"Today", today, today, "open", 1, true},
		{"NextWeek", today + 7, today + 9, "early", 0, false},
		{"LastWeek", today - 9, today - 7, "over", 0, true},
		{"LongAgo", today - 200, today - 100, "over", 0, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var secret string
			s.As(t, s.a, func(tx *postgres.Tx) (err error) {
				secret, err = tx.MakeFieldLink(postgres.FieldLink{Ranch: s.ranchA, Name: tt.name, Lines: []access.ID{s.one.ID}, From: today, Through: today})
				return err
			})
			session, err := s.DB.OpenField(ctx, secret, "")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := s.Owner.Exec(ctx, "UPDATE tussock.field_link SET from_on = $1, through = $2 WHERE name = $3", tt.from.Time(), tt.through.Time(), tt.name); err != nil {
				t.Fatal(err)
			}
			if offer, err := s.DB.FieldOffer(ctx, secret); err != nil || offer.State != tt.state {
				t.Errorf("state %q, %v, want %q", offer.State, err, tt.state)
			}
			if f, _ := s.DB.Field(ctx, session); len(f.Lines) != tt.lines {
				t.Errorf("shows %d lines, want %d", len(f.Lines), tt.lines)
			}
			_, err = s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{s.look(s.one, fieldwork.Note, "note", "x")})
			if (err == nil) != tt.keeps {
				t.Errorf("keeping: %v, want kept %v", err, tt.keeps)
			}
		})
	}
}

// TestWhoseSheet: the database itself lets a hand change no sheet but the hand's own, and that one until an owner accepts it.
func TestWhoseSheet(t *testing.T) {
	s := newLookStage(t)
	send := func(who access.Actor, name string) (id access.ID) {
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: name, Data: []byte(name), Season: 2027, Rows: &survey.Data{}})
			return err
		})
		return id
	}
	owners, hands := send(s.a, "owner.csv"), send(s.hand, "hand.csv")
	app := s.connect(t, s.hand)
	try := func(id access.ID, want int64) {
		t.Helper()
		if n, err := app("UPDATE tussock.upload SET state = 'undone' WHERE id = '" + string(id) + "'"); n != want || err != nil {
			t.Errorf("the hand changes %d sheets, %v, want %d", n, err, want)
		}
	}
	try(owners, 0)
	try(hands, 1)
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(hands) })
	try(hands, 0)
}
