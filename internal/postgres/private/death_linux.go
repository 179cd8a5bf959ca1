package private

import "syscall"

// dieWithUs has the kernel send a child SIGINT, PostgreSQL's fast shutdown, when the thread that started it ends, so
// that even kill -9 leaves nothing running.
func dieWithUs(attr *syscall.SysProcAttr) *syscall.SysProcAttr {
	attr.Pdeathsig = syscall.SIGINT
	return attr
}
