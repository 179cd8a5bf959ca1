package pages_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

const columns = "transect,nest,substrate,set_on,check1_on,check1,check2_on,check2\n"

// plain is a sheet without anything to ask.
const plain = "\xef\xbb\xbf" + columns +
	"A,1,bunchgrass,2026-04-28,2026-05-12,intact,2026-05-26,taken\r\n" +
	"A,2,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n" +
	"A,3,bunchgrass,2026-04-28,2026-05-12,taken,,\n"

// rows returns the nests that count for the member's ranches.
func (m *member) rows() []survey.Nest {
	m.t.Helper()
	var d *survey.Data
	m.does(func(tx *postgres.Tx) (err error) {
		d, err = tx.Survey(m.actor.Ranches, 0)
		return err
	})
	return d.Nests
}

func (m *member) sent(ranch access.ID) (list []postgres.Upload) {
	m.t.Helper()
	m.does(func(tx *postgres.Tx) (err error) {
		list, err = tx.Uploads(ranch)
		return err
	})
	return list
}

func TestSend(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)

	ada.want(ada.opens("/send"), http.StatusOK, "Send a season’s results", "For Cottonwood Draw")
	id, page := ada.kept(ada.sends([]sheet{{"../nests 2026.csv", plain}}))
	ada.want(page, http.StatusOK, "3 nests on 1 line: 1 with all eggs at the last check, 2 taken.", "It is right: accept it", "Right?", "See your page", "nests 2026.csv")
	if got := page.title(); got != "Your sheet is in" {
		t.Errorf("title = %q", got)
	}
	if got := len(ada.rows()); got != 3 {
		t.Errorf("%d nests count, want 3", got)
	}

	t.Run("TheOriginalComesBack", func(t *testing.T) {
		file := ada.opens("/uploads/" + string(id) + "/file")
		if file.body != plain {
			t.Errorf("the file came back as %q", file.body)
		}
		for name, want := range map[string]string{
			"Content-Disposition": `attachment; filename="nests 2026.csv"`, "X-Content-Type-Options": "nosniff",
			"Content-Type": "application/octet-stream", "Cache-Control": "no-store",
		} {
			if got := file.header.Get(name); got != want {
				t.Errorf("%s = %q, want %q", name, got, want)
			}
		}
		sum := sha256.Sum256([]byte(plain))
		ada.want(page, http.StatusOK, hex.EncodeToString(sum[:]), "kept exactly as it came")
	})

	t.Run("SameFileTwice", func(t *testing.T) {
		again, page := ada.kept(ada.sends([]sheet{{"a copy.csv", plain}}))
		ada.want(page, http.StatusOK, "We already hold this very file", "Nothing was changed")
		if again != id || len(ada.sent(ranch)) != 1 {
			t.Errorf("a second sending made upload %s of %d, want %s of 1", again, len(ada.sent(ranch)), id)
		}
	})

	t.Run("UndoAndRestore", func(t *testing.T) {
		ada.posts("/uploads/" + string(id) + "/undo")
		ada.want(ada.opens("/uploads/"+string(id)), http.StatusOK, "This sheet was taken back", "Restore this sheet")
		if got := len(ada.rows()); got != 0 {
			t.Errorf("%d nests count after undoing, want 0", got)
		}
		ada.posts("/uploads/" + string(id) + "/restore")
		if got := len(ada.rows()); got != 3 {
			t.Errorf("%d nests count after restoring, want 3", got)
		}
	})

	t.Run("ReplaceAndTakeBack", func(t *testing.T) {
		ada.want(ada.opens("/send?replaces="+string(id)), http.StatusOK, "takes the place of nests 2026.csv")
		mended := strings.Replace(plain, "A,3,bunchgrass,2026-04-28,2026-05-12,taken,,\n", "", 1)
		later, _ := ada.kept(ada.sends([]sheet{{"mended.csv", mended}}, "replaces", string(id)))
		if got := len(ada.rows()); got != 2 {
			t.Errorf("%d nests count after replacing, want 2", got)
		}
		page := ada.opens("/uploads/" + string(id))
		ada.want(page, http.StatusOK, "A later file took its place")
		if !strings.Contains(page.body, "/uploads/"+string(later)) {
			t.Error("no link to the later file")
		}
		ada.posts("/uploads/" + string(later) + "/undo")
		if got := len(ada.rows()); got != 3 {
			t.Errorf("%d nests count after taking the later file back, want 3", got)
		}
		ada.want(ada.opens("/uploads"), http.StatusOK, "Counts: 3 nests", "Taken back: 2 nests")
	})
}

// Several CSV files are one sending: nests stand in one, their checks in another.
func TestSendSeveralFiles(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	nests := sheet{"nests.csv", "transect,nest,substrate,set_on\nA,1,yucca,2026-04-28\n"}
	checks := sheet{"checks.csv", "transect,nest,checked_on,state\nA,1,2026-05-12,intact\nA,1,2026-05-26,taken\n"}
	id, _ := ada.kept(ada.sends([]sheet{checks, nests}))
	rows := ada.rows()
	if len(rows) != 1 || rows[0].Fate() != survey.Taken || len(rows[0].Visits) != 2 {
		t.Fatalf("nests = %+v, want one, taken at the second visit", rows)
	}
	again, _ := ada.kept(ada.sends([]sheet{nests, checks}))
	if again != id {
		t.Error("the same files in another order are taken for new ones")
	}
}

