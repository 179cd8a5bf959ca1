package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/survey"
)

func date(t testing.TB, s string) survey.Date {
	t.Helper()
	d, err := survey.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// season is a small sheet with every kind of column in it.
func season(t testing.TB, ranch string) *survey.Data {
	return &survey.Data{
		Nests: []survey.Nest{
			{Ranch: ranch, Season: 2026, Transect: "1", Number: "1", Substrate: survey.Bunchgrass, SetOn: date(t, "2026-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2026-05-25"), State: survey.Intact}, {On: date(t, "2026-06-08"), State: survey.Intact}}},
			{Ranch: ranch, Site: "Draw", Season: 2026, Transect: "1", Number: "2", Substrate: "sand sagebrush", Plant: "Artemisia filifolia",
				SetOn: date(t, "2026-05-11"), EggsLeft: 0, Guess: "coon", Camera: survey.Raccoon, CameraOn: survey.DateOf(2026, 5, 20), Notes: "wind",
				Visits:  []survey.Visit{{On: date(t, "2026-05-25"), State: survey.Taken}},
				Remains: &survey.Remains{Bits: "halves", BitsFar: "3_to_30", Bowl: "pulled", Trace: "tracks"},
				Spot:    survey.Spot{Steps: "40", Bearing: "120", Text: "by the post"}},
			{Ranch: ranch, Season: 2026, Transect: "2", Number: "1", Substrate: survey.Yucca, EggsLeft: -1},
		},
		Belts: []survey.Belt{{Ranch: ranch, Season: 2026, Transect: "1", LengthFt: 660, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Bunchgrass: 12, survey.Yucca: 3}}},
		Sites: []survey.Site{{Ranch: ranch, Name: "Draw", Owner: "Marsh family", Region: "North", Type: "sandy", Acres: 640}},
	}
}

func TestSend(t *testing.T) {
	f := pgtest.New(t)
	boss := f.Cooperative(t, "Bluestem")
	f.As(t, boss, func(tx *postgres.Tx) error { return tx.SaveArea("North", "") })
	ranch, owner := f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork", Area: "North", Owner: "Marsh family"})

	sending := postgres.Sending{Ranch: ranch, File: "2026.csv", Data: []byte("transect;nest\n1;1\n"), Rows: season(t, "Dry Fork"),
		Refused: 1, Open: 2, Answers: map[string]string{"q1": "taken"}, Undone: []string{"t1"},
		Settings: postgres.Settings{DateOrder: "day", Zero: "taken"}}
	var id access.ID
	f.As(t, owner, func(tx *postgres.Tx) (err error) {
		var already bool
		id, already, err = tx.Send(sending)
		if already {
			t.Error("first sending: already there")
		}
		return err
	})

	t.Run("reads back what was sent", func(t *testing.T) {
		f.As(t, owner, func(tx *postgres.Tx) error {
			got, err := tx.Survey([]access.ID{ranch}, 2026)
			if err != nil {
				return err
			}
			want := season(t, "Dry Fork")
			want.Sites = append(want.Sites, survey.Site{Ranch: "Dry Fork", Owner: "Marsh family", Region: "North"})
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("rows (-want +got):\n%s", diff)
			}
			answers, err := tx.Answers(id)
			if diff := cmp.Diff(sending.Answers, answers.Given); diff != "" || !cmp.Equal(answers.Undone, sending.Undone) || answers.Settings != sending.Settings {
				t.Errorf("answers: got %v", answers)
			}
			name, data, err2 := tx.UploadFile(id)
			if name != "2026.csv" || string(data) != string(sending.Data) {
				t.Errorf("file: got %q %q", name, data)
			}
			return errors.Join(err, err2)
		})
	})

	t.Run("twice is once", func(t *testing.T) {
		f.As(t, owner, func(tx *postgres.Tx) error {
			again := sending
			again.File = "copy of 2026.csv"
			got, already, err := tx.Send(again)
			if got != id || !already {
				t.Errorf("second sending: got %s, %v, want %s, true", got, already, id)
			}
			list, err2 := tx.Uploads(ranch)
			if len(list) != 1 || list[0].Nests != 3 || list[0].Belts != 1 || list[0].Refused != 1 || list[0].Open != 2 || list[0].File != "2026.csv" ||
				list[0].Season != 2026 || list[0].SentBy != owner.Name || list[0].State != postgres.Current || list[0].RanchName != "Dry Fork" {
				t.Errorf("uploads: got %+v", list)
			}
			return errors.Join(err, err2)
		})
	})

	t.Run("the same bytes for another ranch are another upload", func(t *testing.T) {
		other, neighbor := f.Ranch(t, boss, postgres.Ranch{Name: "Long Draw"})
		f.As(t, neighbor, func(tx *postgres.Tx) error {
			theirs := sending
			theirs.Ranch = other
			got, already, err := tx.Send(theirs)
			if already || got == id {
				t.Errorf("a neighbor's sending: got %s, %v", got, already)
			}
			return err
		})
	})

	t.Run("undo and restore", func(t *testing.T) {
		count := func() (n int) {
			f.As(t, owner, func(tx *postgres.Tx) error {
				d, err := tx.Survey([]access.ID{ranch}, 0)
				if err == nil {
					n = len(d.Nests)
				}
				return err
			})
			return n
		}
		step := func(want int, fn func(tx *postgres.Tx) error) {
			t.Helper()
			f.As(t, owner, fn)
			if got := count(); got != want {
				t.Errorf("nests that count: got %d, want %d", got, want)
			}
		}
		step(0, func(tx *postgres.Tx) error { return tx.UndoUpload(id) })
		step(0, func(tx *postgres.Tx) error { return tx.UndoUpload(id) })
		step(3, func(tx *postgres.Tx) error { return tx.RestoreUpload(id) })
		var second access.ID
		step(2, func(tx *postgres.Tx) (err error) {
			s := sending
			s.Data, s.Replaces, s.Rows = []byte("corrected"), id, season(t, "Dry Fork")
			s.Rows.Nests = s.Rows.Nests[:2]
			second, _, err = tx.Send(s)
			return err
		})
		if err := f.DB.As(context.Background(), owner, func(tx *postgres.Tx) error { return tx.UndoUpload(id) }); !errors.Is(err, errs.Conflict) {
			t.Errorf("undo of a replaced upload: got %v, want a conflict", err)
		}
		step(3, func(tx *postgres.Tx) error { return tx.UndoUpload(second) })
		step(2, func(tx *postgres.Tx) error { return tx.RestoreUpload(second) })
	})
}

func TestLaterUploadWins(t *testing.T) {
	f := pgtest.New(t)
	boss := f.Cooperative(t, "Bluestem")
	ranch, owner := f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork"})
	for i, state := range []survey.State{survey.Intact, survey.Taken} {
		rows := season(t, "Dry Fork")
		rows.Nests = rows.Nests[:1]
		rows.Nests[0].Visits[1].State = state
		f.As(t, owner, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: "f", Data: []byte{byte(i)}, Rows: rows})
			return err
		})
	}
	f.As(t, owner, func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{ranch}, 2026)
		if err == nil && (len(d.Nests) != 1 || d.Nests[0].Fate() != survey.Taken || len(d.Belts) != 1) {
			t.Errorf("got %d nests, %d belts, fate %q; want the later file's one nest, taken", len(d.Nests), len(d.Belts), d.Nests[0].Fate())
		}
		return err
	})
}
