package pages

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// refreshEvery is how often a page about work under way asks again, in seconds.
const refreshEvery = "3"

// cooperativeBulletinsPage lists the seasons with what can be done for each.
type cooperativeBulletinsPage struct {
	base
	Seasons   []bulletinSeason
	Unvouched []postgres.Entity // owners who count to no number of landowners yet
}

// bulletinSeason is one season: published, or on its way there.
type bulletinSeason struct {
	Season  int
	Head    *postgres.BulletinHead // where it is out
	Preview *postgres.PressOrder   // the newest preview that is ready
	Under   *postgres.PressOrder   // an order that is under way
	Failed  *postgres.PressOrder   // the newest order, where it failed
	// FailedNote says why it did.
	FailedNote string
	Final      bool // may have its final revision ordered
	Sheets     int  // current ones
	Open       int  // of these, with open questions
}

// pressOrderPage shows how an order stands and, for a preview that is ready, what would be published. It never holds
// a figure: the coordinator sees what passes and what is held, and the figures when everybody does.
type pressOrderPage struct {
	base
	Order     postgres.PressOrder
	Note      string // why it failed
	Under     bool
	Asked     bool // waits for a second coordinator's word
	Published []previewGroup
	Held      []previewGroup
	Models    []previewGroup // numbers of figures from models that would be held
	Shown     int            // of those, how many would be shown
	Out       bool           // the season's bulletin is published already
}

// previewGroup is what would be published, or held for one reason, of one measure.
type previewGroup struct {
	Measure string
	Reason  string
	Places  []string // "Northfork: all together, yucca"
}

// publishPage asks once more before a season's figures are fixed for good.
type publishPage struct {
	base
	Season  int
	Sheets  int
	Open    int
	Preview *postgres.PressOrder
}

func (s *server) cooperativeBulletins(c *fiber.Ctx, a access.Actor) error {
	seasons, err := s.bulletinSeasons(c, a)
	if err != nil {
		return err
	}
	say := s.speaker(c)
	title := say.Say("No season has sheets yet")
	if len(seasons) > 0 {
		out := count(seasons, func(b bulletinSeason) bool { return b.Head != nil })
		title = say.Say("%d of %d bulletins are out", out, len(seasons))
	}
	for i, b := range seasons {
		if b.Failed != nil {
			seasons[i].FailedNote = failedWords(say, *b.Failed)
		}
	}
	page := cooperativeBulletinsPage{base: s.base(c, a, title), Seasons: seasons}
	if page.Unvouched, err = s.unvouched(c, a); err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "cooperative_bulletins", page)
}

// bulletinSeasons lists the seasons that have sheets or a bulletin, newest first.
func (s *server) bulletinSeasons(c *fiber.Ctx, a access.Actor) ([]bulletinSeason, error) {
	var st cooperativeState
	if err := s.DB.As(c.UserContext(), a, st.load); err != nil {
		return nil, err
	}
	of := map[int]*bulletinSeason{}
	season := func(year int) *bulletinSeason {
		if of[year] == nil {
			of[year] = &bulletinSeason{Season: year}
		}
		return of[year]
	}
	for _, status := range st.status {
		if status.Season == 0 || status.State != postgres.Current {
			continue
		}
		b := season(status.Season)
		b.Sheets++
		if status.Open > 0 {
			b.Open++
		}
	}
	for i, head := range st.bulletins { // the latest season first
		b := season(head.Season)
		b.Head = &head
		b.Final = i == 0 && head.RevisedAt.IsZero() && !s.Now().Before(head.PublishedAt.Add(postgres.FinalAfter))
	}
	slices.SortFunc(st.orders, func(x, y postgres.PressOrder) int { return y.OrderedAt.Compare(x.OrderedAt) })
	newest := map[int]bool{}
	for _, order := range st.orders {
		b := of[order.Season]
		if b == nil {
			continue
		}
		switch {
		case order.State == postgres.Waiting || order.State == postgres.Working || order.State == postgres.Unapproved:
			b.Under = &order
		case order.State == postgres.Done && order.Kind == postgres.PreviewKind && b.Preview == nil:
			b.Preview = &order
		case order.State == postgres.Failed && !newest[order.Season]:
			b.Failed = &order
		}
		newest[order.Season] = true
	}

	list := make([]bulletinSeason, 0, len(of))
	for _, b := range of {
		list = append(list, *b)
	}
	slices.SortFunc(list, func(x, y bulletinSeason) int { return cmp.Compare(y.Season, x.Season) })
	return list, nil
}

