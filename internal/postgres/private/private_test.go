package private_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/errs"
	"tussock/internal/postgres/private"
)

// TestMain lets the test binary stand for a Tussock that is killed: with a folder in the environment it starts
// PostgreSQL there, says so and waits for the end.
func TestMain(m *testing.M) {
	dir := os.Getenv("TUSSOCK_TEST_START")
	if dir == "" {
		os.Exit(m.Run())
	}
	if _, err := private.Start(context.Background(), private.Options{Dir: dir, Throwaway: os.Getenv("TUSSOCK_TEST_THROWAWAY") == "1"}); err != nil {
		os.Stdout.WriteString(err.Error() + "\n")
		os.Exit(1)
	}
	os.Stdout.WriteString("started\n")
	select {}
}

// folder returns a new data folder's path that PostgreSQL's own user can reach, which t.TempDir is not when root tests.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "tussock-private-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "data")
}

func start(t *testing.T, opt private.Options) *private.Server {
	t.Helper()
	s, err := private.Start(context.Background(), opt)
	if err != nil {
		if errors.Is(err, errs.Unavailable) && os.Getenv("REQUIRE_DB") != "1" {
			t.Skip(err)
		}
		t.Fatal(err)
	}
	return s
}

// exec runs one statement in the service's database.
func execute(t *testing.T, url, statement string) string {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	var got string
	if err := conn.QueryRow(ctx, statement).Scan(&got); err != nil && !errors.Is(err, pgx.ErrNoRows) {
		t.Fatalf("%s: %v", statement, err)
	}
	return got
}

