package bulletin_test

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// TestFinalRevisionKeepsFigures: the final revision gives cells anew and no figure: two editions have no difference of
// figures, so the rule on who changed need not ask about them.
func TestFinalRevisionKeepsFigures(t *testing.T) {
	in := input(2025, 9, grassAndPear, owners("East", "ABCDEFGHIJKLMN")...)
	in.WithFigures = true
	first := compose(t, in)
	late := changeSheets(in, 2, 2, 2, 2, 2, 2, 2, 2)
	late.Earlier, late.Final = []bulletin.Bulletin{first}, true
	second := compose(t, late)
	if first.Hash == second.Hash || second.Edition != 2 || len(first.Figures) == 0 {
		t.Fatalf("edition %d with hash %s after %s, %d figures", second.Edition, second.Hash, first.Hash, len(first.Figures))
	}
	if !slices.EqualFunc(first.Figures, second.Figures, func(a, b bulletin.Figure) bool {
		return a.Kind == b.Kind && a.N == b.N && bytes.Equal(a.Body, b.Body)
	}) {
		t.Error("the final revision has other figures")
	}
}

// TestNextBulletinTellsLittleOfWhoCameLate is why the span audit need not cover figures. Models read all seasons, so two
// bulletins give a figure of the same season twice, and one landowner's late sheets may be all that differs. But each of the
// two moves by a step of its grid at most when that landowner is left out: so from the landowner's best to their worst season
// it is two steps at most, whatever is shown.
func TestNextBulletinTellsLittleOfWhoCameLate(t *testing.T) {
	t.Parallel()
	compared := 0
	for seed := range uint64(2) {
		in := region(seed, 3, alike(12, 6))
		late := func(state survey.State) map[string]float64 {
			next := in
			next.Data = &survey.Data{Nests: slices.Clone(in.Data.Nests), Belts: in.Data.Belts}
			for i := range next.Data.Nests {
				if n := &next.Data.Nests[i]; n.Ranch == "Ranch 003" && n.Season == 2022 {
					n.Visits = []survey.Visit{{On: n.SetOn + 14, State: state}}
					if state == survey.Intact {
						n.Visits = append(n.Visits, survey.Visit{On: n.SetOn + 28, State: state})
					}
				}
			}
			b := compose(t, next)
			shown := map[string]float64{}
			s, _ := body[bulletin.Standardised](t, b, bulletin.StandardisedKind)
			for _, r := range s.Rates {
				if r.Estimate != nil {
					shown[fmt.Sprint("survival ", r.Season, text(r.Substrate))] = *r.Estimate / 0.02
				}
			}
			if y, ok := body[bulletin.Trend](t, b, bulletin.TrendKind); ok && y.Yearly.Estimate != nil {
				shown["yearly"] = math.Log(*y.Yearly.Estimate) / math.Log(1.05)
			}
			return shown
		}
		best, worst := late(survey.Intact), late(survey.Taken)
		for name, x := range best {
			if y, ok := worst[name]; ok {
				compared++
				if math.Abs(x-y) > 2.1 { // ratios are printed with three digits
					t.Errorf("%d: %s is %.1f steps from the landowner's worst season to the best", seed, name, math.Abs(x-y))
				}
			}
		}
	}
	if compared < 8 {
		t.Errorf("only %d numbers were shown in both", compared)
	}
}

// TestFiguresTakenBackWithTheirCells: what goes with a cell. Survival, crude or not, takes the spread and the other along,
// cover does not.
func TestFiguresTakenBackWithTheirCells(t *testing.T) {
	b := compose(t, input(2025, 10, grassAndPear, owners("East", "ABCDEFGHIJKL")...))
	cells := slices.DeleteFunc(slices.Clone(b.Cells), func(c bulletin.Cell) bool { return !c.Published })
	for measure, want := range map[string]bool{bulletin.Survival28: true, bulletin.SurvivalCrude: true, bulletin.ClumpsPerAcre: false} {
		taken, _ := find(b, measure, "", "", "")
		for _, along := range []string{bulletin.Survival28, bulletin.SurvivalCrude, bulletin.SurvivalSpread} {
			got := slices.ContainsFunc(bulletin.Containing(cells, taken), func(i int) bool { return cells[i].Measure == along && cells[i].Substrate == nil })
			if got != want {
				t.Errorf("with %s goes %s: %v, want %v", measure, along, got, want)
			}
		}
	}
}

// TestVerdicts: each number that a figure does not show is on the coordinator's list with a reason, and no value is.
func TestVerdicts(t *testing.T) {
	in := region(1, 3, alike(14, 6))
	b := compose(t, in)
	s, _ := body[bulletin.Standardised](t, b, bulletin.StandardisedKind)
	missing := 0
	for _, r := range s.Rates {
		if r.Estimate == nil {
			missing++
		}
	}
	held := 0
	for _, v := range b.Verdicts {
		if v.Kind == bulletin.StandardisedKind && v.HeldBecause != "" {
			held++
			if v.HeldBecause != string(disclosure.Unsteady) && v.HeldBecause != string(disclosure.TooAlike) {
				t.Errorf("%s is held for %q", v.Number, v.HeldBecause)
			}
		}
	}
	if held != missing || missing == 0 || len(s.Rates) == 0 {
		t.Errorf("of %d survivals %d are not shown and %d are on the list", len(s.Rates), missing, held)
	}
	few := compose(t, region(1, 1, alike(7, 3)))
	if len(few.Verdicts) != 1 || few.Verdicts[0].HeldBecause != string(disclosure.TooFew) || len(few.Figures) > 0 {
		t.Errorf("seven landowners: %+v", few.Verdicts)
	}
}
