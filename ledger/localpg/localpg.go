// Package localpg starts and stops a private PostgreSQL server for a user who
// names no server of their own. It knows no tables, roles or schemas beyond
// the superuser that initdb makes.
//
// # What lies in the data folder
//
//	ashbook.lock    held by flock for as long as the server runs
//	postgres/       the cluster; mode 0700, owned by whoever runs the server
//	postgres.log    what the server says; rotated to postgres.log.1 past 10 MB
//	socket/         the unix socket, mode 0700 (elsewhere when the path is too long)
//
// # How it behaves
//
// The server listens on a unix socket only. There is no password: the kernel
// lets only the socket folder's owner (and root) through, and that is the
// whole of the access control. The server runs in the foreground as a child
// in its own process group, so that Ctrl-C reaches ashbook alone, which then
// stops the server in order. On Linux the kernel also asks it to shut down
// when ashbook is killed.
//
// Whoever holds the flock owns the folder. A server that still runs on the
// folder at that moment is therefore left over from an ashbook that was
// killed, and is asked to shut down, after proof that it is that server: a
// process number alone proves nothing. No data folder is ever deleted.
//
// # Started by root
//
// PostgreSQL refuses to run as root. The server then runs as the owner of an
// existing cluster, else as user postgres, else as nobody, and that user must
// be able to enter the data folder. A caller that makes the folder with
// os.MkdirTemp, which gives it mode 0700, must chmod it to 0755 first.
package localpg

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// Owner is the superuser that initdb makes. Its name is part of every
// existing cluster, so it never changes.
const Owner = "ashbook_owner"

// port is part of the socket's file name; nothing listens on TCP.
const port = "5432"

// shutdownWait bounds how long Start waits for a server that an earlier
// ashbook left behind. A fast shutdown writes one checkpoint, so minutes are
// ample, and a person sees a reason instead of a program that hangs.
const shutdownWait = 2 * time.Minute

// ErrInUse is what Start fails with when another ashbook holds the folder.
var ErrInUse = errors.New("another ashbook is using the data folder")

// Options say where the cluster lies and how it is run.
type Options struct {
	// Dir is the data folder. It is made when missing; the cluster is Dir/postgres.
	Dir string
	// Logger is told of what takes long or is unusual; nil discards it.
	Logger *slog.Logger
	// Throwaway gives up safety against crashes for speed: fsync,
	// full_page_writes and synchronous_commit are off. It is for tests and
	// never for records.
	Throwaway bool
}

// Cluster is a running server. Its methods may be called from several
// goroutines.
type Cluster struct {
	server    *server
	socketDir string
	done      chan struct{}
}

// Start makes the cluster in o.Dir when there is none, ends what a killed
// ashbook left running there, starts the server and returns once a query
// works. ctx bounds the start only, not the life of the server; when it ends
// early, the server is shut down again.
//
// It fails, changing nothing, when another ashbook holds the folder, when no
// PostgreSQL of the right version is installed, or when the user that would
// run the server cannot enter the folder. Each error says what to do.
func Start(ctx context.Context, o Options) (*Cluster, error) {
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	dir, err := filepath.Abs(o.Dir)
	if err != nil {
		return nil, fmt.Errorf("find the data folder %s: %w", o.Dir, err)
	}
	o.Dir = dir
	if err := makeDataFolder(dir); err != nil {
		return nil, err
	}
	lock, err := takeLock(dir)
	if err != nil {
		return nil, err
	}
	c, err := startLocked(ctx, o, lock)
	if err != nil {
		_ = lock.Close()
		return nil, err
	}
	return c, nil
}

// startLocked does the work of Start for the holder of the lock.
func startLocked(ctx context.Context, o Options, lock *os.File) (*Cluster, error) {
	data := filepath.Join(o.Dir, "postgres")
	major, err := clusterMajor(data)
	if err != nil {
		return nil, err
	}
	bin, err := chooseBinaries(ctx, major, data)
	if err != nil {
		return nil, err
	}
	who, err := serverAccount(data)
	if err != nil {
		return nil, err
	}
	if err := who.canEnter(o.Dir, bin); err != nil {
		return nil, err
	}
	if major == "" {
		err = createCluster(ctx, o, bin, who, data)
	} else {
		err = endLeftover(ctx, o, data)
	}
	if err != nil {
		return nil, err
	}
	socketDir, err := makeSocketDir(o.Dir, who, bin)
	if err != nil {
		return nil, err
	}
	s, err := launch(ctx, o, launchPlan{bin: bin, who: who, data: data, socketDir: socketDir})
	if err != nil {
		removeSocketDir(o.Dir, socketDir)
		return nil, err
	}
	c := &Cluster{server: s, socketDir: socketDir, done: make(chan struct{})}
	go c.release(o, lock)
	return c, nil
}

