package pages

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// keysPage is where somebody who holds a filled sheet says which line it is of, or sends photos of it.
type keysPage struct {
	base
	Seasons  []paperSeason
	Problem  string
	Problems []string   // of photos that were sent
	Read     []lineRead // the lines that the photos were of
}

// keys shows the lines; with ?code=… as printed on a sheet it goes to that line.
func (s *server) keys(c *fiber.Ctx, a access.Actor) error {
	page := s.keysPage(c, a)
	typed := c.Query("code")
	if code := sheetCode(typed); code != "" {
		return s.see(c, "/key/"+code)
	}
	if typed != "" {
		page.Problem = page.Say.Say("That is not a code of ours: six letters and digits, upper right on the sheet.")
	}
	err := s.DB.As(c.UserContext(), a, page.load)
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "keys", page)
}

func (s *server) keysPage(c *fiber.Ctx, a access.Actor) keysPage {
	page := keysPage{base: s.base(c, a, s.speaker(c).Say("Key a filled sheet"))}
	page.Here = "/key"
	return page
}

func (p *keysPage) load(tx *postgres.Tx) (err error) {
	p.Seasons, err = plannedSeasons(tx)
	return err
}

// sheetCode returns the line's code in what was typed, or in what stands behind /key/ in the QR code of a sheet; "" for none.
func sheetCode(typed string) string {
	code, _, _ := strings.Cut(typed, ".")
	return season.Code(code)
}

// keyPage mirrors a paper sheet row for row.
type keyPage struct {
	base
	Line     season.Line
	Ranch    string
	Days     []keyDay
	Columns  []keyColumn // of the nests
	Rows     []keyRow
	Signs    []keyColumn // of the remains
	Remains  []keyRow
	Others   []keyRow // nests looked at on another day
	Strip    []keyCell
	Tally    []keyTally
	Out      []keyCell
	Legends  []keyLegend
	Slips    []keyCell // boxes that cannot be, with why
	Seen     string    // what was kept when the page was made
	Sheet    bool      // of base: not printed
	Phones   int       // looks that came from phones
	Drafted  bool      // what is shown was typed and not kept
	Kept     string    // what the last keeping did
	Refused  string    // why what was typed is not kept
	Stale    bool      // somebody else kept something meanwhile
	Stops    []int     // those keyed again
	Agains   []postgres.KeyedAgain
	Photos   []access.ID
	Problems []string // of photos that were sent
	Results  string   // where it is counted

	Look  []keyLook  // what a person has to look at, by page of the sheet
	Shown []keyPhoto // the photos of what is looked at
	Clear int        // answers read from photos that need no second look
	Empty bool       // whether places with handwriting may stay empty
}

// A keyDay is one of the days over the blocks.
type keyDay struct {
	Title, Planned string
	On, Who        keyCell
}

type keyColumn struct {
	Label, Short string
	Group        string
}

type keyRow struct {
	Stop  int
	Cells []keyCell
}

// A keyCell is one box to type into.
type keyCell struct {
	Name, Value string
	Label       string // spoken
	Class       string
	Mode        string // of a phone's keyboard
	Date        bool
	Most        int
	Slip        string
	Apart       bool   // stands among what is looked at, not in its table
	Hint        string // what its numbers stand for, there
}

type keyTally struct {
	Label, Drawing string
	Count, Again   keyCell
}

type keyLegend struct {
	Label   string
	Choices []keyChoice
}

type keyChoice struct {
	N              int
	Label, Drawing string
}

// keyed is a line's sheet as the handlers load it.
type keyed struct {
	line   season.Line
	ranch  string
	looks  []fieldwork.Look
	draft  fieldwork.Draft
	agains []postgres.KeyedAgain
}

