// Package private runs a PostgreSQL of our own, from the machine's own binaries, for as long as this process lives.
//
// It listens on a unix socket in the data folder and on no network address, and asks everybody for a password: that a process
// runs as our user says nothing of what it may read. The superuser's is in a file that only that user may read; those of the
// other roles are new at each start and are told to whom they are for. PostgreSQL refuses to run as root: started by root, it
// runs as the user postgres, or nobody where there is none.
package private

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"sort"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/errs"
)

// Admin is the cluster's superuser: it makes roles and backups and serves no page.
const Admin = "tussock_admin"

// Database is the one that a service uses.
const Database = "tussock"

// oldest is the oldest PostgreSQL that has all we use (ON DELETE SET NULL of one column of a key).
const oldest = 15

// socketLimit is the longest path of a unix socket in bytes: sun_path of Linux's unix(7) has 108 with the final zero.
const socketLimit = 107

// Options say where and how.
type Options struct {
	Dir string // the data folder; made where missing
	// Throwaway gives up durability for speed and removes the folder afterward, even if this process is killed.
	Throwaway bool
	// Settings are more of PostgreSQL's own, as name=value: for tests that look over its shoulder.
	Settings []string
}

// A Server is a running PostgreSQL.
type Server struct {
	opt       Options
	bin       string // the folder of the binaries
	socket    string // the folder of the socket
	tempDir   bool   // the socket's folder is a temporary one, to be removed
	cred      *syscall.Credential
	passwords map[string]string // by role
	lock      *os.File
	cmd       *exec.Cmd
	gone      chan struct{} // closed when the process has ended
	reaper    *exec.Cmd
	reaperEnd io.Closer
}

