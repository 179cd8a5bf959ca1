package findings_test

import (
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/findings"
	"tussock/internal/survey"
)

// rowsOf computes rows and indexes them by ranch, site, season and substrate.
func rowsOf(d *survey.Data, waiting []survey.Nest) map[string]findings.Survival {
	rows := map[string]findings.Survival{}
	for _, s := range findings.Compute(d, findings.Options{Waiting: waiting}).Survival {
		site, substrate := "", survey.Substrate("")
		if s.Site != nil {
			site = *s.Site
		}
		if s.Substrate != nil {
			substrate = *s.Substrate
		}
		rows[strings.Join([]string{s.Ranch, site, strconv.Itoa(s.Season), string(substrate)}, "|")] = s
	}
	return rows
}

// While nests wait for an answer, their ranch and season have no estimate, but the range between none of them lasting and
// all of them.
func TestWaiting(t *testing.T) {
	d := season(t)
	open := survey.Nest{Ranch: "Ash", Site: "North", Season: 2025, Transect: "1", Number: "99", Substrate: survey.Bunchgrass}
	rows := rowsOf(d, []survey.Nest{open})
	plain := rowsOf(d, nil)

	whole := rows["Ash||2025|"]
	if whole.Waiting != 1 || whole.Day28.Estimate != nil || whole.Apparent.Estimate != nil || whole.Day28Predators.Estimate != nil ||
		whole.IfLost.High != nil || whole.Daily[0].Rate != nil || len(whole.Dots()) > 0 {
		t.Errorf("a figure stands on the readable nests alone: %+v", whole)
	}
	if !strings.Contains(whole.Note, "1 nest waits for an answer") {
		t.Errorf("got note %q", whole.Note)
	}
	if whole.Nests != plain["Ash||2025|"].Nests || whole.Intact != plain["Ash||2025|"].Intact {
		t.Errorf("the counts of what was read changed: %+v", whole)
	}
	// The same nest lost by day 14, and the same nest intact on day 28: the ends of those two ranges.
	with := func(day int, state survey.State) findings.Survival {
		n := open
		n.SetOn = date(t, "2025-05-12")
		n.Visits = []survey.Visit{{On: n.SetOn + survey.Date(day), State: state}}
		return rowsOf(&survey.Data{Nests: append(append([]survey.Nest{}, d.Nests...), n)}, nil)["Ash||2025|"]
	}
	if low := with(14, survey.Taken).Day28.Low; whole.Day28.Low == nil || *whole.Day28.Low != *low {
		t.Errorf("low end %v, want %v", value(whole.Day28.Low), value(low))
	}
	if high := with(28, survey.Intact).Day28.High; whole.Day28.High == nil || *whole.Day28.High != *high {
		t.Errorf("high end %v, want %v", value(whole.Day28.High), value(high))
	}

	for key, row := range rows {
		held := key == "Ash||2025|" || key == "Ash||2025|bunchgrass" || key == "Ash|North|2025|" || key == "Ash|North|2025|bunchgrass"
		if held != (row.Waiting > 0) {
			t.Errorf("%s: %d nests wait", key, row.Waiting)
		}
		if held {
			continue
		}
		got, _ := json.Marshal(row)
		want, _ := json.Marshal(plain[key])
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s changed, and none of its nests waits: %s", key, diff)
		}
	}
}

// A nest of which nobody knows the cover waits in every substrate, and leaves no range; one without a season in all of them.
func TestWaitingUnknown(t *testing.T) {
	d := season(t)
	rows := rowsOf(d, []survey.Nest{{Ranch: "Ash", Season: 2025, Transect: "1", Number: "99"}})
	for _, key := range []string{"Ash||2025|", "Ash||2025|bunchgrass", "Ash||2025|prickly pear"} {
		row, ok := rows[key]
		if !ok || row.Waiting != 1 || row.Day28.Estimate != nil || row.Day28.Low != nil {
			t.Errorf("%s: %+v", key, row)
		}
	}
	rows = rowsOf(d, []survey.Nest{{Ranch: "Ash", Transect: "1", Number: "99", Substrate: survey.Bunchgrass}})
	if rows["Ash||2025|"].Waiting != 1 {
		t.Error("a nest without a year may be of any season")
	}
	rows = rowsOf(d, []survey.Nest{{Ranch: "Birch", Season: 2025, Transect: "1", Number: "99", Substrate: survey.Bunchgrass}})
	if rows["Ash||2025|"].Waiting != 0 || rows["Ash||2025|"].Day28.Estimate == nil {
		t.Error("another ranch's nest holds this ranch's figure")
	}
	// Where all nests of a season wait, it has a row that says so.
	if row, ok := rows["Birch||2025|"]; !ok || row.Nests != 0 || row.Waiting != 1 || !strings.Contains(row.Note, "waits") {
		t.Errorf("got %+v", row)
	}
}

// A nest set and found lost on one day was lost between setting and the first check of its line:
// the same figures as where that check had found it so.
func TestSameDayLoss(t *testing.T) {
	build := func(day survey.Date) *survey.Data {
		d := season(t)
		set := date(t, "2025-05-12")
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Site: "North", Season: 2025, Transect: d.Nests[0].Transect, Number: "99", Substrate: survey.Bunchgrass,
			SetOn: set, Visits: []survey.Visit{{On: set + day, State: survey.Taken}}, EggsLeft: -1})
		return d
	}
	same, first, next := build(0), build(14), build(1)
	got, want, other := rowsOf(same, nil), rowsOf(first, nil), rowsOf(next, nil)
	if diff := cmp.Diff(want["Ash||2025|"].Day28, got["Ash||2025|"].Day28, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
		t.Errorf("day 28 differs from that of a loss found at the first check: %s", diff)
	}
	if *got["Ash||2025|"].Day28.Estimate == *other["Ash||2025|"].Day28.Estimate {
		t.Error("a loss within one day gives the same figure: the test tells nothing")
	}
	if diff := cmp.Diff(findings.Intervals(first, nil), findings.Intervals(same, nil)); diff != "" {
		t.Errorf("the pooled model takes other intervals: %s", diff)
	}
	// A line without another check: the plan's day.
	alone := &survey.Data{Nests: []survey.Nest{{Ranch: "Ash", Season: 2025, Transect: "9", Number: "1", Substrate: survey.Yucca, SetOn: date(t, "2025-05-12"),
		Visits: []survey.Visit{{On: date(t, "2025-05-12"), State: survey.Taken}}}}}
	if got := findings.Intervals(alone, nil); len(got) != 1 || got[0].To != 14 {
		t.Errorf("got %+v", got)
	}
}

func value(x *float64) any {
	if x == nil {
		return nil
	}
	return *x
}
