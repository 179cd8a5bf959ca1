package pages

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/findings"
)

// comparing are the words that set one thing above, below or level with another.
var comparing = regexp.MustCompile(`(?i)\b(more|less|fewer|lower|higher|longer|shorter|rising|falling|rises?|falls?|rose|fell|alike|better|worse|best|worst|faster|slower|slowly|similar|differs?|differed|differ|outlasts?|outlasted|short|overlap|overlaps|as many|seems? to|(?:stayed|about|much|is|are) the same)\b`)

// counting are uses of these words that set no result above another, each with the reason.
var counting = []struct{ use, reason string }{
	{`[^.:;!?]*\?`, "a question claims nothing"},
	{`\b(more|less|fewer|rather) than (about )?(%|\d|one|half|two|five|sixty|twelve|a\b|an\b|most|this|it|chance|what|no\b|might)[^ ]*`, "a limit or a number that is counted"},
	{`\b(or|nor|little|much|far) (more|less|fewer)\b`, "a limit"},
	{`\b(no|any|once|one|two|some|%d|%s|ten|twenty|a few|few|for|little|nothing|\d+|days?|hours?) (more|longer|better)\b( days?)?`, "an addition, or an end"},
	{`\bnever fewer\b|\bor longer\b|\bmore or less\b`, "a limit"},
	{`\bwas cut short\b|\bshort (time|side|of processor|of time)\b|\bin short\b`, "a length of time or paper"},
	{`\b(more|fewer) (days|files|years|clumps than)\b`, "an amount that is asked for"},
	{`(?i)(best|better) (on|seen|in|by|done|kept|left|asked|walked)\b`, "advice how to work"},
}

// others are texts with such words that compare no results, by the reason; what stands here is a beginning of theirs.
var others = map[string][]string{
	"how people, copies, rows or phones agree or are counted; no survival and no cover": {
		"How far ranches and lines differ",
		"Too few landowners' sheets have changed",
		"%d rows stand for nests that stood before and differ",
		"%s stands twice, first in row",
		"This site stands twice",
		"“%s” and “%s” both say what was found",
		"Tabs “%s” and “%s” tell",
		"%d of %d rows differed",
		"1.00 is the same count",
		"Kappa is agreement",
		"%d belt was counted twice",
		"%d belts were counted twice",
		"Sheets that come late are waited for",
	},
	"what a method takes for granted, or how a figure is made": {
		"No later bulletin works out an earlier season again",
		"Two digits, with a range from the spread between landowners",
		"With fewer than ten lines the range rests",
		"With few lines the range is that wide",
		"Worked out with the model behind the figures",
		"From this season’s nests alone",
		"With fewer than twenty landowners no spread",
		"Drawn toward the other ranches",
		"Best figure for this ranch",
		"Range of your best figure",
		"As planned, the range of the best figure",

		"Each ranch, all seasons and cover types alike",
		"The daily risk of a nest, all else alike",
		"The belts came out exactly alike",
		"The transects came out exactly alike",
		"All visits fall on one side",
		"There is one ranch only, so how much",
		"There is one transect only, so how much",
		"%s at %s %s, so how it differs",
		"With fewer than five seasons every ranch",
		"With fewer than three seasons there is no trend",
		"trend: x and y differ in length",
		"The search for the best fit",
		"Values that fit these nests well",
		"Two figures are said to differ",
		"Yearly: the daily hazard",
		"Cover short: the chance of",
		"Short: fewer than %s clumps",
		"Every figure rests on at least five",
		"Steadied: the ranch’s own figure",
		"The small figures are 95 % ranges. Steadied",
		"Substrates weigh alike",
		"With many ranches, 5 of 100",
		"the spread between the lines within",
		"The clumps to within a quarter",
		"%d nests: the difference between the two",
		"%d nests: within %d of 100",
	},
	"a limit of what may be concluded": {
		"This is one season; years differ",
		"that birds hatched",
		"that one area is better",
		"The limits stand around the bulletin",
		"Figures are rounded. We show no best",
		"Each is one ranch in one year",
		"Little. Say somebody wants",
	},
	"advice, or what would help": {
		"Lighter stocking",
		"Running it again, with more lines",
		"Running it again next season, with more lines",
		"Treating the whole pasture alike",
		"Underlined columns are needed",
		"No room was found for the line",
		"Say in a few words why the line",
		"Heat dries yolk",
		"Nobody can tell yet. More lines",
		"More lines, or another season",
		"More lines tell more",
		"Counted up to the last good look",
		"Their sheets count as read so far",
		"Black is enough",
		"the same again, where they were walked",
		"A cliff, a bull, a house",
		"Nearest good clump",
		"Ten characters or more",
		"We see the sheet, but cannot read",
		"The line broke before",
		"Once more, or walk",
		"Those are more than %d files",
		"If you let them, a coordinator sends sheets",
		"It is the same, to the letter",
		"Many files that you sent",
	},
	"a number of things on a page, or an addition to it": {
		"24 nests more",
		"more nests on the lines in",
		"With twelve landowners, a line",
		"With one landowner, 4 lines",
		"For longer it takes the yes",
		"%s suspended %s",

		"This link signs %s in",
		"\nUsage: tussock admit",
		"%d nests had more eggs",
		"%d more place",
		"%s and %d more",
		"and %d more",
		"Nothing more today",
		"As many sheets as can be kept",
		"Send more",
		"No more than that",
		"Ten more",
		"%d more column",
		"More of this sheet",
		"Your yes is kept",
		"There are as many photos",
		"No more than 40 sheets can be sent",
		"“%s”: the ranch has as many files",
		"Choose all the sheets you have",
		"as many as %d may have",
		"What they saw they know",
		"Neighbors with a single ranch",
		"What somebody has read they know",
	},
	"a guess at reading, or a heading over the chances that follow": {
		"Rows %s seem to tell of nests",
		"The number is how many of 100",
		"What seems to hold nests back",
		"Seasons overlap. Wear",
	},
}