// Start starts PostgreSQL in the folder, making a cluster in it where there is none, and returns when it answers.
// errs.Unavailable, with a sentence of what to do, where PostgreSQL is not installed or the folder cannot be used;
// errs.Conflict where another Tussock uses the folder.
func Start(ctx context.Context, opt Options) (*Server, error) {
	dir, err := filepath.Abs(opt.Dir)
	if err != nil {
		return nil, err
	}
	opt.Dir = dir
	s := &Server{opt: opt, passwords: map[string]string{}}
	if s.bin, err = binaries(); err != nil {
		return nil, err
	}
	if s.cred, err = unprivileged(); err != nil {
		return nil, err
	}
	if err := s.prepareDir(); err != nil {
		return nil, err
	}
	if s.lock, err = lockDir(dir); err != nil {
		return nil, err
	}
	if err := s.start(ctx); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

func (s *Server) start(ctx context.Context) error {
	if s.opt.Throwaway {
		if err := s.startReaper(); err != nil {
			return err
		}
	}
	if _, err := os.Stat(filepath.Join(s.cluster(), "PG_VERSION")); errors.Is(err, os.ErrNotExist) {
		if err := s.init(ctx); err != nil {
			return err
		}
	} else if err := s.sameVersion(); err != nil {
		return err
	}
	if err := s.prepareSocket(); err != nil {
		return err
	}
	if err := s.write("pg_hba.conf", "local all all scram-sha-256\n"); err != nil {
		return err
	}
	if err := s.prepareKey(ctx); err != nil {
		return err
	}
	if err := s.run(); err != nil {
		return err
	}
	return s.await(ctx)
}

func (s *Server) cluster() string { return filepath.Join(s.opt.Dir, "postgres") }
func (s *Server) log() string     { return filepath.Join(s.opt.Dir, "postgres.log") }

// Log is the file that PostgreSQL writes what went wrong to.
func (s *Server) Log() string { return s.log() }

// URL returns the address of a database for one of the roles, with its password.
func (s *Server) URL(role, database string) string {
	return address(s.socket, role, s.Password(role), database)
}

// Password is a role's for as long as this server runs: postgres.Setup gives it to the role.
func (s *Server) Password(role string) string {
	if s.passwords[role] == "" {
		s.passwords[role] = newPassword()
	}
	return s.passwords[role]
}

func newPassword() string {
	b := make([]byte, 32)
	rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

func address(socket, role, password, database string) string {
	q := url.Values{"host": {socket}, "user": {role}, "password": {password}, "sslmode": {"disable"}}
	return "postgres:///" + database + "?" + q.Encode()
}

// keyFile has the superuser's password, for our user alone.
func keyFile(dir string) string { return filepath.Join(dir, "database.key") }

// prepareKey reads the superuser's password, or makes it: for a new cluster, for one that was made when being our user was
// enough, and where the file is lost. PostgreSQL is told in its single-user mode, which whoever may write the folder can use.
func (s *Server) prepareKey(ctx context.Context) error {
	b, err := os.ReadFile(keyFile(s.opt.Dir))
	if err == nil && len(b) > 0 {
		s.passwords[Admin] = strings.TrimSpace(string(b))
		return nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return errs.Hide(errs.Unavailable, "The password of the database cannot be read from "+keyFile(s.opt.Dir)+". Start Tussock as the user who started it first.", err)
	}
	cmd := s.command("postgres", "--single", "-D", s.cluster(), "-c", "password_encryption=scram-sha-256", "-c", "log_min_messages=panic", "-c", "log_min_error_statement=panic", "postgres")
	cmd.Stdin = strings.NewReader("ALTER ROLE " + Admin + " PASSWORD '" + s.Password(Admin) + "';\n")
	if out, err := output(ctx, cmd); err != nil {
		return errs.Hide(errs.Unavailable, "PostgreSQL could not be given a password: "+lastLine(out), fmt.Errorf("single-user mode: %w", err))
	}
	half := keyFile(s.opt.Dir) + ".new"
	if err := os.WriteFile(half, []byte(s.Password(Admin)+"\n"), 0o600); err != nil {
		return err
	}
	return os.Rename(half, keyFile(s.opt.Dir))
}

// Stop shuts PostgreSQL down, ending its connections, and waits until it is gone. A throw-away folder goes too.
func (s *Server) Stop() error {
	var err error
	if s.cmd != nil {
		// SIGINT is a fast shutdown, SIGQUIT an immediate one: PostgreSQL manual, "Shutting Down the Server".
		s.cmd.Process.Signal(syscall.SIGINT)
		select {
		case <-s.gone:
		case <-time.After(30 * time.Second):
			s.cmd.Process.Signal(syscall.SIGQUIT)
			<-s.gone
		}
	}
	if s.tempDir {
		os.RemoveAll(s.socket)
	}
	if s.opt.Throwaway {
		err = os.RemoveAll(s.opt.Dir)
	}
	if s.reaper != nil {
		s.reaperEnd.Close()
		s.reaper.Wait()
	}
	if s.lock != nil {
		s.lock.Close()
	}
	return err
}

// Binary returns the path of one of PostgreSQL's own programs, such as pg_dump, of the newest version installed.
func Binary(name string) (string, error) {
	dir, err := binaries()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, name), nil
}

// binaries finds the newest PostgreSQL of this machine: where Debian and Ubuntu install it, else on the PATH.
func binaries() (string, error) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/postgres") // the pattern is well-formed
	version := func(path string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(path))))
		return n
	}
	sort.Slice(found, func(i, j int) bool { return version(found[i]) > version(found[j]) })
	for _, path := range found {
		if version(path) >= oldest {
			return filepath.Dir(path), nil
		}
	}
	if path, err := exec.LookPath("postgres"); err == nil {
		out, err := exec.Command(path, "--version").Output()
		if fields := strings.Fields(string(out)); err == nil && len(fields) >= 3 {
			if n, _ := strconv.Atoi(strings.Split(fields[2], ".")[0]); n >= oldest {
				return filepath.Dir(path), nil
			}
		}
	}
	return "", errs.New(errs.Unavailable, fmt.Sprintf("PostgreSQL %d or newer is not installed here. On Debian or Ubuntu: "+
		"sudo apt install postgresql. On Fedora: sudo dnf install postgresql-server. On macOS: brew install postgresql. "+
		"Or set TUSSOCK_DATABASE_URL to a PostgreSQL that runs elsewhere.", oldest))
}

// unprivileged returns whom PostgreSQL runs as when we are root, nil for ourselves.
func unprivileged() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.ParseUint(u.Uid, 10, 32)
		if err != nil {
			continue
		}
		gid, err := strconv.ParseUint(u.Gid, 10, 32)
		if err != nil {
			continue
		}
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
	}
	return nil, errs.New(errs.Unavailable, "PostgreSQL does not run as root, and there is no user postgres or nobody to run it as. Start Tussock as another user.")
}

// prepareDir makes the data folder. PostgreSQL's user must be able to pass through every folder above it.
func (s *Server) prepareDir() error {
	mode := os.FileMode(0o700)
	if s.cred != nil {
		mode = 0o755
	}
	if err := os.MkdirAll(s.opt.Dir, mode); err != nil {
		return errs.Hide(errs.Unavailable, "The data folder "+s.opt.Dir+" cannot be made. Choose another with --data.", err)
	}
	if s.cred == nil {
		return nil
	}
	if s.opt.Throwaway {
		if err := os.Chmod(s.opt.Dir, mode); err != nil {
			return err
		}
	}
	for dir := s.opt.Dir; ; dir = filepath.Dir(dir) {
		info, err := os.Stat(dir)
		if err != nil {
			return err
		}
		owner := info.Sys().(*syscall.Stat_t).Uid
		if info.Mode().Perm()&0o001 == 0 && owner != s.cred.Uid {
			return errs.New(errs.Unavailable, "PostgreSQL does not run as root, and its own user may not enter "+dir+
				". Choose another data folder with --data, or start Tussock as another user.")
		}
		if dir == filepath.Dir(dir) {
			return nil
		}
	}
}

