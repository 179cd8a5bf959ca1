// Inside the package: page structs are its own business.

package pages

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// sampleKey is a table of counts.
var sampleKey = predator.Table{Source: "Cámaras del condado, 2019 a 2024", Counts: []predator.Count{{Sign: "bits", Answer: "halves", Animal: "raccoon", Nests: 31}, {Sign: "bits", Answer: "halves", Animal: "fox", Nests: 4},
	{Sign: "bits", Answer: "crumbs", Animal: "raccoon", Nests: 2}}}

func sampleKeys(say words.Speaker) []keyVersion {
	judged := predator.Table{Source: "Un libro", Leanings: []predator.Leaning{{Sign: "bits", Answer: "halves", Animal: "raccoon", Times: 9}}}
	return keyVersions(say, []postgres.RemainsKey{{Version: 2, Table: judged, SetAt: sampleDay}, {Version: 1, Table: sampleKey, SetBy: "Rosa Lind", SetAt: sampleDay, Seasons: []int{2026, 2027}}, {}}, 2)
}

// cooperativePages has filled structs for the coordinator's pages in a language. Names and figures are made up.
func cooperativePages(say words.Speaker) map[string]any {
	at := func(title, path string) base {
		b := sampleBase(title, "/cooperative"+path, access.Coordinator)
		b.Say = say
		return b
	}
	st := sampleState()
	members := append(st.members, postgres.Member{ID: "m3", Name: "Luis Ortega", Role: access.Hand, Suspended: true, Waiting: []string{"Antelope Flat"}})
	invitations := []postgres.Invitation{{ID: "i1", Role: access.Hand, Ranches: []string{"Cottonwood Draw"}, InvitedBy: "Rosa Lind", CreatedAt: sampleDay, ExpiresAt: sampleDay.Add(14 * 24 * time.Hour), State: "open"}}
	form := ranchForm{Owners: owners(st.ranches), Areas: []postgres.Area{{ID: "a1", Name: "Sandhill", Group: "norte", Ranches: 7}, {ID: "a2", Name: "Breaks", Group: "norte", Ranches: 1}}, CSRF: "0f"}
	changed := form
	changed.ID, changed.Name = "r2", "North Breaks"
	waits, done := waits(say, st, sampleDay)
	sheets := uploadLines(st, 2026)

	edition := postgres.Edition{Season: 2026, Edition: 1, CutAt: sampleDay, ComposedAt: sampleDay, Ranches: 14, Sheets: 12, Owners: 11, Tries: 1, Held: 7, Words: 2,
		Approvals: []postgres.Approval{{Name: "Rosa Lind", Yes: true, At: sampleDay, Mine: true}, {Name: "Marta Lind", At: sampleDay}}}
	changes := changesOf(say, sampleChanges())

	request := postgres.Introduction{ID: "i", By: "Cass Reed", Email: "cass@example.org", Purpose: "Caminar un potrero.", AskedAt: sampleDay, State: postgres.AskWaiting}
	answered := request
	answered.State, answered.Reply, answered.AnsweredAt = postgres.AskPassedOn, "Espere una llamada.", sampleDay.Add(48*time.Hour)
	requests := []postgres.Introduction{request, answered}

	late := latePage{base: at(say.Say("Who is late"), "/late")}
	late.fill([]postgres.LateLine{{Ranch: "r1", RanchName: "Cottonwood Draw", Season: 2026, Line: "3", What: "first", Due: survey.DateFrom(sampleDay), Closes: survey.DateFrom(sampleDay)}},
		[]postgres.LateCall{{Ranch: "r1", Season: 2026, By: "Rosa Lind", At: sampleDay}}, members, survey.DateFrom(sampleDay)+2)

	shapes := []geo.Named{{Name: "Sandhill", Shape: geo.Shape{{{{-100, 42}, {-99, 42}, {-99, 43}, {-100, 43}, {-100, 42}}}}}}
	return map[string]any{
		"cooperative":         cooperativePage{base: at(say.Count("%d thing to look at", "%d things to look at", len(waits)), ""), Waits: waits, Done: done, NoLetters: true, OneProof: oneProof{true, true}},
		"cooperative_late":    late,
		"cooperative_uploads": cooperativeUploadsPage{base: at(say.Say("%d of %d ranches have sent their sheets for %d", 2, 3, 2026), "/uploads"), Season: 2026, Seasons: []int{2026, 2025}, Waiting: sheets[:2], AllIn: sheets[2:]},
		"cooperative_members": cooperativeMembersPage{base: at(say.Count("%d member", "%d members", len(members)), "/members"), Ranches: st.ranches, Roles: roleChoices,
			Link: "https://tussock.example/join/3f9a", For: "Luis Ortega", Code: "1234", Form: inviteForm{Role: access.Hand, Ranches: []access.ID{"r1"}}, Members: members, Invitations: invitations,
			Problem: say.Say(inviteForm{Role: access.Hand}.problem(true))},
		"cooperative_areas": cooperativeAreasPage{base: at(say.Count("%d area", "%d areas", 2), "/areas"), Groups: []string{"norte"}, Areas: form.Areas},
		"cooperative_marks": cooperativeMarksPage{base: at(say.Say("What figures are held against"), "/marks"), Cover: "300", Hope: "50", First: "14", Last: "28", From: "una dependencia", Kept: true},
		"cooperative_key": cooperativeKeyPage{base: at(say.Say("The key to remains"), "/key"), Key: keyViewOf(say, predator.Table{}), Versions: sampleKeys(say), Own: true, Kept: true, Text: "sign,answer,animal,times",
			Source: "una dependencia", Problems: []string{say.Say("Choose the file with the table first, or write the table into the field.")}, More: 2},
		"remains":             remainsPage{base: at(say.Say("The key to remains"), "/remains"), Key: keyViewOf(say, sampleKey), Versions: sampleKeys(say), Runs: true},
		"cooperative_map":     cooperativeMapPage{base: at(say.Say("%d of %d areas are on the map", 1, 2), "/areas/map"), Picture: outlineMark(say, shapes), Areas: []string{"Breaks"}, Kept: true},
		"cooperative_ranches": cooperativeRanchesPage{base: at(rosterTitle(say, 3, 2), "/ranches"), Owners: byOwner(st.ranches), Form: form},
		"cooperative_ranch": cooperativeRanchPage{base: at(say.Say("Change %s", "North Breaks"), "/ranches/r2"), Form: changed,
			People: []rosterPerson{{"p1", "Ada Marsh", say.Say(roleWords[access.Landowner]), false, true}, {"p3", "Bo Flat", say.Say(roleWords[access.Landowner]), true, false}}, Asked: true,
			Others: []rosterPerson{{"p2", "Luis Ortega", say.Say(roleWords[access.Hand]), false, false}}, Problem: say.Say("Choose who it is, then press the button again.")},
		"cooperative_introductions": cooperativeIntroductionsPage{base: at(introductionsTitle(say, requests), "/introductions"),
			Requests: []requestRow{{Introduction: request, Number: 1}, {Introduction: answered, Number: 2, Choice: answered.State, Words: answered.Reply}},
			Glad:     gladAreas([]postgres.Welcome{{Ranch: "Cottonwood Draw", Owner: "Ada Marsh"}}, members)},
		"cooperative_log": cooperativeLogPage{base: at(say.Count("%d alarm in the last 30 days", "%d alarms in the last 30 days", 1), "/log"),
			Alarms:  []alarmRow{{"Cass Reed", say.Say(string(access.Planner)), much(say, postgres.Alarm{InHour: true}), say.Day(sampleDay)}},
			Denials: []denialRow{{say.Say(deniedWords[deniedPage]), say.Say("not signed in"), 1, 2}}},
		"cooperative_bulletins": cooperativeBulletinsPage{base: at(say.Say("%d of %d bulletins are out", 1, 2), "/bulletins"), Seasons: bulletinSeasons(say, st, sampleDay), Form: proposed(st, sampleDay),
			Problem: say.Say("A season must open 14 days from today or later, so that everybody can read its dates first.")},
		"cooperative_edition": func() editionPage {
			page := newEditionPage(say, edition, groupsOf(say, append(sampleCells(), sampleFigures()...)), changes)
			page.base = at(editionWords(say, edition), "/bulletins/2026/1")
			return page
		}(),
		"changes": changesPage{base: at(say.Say("Seasons and changes"), "/changes"), Seasons: seasonRows(say, st.seasons), Changes: changes, Saved: true,
			Owners: []postgres.LandOwner{{ID: "e1", Name: "Bo Flat", Ranches: "Antelope Flat", Words: 2, Why: postgres.WhyCoordinators}, {ID: "e2", Name: "Ada Marsh", Ranches: "North Breaks", Words: 2, Mine: true, Settled: true}}},
		"cooperative_retract": retractPage{at(say.Say("Take back a figure of %d", 2026), "/bulletins/2026/retract"), 2026,
			retractChoices(say, []bulletin.Cell{{Season: 2026, Measure: bulletin.Survival28}, {Season: 2026, Measure: bulletin.ClumpsPerAcre}}, []postgres.TakingBack{{By: "Rosa Lind", Mine: true, At: sampleDay, Cell: bulletin.Cell{Season: 2026, Measure: bulletin.Survival28}}}), say.Say("Choose the figure to take back.")},
	}
}

