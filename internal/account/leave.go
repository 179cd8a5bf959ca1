package account

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"tussock/internal/access"
	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// SeeOff carries out what is due of the ways out that members asked for, now and every so often until ctx is done. When
// each is due stands in the database, so a server that was stopped carries it out when it is back.
func (s *Service) SeeOff(ctx context.Context, every time.Duration, log *slog.Logger) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := s.CarryOut(ctx); err != nil && ctx.Err() == nil {
			log.Error("what members asked for on leaving could not be carried out", "err", err)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// CarryOut does so once and tells who is concerned.
func (s *Service) CarryOut(ctx context.Context) error {
	list, err := s.db.CarryOut(ctx)
	if err != nil {
		return err
	}
	var failed []error
	for _, d := range list {
		if d.Failure != "" {
			failed = append(failed, fmt.Errorf("%s: %s", d.Kind, d.Failure))
			continue
		}
		en, es := done(d)
		for _, to := range d.Addresses {
			s.later(mail.Letter{To: to, Subject: "Tussock: it is done / ya está hecho", Text: en + "\n\n" + es + "\n"})
		}
	}
	return errors.Join(failed...)
}

func done(d postgres.Departed) (en, es string) {
	switch d.Kind {
	case postgres.EraseKind:
		return fmt.Sprintf("Everything that was sent to %s for %s has been deleted. Bulletins that are out stay as they are. Copies in the operator's backups go with the oldest of those.", d.Cooperative, d.RanchName),
			fmt.Sprintf("Se borró todo lo que se mandó a %s de %s. Los boletines que ya salieron quedan como están. Las copias en los respaldos de quien opera el servicio se van con el más viejo de ellos.", d.Cooperative, d.RanchName)
	case postgres.TakeOffKind:
		return fmt.Sprintf("An owner of %s at %s has been taken off it, as was asked 14 days ago.", d.RanchName, d.Cooperative),
			fmt.Sprintf("Un dueño de %s en %s ya no está en él, como se pidió hace 14 días.", d.RanchName, d.Cooperative)
	case postgres.HandOverKind:
		return fmt.Sprintf("%s has gone to its new owner at %s. It is private until they choose otherwise.", d.RanchName, d.Cooperative),
			fmt.Sprintf("%s pasó a su nuevo dueño en %s. Queda privado mientras no decida otra cosa.", d.RanchName, d.Cooperative)
	}
	return fmt.Sprintf("You have left %s. Your sign-in and your address are deleted.", d.Cooperative),
		fmt.Sprintf("Usted salió de %s. Se borraron su entrada y su dirección.", d.Cooperative)
}

// TellDeparture writes to everybody concerned that a way out was asked for, or called off: whoever did not ask for it must
// learn of it while it can still be called off.
func (s *Service) TellDeparture(actor access.Actor, d postgres.Departure, calledOff bool) {
	if s.mail == nil {
		return
	}
	s.mail.Later(func(ctx context.Context) ([]mail.Letter, error) {
		to, err := s.db.DepartureAddresses(ctx, actor.Coop, d.ID)
		if err != nil {
			return nil, err
		}
		en, es := asked(d)
		subject, when := "Tussock: leaving / salida", fmt.Sprintf("\n\nIt happens on %s. Until then you can call it off at %s/account/leave\n\n%s\n\nSe hará el %s. Hasta entonces puede cancelarlo en %s/account/leave\n",
			words.Speaker{}.Day(d.DueAt.UTC()), s.url, es, words.Speaker{Language: words.Spanish}.Day(d.DueAt.UTC()), s.url)
		if calledOff {
			subject, when = "Tussock: called off / cancelado", fmt.Sprintf("\n\n%s called it off. Nothing happens, and everything stays as it was.\n\n%s\n\n%s lo canceló. No pasa nada y todo queda como estaba.\n", actor.Name, es, actor.Name)
		}
		var letters []mail.Letter
		for _, address := range to {
			letters = append(letters, mail.Letter{To: address, Subject: subject, Text: en + when})
		}
		return letters, nil
	})
}

func asked(d postgres.Departure) (en, es string) {
	switch d.Kind {
	case postgres.EraseKind:
		return fmt.Sprintf("%s asked to delete everything that was sent for %s.", d.By, d.RanchName),
			fmt.Sprintf("%s pidió borrar todo lo que se mandó de %s.", d.By, d.RanchName)
	case postgres.TakeOffKind:
		return fmt.Sprintf("%s asked to take %s off %s: they would no longer open its results. If you are that owner and it is not right, say no; until then you can take everything along, or have it deleted. If another owner asked, ask the same of them: then two landowners of other ranches say which of you owns it.", d.By, d.WhomName, d.RanchName),
			fmt.Sprintf("%s pidió quitar a %s de %s: ya no abriría sus resultados. Si usted es ese dueño y no está bien, diga que no; hasta entonces puede llevarse todo o mandar borrarlo. Si lo pidió otro dueño, pida lo mismo de él: entonces dos dueños de otros ranchos dicen cuál de los dos es el dueño.", d.By, d.WhomName, d.RanchName)
	case postgres.HandOverKind:
		return fmt.Sprintf("%s asked to hand %s over to a new owner.", d.By, d.RanchName),
			fmt.Sprintf("%s pidió pasar %s a un nuevo dueño.", d.By, d.RanchName)
	}
	return fmt.Sprintf("%s asked to leave the cooperative.", d.By), fmt.Sprintf("%s pidió salir de la cooperativa.", d.By)
}