func (s *server) loadKeyed(c *fiber.Ctx, a access.Actor) (keyed, error) {
	var k keyed
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if k.line, err = tx.LineOfCode(c.Params("line")); err != nil {
			return err
		}
		r, err := tx.Ranch(k.line.Ranch)
		if err != nil {
			return err
		}
		k.ranch = r.Name
		if err := tx.Took(k.line.Ranch, postgres.LookKeyed, k.line.Name); err != nil {
			return err
		}
		if k.looks, err = tx.Looks(k.line.Ranch, k.line.Season); err != nil {
			return err
		}
		if k.draft, err = tx.KeyDraft(k.line); err != nil {
			return err
		}
		k.agains, err = tx.KeyedAgain(k.line)
		return err
	})
	return k, err
}

// paper returns the looks that were keyed, and a word that changes where they do.
func (k *keyed) paper() (looks []fieldwork.Look, seen string) {
	looks = fieldwork.FromPaper(k.line.ID, k.looks)
	h := sha256.New()
	for i := range looks {
		h.Write([]byte(looks[i].ID))
	}
	return looks, hex.EncodeToString(h.Sum(nil)[:8])
}

// key shows a line's sheet: what was typed and not kept, or else what is kept.
func (s *server) key(c *fiber.Ctx, a access.Actor) error {
	if code := c.Params("line"); strings.Contains(code, ".") { // as the QR code of a sheet has it
		return s.see(c, "/key?code="+url.QueryEscape(sheetCode(code)))
	}
	k, err := s.loadKeyed(c, a)
	if err != nil {
		return err
	}
	looks, seen := k.paper()
	boxes := fieldwork.KeyedOf(k.line, looks)
	var slips []fieldwork.Slip
	switch {
	case len(k.draft.Photos) > 0: // read, and not looked at yet
		boxes = k.draft.Boxes
	case !k.draft.Empty():
		boxes = k.draft.Boxes
		_, slips = boxes.Looks(k.line, survey.DateFrom(s.Now().UTC()))
	case len(looks) == 0:
		for i, check := range k.line.Checks() {
			boxes[fmt.Sprintf("on%d", i+1)] = check.On.String()
		}
	}
	page := s.keyPage(c, a, &k, boxes, slips)
	page.Seen, page.Drafted = seen, !k.draft.Empty()
	if n, err := strconv.Atoi(c.Query("kept")); err == nil && n > 0 {
		page.Kept = page.Say.Count("%d look is new or mended.", "%d looks are new or mended.", n)
	} else if c.Query("kept") == "0" {
		page.Kept = page.Say.Say("All of it was kept already.")
	}
	return s.render(c, fiber.StatusOK, "key", page)
}

// keepKeyed keeps a sheet whole, or shows it again with what cannot be; what was typed is never lost.
func (s *server) keepKeyed(c *fiber.Ctx, a access.Actor) error {
	k, err := s.loadKeyed(c, a)
	if err != nil {
		return err
	}
	boxes := typedBoxes(c, k.line)
	sheet, slips := boxes.Looks(k.line, survey.DateFrom(s.Now().UTC()))
	empty := c.FormValue("empty") != ""
	if !empty {
		slips = append(slips, unkeyed(k.draft.Photos, boxes)...)
	}
	_, seen := k.paper()
	stale := c.FormValue("seen") != seen
	draft := c.FormValue("later") != ""
	if draft || stale || len(slips) > 0 {
		err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
			return tx.SaveKeyDraft(k.line, fieldwork.Draft{Boxes: boxes, Photos: k.draft.Photos})
		})
		if err != nil {
			return err
		}
		page := s.keyPage(c, a, &k, boxes, slips)
		page.Seen, page.Drafted, page.Stale, page.Empty = seen, true, stale, empty
		if draft {
			page.Slips = nil
			return s.render(c, fiber.StatusOK, "key", page)
		}
		return s.render(c, fiber.StatusUnprocessableEntity, "key", page)
	}
	kept := 0
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		add := fieldwork.Rekey(k.line.ID, k.looks, sheet, a.Person, s.Now())
		kept = len(slices.DeleteFunc(slices.Clone(add), func(l fieldwork.Look) bool { return l.Kind == fieldwork.Undo }))
		if kept == 0 {
			kept = len(add)
		}
		if _, err := tx.KeepLooks(add); err != nil {
			return err
		}
		return tx.SaveKeyDraft(k.line, fieldwork.Draft{})
	})
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Invalid) { // such as a row of somebody else's that would go
		err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
			return tx.SaveKeyDraft(k.line, fieldwork.Draft{Boxes: boxes, Photos: k.draft.Photos})
		})
		if err != nil {
			return err
		}
		page := s.keyPage(c, a, &k, boxes, nil)
		page.Seen, page.Drafted, page.Empty, page.Refused = seen, true, empty, message
		return s.render(c, fiber.StatusUnprocessableEntity, "key", page)
	}
	if err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/key/%s?kept=%d", k.line.Code, kept))
}

