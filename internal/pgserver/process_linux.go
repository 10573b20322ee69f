package pgserver

import (
	"os"
	"strconv"
	"strings"
	"syscall"
)

// processAttributes puts the server into a process group of its own, so that
// Ctrl-C reaches the application first, and has the kernel ask it for a fast
// shutdown when the thread that started it ends.
func processAttributes(a account) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGINT, Credential: a.credential()}
}

// commandLine gives the arguments of a process, joined by spaces; empty when there
// is no such process.
func commandLine(pid int) string {
	b, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/cmdline")
	if err != nil {
		return ""
	}
	return strings.TrimSpace(strings.ReplaceAll(string(b), "\x00", " "))
}
