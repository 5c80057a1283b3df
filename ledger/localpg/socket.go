package localpg

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// maxSocketPath is the longest path a unix socket can have: 107 bytes on
// Linux (unix(7): sun_path is 108 with its closing zero), 103 on macOS. One
// limit for both keeps a folder that is moved working.
const maxSocketPath = 103

const socketFile = ".s.PGSQL." + port

// makeSocketDir makes a folder of mode 0700 for the socket: in the data
// folder, or a short one in a temporary folder when that path cannot hold one.
func makeSocketDir(dataFolder string, who account, bin binaries) (string, error) {
	inside := filepath.Join(dataFolder, "socket")
	if fits(inside) {
		return inside, prepareInside(inside, who)
	}
	for _, parent := range []string{os.TempDir(), "/tmp", "/var/tmp"} {
		path, err := os.MkdirTemp(parent, "ashbook-")
		if err != nil {
			continue
		}
		if fits(path) && who.give(path) == nil && who.canEnter(path, bin) == nil {
			return path, nil
		}
		_ = os.Remove(path)
	}
	return "", fmt.Errorf("the path of the data folder %s is too long for a socket or has a comma, and no short folder "+
		"can be made in %s or /tmp; choose a shorter data folder with --data", dataFolder, os.TempDir())
}

// fits reports whether dir can hold the socket. A comma separates hosts in a
// connection string and cannot be escaped there.
func fits(dir string) bool {
	return len(filepath.Join(dir, socketFile)) <= maxSocketPath && !strings.Contains(dir, ",")
}

// prepareInside makes the folder for the socket, or readies the one of an
// earlier start. A socket and its lock file in it are left over from a server
// that was killed, since no server runs on the data folder now; the lock file
// names a process number that may be someone else's by now.
func prepareInside(dir string, who account) error {
	if err := os.Mkdir(dir, 0o700); err != nil && !errors.Is(err, os.ErrExist) {
		return fmt.Errorf("make the folder for the database socket: %w", err)
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return fmt.Errorf("look at the folder for the database socket: %w", err)
	}
	if !info.IsDir() {
		return fmt.Errorf("%s is in the way of the folder for the database socket; move it away", dir)
	}
	if err := removeSocketFiles(dir); err != nil {
		return err
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		return fmt.Errorf("close the folder for the database socket to others: %w", err)
	}
	return who.give(dir)
}

func removeSocketFiles(dir string) error {
	for _, name := range []string{socketFile, socketFile + ".lock"} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("remove a stale database socket: %w", err)
		}
	}
	return nil
}

// removeSocketDir removes a temporary socket folder; the one in the data
// folder stays. A failure leaves an empty folder behind and nothing worse.
func removeSocketDir(dataFolder, socketDir string) {
	if filepath.Dir(socketDir) == dataFolder {
		return
	}
	_ = removeSocketFiles(socketDir)
	_ = os.Remove(socketDir)
}

// quoteSocketDir writes dir as the one element of a list setting, in which
// spaces at its ends would otherwise be lost.
func quoteSocketDir(dir string) string {
	return `"` + strings.ReplaceAll(dir, `"`, `""`) + `"`
}