// release gives the folder back once the server process has ended, however it
// ended, so that a closed Done means that the folder can be started again.
func (c *Cluster) release(o Options, lock *os.File) {
	<-c.server.ended
	removeSocketDir(o.Dir, c.socketDir)
	_ = lock.Close()
	close(c.done)
}

// URL is a connection string for pgx and psql that reaches database as role
// over the unix socket. It holds no secret. The database "postgres" and the
// role Owner exist from the start; others are the caller's to make.
func (c *Cluster) URL(role, database string) string {
	return socketURL(c.socketDir, role, database)
}

func socketURL(socketDir, role, database string) string {
	// Every part is given, so that PGPORT, PGSSLMODE and the like in the
	// user's environment cannot lead the connection elsewhere.
	query := url.Values{
		"host": {socketDir}, "port": {port}, "user": {role}, "sslmode": {"disable"},
	}
	// libpq, unlike pgx, does not read + as a space.
	raw := strings.ReplaceAll(query.Encode(), "+", "%20")
	return (&url.URL{Scheme: "postgres", Path: "/" + database, RawQuery: raw}).String()
}

// Done is closed when the server process has ended, by itself or by Stop, and
// the data folder has been given back.
func (c *Cluster) Done() <-chan struct{} { return c.done }

// Stop shuts the server down in order: open transactions are rolled back,
// connections closed, everything is written out. It waits for the end and may
// be called again at any time. When ctx ends first the server goes on
// shutting down, and the error says so; it is never killed.
func (c *Cluster) Stop(ctx context.Context) error {
	if err := c.server.interrupt(); err != nil {
		return err
	}
	select {
	case <-c.done:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("the database is still shutting down (see postgres.log in the data folder): %w", ctx.Err())
	}
}

// makeDataFolder makes dir and the missing folders above it. Started by root
// they get mode 0711, whatever the umask, since the server's user must pass
// through them; else 0700.
func makeDataFolder(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case err == nil && !info.IsDir():
		return fmt.Errorf("%s is a file, not a folder; choose another data folder with --data", dir)
	case err == nil:
		return nil
	case !errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("look at the data folder: %w; choose another with --data", err)
	}
	if err := makeDataFolder(filepath.Dir(dir)); err != nil {
		return err
	}
	mode := os.FileMode(0o700)
	if os.Geteuid() == 0 {
		mode = 0o711
	}
	if err := os.Mkdir(dir, mode); err != nil {
		if errors.Is(err, os.ErrExist) { // another ashbook was quicker
			return nil
		}
		return fmt.Errorf("make the data folder: %w; choose another with --data", err)
	}
	return os.Chmod(dir, mode)
}

// takeLock takes the folder for this process. The kernel gives the lock back
// when the process ends, however it ends; the number in the file is there for
// people only.
func takeLock(dir string) (*os.File, error) {
	path := filepath.Join(dir, "ashbook.lock")
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("take the data folder %s: %w; start ashbook as the user who owns it, "+
			"or choose another folder with --data", dir, err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer func() { _ = f.Close() }()
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fmt.Errorf("lock %s: %w; the data folder must be on a disk that supports file locks", path, err)
		}
		return nil, fmt.Errorf("%w %s (it wrote process number %s); "+
			"stop that one first, or choose another folder with --data", ErrInUse, dir, lockHolder(path))
	}
	if err := f.Truncate(0); err != nil {
		_ = f.Close()
		return nil, fmt.Errorf("write %s: %w", path, err)
	}
	if _, err := fmt.Fprintln(f, os.Getpid()); err != nil {
		_ = f.Close()
		return nil, fmt.Errorf("write %s: %w", path, err)
	}
	return f, nil
}

func lockHolder(path string) string {
	text, err := os.ReadFile(path)
	if pid := strings.TrimSpace(string(text)); err == nil && pid != "" {
		return pid
	}
	return "unknown"
}
