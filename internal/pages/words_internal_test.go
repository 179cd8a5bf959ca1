package pages

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

// spokenPages are the templates that say everything in both languages: those of the field, of sending, of the landowner and
// of the coordinator, and what every page has round it.
var spokenPages = []string{
	"layout/base",
	"pages/plan",
	"pages/plan_map",
	"pages/plan_line",
	"pages/plan_reminders",
	"pages/plan_agreement",
	"pages/account_phone", "pages/sign_in_letter", "shared/remembered", "shared/one_proof",
	"shared/cooperative_nav", "shared/ranch_form",
	"pages/cooperative", "pages/cooperative_areas", "pages/cooperative_bulletins", "pages/cooperative_introductions", "pages/cooperative_late", "pages/cooperative_log", "pages/cooperative_map", "pages/cooperative_key", "pages/remains", "shared/remains_key", "shared/mix",
	"pages/cooperative_members", "pages/cooperative_old", "pages/cooperative_old_sent", "pages/cooperative_edition", "pages/changes", "shared/changes", "pages/cooperative_ranch", "pages/cooperative_ranches", "pages/cooperative_retract", "pages/cooperative_uploads",
	"pages/outreach", "pages/outreach_introductions", "pages/outreach_place", "pages/outreach_poster",
	"pages/send", "pages/sent", "pages/upload", "pages/upload_rows", "pages/uploads", "pages/hand", "shared/sheet_grid",
	"pages/paper", "pages/keys", "pages/key", "pages/key_again", "pages/quiz", "shared/keying",
	"pages/field", "pages/field_open", "pages/field_links", "pages/field_results",
	"pages/account", "pages/account_address", "pages/account_address_open", "pages/account_codes", "pages/account_passkeys",
	"pages/sign_in", "pages/sign_in_again", "pages/sign_in_code", "pages/sign_in_link", "pages/sign_in_link_open", "pages/join", "pages/error", "pages/files",
	"pages/ranch", "shared/beside", "shared/symbols", "shared/csrf", "shared/clump",
	"pages/region", "pages/region_named", "pages/region_quality", "pages/tokens", "shared/method",
	"pages/about", "pages/account_leave", "pages/promise", "pages/showcase", "pages/who", "pages/who_neighbor", "pages/who_share", "pages/who_showcase", "pages/who_log", "pages/who_owners",
}

// TestNoTextMissing names every text that is said somewhere and that the Spanish catalogs lack.
func TestNoTextMissing(t *testing.T) {
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	spanish := book.In(words.Spanish)
	seen := 0
	said := func(where, one, many string) {
		seen++
		if many == "" && !spanish.Has(one) {
			t.Errorf("%s: %q is not in web/words/es", where, one)
		}
		if many != "" && !spanish.HasCount(one) {
			t.Errorf("%s: %q with %q is not in web/words/es", where, one, many)
		}
		if many == "" && strings.Count(one, "%") != strings.Count(spanish.Say(one), "%") {
			t.Errorf("%s: %q and %q do not take the same", where, one, spanish.Say(one))
		}
	}
	surveyWords(said)
	inTemplates(t, said)
	inGo(t, said)
	inScripts(t, said)
	if seen < 5 {
		t.Errorf("only %d texts were found: the search is broken", seen)
	}
}

// TestPagesSpeak finds what the spoken pages say in English only.
func TestPagesSpeak(t *testing.T) {
	tags := regexp.MustCompile(`(?s)<(script|style|code)\b.*?</(script|style|code)>|<[^>]*>|&[a-z]+;`)
	letters := regexp.MustCompile(`\pL{2,}`)
	attributes := regexp.MustCompile(`(?:aria-label|title|placeholder|alt)="[^"{]*\pL{2,}[^"]*"`)
	actions := regexp.MustCompile(`(?s)\{\{.*?\}\}`)
	for _, name := range spokenPages {
		text, err := fs.ReadFile(web.FS, "templates/"+name+".html")
		if err != nil {
			t.Fatal(err)
		}
		bare := actions.ReplaceAllString(string(text), "")
		for _, a := range attributes.FindAllString(bare, -1) {
			t.Errorf("%s: %s is in English only", name, a)
		}
		for _, word := range letters.FindAllString(tags.ReplaceAllString(bare, " "), -1) {
			if word != "Tussock" {
				t.Errorf("%s: %q is in English only", name, word)
			}
		}
	}
}

