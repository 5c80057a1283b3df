package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// endLeftover makes sure that no server runs on data and that no stale pid
// file stands in the way of the next one. The caller holds the lock on the
// folder, so a server that runs is left over from an ashbook that was killed.
//
// PostgreSQL itself only asks whether the process number in the file is alive,
// so it would refuse to start when that number has gone to another process of
// the same user. The file is removed here only after its process is proven
// not to be a server on this cluster; should that proof ever be wrong,
// PostgreSQL's own check of its shared memory still refuses.
func endLeftover(ctx context.Context, o Options, data string) error {
	path := filepath.Join(data, "postmaster.pid")
	pid, err := readPid(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if pid != 0 && runsOn(abs(pid), data) {
		if pid < 0 { // how PostgreSQL marks one that was started with --single
			return fmt.Errorf("someone works on the cluster in %s with postgres --single (process %d); end that first", data, -pid)
		}
		if err := endServer(ctx, o, pid, data); err != nil {
			return err
		}
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("remove a stale pid file: %w", err)
	}
	return nil
}

// readPid reads the first line of a postmaster.pid. It is 0 when the file is
// empty or broken, as a power cut can leave it, and PostgreSQL refuses that too.
func readPid(path string) (int, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, fmt.Errorf("read which server ran last: %w", err)
	}
	line, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		return 0, nil
	}
	return pid, nil
}

// endServer asks the proven server for a fast shutdown and waits for its end.
func endServer(ctx context.Context, o Options, pid int, data string) error {
	o.Logger.Warn("stopping a database server that an earlier ashbook left running", "folder", o.Dir, "process", pid)
	if err := syscall.Kill(pid, syscall.SIGINT); err != nil && !errors.Is(err, syscall.ESRCH) {
		return fmt.Errorf("stop the database server that an earlier ashbook left running (process %d): %w", pid, err)
	}
	deadline := time.Now().Add(shutdownWait)
	for runsOn(pid, data) {
		if time.Now().After(deadline) {
			return fmt.Errorf("the database server that an earlier ashbook left running on %s (process %d) does not stop; "+
				"see postgres.log there, then restart the machine or choose another folder with --data", o.Dir, pid)
		}
		if err := sleep(ctx, 20*time.Millisecond); err != nil {
			return fmt.Errorf("waiting for an earlier database server to stop (process %d): %w", pid, err)
		}
	}
	return nil
}

// isServerOn reports whether a command line is that of a server, started as
// launch does it, on the cluster in data.
func isServerOn(args []string, data string) bool {
	if len(args) == 0 || filepath.Base(args[0]) != "postgres" {
		return false
	}
	for i, arg := range args[:len(args)-1] {
		if arg == "-D" && sameFolder(args[i+1], data) {
			return true
		}
	}
	return false
}

func sameFolder(a, b string) bool {
	infoA, errA := os.Stat(a)
	infoB, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(infoA, infoB)
}

func abs(n int) int { return max(n, -n) }
