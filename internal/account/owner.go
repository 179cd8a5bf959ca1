package account

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"tussock/internal/mail"
	"tussock/internal/postgres"
)

// TellOwners writes the emails that owners get without asking: that somebody asks to take them off a ranch, or did; that somebody
// else is to own it; that the roster says something else of it; that a ranch was put under their name; that somebody no longer vouches
// for them; that the coordinator has sent sheets for them; that questions about a sheet have been open for three days; or what another
// owner of a ranch of theirs said to the comparisons, or did to a sheet of theirs. A ranch whose last owner has gone is private.
//
// It returns how many emails it handed over. Each is written once, by whichever server comes first, in both languages: which one a
// reader has is known of a browser alone. pages.TestOwnersAreTold and postgres.TestKeeperLetters hold it.
func (s *Service) TellOwners(ctx context.Context) (int, error) {
	if s.mail == nil {
		return 0, nil
	}
	keepers, err := s.db.KeeperLetters(ctx)
	var letters []mail.Letter
	for _, l := range keepers {
		letters = append(letters, s.keeperLetter(l))
	}
	changes, err2 := s.db.RosterLetters(ctx)
	letters = append(letters, s.rosterLetters(changes)...)
	sent, err3 := s.db.SentForLetters(ctx)
	for _, l := range sent {
		letters = append(letters, s.sentForLetter(l))
	}
	asked, err4 := s.db.AskedLetters(ctx)
	for _, l := range asked {
		letters = append(letters, s.askedLetter(l))
	}
	said, err5 := s.db.WordLetters(ctx)
	for _, l := range said {
		letters = append(letters, s.wordLetter(l))
	}
	sheets, err6 := s.db.SheetLetters(ctx)
	for _, l := range sheets {
		letters = append(letters, s.sheetLetter(l))
	}
	for _, l := range letters {
		s.later(l)
	}
	return len(letters), errors.Join(err, err2, err3, err4, err5, err6)
}

// rosterLetters writes one letter a reader for all that was changed about their ranches.
func (s *Service) rosterLetters(list []postgres.RosterLetter) (letters []mail.Letter) {
	type key struct{ email, cooperative string }
	var order []key
	en, es := map[key]string{}, map[key]string{}
	for _, l := range list {
		k := key{l.Email, l.Cooperative}
		if !slices.Contains(order, k) {
			order = append(order, k)
		}
		said, dicho := changed(l)
		en[k], es[k] = en[k]+"  "+said+"\n", es[k]+"  "+dicho+"\n"
	}
	for _, k := range order {
		letters = append(letters, mail.Letter{To: k.email, Subject: "Tussock: a change about your ranch / un cambio en su rancho", Text: fmt.Sprintf(
			"In %s:\n\n%s\nIt counts from the next season that opens. A season that has opened goes on as it was. If it is not right, speak with the coordinator. All members can read every change on the page “Changes”.\n\n"+
				"En %s:\n\n%s\nCuenta desde la próxima temporada que se abra. La temporada que ya se abrió sigue como estaba. Si no está bien, hable con la coordinación. Todos pueden leer cada cambio en la página «Cambios».\n\n%s/changes\n",
			k.cooperative, en[k], k.cooperative, es[k], s.url)})
	}
	return letters
}

