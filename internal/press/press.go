package press

import (
	"context"
	"errors"
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

// Run composes what is due until ctx is done. Where the database does not answer, the press waits until it does.
func Run(ctx context.Context, p *postgres.Press, log *slog.Logger) error {
	for {
		err := next(ctx, p, log)
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

// Once composes the next edition that is due.
func Once(ctx context.Context, p *postgres.Press) error {
	return next(ctx, p, slog.New(slog.DiscardHandler))
}

func next(ctx context.Context, p *postgres.Press, log *slog.Logger) error {
	o, err := p.Next(ctx)
	if err != nil {
		return err
	}
	return carryOut(ctx, p, o, log)
}

// carryOut composes an edition and keeps it, or notes why there is none.
func carryOut(ctx context.Context, p *postgres.Press, o postgres.Print, log *slog.Logger) error {
	start := time.Now()
	b, err := Compose(ctx, p, o)
	if err == nil {
		err = p.Keep(ctx, o, b)
	}
	if err == nil {
		log.Info("press", "season", o.Season, "edition", o.Edition, "took", time.Since(start).Round(time.Millisecond))
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err() // the edition stays in hand for the press that comes next
	}
	if why, ok := errs.Message(err); ok && errors.Is(err, errs.Conflict) {
		log.Info("press", "season", o.Season, "edition", o.Edition, "none", why)
		return p.Refuse(ctx, o, why)
	}
	if errors.Is(err, errFigures) {
		log.Error("press", "season", o.Season, "edition", o.Edition, "err", err)
		return p.Fail(ctx, o, words.Mark("The bulletin could not be composed. The person who runs the server finds the reason in its log."))
	}
	return fmt.Errorf("season %d, edition %d: %w", o.Season, o.Edition, err)
}

// errFigures is a fault of the program: no use in trying again before it is mended.
var errFigures = errors.New("figures")

// Compose makes an edition from the copies that were made at its cut-offs. It depends on these alone: made again it is the same to the byte.
func Compose(ctx context.Context, p *postgres.Press, o postgres.Print) (b bulletin.Bulletin, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%w: %v", errFigures, r)
		}
	}()
	in, _, err := p.Load(ctx, o)
	if err != nil {
		return b, fmt.Errorf("load season %d: %w", o.Season, err)
	}
	if o.Edition == 1 {
		return bulletin.Compose(in)
	}
	first, whole, err := p.Load(ctx, postgres.Print{Coop: o.Coop, Season: o.Season, Edition: 1})
	if err != nil {
		return b, fmt.Errorf("load the first edition of %d: %w", o.Season, err)
	}
	if !whole {
		return b, bulletin.Gone(o.Season)
	}
	published, err := p.First(ctx, o)
	if err != nil {
		return b, fmt.Errorf("read the first edition of %d: %w", o.Season, err)
	}
	return bulletin.Revise(published, first, in)
}