// What is no sheet at all, by its bytes, is not kept, and the form says what to do.
func TestSendUnreadable(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	for _, tt := range []struct {
		name   string
		sheets []sheet
		says   string
	}{
		{"NoFile", nil, "No file"},
		{"Empty", []sheet{{"nests.csv", ""}}, "is empty"},
		{"Picture", []sheet{{"field sheet.JPG", "\xff\xd8\xff"}}, "is a picture"},
		{"PrintedPage", []sheet{{"nests.pdf", "%PDF-1.7"}}, "is a PDF"},
		{"TooLarge", []sheet{{"nests.csv", strings.Repeat("x", 20<<20+1)}}, "more than 20 MB"},
		{"BadSeason", []sheet{{"nests.csv", plain}}, "The season is a year"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var fields []string
			if tt.name == "BadSeason" {
				fields = []string{"season", "soon"}
			}
			got := ada.sends(tt.sheets, fields...)
			ada.want(got, http.StatusUnprocessableEntity, tt.says, "Send a season’s results")
			if !strings.Contains(got.body, `role="alert"`) {
				t.Error("what is wrong is not announced")
			}
			if sent := ada.sent(ranch); len(sent) != 0 {
				t.Errorf("%d files were kept", len(sent))
			}
		})
	}
}

// A file in which the clerk finds nothing to read is kept, counts for nothing, and its page says what to do.
func TestSendNothingToRead(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	for _, tt := range []struct {
		name  string
		sheet sheet
	}{
		{"HalfAWorkbook", sheet{"nests.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"}},
		{"NotAWorkbook", sheet{"nests.xlsx", "this is no workbook"}},
		{"NotASheet", sheet{"letter.csv", "Dear Ada,\nthank you for the eggs.\n"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, page := ada.kept(ada.sends([]sheet{tt.sheet}))
			ada.want(page, http.StatusOK, "Nothing in this sheet could be read", "Send another file in its place", "Take this sheet back")
			if got := len(ada.rows()); got != 0 {
				t.Errorf("%d nests count", got)
			}
		})
	}
}

// Rows of a ranch that is not the sender's own are refused, in the same words whether there is such a ranch or not.
func TestSendForeignRows(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	rosa.invites(access.Landowner, rosa.adds("Antelope Flat", "Bo Flat"))
	asked := func(ranch string) string {
		data := "ranch," + columns + "Cottonwood Draw,A,1,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n" +
			ranch + ",A,1,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n"
		id, page := ada.kept(ada.sends([]sheet{{"nests.csv", data}}))
		ada.want(page, http.StatusOK, "which is not the ranch you are sending for", "row 3")
		ada.posts("/uploads/" + string(id) + "/undo")
		text, _, _ := strings.Cut(page.text(), "Receipt")
		return strings.ReplaceAll(text, ranch, "…")
	}
	if there, not := asked("Antelope Flat"), asked("Nowhere Flats"); there != not {
		t.Errorf("a ranch that exists is asked about as %q, one that does not as %q", there, not)
	}
	for _, n := range ada.rows() {
		if n.Ranch != "Cottonwood Draw" {
			t.Errorf("a nest of %s counts", n.Ranch)
		}
	}
}

// One sheet with rows of two of one's ranches is sent once, and every row counts once, where it belongs.
func TestSendForTwoRanches(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	one, two := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Ada Marsh")
	ada := rosa.invites(access.Landowner, one, two)
	both := sheet{"nests.csv", "ranch," + columns + "Cottonwood Draw,A,1,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n" +
		"North Breaks,A,2,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n"}
	_, page := ada.kept(ada.sends([]sheet{both}, "ranch", string(one)))
	ada.want(page, http.StatusOK, "1 nest of North Breaks stand in this sheet, too. They count there.", "Nest 1 on line A")
	if strings.Contains(page.text(), "Nest 2 on line A") {
		t.Error("the nest of the other ranch is read back as this one's")
	}
	for _, ranch := range []access.ID{one, two} {
		sent := ada.sent(ranch)
		if len(sent) != 1 || sent[0].Nests != 1 {
			t.Errorf("%s got %+v", ranch, sent)
		}
	}
}

