// Package press composes and publishes bulletins on the coordinator's orders, as a role of the database that no page
// has.
//
// It is the only place where the rows of several ranches come together, and it has no reader: what leaves it are the
// cells of a bulletin, which package disclosure let pass, and for the coordinator a list of what was held and why.
package press

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// patience is how long the press waits when the database does not answer.
const patience = 2 * time.Second

// Run waits for orders and carries them out until ctx is done. An order that cannot be carried out fails with a
// sentence for the coordinator. Where the database does not answer, the press waits until it does.
func Run(ctx context.Context, p *postgres.Press, log *slog.Logger) error {
	for {
		o, err := p.Next(ctx)
		if err == nil {
			err = carryOut(ctx, p, o, log)
		}
		if ctx.Err() != nil {
			return nil
		}
		if err == nil {
			continue
		}
		log.Error("press", "err", err)
		select {
		case <-time.After(patience):
		case <-ctx.Done():
			return nil
		}
	}
}

// carryOut composes the bulletin that the order asks for and keeps it, or fails the order.
func carryOut(ctx context.Context, p *postgres.Press, o postgres.Order, log *slog.Logger) error {
	start := time.Now()
	err := compose(ctx, p, o)
	if err == nil {
		log.Info("press", "order", o.ID, "kind", o.Kind, "season", o.Season, "took", time.Since(start).Round(time.Millisecond))
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err() // the order stays in hand for the press that comes next
	}
	note, ok := errs.Message(err)
	if !ok {
		note = words.Mark("The bulletin could not be composed. Whoever runs the server finds the reason in its log.")
	}
	log.Warn("press", "order", o.ID, "kind", o.Kind, "season", o.Season, "err", err)
	if err := p.Fail(ctx, o, note); err != nil {
		return fmt.Errorf("fail order %s: %w", o.ID, err)
	}
	return nil
}

func compose(ctx context.Context, p *postgres.Press, o postgres.Order) (err error) {
	// A fault in the figures must not take the press down, or the order would be taken up again for ever.
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("compose: %v", r)
		}
	}()
	in, err := p.Load(ctx, o)
	if err != nil {
		return fmt.Errorf("load season %d: %w", o.Season, err)
	}
	for _, b := range in.Earlier {
		if b.Season == o.Season && o.Kind != postgres.FinalKind {
			return errs.New(errs.Conflict, words.Mark("This season's bulletin is published already. A published bulletin is never changed."))
		}
	}
	b, err := bulletin.Compose(in)
	if err != nil {
		return fmt.Errorf("compose season %d: %w", o.Season, err)
	}
	if o.Kind == postgres.PreviewKind {
		return p.SavePreview(ctx, o, b)
	}
	return p.Freeze(ctx, o, b)
}