// unpublishedSeason finds the season in the path, where it can still be published.
func (s *server) unpublishedSeason(c *fiber.Ctx, a access.Actor) (bulletinSeason, error) {
	year, err := strconv.Atoi(c.Params("season"))
	if err != nil {
		return bulletinSeason{}, errNothing
	}
	seasons, err := s.bulletinSeasons(c, a)
	if err != nil {
		return bulletinSeason{}, err
	}
	i := slices.IndexFunc(seasons, func(b bulletinSeason) bool { return b.Season == year })
	if i < 0 {
		return bulletinSeason{}, errNothing
	}
	if seasons[i].Head != nil {
		return bulletinSeason{}, errs.Tell(errs.Conflict, words.Later("The bulletin of %d is out and stays as it is. Sheets that came later count for the next one.", year), nil)
	}
	return seasons[i], nil
}

// orderPreview asks the press what a bulletin would hold.
func (s *server) orderPreview(c *fiber.Ctx, a access.Actor) error {
	return s.order(c, a, postgres.PreviewKind)
}

// publish asks the press to freeze the season's bulletin.
func (s *server) publish(c *fiber.Ctx, a access.Actor) error {
	return s.order(c, a, postgres.PublishKind)
}

func (s *server) order(c *fiber.Ctx, a access.Actor, kind string) error {
	b, err := s.unpublishedSeason(c, a)
	if err != nil {
		return err
	}
	if b.Under != nil && b.Under.Kind == kind { // pressed twice
		return s.see(c, "/cooperative/bulletins/orders/"+string(b.Under.ID))
	}
	var id access.ID
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		id, err = tx.OrderPress(b.Season, kind)
		return err
	})
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins/orders/"+string(id))
}

// publishForm asks before publishing.
func (s *server) publishForm(c *fiber.Ctx, a access.Actor) error {
	b, err := s.unpublishedSeason(c, a)
	if err != nil {
		return err
	}
	page := publishPage{base: s.base(c, a, s.speaker(c).Say("Publish the bulletin of %d?", b.Season)),
		Season: b.Season, Sheets: b.Sheets, Open: b.Open, Preview: b.Preview}
	return s.render(c, fiber.StatusOK, "cooperative_publish", page)
}

// pressOrder shows an order. While the press is at work the page asks again by itself, and can be left.
func (s *server) pressOrder(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	page := pressOrderPage{}
	var cells []bulletin.Cell
	var verdicts []bulletin.Verdict
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		orders, err := tx.PressOrders()
		if err != nil {
			return err
		}
		i := slices.IndexFunc(orders, func(o postgres.PressOrder) bool { return o.ID == id })
		if i < 0 {
			return errNothing
		}
		page.Order = orders[i]
		heads, err := tx.Bulletins()
		if err != nil {
			return err
		}
		page.Out = slices.ContainsFunc(heads, func(h postgres.BulletinHead) bool { return h.Season == page.Order.Season })
		if page.Order.State == postgres.Done && page.Order.Kind == postgres.PreviewKind {
			if cells, err = tx.Preview(id); err != nil {
				return err
			}
			verdicts, err = tx.PreviewFigures(id)
		}
		return err
	})
	if err != nil {
		return err
	}

	page.Asked = page.Order.State == postgres.Unapproved
	page.Under = page.Order.State == postgres.Waiting || page.Order.State == postgres.Working
	if page.Under {
		c.Set("Refresh", refreshEvery)
	}
	say := s.speaker(c)
	page.Note = noteWords(say, page.Order)
	page.Published, page.Held = previewGroups(say, cells)
	page.Models, page.Shown = heldFigures(say, verdicts)
	page.base = s.base(c, a, orderTitle(say, page.Order, cells))
	return s.render(c, fiber.StatusOK, "cooperative_order", page)
}

