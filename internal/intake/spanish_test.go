package intake_test

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/errs"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

func spanish(t testing.TB) words.Speaker {
	t.Helper()
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	return book.In(words.Spanish)
}

// sentences returns everything a reading says, one sentence or answer an entry.
func sentences(res *intake.Result) []string {
	var out []string
	for _, p := range res.Refused {
		out = append(out, p.Problem)
	}
	for _, q := range res.Questions {
		out = append(out, q.Text)
		for _, c := range q.Choices {
			out = append(out, c.Label)
		}
	}
	for _, n := range res.Tidied {
		out = append(out, n.Text)
	}
	for _, a := range res.NotUsed {
		out = append(out, a.Text)
	}
	return append(out, res.Sentences...)
}

// unsaid takes the sentences out of a reading, so that the rest can be compared.
func unsaid(res *intake.Result) intake.Result {
	bare := *res
	bare.Sentences = nil
	bare.NotUsed = append([]inquiry.Aside(nil), res.NotUsed...)
	for i := range bare.NotUsed {
		bare.NotUsed[i].Text = ""
	}
	bare.Refused = append([]inquiry.Problem(nil), res.Refused...)
	for i := range bare.Refused {
		bare.Refused[i].Problem = ""
	}
	bare.Questions = append([]inquiry.Question(nil), res.Questions...)
	for i := range bare.Questions {
		q := &bare.Questions[i]
		q.Text, q.Choices = "", append([]inquiry.Choice(nil), q.Choices...)
		for k := range q.Choices {
			q.Choices[k].Label = ""
		}
	}
	bare.Tidied = append([]inquiry.Tidied(nil), res.Tidied...)
	for i := range bare.Tidied {
		bare.Tidied[i].Text = ""
	}
	return bare
}

// TestFaultsInSpanish reads every fault for a reader of Spanish: all is said in Spanish, and nothing but the sentences
// is another. What the sheet itself says stands in quotation marks, or is a file's name.
func TestFaultsInSpanish(t *testing.T) {
	own := regexp.MustCompile(`“[^”]*”|[\w ]+\.(csv|xlsx)|--zero \w+`)
	english := regexp.MustCompile(`(?i)\b(the|and|of|rows?|we|is|are|not|nests?|was|were|to|with|your?|please|tab|belts?|checks?|eggs?|set|keep|on|by|it|taken|lost|left|right|yes|spoiled|trampled|flooded|yellow|column|yucca|shrub|weed)\b`)
	say := spanish(t)
	for _, tt := range faults(t) {
		t.Run(tt.name, func(t *testing.T) {
			tt.opt.Today = today
			inEnglish := mustRead(t, tt.files, tt.opt)
			tt.opt.Say = say
			res := mustRead(t, tt.files, tt.opt)
			if a, b := unsaid(inEnglish), unsaid(res); !reflect.DeepEqual(a, b) {
				t.Errorf("the tongue changes more than the sentences:\n%+v\n%+v", a, b)
			}
			first, second := sentences(inEnglish), sentences(res)
			for i, s := range second {
				if bare := own.ReplaceAllString(s, ""); english.MatchString(bare) || s == first[i] && regexp.MustCompile(`\pL{3,}`).MatchString(bare) {
					t.Errorf("%q is still English", s)
				}
				if strings.Contains(s, "%!") || strings.Contains(s, "  ") {
					t.Errorf("%q is badly filled in", s)
				}
			}
		})
	}
}

// What we call things in Spanish can be written in a sheet, and is read as what it means.
func TestSpanishWordsAreRead(t *testing.T) {
	say := spanish(t)
	for _, s := range survey.States {
		res := mustRead(t, sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,"+say.Say(string(s))+",,"), intake.Options{Today: today})
		if len(res.Data.Nests) != 1 || res.Data.Nests[0].Fate() != s && res.Data.Nests[0].Visits[0].State != s {
			t.Errorf("%q is read as %v, want %s", say.Say(string(s)), nestLines(res), s)
		}
	}
	for _, s := range []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb} {
		res := mustRead(t, sheetOf("R,A,1,"+say.Say(string(s))+",2025-05-01,2025-05-15,intacto,,"), intake.Options{Today: today})
		if len(res.Data.Nests) != 1 || res.Data.Nests[0].Substrate != s {
			t.Errorf("%q is read as %v, want %s", say.Say(string(s)), nestLines(res), s)
		}
	}
	for _, p := range survey.Predators {
		if p == survey.Other {
			continue // "otro" names no animal
		}
		res := mustRead(t, csv("ranch,transect,nest,substrate,set_on,check1_on,check1,camera\nR,A,1,yucca,2025-05-01,2025-05-15,taken,"+say.Say(string(p))+"\n"), intake.Options{Today: today})
		if len(res.Data.Nests) != 1 || res.Data.Nests[0].Camera != p {
			t.Errorf("%q is read as %v, want %s", say.Say(string(p)), res.Data.Nests, p)
		}
	}
}

// A file that cannot be read at all is refused in the sender's tongue too.
func TestNothingToReadInSpanish(t *testing.T) {
	say := spanish(t)
	for data, want := range map[string]string{
		"hello\nworld\n": "no hallamos nada que podamos leer", "": "x.csv está vacío.", "%PDF-1.4": "x.csv es un PDF.", "\xff\xd8\xff": "x.csv es una foto.", "PK\x03\x04": "x.csv está dañado",
	} {
		_, err := intake.Read([]intake.File{{Name: "x.csv", Data: []byte(data)}}, intake.Options{Say: say})
		if message, _ := errs.Message(err); !strings.Contains(message, want) {
			t.Errorf("Read(%q) = %q, want %q", data, message, want)
		}
	}
}
