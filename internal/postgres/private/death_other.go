//go:build !linux

package private

import "syscall"

// dieWithUs does nothing where the kernel has no parent-death signal: there, kill -9 leaves PostgreSQL running, and
// the next start says so.
func dieWithUs(attr *syscall.SysProcAttr) *syscall.SysProcAttr { return attr }
