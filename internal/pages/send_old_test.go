package pages_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// year is a sheet of one season: as many nests on one line, and no word of whose they are.
func year(y, nests int) sheet {
	var b strings.Builder
	b.WriteString(columns)
	for i := range nests {
		fmt.Fprintf(&b, "A,%d,yucca,%d-04-28,%d-05-12,intact,%d-05-26,intact\n", i+1, y, y, y)
	}
	return sheet{fmt.Sprintf("%d.csv", y), b.String()}
}

// sendsTo sends sheets with a form of another page than /send.
func (m *member) sendsTo(path string, sheets []sheet, fields ...string) answer {
	m.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	fields = append(fields, "csrf", m.word())
	for i := 0; i+1 < len(fields); i += 2 {
		if err := w.WriteField(fields[i], fields[i+1]); err != nil {
			m.t.Fatal(err)
		}
	}
	for _, s := range sheets {
		part, err := w.CreateFormFile("file", s.name)
		if err == nil {
			_, err = part.Write([]byte(s.data))
		}
		if err != nil {
			m.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		m.t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, path, &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return m.asks(r)
}

// settled opens a page until nothing on it is being read any more.
func (m *member) settled(path string) answer {
	m.t.Helper()
	for end := time.Now().Add(time.Minute); ; time.Sleep(50 * time.Millisecond) {
		page := m.opens(path)
		if !strings.Contains(page.body, `http-equiv="refresh"`) {
			return page
		}
		if time.Now().After(end) {
			m.t.Fatalf("%s is still being read: %s", path, page.text())
		}
	}
}

// Sheets of many years, sent at once, are one list; those that do not say which of the sender's ranches they are of are asked
// about once, and nobody else sees them until then.
func TestSendOldSeasons(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	one, two := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Ada Marsh")
	ada, luis := rosa.invites(access.Landowner, one, two), rosa.invites(access.Hand, one)
	got := ada.sendsTo("/send/old", []sheet{year(2021, 2), year(2022, 3), {"letter.csv", "Dear Ada,\nthank you.\n"}})
	list := got.header.Get("Location")
	if got.status != http.StatusSeeOther || !strings.HasPrefix(list, "/sent/") {
		t.Fatalf("sending gave %d %q: %s", got.status, list, got.text())
	}
	page := ada.settled(list)
	ada.want(page, http.StatusOK, "3 sheets came in", "2 sheets do not say which ranch they are of", "“letter.csv”: nothing in it can be read.")
	if n := len(ada.rows()); n != 0 {
		t.Errorf("%d nests count before anybody said whose they are", n)
	}
	if of := luis.opens(list); of.status != http.StatusNotFound {
		t.Errorf("a hand of one of the ranches sees the list: %d", of.status)
	}

	var fields []string
	for _, m := range regexp.MustCompile(`type="checkbox" name="sheet" value="([^"]+)"`).FindAllStringSubmatch(page.body, -1) {
		fields = append(fields, "sheet", m[1])
	}
	ada.posts(list+"/file", append(fields, "ranch", string(two))...)
	page = ada.settled(list)
	ada.want(page, http.StatusOK, "2021.csv", "2 nests", "2022.csv", "3 nests")
	if sent := ada.sent(two); len(sent) != 2 || len(ada.sent(one)) != 0 {
		t.Errorf("%d sheets are filed under the ranch named, %d under the other", len(sent), len(ada.sent(one)))
	}
	letter := regexp.MustCompile(`type="hidden" name="sheet" value="([^"]+)"`).FindStringSubmatch(page.body)
	ada.posts(list+"/drop", "sheet", letter[1])
	if page = ada.opens(list); strings.Contains(page.text(), "letter.csv") {
		t.Error("what was forgotten is still on the list")
	}
}

// A coordinator sends old sheets for a ranch while an owner's yes stands, sees that they were read and nothing that they say; the
// owner sees who sent them and takes them and the yes back.
func TestSendForOwner(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	sends := func(s sheet) answer { return rosa.sendsTo("/cooperative/old", []sheet{s}, "ranch", string(ranch)) }
	if got := sends(year(2021, 2)); got.status != http.StatusNotFound {
		t.Errorf("without a yes, sending for an owner gave %d", got.status)
	}
	ada.does(func(tx *postgres.Tx) error { return tx.LetSend(ranch) })
	rosa.want(rosa.opens("/cooperative/old"), http.StatusOK, "Cottonwood Draw")
	list := sends(year(2021, 7)).header.Get("Location")
	page := rosa.settled(list)
	rosa.want(page, http.StatusOK, "1 sheet came in for Cottonwood Draw", "2021.csv", "2021", "read")
	if strings.Contains(page.text(), "7") || strings.Contains(page.text(), "nest") {
		t.Errorf("the coordinator sees what the sheet says: %s", page.text())
	}
	readsOf := func(list string) (all string) { // what the coordinator reads anywhere of it
		for _, path := range []string{list, "/cooperative/old", "/cooperative", "/cooperative/uploads", "/cooperative/uploads?season=2021", "/cooperative/late"} {
			all += rosa.settled(path).text()
		}
		return all
	}
	sent := ada.sent(ranch)
	if len(sent) != 1 || len(ada.rows()) != 0 {
		t.Fatalf("the owner has %d sheets and %d nests", len(sent), len(ada.rows()))
	}
	home := "/ranch/" + string(ranch)
	ada.want(ada.opens(home), http.StatusOK, "Nothing has been sent for Cottonwood Draw yet", "1 old sheet that was sent for you waits")
	ada.want(ada.opens("/uploads"), http.StatusOK, "Waits until you accept it: 7 nests")
	path := "/uploads/" + string(sent[0].ID)
	if got := rosa.opens(path); got.status != http.StatusNotFound && got.status != http.StatusForbidden {
		t.Errorf("the coordinator opens the sheet: %d", got.status)
	}
	ada.want(ada.opens(path), http.StatusOK, "Sent for you by Person One on", "If you accept it, this counts: 7 nests", "Take this sheet back")
	before := readsOf(list)
	ada.posts(path + "/accept")
	if got := readsOf(list); got != before {
		t.Errorf("after the owner accepted the sheet the coordinator reads %s, before %s", got, before)
	}
	if n := len(ada.rows()); n != 7 {
		t.Errorf("%d nests count after the owner accepted the sheet", n)
	}
	if got := ada.opens(home); strings.Contains(got.text(), "waits") {
		t.Errorf("it still waits: %s", got.text())
	}
	ada.posts(path + "/undo")
	if n := len(ada.rows()); n != 0 {
		t.Errorf("%d nests count after the owner took the sheet back", n)
	}
	if got := readsOf(list); got != before {
		t.Errorf("after the owner took the sheet back the coordinator reads %s, before %s", got, before)
	}
	ada.posts("/who/sending/" + string(ranch) + "/end")
	if got := sends(year(2022, 2)); got.status != http.StatusNotFound {
		t.Errorf("after the yes was taken back, sending gave %d", got.status)
	}
}

// TestSendOldHeld: files that were sent before are said to be held, alone and among new ones.
func TestSendOldHeld(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	sends := func(sheets ...sheet) answer {
		t.Helper()
		got := ada.sendsTo("/send/old", sheets)
		if got.status != http.StatusSeeOther {
			t.Fatalf("sending gave %d: %s", got.status, got.text())
		}
		page := ada.settled(got.header.Get("Location"))
		if page.status == http.StatusSeeOther {
			page = ada.settled(page.header.Get("Location"))
		}
		return page
	}
	sends(year(2021, 2), year(2022, 3))
	ada.want(sends(year(2021, 2)), http.StatusOK, "We already hold this very file")
	ada.want(sends(year(2021, 2), year(2022, 3)), http.StatusOK, "We hold all of these files already", "“2021.csv”: we hold this very file already.", "“2022.csv”: we hold this very file already.")
	ada.want(sends(year(2021, 2), year(2023, 3)), http.StatusOK, "1 sheet came in", "“2021.csv”: we hold this very file already.", "2023.csv")
}