// typedBoxes takes the boxes of a sheet out of a form, and nothing else.
func typedBoxes(c *fiber.Ctx, l season.Line) fieldwork.Keyed {
	k := fieldwork.Keyed{}
	for _, name := range boxNames(l) {
		if v := strings.TrimSpace(c.FormValue(name)); v != "" {
			k[name] = strings.ToValidUTF8(strings.ReplaceAll(v, "\x00", ""), "")
		}
	}
	return k
}

// Boxes that stand once on a sheet.
func lineBoxes() []string {
	list := []string{"on1", "who1", "on2", "who2", "on3", "who3", "who4", "second_who", "who6", "belt_on", "out_on", "belt_wide_ft", "belt_long_ft", "paces", "pace_ft", "pace.1", "pace.2", "pace.3"}
	for _, kind := range tallied() {
		list = append(list, "count_"+kind, "again_"+kind)
	}
	for _, item := range fieldwork.Items {
		list = append(list, item+"_out")
	}
	return list
}

func tallied() []string { return append(slices.Clone(fieldwork.Covers), "maybe") }

func boxNames(l season.Line) []string {
	list := lineBoxes()
	for i := 1; i <= fieldwork.OtherDays; i++ {
		list = append(list, fmt.Sprintf("other_stop.%d", i), fmt.Sprintf("other_day.%d", i), fmt.Sprintf("other_on.%d", i))
	}
	for stop := 1; stop <= l.Stops; stop++ {
		for _, name := range append(fieldwork.RowBoxes(), fieldwork.RemainsBoxes()...) {
			list = append(list, fmt.Sprintf("%s.%d", name, stop))
		}
	}
	return list
}

// A keySheet makes the cells of one page from what is typed and what is wrong with it.
type keySheet struct {
	say   words.Speaker
	boxes fieldwork.Keyed
	slips map[string]string
	apart map[string]bool
}

func newKeySheet(say words.Speaker, boxes fieldwork.Keyed, slips []fieldwork.Slip, photos []fieldwork.SheetPhoto) *keySheet {
	k := &keySheet{say, boxes, map[string]string{}, map[string]bool{}}
	for _, p := range photos {
		for _, box := range p.Doubts {
			k.apart[box] = true
		}
	}
	for _, slip := range slips {
		if k.slips[slip.Box] == "" {
			k.slips[slip.Box] = say.Say(slip.Text, slip.Args...)
		}
	}
	return k
}

func (k *keySheet) cell(name, label, class string) keyCell {
	cell := keyCell{Name: name, Value: k.boxes[name], Label: label, Class: class, Most: 200, Slip: k.slips[name], Apart: k.apart[name]}
	switch class {
	case "one":
		cell.Most, cell.Mode = 2, "numeric"
	case "number":
		cell.Most, cell.Mode = 8, "decimal"
	case "day":
		cell.Date = true
	case "who":
		cell.Most = 20
	case "note":
		cell.Most = 500
	}
	return cell
}

// keyWidths gives the boxes of a row their kind.
var keyClasses = map[string]string{"cover": "cover", "place": "place", "note": "note", "trace": "place", "guess": "place", "found2": "letter", "found3": "letter"}

