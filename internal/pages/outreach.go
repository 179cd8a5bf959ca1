package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// outreachPage shows where a field day is worth it: the newest bulletin's places on a map and as a table.
//
// Whoever reads it, it holds what may be told outside the cooperative and nothing more: a coordinator, who may see
// figures on five landowners, sees here only those on ten.
type outreachPage struct {
	base
	Empty    bool // no bulletin yet
	Head     postgres.BulletinHead
	Seasons  []navLink // the newest first
	Lead     string
	Places   []outreachPlace // those of areas; the whole cooperative stands apart
	Whole    outreachPlace
	Legend   []legendRow
	Tiles    template.HTML
	Options  template.JS // of the map; "" without outlines
	Asks     bool        // the reader may ask to be introduced
	Runs     bool        // the reader keeps the map
	Method   []string
	Outlined bool
	Marks    string // what cover and nests are held against
}

// An outreachPlace is one published place, with what may be told of it outside.
type outreachPlace struct {
	say               words.Speaker
	Label, Name, Slug string // Label is "" for the whole cooperative
	Areas             []string
	Lasted, Cover     regionRow
	Limits            limitsView
	Query             string // "?season=2024" where it is not the newest
}

// A tableCell is a figure under a heading that says of what: "56" and "48–64".
type tableCell struct{ Figure, Range string }

// Shown tells whether there is anything to tell.
func (p outreachPlace) Shown() bool { return p.Lasted.Shown || p.Cover.Shown || p.Limits.Shown }

// Path is the place's page, in the season in front.
func (p outreachPlace) Path() string { return "/outreach/" + p.Slug + p.Query }

// Poster is the sheet of paper about the place.
func (p outreachPlace) Poster() string { return "/outreach/" + p.Slug + "/poster" + p.Query }

// Picture is the poster as a file.
func (p outreachPlace) Picture() string { return "/outreach/" + p.Slug + "/poster.svg" + p.Query }

// inLanguage is the poster, as a page or a file, in a language that need not be the reader's.
func (p outreachPlace) inLanguage(file string, t words.Language) string {
	mark := "?"
	if p.Query != "" {
		mark = "&"
	}
	return "/outreach/" + p.Slug + "/" + file + p.Query + mark + "in=" + string(t)
}

// All is the list of places, in the same season.
func (p outreachPlace) All() string { return "/outreach" + p.Query }

// In begins a sentence about the place.
func (p outreachPlace) In() string {
	if p.Label == "" {
		return p.say.Say("Across the cooperative")
	}
	return p.say.Say("In %s", p.Name)
}

type legendRow struct {
	Swatch template.HTML
	Words  string
}

// outreachData is what the outreach pages are made from, loaded in one transaction.
type outreachData struct {
	say         words.Speaker
	cooperative string
	heads       []postgres.BulletinHead // the newest first
	head        postgres.BulletinHead   // of the season in front; its Season is 0 without one
	cells       []bulletin.Cell         // of all seasons, those that may be told outside
	places      []bulletin.Place
	areas       []postgres.Area
	shapes      []geo.Named
	marks       findings.Marks
}

// outreachData loads the season that the query asks for, the newest where it asks for none. A season without a bulletin is
// NotFound, in the words of any other page that does not exist.
func (s *server) outreachData(c *fiber.Ctx, a access.Actor) (d outreachData, err error) {
	d.say = s.speaker(c)
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if d.heads, err = tx.Bulletins(); err != nil || len(d.heads) == 0 {
			return err
		}
		slices.SortFunc(d.heads, func(x, y postgres.BulletinHead) int { return cmp.Compare(y.Season, x.Season) })
		season, err := seasonInFront(c.Query("season"), d.heads)
		if err != nil {
			return err
		}
		d.head = d.heads[slices.IndexFunc(d.heads, func(h postgres.BulletinHead) bool { return h.Season == season })]
		if d.cells, err = tx.Cells(0); err != nil {
			return err
		}
		if d.marks, err = tx.Marks(d.head.Season); err != nil {
			return err
		}
		if d.places, err = tx.Places(d.head.Season); err != nil {
			return err
		}
		if d.areas, err = tx.Areas(); err != nil {
			return err
		}
		if d.shapes, err = tx.Shapes(); err != nil {
			return err
		}
		d.cooperative, err = tx.CooperativeName()
		return err
	})
	d.cells = toldOutside(d.cells)
	return d, err
}

