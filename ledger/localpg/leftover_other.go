//go:build !linux

package localpg

import (
	"os/exec"
	"strconv"
	"strings"
)

// runsOn reports whether process pid is a PostgreSQL server on the cluster in
// data, by its command line. ps does not show where one argument ends, so the
// folder is looked for as it was written by launch.
func runsOn(pid int, data string) bool {
	out, err := exec.Command("ps", "-ww", "-o", "command=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		return false
	}
	program, rest, _ := strings.Cut(strings.TrimSpace(string(out)), " -D ")
	folder, _, _ := strings.Cut(rest, " -c ")
	return isServerOn([]string{program, "-D", folder}, data)
}
