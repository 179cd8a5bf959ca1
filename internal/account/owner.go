package account

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"tussock/internal/mail"
	"tussock/internal/postgres"
)

// TellOwners writes the letters that owners get without asking: that a yes is to be given again or has lapsed, that they were
// taken off a ranch, that somebody else is to own it, or that the coordinator has sent sheets for them. It tells how many letters it handed over. Each is written once, by
// whichever server comes first, in both tongues: which one a reader has is known of a browser alone.
func (s *Service) TellOwners(ctx context.Context) (int, error) {
	if s.mail == nil {
		return 0, nil
	}
	yes, err := s.db.ConsentLetters(ctx)
	keepers, err2 := s.db.KeeperLetters(ctx)
	sent, err3 := s.db.SentForLetters(ctx)
	letters := s.consentLetters(yes)
	for _, l := range keepers {
		letters = append(letters, s.keeperLetter(l))
	}
	for _, l := range sent {
		letters = append(letters, s.sentForLetter(l))
	}
	for _, l := range letters {
		s.later(l)
	}
	return len(letters), errors.Join(err, err2, err3)
}

// consentLetters writes one letter for all ranches of a reader that are asked about alike.
func (s *Service) consentLetters(list []postgres.ConsentLetter) (letters []mail.Letter) {
	type key struct{ email, cooperative, stage, through string }
	var order []key
	ranches := map[key][]string{}
	for _, l := range list {
		k := key{l.Email, l.Cooperative, l.Stage, l.Through.Format(time.DateOnly)}
		if !slices.Contains(order, k) {
			order = append(order, k)
		}
		ranches[k] = append(ranches[k], l.Ranch)
	}
	for _, k := range order {
		day, err := time.Parse(time.DateOnly, k.through)
		if err != nil {
			continue // written two lines above
		}
		en, es := ends(k.stage, day)
		var names string
		for _, r := range ranches[k] {
			names += "  " + r + "\n"
		}
		letters = append(letters, mail.Letter{To: k.email, Subject: "Tussock: your yes / su sí", Text: fmt.Sprintf(
			"%s, %s:\n\n%s\n%s\n\n%s\n\n%s/who\n", "Anonymous comparisons / comparaciones anónimas", k.cooperative, names, en, es, s.url)})
	}
	return letters
}

// ends says what becomes of a yes, and what to do.
func ends(stage string, through time.Time) (en, es string) {
	said, dicho := through.Format("2 January 2006"), through.Format(time.DateOnly)
	if stage == postgres.ConsentLapsed {
		return fmt.Sprintf("You had said yes to being counted. It was good through %s and nobody renewed it, so this is private now and the next bulletin is made without it. To be counted again, say yes on the page “Who can see this”. If that is as you want it, there is nothing to do.", said),
			fmt.Sprintf("Usted había dicho que sí a contarse. Valía hasta el %s y nadie lo renovó: ahora es privado y el próximo boletín se hace sin él. Para contarse otra vez, diga que sí en la página «Quién puede ver esto». Si así lo quiere, no hay nada que hacer.", dicho)
	}
	return fmt.Sprintf("You said yes to being counted. It is good through %s. We ask every winter: to go on, say yes again on the page “Who can see this”. If you do nothing it is private from then on, and the next bulletin is made without it.", said),
		fmt.Sprintf("Usted dijo que sí a contarse. Vale hasta el %s. Preguntamos cada invierno: para seguir, diga que sí otra vez en la página «Quién puede ver esto». Si no hace nada, desde entonces es privado y el próximo boletín se hace sin él.", dicho)
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
		"In %s, the coordinator %s has sent %d sheets of earlier years for %s, as you allowed. What is on them is yours alone: the coordinator sees that they were read and what is still asked. Look them over, answer what is asked, or take any of them back on the page “What was sent”. You can end this on the page “Who can see this”.\n\n"+
			"En %s, %s, de la coordinación, mandó %d planillas de años anteriores de %s, como usted lo permitió. Lo que dicen es solo de usted: la coordinación ve que se leyeron y lo que falta por contestar. Revíselas, conteste lo que se pregunta o retire la que quiera en la página «Lo que se mandó». Puede terminar esto en la página «Quién puede ver esto».\n\n%s/uploads\n",
		l.Cooperative, l.By, l.Files, l.Ranch, l.Cooperative, l.By, l.Files, l.Ranch, s.url)}
}