// toldOutside leaves out what rests on fewer than ten landowners: it does not leave the cooperative, whoever prints it. A
// coordinator reads such cells; for a planner they are not there. Where one place's is left out, so are the other places' of
// that measure and season: with the whole they would tell it.
func toldOutside(cells []bulletin.Cell) []bulletin.Cell {
	type group struct {
		season             int
		measure, substrate string
	}
	of := func(c bulletin.Cell) group { return group{c.Season, c.Measure, text(c.Substrate)} }
	short := map[group]bool{}
	for _, c := range cells {
		if c.Area != nil && c.Entities == fewest {
			short[of(c)] = true
		}
	}
	return slices.DeleteFunc(cells, func(c bulletin.Cell) bool { return c.Entities == fewest || c.Area != nil && short[of(c)] })
}

// staysInside is one sentence for everything that is not shown, whatever the reason: the reason says something about the
// ranches behind it.
var staysInside = words.Mark("a figure that too few landowners stand behind, or that would say too much of one, stays inside the cooperative")

// fewest is the band of cells that only those who contribute or run the cooperative see.
const fewest = "5-9"

func (s *server) outreach(c *fiber.Ctx, a access.Actor) error {
	d, err := s.outreachData(c, a)
	if err != nil {
		return err
	}
	page := outreachPage{Marks: d.say.Say("Cover is held against %.0f clumps an acre and nests against %.0f of 100 lasting: %s.", d.marks.Cover, 100*d.marks.Hope, marksFrom(d.say, d.marks)), base: s.base(c, a, d.say.Say(worthIt)), Empty: d.head.Season == 0, Head: d.head,
		Asks: a.Role.Has(access.AskIntroduction), Runs: a.Role.Has(access.RunCooperative), Outlined: len(d.shapes) > 0}
	if page.Empty {
		return s.render(c, fiber.StatusOK, "outreach", page)
	}
	all := d.outreachPlaces()
	page.Whole, page.Places = all[0], all[1:]
	page.Seasons = d.seasons("/outreach")
	page.Title, page.Lead = outreachTitle(d.say, page.Places, d.head.Season)
	page.Method = d.tableMethod(all)
	page.Legend = legend(d.say, page.Places)
	page.Tiles = tiles(d.say, page.Places)
	if page.Outlined {
		if page.Options, err = outreachMap(d.say, page.Places, page.Title); err != nil {
			return err
		}
		page.Charts = true
	}
	return s.render(c, fiber.StatusOK, "outreach", page)
}

// outreachOutlines hands the chart script the areas' outlines as GeoJSON.
func (s *server) outreachOutlines(c *fiber.Ctx, a access.Actor) error {
	var list []geo.Named
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Shapes()
		return err
	})
	if err != nil {
		return err
	}
	out, err := geo.Collection(list)
	if err != nil {
		return fmt.Errorf("write outlines: %w", err)
	}
	c.Set(fiber.HeaderContentType, "application/geo+json")
	return c.Send(out)
}

// outreachPlaces lays out the whole cooperative first, then each published place, neighbors beside each other. An area
// that is in no published place stands by itself, as one of which nothing is shown.
func (d *outreachData) outreachPlaces() []outreachPlace {
	group := map[string]string{}
	labels := map[string]string{}
	for _, p := range d.places {
		labels[p.Area] = p.Label
	}
	list := []outreachPlace{{Name: d.say.Say(wholeCooperative), Slug: "cooperative"}}
	for _, area := range d.areas {
		group[area.Name] = area.Group
		label := cmp.Or(labels[area.Name], area.Name)
		at := slices.IndexFunc(list, func(p outreachPlace) bool { return p.Label == label })
		if at < 0 {
			at = len(list)
			list = append(list, outreachPlace{Label: label})
		}
		list[at].Areas = append(list[at].Areas, area.Name)
	}
	for _, p := range d.places { // of areas that have another name by now
		if p.Label != "" && !slices.ContainsFunc(list, func(x outreachPlace) bool { return x.Label == p.Label }) {
			list = append(list, outreachPlace{Label: p.Label, Areas: []string{p.Area}})
		}
	}
	slices.SortStableFunc(list[1:], func(a, b outreachPlace) int {
		return cmp.Or(strings.Compare(group[a.Areas[0]], group[b.Areas[0]]), strings.Compare(a.Label, b.Label))
	})
	used := map[string]bool{"cooperative": true, "introductions": true}
	for i := range list {
		p := &list[i]
		p.say, p.Query = d.say, d.query()
		if i > 0 {
			p.Slug, p.Name = pathWord(p.Label, used), d.say.List(strings.Split(p.Label, " + "))
		}
		lasted, _ := findCell(d.cells, d.head.Season, p.Label, "", bulletin.Survival28, "")
		cover, _ := findCell(d.cells, d.head.Season, p.Label, "", bulletin.ClumpsPerAcre, "")
		p.Lasted, p.Cover = rateRow(d.say, p.Name, lasted), densityRow(d.say, p.Name, cover)
		p.Limits = limitsOf(d.say, d.cells, d.head.Season, p.Label, besides(list, i), d.marks)
	}
	return list
}