func TestStartStopStart(t *testing.T) {
	dir := folder(t)
	s := start(t, private.Options{Dir: dir})
	url := s.URL(private.Admin, private.Database)
	execute(t, url, "CREATE TABLE kept AS SELECT 'eggs'::text AS what")
	if got := execute(t, url, "SELECT what FROM kept"); got != "eggs" {
		t.Errorf("wrote eggs, read %q", got)
	}
	for setting, want := range map[string]string{"fsync": "on", "full_page_writes": "on", "synchronous_commit": "on", "listen_addresses": "", "data_checksums": "on", "server_encoding": "UTF8"} {
		if got := execute(t, url, "SHOW "+setting); got != want {
			t.Errorf("%s is %q, want %q", setting, got, want)
		}
	}

	t.Run("the folder is taken", func(t *testing.T) {
		_, err := private.Start(context.Background(), private.Options{Dir: dir})
		if message, _ := errs.Message(err); !errors.Is(err, errs.Conflict) || !strings.Contains(message, dir) {
			t.Errorf("a second start: got %v, want a conflict that names the folder", err)
		}
	})
	t.Run("others find it", func(t *testing.T) {
		if got, ok := private.Running(dir); !ok || got != url {
			t.Errorf("running: got %q, %v, want %q", got, ok, url)
		}
	})

	// A client that stays connected must not keep it from stopping.
	conn, err := pgx.Connect(context.Background(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if err := s.Stop(); err != nil {
		t.Fatal(err)
	}
	if _, ok := private.Running(dir); ok {
		t.Error("it runs after it was stopped")
	}
	s = start(t, private.Options{Dir: dir})
	defer s.Stop()
	if got := execute(t, s.URL(private.Admin, private.Database), "SELECT what FROM kept"); got != "eggs" {
		t.Errorf("after a restart: got %q, want eggs", got)
	}
}

// TestPasswords: being the user who runs it lets nobody in, under no role; the password of the superuser is for that user to
// read alone, and is made again where it is lost.
func TestPasswords(t *testing.T) {
	ctx := context.Background()
	dir := folder(t)
	s := start(t, private.Options{Dir: dir})
	defer func() { s.Stop() }()
	execute(t, s.URL(private.Admin, private.Database), "CREATE ROLE tussock_app LOGIN")
	refused := func(address string) {
		t.Helper()
		conn, err := pgx.Connect(ctx, address)
		if err == nil {
			conn.Close(ctx)
			t.Errorf("%s comes in", address)
		}
	}
	right := s.URL(private.Admin, private.Database)
	for _, role := range []string{private.Admin, "tussock_app"} {
		bare := strings.ReplaceAll(strings.ReplaceAll(right, "password="+s.Password(private.Admin), ""), private.Admin, role)
		refused(bare)
		refused(bare + "&password=" + strings.Repeat("0", 64))
	}
	key := filepath.Join(dir, "database.key")
	info, err := os.Stat(key)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%s: %v %v", key, info.Mode(), err)
	}
	if address, ok := private.Running(dir); !ok || address != right {
		t.Errorf("running: %q, %v", address, ok)
	}
	if err := errors.Join(s.Stop(), os.Remove(key)); err != nil {
		t.Fatal(err)
	}
	s = start(t, private.Options{Dir: dir})
	if got := execute(t, s.URL(private.Admin, private.Database), "SELECT 'there'"); got != "there" {
		t.Errorf("with a new password: %q", got)
	}
	refused(right)
	if log, err := os.ReadFile(s.Log()); err != nil || strings.Contains(string(log), s.Password(private.Admin)) {
		t.Errorf("the log tells the password, or %v", err)
	}
}

// TestLongPath: a unix socket's path has a limit that folders have not.
func TestLongPath(t *testing.T) {
	dir := filepath.Join(folder(t), strings.Repeat("grass", 12), strings.Repeat("yucca", 12))
	s := start(t, private.Options{Dir: dir, Throwaway: true})
	if got := execute(t, s.URL(private.Admin, private.Database), "SELECT 'there'"); got != "there" {
		t.Errorf("got %q", got)
	}
	if err := s.Stop(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the throw-away folder is still there: %v", err)
	}
}

// TestKilled: kill -9 leaves no PostgreSQL behind; a lasting folder can be used again, a throw-away one is gone.
func TestKilled(t *testing.T) {
	for _, throwaway := range []string{"0", "1"} {
		dir := folder(t)
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "TUSSOCK_TEST_START="+dir, "TUSSOCK_TEST_THROWAWAY="+throwaway)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		said := make([]byte, 200)
		n, _ := out.Read(said)
		if got := string(said[:n]); got != "started\n" {
			cmd.Wait()
			if os.Getenv("REQUIRE_DB") != "1" {
				t.Skip(got)
			}
			t.Fatal(got)
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		cmd.Wait() // it was killed
		deadline := time.Now().Add(20 * time.Second)
		for {
			_, runs := private.Running(dir)
			_, err := os.Stat(dir)
			if !runs && (throwaway == "0" || errors.Is(err, os.ErrNotExist)) {
				break
			}
			if time.Now().After(deadline) {
				t.Fatalf("throw-away %s: 20 seconds after kill -9 PostgreSQL runs: %v, folder: %v", throwaway, runs, err)
			}
			time.Sleep(20 * time.Millisecond)
		}
		if throwaway == "0" {
			s := start(t, private.Options{Dir: dir})
			if err := s.Stop(); err != nil {
				t.Error(err)
			}
		}
	}
}

// TestFolderNobodyMayEnter: started by root, PostgreSQL runs as its own user, who cannot pass a folder of root's.
func TestFolderNobodyMayEnter(t *testing.T) {
	if syscall.Geteuid() != 0 {
		t.Skip("only root meets this")
	}
	parent := filepath.Join(t.TempDir(), "private")
	if err := os.Mkdir(parent, 0o700); err != nil {
		t.Fatal(err)
	}
	_, err := private.Start(context.Background(), private.Options{Dir: filepath.Join(parent, "data")})
	if message, _ := errs.Message(err); !strings.Contains(message, parent) || !strings.Contains(message, "--data") {
		t.Errorf("got %v, want a sentence with the folder and what to do", err)
	}
}
