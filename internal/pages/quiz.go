package pages

import (
	"fmt"
	"math/rand/v2"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// quizLength is how many pictures one round shows.
const quizLength = 10

// quizPage is one picture of a round, or what the one before was. A round is drawn from the number in its address, so
// that two people can do the same one side by side; nothing of it is stored anywhere.
type quizPage struct {
	base
	Set, Number int // which round; which picture, from 1
	Of          int
	Right       int // so far
	Asked       quizQuestion
	Chosen      int  // the answer given, -1 before
	Correct     bool // whether it was right
	Done        bool // all pictures were seen
	Next        string
	Key         string // where the strengths of the key to remains come from
	Again       string
}

// A quizQuestion is a picture with its answers, of which one is right, and what to know about it.
type quizQuestion struct {
	Drawing string // below static/
	Ask     string
	Answers []string
	Right   int
	Know    string
}

// quiz shows a picture (?set=…&n=…&right=…), and after an answer whether it was right.
func (s *server) quiz(c *fiber.Ctx, a access.Actor) error {
	set, err := strconv.Atoi(c.Query("set"))
	if err != nil || set < 0 || set > 9999 {
		return s.see(c, fmt.Sprintf("/quiz?set=%d", int(s.Now().UnixNano()/1000%10000)))
	}
	page := quizPage{base: s.base(c, a, s.speaker(c).Say("Practice: what is in the picture?")), Set: set, Of: quizLength, Chosen: -1,
		Number: within(c.Query("n"), 1, quizLength+1, 1), Again: fmt.Sprintf("/quiz?set=%d", (set+1)%10000)}
	page.Right = within(c.Query("right"), 0, page.Number-1, 0)
	if page.Key, err = s.strengthsToday(c, a); err != nil {
		return err
	}
	if page.Number > quizLength {
		page.Done = true
		return s.render(c, fiber.StatusOK, "quiz", page)
	}
	page.Asked = quizRound(set, page.Say)[page.Number-1]
	if c.Query("answer") != "" {
		page.Chosen = within(c.Query("answer"), 0, len(page.Asked.Answers)-1, 0)
		page.Correct = page.Chosen == page.Asked.Right
		right := page.Right
		if page.Correct {
			right++
		}
		page.Next = fmt.Sprintf("/quiz?set=%d&n=%d&right=%d", set, page.Number+1, right)
	}
	return s.render(c, fiber.StatusOK, "quiz", page)
}

// within reads a number from low to high, or the usual one.
func within(s string, low, high, usual int) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < low || n > high {
		return usual
	}
	return n
}

// quizRound draws a round: six pictures of remains, three of clumps, and one question about what remains can tell.
func quizRound(set int, say words.Speaker) []quizQuestion {
	r := rand.New(rand.NewPCG(uint64(set), 0x7a55))
	var signs []quizQuestion
	for _, i := range r.Perm(len(survey.Features))[:6] {
		signs = append(signs, quizSign(survey.Features[i], r, say))
	}
	clumps := quizClumps(say)
	r.Shuffle(len(clumps), func(i, j int) { clumps[i], clumps[j] = clumps[j], clumps[i] })
	round := append(signs, clumps[:3]...)
	r.Shuffle(len(round), func(i, j int) { round[i], round[j] = round[j], round[i] })
	guesses := quizGuesses(say)
	return append(round, guesses[r.IntN(len(guesses))])
}

// quizSign asks which answer of the key a drawing stands for.
func quizSign(f survey.Feature, r *rand.Rand, say words.Speaker) quizQuestion {
	q := quizQuestion{Right: r.IntN(len(f.Choices)), Ask: say.Say("%s: which box do you tick?", say.Say(fieldwork.Label(f.Name))), Know: say.Say(quizBeware(f.Name))}
	for _, c := range f.Choices {
		q.Answers = append(q.Answers, say.Say(fieldwork.ChoiceLabel(f.Name, c)))
	}
	q.Drawing = "remains/" + fieldwork.Drawing(f.Name, f.Choices[q.Right]) + ".svg"
	return q
}

// quizBeware is what else makes such remains (common practice, no source).
func quizBeware(feature string) string {
	return map[string]string{
		"bits":        words.Mark("Ants, weather and a second visitor break shells smaller later on. Write down what lies there now."),
		"bits_far_ft": words.Mark("Wind, slope and cattle carry shells too. Measure with your paces, to the farthest piece."),
		"heaps":       words.Mark("Look in a ring of 10 ft before you count heaps: one is easily missed under the next shrub."),
		"opened_at":   words.Mark("An egg breaks easiest at its ends, no matter what opens it. Weak on its own."),
		"bite_way":    words.Mark("Where it cannot be told, leave it empty. An empty box is an answer too."),
		"holes":       words.Mark("Shells crack near holes. Photograph a pair of holes with the ruler beside them."),
		"inside":      words.Mark("Heat dries yolk within a day, so a late look finds less of it."),
		"ground":      words.Mark("Old digging may be older than the nest. Note whether the soil is fresh."),
		"bowl":        words.Mark("Wind moves grass too. A neat, empty bowl says very little about who was there."),
	}[feature]
}

// quizClumps asks whether a clump counts on a belt.
func quizClumps(say words.Speaker) []quizQuestion {
	yes, no := say.Say("It counts"), say.Say("It does not count")
	ask := say.Say("On the belt: does this clump count?")
	good := say.Say("As wide as a basketball, 8 in tall or more, and dense enough to hide a bowl.")
	small := say.Say("Smaller than the ball, or so thin that you look through it: it hides no nest.")
	list := []quizQuestion{
		{Drawing: "clump-suitable", Right: 0, Know: good}, {Drawing: "clump-pear_suitable", Right: 0, Know: good},
		{Drawing: "clump-unsuitable", Right: 1, Know: small}, {Drawing: "clump-pear_unsuitable", Right: 1, Know: small},
		{Drawing: "clump-grazed", Right: 1, Know: say.Say("Grazed to the ground: it may grow back, but what counts is what stands on the day.")},
	}
	for i := range list {
		list[i].Drawing = "remains/" + list[i].Drawing + ".svg"
		list[i].Ask, list[i].Answers = ask, []string{yes, no}
	}
	return list
}

// quizGuesses asks what remains can tell, and what they cannot.
func quizGuesses(say words.Speaker) []quizQuestion {
	cannot := say.Say("can’t tell")
	return []quizQuestion{
		{"remains/bowl-neat.svg", say.Say("All eggs gone, the bowl neat, nothing found within 10 ft. What took them?"),
			[]string{say.Say("a snake"), say.Say("a crow"), cannot}, 2,
			say.Say("Several animals, and people, leave nothing behind. Tick “looked, none” and leave the guess empty: nothing is not proof of anything.")},
		{"remains/ground-cone_pits.svg", say.Say("Small cone pits beside the nest, the eggs whole. What do you write?"),
			[]string{say.Say("cone pits, and all eggs here"), say.Say("taken by a skunk"), say.Say("spot not found")}, 0,
			say.Say("Something dug for insects and passed by. Who passes is not always who eats.")},
		{"remains/nest-not_found.svg", say.Say("You look for 10 minutes and cannot find the spot. What do you write?"),
			[]string{say.Say("all lost"), say.Say("spot not found"), say.Say("all here")}, 1,
			say.Say("A nest that is not found is neither kept nor lost: it counts up to the last time it was seen.")},
	}
}