// surveyWords are those of the survey itself, which pages say as they find them.
func surveyWords(said func(where, one, many string)) {
	for _, p := range survey.Predators {
		said("survey", string(p), "")
	}
	for _, s := range []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb} {
		said("survey", string(s), "")
	}
	for _, sign := range bulletin.Signs {
		said("bulletin", sign, "")
	}
	for _, r := range access.Roles {
		said("access", string(r), "")
	}
	for _, state := range []string{postgres.AskWaiting, postgres.AskPassedOn, postgres.AskDeclined} {
		said("postgres", state, "")
	}
	said("bulletin", bulletin.OtherOrUnknown, "")
}

// inTemplates finds {{t "…"}} and {{n "…" "…"}}.
func inTemplates(t *testing.T, said func(where, one, many string)) {
	names, err := fs.Glob(web.FS, "templates/*/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(web.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		trees := map[string]*parse.Tree{}
		tree := parse.New(name)
		tree.Mode = parse.SkipFuncCheck
		if _, err := tree.Parse(string(text), "", "", trees); err != nil {
			t.Fatal(err)
		}
		for _, tree := range trees {
			walkTemplate(tree.Root, func(c *parse.CommandNode) {
				if len(c.Args) < 2 {
					return
				}
				one, ok := c.Args[1].(*parse.StringNode)
				switch f, _ := c.Args[0].(*parse.IdentifierNode); {
				case f == nil || !ok:
				case f.Ident == "t":
					said(name, one.Text, "")
				case f.Ident == "n" && len(c.Args) > 2:
					if many, ok := c.Args[2].(*parse.StringNode); ok {
						said(name, one.Text, many.Text)
					}
				}
			})
		}
	}
}

func walkTemplate(n parse.Node, found func(*parse.CommandNode)) {
	branch := func(b *parse.BranchNode) {
		walkTemplate(b.Pipe, found)
		walkTemplate(b.List, found)
		if b.ElseList != nil {
			walkTemplate(b.ElseList, found)
		}
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, x := range n.Nodes {
			walkTemplate(x, found)
		}
	case *parse.ActionNode:
		walkTemplate(n.Pipe, found)
	case *parse.TemplateNode:
		if n.Pipe != nil {
			walkTemplate(n.Pipe, found)
		}
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			found(c)
			for _, a := range c.Args {
				if p, ok := a.(*parse.PipeNode); ok {
					walkTemplate(p, found)
				}
			}
		}
	}
}

