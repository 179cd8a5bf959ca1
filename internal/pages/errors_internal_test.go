// Inside the package: the table of statuses is its own business.

package pages

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
)

func TestStatusOf(t *testing.T) {
	for _, tt := range []struct {
		err  error
		want int
	}{
		{errs.New(errs.Invalid, "x"), 422},
		{errs.New(errs.Unauthenticated, "x"), 401},
		{errs.New(errs.Forbidden, "x"), 403},
		{fmt.Errorf("open ranch: %w", errs.New(errs.NotFound, "x")), 404},
		{errs.New(errs.Conflict, "x"), 409},
		{errs.New(errs.TooLarge, "x"), 413},
		{errs.New(errs.TooMany, "x"), 429},
		{errs.Hide(errs.Unavailable, "x", errors.New("cause")), 503},
		{fmt.Errorf("query: %w", context.DeadlineExceeded), 503},
		{fiber.ErrNotFound, 404},
		{fiber.ErrRequestEntityTooLarge, 413},
		{errors.New("duplicate key value violates unique constraint"), 500},
	} {
		if got := statusOf(tt.err); got != tt.want {
			t.Errorf("statusOf(%v) = %d, want %d", tt.err, got, tt.want)
		}
	}
}

// Every role's first page must be one its rights open, and every link of its head too.
func TestEveryRoleCanOpenWhatItIsOffered(t *testing.T) {
	s := sampleServer(t)
	rights := map[string]access.Right{}
	for _, r := range s.routes() {
		if r.method == fiber.MethodGet {
			rights[r.path] = r.right
		}
	}
	for _, role := range access.Roles {
		offered := []string{firstPage[role]}
		for _, n := range navOf(role, "/") {
			offered = append(offered, n.Path)
		}
		for _, path := range offered {
			if right, ok := rights[path]; !ok || !role.Has(right) {
				t.Errorf("%s is offered %s, which needs %q", role, path, right)
			}
		}
	}
}
