package private

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"os/exec"

	"github.com/jackc/pgx/v5"

	"tussock/internal/errs"
)

// schemas are what a backup holds: the cooperative, its bulletins and which migrations made them.
func schemas() []string { return []string{"--schema=tussock", "--schema=pub", "--schema=migration"} }

// Dump writes a backup in pg_dump's custom format. pg_dump turns row-level security off, which fails loudly where the
// role may not see all; a role that may not turn it off is given all rows by the owner's policies instead.
func Dump(ctx context.Context, address string, w, stderr io.Writer) error {
	args := append([]string{"--format=custom"}, schemas()...)
	sees, err := seesAll(ctx, address)
	if err != nil {
		return err
	}
	if !sees {
		args = append(args, "--enable-row-security", "--role=tussock_owner")
	}
	return tool(ctx, "pg_dump", address, args, nil, w, stderr)
}

// Restore reads a backup into a database without those schemas, as the owner, whole or not at all.
func Restore(ctx context.Context, address string, r io.Reader, stderr io.Writer) error {
	args := []string{"--single-transaction", "--exit-on-error", "--no-owner", "--role=tussock_owner"}
	return tool(ctx, "pg_restore", address, args, r, nil, stderr)
}

func seesAll(ctx context.Context, address string) (sees bool, err error) {
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		return false, fmt.Errorf("connect for a backup: %w", err)
	}
	defer conn.Close(ctx)
	err = conn.QueryRow(ctx, "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user").Scan(&sees)
	return sees, err
}

// tool runs one of PostgreSQL's programs on a database. Whoever is on the machine sees a program's arguments, so the password
// goes by its environment.
func tool(ctx context.Context, name, address string, args []string, in io.Reader, out, stderr io.Writer) error {
	path, err := Binary(name)
	if err != nil {
		return err
	}
	address, password, err := withoutPassword(address)
	if err != nil {
		return err
	}
	args = append([]string{"--dbname", address}, args...)
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = in, out, stderr
	cmd.Env = []string{"LC_ALL=" + locale(), "PATH=/usr/bin:/bin", "PGPASSWORD=" + password}
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// withoutPassword takes the password out of an address: its own, or what PGPASSWORD or a password file has for it.
func withoutPassword(address string) (bare, password string, err error) {
	cfg, err := pgx.ParseConfig(address)
	if err != nil {
		return "", "", errs.New(errs.Invalid, "The address of the database cannot be read.")
	}
	u, err := url.Parse(address)
	if err != nil {
		return "", "", errs.New(errs.Invalid, "The address of the database cannot be read.")
	}
	if u.User != nil {
		u.User = url.User(u.User.Username())
	}
	q := u.Query()
	q.Del("password")
	u.RawQuery = q.Encode()
	return u.String(), cfg.Password, nil
}
