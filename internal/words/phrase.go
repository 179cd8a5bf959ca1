package words

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// A Phrase is said later, once its reader's language is known, by whoever works something out and speaks to nobody
// (Speaker.Tell). What fills it in may be phrases and lists of them ([]Phrase) in their turn.
type Phrase struct {
	one, many string
	n         int
	args      []any
	parts     []Phrase // of Join
}

// Later keeps a text. Texts that stand in the code are found by the test of the catalogs; others, such as a cover
// that a sheet names in its own word, are said as they are where no catalog has them.
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

// kept is a phrase, and keptArg what fills it in, in the form in which it is kept.
type kept struct {
	One  string    `json:"one"`
	Many string    `json:"many,omitempty"`
	N    int       `json:"n,omitempty"`
	Args []keptArg `json:"args,omitempty"`

	Parts []Phrase `json:"parts,omitempty"`
}

type keptArg struct {
	Whole  *int     `json:"whole,omitempty"`
	Number *float64 `json:"number,omitempty"`
	Text   *string  `json:"text,omitempty"`
	Phrase *Phrase  `json:"phrase,omitempty"`
	List   []Phrase `json:"list,omitempty"`
}

// MarshalJSON writes a phrase so that it can be said after it was kept. What fills it in must be whole numbers (int),
// numbers (float64), texts, phrases or lists of them; anything else is an error.
func (p Phrase) MarshalJSON() ([]byte, error) {
	k := kept{One: p.one, Many: p.many, N: p.n, Parts: p.parts}
	for _, a := range p.args {
		switch a := a.(type) {
		case int:
			k.Args = append(k.Args, keptArg{Whole: &a})
		case float64:
			k.Args = append(k.Args, keptArg{Number: &a})
		case string:
			k.Args = append(k.Args, keptArg{Text: &a})
		case Phrase:
			k.Args = append(k.Args, keptArg{Phrase: &a})
		case []Phrase:
			k.Args = append(k.Args, keptArg{List: a})
		default:
			return nil, fmt.Errorf("a phrase with a %T in it cannot be kept", a)
		}
	}
	return json.Marshal(k)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (p *Phrase) UnmarshalJSON(data []byte) error {
	var k kept
	if err := json.Unmarshal(data, &k); err != nil {
		return err
	}
	*p = Phrase{one: k.One, many: k.Many, n: k.N, parts: k.Parts}
	for _, a := range k.Args {
		switch {
		case a.Whole != nil:
			p.args = append(p.args, *a.Whole)
		case a.Number != nil:
			p.args = append(p.args, *a.Number)
		case a.Text != nil:
			p.args = append(p.args, *a.Text)
		case a.Phrase != nil:
			p.args = append(p.args, *a.Phrase)
		default:
			p.args = append(p.args, a.List)
		}
	}
	return nil
}

// String says it in English.
func (p Phrase) String() string { return Speaker{}.Tell(p) }

// Tell says a phrase, and what fills it in, in the speaker's language; the zero phrase is "".
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
	if s.Language == Spanish {
		and = "y"
		if sounds := strings.ToLower(strings.TrimLeft(last, "\u2068“«")); strings.HasPrefix(sounds, "i") || strings.HasPrefix(sounds, "hi") && !strings.HasPrefix(sounds, "hie") {
			and = "e"
		}
	}
	return fmt.Sprintf("%s %s %s", strings.Join(said[:len(said)-1], ", "), and, last)
}
