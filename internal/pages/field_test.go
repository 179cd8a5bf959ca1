package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	fieldseason "tussock/internal/season"
	"tussock/internal/survey"
)

// A fieldPhone is a browser without an account that carries cookies.
type fieldPhone struct {
	*stage
	cookies map[string]string
}

func (p *fieldPhone) asks(r *http.Request) answer {
	p.t.Helper()
	for name, value := range p.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	resp, err := p.app.Test(r, -1)
	if err != nil {
		p.t.Fatal(err)
	}
	defer resp.Body.Close()
	for _, c := range resp.Cookies() {
		p.cookies[c.Name] = c.Value
	}
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(body)}
}

func (p *fieldPhone) opens(path string) answer {
	return p.asks(httptest.NewRequest(http.MethodGet, path, nil))
}

func (p *fieldPhone) posts(path string, fields url.Values) answer {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.asks(r)
}

// word is what the form asks before it sends.
func (p *fieldPhone) word() string {
	p.t.Helper()
	var h struct {
		CSRF string `json:"csrf"`
	}
	if err := json.Unmarshal([]byte(p.opens("/field/hello").body), &h); err != nil {
		p.t.Fatal(err)
	}
	return h.CSRF
}

func (p *fieldPhone) sends(looks ...fieldwork.Look) answer {
	p.t.Helper()
	body, err := json.Marshal(looks)
	if err != nil {
		p.t.Fatal(err)
	}
	return p.posts("/field/looks", url.Values{"csrf": {p.word()}, "looks": {string(body)}})
}