// sampleChanges has one of each kind, and several at once of those that come in numbers.
func sampleChanges() []postgres.RosterChange {
	var list []postgres.RosterChange
	for _, kind := range []string{postgres.RanchAdded, postgres.RanchRenamed, postgres.RanchMoved, postgres.RanchOwner, postgres.RanchErased, postgres.AreaAdded, postgres.AreaRenamed, postgres.AreaGrouped, postgres.Vouched, postgres.VouchEnded, postgres.PaperYes,
		postgres.OwnerAsked, postgres.OwnerStays, postgres.OwnerOff, postgres.TakeBack, postgres.TakenBack, postgres.HeirRefused, postgres.PlaceEnded, postgres.RunnerStays} {
		list = append(list, postgres.RosterChange{At: sampleDay, By: "Rosa Lind", Kind: kind, What: "Antelope Flat", Was: "Sandhill", Became: "Breaks", Mine: kind == postgres.RanchMoved})
	}
	for _, kind := range []string{postgres.RanchAdded, postgres.AreaAdded, postgres.Vouched} {
		for _, what := range []string{"North Breaks", "Antelope Flat"} {
			list = append(list, postgres.RosterChange{At: sampleDay, By: "Marta Lind", Kind: kind, What: what, Became: "Ada Marsh"})
		}
	}
	const was, became = "2027-03-01 2027-09-01 2027-09-02 2027-09-15", "2027-03-02 2027-09-01 2027-09-02 2027-09-15"
	for _, x := range [][2]string{{"", was}, {was, became}, {became, ""}} {
		list = append(list, postgres.RosterChange{At: sampleDay, By: "Rosa Lind", Kind: postgres.SeasonDated, What: "2027", Was: x[0], Became: x[1]})
	}
	return append(list, postgres.RosterChange{At: sampleDay, Kind: postgres.RanchOwner, What: "Antelope Flat", Was: "Bo Flat", Became: "Ada Marsh"})
}

