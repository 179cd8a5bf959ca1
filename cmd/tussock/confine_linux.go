package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"syscall"
	"unsafe"
)

// The kernel's Landlock (Documentation/userspace-api/landlock.rst): a process gives up rights for good, without being root, and
// all that it starts has given them up too. The numbers of the calls are the same on every architecture.
const (
	landlockCreate   = 444
	landlockAdd      = 445
	landlockRestrict = 446
	askVersion       = 1 // of landlockCreate
	pathBeneath      = 1 // a kind of rule
	noNewPrivileges  = 38
)

// Rights to files, by their bits; a later kernel knows more of them.
const (
	mayExecute  = 1 << 0
	mayWrite    = 1 << 1
	mayRead     = 1 << 2
	mayList     = 1 << 3
	firstRights = 1<<13 - 1 // all that the first version knows
)

// noSignals and noSockets are scopes of version 6: no signal to a process that is not confined with us, and no abstract socket
// of one.
const (
	noSockets = 1 << 0
	noSignals = 1 << 1
)

// startConfined starts a program that can read the system's files and those named, write below one folder, and reach no other
// file, nor signal or trace a process outside. What is confined is the thread that starts it, which ends. Where the kernel has no
// Landlock it returns errNoLandlock, and the program is not started.
func startConfined(cmd *exec.Cmd, reads []string, writes string) error {
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread() // and never unlocked: the thread ends with this function
		if err := confineThread(append([]string{"/usr", "/lib", "/lib64", "/bin", "/sbin", "/etc", "/run/systemd/resolve", "/sys/kernel/mm"}, reads...), writes); err != nil {
			started <- err
			return
		}
		started <- cmd.Start()
	}()
	return <-started
}

var errNoLandlock = errors.New("this kernel has no Landlock")

type rulesetAttr struct{ files, network, scoped uint64 }

func confineThread(reads []string, writes string) error {
	version, _, errno := syscall.Syscall(landlockCreate, 0, 0, askVersion)
	if errno != 0 {
		return fmt.Errorf("%w: %w", errNoLandlock, errno)
	}
	attr := rulesetAttr{files: firstRights}
	for since, bit := range map[uintptr]uint64{2: 1 << 13, 3: 1 << 14, 5: 1 << 15} {
		if version >= since {
			attr.files |= bit
		}
	}
	size := unsafe.Sizeof(attr.files)
	if version >= 6 {
		attr.scoped, size = noSockets|noSignals, unsafe.Sizeof(attr)
	}
	ruleset, _, errno := syscall.Syscall(landlockCreate, uintptr(unsafe.Pointer(&attr)), size, 0)
	if errno != 0 {
		return fmt.Errorf("make a ruleset: %w", errno)
	}
	defer syscall.Close(int(ruleset))
	for _, path := range reads {
		if err := allow(ruleset, path, mayExecute|mayRead|mayList); err != nil {
			return err
		}
	}
	for _, path := range []string{"/dev/null", "/dev/urandom"} {
		if err := allow(ruleset, path, mayRead|mayWrite); err != nil {
			return err
		}
	}
	if err := allow(ruleset, writes, attr.files&^mayExecute); err != nil {
		return err
	}
	if _, _, errno := syscall.Syscall6(syscall.SYS_PRCTL, noNewPrivileges, 1, 0, 0, 0, 0); errno != 0 {
		return fmt.Errorf("give up new privileges: %w", errno)
	}
	if _, _, errno := syscall.Syscall(landlockRestrict, ruleset, 0, 0); errno != 0 {
		return fmt.Errorf("confine: %w", errno)
	}
	return nil
}

// allow adds a rule for a file or all below a folder; what is not there needs none.
func allow(ruleset uintptr, path string, rights uint64) error {
	const openPath = 0x200000 // O_PATH
	fd, err := syscall.Open(path, openPath|syscall.O_CLOEXEC, 0)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	defer syscall.Close(fd)
	var stat syscall.Stat_t
	if err := syscall.Fstat(fd, &stat); err != nil {
		return err
	}
	if stat.Mode&syscall.S_IFMT != syscall.S_IFDIR {
		rights &= mayExecute | mayRead | mayWrite
	}
	rule := struct {
		rights uint64
		fd     int32
	}{rights, int32(fd)}
	if _, _, errno := syscall.Syscall6(landlockAdd, ruleset, pathBeneath, uintptr(unsafe.Pointer(&rule)), 0, 0, 0); errno != 0 {
		return fmt.Errorf("allow %s: %w", path, errno)
	}
	return nil
}
