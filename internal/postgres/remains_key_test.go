package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// counted is a table of counts, in which halves of shells are from skunks.
func counted(source string) predator.Table {
	return predator.Table{Source: source, Counts: []predator.Count{
		{Sign: "bits", Answer: "halves", Animal: "raccoon", Nests: 3}, {Sign: "bits", Answer: "near_whole", Animal: "raccoon", Nests: 97},
		{Sign: "bits", Answer: "halves", Animal: "skunk", Nests: 95}, {Sign: "bits", Answer: "near_whole", Animal: "skunk", Nests: 5}}}
}

// halved is a season in which every nest was taken and left its shells in halves: by common practice a raccoon.
func halved(t testing.TB, year int) *survey.Data {
	d := &survey.Data{}
	for i := range 6 {
		d.Nests = append(d.Nests, survey.Nest{Season: year, Transect: fmt.Sprint(i), Number: "1", Substrate: survey.Yucca, SetOn: date(t, fmt.Sprintf("%d-05-01", year)), EggsLeft: -1,
			Visits:  []survey.Visit{{On: date(t, fmt.Sprintf("%d-05-15", year)), State: survey.Taken}},
			Remains: &survey.Remains{Bits: "halves"}})
	}
	return d
}

// TestKeyVersions: who may set a key, and which version a season is read with: that of its opening, whatever is set later. What was worked out is
// worked out again, and an opened season's is the same.
func TestKeyVersions(t *testing.T) {
	f := pgtest.New(t)
	boss := f.Cooperative(t, "Bluestem")
	ranch, owner := f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork"})
	other := f.Cooperative(t, "Grama")
	for _, year := range []int{2024, 2026, 2027} {
		f.As(t, owner, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: fmt.Sprint(year), Data: []byte(fmt.Sprint(year)), Rows: halved(t, year)})
			return err
		})
	}
	kept := func() string {
		n, err := f.Owner.Text(context.Background(), "SELECT count(*) FROM tussock.finding")
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	// share is the raccoon's, by season, and the source that is told.
	share := func(year int) (raccoon float64, source string) {
		t.Helper()
		f.As(t, owner, func(tx *postgres.Tx) error {
			r, err := tx.Findings(ranch)
			if err != nil {
				return err
			}
			row, ok := r.PredatorsOf("Dry Fork", year)
			if !ok {
				return fmt.Errorf("no row of %d", year)
			}
			tables, err := tx.SeasonTables()
			if err != nil {
				return err
			}
			r.MixOf(row, nil, tables(year))
			i := slices.IndexFunc(row.Mix, func(s findings.Share) bool { return s.Predator == survey.Raccoon })
			raccoon, source = row.Mix[i].Share, row.KeySource
			return nil
		})
		if kept() != "1" {
			t.Errorf("%s findings are kept", kept())
		}
		return raccoon, source
	}
	set := func(who access.Actor, table predator.Table) error {
		return f.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.SetKey(table) })
	}
	hand := f.Member(t, boss, access.Hand, "Hand", ranch)
	for name, who := range map[string]access.Actor{"landowner": owner, "hand": hand, "biologist": f.Member(t, boss, access.Biologist, "Biologist"), "planner": f.Member(t, boss, access.Planner, "Planner")} {
		if err := set(who, counted("x")); !errors.Is(err, errs.Forbidden) {
			t.Errorf("a %s sets the key: %v", name, err)
		}
	}
	for name, table := range map[string]predator.Table{"no source": counted(" "), "two lines": counted("a\nb"), "long": counted(strings.Repeat("x", 301))} {
		if err := set(boss, table); !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}

	before := map[int]float64{}
	for _, year := range []int{2024, 2026, 2027} {
		var source string
		if before[year], source = share(year); source != "" || before[year] < 2./13 {
			t.Errorf("%d by common practice: %v, %q", year, before[year], source)
		}
	}
	f.Vouch(t, boss.Coop)
	f.Open(t, boss.Coop, 2026)
	if err := set(boss, counted("Our cameras, 2020 to 2025")); err != nil {
		t.Fatal(err)
	}
	if kept() != "0" {
		t.Error("findings are kept that were made with the key before")
	}
	for _, year := range []int{2024, 2026} { // 2024 never opened: it goes with the opening after it
		if got, source := share(year); got != before[year] || source != "" {
			t.Errorf("%d changes with a key that was set after it opened: from %v to %v, %q", year, before[year], got, source)
		}
	}
	if got, source := share(2027); got > before[2027]/2 || source != "Our cameras, 2020 to 2025" {
		t.Errorf("2027 is not read with the new key: from %v to %v, %q", before[2027], got, source)
	}
	second, _ := share(2027)

	f.Open(t, boss.Coop, 2027)
	if err := set(boss, predator.Table{Source: "goes, for common practice has none"}); err != nil {
		t.Fatal(err)
	}
	if got, _ := share(2027); got != second {
		t.Errorf("2027 changes after its opening: from %v to %v", second, got)
	}
	f.As(t, hand, func(tx *postgres.Tx) error {
		keys, err := tx.Keys()
		if err != nil {
			return err
		}
		var got []string
		for _, k := range keys {
			got = append(got, fmt.Sprintf("%d, %q by %s for %v, %d lines", k.Version, k.Table.Source, k.SetBy, k.Seasons, len(k.Table.Counts)))
		}
		if diff := cmp.Diff([]string{`2, "" by Coordinator of Bluestem for [], 0 lines`, `1, "Our cameras, 2020 to 2025" by Coordinator of Bluestem for [2027], 4 lines`, `0, "" by  for [2026], 0 lines`}, got); diff != "" {
			t.Errorf("versions (-want +got):\n%s", diff)
		}
		of, err := tx.SeasonTables()
		for year, want := range map[int]string{2020: "", 2026: "", 2027: "Our cameras, 2020 to 2025", 2028: ""} {
			if err == nil && of(year).Source != want {
				t.Errorf("the key of %d: %q", year, of(year).Source)
			}
		}
		return err
	})
	f.As(t, other, func(tx *postgres.Tx) error {
		keys, err := tx.Keys()
		if len(keys) != 1 {
			t.Errorf("another cooperative reads %d versions", len(keys))
		}
		return err
	})
}

