package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// outreachPosterPage is one sheet of paper about a place.
type outreachPosterPage struct {
	base
	Place    outreachPlace
	Picture  template.HTML // "" where the place is not shown
	Alt      string        // the same in words, for wherever the picture is put
	Inside   string        // why there may be no picture
	Method   []string
	Language words.Language // of the poster
	Others   []languageLink // the same in the other languages
	File     string         // of the picture
}

// A languageLink leads to a page in another language.
type languageLink struct {
	Language words.Language
	Path     string
}

// A poster is what stands on the sheet.
type poster struct {
	say                words.Speaker
	cooperative, place string
	season, number     int
	published, printed time.Time
	behind             string
	lasted             bulletin.Cell
	cover              bulletin.Cell
	limits             limitsView
	talk               talkView
	mark               float64  // clumps an acre that are called enough
	made               string   // by which program
	counted            string   // "420 nests, 70 transects" in tens, "" where not given
	method             []string // how the figures are made; beside the picture, not in it
}

func (s *server) outreachPoster(c *fiber.Ctx, a access.Actor) error {
	place, p, err := s.poster(c, a)
	if err != nil {
		return err
	}
	say := s.speaker(c)
	page := outreachPosterPage{base: s.base(c, a, say.Say("Poster: %s", place.Name)), Place: place, Inside: capital(say.Say(staysInside)) + ".", Language: p.say.Language, File: place.Picture()}
	if p.say.Language != say.Language {
		page.File = place.inLanguage("poster.svg", p.say.Language)
	}
	for _, t := range words.Languages() {
		if t != p.say.Language {
			page.Others = append(page.Others, languageLink{t, place.inLanguage("poster", t)})
		}
	}
	if place.Lasted.Shown {
		page.Picture, page.Alt, page.Method = p.draw(), p.words(), p.method
	}
	return s.render(c, fiber.StatusOK, "outreach_poster", page)
}

