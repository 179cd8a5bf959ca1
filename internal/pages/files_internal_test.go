// Inside the package: page structs are its own business.

package pages

import (
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// filePages has filled structs for the files and the tokens. Names are made up.
func filePages() map[string]any {
	return map[string]any{
		"files": filesPage{base: sampleBase("Files to take with you", "/files", access.Landowner), Own: true,
			Ranches: []fileGroup{{"1", "Cottonwood Draw", "48 nests and 6 belts", []fileLink{
				{"/files/ranches/1/sheets.zip", ranchFiles[0].name, ranchFiles[0].format, "12 kB", ranchFiles[0].good, true},
				{"/files/ranches/1/darwin-core.zip", ranchFiles[2].name, ranchFiles[2].format, "16 kB", ranchFiles[2].good, false}}}, {ID: "2", Name: "North Breaks"}},
			Bulletins: []fileGroup{{"2026", "Season 2026, bulletin 3", "24 figures", []fileLink{{"/files/bulletins/2026/figures.zip", bulletinFiles[0].name, bulletinFiles[0].format, "5 kB", bulletinFiles[0].good, false}}}}},
		"tokens": tokensPage{base: sampleBase("Tokens for your own programs", "/tokens", access.Landowner), Lasts: tokenLasts, Days: 90, Secret: "tussock_3f9a",
			Example: "https://tussock.example/api/v1/bulletins", Reads: "the bulletins, as you see them", Problem: "A token lasts from 1 to 365 days.",
			Tokens: []tokenRow{{"t1", "R in the office", "May 3, 2026", "never yet", "August 1, 2026"}}},
	}
}

// The names of downloads are safe in a header and on any disk.
func TestSlug(t *testing.T) {
	for name, want := range map[string]string{"Cottonwood Draw": "cottonwood-draw", "Ñandú \"X\"/..\r\nSet-Cookie: a": "and-x-set-cookie-a", "": "ranch", "…": "ranch", "7-L": "7-l"} {
		if got := slug(name); got != want {
			t.Errorf("slug(%q) = %q, want %q", name, got, want)
		}
	}
}

// A token lasts as long as the page offers at most.
func TestTokenLasts(t *testing.T) {
	for _, l := range tokenLasts {
		if l.Days < 1 || l.Days > postgres.TokenDays {
			t.Errorf("%s is %d days", l.Label, l.Days)
		}
	}
}
