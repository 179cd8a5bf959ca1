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
	practised demo.Practised
}

// loadDemo fills the database and returns the coordinator, signed in, for what follows.
func loadDemo(ctx context.Context, owner *postgres.Owner, db *postgres.DB, coop *demo.Cooperative, hash string) (access.Actor, error) {
	l := &loader{db: db, coop: coop, hash: hash, ranches: map[string]access.ID{}, plans: coop.Plans(), practised: coop.Practice(survey.DateFrom(time.Now()))}
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
	// Hands first: once a ranch has an owner, whoever comes onto it waits for the owner's yes.
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
	return coordinator, l.share(ctx)
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
	if err := tx.VouchAll(); err != nil {
		return err
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

// landowner says yes or no for each ranch and sends its sheets, season after season; then signs out.
func (l *loader) landowner(ctx context.Context, actor access.Actor, p demo.Person) error {
	err := l.db.As(ctx, actor, func(tx *postgres.Tx) error {
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
	if l.coop.OwnerOf(l.practised.Ranch).Name != p.Name {
		return nil
	}
	return l.db.As(ctx, actor, l.practise)
}

// practise puts in the practice lines and what was seen on them, and how their owner can be called.
func (l *loader) practise(tx *postgres.Tx) error {
	x := l.practised
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
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// publishDemo orders the bulletin of every season, oldest first, and waits until a press has done them all.
func publishDemo(ctx context.Context, db *postgres.DB, coordinator access.Actor, seasons []int) error {
	for _, season := range seasons {
		err := db.As(ctx, coordinator, func(tx *postgres.Tx) error {
			_, err := tx.OrderPress(season, postgres.PublishKind)
			return err
		})
		if err != nil {
			return fmt.Errorf("order the bulletin of %d: %w", season, err)
		}
		if err := awaitPress(ctx, db, coordinator); err != nil {
			return fmt.Errorf("bulletin of %d: %w", season, err)
		}
	}
	return db.CloseSession(ctx, coordinator.Session)
}

func awaitPress(ctx context.Context, db *postgres.DB, coordinator access.Actor) error {
	for {
		var orders []postgres.PressOrder
		err := db.As(ctx, coordinator, func(tx *postgres.Tx) (err error) {
			orders, err = tx.PressOrders()
			return err
		})
		if err != nil {
			return err
		}
		busy := false
		for _, o := range orders {
			if o.State == postgres.Failed {
				return fmt.Errorf("the press failed: %s", o.Note)
			}
			busy = busy || o.State != postgres.Done
		}
		if !busy {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
}
