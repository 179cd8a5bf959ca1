package intake

import (
	"fmt"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/reading"
	"tussock/internal/survey"
)

// crowded is the number of clumps an acre above which we ask back: one every 3 ft or so.
const crowded = 3000

// Belt takes one row of belts.
func (s *season) Belt(row *reading.BeltRow) {
	ranch := row.Ranch
	if ranch == "" {
		c := row.At
		c.Column = "ranch"
		s.Refuse(c, "", s.Say("No ranch is named here. Please fill in the column “ranch” with the ranch's name."))
		return
	}
	if ranch = s.ranchOf(row.At, ranch); ranch == "" {
		return
	}
	if row.Line == "" && !row.Whole {
		c := row.At
		c.Column = "transect"
		s.Refuse(c, "", s.Say("The transect (line) is blank. Please write its number or name."))
		return
	}
	if s.wholeRanch(row.Site, ranch) {
		row.Site = ""
	}
	key := nestKey{ranch: s.names[nameRanch].of(ranch), site: s.names[nameSite].of(row.Site), transect: s.names[nameTransect].of(row.Line)}
	b := survey.Belt{
		Ranch: s.names[nameRanch].text[key.ranch], Site: s.names[nameSite].text[key.site], Season: row.Season,
		Transect: s.lineText(key, row.Line), LengthFt: row.LengthFt, WidthFt: row.WidthFt, Counts: row.Counts, From: row.At,
	}
	if s.joinBelt(row, &b) {
		return
	}
	s.crowdedBelt(&b)
	s.out.Data.Belts = append(s.out.Data.Belts, b)
}

// joinBelt adds a row of a long table, one row a kind of clump, to the belt it belongs to.
func (s *season) joinBelt(row *reading.BeltRow, b *survey.Belt) bool {
	if row.Belt == "" && !row.Long {
		return false
	}
	key := fmt.Sprintf("%s\x00%s\x00%d\x00%s\x00%s", b.Ranch, b.Site, b.Season, b.Transect, strings.ToLower(row.Belt))
	i, seen := s.belts[key]
	if !seen || i >= len(s.out.Data.Belts) {
		s.belts[key] = len(s.out.Data.Belts)
		return false
	}
	have := &s.out.Data.Belts[i]
	for c := range b.Counts {
		if _, twice := have.Counts[c]; twice || have.LengthFt != b.LengthFt || have.WidthFt != b.WidthFt {
			s.belts[key] = len(s.out.Data.Belts) // another belt under the same name
			return false
		}
	}
	for c, n := range b.Counts {
		have.Counts[c] += n
	}
	return true
}

func (s *season) crowdedBelt(b *survey.Belt) {
	acres := b.Acres()
	n := 0
	for _, c := range b.Counts {
		n += c
	}
	if acres <= 0 || float64(n)/acres <= crowded || n < 5 {
		return
	}
	row := b.From.Row
	var largest survey.Substrate
	for c, k := range b.Counts {
		if largest == "" || k > b.Counts[largest] || k == b.Counts[largest] && c < largest {
			largest = c
		}
	}
	choices := []inquiry.Choice{{ID: "keep", Label: s.Say("It is right")}}
	if k := b.Counts[largest]; k%10 == 0 && k >= 100 {
		choices = append(choices, inquiry.Choice{ID: "tenth", Label: s.Say("A zero too many: it is a tenth (%d)", k/10)})
	}
	choices = append(choices, inquiry.Choice{ID: "mend", Label: s.Say("I will correct it and send it again")})
	if s.Ask(b.From, inquiry.Prompt{
		Kind: "belt", Place: "crowded\x00" + b.From.File + "\x00" + b.From.Sheet, Weight: inquiry.PleaseLook, Default: "keep", Rank: 6,
		Text: func(g *group) string {
			return g.Count("%d belt has more than %d clumps an acre (%s; %.0f in row %d): that is one every few feet. Was the count for the whole belt, and are the units right?",
				"%d belts have more than %d clumps an acre (%s; %.0f in row %d): that is one every few feet. Was the count for the whole belt, and are the units right?",
				g.N, g.N, crowded, g.Where(), float64(n)/acres, row)
		},
		Choices: choices,
	}) == "tenth" {
		b.Counts[largest] /= 10
	}
}

// settleBelts gives belts without a season that of the nests, where there is one only, and belts without a pasture that of
// their line's nests.
func (s *season) settleBelts() {
	if len(s.out.Data.Belts) == 0 {
		return
	}
	only, several := 0, false
	type line struct {
		ranch, transect string
		season          int
	}
	sites := map[line]map[string]bool{}
	for i := range s.out.Data.Nests {
		n := &s.out.Data.Nests[i]
		several = several || only != 0 && only != n.Season
		only = n.Season
		k := line{n.Ranch, n.Transect, n.Season}
		if sites[k] == nil {
			sites[k] = map[string]bool{}
		}
		sites[k][n.Site] = true
	}
	kept := s.out.Data.Belts[:0]
	belts := map[string]bool{}
	for _, b := range s.out.Data.Belts {
		if b.Season == 0 && !several {
			b.Season = only
		}
		if b.Season == 0 {
			c := b.From
			c.Column = "season"
			s.Refuse(c, "", s.Say("The season of this belt is not written down. Please fill in the column “season” with the year."))
			continue
		}
		if b.Site == "" {
			if of := sites[line{b.Ranch, b.Transect, b.Season}]; len(of) == 1 {
				for site := range of {
					b.Site = site
				}
			}
		}
		key := fmt.Sprintf("%s\x00%s\x00%d\x00%s\x00%g\x00%g\x00%v", b.Ranch, b.Site, b.Season, b.Transect, b.LengthFt, b.WidthFt, b.Counts)
		if belts[key] && len(b.Counts) > 1 && s.Note(b.From, "repeated-belt", "", "", func(g *group) string {
			return inquiry.Capital(s.Say("%s repeats a belt word for word; we count it once.", g.Where()))
		}) {
			continue
		}
		belts[key] = true
		if s.opt.Places {
			s.out.BeltsAt = append(s.out.BeltsAt, []survey.Cell{b.From})
		}
		kept = append(kept, b)
	}
	s.out.Data.Belts = kept
}

// Site takes one row of a table of pastures.
func (s *season) Site(row *reading.SiteRow) {
	if row.Ranch == "" {
		c := row.At
		c.Column = "ranch"
		s.Refuse(c, "", s.Say("No ranch is named here. Please fill in the column “ranch” with the ranch's name."))
		return
	}
	ranch := s.ranchOf(row.At, row.Ranch)
	if ranch == "" {
		return
	}
	site := survey.Site{
		Ranch: s.names[nameRanch].text[s.names[nameRanch].of(ranch)], Name: s.names[nameSite].text[s.names[nameSite].of(row.Name)],
		Owner: row.Owner, Region: row.Region, Type: row.Type, Acres: row.Acres, From: row.At,
	}
	key := strings.ToLower(site.Ranch + "\x00" + site.Name)
	if i, seen := s.siteAt[key]; seen {
		first := &s.out.Data.Sites[i]
		if first.Owner != site.Owner || first.Region != site.Region || first.Type != site.Type || first.Acres != site.Acres {
			c := row.At
			c.Column = "site"
			s.Refuse(c, row.Name, s.Say("This site stands twice, first in row %d, and the two rows differ. We kept the first; please correct or delete one.", first.From.Row))
		}
		return
	}
	s.siteAt[key] = len(s.out.Data.Sites)
	s.out.Data.Sites = append(s.out.Data.Sites, site)
}
