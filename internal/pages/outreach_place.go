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
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/differ"
	"tussock/internal/words"
)

// outreachPlacePage is what may be said of one place, and what may not.
type outreachPlacePage struct {
	base
	Head    postgres.BulletinHead
	Seasons []navLink // the newest first
	Place   outreachPlace
	Story   string   // the one sentence that holds
	Claims  []string // what else may be said, each sentence as it stands
	Never   []string
	Bar     template.HTML // how likely each of the three is
	Chances []share
	Mark    string // "300"
	Hope    string // "50", of 100
	From    string // where both come from
	Talk    talkView
	Behind  string // the band of landowners
	Asks    bool
	Inside  string // why a place may not be shown
	// How the figures are made.
	ClaimsMethod, LimitsMethod []string
}

// A talkView is the field day that fits: never a prescription.
type talkView struct{ Title, First, NotFirst string }

// talkTitles name the field day that fits a verdict.
var talkTitles = map[string]string{
	shortOfCover: words.Mark("Grazing and rest for nesting cover"),
	highLosses:   words.Mark("Walking the edges: how cover is spread"),
	lastsWell:    words.Mark("What is working here"),
	nobodyKnows:  words.Mark("Counting clumps and checking nests together"),
}

// againTalk is what there is to talk over where nobody can tell: common practice, no source.
var againTalk = talkView{talkTitles[nobodyKnows], words.Mark("Running it again, with more lines rather than more nests on a line."), words.Mark("Any costly step.")}

func (s *server) outreachPlace(c *fiber.Ctx, a access.Actor) error {
	d, err := s.outreachData(c, a)
	if err != nil {
		return err
	}
	place, err := d.find(c.Params("place"))
	if err != nil {
		return err
	}
	page := outreachPlacePage{base: s.base(c, a, place.Name), Head: d.head, Seasons: d.seasons("/outreach/" + place.Slug), Place: place, Never: neverSay, Mark: whole(d.marks.Cover), Hope: whole(100 * d.marks.Hope), From: marksFrom(d.say, d.marks),
		Asks: a.Role.Has(access.AskIntroduction), Inside: capital(d.say.Say(staysInside)) + "."}
	if !place.Shown() {
		return s.render(c, fiber.StatusOK, "outreach_place", page)
	}
	page.Story = story(place, d.head.Season)
	page.Claims = d.claims(place)
	page.Talk = talkOf(place.Limits)
	page.Behind = d.behind(place.Label)
	page.ClaimsMethod = d.claimsMethod(place)
	page.LimitsMethod = limitsMethod(d.region(), place.Limits.limitsRead)
	if page.Chances = chancesOf(d.say, place.Limits.limitsRead); page.Chances != nil {
		page.Bar = mixBar(page.Chances, d.say.Say("How likely each is"))
	}
	return s.render(c, fiber.StatusOK, "outreach_place", page)
}

// story is the honest sentence about a place: these eggs lasted, where nests could be, with no because.
func story(p outreachPlace, season int) string {
	first := p.say.Say("%s about %s simulated nests lasted four weeks in %d", p.In(), p.Lasted.Figure, season)
	if !p.Lasted.Shown {
		first = p.say.Say("%s simulated nests were watched in %d", p.In(), season)
	}
	second := map[string]string{
		shortOfCover: words.Mark("cover to nest in seems short there"),
		highLosses:   words.Mark("there seems to be cover enough, and yet most eggs went"),
		lastsWell:    words.Mark("there seems to be cover enough, and a fair part of the eggs lasted"),
		nobodyKnows:  words.Mark("what holds nests back there cannot be told yet"),
	}[p.Limits.Verdict]
	if second == "" {
		return first + "."
	}
	return first + "; " + p.say.Say(second) + "."
}

// claims are sentences that the published figures bear out, each to be used as it stands.
func (d *outreachData) claims(p outreachPlace) []string {
	season, say := d.head.Season, d.say
	var list []string
	if p.Lasted.Range != "" {
		list = append(list, say.Say("In %d about %s simulated nests lasted four weeks; the likely range is %s. Of 100 such ranges about 95 hold the true figure.", season, p.Lasted.Figure, p.Lasted.Range))
	}
	if p.Cover.Shown {
		sentence := say.Say("On the lines walked in %d there were about %s clumps an acre big enough to nest in", season, p.Cover.Figure)
		if p.Cover.Range != "" {
			sentence += " (" + p.Cover.Range + ")"
		}
		list = append(list, sentence+"; "+say.Say("the target is %s an acre: %s.", whole(d.marks.Cover), marksFrom(say, d.marks)))
	}
	list = append(list, d.byCover(p)...)
	list = append(list, d.change(p)...)
	if p.Limits.Sure != "" {
		list = append(list, say.Say("What seems to hold nests back: %s. Chances are %s.", strings.ToLower(p.Limits.Words), p.Limits.Sure))
	}
	return list
}