func orderTitle(say words.Speaker, o postgres.PressOrder, cells []bulletin.Cell) string {
	what := orderWords(say, o)
	switch {
	case o.State == postgres.Unapproved:
		return say.Say("Another coordinator’s word is needed for %s", what)
	case o.State == postgres.Waiting || o.State == postgres.Working:
		return say.Say("Working on %s", what)
	case o.State == postgres.Failed:
		return say.Say("No luck with %s", what)
	case o.Kind == postgres.PublishKind:
		return say.Say("The bulletin of %d is out", o.Season)
	case o.Kind == postgres.FinalKind:
		return say.Say("The final revision of %d is out", o.Season)
	}
	passed := count(cells, func(c bulletin.Cell) bool { return c.Published })
	return say.Say("%d of %d figures of %d would be published", passed, len(cells), o.Season)
}

// orderWords say what was ordered, in the middle of a sentence.
func orderWords(say words.Speaker, o postgres.PressOrder) string {
	switch o.Kind {
	case postgres.PublishKind:
		return say.Say("the bulletin of %d", o.Season)
	case postgres.FinalKind:
		return say.Say("the final revision of %d", o.Season)
	}
	return say.Say("the preview of %d", o.Season)
}

// failedWords say of an order that failed what it was and why it did.
func failedWords(say words.Speaker, o postgres.PressOrder) string {
	return strings.TrimSpace(say.Say("No luck with %s", orderWords(say, o)) + ". " + noteWords(say, o))
}

// noteWords say why an order failed. The note is kept in English, with its season or a name filled in.
func noteWords(say words.Speaker, o postgres.PressOrder) string {
	if name, ok := strings.CutSuffix(o.Note, " turned it down."); ok {
		return say.Say("%s turned it down.", name)
	}
	if text := strings.Replace(o.Note, strconv.Itoa(o.Season), "%d", 1); text != o.Note && say.Has(text) {
		return say.Say(text, o.Season)
	}
	return say.Say(o.Note)
}

// previewGroups sorts the cells into those that pass and those that are held, by measure, by reason and by place.
func previewGroups(say words.Speaker, cells []bulletin.Cell) (published, held []previewGroup) {
	var pass, stay groups
	for _, c := range cells {
		list := &stay
		if c.Published {
			list = &pass
		}
		part := ""
		if c.Substrate != nil {
			part = say.Say(*c.Substrate)
		}
		if c.Predator != "" {
			part = say.Say(c.Predator)
		}
		list.add(measureWords[c.Measure], c.HeldBecause, text(c.Area), part)
	}
	return pass.said(say), stay.said(say)
}

// heldFigures sorts the numbers of figures from models that would be held by figure, reason and place, and counts the
// others.
func heldFigures(say words.Speaker, verdicts []bulletin.Verdict) (held []previewGroup, shown int) {
	var stay groups
	for _, v := range verdicts {
		if v.HeldBecause == "" {
			shown++
			continue
		}
		stay.add(figureWords[v.Kind], v.HeldBecause, text(v.Place), numberName(say, v.Number))
	}
	return stay.said(say), shown
}

// numberName says which number of a figure is meant. It is kept in English: "2024, yucca", "against shrub at 300 clumps an
// acre".
func numberName(say words.Speaker, number string) string {
	if other, ok := strings.CutPrefix(number, "against "); ok {
		if kind, what, ok := strings.Cut(other, ": "); ok {
			return say.Say("against %s: %s", say.Say(kind), say.Say(what))
		}
		if kind, density, ok := strings.Cut(strings.TrimSuffix(other, " clumps an acre"), " at "); ok {
			return say.Say("against %s at %s clumps an acre", say.Say(kind), density)
		}
	}
	if season, kind, ok := strings.Cut(number, ", "); ok {
		return season + " " + say.Say(kind)
	}
	return say.Say(number)
}

// groups are made in the order in which they come.
type groups []group

