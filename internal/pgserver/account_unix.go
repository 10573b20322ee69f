//go:build unix

package pgserver

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"
)

// account is whom the server's programs run as. PostgreSQL refuses to run as
// root, so root hands them to an unprivileged account; anybody else keeps their own.
type account struct {
	name string
	uid  uint32
	gid  uint32
	drop bool // we are root and change to it
}

// accountFor chooses the account. Data that exist stay with their owner.
func accountFor(data string) (account, error) {
	me := account{uid: uint32(os.Geteuid()), gid: uint32(os.Getegid())}
	owner, exists := ownerOf(data)
	switch {
	case me.uid != 0 && exists && owner.uid != me.uid:
		return me, fmt.Errorf("the data in %s belong to %s: start Ohmstead as that user", data, owner.name)
	case me.uid != 0:
		return me, nil
	case exists && owner.uid != 0:
		owner.drop = true
		return owner, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		if u, err := user.Lookup(name); err == nil {
			uid, errU := strconv.ParseUint(u.Uid, 10, 32)
			gid, errG := strconv.ParseUint(u.Gid, 10, 32)
			if errU == nil && errG == nil && uid != 0 {
				return account{name: name, uid: uint32(uid), gid: uint32(gid), drop: true}, nil
			}
		}
	}
	return me, fmt.Errorf("PostgreSQL does not run as root, and this machine has neither an account \"postgres\" nor \"nobody\": start Ohmstead as an ordinary user")
}

// ownerOf tells whose path is; false when there is no such path.
func ownerOf(path string) (account, bool) {
	info, err := os.Stat(path)
	if err != nil {
		return account{}, false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return account{}, false
	}
	name := fmt.Sprintf("user %d", st.Uid)
	if u, err := user.LookupId(strconv.Itoa(int(st.Uid))); err == nil {
		name = u.Username
	}
	return account{name: name, uid: st.Uid, gid: st.Gid}, true
}

// credential is nil unless the account differs from ours.
func (a account) credential() *syscall.Credential {
	if !a.drop {
		return nil
	}
	return &syscall.Credential{Uid: a.uid, Gid: a.gid, Groups: []uint32{}}
}

// own makes dir, closed to all others, and gives it to the account.
func (a account) own(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		return err
	}
	if !a.drop {
		return nil
	}
	return os.Chown(dir, int(a.uid), int(a.gid))
}

// canEnter tries whether the account may work inside dir, by doing it: mode bits
// alone would overlook access lists and mounts.
func (a account) canEnter(ctx context.Context, inst installation, dir string) error {
	if !a.drop {
		return nil
	}
	try := func(in string) error {
		cmd := exec.CommandContext(ctx, inst.postgres(), "--version")
		cmd.Dir = in
		cmd.Env = serverEnv()
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: a.credential()}
		return cmd.Run()
	}
	if err := try("/"); err != nil {
		return fmt.Errorf("cannot run %s as %q: %w", inst.postgres(), a.name, err)
	}
	if err := try(dir); err != nil {
		return fmt.Errorf(`started by root, PostgreSQL runs as %q, and that account cannot reach
  %s
Choose a directory that it can reach, for example --data /var/lib/ohmstead (nothing below
/root can be), or start Ohmstead as an ordinary user`, a.name, dir)
	}
	return nil
}
