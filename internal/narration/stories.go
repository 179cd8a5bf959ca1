package narration

import (
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// beginStory begins a cell that tells of one nest and says so by its place.
func (r *teller) beginStory(p *Passage, l *textLine) {
	r.now = context{lines: []string{p.Line}, said: true, redo: p.Redo, nest: []string{p.Nest}, alone: true}
	at := r.span(l.from, l.to)
	r.add(fact{is: nestsFact, nests: r.now.nest, at: at}, r.now.lines)
}

// ofStory returns the nest whose story is being told; nil outside of stories.
func (r *teller) ofStory(x *say) []string {
	if n := r.passages[r.lines[x.line].passage].Nest; n != "" {
		return []string{n}
	}
	return nil
}

// storyParts parts a sentence of a story that tells of the setting and of checks: "set 5/2 in yucca, 5/15 good, 5/28 gone".
func (r *teller) storyParts(x *say) (a, b *say) {
	if !x.set || x.days < 2 {
		return nil, nil
	}
	days := 0
	var parts []int // the commas between the day of setting and the next
	found := false  // something was found before the next day
	for i, it := range x.items {
		if it.is == aDay && it.day.Day != 0 {
			if days++; days == 2 {
				break
			}
		}
		if days == 1 && (it.is == aComma || it.is == anAnd) {
			parts = append(parts, i)
		}
	}
	if len(parts) == 0 {
		return nil, nil
	}
	next := slices.IndexFunc(x.items[parts[0]:], func(it item) bool { return it.is == aDay && it.day.Day != 0 }) + parts[0]
	found = r.found(x, x.items[parts[0]].from, x.items[next].from)
	cut := parts[len(parts)-1]
	if found { // "set 5/2, good 5/15": the days stand behind
		cut = parts[0]
	}
	left, right := x.cut(cut, x.items[cut].from)
	right.from, right.items = x.items[cut].to, right.items[1:]
	return left, right
}

// coverAlone takes a piece of a story that is a code or a name of a cover and nothing else: "set 5/6, BG" or "BG."
func (r *teller) coverAlone(x *say) bool {
	own := r.ofStory(x)
	if own == nil || len(x.states) > 0 || slices.ContainsFunc(x.items, func(it item) bool { return it.is == aCover }) {
		return false
	}
	from := x.from
	piece := func(to int) bool {
		text := strings.Trim(r.text[from:to], " .,:;-()")
		for _, lead := range []string{"in ", "en "} {
			text = strings.TrimPrefix(text, lead)
		}
		c, ok := r.lex.Cover(text)
		if !ok || c.How == lexicon.Misspelt {
			return false
		}
		r.add(fact{is: coverFact, nests: own, cover: c.Substrate, at: r.span(x.from, x.to)}, r.now.lines)
		return true
	}
	for _, it := range x.items {
		if piece(it.from) {
			return true
		}
		from = it.to
	}
	return piece(x.to)
}

// Days counts the days that the story of a nest names.
func Days(story string) int { return len(lexicon.FindDates(withStrokes(story))) }