// TestKeyRoundTrip: a table comes out as it went in, counts and leanings.
func TestKeyRoundTrip(t *testing.T) {
	f := pgtest.Shared(t)
	boss := f.Cooperative(t, "Bluestem")
	common := predator.Common()
	common.Source, common.Weight = `A book, with "quotes" and <b>`, 0
	for _, table := range []predator.Table{counted("Cameras"), common} {
		f.As(t, boss, func(tx *postgres.Tx) error {
			if err := tx.SetKey(table); err != nil {
				return err
			}
			of, err := tx.SeasonTables()
			if err != nil {
				return err
			}
			if diff := cmp.Diff(table, of(2026)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			return nil
		})
	}
}

// TestKeysAtOnce: two coordinators who set a key at the same moment set one after the other.
func TestKeysAtOnce(t *testing.T) {
	f := pgtest.Shared(t)
	boss := f.Cooperative(t, "Bluestem")
	second := f.Member(t, boss, access.Coordinator, "Second")
	f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork"})
	done := make(chan error)
	const each = 5
	for _, who := range []access.Actor{boss, second} {
		go func() {
			var err error
			for range each {
				err = errors.Join(err, f.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.SetKey(counted(who.Name)) }))
			}
			done <- err
		}()
	}
	if err := errors.Join(<-done, <-done); err != nil {
		t.Fatal(err)
	}
	f.As(t, boss, func(tx *postgres.Tx) error {
		keys, err := tx.Keys()
		if len(keys) != 2*each+1 || keys[0].Version != 2*each {
			t.Errorf("%d versions, the latest %d", len(keys), keys[0].Version)
		}
		return err
	})
}
