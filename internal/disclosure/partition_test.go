package disclosure_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tussock/internal/disclosure"
)

// table makes units of 40 nests from rows such as "north yucca ABCDE": one unit an entity.
func table(rows ...string) (units []disclosure.Unit) {
	for _, row := range rows {
		f := strings.Fields(row)
		for _, e := range f[2] {
			units = append(units, disclosure.Unit{Entity: string(e), At: f[:2], Amounts: []float64{40}})
		}
	}
	return units
}

// tree lists nodes as "at/at n" or "at/at n: reason".
func tree(n *disclosure.Node) (lines []string) {
	line := fmt.Sprintf("%s %d", strings.Join(n.At, "/"), n.N)
	if n.Held != "" {
		line += ": " + string(n.Held)
	}
	lines = append(lines, line)
	for _, c := range n.Children {
		lines = append(lines, tree(c)...)
	}
	return lines
}

func TestSplit(t *testing.T) {
	for _, tt := range []struct {
		name        string
		units, plan []disclosure.Unit
		want        []string
	}{
		{"every part passes", table("north grass ABCDE", "south grass FGHIJ"), nil,
			[]string{"/ 10", "north/ 5", "south/ 5"}},
		{"one part fails, so no part is shown", table("north grass ABCDE", "south grass FGHI"), nil,
			[]string{"/ 9", "north/ 5: with the rest shown, one that must stay hidden could be worked out", "south/ 4: too few landowners"}},
		{"the next dimension is tried on the whole", table("north grass ABCD", "south grass E", "south yucca ABCDE"), nil,
			[]string{"/ 5", "north/ 4: too few landowners", "south/ 5: with the rest shown, one that must stay hidden could be worked out",
				"/grass 5", "/yucca 5"}},
		{"both dimensions", table("north grass ABCDE", "north yucca ABCDE", "south grass FGHIJ"), nil,
			[]string{"/ 10", "north/ 5", "north/grass 5", "north/yucca 5", "south/ 5"}},
		{"the whole fails", table("north grass ABCD"), nil, []string{"/ 4: too few landowners"}},
		{"nothing", nil, nil, []string{" 0: nobody has results here"}},
		{"never finer than last season", table("north grass ABCDE", "south grass FGHIJ"), table("north grass ABCDE", "south grass FGHI"),
			[]string{"/ 10", "north/ 5: with the rest shown, one that must stay hidden could be worked out", "south/ 5: too few landowners"}},
		{"a part that is new is merged", table("north grass ABCDE", "south grass FGHIJ"), table("north grass ABCDE"),
			[]string{"/ 10", "north/ 5: with the rest shown, one that must stay hidden could be worked out", "south/ 5: nobody has results here"}},
		{"a part that is gone does not count", table("north grass ABCDE", "south grass FGHIJ"), table("north grass ABCDE", "south grass FGHIJ", "west grass KLMNO"),
			[]string{"/ 10", "north/ 5", "south/ 5"}},
	} {
		if got := tree(disclosure.Default().Split(tt.units, tt.plan, 0, 1)); !slices.Equal(got, tt.want) {
			t.Errorf("%s:\ngot  %q\nwant %q", tt.name, got, tt.want)
		}
	}
}

func ExamplePolicy_Split() {
	units := table("north grass ABCDE", "south grass FGHIJ", "west grass KL")
	root := disclosure.Default().Split(units, nil, 0)
	fmt.Printf("whole: %d entities, held %q\n", root.N, root.Held)
	for _, c := range root.Children {
		fmt.Printf("%s: held %q\n", c.At[0], c.Held)
	}
	// Output:
	// whole: 12 entities, held ""
	// north: held "with the rest shown, one that must stay hidden could be worked out"
	// south: held "with the rest shown, one that must stay hidden could be worked out"
	// west: held "too few landowners"
}
