package pages_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// unzip returns the files of an archive that was downloaded.
func unzip(t testing.TB, a answer) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader([]byte(a.body)), int64(len(a.body)))
	if err != nil {
		t.Fatalf("status %d: %v", a.status, err)
	}
	files := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = string(b)
	}
	return files
}

var fileLinks = regexp.MustCompile(`href="(/files/[^"]+)"`)

// Every file on the page opens, for whom the page shows it, and for nobody else.
func TestFiles(t *testing.T) {
	p := newPublishedStage(t)
	page := p.ada.opens("/files")
	p.ada.want(page, http.StatusOK, "Made-up Ranch 0: all of it", "36 nests", "Season 2026, bulletin 1", "private", "no hatch rate")
	links := fileLinks.FindAllStringSubmatch(page.body, -1)
	if len(links) != 6 {
		t.Fatalf("%d files, want 3 of the ranch and 3 of the bulletin", len(links))
	}
	for _, l := range links {
		own := strings.Contains(l[1], "/ranches/")
		got := p.ada.opens(l[1])
		if got.status != http.StatusOK || got.header.Get("Content-Type") != "application/zip" || !strings.HasPrefix(got.header.Get("Content-Disposition"), "attachment; filename=") {
			t.Errorf("%s: %d %v", l[1], got.status, got.header)
		}
		sum := sha256.Sum256([]byte(got.body))
		if want := "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"; got.header.Get("Repr-Digest") != want {
			t.Errorf("%s: Repr-Digest %q, want %q", l[1], got.header.Get("Repr-Digest"), want)
		}
		files := unzip(t, got)
		if files["SHA256SUMS"] == "" || !strings.Contains(files["README.txt"], "Sandhill Grass") {
			t.Errorf("%s holds %d files", l[1], len(files))
		}
		if own && strings.Contains(l[1], "darwin-core") && strings.Contains(strings.Join(append([]string{got.header.Get("Content-Disposition")}, values(files)...), ""), "ade-up") {
			t.Errorf("%s names the ranch", l[1])
		}
		if again := p.ada.opens(l[1]); again.body != got.body {
			t.Errorf("%s: other bytes when asked again", l[1])
		}
		for who, m := range map[string]*member{"neighbor": p.bo, "coordinator": p.rosa, "planner": p.planner, "hand": p.hand} {
			want := map[string]int{"neighbor": 404, "coordinator": 403, "planner": 403, "hand": 403}[who]
			if !own {
				want = map[string]int{"neighbor": 200, "coordinator": 200, "planner": 200, "hand": 403}[who]
			}
			if got := m.opens(l[1]); got.status != want {
				t.Errorf("%s as %s: %d, want %d", l[1], who, got.status, want)
			}
		}
	}

	// A planner takes what a planner sees: of six landowners, nothing.
	if got := unzip(t, p.planner.opens("/files/bulletins/2026/figures.zip"))["cells.csv"]; strings.Count(got, "\n") != 1 {
		t.Errorf("a planner's figures: %q", got)
	}
	if got := unzip(t, p.ada.opens("/files/bulletins/2026/figures.zip"))["cells.csv"]; strings.Count(got, "\n") < 3 || strings.Contains(got, "ade-up") {
		t.Errorf("a landowner's figures: %q", got)
	}
	p.planner.want(p.planner.opens("/files"), http.StatusOK, "No figure of this bulletin is shown to you")
	for _, path := range []string{"/files/bulletins/2026/x.zip", "/files/bulletins/1999/figures.zip", "/files/ranches/" + string(p.ranches[0]) + "/x.zip", "/files/ranches/x/sheets.zip"} {
		p.ada.want(p.ada.opens(path), http.StatusNotFound)
	}
}

func values(m map[string]string) (list []string) {
	for _, v := range m {
		list = append(list, v)
	}
	return list
}

// Taking a ranch's rows is a look, which the owner's list of who looked shows.
func TestTakingIsALook(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	looked := func() (last time.Time) { // opening what was sent is a look of its own
		ada.does(func(tx *postgres.Tx) error {
			people, err := tx.People(ranch)
			if len(people) > 0 {
				last = people[0].LastLooked
			}
			return err
		})
		return last
	}
	before := looked()
	ada.opens("/files/ranches/" + string(ranch) + "/sheets.zip")
	if after := looked(); !after.After(before) {
		t.Errorf("looked before: %v, after: %v", before, after)
	}
}

// Who has nothing yet reads so.
func TestNoFilesYet(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	rosa.want(rosa.opens("/files"), http.StatusOK, "No bulletin is published yet")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	ada.want(ada.opens("/files"), http.StatusOK, "Nothing was sent for Cottonwood Draw yet")
}