// lockDir keeps a second process from the folder: the lock goes with this process, however it ends.
func lockDir(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, "lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, errs.Hide(errs.Unavailable, "The data folder "+dir+" cannot be written to. Choose another with --data.", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return nil, errs.Hide(errs.Conflict, "Another Tussock is running on the data folder "+dir+". Stop it first, or choose another with --data.", err)
	}
	return f, nil
}

// command is one of PostgreSQL's programs as its user, in a process group of its own: Ctrl-C is for us to pass on.
func (s *Server) command(name string, args ...string) *exec.Cmd {
	cmd := exec.Command(filepath.Join(s.bin, name), args...)
	cmd.Dir = s.cluster()
	cmd.Env = []string{"LC_ALL=" + locale(), "PATH=" + s.bin + ":/usr/bin:/bin", "TZ=UTC"}
	cmd.SysProcAttr = dieWithUs(&syscall.SysProcAttr{Setpgid: true, Credential: s.cred})
	return cmd
}

// own makes a folder PostgreSQL's.
func (s *Server) own(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if s.cred == nil {
		return nil
	}
	return os.Chown(dir, int(s.cred.Uid), int(s.cred.Gid))
}

// init makes a new cluster, under another name until it is whole: one cut short in the making is made again.
func (s *Server) init(ctx context.Context) error {
	half := s.cluster() + ".new"
	if err := os.RemoveAll(half); err != nil {
		return err
	}
	if err := s.own(half); err != nil {
		return err
	}
	args := []string{"--pgdata", half, "--username", Admin, "--auth", "reject", "--encoding", "UTF8",
		"--locale", locale(), "--data-checksums", "--no-instructions"}
	if s.opt.Throwaway {
		args = append(args, "--no-sync")
	}
	cmd := s.command("initdb", args...)
	cmd.Dir = half
	if out, err := output(ctx, cmd); err != nil {
		return errs.Hide(errs.Unavailable, "PostgreSQL could not make its folder: "+lastLine(out), fmt.Errorf("initdb: %w", err))
	}
	return os.Rename(half, s.cluster())
}

// locale sorts by code point everywhere and, where it can, still knows letters.
func locale() string {
	if runtime.GOOS == "linux" {
		return "C.UTF-8"
	}
	return "C"
}

// output runs a command to its end on a locked thread: its parent-death signal goes by the thread that started it.
func output(ctx context.Context, cmd *exec.Cmd) ([]byte, error) {
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	done := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		done <- cmd.Run()
	}()
	select {
	case err := <-done:
		return out.Bytes(), err
	case <-ctx.Done():
		if cmd.Process != nil {
			syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
		}
		<-done
		return out.Bytes(), ctx.Err()
	}
}

// sameVersion refuses a cluster that another major version made: it must be dumped and restored, not opened.
func (s *Server) sameVersion() error {
	b, err := os.ReadFile(filepath.Join(s.cluster(), "PG_VERSION"))
	if err != nil {
		return err
	}
	had := strings.TrimSpace(string(b))
	dir := filepath.Join("/usr/lib/postgresql", had, "bin")
	if _, err := os.Stat(filepath.Join(dir, "postgres")); err == nil {
		s.bin = dir
		return nil
	}
	out, err := exec.Command(filepath.Join(s.bin, "postgres"), "--version").Output()
	if err != nil {
		return err
	}
	if fields := strings.Fields(string(out)); len(fields) >= 3 && strings.Split(fields[2], ".")[0] == had {
		return nil
	}
	return errs.New(errs.Unavailable, "The data folder was made by PostgreSQL "+had+", which is not installed any more. Install postgresql-"+had+
		", make a backup with tussock backup, and restore it into a new data folder.")
}

// prepareSocket chooses the socket's folder: in the data folder, or a short temporary one where that path is too long.
//
// Whoever may pass through the folders above it can knock there, and needs a password: started by root, the pages and the press
// are other users than the database.
func (s *Server) prepareSocket() error {
	s.socket = filepath.Join(s.opt.Dir, "run")
	if len(s.socket)+len("/.s.PGSQL.5432") > socketLimit {
		dir, err := os.MkdirTemp("", "tussock-")
		if err != nil {
			return err
		}
		s.socket, s.tempDir = dir, true
	}
	if err := s.own(s.socket); err != nil || s.cred == nil {
		return err
	}
	return os.Chmod(s.socket, 0o711)
}

