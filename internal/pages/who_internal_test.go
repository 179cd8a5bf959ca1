package pages

import (
	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoPages are the pages about who sees what, filled with what is made up.
func whoPages() map[string]any {
	return map[string]any{
		"who": whoPage{base: sampleBase("Who can see this", "/who", access.Landowner), Sees: seesInAll[access.Landowner], Saved: true, Ranches: []whoRanch{
			whoRanchOf(words.Speaker{}, whoData{ranch: postgres.Ranch{ID: "1", Name: "Cottonwood Draw", Consent: 1}, people: []postgres.Person{
				{ID: "a", Name: "Ada Marsh", Role: access.Landowner, Since: sampleDay, LastLooked: sampleDay}, {ID: "c", Name: "Cal Marsh", Role: access.Landowner, Since: sampleDay},
				{ID: "l", Name: "Luis Ortega", Role: access.Hand, Since: sampleDay}},
				sharings: []postgres.Sharing{{ID: "s1", Name: "Ruth Bell", Purpose: "cover study", GivenAt: sampleDay, Through: sampleDay.AddDate(1, 0, 0), Open: true},
					{ID: "s0", Name: "Ruth Bell", Purpose: "burn plan", GivenAt: sampleDay, Through: sampleDay, EndedAt: sampleDay}},
				consent: postgres.Consent{Level: 1, By: "Ada Marsh", At: sampleDay},
				address: map[access.ID]string{"a": "ada@example.org", "l": "luis@example.org"},
				shown:   []postgres.Showing{{}}}, access.Actor{Role: access.Landowner})},
			Under:   []leaveNotice{{ID: "d", Said: "Ada Marsh asked to leave the cooperative.", When: "It happens on August 18, 2026."}},
			Refused: []string{"Rosa Kerr refused on August 4, 2026 to let the new owner of North Breaks join the cooperative. The hand-over does not happen, and the ranch stays as it was."},
			Names: []whoName{{ID: "n", Name: "Elk Flat", How: "Rosa Kerr wrote the owner Marsh Family for it on August 4, 2026.", Who: "Ada Marsh, who signs in as twin@example.org, stands there as its owner or would come onto it.", Other: "Ada Marsh"},
				{ID: "m", Name: "Salt Creek", How: "Rosa Kerr wrote the owner Ada Marsh for it on August 4, 2026."}},
			Offers: []whoOffer{{ID: "o", RanchName: "North Breaks", From: "Cy Far", When: "It happens on August 18, 2026.", Rows: true}}},
		"who_neighbor": whoNeighborPage{base: sampleBase("Your page as a neighbor sees it", "/who/neighbor", access.Landowner), Name: "Cottonwood Draw", Joins: true, Season: 2026,
			Groups: []neighborGroup{{"Sandhill", []neighborRow{{"Lasted four weeks, of 100", "55", "50 to 65", "5–9"}}}}, Shown: []shownFigure{{Ranch: "Cottonwood Draw", Season: 2026, Said: "About 62 of 100 simulated nests lasted four weeks."}}},
		"who_showcase": whoShowcasePage{base: sampleBase("Show a figure under the ranch’s name", "/who/showcase", access.Landowner), ID: "1", Name: "Cottonwood Draw",
			Shown:   []shownFigure{{ID: "x", Season: 2026, Said: "About 62 of 100 simulated nests lasted four weeks.", Range: "a fair range is 50 to 70", Day: "August 4, 2026"}},
			Choices: []showChoice{{"2026 cover", "About 280 clumps an acre to nest in.", "a fair range is 200 to 400", 2026}}},
		"showcase": showcasePage{sampleBase("Shown by name", "/showcase", access.Planner), []shownFigure{{Ranch: "Cottonwood Draw", Season: 2026, Said: "About 62 of 100 simulated nests lasted four weeks."}}},
		"who_no": whoNoPage{base: sampleBase("Take Cottonwood Draw out of the comparisons?", "/who/no", access.Landowner), ID: "1", Name: "Cottonwood Draw",
			Shared: []whoSharing{{ID: "s1", Name: "Ruth Bell", Purpose: "cover study"}}, Last: true},
		"promise": sampleBase("What we promise", "/promise", access.Landowner),
		"who_share": sharePage{base: sampleBase("Share a ranch with one biologist", "/who/share", access.Landowner), Ranches: []postgres.Ranch{{ID: "1", Name: "Cottonwood Draw"}, {ID: "2", Name: "North Breaks"}},
			Biologists: []whoBiologist{{ID: "b", Name: "Ruth Bell", Known: "Signs in as ruth@example.org."}}, Form: shareForm{Ranch: "1", Through: "2027-08-04"}, First: "2026-08-04", Last: "2028-08-04", Problem: "Say what the results are for."},
	}
}
