package words

import (
	"fmt"
	"slices"
	"strings"
)

// A Phrase is said later, once its reader's tongue is known, by whoever works something out and speaks to nobody
// (Speaker.Tell). What fills it in may be phrases and lists of them ([]Phrase) in their turn.
type Phrase struct {
	one, many string
	n         int
	args      []any
	parts     []Phrase // of Join
}

// Later keeps a text. Texts that stand in the code are found by the test of the catalogues; others, such as a cover
// that a sheet names in its own word, are said as they are where no catalogue has them.
func Later(text string, args ...any) Phrase { return Phrase{one: text, args: args} }

// LaterCount keeps the one of two texts that fits n, as Speaker.Count chooses.
func LaterCount(one, many string, n int, args ...any) Phrase {
	if len(args) == 0 {
		args = []any{n}
	}
	return Phrase{one: one, many: many, n: n, args: args}
}

// Join keeps sentences that are said one after the other. Zero phrases are left out.
func Join(sentences ...Phrase) Phrase { return Phrase{parts: sentences} }

// String says it in English.
func (p Phrase) String() string { return Speaker{}.Tell(p) }

// Tell says a phrase, and what fills it in, in the speaker's tongue; the zero phrase is "".
func (s Speaker) Tell(p Phrase) string {
	if p.parts != nil {
		return strings.Join(slices.DeleteFunc(s.TellAll(p.parts), func(said string) bool { return said == "" }), " ")
	}
	if p.one == "" {
		return ""
	}
	args := make([]any, len(p.args))
	for i, a := range p.args {
		switch a := a.(type) {
		case Phrase:
			args[i] = s.Tell(a)
		case []Phrase:
			args[i] = s.List(s.TellAll(a))
		default:
			args[i] = a
		}
	}
	if p.many != "" {
		return s.Count(p.one, p.many, p.n, args...)
	}
	return s.Say(p.one, args...)
}

// TellAll says several.
func (s Speaker) TellAll(list []Phrase) []string {
	said := make([]string, len(list))
	for i, p := range list {
		said[i] = s.Tell(p)
	}
	return said
}

// List joins what has been said: a, b and c; a, b y c.
func (s Speaker) List(said []string) string {
	if len(said) < 2 {
		return strings.Join(said, "")
	}
	last := said[len(said)-1]
	and := "and"
	if s.Tongue == Spanish {
		and = "y"
		if sounds := strings.ToLower(last); strings.HasPrefix(sounds, "i") || strings.HasPrefix(sounds, "hi") && !strings.HasPrefix(sounds, "hie") {
			and = "e"
		}
	}
	return fmt.Sprintf("%s %s %s", strings.Join(said[:len(said)-1], ", "), and, last)
}