// changed says what was changed.
func changed(l postgres.RosterLetter) (en, es string) {
	by, por := cmp.Or(l.By, "The server"), cmp.Or(l.By, "El servidor")
	switch l.Kind {
	case postgres.RanchAdded:
		return fmt.Sprintf("%s put the ranch %s under the owner %s, which is your name. If it is not yours, say so on the page “Who can see this”.", by, l.Ranch, l.Became),
			fmt.Sprintf("%s puso el rancho %s bajo el dueño %s, que es el nombre de usted. Si no es suyo, dígalo en la página «Quién puede ver esto».", por, l.Ranch, l.Became)
	case postgres.RanchRenamed:
		return fmt.Sprintf("%s changed the name of %s to %s.", by, l.Was, l.Became), fmt.Sprintf("%s cambió el nombre de %s a %s.", por, l.Was, l.Became)
	case postgres.RanchMoved:
		return fmt.Sprintf("%s moved %s from %s to %s.", by, l.Ranch, cmp.Or(l.Was, "no area"), cmp.Or(l.Became, "no area")),
			fmt.Sprintf("%s pasó %s de %s a %s.", por, l.Ranch, cmp.Or(l.Was, "ninguna zona"), cmp.Or(l.Became, "ninguna zona"))
	case postgres.RanchOwner:
		return fmt.Sprintf("%s changed the owner of %s from %s to %s.", by, l.Ranch, l.Was, l.Became), fmt.Sprintf("%s cambió el dueño de %s: antes %s, ahora %s.", por, l.Ranch, l.Was, l.Became)
	case postgres.AreaRenamed:
		return fmt.Sprintf("%s changed the name of the area that %s is in from %s to %s.", by, l.Ranch, l.Was, l.Became), fmt.Sprintf("%s cambió el nombre de la zona de %s: antes %s, ahora %s.", por, l.Ranch, l.Was, l.Became)
	case postgres.AreaGrouped:
		return fmt.Sprintf("%s put the area that %s is in into another group: from %s to %s.", by, l.Ranch, cmp.Or(l.Was, "none"), cmp.Or(l.Became, "none")),
			fmt.Sprintf("%s cambió el grupo de la zona de %s: antes %s, ahora %s.", por, l.Ranch, cmp.Or(l.Was, "ninguno"), cmp.Or(l.Became, "ninguno"))
	}
	if l.Kind == postgres.VouchEnded {
		return fmt.Sprintf("%s no longer vouches for an owner of %s. The word counts for 30 days more. After that the ranch is counted in seasons that open only while two people vouch for one of its owners; see from when on on the page “Who can see this”.", by, l.Ranch),
			fmt.Sprintf("%s ya no da su palabra por un dueño de %s. La palabra cuenta 30 días más. Después el rancho se cuenta en las temporadas que se abran solo mientras dos personas den su palabra por uno de sus dueños; desde cuándo, está en la página «Quién puede ver esto».", por, l.Ranch)
	}
	return fmt.Sprintf("%s wrote down that %s is counted: a yes on paper.", by, l.Ranch), fmt.Sprintf("%s anotó que %s se cuenta: un sí en papel.", por, l.Ranch)
}

func (s *Service) keeperLetter(l postgres.KeeperLetter) mail.Letter {
	if l.Proposed == "" {
		by := l.By
		if by == "" {
			by = "Somebody"
		}
		return mail.Letter{To: l.Email, Subject: "Tussock: you were taken off a ranch / lo quitaron de un rancho", Text: fmt.Sprintf(
			"%s took you off %s in %s: you do not see its results any more.\n\nIf that is not right, speak with the coordinator and with landowners you know. Where a ranch has no owner now it is private, and nobody new sees anything of it before two other landowners have said yes, a week from then at the earliest.\n\n"+
				"%s lo quitó a usted de %s en %s: ya no ve sus resultados. Si no está bien, hable con la coordinación y con dueños que conozca. Un rancho sin dueño es privado, y nadie nuevo ve nada de él antes de que otros dos dueños digan que sí, una semana después a lo más pronto.\n\n%s\n",
			by, l.Ranch, l.Cooperative, by, l.Ranch, l.Cooperative, s.url)}
	}
	return mail.Letter{To: l.Email, Subject: "Tussock: a new owner for your ranch? / ¿un nuevo dueño para su rancho?", Text: fmt.Sprintf(
		"In %s, %s is to be an owner of %s and to see its results. They see nothing yet: an owner must say yes first, or where there is none two other landowners, a week from now at the earliest. Where you are an owner, say yes or no on the page “Who can see this”. Where you were one and know nothing of it, speak with the coordinator and with landowners you know: one no is enough.\n\n"+
			"En %s, %s va a ser dueño de %s y ver sus resultados. Todavía no ve nada: antes tiene que decir que sí un dueño o, donde no hay, otros dos dueños, en una semana a lo más pronto. Si usted es dueño, diga que sí o que no en la página «Quién puede ver esto». Si lo fue y no sabe nada de esto, hable con la coordinación y con dueños que conozca: basta un no.\n\n%s/who\n",
		l.Cooperative, l.Proposed, l.Ranch, l.Cooperative, l.Proposed, l.Ranch, s.url)}
}

