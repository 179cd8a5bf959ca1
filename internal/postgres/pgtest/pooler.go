package pgtest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/postgres"
)

// Pooled is the same store through a PgBouncer of its own that hands its few connections round after each transaction. Without
// PgBouncer the test is skipped, or fails where REQUIRE_TOOLS=1. appURL is the pages' address there.
func (f *Fixture) Pooled(t testing.TB) (db *postgres.DB, appURL string) {
	t.Helper()
	path, err := exec.LookPath("pgbouncer")
	if err != nil {
		path, err = exec.LookPath("/usr/sbin/pgbouncer")
	}
	if err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatal(err)
		}
		t.Skip("PgBouncer is not installed: apt-get install pgbouncer")
	}
	dir, err := os.MkdirTemp("", "pgb-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	app, err := pgx.ParseConfig(f.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	door, err := pgx.ParseConfig(f.DoorURL)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{
		"users": fmt.Sprintf("%q %q\n%q %q\n", app.User, app.Password, door.User, door.Password),
		"ini": fmt.Sprintf("[databases]\n%s = host=%s port=%d\n[pgbouncer]\npool_mode = transaction\ndefault_pool_size = 2\nmax_client_conn = 100\n"+
			"unix_socket_dir = %s\nlisten_port = 6432\nlisten_addr =\nauth_type = scram-sha-256\nauth_file = %s/users\nlogfile = %s/log\n", app.Database, app.Host, app.Port, dir, dir, dir),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(path, "-q", filepath.Join(dir, "ini"))
	if os.Geteuid() == 0 { // it does not run as root
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: nobody(t, dir)}
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	through := func(role, password string) string {
		q := url.Values{"host": {dir}, "port": {"6432"}, "user": {role}, "password": {password}, "sslmode": {"disable"}, "default_query_exec_mode": {"cache_describe"}}
		return "postgres:///" + app.Database + "?" + q.Encode()
	}
	appURL = through(app.User, app.Password)
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		db, err = postgres.Open(context.Background(), appURL, through(door.User, door.Password))
		if err == nil {
			break
		}
		if time.Now().After(deadline) {
			log, _ := os.ReadFile(filepath.Join(dir, "log"))
			t.Fatalf("through PgBouncer: %v\n%s", err, log)
		}
	}
	t.Cleanup(db.Close)
	return db, appURL
}

// nobody is whom PgBouncer runs as where root tests: whoever PostgreSQL runs as.
func nobody(t testing.TB, dir string) *syscall.Credential {
	t.Helper()
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		files, err := filepath.Glob(filepath.Join(dir, "*"))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range append(files, dir) {
			if err := os.Chown(file, uid, gid); err != nil {
				t.Fatal(err)
			}
		}
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	}
	t.Fatal("there is no user " + strings.Join([]string{"postgres", "nobody"}, " or "))
	return nil
}
