package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"tussock/internal/access"
	"tussock/internal/demo"
	"tussock/internal/fieldwork"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// A loader fills an empty database with the demo by the road that everybody takes: members accept invitations, each
// landowner's sheets are sent as that landowner, and the clerk reads them.
type loader struct {
	db        *postgres.DB
	coop      *demo.Cooperative
	hash      string // of the one password
	ranches   map[string]access.ID
	plans     []demo.Planned
	practiced demo.Practiced
}

// loadDemo fills the database and returns the coordinator, signed in, for what follows.
func loadDemo(ctx context.Context, owner *postgres.Owner, db *postgres.DB, coop *demo.Cooperative, hash string) (access.Actor, error) {
	l := &loader{db: db, coop: coop, hash: hash, ranches: map[string]access.ID{}, plans: coop.Plans(), practiced: coop.Practice(survey.DateFrom(time.Now()))}
	head := l.coop.People[0]
	_, invitation, err := owner.CreateCooperative(ctx, postgres.Cooperative{Name: l.coop.Name, Coordinator: head.Name, Email: head.Email})
	if err != nil {
		return access.Actor{}, fmt.Errorf("create the cooperative: %w", err)
	}
	coordinator, err := l.join(ctx, head, invitation)
	if err != nil {
		return access.Actor{}, err
	}
	invitations := make([]string, len(l.coop.People))
	err = db.As(ctx, coordinator, func(tx *postgres.Tx) error { return l.roster(tx, invitations) })
	if err != nil {
		return access.Actor{}, fmt.Errorf("set up the roster: %w", err)
	}
	// Hands first: an owner who comes lets in whoever waits.
	for i, p := range l.coop.People[1:] {
		if p.Role == access.Hand {
			if _, err := l.join(ctx, p, invitations[i+1]); err != nil {
				return access.Actor{}, err
			}
		}
	}
	g, gctx := errgroup.WithContext(ctx)
	g.SetLimit(max(2, runtime.NumCPU()))
	for i, p := range l.coop.People[1:] {
		if p.Role == access.Hand {
			continue
		}
		g.Go(func() error {
			member, err := l.join(gctx, p, invitations[i+1])
			if err == nil && p.Role == access.Planner {
				return db.As(gctx, member, func(tx *postgres.Tx) error {
					_, err := tx.AskIntroduction(demo.RequestArea, demo.Request)
					return err
				})
			}
			if err != nil || p.Role != access.Landowner {
				return err
			}
			return l.landowner(gctx, member, p)
		})
	}
	if err := g.Wait(); err != nil {
		return coordinator, err
	}
	if err := l.vouch(ctx, coordinator); err != nil {
		return coordinator, fmt.Errorf("vouch for the owners: %w", err)
	}
	return coordinator, l.share(ctx)
}

// vouch has the coordinator and two landowners vouch for the owners: two people for each.
func (l *loader) vouch(ctx context.Context, coordinator access.Actor) error {
	say := func(a access.Actor) error {
		return l.db.As(ctx, a, func(tx *postgres.Tx) error {
			list, err := tx.OwnersToVouch()
			var ids []access.ID
			for _, o := range list {
				if !o.Settled {
					ids = append(ids, o.ID)
				}
			}
			return errors.Join(err, tx.Vouch(ids...))
		})
	}
	if err := say(coordinator); err != nil {
		return err
	}
	for _, ranch := range []string{demo.HomeRanch, shared[1].ranch} {
		owner, err := l.again(ctx, l.coop.OwnerOf(ranch))
		if err != nil {
			return err
		}
		if err := errors.Join(say(owner), l.db.CloseSession(ctx, owner.Session)); err != nil {
			return err
		}
	}
	return nil
}

// shared are the ranches that their owners share with the biologist by name, and what for.
var shared = []struct{ ranch, purpose string }{
	{demo.HomeRanch, "a second pair of eyes on the north pasture’s cover"},
	{"Quern Hill", "planning where the spring burn goes"},
}

// share lets the biologist read them, for a year from today.
func (l *loader) share(ctx context.Context) error {
	for _, s := range shared {
		owner, err := l.again(ctx, l.coop.OwnerOf(s.ranch))
		if err != nil {
			return err
		}
		err = l.db.As(ctx, owner, func(tx *postgres.Tx) error {
			biologists, err := tx.Biologists()
			if err != nil || len(biologists) == 0 {
				return err
			}
			_, err = tx.Share(postgres.Sharing{Ranch: l.ranches[s.ranch], Person: biologists[0].ID, Purpose: s.purpose, Through: time.Now().AddDate(1, 0, 0)})
			return err
		})
		if err != nil {
			return fmt.Errorf("%s is shared by name: %w", s.ranch, err)
		}
		if err := l.db.CloseSession(ctx, owner.Session); err != nil {
			return err
		}
	}
	return nil
}

