package localpg

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// runsOn reports whether process pid is a PostgreSQL server on the cluster in
// data. A server's working folder is its cluster; where the kernel hides that
// (another user's process, for root without CAP_SYS_PTRACE as in containers),
// the command line decides. A process that has ended and waits for its parent
// has neither.
func runsOn(pid int, data string) bool {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", pid))
	if err != nil {
		return false
	}
	args := strings.Split(string(bytes.TrimRight(text, "\x00")), "\x00")
	if filepath.Base(args[0]) != "postgres" {
		return false
	}
	cwd := fmt.Sprintf("/proc/%d/cwd", pid)
	if _, err := os.Readlink(cwd); err == nil {
		return sameFolder(cwd, data)
	}
	return isServerOn(args, data)
}
