package intake_test

import (
	"testing"

	"tussock/internal/intake"
	"tussock/internal/survey"
)

// A second person's look is kept beside the first one's, from a column of its own or from two rows of a day by two people.
func TestSecondLooks(t *testing.T) {
	const checks = "ranch,transect,nest,substrate,set_on,checked_on,state,observer\n"
	for _, tt := range []struct {
		name, sheet string
		answers     map[string]string
		want        []survey.Visit // without the days
	}{
		{"a column", "ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,second_look\nR,A,1,yucca,2025-05-01,2025-05-15,intact,2025-05-29,taken,gone\n", nil,
			[]survey.Visit{{State: survey.Intact}, {State: survey.Taken, Second: survey.Taken}}},
		{"Spanish", "rancho,transecto,nido,cobertura,puesto el,revisado el,encontró,segunda mirada\nR,A,1,nopal,2025-05-01,2025-05-15,completo,no se halló\n", nil,
			[]survey.Visit{{State: survey.Intact, Second: survey.Lost}}},
		{"two people, alike", checks + "R,A,1,yucca,2025-05-01,2025-05-15,intact,AB\nR,A,1,yucca,2025-05-01,2025-05-15,intact,cd\n", nil,
			[]survey.Visit{{State: survey.Intact, Second: survey.Intact}}},
		{"two people who disagree", checks + "R,A,1,yucca,2025-05-01,2025-05-15,taken,AB\nR,A,1,yucca,2025-05-01,2025-05-15,intact,CD\n", nil,
			[]survey.Visit{{State: survey.Taken, Second: survey.Intact}}},
		{"the same person twice", checks + "R,A,1,yucca,2025-05-01,2025-05-15,intact,AB\nR,A,1,yucca,2025-05-01,2025-05-15,intact,ab\n", nil,
			[]survey.Visit{{State: survey.Intact}}},
		{"nobody named", checks + "R,A,1,yucca,2025-05-01,2025-05-15,intact,\nR,A,1,yucca,2025-05-01,2025-05-15,intact,\n", nil,
			[]survey.Visit{{State: survey.Intact}}},
		{"another day", checks + "R,A,1,yucca,2025-05-01,2025-05-15,intact,AB\nR,A,1,yucca,2025-05-01,2025-05-29,intact,CD\n", nil,
			[]survey.Visit{{State: survey.Intact}, {State: survey.Intact}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := intake.Read(csv(tt.sheet), intake.Options{Answers: tt.answers, Today: survey.DateOf(2026, 1, 1)})
			if err != nil || len(got.Data.Nests) != 1 || len(got.NotUsed) != 0 {
				t.Fatalf("%v, %+v", err, got)
			}
			visits := got.Data.Nests[0].Visits
			if len(visits) != len(tt.want) {
				t.Fatalf("visits %+v, want %+v", visits, tt.want)
			}
			for i, v := range visits {
				if v.State != tt.want[i].State || v.Second != tt.want[i].Second {
					t.Errorf("visit %d: %q and %q, want %q and %q", i+1, v.State, v.Second, tt.want[i].State, tt.want[i].Second)
				}
			}
		})
	}
}
