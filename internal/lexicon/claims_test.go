package lexicon_test

import (
	"testing"

	"tussock/internal/lexicon"
)

// TestClaims holds one cell for each rule by which clauses are read and settled.
func TestClaims(t *testing.T) {
	l := lexicon.New()
	for _, c := range []struct {
		text string
		want lexicon.Mark
		eggs int
	}{
		// A denial denies the next thing said.
		{"not eaten", lexicon.Intact, -1},
		{"no eggs missing", lexicon.Intact, -1},
		{"no eggs left", lexicon.Taken, -1},
		{"nobody had touched it", lexicon.Intact, -1},
		{"burst in the heat, nobody had touched it", lexicon.Spoiled, -1},
		{"gone, not a scrap left", lexicon.Taken, -1},
		{"not eaten - hail", lexicon.Spoiled, -1},
		{"Not visited Eaten", lexicon.Unknown, -1},
		// Who did it decides between the ends that one verb may tell.
		{"smashed by a cow", lexicon.Trampled, -1},
		{"smashed by hail", lexicon.Spoiled, -1},
		{"smashed by a coon", lexicon.Taken, -1},
		{"coon tracks, all 3 there", lexicon.Intact, 3},
		{"cows in pasture", lexicon.Unknown, -1},
		// Looking for the nest.
		{"Wade: looked a half hour, could not find the nest", lexicon.NotFound, -1},
		{"cows pulled the flag and we couldn't find the nest", lexicon.NotFound, -1},
		{"no pude encontrarlo", lexicon.NotFound, -1},
		{"L2 coulee same day 6 nests all grass", lexicon.Unknown, -1},
		{"ok (rain 17+18)", lexicon.Intact, -1},
		{"4 cow laid on it", lexicon.Unknown, -1},
		{"gone no shell no nothing", lexicon.Taken, -1},
		{"16/5 good 30/5 eaten", lexicon.Unknown, -1},
		{"18/5 bien 1/6 se los llevaron", lexicon.Unknown, -1},
		{"no había señal", lexicon.Unknown, -1},
		{"no había", lexicon.Taken, -1},
		{"no pude", lexicon.Skipped, -1},
		{"Depredated - one or more eggs removed or eaten", lexicon.Taken, -1},
		{"Visit not made", lexicon.Skipped, -1},
		{"couldn't find the eggs", lexicon.Taken, -1},
		{"LOST (no flag)", lexicon.NotFound, -1},
		{"nest finished at an earlier visit", lexicon.Skipped, -1},
		// Numbers of eggs, and numbers that are none.
		{"one left of three", lexicon.Taken, 1},
		{"all 3", lexicon.Intact, 3},
		{"two gone", lexicon.Taken, 1},
		{"0 eggs, just shells", lexicon.Taken, -1},
		{"F1", lexicon.Unknown, -1},
		{"6cb8", lexicon.Unknown, -1},
		{"3-5", lexicon.Unknown, -1},
		{"yucca 3", lexicon.Unknown, -1},
		{"7, 8", lexicon.Unknown, -1},
		{"87344809", lexicon.Unknown, -1},
		{"Mon 5/8", lexicon.Unknown, -1},
		{"3 hens eggs to a nest", lexicon.Unknown, -1},
		{"All nests set May 2, three eggs each", lexicon.Unknown, -1},
		// Two clauses that disagree are asked about.
		{"√ X", lexicon.Unknown, -1},
		{"completo perdido", lexicon.Unknown, -1},
		{"ok, eaten", lexicon.Unknown, -1},
		// Slips of the pen, and words that are none.
		{"eatin", lexicon.Taken, -1},
		{"in tact", lexicon.Intact, -1},
		{"cleand out", lexicon.Taken, -1},
		{"tramppled", lexicon.Trampled, -1},
		{"no lo alle", lexicon.NotFound, -1},
		{"cover", lexicon.Unknown, -1},
		{"looked Sun", lexicon.Unknown, -1},
		{"Predio", lexicon.Unknown, -1},
	} {
		if s := l.Sight(c.text); s.Mark != c.want || s.Eggs != c.eggs {
			t.Errorf("%q is read as %d with %d eggs; want %d with %d", c.text, s.Mark, s.Eggs, c.want, c.eggs)
		}
	}
	for _, text := range []string{"ok?", "gone?", "4 eggs?"} {
		if s := l.Sight(text); !s.Doubt {
			t.Errorf("%q raises no doubt: %+v", text, s)
		}
	}
}

// TestPhraseAt holds how much of a sentence is taken as one phrase.
func TestPhraseAt(t *testing.T) {
	l := lexicon.New()
	for _, c := range []struct {
		text string
		want lexicon.Mark
		size int
	}{
		{"could not be found 3", lexicon.NotFound, 4},
		{"had two out three eggs left something got one", lexicon.Taken, 6},
		{"dug out, looks like badger", lexicon.Taken, 2},
		{"all are all right", lexicon.Intact, 2},
		{"not touched", lexicon.Intact, 2},
		{"huevos cada uno", lexicon.Unknown, 0},
		{"all the rest", lexicon.Unknown, 0},
		{"ya se habian comido el 7", lexicon.Taken, 3},
		{"same way", lexicon.Unknown, 0},
		{"viento", lexicon.Unknown, 0},
		{"cows got 5", lexicon.Trampled, 1},
	} {
		tokens := lexicon.Scan(c.text)
		words := make([]string, len(tokens))
		for i := range tokens {
			words[i] = tokens[i].Word
		}
		m, n := lexicon.Unknown, 0
		for i := range words { // the first phrase there is
			if m, n = l.PhraseAt(words, i); n > 0 {
				break
			}
		}
		if m != c.want || n != c.size {
			t.Errorf("%q: mark %d of %d words; want %d of %d", c.text, m, n, c.want, c.size)
		}
	}
}

// TestDateAside holds that a weekday, a time of day or a mark beside a day changes nothing, and that anything else does.
func TestDateAside(t *testing.T) {
	for text, want := range map[string]string{
		"Mon 5/8": "2024-05-08", "5/14 am": "2024-05-14", "4/28*": "2024-04-28", "5/28/24, 2:15 PM": "2024-05-28", "sab 15/6": "2024-06-15",
		"5/8 gone": "", "5/8 5/9": "", "line 5/8": "",
	} {
		got := ""
		if on := lexicon.ReadDate(text, false).On(false, 2024); on != 0 {
			got = on.String()
		}
		if got != want {
			t.Errorf("%q is read as %q; want %q", text, got, want)
		}
	}
}
