package account

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// TellAlarms writes to the coordinators, and to the owners of the ranches concerned, about whoever took much at once, and
// tells how many letters it handed over. Each alarm is told once, by whichever server comes first.
func (s *Service) TellAlarms(ctx context.Context) (int, error) {
	if s.mail == nil {
		return 0, nil
	}
	letters, err := s.db.AlarmLetters(ctx)
	for _, l := range letters {
		s.later(s.alarmLetter(l))
	}
	return len(letters), err
}

func (s *Service) alarmLetter(l postgres.AlarmLetter) mail.Letter {
	much := fmt.Sprintf("more than %d files or looks within an hour", postgres.MuchInHour)
	mucho := fmt.Sprintf("más de %d archivos o vistas en una hora", postgres.MuchInHour)
	if !l.InHour {
		much = fmt.Sprintf("more than %d files or looks within a day", postgres.MuchInDay)
		mucho = fmt.Sprintf("más de %d archivos o vistas en un día", postgres.MuchInDay)
	}
	if len(l.Ranches) == 0 {
		return both(l.Email, notice{"Somebody took a lot at once", fmt.Sprintf(
			"In %s, %s (%s) took %s.\n\nAsk them what for. If they do not know of it, somebody may have their password or telephone: suspend them on the page “Members”.\n\n%s/cooperative/log",
			l.Cooperative, l.Name, l.Role, much, s.url)},
			notice{"alguien se llevó mucho de una vez: Tussock", fmt.Sprintf(
				"En %s, %s se llevó %s.\n\nPregúntele para qué. Si no sabe nada, puede que alguien tenga su contraseña o su teléfono: suspéndalo en la página de socios.",
				l.Cooperative, l.Name, mucho)})
	}
	return both(l.Email, notice{"Somebody took a lot of your ranch’s results", fmt.Sprintf(
		"In %s, %s (%s) took %s, of %s among others.\n\nIf you do not know why, ask them. What they took, and when, stands here:\n\n%s/who/log\n\nWho may open your ranch, and how to end it, is on the page “Who can see this”.",
		l.Cooperative, l.Name, l.Role, much, strings.Join(l.Ranches, " and "), s.url)},
		notice{"alguien se llevó muchos resultados de su rancho: Tussock", fmt.Sprintf(
			"En %s, %s se llevó %s, entre otros de %s.\n\nSi no sabe por qué, pregúntele. Qué se llevó y cuándo está en el enlace de arriba. Quién puede abrir su rancho y cómo terminarlo está en la página «Quién puede ver esto».",
			l.Cooperative, l.Name, mucho, strings.Join(l.Ranches, ", "))})
}

// TellRemoved writes to somebody who was removed, at the address they signed in with: who takes an owner or a coordinator out
// cannot do it in silence.
func (s *Service) TellRemoved(email, cooperative, name string) {
	if email == "" {
		return
	}
	s.later(both(email, notice{"You are no longer a member", fmt.Sprintf(
		"%s removed you from %s. You cannot sign in any more.\n\nIf that is not right, speak with the coordinator and with landowners you know. "+
			"A ranch that has no owner now is private; nobody new sees anything of it before two other landowners have said yes, a week from then at the earliest. "+
			"After a coordinator was removed, nothing is published for 30 days without two coordinators’ yes.", name, cooperative)},
		notice{"usted ya no es socio: Tussock", fmt.Sprintf(
			"%s lo sacó de %s. Ya no puede entrar.\n\nSi no está bien, hable con el coordinador y con los dueños que conozca. "+
				"Un rancho que se queda sin dueño es privado; nadie nuevo ve nada de él antes de que otros dos dueños digan que sí, una semana después cuando más pronto. "+
				"Después de sacar a un coordinador, en 30 días no se publica nada sin el sí de dos coordinadores.", name, cooperative)}))
}

// A Suspension is what is told of one.
type Suspension struct {
	Cooperative, Name, Email string
	Until                    time.Time // zero where a second coordinator has said yes to it
	Others                   []string  // addresses of the coordinators besides the one who did it
}

// TellSuspended writes to somebody who was suspended, and to the other coordinators: nobody is kept out in silence.
func (s *Service) TellSuspended(by string, x Suspension) {
	how := fmt.Sprintf("It ends by itself on %s, unless a second coordinator says yes to it.", words.Speaker{}.Day(x.Until.UTC()))
	como := fmt.Sprintf("Termina por sí sola el %s, si no la confirma con un sí otra persona de la coordinación.", words.Speaker{Language: words.Spanish}.Day(x.Until.UTC()))
	if x.Until.IsZero() {
		how = "Two coordinators have said yes to it, so it lasts until one of them ends it."
		como = "La confirmaron dos personas de la coordinación, así que dura hasta que una de ellas la termine."
	}
	if x.Email != "" {
		s.later(both(x.Email, notice{"You are suspended", fmt.Sprintf(
			"%s suspended you in %s: you cannot sign in. %s\n\nYour ranch stays as you left it: what you said goes on to count, nobody new reads anything, and nothing that was asked of you or in your name is carried out meanwhile. Field links go on. Your tokens for programs and your calendars’ addresses have ended for good, so make new ones when you are in again. "+
				"All members can read of it on the page “Changes”.\n\nIf somebody else may have your password, be glad of it and choose another when you are in again. If it is not right, speak with the other coordinators and with landowners you know.", by, x.Cooperative, how)},
			notice{"usted está suspendido: Tussock", fmt.Sprintf(
				"%s lo suspendió en %s: no puede entrar. %s\n\nSu rancho queda como usted lo dejó: lo que dijo sigue contando, nadie nuevo lee nada, y mientras tanto no se hace nada de lo que se haya pedido de usted o en su nombre. Los enlaces de campo siguen. Sus claves para programas y las direcciones de sus calendarios terminaron para siempre: haga otras cuando vuelva a entrar. "+
					"Todos los socios pueden leerlo en la página «Cambios».\n\nSi puede que alguien tenga su contraseña, es para bien: escoja otra cuando vuelva a entrar. Si no está bien, hable con las demás personas de la coordinación y con dueños que conozca.", by, x.Cooperative, como)}))
	}
	for _, to := range x.Others {
		s.later(both(to, notice{"A member was suspended", fmt.Sprintf(
			"In %s, %s suspended %s. %s\n\nAsk both of them why. On the page “Members” you can let the member in again, or say the second yes where you were a coordinator for 30 days when it began.\n\n%s/cooperative/members", x.Cooperative, by, x.Name, how, s.url)},
			notice{"se suspendió a un socio: Tussock", fmt.Sprintf(
				"En %s, %s suspendió a %s. %s\n\nPregunte a ambos por qué. En la página de socios puede dejarlo entrar otra vez, o dar el segundo sí si ya llevaba 30 días en la coordinación cuando empezó.", x.Cooperative, by, x.Name, como)}))
	}
}

// Watch tells alarms, and owners what concerns their ranches, every so often until ctx is done.
func (s *Service) Watch(ctx context.Context, every time.Duration, log *slog.Logger) {
	if s.mail == nil {
		return
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if _, err := s.TellAlarms(ctx); err != nil && ctx.Err() == nil {
			log.Error("alarms could not be told", "err", err)
		}
		if _, err := s.TellOwners(ctx); err != nil && ctx.Err() == nil {
			log.Error("letters to owners could not be written", "err", err)
		}
	}
}