func keyClass(box string) string { return cmp.Or(keyClasses[box], "one") }

// boxLabel returns what a box of a row is called, in English.
func boxLabel(box string) (label, group string) {
	column := strings.TrimRight(box, "23")
	group = map[byte]string{'2': words.Mark("Week 2"), '3': words.Mark("Week 4")}[box[len(box)-1]]
	if group == "" && slices.Contains(fieldwork.RowBoxes(), box) && box != "note" {
		group = words.Mark("Set out")
	}
	column = cmp.Or(map[string]string{"eggs": "eggs_set", "found": "found", "left": "eggs_left", "how": "lost_how", "fresh": "eggs_fresh_put"}[column], column)
	return fieldwork.Label(column), group
}

func (k *keySheet) columns(boxes []string) []keyColumn {
	var list []keyColumn
	for _, box := range boxes {
		label, group := boxLabel(box)
		list = append(list, keyColumn{Label: k.say.Say(label), Group: group})
	}
	return list
}

func (k *keySheet) rows(boxes []string, stops []int) []keyRow {
	var rows []keyRow
	for _, stop := range stops {
		row := keyRow{Stop: stop}
		for _, box := range boxes {
			row.Cells = append(row.Cells, k.cell(fmt.Sprintf("%s.%d", box, stop), boxPlace(k.say, box, stop), keyClass(box)))
		}
		rows = append(rows, row)
	}
	return rows
}

func (k *keySheet) days(l season.Line) []keyDay {
	days := []keyDay{{Title: k.say.Say("Set out")}, {Title: k.say.Say("Week 2")}, {Title: k.say.Say("Week 4")}}
	for i := range days {
		n := strconv.Itoa(i + 1)
		days[i].On = k.cell("on"+n, days[i].Title+", "+k.say.Say("On"), "day")
		days[i].Who = k.cell("who"+n, days[i].Title+", "+k.say.Say("Who"), "who")
	}
	return days
}

func (k *keySheet) legends() []keyLegend {
	list := []keyLegend{k.legend("cover", fieldwork.Covers), k.legend("found", fieldwork.Founds), k.legend("lost_how", fieldwork.LostHow)}
	for _, f := range survey.Features {
		list = append(list, k.legend(f.Name, f.Choices))
	}
	return list
}

func (k *keySheet) legend(column string, choices []string) keyLegend {
	legend := keyLegend{Label: k.say.Say(fieldwork.Label(column))}
	for i, c := range choices {
		drawing := fieldwork.Drawing(column, c)
		if drawing != "" {
			drawing = "remains/" + drawing + ".svg"
		}
		legend.Choices = append(legend.Choices, keyChoice{i + 1, k.say.Say(fieldwork.ChoiceLabel(column, c)), drawing})
	}
	return legend
}

// keyPage makes the page of a sheet.
func (s *server) keyPage(c *fiber.Ctx, a access.Actor, k *keyed, boxes fieldwork.Keyed, slips []fieldwork.Slip) keyPage {
	say := s.speaker(c)
	page := keyPageOf(say, k, boxes, slips)
	page.base = s.base(c, a, say.Say("Line %s: key the sheet", k.line.Name))
	page.Here = "/key/" + k.line.Code
	return page
}

