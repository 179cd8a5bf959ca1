package pages_test

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/errs"
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

// Nothing that was sent for an owner makes their ranch one that has sent, to the coordinator: neither before the owner accepts it, nor after, where
// it would tell when the owner was here.
func TestSentForIsNoSheetOfTheirs(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	one, two := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Ben Holt")
	ada, ben := rosa.invites(access.Landowner, one), rosa.invites(access.Landowner, two)
	ada.kept(ada.sends([]sheet{year(2024, 4)}, "season", "2024"))
	ben.does(func(tx *postgres.Tx) error { return tx.LetSend(two) })
	rosa.settled(rosa.sendsTo("/cooperative/old", []sheet{year(2024, 3), year(2023, 3)}, "ranch", string(two)).header.Get("Location"))
	reads := func(path string) string { return rosa.opens(path).text() }
	before := reads("/cooperative/uploads")
	if !strings.Contains(before, "1 of 2 ranches have sent their sheets for 2024") || strings.Contains(before, "2023") {
		t.Errorf("before the owner accepted it: %s", before)
	}
	for _, u := range ben.sent(two) {
		ben.posts("/uploads/" + string(u.ID) + "/accept")
	}
	if n := len(ben.rows()); n != 6 {
		t.Errorf("%d nests count after the owner accepted both", n)
	}
	if page := reads("/cooperative/uploads"); page != before {
		t.Errorf("after: %s, before: %s", page, before)
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

// A coordinator moves a ranch on the list and suspends its owner at once, so that nobody can have it put back before a season opens: not before the
// owner had 14 days, unless the list says again what it said. While an owner is suspended no ranch comes under their name, however it is
// written, and no word for them is taken back.
func TestMoveThenSuspend(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	rosa.invites(access.Coordinator)
	ranch, other := rosa.adds("Cottonwood Draw", "Una Pell"), rosa.adds("North Breaks", "Ben Holt")
	una, _ := rosa.comes(access.Landowner, "Una Pell", "una@example.org", ranch), rosa.comes(access.Landowner, "Ben Holt", "ben@example.org", other)
	rosa.does(func(tx *postgres.Tx) error { return tx.Vouch(una.actor.Person) })
	suspend := func() answer { return rosa.posts("/cooperative/members/" + string(una.actor.Person) + "/suspend") }
	lists := func(id access.ID, name, owner string) error {
		return rosa.db.DB.As(t.Context(), rosa.actor, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: id, Name: name, Owner: owner})
			return err
		})
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(lists(ranch, "Cottonwood Draw", "Somebody Else"))
	rosa.want(suspend(), http.StatusConflict, "they have had no time to answer")
	must(lists(ranch, "Cottonwood Draw", "Una Pell")) // as it was
	must(lists(other, "North Breaks", "Pell, Una"))
	rosa.want(suspend(), http.StatusConflict, "put one under their name")
	must(lists(other, "North Breaks", "Ben Holt"))
	if got := suspend(); got.status != http.StatusSeeOther {
		t.Fatalf("with the list as it was, suspending gave %d: %s", got.status, got.text())
	}
	for _, owner := range []string{"Una Pell", "Pell, Mrs Una"} {
		for _, id := range []access.ID{other, ""} {
			if err := lists(id, "North Breaks"+string(id), owner); !errors.Is(err, errs.Conflict) {
				t.Errorf("while Una is suspended the ranch %q is put under %s: %v", id, owner, err)
			}
		}
	}
	rosa.want(rosa.posts("/changes/vouch", "end", string(una.actor.Person)), http.StatusConflict, "No word for them is taken back")
}