func (s *Server) write(name, content string) error {
	path := filepath.Join(s.cluster(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		return err
	}
	if s.cred == nil {
		return nil
	}
	return os.Chown(path, int(s.cred.Uid), int(s.cred.Gid))
}

// run starts the server. It must die with us: the signal is sent when the thread that started it ends, so that thread
// is locked to a goroutine which waits for the server.
func (s *Server) run() error {
	settings := []string{"listen_addresses=", "unix_socket_directories=" + s.socket, "unix_socket_permissions=0777",
		"max_connections=60", "shared_buffers=128MB", "max_wal_size=1GB", "log_statement=none", "log_min_error_statement=panic",
		"log_error_verbosity=terse", "log_parameter_max_length_on_error=0", "password_encryption=scram-sha-256"}
	if s.opt.Throwaway {
		settings = append(settings, "fsync=off", "synchronous_commit=off", "full_page_writes=off", "autovacuum=off", "shared_buffers=64MB",
			"max_wal_size=256MB", "max_connections=100")
	}
	args := []string{"-D", s.cluster()}
	for _, setting := range append(settings, s.opt.Settings...) {
		args = append(args, "-c", setting)
	}
	logFile, err := os.OpenFile(s.log(), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	defer logFile.Close()
	if info, err := logFile.Stat(); err == nil && info.Size() > 10<<20 {
		if err := logFile.Truncate(0); err != nil {
			return err
		}
	}
	cmd := s.command("postgres", args...)
	cmd.Stdout, cmd.Stderr = logFile, logFile
	started := make(chan error, 1)
	gone := make(chan struct{})
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			cmd.Wait() // how it ended is in its log
		}
		close(gone)
	}()
	if err := <-started; err != nil {
		return errs.Hide(errs.Unavailable, "PostgreSQL could not be started.", err)
	}
	s.cmd, s.gone = cmd, gone
	return nil
}

// await waits until the server answers.
func (s *Server) await(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, 60*time.Second) // a crash may need a long recovery
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.URL(Admin, "postgres"))
		if err == nil {
			return s.makeDatabase(ctx, conn)
		}
		select {
		case <-s.gone:
			b, _ := os.ReadFile(s.log())
			return errs.Hide(errs.Unavailable, "PostgreSQL stopped while starting: "+lastLine(b)+" ("+s.log()+" has more.)", err)
		case <-ctx.Done():
			return errs.Hide(errs.Unavailable, "PostgreSQL did not answer. "+s.log()+" may say why.", err)
		case <-time.After(10 * time.Millisecond):
		}
	}
}

func (s *Server) makeDatabase(ctx context.Context, conn *pgx.Conn) error {
	defer conn.Close(ctx)
	var there bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM pg_database WHERE datname = $1)", Database).Scan(&there); err != nil || there {
		return err
	}
	_, err := conn.Exec(ctx, "CREATE DATABASE "+Database)
	return err
}

// startReaper starts a shell that removes the folder once we and PostgreSQL are gone. It waits on a pipe whose other
// end only this process holds, so that even kill -9 wakes it.
func (s *Server) startReaper() error {
	const script = `read -r _; n=0; while [ -e "$0/postgres/postmaster.pid" ] && [ $n -lt 100 ]; do sleep 0.1; n=$((n+1)); done; rm -rf "$0"`
	cmd := exec.Command("/bin/sh", "-c", script, s.opt.Dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Dir = "/"
	in, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	s.reaper, s.reaperEnd = cmd, in
	return nil
}

// Running returns the address for the superuser of a server that another process runs in the folder, for a backup beside it.
func Running(dir string) (string, bool) {
	// The lines of postmaster.pid: process, folder, start, port, socket folder, … (PostgreSQL's pidfile.h).
	b, err := os.ReadFile(filepath.Join(dir, "postgres", "postmaster.pid"))
	lines := strings.Split(string(b), "\n")
	if err != nil || len(lines) < 5 {
		return "", false
	}
	pid, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if alive := syscall.Kill(pid, 0); err != nil || (alive != nil && !errors.Is(alive, syscall.EPERM)) {
		return "", false
	}
	password, err := os.ReadFile(keyFile(dir))
	if err != nil {
		return "", false
	}
	return address(strings.TrimSpace(lines[4]), Admin, strings.TrimSpace(string(password)), Database), true
}

func lastLine(b []byte) string {
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	return strings.TrimSpace(lines[len(lines)-1])
}