type group struct {
	what, why string
	places    []placeParts
}

// placeParts is what of a place ("" is the whole cooperative) is in a group.
type placeParts struct {
	place string
	parts []string // "" is all together
}

func (gs *groups) add(what, why, place, part string) {
	i := slices.IndexFunc(*gs, func(g group) bool { return g.what == what && g.why == why })
	if i < 0 {
		*gs, i = append(*gs, group{what: what, why: why}), len(*gs)
	}
	g := &(*gs)[i]
	j := slices.IndexFunc(g.places, func(p placeParts) bool { return p.place == place })
	if j < 0 {
		g.places, j = append(g.places, placeParts{place: place}), len(g.places)
	}
	g.places[j].parts = append(g.places[j].parts, part)
}

// parted tells whether any place has more in the group than all together.
func (g group) parted() bool {
	return slices.ContainsFunc(g.places, func(p placeParts) bool {
		return slices.ContainsFunc(p.parts, func(part string) bool { return part != "" })
	})
}

func (gs groups) said(say words.Speaker) []previewGroup {
	var list []previewGroup
	for _, g := range gs {
		p := previewGroup{Measure: say.Say(g.what), Reason: say.Say(cmp.Or(heldWords[disclosure.Reason(g.why)], g.why))}
		for _, at := range g.places {
			line := cmp.Or(at.place, say.Say(wholeCooperative))
			if g.parted() {
				for i, part := range at.parts {
					at.parts[i] = cmp.Or(part, say.Say("all together"))
				}
				line += ": " + strings.Join(at.parts, ", ")
			}
			p.Places = append(p.Places, line)
		}
		list = append(list, p)
	}
	return list
}

// heldWords say to the coordinator why a figure would be held back.
var heldWords = map[disclosure.Reason]string{
	disclosure.Nobody:    words.Mark("Nobody has results here."),
	disclosure.TooFew:    words.Mark("Too few landowners."),
	disclosure.Dominated: words.Mark("One or two landowners make up too much of it."),
	disclosure.Guessable: words.Mark("Landowners who pool what they know could come too close to another’s amount."),
	disclosure.Sibling:   words.Mark("With the rest shown, one that must stay hidden could be worked out."),
	disclosure.TooAlike:  words.Mark("The figure would tell nearly every landowner’s result."),
	disclosure.TooSmall:  words.Mark("Too few nests for a figure."),
	disclosure.TooVague:  words.Mark("Too uncertain for a figure."),
	disclosure.TooRare:   words.Mark("Seen too seldom to be named, or never. They count among what nobody can tell."),
	disclosure.Exposed:   words.Mark("Beside what is published already, somebody’s results could be worked out."),
	disclosure.Unsteady:  words.Mark("It hangs on one landowner’s results."),
}

var figureWords = map[string]string{
	"":                        words.Mark("All of them"),
	bulletin.StandardisedKind: words.Mark("Survival on the same footing"),
	bulletin.TrendKind:        words.Mark("From year to year"),
	bulletin.CoverKind:        words.Mark("What cover goes together with"),
	bulletin.LimitsKind:       words.Mark("What seems to hold nests back"),
	bulletin.QualityKind:      words.Mark("How well the season was carried out"),
}

var measureWords = map[string]string{
	bulletin.Survival28:     words.Mark("Nests that lasted four weeks"),
	bulletin.SurvivalCrude:  words.Mark("Nests that lasted, crude"),
	bulletin.SurvivalSpread: words.Mark("How far landowners lie apart"),
	bulletin.ClumpsPerAcre:  words.Mark("Clumps an acre"),
	bulletin.PredatorShare:  words.Mark("What took the eggs"),
}

// cellName says which figure is meant: "Northfork, yucca".
func cellName(say words.Speaker, c bulletin.Cell) string {
	name := say.Say("whole cooperative")
	if c.Area != nil {
		name = *c.Area
	}
	if c.Substrate != nil {
		name += ", " + say.Say(*c.Substrate)
	}
	if c.Predator != "" {
		name += ", " + say.Say(c.Predator)
	}
	return name
}