func TestComparingWordsRestOnDifferences(t *testing.T) {
	var uses []*regexp.Regexp
	for _, c := range counting {
		uses = append(uses, regexp.MustCompile(c.use))
	}
	claimed := map[string]bool{}
	for _, c := range findings.Claims {
		claimed[c.Sentence] = true
	}
	excepted := map[string]bool{}
	seen := map[string]bool{}
	check := func(where, text string) {
		seen[text] = true
		bare := text
		for _, u := range uses {
			bare = u.ReplaceAllString(bare, " ")
		}
		word := comparing.FindString(bare)
		if word == "" || claimed[text] {
			return
		}
		for _, list := range others {
			for _, o := range list {
				if strings.HasPrefix(text, o) {
					excepted[o] = true
					return
				}
			}
		}
		t.Errorf("%s: %q compares by %q: say it by an outcome of package differ in findings/said.go and put it into findings.Claims, or give the reason why it compares no results", where, text, word)
	}
	said := func(where, one, many string) {
		check(where, one)
		if many != "" {
			check(where, many)
		}
	}
	inTemplates(t, said)
	inGo(t, said)
	inScripts(t, said)
	for _, dir := range []string{"../../cmd/tussock", "../findings", "../bulletin", "../stat/mixed", "../stat/trend"} {
		inLiterals(t, dir, check)
	}

	for _, list := range others {
		for _, o := range list {
			if !excepted[o] {
				t.Errorf("no text needs the exception %q any more", o)
			}
		}
	}
	for _, c := range findings.Claims {
		if !seen[c.Sentence] {
			t.Errorf("nobody says %q any more: take it from findings.Claims", c.Sentence)
		}
	}
}

// inLiterals finds the sentences among a package's texts: those of three words and more.
func inLiterals(t *testing.T, dir string, check func(where, text string)) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files in %s: %v", dir, err)
	}
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") || filepath.Base(path) == "claims.go" {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if text, err := strconv.Unquote(lit.Value); err == nil && strings.Count(text, " ") >= 2 {
					check(path, text)
				}
			}
			return true
		})
	}
}

// TestClaimsAreTested: the test that a claim names is there.
func TestClaimsAreTested(t *testing.T) {
	for _, c := range findings.Claims {
		if c.Sentence == "" || c.Claim == "" {
			t.Errorf("an empty claim: %+v", c)
		}
		pkg, test, ok := strings.Cut(c.Test, ".")
		files, err := filepath.Glob(filepath.Join("..", pkg, "*_test.go"))
		if len(files) == 0 {
			files, err = filepath.Glob(filepath.Join("..", "stat", pkg, "*_test.go"))
		}
		if !ok || err != nil || len(files) == 0 {
			t.Errorf("%q: no tests of %q", c.Sentence, c.Test)
			continue
		}
		if !slices.ContainsFunc(files, func(path string) bool {
			text, err := os.ReadFile(path)
			return err == nil && strings.Contains(string(text), "func "+test+"(t *testing.T)")
		}) {
			t.Errorf("%q: there is no %s", c.Sentence, c.Test)
		}
	}
}
