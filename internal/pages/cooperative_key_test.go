package pages_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// TestCooperativeKey: the coordinator sends a table, reads what is wrong with it in which line and loses nothing, looks at it in plain words, and
// sets it; every member reads it, its source stands beside the mix, and it goes back to common practice.
func TestCooperativeKey(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ada.does(func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: mine, File: "seasons.csv", Data: []byte("a"), Rows: pages.SampleSurvey("Cottonwood Draw")})
		return err
	})
	home := "/ranch/" + string(mine)
	assumed := "How strongly each sign points to each animal is assumed, by common practice and without a source; the ranges allow for it."

	rosa.want(rosa.opens("/cooperative/key"), http.StatusOK, assumed, "strongly (4 ×) to raccoon; weakly (2 ×) to ", "Common practice, without a source. Assumed.")
	for _, path := range []string{home, "/remains", "/key", "/quiz?set=1&n=1"} {
		ada.want(ada.opens(path), http.StatusOK, assumed)
	}

	// Common practice as a file, as anybody's program reads it.
	file := ada.opens("/remains/key-0.csv")
	rows, err := csv.NewReader(strings.NewReader(file.body)).ReadAll()
	if err != nil || len(rows) < 80 || strings.Join(rows[0], ",") != "sign,answer,animal,times,source" {
		t.Errorf("the table as a file: %d rows, %v", len(rows), err)
	}
	if got := ada.opens("/remains/counts.csv"); !strings.HasPrefix(got.body, "sign,answer,animal,nests,source\r\nbits,crumbs,raccoon,0,\r\n") {
		t.Errorf("the empty file: %.80s", got.body)
	}
	if got := ada.opens("/remains/key-1.csv"); got.status != http.StatusNotFound {
		t.Errorf("a version that is none: %d", got.status)
	}

	// What is wrong is said by line, and what was sent is there to be mended.
	bad := rosa.uploads("/cooperative/key", "key.csv", "sign,answer,animal,nests\nbits,halves,wolf,3\nbits,halves,skunk,-2\n")
	rosa.want(bad, http.StatusUnprocessableEntity, "Line 2: “wolf” is no animal of the key.", "Line 3: the number of nests is “-2”. Write a whole number from 0 to 10000.", "bits,halves,wolf,3")
	rosa.want(rosa.posts("/cooperative/key", "table", "", "source", "x"), http.StatusUnprocessableEntity, "Choose the file with the table first, or write the table into the field.")
	table := "sign,answer,animal,nests\nbits,halves,skunk,90\nbits,near_whole,skunk,10\nbits,near_whole,raccoon,50\n"
	rosa.want(rosa.posts("/cooperative/key", "table", table, "source", " "), http.StatusUnprocessableEntity, "Say where the table comes from", "bits,near_whole,raccoon,50")
	var many strings.Builder
	for i := range 40 {
		fmt.Fprintf(&many, "bits,halves,animal%d,1\n", i)
	}
	rosa.want(rosa.uploads("/cooperative/key", "key.csv", "sign,answer,animal,nests\n"+many.String()), http.StatusUnprocessableEntity, "Line 13:", "And 28 others.")
	rosa.want(rosa.uploads("/cooperative/key", "key.xlsx", "PK\x03\x04"), http.StatusUnprocessableEntity, "“CSV UTF-8”")
	if n := versions(t, ada); n != 1 {
		t.Errorf("%d versions after tables that were refused", n)
	}

	// Looked at, then set.
	look := rosa.posts("/cooperative/key", "table", table, "source", "Cameras of the county,\n 2019 to <2024>")
	rosa.want(look, http.StatusOK, "Is this the table?", "was counted at nests whose animal a camera settled: Cameras of the county, 2019 to <2024>.", "skunk at 90 of 100 nests",
		"Alone it points most to skunk", "by today’s table to raccoon", "The table says nothing of these signs, so they point to no animal:", "Use this table")
	if n := versions(t, ada); n != 1 {
		t.Errorf("%d versions after a look", n)
	}
	kept := regexp.MustCompile(`(?s)name="table" hidden>(.*?)</textarea>`).FindStringSubmatch(look.body)
	if kept == nil {
		t.Fatal("the table is not on the page that sets it")
	}
	if got := rosa.posts("/cooperative/key/set", "table", kept[1], "source", "Cameras of the county, 2019 to <2024>"); got.header.Get("Location") != "/cooperative/key?kept=1" {
		t.Fatalf("setting it: %d to %q\n%s", got.status, got.header.Get("Location"), got.text())
	}
	rosa.want(rosa.opens("/cooperative/key?kept=1"), http.StatusOK, "It counts for seasons that open from now on", "Set by "+rosa.actor.Name, "Go back to common practice")
	counted := "How strongly each sign points to each animal was counted at nests whose animal a camera settled: Cameras of the county, 2019 to <2024>."
	for _, path := range []string{home, "/remains", "/key", "/quiz?set=1&n=1"} {
		ada.want(ada.opens(path), http.StatusOK, counted)
	}
	ada.want(ada.opens("/remains?version=0"), http.StatusOK, assumed)
	ada.want(ada.opens("/changes"), http.StatusOK, rosa.actor.Name+" set another key to remains, version 1: Cameras of the county, 2019 to <2024>. It counts for seasons that open later.")
	if got := ada.opens("/remains/key-1.csv").body; !strings.Contains(got, "bits,halves,skunk,90,\"Cameras of the county, 2019 to <2024>\"") {
		t.Errorf("the table as a file: %s", got)
	}

	// Back to the beginning; and nobody else.
	rosa.want(rosa.posts("/cooperative/key", "start", "1"), http.StatusOK, "Is this the table?", assumed)
	rosa.posts("/cooperative/key/set", "start", "1")
	ada.want(ada.opens(home), http.StatusOK, assumed)
	ada.want(ada.opens("/changes"), http.StatusOK, "went back to the key to remains of common practice, as version 2.")
	for _, who := range []*member{ada, rosa.invites(access.Biologist), rosa.invites(access.Planner), rosa.invites(access.Hand, mine)} {
		set := "Set by " + rosa.actor.Name
		if who.actor.Role != access.Landowner && who.actor.Role != access.Hand {
			set = "Set by a coordinator" // whose name they do not read, though nobody has left
		}
		who.want(who.opens("/remains"), http.StatusOK, "Cameras of the county", assumed, set)
		for _, path := range []string{"/cooperative/key", "/cooperative/key/set"} {
			if got := who.posts(path, "table", table, "source", "x"); got.status != http.StatusForbidden {
				t.Errorf("%s posts to %s: %d", who.actor.Role, path, got.status)
			}
		}
	}
	if n := versions(t, ada); n != 3 {
		t.Errorf("%d versions, want two and common practice", n)
	}
}

// versions is how many versions of the key a member reads.
func versions(t *testing.T, who *member) (n int) {
	t.Helper()
	who.does(func(tx *postgres.Tx) error {
		keys, err := tx.Keys()
		n = len(keys)
		return err
	})
	return n
}