func keyPageOf(say words.Speaker, k *keyed, boxes fieldwork.Keyed, slips []fieldwork.Slip) keyPage {
	sheet := newKeySheet(say, boxes, slips, k.draft.Photos)
	stops := make([]int, k.line.Stops)
	for i := range stops {
		stops[i] = i + 1
	}
	page := keyPage{Line: k.line, Ranch: k.ranch, Days: sheet.days(k.line),
		Columns: sheet.columns(fieldwork.RowBoxes()), Rows: sheet.rows(fieldwork.RowBoxes(), stops),
		Signs: sheet.columns(fieldwork.RemainsBoxes()), Remains: sheet.rows(fieldwork.RemainsBoxes(), stops),
		Legends: sheet.legends(), Stops: fieldwork.Again(k.line), Agains: k.agains,
		Results: fmt.Sprintf("/field/results/%s/%d", k.line.Ranch, k.line.Season)}
	for i := 1; i <= fieldwork.OtherDays; i++ {
		page.Others = append(page.Others, keyRow{i, []keyCell{
			sheet.cell(fmt.Sprintf("other_stop.%d", i), say.Say("Stop"), "one"), sheet.cell(fmt.Sprintf("other_day.%d", i), say.Say("Which look"), "one"),
			sheet.cell(fmt.Sprintf("other_on.%d", i), say.Say("On"), "day")}})
	}
	for _, f := range []struct{ box, label, class string }{
		{"pace.1", words.Mark("Paces on 300 ft, first walk"), "number"}, {"pace.2", words.Mark("second walk"), "number"}, {"pace.3", words.Mark("third walk"), "number"},
		{"pace_ft", words.Mark("or feet per pace"), "number"}, {"belt_on", words.Mark("Counted on"), "day"}, {"who4", words.Mark("Who"), "who"},
		{"belt_wide_ft", words.Mark("Width, ft"), "number"}, {"paces", words.Mark("Length, paces"), "number"}, {"belt_long_ft", words.Mark("Length, ft"), "number"},
		{"second_who", words.Mark("Second person"), "who"},
	} {
		page.Strip = append(page.Strip, sheet.cell(f.box, say.Say(f.label), f.class))
	}
	for _, kind := range tallied() {
		label, drawing := fieldwork.ChoiceLabel("cover", kind), "remains/cover-"+kind+".svg"
		if kind == "maybe" {
			label, drawing = words.Mark("Doubtful: big enough?"), "remains/clump-unsuitable.svg"
		}
		label = say.Say(label)
		page.Tally = append(page.Tally, keyTally{label, drawing, sheet.cell("count_"+kind, label, "number"), sheet.cell("again_"+kind, label+", "+say.Say("Second count"), "number")})
	}
	for i, item := range fieldwork.Items {
		label := []string{words.Mark("Eggs carried out"), words.Mark("Flags carried out"), words.Mark("Markers carried out"), words.Mark("Cameras carried out")}[i]
		page.Out = append(page.Out, sheet.cell(item+"_out", say.Say(label), "number"))
	}
	page.Out = append(page.Out, sheet.cell("out_on", say.Say("On"), "day"), sheet.cell("who6", say.Say("Who"), "who"))
	for _, cell := range page.cells() {
		if cell.Slip != "" {
			page.Slips = append(page.Slips, cell)
		}
	}
	for i := range k.looks {
		look := &k.looks[i]
		switch {
		case look.Line != k.line.ID:
		case look.Answers["photo"] != "" && look.Device == "paper-scan":
			page.Photos = append(page.Photos, access.ID(look.Answers["photo"]))
		case !strings.HasPrefix(look.Device, "paper"):
			page.Phones++
		}
	}
	page.look(say, k, boxes)
	return page
}

// cells lists every box of the page in the order of the sheet.
func (p *keyPage) cells() []keyCell {
	var list []keyCell
	for _, d := range p.Days {
		list = append(list, d.On, d.Who)
	}
	for _, rows := range [][]keyRow{p.Rows, p.Others, p.Remains} {
		for _, row := range rows {
			list = append(list, row.Cells...)
		}
	}
	list = append(list, p.Strip...)
	for _, t := range p.Tally {
		list = append(list, t.Count, t.Again)
	}
	return append(list, p.Out...)
}

// boxPlace says where the box of a row is.
func boxPlace(say words.Speaker, box string, stop int) string {
	label, group := boxLabel(box)
	place := fmt.Sprintf("%s, %s", say.Say("Stop %d", stop), say.Say(label))
	if group != "" {
		place += ", " + say.Say(group)
	}
	return place
}
