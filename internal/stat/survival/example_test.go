package survival_test

import (
	"fmt"

	"tussock/internal/stat/survival"
)

// Six nests on two transects: two gone at the first look, one at the second, three seen through.
func ExampleFit() {
	e := survival.Fit([]survival.Nest{
		{Transect: 1, Lost: 14}, {Transect: 1, Lost: 14}, {Transect: 1, Intact: 28},
		{Transect: 2, Intact: 14, Lost: 28}, {Transect: 2, Intact: 28}, {Transect: 2, Intact: 28},
	})
	fmt.Printf("%.2f of the nests lasted 28 days; daily rates %.3f and %.3f\n", e.S28, e.Rates[0].Daily, e.Rates[1].Daily)
	// Output: 0.50 of the nests lasted 28 days; daily rates 0.971 and 0.980
}
