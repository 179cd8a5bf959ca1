package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"os/user"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"tussock/internal/account"
)

// keep serves the pages in a process of their own and stays beside it until ctx is done. This process has the owner's password,
// the press's, the clerk's and the key file; the one that answers requests is told the pages' and the door's and no more, can reach no file
// of ours, and where we are root runs as another user.
func (s *service) keep(ctx context.Context, stderr io.Writer, ready func(address string) error) error {
	if err := s.sealSecrets(ctx, account.New(s.db, account.Options{Keys: s.cfg.Keys})); err != nil {
		return err
	}
	keeping, stop := context.WithCancel(ctx)
	defer stop()
	go keepJournal(keeping, s.db, s.cfg.Data, journalEvery, s.log)
	listener, err := net.Listen("tcp", s.cfg.Addr)
	if err != nil {
		return fmt.Errorf("the pages cannot listen on %s, another program may: choose another with --addr: %w", s.cfg.Addr, err)
	}
	defer listener.Close()
	file, err := listener.(*net.TCPListener).File()
	if err != nil {
		return err
	}
	defer file.Close()
	if err := s.startHelpers(); err != nil {
		return err
	}
	scratch, err := os.MkdirTemp("", "tussock-pages-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(scratch)
	first := true
	for {
		err := s.runPages(ctx, file, scratch, stderr, func() error {
			if !first {
				return nil
			}
			first = false
			return ready(either(s.cfg.URL, "http://"+listener.Addr().String()))
		})
		if ctx.Err() != nil {
			return nil
		}
		if first || errors.Is(err, errNotReady) {
			return err
		}
		s.log.Error("the pages ended and are started again", "err", err)
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return nil
		}
	}
}

var errNotReady = errors.New("the pages were not let begin")

// runPages runs the pages' process to its end.
func (s *service) runPages(ctx context.Context, listener *os.File, scratch string, stderr io.Writer, ready func() error) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, self, "serve", "--tethered")
	cmd.Env = append(s.cfg.forPages(s.app, s.door), "TMPDIR="+scratch)
	cmd.ExtraFiles = []*os.File{listener}
	cmd.Stderr = stderr
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // Ctrl-C is for us to pass on
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = 15 * time.Second
	if cmd.SysProcAttr.Credential, err = lesserUser(0); err != nil {
		return err
	}
	if c := cmd.SysProcAttr.Credential; c != nil {
		if err := os.Chown(scratch, int(c.Uid), int(c.Gid)); err != nil {
			return err
		}
		cmd.Path = "/proc/self/exe" // whatever folder we lie in
	}
	tether, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	defer tether.Close()
	said, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	reads := []string{self}
	if s.cfg.Dev {
		reads = append(reads, "web")
	}
	err = startConfined(cmd, reads, scratch)
	if errors.Is(err, errNoLandlock) {
		s.log.Warn("the process that answers requests is not kept from the files of this user: it would be on Linux 5.13 or newer", "err", err)
		err = cmd.Start()
	}
	if err != nil {
		return fmt.Errorf("start the pages: %w", err)
	}
	lines := bufio.NewScanner(said)
	if lines.Scan() {
		if err := ready(); err != nil {
			cmd.Cancel()
			return errors.Join(errNotReady, err, cmd.Wait())
		}
	}
	io.Copy(io.Discard, said)
	return cmd.Wait()
}

// lesserUser returns whom a process of ours runs as when we are root: none of the database's, the nth of a few that every system
// has. It returns nil for ourselves.
func lesserUser(n int) (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	var found []*syscall.Credential
	for _, name := range []string{"tussock", "nobody", "daemon", "bin", "mail"} {
		u, err := user.Lookup(name)
		if err != nil || name == "nobody" && !exists("postgres") { // then the database runs as nobody
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
		found = append(found, &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)})
	}
	if n >= len(found) {
		return nil, errors.New("there is no user tussock, nobody, daemon, bin or mail to run the pages, the press and the clerk as; start Tussock as another user than root")
	}
	return found[n], nil
}

func exists(name string) bool {
	_, err := user.Lookup(name)
	return err == nil
}

// forPages is the environment of the pages' process: what it needs, and no address but the two it may use.
func (c config) forPages(app, door string) []string {
	var keys []string
	for _, k := range c.Keys {
		keys = append(keys, k.String())
	}
	env := []string{
		"PATH=" + os.Getenv("PATH"), "TUSSOCK_ADDR=" + c.Addr, "TUSSOCK_URL=" + c.URL, "TUSSOCK_APP_URL=" + app, "TUSSOCK_DOOR_URL=" + door,
		"TUSSOCK_SECRET_KEY=" + strings.Join(keys, ","), "TUSSOCK_MAIL_URL=" + c.Mail, "TUSSOCK_TRUSTED_PROXIES=" + strings.Join(c.Proxies, ","),
	}
	for name, on := range map[string]bool{"TUSSOCK_DEV": c.Dev, "TUSSOCK_INSECURE_HTTP": c.Insecure} {
		if on {
			env = append(env, name+"=1")
		}
	}
	for name, d := range map[string]time.Duration{"TUSSOCK_SESSION_IDLE": c.SessionIdle, "TUSSOCK_SESSION_MAX": c.SessionMax} {
		if d != 0 {
			env = append(env, name+"="+d.String())
		}
	}
	slices.Sort(env)
	return env
}

// tetheredListener is the one that the keeper handed us, as the first file after the three that every process has.
func tetheredListener() (net.Listener, error) {
	file := os.NewFile(3, "listener")
	defer file.Close()
	return net.FileListener(file)
}

// tether ends ctx when standard input does: when the keeper has ended, however it did.
func tether(cancel func()) {
	io.Copy(io.Discard, os.Stdin)
	cancel()
	time.Sleep(15 * time.Second)
	os.Exit(1) // nobody is left to wait for us
}
