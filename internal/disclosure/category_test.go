package disclosure_test

import (
	"slices"
	"testing"

	"tussock/internal/disclosure"
)

// TestCategories: ten events, no entity above half, and half of the largest's left after it and two others; the rest must pass
// the same and hold two kinds.
func TestCategories(t *testing.T) {
	kind := func(name string, events ...float64) disclosure.Category {
		return disclosure.Category{Name: name, Events: amounts(events...)}
	}
	unknown := disclosure.Category{Name: "unknown", Unnamed: true, Events: amounts(9, 8, 7, 6, 5)}
	raccoon := kind("raccoon", 9, 8, 7, 5)
	for _, tt := range []struct {
		name string
		all  []disclosure.Category
		want []string
	}{
		{"all common beside the unknown and one rare",
			[]disclosure.Category{kind("coyote", 5, 5, 4, 3), raccoon, kind("badger", 1), unknown}, []string{"coyote", "raccoon"}},
		{"one entity", []disclosure.Category{kind("coyote", 12), raccoon, unknown}, []string{"raccoon"}},
		{"four entities, nine events", []disclosure.Category{kind("coyote", 3, 2, 2, 2), raccoon, unknown}, []string{"raccoon"}},
		{"two of three know the third's", []disclosure.Category{kind("coyote", 5, 5, 5), raccoon, unknown}, []string{"raccoon"}},
		{"two leave a half", []disclosure.Category{kind("coyote", 10, 5, 5, 5), raccoon, kind("badger", 1), unknown}, []string{"coyote", "raccoon"}},
		{"two leave less", []disclosure.Category{kind("coyote", 11, 5, 5, 5), raccoon, unknown}, []string{"raccoon"}},
		{"one entity has 51 %", []disclosure.Category{kind("coyote", 51, 7, 7, 7, 7, 7, 7, 7), raccoon, unknown}, []string{"raccoon"}},
		{"one entity has 50 %", []disclosure.Category{kind("coyote", 50, 8, 7, 7, 7, 7, 7, 7), kind("badger", 1), raccoon, unknown}, []string{"coyote", "raccoon"}},
		{"the unknown alone would be the difference, so the smallest joins it",
			[]disclosure.Category{kind("coyote", 9, 8, 7, 6), kind("raccoon", 5, 5, 5, 3), unknown}, []string{"coyote"}},
		{"a single failing one takes the second smallest along",
			[]disclosure.Category{kind("badger", 1), kind("coyote", 9, 8, 7, 6), kind("raccoon", 9, 9, 9, 9), kind("fox", 4, 4, 4, 4)}, []string{"coyote", "raccoon"}},
		{"one that did not occur is no second kind",
			[]disclosure.Category{kind("hog"), kind("badger", 1), kind("coyote", 9, 8, 7, 6), kind("raccoon", 9, 9, 9, 9), kind("fox", 4, 4, 4, 4)}, []string{"coyote", "raccoon"}},
		{"the rest of two rare ones fails, so it grows",
			[]disclosure.Category{kind("badger", 1), kind("hog", 2), kind("coyote", 9, 8, 7, 6), kind("fox", 4, 4, 4, 4)}, []string{"coyote"}},
		{"all fail", []disclosure.Category{kind("coyote", 3), kind("badger", 1), kind("fox", 2, 2)}, nil},
		{"nothing", nil, nil},
	} {
		got, ok := disclosure.Default().Categories(tt.all)
		if !slices.Equal(got, tt.want) || ok != (tt.want != nil) {
			t.Errorf("%s: got %v, %v, want %v", tt.name, got, ok, tt.want)
		}
	}
}

// TestEachCategoryRuleMatters: with a rule off, the cell it alone holds is named.
func TestEachCategoryRuleMatters(t *testing.T) {
	for name, tt := range map[string]struct {
		off    func(*disclosure.Policy)
		events disclosure.Amounts
	}{
		"p%":     {func(p *disclosure.Policy) { p.Remainder = 0 }, amounts(10, 10)},
		"events": {func(p *disclosure.Policy) { p.CategoryEvents = 0 }, amounts(3, 2, 2, 2)},
		"top":    {func(p *disclosure.Policy) { p.CategoryTop = 100 }, amounts(51, 7, 7, 7, 7, 7, 7, 7)},
	} {
		all := []disclosure.Category{{Name: "it", Events: tt.events}, {Name: "rest", Unnamed: true, Events: amounts(9, 9, 9, 9)}, {Name: "rare", Events: amounts(1)}}
		p := disclosure.Default()
		if got, _ := p.Categories(all); len(got) != 0 {
			t.Errorf("%s: named under the policy", name)
		}
		tt.off(&p)
		if got, _ := p.Categories(all); !slices.Equal(got, []string{"it"}) {
			t.Errorf("%s: turned off, got %v", name, got)
		}
	}
}