// besides lists the places that are spoken of in one breath with the one at i: the areas, or the whole cooperative alone.
func besides(list []outreachPlace, i int) (labels []string) {
	if i == 0 {
		return []string{list[0].Label}
	}
	for _, p := range list[1:] {
		labels = append(labels, p.Label)
	}
	return labels
}

// region is the same as the region's pages have it.
func (d *outreachData) region() regionData {
	return regionData{say: d.say, heads: d.heads, cells: d.cells, season: d.head.Season, marks: d.marks}
}

// query is what a link carries to stay in the season in front; "" in the newest.
func (d *outreachData) query() string {
	if len(d.heads) == 0 || d.head.Season == d.heads[0].Season {
		return ""
	}
	return fmt.Sprintf("?season=%d", d.head.Season)
}

// seasons lists the seasons of a path, the newest first; nil where there is only one.
func (d *outreachData) seasons(path string) []navLink {
	if len(d.heads) < 2 {
		return nil
	}
	links := make([]navLink, len(d.heads))
	for i, h := range d.heads {
		links[i] = navLink{fmt.Sprint(h.Season), fmt.Sprintf("%s?season=%d", path, h.Season), h.Season == d.head.Season}
	}
	return links
}

// find returns the place of a path, or NotFound in the words of any other page that does not exist.
func (d *outreachData) find(word string) (outreachPlace, error) {
	all := d.outreachPlaces()
	i := slices.IndexFunc(all, func(p outreachPlace) bool { return p.Slug == word })
	if i < 0 || d.head.Season == 0 {
		return outreachPlace{}, errNothing
	}
	return all[i], nil
}

// pathWord is how a place is named in a path. used keeps the paths apart.
func pathWord(name string, used map[string]bool) string {
	plain := slug(name)
	word := plain
	for n := 2; used[word]; n++ {
		word = fmt.Sprintf("%s-%d", plain, n)
	}
	used[word] = true
	return word
}

// outreachTitle says what the season gives a planner to talk about, without putting places in an order.
func outreachTitle(say words.Speaker, places []outreachPlace, season int) (title, lead string) {
	shown, short := 0, 0
	for _, p := range places {
		if !p.Limits.Shown {
			continue
		}
		shown++
		if p.Limits.Verdict == shortOfCover {
			short++
		}
	}
	switch {
	case shown == 0:
		return say.Say(worthIt), say.Say("What holds nests back in %d is not shown for any one area. What is known holds for the cooperative as a whole.", season)
	case short == shown && shown == 2:
		return say.Say("Cover is short in both areas that can be shown"), say.Say(openOne)
	case short == shown && shown > 1:
		return say.Say("Cover is short in all %s areas that can be shown", inWords(say, shown)), say.Say(openOne)
	case short > 1:
		return say.Say("Cover is short in %s of the %s areas that can be shown", inWords(say, short), inWords(say, shown)), say.Say(openOne)
	case short == 1 && shown > 1:
		return say.Say("Cover is short in one of the %s areas that can be shown", inWords(say, shown)), say.Say(openOne)
	}
	return say.Say(worthIt), say.Say(openOne)
}

var (
	worthIt = words.Mark("Where is a field day worth it?")
	openOne = words.Mark("Open an area for a sentence that holds, the talk that fits it, and a poster.")
)

var numerals = []string{words.Mark("two"), words.Mark("three"), words.Mark("four"), words.Mark("five"), words.Mark("six"), words.Mark("seven"), words.Mark("eight"), words.Mark("nine"), words.Mark("ten")}

// inWords writes small numbers from two on out, as prose has them.
func inWords(say words.Speaker, n int) string {
	if n-2 < len(numerals) {
		return say.Say(numerals[n-2])
	}
	return fmt.Sprint(n)
}