// roster writes down areas and ranches and invites everybody but the coordinator.
func (l *loader) roster(tx *postgres.Tx, invitations []string) error {
	for _, a := range l.coop.Areas {
		if err := tx.SaveArea(a.Name, a.Group); err != nil {
			return err
		}
	}
	shapes, err := geo.Read(demo.Outlines())
	if err != nil {
		return err
	}
	if err := tx.SaveShapes(shapes); err != nil {
		return err
	}
	for _, r := range l.coop.Ranches {
		id, err := tx.SaveRanch(postgres.Ranch{Name: r.Name, Area: r.Area, Owner: r.Owner})
		if err != nil {
			return err
		}
		l.ranches[r.Name] = id
	}
	for i, p := range l.coop.People[1:] {
		token, err := tx.Invite(p.Role, p.Name, p.Email, l.ids(p.Ranches))
		if err != nil {
			return err
		}
		invitations[i+1] = token
	}
	return nil
}

func (l *loader) ids(names []string) []access.ID {
	var ids []access.ID
	for _, name := range names {
		ids = append(ids, l.ranches[name])
	}
	return ids
}

// join accepts the invitation and signs in.
func (l *loader) join(ctx context.Context, p demo.Person, invitation string) (access.Actor, error) {
	credentials, err := l.db.AcceptInvitation(ctx, invitation, postgres.Acceptance{Name: p.Name, Email: p.Email, Hash: l.hash})
	if err != nil {
		return access.Actor{}, fmt.Errorf("%s joins: %w", p.Name, err)
	}
	return l.signIn(ctx, p, credentials)
}

// again signs somebody in who has joined before.
func (l *loader) again(ctx context.Context, p demo.Person) (access.Actor, error) {
	list, err := l.db.Credentials(ctx, p.Email)
	if err != nil || len(list) == 0 {
		return access.Actor{}, fmt.Errorf("%s signs in again: %w", p.Name, err)
	}
	return l.signIn(ctx, p, list[0])
}

func (l *loader) signIn(ctx context.Context, p demo.Person, credentials postgres.Credentials) (access.Actor, error) {
	session, err := l.db.OpenSession(ctx, postgres.NewSession{Coop: credentials.Coop, Person: credentials.Person,
		Idle: time.Hour, Max: time.Hour, Agent: "the demo being loaded"})
	if err != nil {
		return access.Actor{}, fmt.Errorf("%s signs in: %w", p.Name, err)
	}
	return l.db.ActorOf(ctx, session)
}