// sampleState is a small cooperative in which something of every kind waits.
func sampleState() cooperativeState {
	return cooperativeState{
		ranches: []postgres.Ranch{
			{ID: "r1", Name: "Cottonwood Draw", Owner: "Ada Marsh", Area: "Sandhill", Consent: 1},
			{ID: "r2", Name: "North Breaks", Owner: "Ada Marsh", Area: "Breaks"},
			{ID: "r3", Name: "Antelope Flat", Owner: "Bo Flat", Consent: 1},
		},
		members: []postgres.Member{{ID: "m1", Name: "Ada Marsh", Email: "ada@example.org", Phone: "555 0100", Role: access.Landowner, Ranches: []string{"Cottonwood Draw", "North Breaks"}}, {ID: "m2", Name: "Ruth Bell", Role: access.Biologist}},
		status: []postgres.Status{{Ranch: "r1", Season: 2026, SentAt: sampleDay, State: postgres.Current, Counts: true},
			{Ranch: "r3", Season: 2026, SentAt: sampleDay, State: postgres.Current, Counts: true}, {Ranch: "r3", Season: 2025, SentAt: sampleDay, State: postgres.Current, Counts: true}},
		bulletins:   []postgres.BulletinHead{{Season: 2025, Number: 2, PublishedAt: sampleDay}},
		editions:    []postgres.Edition{{Season: 2025, Edition: 2, CutAt: sampleDay, ComposedAt: sampleDay, Words: 2}, {Season: 2025, Edition: 1, CutAt: sampleDay, ComposedAt: sampleDay, PublishedAt: sampleDay}},
		seasons:     []postgres.Season{{Year: 2027, Opens: sampleDay.AddDate(0, 7, 0), CutOff: sampleDay.AddDate(1, 0, 0), Composed: sampleDay.AddDate(1, 0, 1), Published: sampleDay.AddDate(1, 0, 14)}, {Year: 2025, Opened: true}},
		requests:    []postgres.Introduction{{State: postgres.AskWaiting}},
		invitations: []postgres.Invitation{{State: "open", ExpiresAt: sampleDay.Add(time.Hour)}},
		alarms:      []postgres.Alarm{{At: sampleDay}},
		late:        []postgres.LateLine{{Ranch: "r1"}, {Ranch: "r1"}},
	}
}