// outreachPicture is the poster as a file of its own: it needs no style sheet and carries its limits with it.
func (s *server) outreachPicture(c *fiber.Ctx, a access.Actor) error {
	place, p, err := s.poster(c, a)
	if err != nil {
		return err
	}
	if !place.Lasted.Shown {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		return tx.TookFigures(fmt.Sprintf("%d %s poster.svg", p.season, place.Slug))
	}); err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, "image/svg+xml")
	c.Set(fiber.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="%s-%d.svg"`, place.Slug, p.season))
	return c.SendString(string(p.draw()))
}

func (s *server) poster(c *fiber.Ctx, a access.Actor) (outreachPlace, poster, error) {
	d, err := s.outreachData(c, a)
	if err != nil {
		return outreachPlace{}, poster{}, err
	}
	place, err := d.find(c.Params("place"))
	if err != nil {
		return outreachPlace{}, poster{}, err
	}
	method, on := d.claimsMethod(place), place
	if t, ok := words.Known(c.Query("in")); ok { // those who read it on the wall may speak another language than who prints it
		d.say = s.book.In(t)
		if on, err = d.find(c.Params("place")); err != nil {
			return outreachPlace{}, poster{}, err
		}
	}
	p := poster{mark: d.marks.Cover, say: d.say, cooperative: d.cooperative, place: on.Name, season: d.head.Season, number: d.head.Number, published: d.head.PublishedAt,
		printed: s.Now(), behind: d.behind(place.Label), limits: on.Limits, talk: talkOf(on.Limits), made: madeBy(d.say, d.head), method: method}
	p.lasted, _ = findCell(d.cells, d.head.Season, place.Label, "", bulletin.Survival28, "")
	p.cover, _ = findCell(d.cells, d.head.Season, place.Label, "", bulletin.ClumpsPerAcre, "")
	p.counted = basisWords(p.say, p.lasted.Basis)
	return place, p, nil
}

// posterLimits stands in the middle of the picture, between its two parts: it cannot be cut off and leave a figure.
var posterLimits = words.Mark("These are hen’s eggs set out in the grass. They show the risk a nest would run there. They are not real nests: nothing here says how many birds hatched, or how many there are.")

// The sheet in its own units. Its shape fits both Letter and A4 inside the margins of the style sheet.
const (
	posterWidth  = 720.0
	posterHeight = 972.0
	posterEdge   = 16.0
)

// The printing colors of tussock.css. A poster has no style sheet with it, only presentation attributes.
const (
	posterInk  = "#23211d"
	posterSoft = "#4d483f"
	posterOwn  = "#0072b2"
	posterLoss = "#d55e00"
	posterRule = "#cbc3b1"
	serif      = "Charter, 'Bitstream Charter', 'Noto Serif', 'Liberation Serif', Georgia, serif"
	sans       = "'Noto Sans', Lato, 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"
)

// words are the alternative text.
func (p poster) words() string {
	w := p.headline() + " " + p.place + ", " + fmt.Sprint(p.season) + "."
	if c := densityRow(p.say, "", p.cover); c.Shown {
		w += " " + p.say.Say("Cover to nest in: about %s clumps an acre; the target is %s.", c.Figure, whole(p.mark))
	}
	if p.limits.Sure != "" {
		w += " " + p.say.Say("%s: chances are %s.", p.limits.Words, p.limits.Sure)
	}
	return w + " " + p.say.Say(posterLimits) + " " + strings.Join(p.credit(), " ")
}

func (p poster) headline() string {
	return p.say.Say("About %s simulated nests lasted four weeks.", rateRow(p.say, "", p.lasted).Figure)
}

func (p poster) credit() []string {
	source := p.say.Say("Source: %s, bulletin %d, season %d, published %s.", p.cooperative, p.number, p.season, p.say.Day(p.published))
	if p.behind != "" {
		source += " " + p.say.Say("Landowners behind the figures: %s.", p.behind)
	}
	if p.counted != "" {
		source += " " + p.say.Say("In tens: %s.", p.counted)
	}
	return []string{source, p.made + " " + p.say.Say("Figures are rounded, published once a season and not changed afterward. Printed %s. Please keep the picture whole.", p.say.Day(p.printed))}
}

// draw makes the picture.
func (p poster) draw() template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="poster" lang="%s" viewBox="%s %s %s %s" role="img" aria-labelledby="poster-title poster-words"><title id="poster-title">%s</title><desc id="poster-words">%s</desc>`,
		cmp.Or(p.say.Language, words.English), num(-posterEdge), num(-posterEdge), num(posterWidth+2*posterEdge), num(posterHeight+2*posterEdge), template.HTMLEscapeString(p.say.Say("%s in %d", p.place, p.season)), template.HTMLEscapeString(p.words()))
	b.WriteString(posterDefs)
	fmt.Fprintf(&b, `<rect x="%s" y="%s" width="%s" height="%s" fill="#ffffff"/>`, num(-posterEdge), num(-posterEdge), num(posterWidth+2*posterEdge), num(posterHeight+2*posterEdge))
	fmt.Fprintf(&b, `<path d="M0 3H720M0 9H720" stroke="%s" stroke-width="2"/>`, posterInk)

	t := letters{&b}
	t.line(0, 40, 17, sans, "600", posterSoft, p.cooperative)
	t.right(720, 40, 17, sans, "600", posterSoft, p.say.Say("Simulated nests, season %d", p.season))
	y := t.block(0, 92, 30, 1.15, 40, serif, "400", posterInk, p.place)
	y = t.block(0, y+20, 46, 1.12, 30, serif, "700", posterInk, p.headline())

	y = p.eggs(&b, t, y+2)
	y = p.band(&b, t, y+16)
	y = p.clumps(&b, t, y+38)

	var credit []string
	for _, line := range p.credit() {
		credit = append(credit, wrap(line, 118)...)
	}
	foot := posterHeight - 8 - 17*float64(len(credit))
	p.talkOver(t, y+14, foot)
	fmt.Fprintf(&b, `<path d="M0 %sH720" stroke="%s" stroke-width="1.5"/>`, num(foot), posterInk)
	for i, line := range credit {
		t.line(0, foot+22+17*float64(i), 12.5, sans, "400", posterSoft, line)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// posterDefs are an egg that lasted, one that may have, one that did not, and the stripes; told apart without color.
const posterDefs = `<defs><pattern id="poster-stripes" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#ffffff"/><path d="M1.5 0V6" stroke="` + posterOwn + `" stroke-width="2.6"/></pattern>` +
	`<symbol id="poster-egg" viewBox="0 0 22 30"><path d="M11 1.5C15.6 1.5 20.5 10.6 20.5 18C20.5 24.4 16.4 28.5 11 28.5S1.5 24.4 1.5 18C1.5 10.6 6.4 1.5 11 1.5Z"/></symbol></defs>`

const eggLook = ` stroke="` + posterInk + `" stroke-width="1.5"`

// eggs draws a hundred: as many full as the low end of the range, as many striped as may have lasted as well, the rest
// empty.
func (p poster) eggs(b *strings.Builder, t letters, top float64) float64 {
	const columns, width, height = 20, 35.4, 44.0
	low, high := 0, 100
	if p.lasted.Low != nil {
		low = int(math.Round(100 * *p.lasted.Low))
	}
	if p.lasted.High != nil {
		high = int(math.Round(100 * *p.lasted.High))
	}
	look := func(i int) string {
		switch {
		case i < low:
			return posterOwn
		case i < high:
			return "url(#poster-stripes)"
		}
		return "#ffffff"
	}
	for i := range 100 {
		x, y := width*float64(i%columns), top+height*float64(i/columns)
		if i%columns >= columns/2 {
			x += 720 - columns*width
		}
		fmt.Fprintf(b, `<use href="#poster-egg" x="%s" y="%s" width="29" height="40" fill="%s"%s/>`, num(x), num(y), look(i), eggLook)
	}
	y := top + height*100/columns + 14
	x := 0.0
	for _, part := range []struct{ fill, words string }{
		{posterOwn, p.say.Say("%d or more lasted", low)},
		{"url(#poster-stripes)", p.say.Say("as many as %d may have", high)},
		{"#ffffff", p.say.Say("the others did not")},
	} {
		fmt.Fprintf(b, `<use href="#poster-egg" x="%s" y="%s" width="18" height="24" fill="%s"%s/>`, num(x), num(y-6), part.fill, eggLook)
		t.line(x+26, y+12, 15, sans, "400", posterInk, part.words)
		x += 240
	}
	return y + 26
}

// band is the sentence of limits, right across the sheet.
func (p poster) band(b *strings.Builder, t letters, top float64) float64 {
	lines := wrap(p.say.Say(posterLimits), 66)
	height := 26*float64(len(lines)) + 22
	fmt.Fprintf(b, `<rect x="1" y="%s" width="718" height="%s" fill="#ffffff" stroke="%s" stroke-width="2"/><path d="M10 %sV%s" stroke="%s" stroke-width="3"/>`,
		num(top), num(height), posterInk, num(top+9), num(top+height-9), posterInk)
	for i, line := range lines {
		t.line(26, top+31+26*float64(i), 20, serif, "600", posterInk, line)
	}
	return top + height
}

// clumps draws the density of cover on a scale with the mark.
func (p poster) clumps(b *strings.Builder, t letters, top float64) float64 {
	row := densityRow(p.say, "", p.cover)
	if !row.Shown {
		return top - 20
	}
	heading := p.say.Say("Cover to nest in: about %s clumps an acre", row.Figure)
	if row.Range != "" {
		heading += " (" + row.Range + ")"
	}
	t.line(0, top, 22, serif, "600", posterInk, heading)
	most := densityScale([]bulletin.Cell{p.cover}, p.mark)
	at := func(x float64) float64 { return 12 + math.Min(1, x/most)*696 }
	low, high := 0.0, most
	if p.cover.Low != nil {
		low = *p.cover.Low
	}
	if p.cover.High != nil {
		high = *p.cover.High
	}
	y := top + 44
	fmt.Fprintf(b, `<path d="M12 %sH708" stroke="%s" stroke-width="2"/><rect x="%s" y="%s" width="%s" height="20" rx="4" fill="url(#poster-stripes)" stroke="%s" stroke-width="1.5"/>`,
		num(y), posterRule, num(at(low)), num(y-10), num(math.Max(3, at(high)-at(low))), posterInk)
	if p.cover.Estimate != nil {
		fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="9" fill="%s" stroke="#ffffff" stroke-width="2"/>`, num(at(*p.cover.Estimate)), num(y), posterInk)
	}
	fmt.Fprintf(b, `<path d="M%s %sV%s" stroke="%s" stroke-width="3.5" stroke-dasharray="7 5"/>`, num(at(p.mark)), num(y-24), num(y+20), posterLoss)
	for x := 0.0; x <= most; x += 100 {
		if most > 600 && math.Mod(x, 300) != 0 {
			continue
		}
		label, weight := whole(x), "400"
		if x == p.mark {
			label, weight = p.say.Say("%s, the target", label), "700"
		}
		t.centered(math.Max(8, math.Min(690, at(x))), y+38, 14, sans, weight, posterInk, label)
	}
	return y + 50
}

// talkOver says what seems to hold nests back, how sure that is, and what people commonly talk over first.
// The latter stays away where it would run into the foot.
func (p poster) talkOver(t letters, top, foot float64) {
	if !p.limits.Shown {
		return
	}
	verdict := p.say.Say("What holds nests back here cannot be told yet.")
	if p.limits.Sure != "" {
		verdict = p.say.Say("%s: chances are %s.", p.limits.Words, p.limits.Sure)
	}
	y := t.block(0, top+22, 22, 1.2, 62, serif, "600", posterInk, verdict)
	if p.talk.First == "" {
		return
	}
	first := p.say.Say("To talk over first: %s", lower(p.say.Say(p.talk.First)))
	if lines := float64(len(wrap(first, 74))); y+4+19*1.3*(lines-1) < foot-6 {
		t.block(0, y+4, 19, 1.3, 74, serif, "400", posterInk, first)
	}
}

// letters writes text into a drawing. Its widths are guessed, since nobody knows the reader's fonts: lines are short.
type letters struct{ b *strings.Builder }

func (l letters) put(x, y, size float64, family, weight, color, anchor, text string) {
	fmt.Fprintf(l.b, `<text x="%s" y="%s" font-size="%s" font-family="%s" font-weight="%s" fill="%s" text-anchor="%s">%s</text>`,
		num(x), num(y), num(size), family, weight, color, anchor, template.HTMLEscapeString(text))
}

func (l letters) line(x, y, size float64, family, weight, color, text string) {
	l.put(x, y, size, family, weight, color, "start", text)
}

func (l letters) centered(x, y, size float64, family, weight, color, text string) {
	l.put(x, y, size, family, weight, color, "middle", text)
}

func (l letters) right(x, y, size float64, family, weight, color, text string) {
	l.put(x, y, size, family, weight, color, "end", text)
}

// block writes lines of at most so many letters and returns where the next thing may stand.
func (l letters) block(x, y, size, leading float64, most int, family, weight, color, text string) float64 {
	for _, line := range wrap(text, most) {
		l.line(x, y, size, family, weight, color, line)
		y += size * leading
	}
	return y
}

// lower begins a sentence that goes on in the middle of another.
func lower(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	return strings.ToLower(string(r[:1])) + string(r[1:])
}