// landowner lets in the hands who wait, says yes or no for each ranch and sends its sheets, season after season; then signs out.
func (l *loader) landowner(ctx context.Context, actor access.Actor, p demo.Person) error {
	err := l.db.As(ctx, actor, func(tx *postgres.Tx) error {
		hands, err := tx.Newcomers()
		if err != nil {
			return err
		}
		for _, h := range hands {
			if err := tx.LetOnto(h.Person, h.Ranch); err != nil {
				return err
			}
		}
		for _, r := range l.coop.Ranches {
			if r.Owner == p.Name {
				if err := tx.SetConsent(l.ranches[r.Name], r.Consent); err != nil {
					return err
				}
				if err := tx.SetWelcome(l.ranches[r.Name], l.coop.GladOf(r.Name)); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s settles what is shared: %w", p.Name, err)
	}
	for _, s := range l.coop.Sheets {
		if l.coop.OwnerOf(s.Ranch).Name != p.Name {
			continue
		}
		for _, f := range s.Files {
			if err := l.send(ctx, actor, s, f); err != nil {
				return fmt.Errorf("%s sends %s: %w", p.Name, f.Name, err)
			}
		}
	}
	if err := l.plan(ctx, actor, p); err != nil {
		return fmt.Errorf("%s plans a season: %w", p.Name, err)
	}
	return l.db.CloseSession(ctx, actor.Session)
}

// plan puts in the maps and the next season of those ranches of an owner that have one.
func (l *loader) plan(ctx context.Context, actor access.Actor, p demo.Person) error {
	for _, x := range l.plans {
		if l.coop.OwnerOf(x.Ranch).Name != p.Name {
			continue
		}
		err := l.db.As(ctx, actor, func(tx *postgres.Tx) error {
			id := l.ranches[x.Ranch]
			return errors.Join(tx.PutGround(id, x.Ground), tx.SaveLines(id, x.Plan.Season, x.Plan, x.Lines))
		})
		if err != nil {
			return err
		}
	}
	if l.coop.OwnerOf(l.practiced.Ranch).Name != p.Name {
		return nil
	}
	return l.db.As(ctx, actor, l.practice)
}

// practice puts in the practice lines and what was seen on them, and how their owner can be called.
func (l *loader) practice(tx *postgres.Tx) error {
	x := l.practiced
	id := l.ranches[x.Ranch]
	if err := errors.Join(tx.SetPhone(demo.Phone), tx.SaveLines(id, x.Plan.Season, x.Plan, x.Lines)); err != nil {
		return err
	}
	lines, err := tx.Lines(id, x.Plan.Season)
	if err != nil {
		return err
	}
	var looks []fieldwork.Look
	for _, line := range lines {
		for _, look := range x.Looks[line.Name] {
			look.Ranch, look.Season, look.Line = id, line.Season, line.ID
			looks = append(looks, look)
		}
	}
	_, err = tx.KeepLooks(looks)
	return err
}

// send sends one sheet, for the clerk to read.
func (l *loader) send(ctx context.Context, actor access.Actor, s demo.Sheet, f demo.File) error {
	return l.db.As(ctx, actor, func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: l.ranches[s.Ranch], File: f.Name, Data: f.Data, Season: s.Season, Settings: postgres.Settings{Season: s.Season}})
		return err
	})
}

// awaitClerk waits until every sheet has been read.
func awaitClerk(ctx context.Context, db *postgres.DB, coordinator access.Actor) error {
	for {
		var sent []postgres.Status
		err := db.As(ctx, coordinator, func(tx *postgres.Tx) (err error) {
			sent, err = tx.UploadStatus(0)
			return err
		})
		if err != nil || !slices.ContainsFunc(sent, func(st postgres.Status) bool { return st.Waits }) {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// publishDemo lets each season pass, oldest first: its dates are written down, the press carries them out, and the coordinator says
// yes to each bulletin. The next season's dates are set as a coordinator sets them.
func publishDemo(ctx context.Context, owner *postgres.Owner, db *postgres.DB, coordinator access.Actor, seasons []int) error {
	today := time.Now().UTC().Truncate(24 * time.Hour)
	for i, year := range seasons {
		s := seasonDates(year)
		if !s.Published.Before(today) { // the demo is of a season that is not over yet
			s.Opens = today.AddDate(0, 0, 3*(i-len(seasons)))
			s.CutOff, s.Composed, s.Published = s.Opens.AddDate(0, 0, 1), s.Opens.AddDate(0, 0, 1), s.Opens.AddDate(0, 0, 2)
		}
		if err := owner.PutSeason(ctx, coordinator.Coop, s); err != nil {
			return fmt.Errorf("the dates of %d: %w", year, err)
		}
	}
	for out := 0; out < len(seasons); {
		err := db.As(ctx, coordinator, func(tx *postgres.Tx) error {
			editions, err := tx.Editions()
			out = 0
			for _, e := range editions {
				switch {
				case e.Note != "":
					return fmt.Errorf("the press: %s", e.Note)
				case !e.PublishedAt.IsZero():
					out++
				case !e.ComposedAt.IsZero():
					err = errors.Join(err, tx.Approve(e.Season, e.Edition, true))
				}
			}
			return err
		})
		if err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
	next := seasons[len(seasons)-1] + 1
	for seasonDates(next).Opens.Before(today.AddDate(0, 0, 14)) { // which is the notice that members have
		next++
	}
	err := db.As(ctx, coordinator, func(tx *postgres.Tx) error { return tx.SetSeason(seasonDates(next)) })
	return errors.Join(err, db.CloseSession(ctx, coordinator.Session))
}

// seasonDates are the demo's: from March to September.
func seasonDates(year int) postgres.Season {
	day := func(month time.Month, d int) time.Time { return time.Date(year, month, d, 0, 0, 0, 0, time.UTC) }
	return postgres.Season{Year: year, Opens: day(time.March, 1), CutOff: day(time.September, 1), Composed: day(time.September, 2), Published: day(time.September, 15)}
}