// inGo finds Say("…"), Count("…", "…"), words.Mark("…") and words.Later("…") in every package.
func inGo(t *testing.T, said func(where, one, many string)) {
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			f, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			text := func(i int) string {
				if i >= len(call.Args) {
					return ""
				}
				lit, ok := call.Args[i].(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					return ""
				}
				s, _ := strconv.Unquote(lit.Value)
				return s
			}
			switch one := text(0); {
			case one == "":
			case f.Sel.Name == "Say" || f.Sel.Name == "Mark" || f.Sel.Name == "Later":
				said(path, one, "")
			case (f.Sel.Name == "Count" || f.Sel.Name == "LaterCount") && text(1) != "":
				said(path, one, text(1))
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestVerbsAreFilled holds the verbs of every text that Go code fills in against what it is given: one too few, or a number in a name's place, is what a
// reader sees.
func TestVerbsAreFilled(t *testing.T) {
	verb := regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+)?([sdvqfgxtc%])`)
	seen := 0
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || call.Ellipsis.IsValid() {
				return true
			}
			f, ok := call.Fun.(*ast.SelectorExpr)
			texts := map[string]int{"Say": 1, "Later": 1, "Count": 2, "LaterCount": 2}
			if !ok || texts[f.Sel.Name] == 0 {
				return true
			}
			args := call.Args[min(len(call.Args), texts[f.Sel.Name]):]
			if texts[f.Sel.Name] == 2 && len(args) > 1 {
				args = args[1:] // n itself is not filled in where there are others
			}
			for _, x := range call.Args[:min(len(call.Args), texts[f.Sel.Name])] {
				lit, ok := x.(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					continue
				}
				text, _ := strconv.Unquote(lit.Value)
				takes, indexed := 0, false
				for _, m := range verb.FindAllStringSubmatch(text, -1) {
					switch k, _ := strconv.Atoi(m[1]); {
					case m[2] == "%":
					case m[1] != "":
						takes, indexed = max(takes, k), true
					default:
						takes++
					}
				}
				if seen++; takes > len(args) || takes < len(args) && !indexed && takes > 0 && texts[f.Sel.Name] == 1 {
					t.Errorf("%s: %q takes %d and is given %d", path, text, takes, len(args))
				}
			}
			return true
		})
		return nil
	})
	if err != nil || seen < 500 {
		t.Fatalf("%d texts were found: %v", seen, err)
	}
}

// TestEveryNoteOfTheLogIsSaid says every kind of note of the log, once and several times, by a member, a link and somebody who has left.
func TestEveryNoteOfTheLogIsSaid(t *testing.T) {
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("../postgres/log.go")
	if err != nil {
		t.Fatal(err)
	}
	block, _, _ := strings.Cut(strings.SplitN(string(text), "const (", 2)[1], ")\n\n")
	kinds := regexp.MustCompile(`(?m)^\t\w+ += "([^"]+)"`).FindAllStringSubmatch(block, -1)
	if len(kinds) < 20 {
		t.Fatalf("%d kinds of note", len(kinds))
	}
	for _, language := range []words.Language{words.English, words.Spanish} {
		b := sampleBase("Who looked", "/who/log", access.Landowner)
		b.Say = book.In(language)
		for _, k := range kinds {
			var notes []postgres.Note
			for _, n := range []postgres.Note{{Name: "Joss", Role: access.Hand, Line: "North 1"}, {Link: true, Item: "summer hand", Line: "2"}, {Item: "nests.csv"}} {
				for times := range 2 {
					n.Ranch, n.What, n.Times, n.Last = "1", k[1], times+1, sampleDay
					notes = append(notes, n)
				}
			}
			r := whoLogRanchOf(b, postgres.Ranch{ID: "1", Name: "Cottonwood Draw"}, notes, nil)
			for _, day := range r.Days {
				for i, n := range day.Notes {
					if n.Did == "" || strings.ContainsAny(n.Did+n.Item, "%!") {
						t.Errorf("%s, in %s: note %d says %q (%s)", k[1], language, i, n.Did, n.Item)
					}
				}
			}
			if len(r.Days) != 1 || len(r.Days[0].Notes) != len(notes) {
				t.Errorf("%s: %d days", k[1], len(r.Days))
			}
		}
	}
}

// inScripts finds say("…") in our own scripts.
func inScripts(t *testing.T, said func(where, one, many string)) {
	call := regexp.MustCompile(`\bsay\(\s*("(?:[^"\\]|\\.)*")`)
	names, err := fs.Glob(web.FS, "static/*.js")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(web.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range call.FindAllStringSubmatch(string(text), -1) {
			s, err := strconv.Unquote(m[1])
			if err != nil {
				t.Errorf("%s: %s: %v", name, m[1], err)
				continue
			}
			said(name, s, "")
		}
	}
}