// tableMethod is how the figures of the map and the table are made.
func (d *outreachData) tableMethod(places []outreachPlace) []string {
	season := d.head.Season
	var counts, bands []string
	for _, p := range places {
		for _, measure := range []string{bulletin.Survival28, bulletin.ClumpsPerAcre} {
			if c, ok := findCell(d.cells, season, p.Label, "", measure, ""); ok {
				counts = countsOf(d.say, counts, p.Label, c.Basis)
			}
		}
		if band := d.behind(p.Label); band != "" {
			bands = append(bands, placeTitle(d.say, p.Label)+": "+band)
		}
	}
	say := d.say
	method := []string{say.Say("Lasted: %s", say.Say(methodSurvival)), say.Say("Clumps an acre: %s", say.Say(methodCover))}
	method = append(method, say.TellAll(limitsWords(say, d.marks))...)
	return append(method, say.Say(methodRange), say.Say(methodRates), bases(say, counts), landowners(say, bands), frozenLine(say, d.heads, season))
}

// legend lists the patterns that occur on the map.
func legend(say words.Speaker, places []outreachPlace) []legendRow {
	var rows []legendRow
	has := func(fill chart.Fill) bool {
		return slices.ContainsFunc(places, func(p outreachPlace) bool { return p.Limits.Fill == fill })
	}
	for _, v := range verdicts {
		if has(v.fill) {
			rows = append(rows, legendRow{share{Fill: string(v.fill)}.Swatch(), say.Say(v.words)})
		}
	}
	if has(chart.Hatched) {
		rows = append(rows, legendRow{share{Fill: string(chart.Hatched)}.Swatch(), say.Say("Not shown: %s", say.Say(staysInside))})
	}
	return rows
}

// outreachMap draws the places in the outlines that outreachOutlines hands out. Areas that are published together look
// alike and have one number.
func outreachMap(say words.Speaker, places []outreachPlace, title string) (template.JS, error) {
	var regions []chart.Region
	for _, p := range places {
		for _, area := range p.Areas {
			regions = append(regions, chart.Region{Name: area, Label: area + "\n" + p.Lasted.Cell.Figure, Words: p.Words(), Path: p.Path(), Fill: p.Limits.Fill})
		}
	}
	return chart.Map(regions, title+" "+say.Say("The numbers follow as a table."))
}

// Words say what the map shows of the place.
func (p outreachPlace) Words() string {
	if !p.Shown() {
		return p.Name + ": " + p.say.Say(notShown)
	}
	w := p.Name + ": " + p.say.Say("%s lasted four weeks", p.Lasted.Figure)
	if !p.Lasted.Shown {
		w = p.Name
	}
	if p.Cover.Shown {
		w += "\n" + p.say.Say("%s clumps an acre", p.Cover.Figure)
	}
	if p.Limits.Shown {
		w += "\n" + p.Limits.Words
		if p.Limits.Sure != "" {
			w += " (" + p.Limits.Sure + ")"
		}
	}
	return w
}

// tiles draws the places as equal tiles in rows of two, neighbors beside each other: a map for a cooperative without
// outlines, and for a browser without scripts.
func tiles(say words.Speaker, places []outreachPlace) template.HTML {
	const width, height, gap = 156.0, 96.0, 8.0
	var b strings.Builder
	for i, p := range places {
		x, y := float64(i%2)*(width+gap), float64(i/2)*(height+gap)
		w := width
		if i == len(places)-1 && i%2 == 0 {
			w = 2*width + gap
		}
		lines := wrap(p.Name, int(w/8.6))
		if len(lines) > 3 {
			lines = append(lines[:2], lines[2]+" …")
		}
		plate := 26 + 15*float64(len(lines))
		top := y + (height-plate)/2
		fmt.Fprintf(&b, `<rect class="piece" x="%s" y="%s" width="%s" height="%s" rx="3" fill="url(#fill-%s)"/><rect class="plate" x="%s" y="%s" width="%s" height="%s" rx="3"/>`,
			num(x+1), num(y+1), num(w-2), num(height-2), p.Limits.Fill, num(x+12), num(top), num(w-24), num(plate))
		for j, line := range lines {
			fmt.Fprintf(&b, `<text class="tile-name" x="%s" y="%s">%s</text>`, num(x+w/2), num(top+15+15*float64(j)), template.HTMLEscapeString(line))
		}
		fmt.Fprintf(&b, `<text x="%s" y="%s">%s</text>`, num(x+w/2), num(top+plate-8), template.HTMLEscapeString(p.Lasted.Figure))
	}
	rows := float64((len(places) + 1) / 2)
	return svg("tiles", 2*width+gap, rows*(height+gap)-gap, say.Say("The areas as tiles. The numbers follow as a table."), b.String())
}

// wrap breaks a text into lines of at most so many letters, where there is a space to break at.
func wrap(text string, most int) []string {
	var lines []string
	for _, word := range strings.Fields(text) {
		last := len(lines) - 1
		if last >= 0 && len([]rune(lines[last]))+1+len([]rune(word)) <= most {
			lines[last] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}