// sentForLetter tells an owner that the coordinator has sent sheets for a ranch.
func (s *Service) sentForLetter(l postgres.SentForLetter) mail.Letter {
	return mail.Letter{To: l.Email, Subject: "Tussock: sheets were sent for you / se mandaron planillas por usted", Text: fmt.Sprintf(
		"In %s, the coordinator %s has sent %d sheets of earlier years for %s, as you allowed. What is on them is yours alone: the coordinator sees that they came and were read. Nothing of them counts until you accept it: look them over, accept them or take them back on the page “What was sent”. You can end this on the page “Who can see this”.\n\n"+
			"En %s, %s, de la coordinación, mandó %d planillas de años anteriores de %s, como usted lo permitió. Lo que dicen es solo de usted: la coordinación ve que llegaron y se leyeron. Nada de ellas cuenta hasta que usted lo acepte: revíselas y acéptelas o retírelas en la página «Lo que se mandó». Puede terminar esto en la página «Quién puede ver esto».\n\n%s/uploads\n",
		l.Cooperative, l.By, l.Files, l.Ranch, l.Cooperative, l.By, l.Files, l.Ranch, s.url)}
}

// askedLetter reminds an owner of open questions: nobody else is told of them.
func (s *Service) askedLetter(l postgres.AskedLetter) mail.Letter {
	sheets, hojas := "a sheet", "una hoja"
	if l.Sheets > 1 {
		sheets, hojas = fmt.Sprintf("%d sheets", l.Sheets), fmt.Sprintf("%d hojas", l.Sheets)
	}
	return mail.Letter{To: l.Email, Subject: "Tussock: questions about your sheet / preguntas sobre su hoja", Text: fmt.Sprintf(
		"In %s, we have questions about %s of %s. All else is read; your answers may change what counts. You find them on the page “What was sent”. Only the people of your ranch read them.\n\n"+
			"En %s tenemos preguntas sobre %s de %s. Todo lo demás está leído; sus respuestas pueden cambiar lo que cuenta. Están en la página «Lo que se mandó». Solo las lee la gente de su rancho.\n\n%s/uploads\n",
		l.Cooperative, sheets, l.Ranch, l.Cooperative, hojas, l.Ranch, s.url)}
}

// wordLetter tells an owner what another owner of the ranch said to the comparisons.
func (s *Service) wordLetter(l postgres.WordLetter) mail.Letter {
	said, dicho := "no", "no"
	if l.Yes {
		said, dicho = "yes", "sí"
	}
	now, ahora := "It is not counted: each of its owners has a word, and one no is enough, until who said it says yes.", "No se cuenta: cada dueño tiene una palabra y basta un no, hasta que quien lo dijo diga que sí."
	if l.Counted {
		now, ahora = "It is counted: no owner says no.", "Se cuenta: ningún dueño dice que no."
	}
	by, por := cmp.Or(l.By, "Another owner"), cmp.Or(l.By, "Otro dueño")
	return mail.Letter{To: l.Email, Subject: "Tussock: another owner’s word / la palabra de otro dueño", Text: fmt.Sprintf(
		"%s, an owner of %s in %s as you are, said %s to its being counted in the comparisons. %s You can say your own word on the page “Who can see this”.\n\n"+
			"%s, que como usted es dueño de %s en %s, dijo que %s a que se cuente en las comparaciones. %s Usted puede decir su propia palabra en la página «Quién puede ver esto».\n\n%s/who\n",
		by, l.Ranch, l.Cooperative, said, now, por, l.Ranch, l.Cooperative, dicho, ahora, s.url)}
}

// sheetLetter tells an owner what another owner of the ranch did to a sheet of theirs.
func (s *Service) sheetLetter(l postgres.SheetLetter) mail.Letter {
	did, hizo := "changed how your sheet “%s” of %s in %s is read", "cambió cómo se lee su hoja «%s» de %s en %s"
	switch l.Did {
	case postgres.UndidSheet:
		did, hizo = "took back your sheet “%s” of %s in %s: nothing in it counts now", "retiró su hoja «%s» de %s en %s: ahora nada de ella cuenta"
	case postgres.LetSheet:
		did, hizo = "let your sheet “%s” of %s in %s count again", "hizo que su hoja «%s» de %s en %s cuente otra vez"
	}
	by, por := cmp.Or(l.By, "Another owner"), cmp.Or(l.By, "Otro dueño")
	return mail.Letter{To: l.Email, Subject: "Tussock: your sheet / su hoja", Text: fmt.Sprintf(
		"%s, an owner as you are, "+did+". See it on the page “What was sent”; each of the ranch’s owners can change it back. All that was done to it stands in your log.\n\n"+
			"%s, que como usted es dueño, "+hizo+". Véala en la página «Lo que se mandó»; cada dueño del rancho puede volver a cambiarla. Todo lo que se hizo con ella está en su registro.\n\n%s/uploads\n",
		by, l.File, l.Ranch, l.Cooperative, por, l.File, l.Ranch, l.Cooperative, s.url)}
}