// spanishPages are filled pages whose sentences handlers make.
func spanishPages(t *testing.T, say words.Speaker) map[string]any {
	t.Helper()
	at := func(title, path string, role access.Role) base {
		b := sampleBase(say.Say(title), path, role)
		b.Say = say
		return b
	}
	said := func(title string) base { return at(title, "/account", access.Landowner) }
	invitation := postgres.Invitation{InvitedBy: "Rosa Lind", Role: access.Landowner, Ranches: []string{"Cottonwood Draw", "North Breaks"}, Email: "ada@example.org"}
	link := account.Link{Name: "Ada Marsh", Cooperative: "Sandhill Grass", Email: "ada.marsh@example.org"}
	codes := setting(account.Enrollment{Secret: "GEZD GNBV", QR: []byte("png")})
	codes.base = said("One-time codes")
	ranch := sampleRanch(say)
	for _, kind := range []string{findings.FewClumps, findings.LossesDespiteCover, findings.LeaveIt} {
		ranch.Talk = append(ranch.Talk, findings.CommonTalk(kind))
	}
	device := device(say, "Mozilla/5.0 (Linux; Android 10; K) Chrome/124.0.0.0 Mobile Safari/537.36")
	pages := map[string]any{
		"ranch":   ranch,
		"error":   errorPage{base: at(apologies[404].title, "/x", ""), Sentence: say.Say(apologies[404].sentence), Reference: "00ff"},
		"sign_in": signInPage{base: at("Sign in", "/sign-in", ""), Marks: doorMarks(say), Passkeys: true, Letters: true, Next: "/"},
		"sign_in_again": signInAgainPage{base: said("Is it still you?"), Action: "/who/1", Held: []heldField{{"level", "1"}},
			Means: account.Means{Passkey: true, Code: true}},
		"sign_in_code":      signInCodePage{base: at("Your code, please", "/sign-in/code", "")},
		"sign_in_link":      signInLinkPage{base: at("A link instead of a password", "/sign-in/link", ""), Sent: true},
		"sign_in_link_open": signInLinkOpenPage{base: at("That link is over", "/sign-in/link/x", ""), Link: link, Token: "x"},
		"join":              joinPage{base: at("Your name", "/join/x", ""), Token: "x", Invitation: invitation, Asks: joinAsks(say, invitation), Sees: say.Say(parts[invitation.Role].sees)},
		"account": accountPage{base: said("Your name"), Feeds: []feedRow{{"1", true, say.Day(sampleDay), say.Say("never yet")}}, Email: "ada@example.org", Part: say.Say("Owner"), Changed: true, Tokens: true, Letters: true,
			Sessions: []sessionRow{{"a", device, say.Day(sampleDay), say.Day(sampleDay), true}, {"b", device, say.Day(sampleDay), say.Day(sampleDay), false}}},
		"account_passkeys":     accountPasskeysPage{base: said("Passkeys"), Can: true, Added: true, Name: device, Passkeys: []passkeyRow{{"1", device, say.Day(sampleDay), say.Say("never yet")}}},
		"account_codes":        codes,
		"account_address":      accountAddressPage{base: said("Your e-mail address"), Email: "ada@example.org", Letters: true, Sent: true, Changed: true},
		"account_address_open": accountAddressOpenPage{base: said("Your new address"), Link: link, Token: "x"},
		"showcase":             showcasePage{base: said("Shown by name"), Shown: shownOf(say, []postgres.Showing{{RanchName: "North Breaks", Season: 2026, Estimate: 0.5, Low: 0.4, High: 0.6, PutAt: sampleDay}})},
		"tokens": tokensPage{base: said("Tokens for your own programs"), Tokens: []tokenRow{{"1", "R", say.Day(sampleDay), say.Say("never yet"), say.Day(sampleDay)}}, Lasts: tokenLasts, Days: 90,
			Secret: "x", Problem: say.Say("A token lasts from 1 to %d days.", 365), Reads: say.Say("the bulletins, as you see them")},
	}
	maps.Copy(pages, cooperativePages(say))
	maps.Copy(pages, regionPages(t, say))
	maps.Copy(pages, outreachPages(t, say))
	return pages
}

// TestSpanishPages looks for English words on filled pages said in Spanish. The words are among the hundred commonest of
// written English and are none of Spanish (from memory).
func TestSpanishPages(t *testing.T) {
	s := sampleServer(t)
	spanish := s.book.In(words.Spanish)
	pages := spanishPages(t, spanish)
	english := regexp.MustCompile(`(?i)\b(the|of|and|to|in|that|it|with|for|was|on|are|by|this|have|from|which|were|been|nests?|eggs?|your|lasted|cover)\b`)
	silent := regexp.MustCompile(`(?s)<form class="language".*?</form>|<symbol.*?</symbol>|&[a-z]+;`)
	tags := regexp.MustCompile(`<[^>]*>`)
	spoken := regexp.MustCompile(`(?:aria-label|title|alt|placeholder)="([^"]*)"`)
	names := regexp.MustCompile(`sand sagebrush|cover study`) // a cover in the sheet's own word, a purpose in the owner's
	text := func(name string, page any) string {
		var b bytes.Buffer
		if err := s.views.Render(&b, name, page); err != nil {
			t.Fatal(err)
		}
		html := silent.ReplaceAllString(b.String(), " ")
		text := tags.ReplaceAllString(html, " ")
		for _, m := range spoken.FindAllStringSubmatch(html, -1) {
			text += " | " + m[1]
		}
		return names.ReplaceAllString(text, "")
	}
	for name, page := range spanishPages(t, words.Speaker{}) {
		if !english.MatchString(text("en/"+name, page)) {
			t.Errorf("%s has no English even in English: the search is broken", name)
		}
	}
	for name, page := range pages {
		text := text("es/"+name, page)
		for _, at := range english.FindAllStringIndex(text, -1) {
			t.Errorf("%s: %q in %q", name, text[at[0]:at[1]], strings.Join(strings.Fields(text[max(0, at[0]-50):min(len(text), at[1]+50)]), " "))
		}
	}
}
