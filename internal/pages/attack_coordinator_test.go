package pages_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// A coordinator who may send old sheets for an owner sends all that the ranch's own sheet might be: the answer, the list and the page of what came
// are the same for the one that the ranch has, each is a line in the owner's log, and forty a day is the most. No sheet so sent makes a
// ranch one that has sent, on no page, until an owner has accepted it.
func TestSentForTellsNothing(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	mine := year(2024, 4)
	ada.kept(ada.sends([]sheet{mine}, "season", "2024"))
	ada.does(func(tx *postgres.Tx) error { return tx.LetSend(ranch) })
	might := func(n int) sheet {
		return sheet{fmt.Sprintf("guess%d.csv", n), strings.Replace(mine.data, "intact", "taken", n)}
	}
	guesses := []sheet{might(0), might(1), might(2)} // the first is the ranch's own, to the byte
	var seen []string
	for _, guess := range guesses {
		got := rosa.sendsTo("/cooperative/old", []sheet{guess}, "ranch", string(ranch))
		if got.status != http.StatusSeeOther {
			t.Fatalf("sending %s gave %d: %s", guess.name, got.status, got.text())
		}
		path := got.header.Get("Location")
		page := rosa.settled(path)
		seen = append(seen, strings.NewReplacer(guess.name, "guess.csv", path[strings.LastIndex(path, "/")+1:], "").Replace(page.text()))
	}
	for i := range seen {
		if seen[i] != seen[1] {
			t.Errorf("the coordinator tells the ranch's own sheet from others:\n%s\n%s", seen[i], seen[1])
		}
	}
	rosa.want(rosa.settled(rosa.sendsTo("/cooperative/old", guesses, "ranch", string(ranch)).header.Get("Location")), http.StatusOK, "3 sheets came in for Cottonwood Draw")
	ada.want(ada.opens("/who/log"), http.StatusOK, "sent a sheet (guess0.csv), 2 times", "sent a sheet (guess1.csv), 2 times")
	for _, u := range ada.sent(ranch) {
		page := ada.opens("/uploads/" + string(u.ID)).text()
		if own := strings.Contains(page, "It is the same, to the letter, as “2024.csv”"); own != (u.File == "guess0.csv") {
			t.Errorf("on the page of %s: the same is %v", u.File, own)
		}
	}
	ada.want(ada.opens("/ranch/"+string(ranch)), http.StatusOK, "4 of 4")

	many := make([]sheet, 35)
	for i := range many {
		many[i] = sheet{fmt.Sprintf("more%d.csv", i), mine.data + fmt.Sprintf("B,%d,yucca,2024-04-28,2024-05-12,intact,2024-05-26,intact\n", i+1)}
	}
	rosa.want(rosa.sendsTo("/cooperative/old", many, "ranch", string(ranch)), http.StatusUnprocessableEntity, "No more than 40 sheets")
	if n := len(ada.sent(ranch)); n != 7 {
		t.Errorf("%d sheets are kept after too many were sent", n)
	}
}

// Until an owner has accepted it, nothing that was sent for them makes their ranch one that has sent.
func TestSentForIsNoSheetOfTheirs(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	one, two := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Ben Holt")
	ada, ben := rosa.invites(access.Landowner, one), rosa.invites(access.Landowner, two)
	ada.kept(ada.sends([]sheet{year(2024, 4)}, "season", "2024"))
	ben.does(func(tx *postgres.Tx) error { return tx.LetSend(two) })
	rosa.settled(rosa.sendsTo("/cooperative/old", []sheet{year(2024, 3), year(2023, 3)}, "ranch", string(two)).header.Get("Location"))
	reads := func(path string) string { return rosa.opens(path).text() }
	if page := reads("/cooperative/uploads"); !strings.Contains(page, "1 of 2 ranches have sent their sheets for 2024") || strings.Contains(page, "2023") {
		t.Errorf("before the owner accepted it: %s", page)
	}
	for _, u := range ben.sent(two) {
		ben.posts("/uploads/" + string(u.ID) + "/accept")
	}
	if page := reads("/cooperative/uploads"); !strings.Contains(page, "Every ranch has sent its sheets for 2024") || !strings.Contains(page, "2023") {
		t.Errorf("after: %s", page)
	}
}

// A coordinator renames a ranch, and the owner's next sheet has the name that it had.
func TestRenamedRanchIsRead(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	rosa.does(func(tx *postgres.Tx) error {
		for _, name := range []string{"Zzz Ranch", "Something Else"} {
			if _, err := tx.SaveRanch(postgres.Ranch{ID: ranch, Name: name, Owner: "Ada Marsh"}); err != nil {
				return err
			}
		}
		_, err := tx.SaveRanch(postgres.Ranch{Name: "Cottonwood Draw", Owner: "Decoy"}) // another is called so now
		return err
	})
	data := "ranch," + strings.ReplaceAll(year(2024, 4).data, "\nA,", "\nCottonwood Draw,A,")
	_, page := ada.kept(ada.sends([]sheet{{"2024.csv", data}}, "season", "2024"))
	if strings.Contains(page.text(), "nother ranch") || len(ada.rows()) != 4 {
		t.Errorf("%d nests are read: %s", len(ada.rows()), page.text())
	}
}
