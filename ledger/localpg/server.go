package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// maxLog is the size past which the server's log is rotated at the next start.
const maxLog = 10 << 20

// server is one postgres process. ended is closed when it is gone.
type server struct {
	cmd   *exec.Cmd
	ended chan struct{}
}

// launchPlan is what one server process needs.
type launchPlan struct {
	bin       binaries
	who       account
	data      string
	socketDir string
}

// launch starts the server and waits until a query works. The backends of a
// server that was killed may outlive it for a moment and hold its shared
// memory; PostgreSQL then refuses to start, and launch tries again until they
// are gone.
func launch(ctx context.Context, o Options, plan launchPlan) (*server, error) {
	deadline := time.Now().Add(shutdownWait)
	for tries := 0; ; tries++ {
		s, err := launchOnce(ctx, o, plan)
		if !errors.Is(err, errStillInUse) || time.Now().After(deadline) {
			return s, err
		}
		if tries == 0 {
			o.Logger.Info("waiting for the processes of an earlier database server to end", "folder", o.Dir)
		}
		if err := sleep(ctx, 200*time.Millisecond); err != nil {
			return nil, err
		}
	}
}

// errStillInUse is PostgreSQL's refusal while old backends are alive.
var errStillInUse = errors.New("processes of an earlier server still use the cluster")

func launchOnce(ctx context.Context, o Options, plan launchPlan) (*server, error) {
	log, err := openLog(o.Dir)
	if err != nil {
		return nil, err
	}
	defer func() { _ = log.Close() }()
	said, err := log.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", log.Name(), err)
	}
	// The server outlives ctx, which is about the start alone.
	cmd := plan.who.command(context.WithoutCancel(ctx), o.Dir, plan.bin.postgres(), serverArgs(plan, o.Throwaway)...)
	cmd.Stdout, cmd.Stderr = log, log
	dieWithParent(cmd, syscall.SIGINT) // fast shutdown
	s, err := startServer(cmd)
	if err != nil {
		return nil, err
	}
	if err := s.awaitReady(ctx, plan); err != nil {
		return nil, s.failedStart(err, log, said)
	}
	return s, nil
}

// serverArgs are all settings that ashbook relies on. They are on the command
// line because there they win over postgresql.conf in the cluster.
func serverArgs(plan launchPlan, throwaway bool) []string {
	cache := cacheFor(memory())
	if throwaway { // many run at once, and hold little
		cache = cacheFor(0)
	}
	settings := []string{
		"listen_addresses=",
		"port=" + port,
		"unix_socket_directories=" + quoteSocketDir(plan.socketDir),
		"unix_socket_permissions=0700",
		"logging_collector=off",
		"log_destination=stderr",
		"log_line_prefix=%m [%p] %q%u@%d ",
		"log_timezone=UTC",
		"timezone=UTC",
		"lc_messages=C", // errStillInUse reads them
		"cluster_name=ashbook",
		// For a small machine with few users.
		"max_connections=60",
		"shared_buffers=" + cache,
		"max_wal_size=512MB",
		"max_parallel_workers_per_gather=0",
		"jit=off",
	}
	if throwaway {
		settings = append(settings, "fsync=off", "full_page_writes=off", "synchronous_commit=off")
	}
	args := []string{"-D", plan.data}
	for _, setting := range settings {
		args = append(args, "-c", setting)
	}
	return args
}

// startServer starts cmd and watches over it until it ends.
func startServer(cmd *exec.Cmd) (*server, error) {
	s := &server{cmd: cmd, ended: make(chan struct{})}
	started := make(chan error)
	go func() {
		defer close(s.ended)
		lockThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			_ = cmd.Wait() // how it ended is in its log
		}
	}()
	if err := <-started; err != nil {
		return nil, fmt.Errorf("start %s: %w", cmd.Path, err)
	}
	return s, nil
}

// runTied runs cmd to its end under the same watch as the server.
func runTied(cmd *exec.Cmd) error {
	result := make(chan error)
	go func() {
		lockThread()
		result <- cmd.Run()
	}()
	return <-result
}

// lockThread keeps the calling goroutine on one thread for the rest of its
// life: the signal of dieWithParent is tied to the thread that starts the
// process, and Go ends idle threads when a goroutine locked to one returns.
func lockThread() { runtime.LockOSThread() }

// readyGrace is how long a server that calls itself ready may fail to answer.
const readyGrace = 20 * time.Second

// awaitReady returns nil once a query works. The start itself has no time
// limit: recovery after a crash takes what it takes, and the process either
// gets ready or ends.
func (s *server) awaitReady(ctx context.Context, plan launchPlan) error {
	var ready time.Time
	for {
		failed := answers(ctx, plan.socketDir)
		if failed == nil {
			return nil
		}
		if ready.IsZero() && saysReady(plan.data) {
			ready = time.Now()
		}
		if !ready.IsZero() && time.Since(ready) > readyGrace {
			return fmt.Errorf("the database server is ready but cannot be reached: %w", failed)
		}
		select {
		case <-s.ended:
			return errors.New("the database server ended while starting")
		case <-ctx.Done():
			return fmt.Errorf("the database server was not ready in time: %w", ctx.Err())
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// answers returns nil when a query works.
func answers(ctx context.Context, socketDir string) error {
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, socketURL(socketDir, Owner, "postgres"))
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(ctx) }()
	var one int
	return conn.QueryRow(ctx, "SELECT 1").Scan(&one)
}

// saysReady reports whether the server has written that it takes connections:
// the last line of its pid file, which it keeps for programs like this one.
func saysReady(data string) bool {
	text, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	return err == nil && strings.HasSuffix(strings.TrimSpace(string(text)), "\nready")
}

// failedStart ends what did not get ready and adds what it wrote to the log
// since offset.
func (s *server) failedStart(cause error, log *os.File, offset int64) error {
	_ = s.interrupt() // it has ended already, or ends now
	<-s.ended
	text, err := io.ReadAll(io.NewSectionReader(log, offset, maxLog))
	if err != nil {
		return fmt.Errorf("%w; its log %s cannot be read: %w", cause, log.Name(), err)
	}
	if strings.Contains(string(text), "pre-existing shared memory block") {
		return fmt.Errorf("%w; wait a little and start again, or restart the machine (log: %s)", errStillInUse, log.Name())
	}
	return fmt.Errorf("%w; its log %s says: %s", cause, log.Name(), lastLines(string(text), 4))
}

// interrupt asks for a fast shutdown; that the server has ended is no error.
func (s *server) interrupt() error {
	err := s.cmd.Process.Signal(os.Interrupt)
	if err != nil && !errors.Is(err, os.ErrProcessDone) {
		return fmt.Errorf("ask the database server to stop: %w", err)
	}
	return nil
}

// openLog opens the server's log for appending, after putting one that has
// grown too long aside.
func openLog(dir string) (*os.File, error) {
	path := filepath.Join(dir, "postgres.log")
	if info, err := os.Stat(path); err == nil && info.Size() > maxLog {
		if err := os.Rename(path, path+".1"); err != nil {
			return nil, fmt.Errorf("rotate the database log: %w", err)
		}
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_APPEND|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the database log: %w", err)
	}
	return f, nil
}

func sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
