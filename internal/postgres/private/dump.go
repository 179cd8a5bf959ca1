package private

import (
	"context"
	"fmt"
	"io"
	"os/exec"

	"github.com/jackc/pgx/v5"
)

// schemas are what a backup holds: the cooperative, its bulletins and which migrations made them.
func schemas() []string { return []string{"--schema=tussock", "--schema=pub", "--schema=migration"} }

// Dump writes a backup in pg_dump's custom format. pg_dump turns row-level security off, which fails loudly where the
// role may not see all; a role that may not turn it off is given all rows by the owner's policies instead.
func Dump(ctx context.Context, url string, w, stderr io.Writer) error {
	args := append([]string{"--format=custom", "--dbname", url}, schemas()...)
	sees, err := seesAll(ctx, url)
	if err != nil {
		return err
	}
	if !sees {
		args = append(args, "--enable-row-security", "--role=tussock_owner")
	}
	return tool(ctx, "pg_dump", args, nil, w, stderr)
}

// Restore reads a backup into a database without those schemas, as the owner, whole or not at all.
func Restore(ctx context.Context, url string, r io.Reader, stderr io.Writer) error {
	args := []string{"--dbname", url, "--single-transaction", "--exit-on-error", "--no-owner", "--role=tussock_owner"}
	return tool(ctx, "pg_restore", args, r, nil, stderr)
}

func seesAll(ctx context.Context, url string) (sees bool, err error) {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return false, fmt.Errorf("connect for a backup: %w", err)
	}
	defer conn.Close(ctx)
	err = conn.QueryRow(ctx, "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user").Scan(&sees)
	return sees, err
}

func tool(ctx context.Context, name string, args []string, in io.Reader, out, stderr io.Writer) error {
	path, err := Binary(name)
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = in, out, stderr
	cmd.Env = []string{"LC_ALL=" + locale(), "PATH=/usr/bin:/bin"}
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
