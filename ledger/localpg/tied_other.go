//go:build !linux

package localpg

import (
	"os/exec"
	"syscall"
)

// dieWithParent does nothing here: only Linux can tie a child to its parent.
// The next Start ends what is left over.
func dieWithParent(*exec.Cmd, syscall.Signal) {}