// claimsMethod is how the figures that may be said are made.
func (d *outreachData) claimsMethod(p outreachPlace) []string {
	season, say := d.head.Season, d.say
	var counts []string
	for _, c := range d.cells {
		if c.Season == season && text(c.Area) == p.Label && (c.Measure == bulletin.Survival28 || c.Measure == bulletin.ClumpsPerAcre) {
			if tens := basisWords(say, c.Basis); tens != "" {
				what := say.Say("nests in %s", say.Say(text(c.Substrate)))
				switch {
				case c.Measure == bulletin.ClumpsPerAcre:
					what = say.Say("cover")
				case c.Substrate == nil:
					what = say.Say("all nests")
				}
				counts = append(counts, what+": "+tens)
			}
		}
	}
	return []string{
		say.Say("Lasted: %s", say.Say(methodSurvival)), say.Say("Clumps an acre: %s", say.Say(methodCover)),
		say.Say(methodDiffer),
		say.Say(methodRange), say.Say(methodRates), bases(say, counts), landownersLine(say, d.behind(p.Label)), frozenLine(say, d.heads, season),
	}
}

// byCover sets the kinds of cover side by side, and says whether they can be told apart.
func (d *outreachData) byCover(p outreachPlace) []string {
	type kind struct {
		name string
		rate bulletin.Cell
	}
	var kinds []kind
	for _, c := range d.cells {
		if c.Season == d.head.Season && c.Measure == bulletin.Survival28 && c.Substrate != nil && text(c.Area) == p.Label && c.Estimate != nil && c.Low != nil && c.High != nil {
			kinds = append(kinds, kind{d.say.Say(*c.Substrate), c})
		}
	}
	if len(kinds) < 2 {
		return nil
	}
	slices.SortStableFunc(kinds, func(a, b kind) int { return cmp.Compare(*b.rate.Estimate, *a.rate.Estimate) })
	parts := make([]string, len(kinds))
	for i, k := range kinds {
		parts[i] = d.say.Say("%s in %s", percent(*k.rate.Estimate), k.name)
	}
	var list []findings.Comparison
	for i, a := range kinds {
		for _, b := range kinds[i+1:] {
			list = append(list, findings.Published(a.rate.Spread(), b.rate.Spread(), a.name, b.name, len(kinds)*(len(kinds)-1)/2))
		}
	}
	foremost, _ := findings.Foremost(list)
	tell := d.say.Tell(foremost.Said())
	return []string{d.say.Say("Of 100 nests of each kind of cover, about %s lasted.", d.say.List(parts)) + " " + tell}
}

// change holds the season against the last one shown: a change on these lines, and no reason for it.
func (d *outreachData) change(p outreachPlace) []string {
	now, ok := findCell(d.cells, d.head.Season, p.Label, "", bulletin.Survival28, "")
	if !ok || now.Low == nil || now.High == nil || now.Estimate == nil {
		return nil
	}
	for season := d.head.Season - 1; season > d.head.Season-6; season-- {
		was, ok := findCell(d.cells, season, p.Label, "", bulletin.Survival28, "")
		if !ok || was.Low == nil || was.High == nil || was.Estimate == nil {
			continue
		}
		c := findings.Published(now.Spread(), was.Spread(), fmt.Sprint(d.head.Season), fmt.Sprint(season), 1)
		said := d.say.Say("In %d it was about %s.", season, ofHundred(d.say, *was.Estimate)) + " " + d.say.Tell(c.Said())
		if c.Outcome.Verdict == differ.Differs {
			said += " " + d.say.Say("Why, these eggs do not say.")
		}
		return []string{said}
	}
	return nil
}

// neverSay are claims that these figures cannot bear, however they turn out.
var neverSay = []string{
	words.Mark("that birds hatched, or how many birds there are: spring or fall counts must stand beside it for that"),
	words.Mark("“because of”: grazing, fire, rain or an animal may go together with a figure and not be its reason"),
	words.Mark("that one area is better than another, or which is first or last: much of such an order is luck"),
	words.Mark("a ranch’s name, or a figure you work out for one"),
	words.Mark("which animal is to blame: remains tell that a nest was taken and poorly by whom"),
}

func talkOf(l limitsView) talkView {
	if !l.Shown {
		return talkView{}
	}
	kind, ok := map[string]string{shortOfCover: findings.FewClumps, highLosses: findings.LossesDespiteCover, lastsWell: findings.LeaveIt}[l.Verdict]
	if !ok {
		return againTalk
	}
	talk := findings.CommonTalk(kind)
	return talkView{talkTitles[l.Verdict], talk.First, talk.NotFirst}
}

// behind is the band of landowners whose nests the place's figure rests on.
func (d *outreachData) behind(label string) string {
	for _, measure := range []string{bulletin.Survival28, bulletin.ClumpsPerAcre} {
		if c, ok := findCell(d.cells, d.head.Season, label, "", measure, ""); ok && c.Entities != "" {
			if from, to, ok := strings.Cut(c.Entities, "-"); ok {
				return d.say.Say("%s to %s", from, to)
			}
			return c.Entities
		}
	}
	return ""
}
