package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// account is the user that the server runs as.
type account struct {
	name     string
	uid, gid int
	switched bool // ashbook is root and becomes this user for the server's processes
}

// serverAccount decides who runs the server. Ashbook's own user does, unless
// that is root, whom PostgreSQL refuses.
func serverAccount(data string) (account, error) {
	self := account{name: accountName(os.Geteuid()), uid: os.Geteuid(), gid: os.Getegid()}
	info, err := os.Stat(data)
	if errors.Is(err, os.ErrNotExist) {
		if self.uid != 0 {
			return self, nil
		}
		return servantOfRoot()
	}
	if err != nil {
		return account{}, fmt.Errorf("look at the cluster: %w", err)
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return account{}, fmt.Errorf("this system does not say who owns %s", data)
	}
	owner := account{name: accountName(int(stat.Uid)), uid: int(stat.Uid), gid: int(stat.Gid), switched: true}
	switch {
	case self.uid != 0 && owner.uid != self.uid:
		return account{}, fmt.Errorf("the cluster in %s belongs to user %s and ashbook runs as %s; "+
			"start ashbook as %s, or choose another folder with --data", data, owner.name, self.name, owner.name)
	case self.uid != 0:
		return self, nil
	case owner.uid == 0:
		return account{}, fmt.Errorf("the cluster in %s belongs to root, whom PostgreSQL refuses to run as; "+
			"give it back to the user who made it (chown -R USER %s)", data, data)
	}
	return owner, nil
}

// servantOfRoot picks the unprivileged user for a new cluster.
func servantOfRoot() (account, error) {
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, uidErr := strconv.Atoi(u.Uid)
		gid, gidErr := strconv.Atoi(u.Gid)
		if uidErr == nil && gidErr == nil && uid > 0 {
			return account{name: name, uid: uid, gid: gid, switched: true}, nil
		}
	}
	return account{}, errors.New("PostgreSQL refuses to run as root, and there is no user postgres or nobody " +
		"to run it as; start ashbook as an ordinary user, or make a user named postgres")
}

func accountName(uid int) string {
	if u, err := user.LookupId(strconv.Itoa(uid)); err == nil {
		return u.Username
	}
	return strconv.Itoa(uid)
}

// command prepares one of the server's programs, run in workDir as a with a
// bare environment: no PGDATA, locale or time zone of the user leaks in.
func (a account) command(ctx context.Context, workDir, program string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = workDir
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C", "TZ=UTC"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if a.switched {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: uint32(a.uid), Gid: uint32(a.gid)}
	}
	return cmd
}

// give hands a folder that ashbook has just made to the server's user.
func (a account) give(path string) error {
	if !a.switched {
		return nil
	}
	if err := os.Lchown(path, a.uid, a.gid); err != nil {
		return fmt.Errorf("hand %s to user %s: %w", path, a.name, err)
	}
	return nil
}

// canEnter makes sure that a can pass through every folder down to dir and
// can run bin, by doing it: mode bits alone would miss ACLs and mounts. The
// error names the first folder that is closed.
func (a account) canEnter(dir string, bin binaries) error {
	if !a.switched || a.enters(dir, bin) == nil {
		return nil
	}
	if err := a.enters("/", bin); err != nil {
		return fmt.Errorf("user %s, who runs the database when ashbook is started by root, cannot run %s: %w; "+
			"open that program to all users, or start ashbook as an ordinary user", a.name, bin.postgres(), err)
	}
	closed := dir
	for up := dir; up != filepath.Dir(up); up = filepath.Dir(up) {
		if a.enters(up, bin) != nil {
			closed = up
		}
	}
	return fmt.Errorf("user %s, who runs the database when ashbook is started by root, cannot enter the folder %s; "+
		"choose a data folder elsewhere with --data (for example --data /var/lib/ashbook), "+
		"or start ashbook as an ordinary user", a.name, closed)
}

func (a account) enters(dir string, bin binaries) error {
	return a.command(context.Background(), dir, bin.postgres(), "--version").Run()
}
