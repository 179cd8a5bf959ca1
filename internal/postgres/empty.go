package postgres

import "context"

// Empty tells whether no cooperative has been made yet: the demo goes nowhere else.
func (o *Owner) Empty(ctx context.Context) (bool, error) {
	var empty bool
	err := o.pool.QueryRowContext(ctx, "SELECT NOT EXISTS (SELECT 1 FROM tussock.coop)").Scan(&empty)
	return empty, translate(err)
}
