//go:build unix && !linux

package pgserver

import (
	"os/exec"
	"strconv"
	"strings"
	"syscall"
)

// processAttributes puts the server into a process group of its own, so that
// Ctrl-C reaches the application first. These systems cannot tie a child's life
// to its parent's: after a killed application the next start stops the leftover.
func processAttributes(a account) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Credential: a.credential()}
}

// commandLine gives the arguments of a process, joined by spaces; empty when there
// is no such process.
func commandLine(pid int) string {
	out, err := exec.Command("ps", "-ww", "-o", "command=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(out))
}
