package localpg

import (
	"os/exec"
	"syscall"
)

// dieWithParent asks the kernel to send sig to cmd's process when the thread
// that starts it ends, which covers a kill -9 of ashbook.
func dieWithParent(cmd *exec.Cmd, sig syscall.Signal) {
	cmd.SysProcAttr.Pdeathsig = sig
}