// A yes on paper ends when the first owner comes in, who reads what was written, and by whom, and is asked.
func TestPaperEndsWhereAnOwnerComes(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Una Pell")
	rosa.does(func(tx *postgres.Tx) error { return tx.KeepPaper(ranch, true) })
	counted := func() (in bool) {
		rosa.does(func(tx *postgres.Tx) error {
			list, err := tx.AllRanches()
			in = len(list) == 1 && list[0].Consent > 0
			return err
		})
		return in
	}
	if !counted() {
		t.Fatal("a yes on paper does not count")
	}
	una := rosa.comes(access.Landowner, "Una Pell", "una@example.org", ranch)
	if counted() {
		t.Error("anyone who comes in has inherited a yes on paper")
	}
	una.want(una.opens("/ranch/"+string(ranch)), http.StatusOK, "Is Cottonwood Draw in the comparisons? Say yes or no yourself.", "a yes on paper was written down by Person One")
	una.want(una.opens("/who"), http.StatusOK, "Nobody has chosen yet, so it is private.", "a yes on paper was written down by Person One")
	una.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
	if page := una.opens("/ranch/" + string(ranch)); !counted() || strings.Contains(page.text(), "on paper") {
		t.Errorf("after a yes of the owner's own: counted %v, %s", counted(), page.text())
	}
}

// A name that looks like a member's is that member's: they are asked before a yes on paper is written down for it, and nobody comes in under it by an
// invitation for another. Who joins under another name than was asked in is a line for all.
func TestAlikeNames(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ilse Varrow")
	ilse := rosa.comes(access.Landowner, "Ilse Varrow", "ilse@example.org", mine)
	for i, name := range []string{"Varrow, Ilse", "Varrow Ilse", "Ilse M. Varrow", "Mrs Ilse Varrow", "IlseVarrow", "Ilse Varrovv", "Ilse Varow", "I. Varrow", "Íłşê Våṛŕøẅ"} {
		ranch := rosa.adds(fmt.Sprint("Decoy ", i), name)
		rosa.want(rosa.posts("/cooperative/ranches/"+string(ranch)+"/paper", "says", "yes"), http.StatusConflict, "A member has the name")
		ilse.want(ilse.opens("/who"), http.StatusOK, fmt.Sprintf("Is Decoy %d yours?", i))
	}
	for _, name := range []string{"Ꮖlse Ꮩarrow", "ɪʟsᴇ ᴠᴀʀʀᴏᴡ", "Ɨłşê Ʋąɍɍøw", "ɩɭʂɛ ʋɑɾɾɔɯ", "Ilsе Varrow"} { // no letters A to Z
		const told = "Write it with the letters A to Z; accents are fine"
		rosa.want(rosa.posts("/cooperative/ranches", "name", "Decoy", "owner", name), http.StatusUnprocessableEntity, told)
		rosa.want(rosa.posts("/cooperative/ranches", "name", name, "owner", "Decoy"), http.StatusUnprocessableEntity, told)
		rosa.want(rosa.posts("/cooperative/areas", "name", name), http.StatusUnprocessableEntity, told)
	}
	decoy := rosa.adds("Decoy Flat", "Decoy Two")
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "", "new@example.org", []access.ID{decoy})
		return err
	})
	joins := func(name string) answer {
		b := st.browser()
		return b.posts(b.opens("/join/"+token), "/join/"+token, "name", name, "password", "four plain words here")
	}
	if got := joins("Ilse Varow"); got.status != http.StatusConflict || !strings.Contains(got.text(), "Somebody on the list has a name like that") {
		t.Errorf("joining under a member's name gave %d: %s", got.status, got.text())
	}
	if got := joins("Someone Else"); got.status != http.StatusSeeOther {
		t.Fatalf("joining under another name gave %d: %s", got.status, got.text())
	}
	ilse.want(ilse.opens("/changes"), http.StatusOK, "Someone Else joined for the ranch Decoy Flat under another name than was asked in: Decoy Two. Person One had sent the invitation.")
	for i, role := range []access.Role{access.Coordinator, access.Planner, access.Biologist, access.Hand} { // whatever their part
		rosa.does(func(tx *postgres.Tx) (err error) {
			token, err = tx.Invite(role, "Asked In", fmt.Sprintf("in%d@example.org", i), nil)
			return err
		})
		name := []string{"Came Otherwise", "Another Comer", "Third Stranger", "Fourth Newly"}[i]
		if got := joins(name); got.status != http.StatusSeeOther {
			t.Fatalf("joining as %s gave %d: %s", role, got.status, got.text())
		}
		ilse.want(ilse.opens("/changes"), http.StatusOK, name+" joined under another name than was asked in: Asked In. Person One had sent the invitation.")
	}
}