// A question is asked, answered once and asked again on wish; a word that was explained is remembered for the ranch.
func TestAnswers(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	odd := columns + "A,1,tasajillo,2026-04-28,2026-05-12,intact,2026-05-26,taken\n" +
		"A,2,bunchgrass,2026-04-28,2026-05-12,intact,,\n"
	id, page := ada.kept(ada.sends([]sheet{{"odd.csv", odd}}))
	path := "/uploads/" + string(id)

	asked := questions(page)
	if len(asked) == 0 {
		t.Fatalf("nothing is asked: %s", page.text())
	}
	if len(asked) > 7 {
		t.Errorf("%d questions on one screen, want 7 at most", len(asked))
	}
	var fields []string
	for _, q := range asked {
		fields = append(fields, "q."+q.id, q.choices[0])
	}
	if got := ada.posts(path+"/answers", fields...); got.status != http.StatusSeeOther {
		t.Fatalf("answering gave %d: %s", got.status, got.text())
	}
	page = ada.opens(path)
	ada.want(page, http.StatusOK, "You have answered")
	for _, q := range questions(page) {
		for _, before := range asked {
			if q.id == before.id {
				t.Errorf("question %s is asked again", q.id)
			}
		}
	}

	ada.posts(path+"/answers", "again", "questions")
	if got := ada.opens(path); strings.Contains(got.text(), "You have answered") {
		t.Error("the answers are still there after asking again")
	}
	if again := questions(ada.opens(path)); len(again) != len(asked) {
		t.Errorf("%d questions are asked again, want %d", len(again), len(asked))
	}
	if got := ada.posts(path+"/answers", "q.nonsense", "x"); got.status != http.StatusSeeOther {
		t.Errorf("an answer nobody asked for gave %d", got.status)
	}
}

// What we tidied can be taken back and tidied after all, and the whole sheet be read the other way round.
func TestTidiedAndSettings(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	id, page := ada.kept(ada.sends([]sheet{{"nests.csv", columns + "A,1,PP,04/05/2026,18/05/2026,ok,,\n"}}, "date_order", "day"))
	path := "/uploads/" + string(id)
	note := regexp.MustCompile(`name="take_back" value="([^"]+)"`).FindStringSubmatch(page.body)
	if note == nil {
		t.Fatalf("nothing can be taken back: %s", page.text())
	}
	ada.posts(path+"/answers", "take_back", note[1])
	if got := ada.opens(path); strings.Contains(got.body, `value="`+note[1]+`"`) {
		t.Error("what was taken back is still tidied")
	} else {
		ada.want(got, http.StatusOK, "You undid 1 of the things we tidied")
	}
	ada.posts(path+"/answers", "again", "tidied")
	if got := ada.opens(path); !strings.Contains(got.body, `value="`+note[1]+`"`) {
		t.Error("it is not tidied after all")
	}

	if got, want := ada.rows()[0].SetOn, survey.DateOf(2026, time.May, 4); got != want {
		t.Errorf("set on %v read day first, want %v", got, want)
	}
	ada.posts(path+"/answers", "settings", "1", "date_order", "month")
	for _, n := range ada.rows() {
		if n.SetOn == survey.DateOf(2026, time.May, 4) {
			t.Errorf("set on %v read month first", n.SetOn)
		}
	}
}

// A word explained once is not asked about in the next season's sheet.
func TestWordsAreRemembered(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	in := func(year string) string {
		const row = "A,%d,tasajillo,2026-04-28,2026-05-12,intact,2026-05-26,taken\n" // a plant of one nest alone is worth no question
		return columns + strings.ReplaceAll(fmt.Sprintf(strings.Repeat(row, 4), 1, 2, 3, 4), "2026", year)
	}
	id, page := ada.kept(ada.sends([]sheet{{"2025.csv", in("2025")}}))
	var fields []string
	for _, q := range questions(page) {
		for _, choice := range q.choices {
			if choice == "shrub" {
				fields = append(fields, "q."+q.id, choice)
			}
		}
	}
	if len(fields) == 0 {
		t.Fatalf("the word is not asked about: %s", page.text())
	}
	ada.posts("/uploads/"+string(id)+"/answers", fields...)
	_, page = ada.kept(ada.sends([]sheet{{"2026.csv", in("2026")}}))
	if asked := questions(page); len(asked) != 0 {
		t.Errorf("the next season's sheet is asked about %+v", asked)
	}
	for _, n := range ada.rows() {
		if n.Substrate != survey.Shrub {
			t.Errorf("season %d: substrate = %q, want %q", n.Season, n.Substrate, survey.Shrub)
		}
	}
}

type asked struct {
	id      string
	choices []string
}

// questions reads the questions off a page.
func questions(page answer) (list []asked) {
	for _, m := range regexp.MustCompile(`type="radio" name="q\.([^"]+)" value="([^"]+)"`).FindAllStringSubmatch(page.body, -1) {
		if len(list) == 0 || list[len(list)-1].id != m[1] {
			list = append(list, asked{id: m[1]})
		}
		list[len(list)-1].choices = append(list[len(list)-1].choices, m[2])
	}
	return list
}

func TestBlankSheet(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	got := ada.opens("/send/blank.xlsx")
	// A workbook is a ZIP archive (ECMA-376, part 2), which begins with PK\3\4.
	if got.status != http.StatusOK || !strings.HasPrefix(got.body, "PK\x03\x04") {
		t.Fatalf("the blank sheet gave %d, %d bytes", got.status, len(got.body))
	}
}
