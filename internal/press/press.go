// Package press composes and publishes bulletins on the coordinator's orders, as a role of the database that no page
// has.
package press

import (
	"context"
	"log/slog"

	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// Run waits for orders and carries them out until ctx is done.
func Run(ctx context.Context, p *postgres.Press, log *slog.Logger) error {
	return errs.New(errs.Unavailable, "Not built yet.")
}