// Everything that a coordinator can settle stands on their first page once, and leads to where it is settled.
func TestWaits(t *testing.T) {
	list, done := waits(words.Speaker{}, sampleState(), sampleDay)
	want := []waiting{
		{"1 person took much at once in the last week", "/cooperative/log"},
		{"The final revision of 2025 waits for your word", "/cooperative/bulletins/2025/2"},
		{"1 ranch is late with a check day", "/cooperative/late"},
		{"1 ranch has sent nothing for 2026", "/cooperative/uploads"},
		{"1 planner asks to be introduced", "/cooperative/introductions"},
		{"1 invitation is not taken up yet", "/cooperative/members"},
		{"1 ranch has nobody who can sign in for it", "/cooperative/members"},
		{"1 ranch is in no area", "/cooperative/ranches"},
		{"The season 2026 has no dates", "/cooperative/bulletins"},
	}
	if len(list) != len(want) {
		t.Fatalf("got %v, want %v", list, want)
	}
	for i, w := range want {
		if list[i] != w {
			t.Errorf("got %q, want %q", list[i], w)
		}
	}
	if len(done) != 1 || done[0] != "The bulletin of 2025 came out on August 4, 2026." {
		t.Errorf("done: %q", done)
	}
}

// What a press left behind in English is said in the reader's language, with its season or name in it.
func TestNoteWords(t *testing.T) {
	spanish := sampleServer(t).book.In(words.Spanish)
	for note, want := range map[string]string{
		"Nothing in the figures of 2026 has changed.": "No cambió nada en las cifras de 2026.",
		"Something of 2026 that no catalog has":       "Something of 2026 that no catalog has",
		"":                                            "",
	} {
		if got := noteWords(spanish, postgres.Edition{Season: 2026, Note: note}); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// plain is the text of a change without the marks around its names.
func plain(text string) string {
	return strings.NewReplacer(nameOpens, "", nameCloses, "").Replace(text)
}

// TestNamesEndWhereTheyEnd: each name in a change is an element of its own that isolates its direction, whatever is in it, and a name from
// before hidden characters were refused loses them.
func TestNamesEndWhereTheyEnd(t *testing.T) {
	rows := changesOf(words.Speaker{}, []postgres.RosterChange{{At: sampleDay, By: "rosa lind", Kind: postgres.RanchMoved, What: "Flat\u202e. Ada Marsh erased the ranch\u2069 X\n", Was: "<b>", Became: ""}})
	const want = "<bdi>rosa lind</bdi> moved the ranch <bdi>Flat. Ada Marsh erased the ranch X</bdi> to another area: from <bdi>&lt;b&gt;</bdi> to none."
	if got := string(isolated(rows[0].Text)); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// TestManyTimesADay: what one person did of one kind on one day is one row, with every change in it, in order and with its time; what is about
// the reader is not pushed down by it, nor put into it, and what another did is another row, also where people are not named.
func TestManyTimesADay(t *testing.T) {
	var list []postgres.RosterChange
	for i := range 480 {
		x := postgres.RosterChange{At: sampleDay.Add(-time.Duration(i) * time.Second), By: "Rosa Lind", ByNumber: 1, Kind: postgres.RanchMoved, What: fmt.Sprint("Decoy ", i), Was: "Sandhill", Became: "Breaks"}
		list = append(list, x)
		if i == 100 {
			x.What, x.Mine = "Antelope Flat", true
			list = append(list, x)
		}
		if i == 200 {
			x.What, x.By, x.ByNumber = "North Breaks", "Marta Lind", 2
			list = append(list, x)
		}
	}
	rows := changesOf(words.Speaker{}, list)
	if len(rows) != 3 || len(rows[0].All) != 480 || rows[1].All != nil || rows[2].All != nil || !rows[1].Mine || rows[0].Mine {
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	if got, want := plain(rows[0].Text), "480 changes of one kind. The last: Rosa Lind moved the ranch Decoy 0 to another area: from Sandhill to Breaks."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for i, text := range rows[0].All {
		at := list[0].At.Add(-time.Duration(479-i) * time.Second).Format("15:04")
		if got, want := plain(text), fmt.Sprintf("%s Rosa Lind moved the ranch Decoy %d to another area: from Sandhill to Breaks.", at, 479-i); got != want {
			t.Fatalf("change %d: got %q, want %q", i, got, want)
		}
	}
	two := changesOf(words.Speaker{}, []postgres.RosterChange{{At: sampleDay, ByPart: postgres.ByCoordinator, ByNumber: 1, Kind: postgres.AreaAdded, What: "One"}, {At: sampleDay, ByPart: postgres.ByCoordinator, ByNumber: 2, Kind: postgres.AreaAdded, What: "Two"}})
	if len(two) != 2 {
		t.Errorf("what two coordinators did is %d row", len(two))
	}
}

// TestNewcomersOfADay: the owners whom a coordinator brought in on one day are one row, in which each has a line.
func TestNewcomersOfADay(t *testing.T) {
	var list []postgres.RosterChange
	for _, x := range [][2]string{{"Ada Marsh", "North Breaks"}, {"Bo Flat", "Antelope Flat"}} {
		list = append(list, postgres.RosterChange{At: sampleDay, By: "Rosa Lind", Kind: postgres.FirstOwner, Was: x[0], What: x[1], New: true}, postgres.RosterChange{At: sampleDay, By: "Rosa Lind", Kind: postgres.RanchErased})
	}
	rows := changesOf(words.Speaker{}, list)
	if len(rows) != 2 || len(rows[0].All) != 2 {
		t.Fatalf("got %+v", rows)
	}
	if got, want := plain(rows[0].All[0]), sampleDay.Format("15:04")+" Bo Flat, whom Rosa Lind brought in or put there, came onto the ranch Antelope Flat as its owner."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// TestLinesThatWereMissing: how the changes read that say who came, whose words lapsed, which figure.
func TestLinesThatWereMissing(t *testing.T) {
	place := "Sandhill"
	for want, x := range map[string]postgres.RosterChange{
		"Ada Marsh (signs in as ada@example.org), whom Rosa Lind brought in or put there, came onto the ranch Antelope Flat as its owner.":                                                         {Kind: postgres.FirstOwner, By: "Rosa Lind", What: "Antelope Flat", Was: "Ada Marsh", Address: "ada@example.org"},
		"Rosa Lind put Luis Ortega on the ranch Antelope Flat as a hand, who sees nothing of it before an owner’s yes.":                                                                            {Kind: postgres.Placed, By: "Rosa Lind", What: "Antelope Flat", Was: "Luis Ortega", Became: postgres.PlacedWaiting},
		"Rosa Lind vouched for the owner of the ranch Antelope Flat, who does not sign in.":                                                                                                        {Kind: postgres.Vouched, By: "Rosa Lind", What: "Antelope Flat", Became: postgres.OnPaper},
		"The words of Rosa Lind for the owner of the ranch Antelope Flat have lapsed: they were for somebody who does not sign in, and now Ada Marsh does. Two people must vouch for that person.": {Kind: postgres.VouchLapsed, What: "Antelope Flat", Was: "Ada Marsh", Became: "Rosa Lind"},
		"Rosa Lind made a code that helps Ada Marsh sign in.":                                                                                                                                      {Kind: postgres.CodeMade, By: "Rosa Lind", What: "Ada Marsh"},
		"Rosa Lind took away the map of the areas.":                                                                                                                                                {Kind: postgres.MapSet, By: "Rosa Lind", What: "Sandhill"},
		"Rosa Lind would take back a figure of 2026: Sandhill: Clumps an acre.":                                                                                                                    {Kind: postgres.TakeBack, By: "Rosa Lind", What: "2026", Figure: &bulletin.Cell{Area: &place, Measure: bulletin.ClumpsPerAcre}},
	} {
		x.At = sampleDay
		if rows := changesOf(words.Speaker{}, []postgres.RosterChange{x}); len(rows) != 1 || plain(rows[0].Text) != want {
			t.Errorf("got %+v, want %q", rows, want)
		}
	}
}

// TestFiguresHaveNames: a figure that was taken back is named in words, whatever it was of and without its value.
func TestFiguresHaveNames(t *testing.T) {
	measures := []string{bulletin.Survival28, bulletin.SurvivalAt, bulletin.ClumpsPerAcre, bulletin.PredatorShare, bulletin.SignShare, bulletin.DesignEffect, bulletin.OwnerSpread, bulletin.MixWeight,
		bulletin.FitsWeeks, bulletin.FitsPeriods, bulletin.FitsLines}
	for _, measure := range slices.Concat(measures, bulletin.QualityMeasures, bulletin.LeftMeasures) {
		cell := bulletin.Cell{Season: 2026, Measure: measure}
		if measure == bulletin.SurvivalAt {
			cell.Clumps = new(300.0)
		}
		if got := figureName(words.Speaker{}, cell); strings.Contains(got, "_") || strings.Contains(got, "%!") || !strings.HasPrefix(got, "whole cooperative: ") {
			t.Errorf("%s is named %q", measure, got)
		}
	}
}

// TestChangesWithoutNames: who reads no names reads a coordinator or a member, and never that somebody else stopped being one.
func TestChangesWithoutNames(t *testing.T) {
	for want, x := range map[string]postgres.RosterChange{
		"A coordinator added the area Sandhill.":                                                                      {Kind: postgres.AreaAdded, What: "Sandhill"},
		"A coordinator brought in a member as a coordinator.":                                                         {Kind: postgres.RunnerCame},
		"A member is a coordinator no longer.":                                                                        {Kind: postgres.RunnerGone},
		"A coordinator let a member in again after a suspension.":                                                     {Kind: postgres.LetIn},
		"A coordinator stays a coordinator: their no ended the asking.":                                               {Kind: postgres.RunnerStays},
		"A member stays a coordinator: the asking ended when they were suspended.":                                    {Kind: postgres.RunnerStays, Was: "suspended"},
		"A figure of 2026 was taken back; the last yes was of a coordinator.":                                         {Kind: postgres.TakenBack, What: "2026"},
		"A coordinator said the second yes to the suspension of a member: it lasts until a coordinator lets them in.": {Kind: postgres.SuspendedOn},
	} {
		x.At, x.ByPart = sampleDay, postgres.ByCoordinator
		if rows := changesOf(words.Speaker{}, []postgres.RosterChange{x}); len(rows) != 1 || plain(rows[0].Text) != want {
			t.Errorf("got %+v, want %q", rows, want)
		}
	}
}

// The coordinator's first page speaks of the season that is open, whatever year somebody wrote on a sheet.
func TestNewestSeason(t *testing.T) {
	of := func(year int, opens, cut int) postgres.Season {
		return postgres.Season{Year: year, Opens: sampleDay.AddDate(0, opens, 0), CutOff: sampleDay.AddDate(0, cut, 0)}
	}
	sheet := []postgres.Status{{Season: sampleDay.Year()}, {Season: sampleDay.Year() + 1}}
	year := sampleDay.Year()
	for name, tt := range map[string]struct {
		seasons []postgres.Season
		status  []postgres.Status
		want    int
	}{
		"one is open":                     {[]postgres.Season{of(year, -2, 2), of(year+1, 10, 14)}, sheet, year},
		"one is open over the year's end": {[]postgres.Season{of(year-1, -2, 2)}, sheet, year - 1},
		"none is open":                    {[]postgres.Season{of(year-1, -14, -10), of(year+1, 3, 14)}, nil, year - 1},
		"none has opened":                 {[]postgres.Season{of(year+1, 3, 14)}, nil, year + 1},
		"none has dates":                  {nil, sheet, year},
		"nothing is there":                {nil, nil, year},
	} {
		if got := newestSeason(tt.seasons, tt.status, sampleDay); got != tt.want {
			t.Errorf("%s: %d, want %d", name, got, tt.want)
		}
	}
}