// TestFieldLinkPages: a link opens the form for its line and nothing else of the service; photos come in without what a
// file carries; what it sends is counted by the owner; cut off, it is nobody.
func TestFieldLinkPages(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Sandhill Grass")
	ranch := boss.adds("Cottonwood Draw", "Ada Marsh")
	owner := boss.invites(access.Landowner, ranch)
	hand := boss.invites(access.Hand, ranch)
	year := time.Now().Year()
	today := survey.DateFrom(time.Now())
	var lines []fieldseason.Line
	owner.does(func(tx *postgres.Tx) (err error) {
		plan := fieldseason.Plan{Ranch: ranch, Season: year, Purpose: fieldseason.Trend, Lines: 2, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(ranch, year, plan, []fieldseason.Line{{Ranch: ranch, Season: year, Name: "1", Stops: 4, SetOn: today}, {Ranch: ranch, Season: year, Name: "2", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err = tx.Lines(ranch, year)
		return err
	})

	made := owner.posts("/field/links", "ranch", string(ranch), "name", "Lupe", "line", string(lines[0].ID), "from", (today - 20).String(), "through", (today + 30).String())
	secret := regexp.MustCompile(`/field/open/([0-9a-f]{64})`).FindStringSubmatch(made.body)
	if secret == nil {
		t.Fatalf("no link on the page: %d %s", made.status, made.text())
	}
	if again := owner.opens("/field/links"); strings.Contains(again.body, secret[1]) {
		t.Error("the link is shown a second time")
	}
	if refused := hand.opens("/field/links"); refused.status != http.StatusForbidden {
		t.Errorf("a hand's /field/links gives %d", refused.status)
	}

	phone := &fieldPhone{st, map[string]string{}}
	if nobody := phone.opens("/field/pack"); nobody.status != http.StatusUnauthorized || !strings.Contains(nobody.body, `"problem"`) {
		t.Errorf("nobody's pack gives %d %s", nobody.status, nobody.body)
	}
	page := phone.opens("/field/open/" + secret[1])
	csrf := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(page.body)
	if csrf == nil || phone.cookies["tussock-field"] != "" {
		t.Fatalf("the link's page: %d %s", page.status, page.text())
	}
	if opened := phone.posts("/field/open/"+secret[1], url.Values{"csrf": {csrf[1]}}); opened.header.Get("Location") != "/field" {
		t.Fatalf("opening it gives %d %s", opened.status, opened.text())
	}
	var pack struct {
		Lines []struct{ ID access.ID }
		Bytes int
	}
	if err := json.Unmarshal([]byte(phone.opens("/field/pack").body), &pack); err != nil || len(pack.Lines) != 1 || pack.Lines[0].ID != lines[0].ID {
		t.Errorf("the pack holds %+v, %v, want line 1 alone", pack, err)
	}
	for _, path := range []string{"/ranch", "/ranch/" + string(ranch), "/send", "/hand", "/plan", "/field/results/" + string(ranch), "/field/links", "/uploads", "/region"} {
		if a := phone.opens(path); a.status != http.StatusSeeOther || !strings.HasPrefix(a.header.Get("Location"), "/sign-in") {
			t.Errorf("a link opens %s: %d %s", path, a.status, a.header.Get("Location"))
		}
	}

	look := func(line fieldseason.Line, stop int, kind fieldwork.Kind, answers map[string]string) fieldwork.Look {
		return fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: ranch, Season: year, Line: line.ID, Stop: stop, Kind: kind, Who: "LO", Device: "phone", Seq: stop, At: time.Now().UTC(), Answers: answers}
	}
	set := look(lines[0], 1, fieldwork.Set, map[string]string{"cover": "yucca", "set_on": (today - 20).String()})
	check := look(lines[0], 1, fieldwork.Check, map[string]string{"found": "all", "looked_on": (today - 6).String()})
	for range 2 {
		if a := phone.sends(set, check); a.status != http.StatusOK || strings.Count(a.body, `-`) < 8 {
			t.Fatalf("sending gives %d %s", a.status, a.body)
		}
	}
	if a := phone.sends(look(lines[0], 1, fieldwork.Check, map[string]string{"found": "lost", "looked_on": (today - 21).String()})); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "dated before the first day of the link") {
		t.Errorf("a look of before the link's first day gives %d %s", a.status, a.body)
	}
	if a := phone.sends(look(lines[1], 1, fieldwork.Note, map[string]string{"note": "x"})); a.status != http.StatusNotFound {
		t.Errorf("a look at another line gives %d %s", a.status, a.body)
	}
	if a := phone.sends(look(lines[0], 1, fieldwork.Note, map[string]string{"odd": "x"})); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, `"problem"`) {
		t.Errorf("an odd look gives %d %s", a.status, a.body)
	}
	if a := phone.posts("/field/looks", url.Values{"csrf": {"00"}, "looks": {"[]"}}); a.status != http.StatusForbidden {
		t.Errorf("another site's form gives %d", a.status)
	}

	photo := uuid.NewString()
	if a := phone.sendsPhoto(photo, lines[0].ID, ranch); a.status != http.StatusOK {
		t.Fatalf("the photo gives %d %s", a.status, a.body)
	}
	if got := owner.opens("/field/photos/" + photo); got.status != http.StatusOK || strings.Contains(got.body, "Exif") || !strings.HasPrefix(got.body, "\xff\xd8") {
		t.Errorf("the owner's photo: %d, %d bytes", got.status, len(got.body))
	}
	owner.want(owner.opens("/who/log"), http.StatusOK, "opened what was sent (photo.jpg)")
	if got := phone.opens("/field/photos/" + photo); got.status == http.StatusOK {
		t.Error("a link shows photos")
	}

	owner.want(owner.opens("/ranch/"+string(ranch)), http.StatusOK, "2 looks from the field do not count yet")
	results := fmt.Sprintf("/field/results/%s/%d", ranch, year)
	owner.want(owner.opens(results), http.StatusOK, "what came in stands by until you count it")
	for i := range 2 {
		counted := owner.posts(results + "/count")
		if id, kept := owner.kept(counted); id == "" || !strings.Contains(kept.text(), "1 nest") {
			t.Errorf("count %d: %s", i, kept.text())
		}
	}
	if page := owner.opens("/ranch/" + string(ranch)); strings.Contains(page.text(), "from the field") {
		t.Error("counted looks still wait on My ranch")
	}
	// A look taken back makes the sheet of before: it counts again.
	second := look(lines[0], 2, fieldwork.Set, map[string]string{"cover": "yucca", "set_on": (today - 20).String()})
	check2 := look(lines[0], 2, fieldwork.Check, map[string]string{"found": "lost", "looked_on": (today - 6).String()})
	phone.sends(second, check2)
	owner.kept(owner.posts(results + "/count"))
	for _, id := range []access.ID{second.ID, check2.ID} {
		undo := look(lines[0], 2, fieldwork.Undo, nil)
		undo.Undoes = id
		phone.sends(undo)
	}
	owner.kept(owner.posts(results + "/count"))
	owner.does(func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{ranch}, year)
		if err == nil && (len(d.Nests) != 1 || d.Nests[0].Fate() != survey.Intact) {
			t.Errorf("after a look was taken back %d nests count", len(d.Nests))
		}
		return err
	})

	owner.does(func(tx *postgres.Tx) error {
		_, err := tx.KeepLooks([]fieldwork.Look{look(lines[0], 3, fieldwork.Check, map[string]string{"found": "not_found", "looked_on": (today - 6).String()})})
		return err
	})
	if a := phone.opens("/field/pack"); strings.Contains(a.body, `"found":"not_found"`) || !strings.Contains(a.body, `"done":"yes"`) || !strings.Contains(a.body, `"found":"all"`) {
		t.Error("the link's pack tells what others found")
	}
	if a := hand.opens("/field/pack"); !strings.Contains(a.body, `"found":"not_found"`) {
		t.Error("the hand's pack lacks what was found")
	}

	// Whatever name is typed, the owner reads who was signed in, and which link it was.
	forged := []fieldwork.Look{look(lines[0], 4, fieldwork.Set, map[string]string{"cover": "yucca", "set_on": (today - 20).String()}), look(lines[0], 4, fieldwork.Set, map[string]string{"cover": "bunchgrass", "set_on": (today - 20).String()})}
	for i := range forged {
		forged[i].Who = "Ada Marsh"
	}
	forged[0].Device, forged[1].Device = "one", "two"
	hand.does(func(tx *postgres.Tx) error {
		_, err := tx.KeepLooks(forged[:1])
		return err
	})
	owner.does(func(tx *postgres.Tx) error {
		other := forged[1]
		other.ID = access.ID(uuid.NewString())
		_, err := tx.KeepLooks([]fieldwork.Look{other})
		return err
	})
	phone.sends(forged[1])
	for i := range forged { // what came by the link contradicts no member's look, and something else that came by it
		forged[i].ID, forged[i].Stop = access.ID(uuid.NewString()), 2
	}
	phone.sends(forged...)
	owner.want(owner.opens(results), http.StatusOK, "Sent by Person ", ", signed “Ada Marsh”", "Sent by the field link “Lupe”, signed “Ada Marsh”")

	revoke := regexp.MustCompile(`/field/links/[0-9a-f-]{36}/revoke`).FindString(owner.opens("/field/links").body)
	owner.posts(revoke)
	cookie := phone.cookies["tussock-field"]
	for _, path := range []string{"/field/hello", "/field/pack"} {
		phone.cookies["tussock-field"] = cookie
		if a := phone.opens(path); a.status != http.StatusUnauthorized || phone.cookies["tussock-field"] != "" {
			t.Errorf("cut off, %s gives %d", path, a.status)
		}
	}
	phone = &fieldPhone{st, map[string]string{}}
	phone.says(phone.opens("/field/open/"+secret[1]), "an owner of the ranch cut it off")
}

func (p *fieldPhone) says(a answer, sentence string) {
	p.t.Helper()
	if !strings.Contains(a.text(), sentence) {
		p.t.Errorf("the page does not say %q: %s", sentence, a.text())
	}
}

func (p *fieldPhone) sendsPhoto(id string, line, ranch access.ID) answer {
	p.t.Helper()
	var picture, b bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 32, 24)), nil); err != nil {
		p.t.Fatal(err)
	}
	place := "Exif\x00\x00GPS 36.5"
	data := "\xff\xd8\xff\xe1\x00" + string(rune(len(place)+2)) + place + picture.String()[2:]
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("photo", "x.jpg")
	if err != nil {
		p.t.Fatal(err)
	}
	io.WriteString(part, data)
	for name, value := range map[string]string{"csrf": p.word(), "id": id, "line": string(line), "ranch": string(ranch)} {
		if err := w.WriteField(name, value); err != nil {
			p.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		p.t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "/field/photos", &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return p.asks(r)
}
