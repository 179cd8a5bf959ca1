package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
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
	Final   bool                   // may have its final revision ordered
	Sheets  int                    // current ones
	Open    int                    // of these, with open questions
}

// pressOrderPage shows how an order stands and, for a preview that is ready, what would be published. It never holds
// a figure: the coordinator sees what passes and what is held, and the figures when everybody does.
type pressOrderPage struct {
	base
	Order     postgres.PressOrder
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
	Cells   []string
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
	title := "No season has sheets yet"
	if len(seasons) > 0 {
		out := count(seasons, func(b bulletinSeason) bool { return b.Head != nil })
		title = fmt.Sprintf("%s out, %d to come", counted(out, "bulletin"), len(seasons)-out)
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
		return bulletinSeason{}, errs.New(errs.Conflict, fmt.Sprintf("The bulletin of %d is out and stays as it is. Sheets that came later count for the next one.", year))
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
	page := publishPage{base: s.base(c, a, fmt.Sprintf("Publish the bulletin of %d?", b.Season)),
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
	page.Published, page.Held = previewGroups(cells)
	page.Models, page.Shown = heldFigures(verdicts)
	page.base = s.base(c, a, orderTitle(page.Order, cells))
	return s.render(c, fiber.StatusOK, "cooperative_order", page)
}

func orderTitle(o postgres.PressOrder, cells []bulletin.Cell) string {
	what := fmt.Sprintf("the preview of %d", o.Season)
	switch o.Kind {
	case postgres.PublishKind:
		what = fmt.Sprintf("the bulletin of %d", o.Season)
	case postgres.FinalKind:
		what = fmt.Sprintf("the final revision of %d", o.Season)
	}
	switch {
	case o.State == postgres.Unapproved:
		return "Another coordinator’s word is needed for " + what
	case o.State == postgres.Waiting || o.State == postgres.Working:
		return "Working on " + what
	case o.State == postgres.Failed:
		return "No luck with " + what
	case o.Kind == postgres.PublishKind:
		return fmt.Sprintf("The bulletin of %d is out", o.Season)
	case o.Kind == postgres.FinalKind:
		return fmt.Sprintf("The final revision of %d is out", o.Season)
	}
	passed := count(cells, func(c bulletin.Cell) bool { return c.Published })
	return fmt.Sprintf("%d of %d figures of %d would be published", passed, len(cells), o.Season)
}

// previewGroups sorts the cells into those that pass and those that are held, by measure and by reason.
func previewGroups(cells []bulletin.Cell) (published, held []previewGroup) {
	for _, c := range cells {
		list := &held
		if c.Published {
			list = &published
		}
		measure := measureWords[c.Measure]
		i := slices.IndexFunc(*list, func(g previewGroup) bool { return g.Measure == measure && g.Reason == c.HeldBecause })
		if i < 0 {
			*list = append(*list, previewGroup{Measure: measure, Reason: c.HeldBecause})
			i = len(*list) - 1
		}
		(*list)[i].Cells = append((*list)[i].Cells, cellName(c))
	}
	return published, held
}

// heldFigures sorts the numbers of figures from models that would be held by figure and reason, and counts the others.
func heldFigures(verdicts []bulletin.Verdict) (held []previewGroup, shown int) {
	for _, v := range verdicts {
		if v.HeldBecause == "" {
			shown++
			continue
		}
		name := "whole cooperative"
		if v.Place != nil {
			name = *v.Place
		}
		if v.Number != "" {
			name += ", " + v.Number
		}
		i := slices.IndexFunc(held, func(g previewGroup) bool { return g.Measure == figureWords[v.Kind] && g.Reason == v.HeldBecause })
		if i < 0 {
			held = append(held, previewGroup{Measure: figureWords[v.Kind], Reason: v.HeldBecause})
			i = len(held) - 1
		}
		held[i].Cells = append(held[i].Cells, name)
	}
	return held, shown
}

var figureWords = map[string]string{
	"":                        "All of them",
	bulletin.StandardisedKind: "Survival on the same footing",
	bulletin.TrendKind:        "From year to year",
	bulletin.CoverKind:        "What cover goes together with",
	bulletin.LimitsKind:       "What seems to hold nests back",
	bulletin.QualityKind:      "How well the season was carried out",
}

var measureWords = map[string]string{
	bulletin.Survival28:     "Nests that lasted four weeks",
	bulletin.SurvivalCrude:  "Nests that lasted, crude",
	bulletin.SurvivalSpread: "How far landowners lie apart",
	bulletin.ClumpsPerAcre:  "Clumps an acre",
	bulletin.PredatorShare:  "What took the eggs",
}

// cellName says which figure is meant: "Northfork, yucca".
func cellName(c bulletin.Cell) string {
	name := "whole cooperative"
	if c.Area != nil {
		name = *c.Area
	}
	if c.Substrate != nil {
		name += ", " + *c.Substrate
	}
	if c.Predator != "" {
		name += ", " + c.Predator
	}
	return name
}
