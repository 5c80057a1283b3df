package localpg_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger/localpg"
)

// helperDir names the data folder on which the test binary, run again as a
// process of its own, starts a cluster and waits to be killed.
const helperDir = "LOCALPG_TEST_HELPER_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(helperDir); dir != "" {
		c, err := localpg.Start(context.Background(), localpg.Options{Dir: dir})
		if err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		fmt.Println("ready", c.URL(localpg.Owner, "postgres"))
		select {}
	}
	code := m.Run()
	if madeIn != "" {
		_ = os.RemoveAll(madeIn)
	}
	os.Exit(code)
}

// folder makes a data folder that the server's user can enter.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "localpg-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o755))
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("left for a look: %s", dir)
			return
		}
		require.NoError(t, os.RemoveAll(dir))
	})
	return dir
}

// madeIn is the data folder that madeOnce has made; "" before.
var madeIn string

// madeOnce makes a data folder with a cluster that was stopped in order.
var madeOnce = sync.OnceValue(func() (err error) {
	if madeIn, err = os.MkdirTemp("", "localpg-made-"); err != nil {
		return err
	}
	if err := os.Chmod(madeIn, 0o755); err != nil {
		return err
	}
	c, err := localpg.Start(context.Background(), localpg.Options{Dir: madeIn})
	if err != nil {
		return err
	}
	return c.Stop(context.Background())
})

// existing makes a data folder with a cluster of its own, as a copy: that is
// several times quicker than initdb.
func existing(t *testing.T) string {
	t.Helper()
	dir := folder(t)
	fill(t, dir)
	return dir
}

func fill(t *testing.T, dir string) {
	t.Helper()
	require.NoError(t, madeOnce())
	out, err := exec.Command("cp", "-a", filepath.Join(madeIn, "postgres"), dir).CombinedOutput()
	require.NoError(t, err, string(out))
}

func start(t *testing.T, dir string) *localpg.Cluster {
	t.Helper()
	c, err := localpg.Start(t.Context(), localpg.Options{Dir: dir, Logger: slog.New(slog.NewTextHandler(t.Output(), nil))})
	require.NoError(t, err)
	t.Cleanup(func() { stop(t, c) })
	return c
}

func stop(t *testing.T, c *localpg.Cluster) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	require.NoError(t, c.Stop(ctx))
}

func connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	return conn
}

func exe(t *testing.T, c *localpg.Cluster, sql string) {
	t.Helper()
	_, err := connect(t, c.URL(localpg.Owner, "postgres")).Exec(t.Context(), sql)
	require.NoError(t, err)
}

// ask returns the one value of a query as text.
func ask(t *testing.T, c *localpg.Cluster, sql string) string {
	t.Helper()
	var value string
	require.NoError(t, connect(t, c.URL(localpg.Owner, "postgres")).QueryRow(t.Context(), sql).Scan(&value))
	return value
}

// serverPid reads the number of a server known to be running.
func serverPid(t *testing.T, dir string) int {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "postgres", "postmaster.pid"))
	require.NoError(t, err)
	line, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(line)
	require.NoError(t, err)
	return pid
}

func ended(t *testing.T, c *localpg.Cluster) {
	t.Helper()
	select {
	case <-c.Done():
	case <-time.After(30 * time.Second):
		t.Fatal("the server did not end")
	}
}

func TestNewThenExistingFolderIsReadySoon(t *testing.T) {
	dir := folder(t)

	began := time.Now()
	c := start(t, dir)
	t.Logf("new folder ready in %v", time.Since(began))
	require.Less(t, time.Since(began), 20*time.Second) // 3 s on a quiet machine
	exe(t, c, `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('salt')`)
	stop(t, c)

	began = time.Now()
	c = start(t, dir)
	t.Logf("existing folder ready in %v", time.Since(began))
	require.Less(t, time.Since(began), 10*time.Second) // 1 s on a quiet machine
	require.Equal(t, "salt", ask(t, c, `SELECT word FROM kept`))
}

func TestRunningCluster(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	c := start(t, dir)
	t.Run("settings", func(t *testing.T) { checkSettings(t, c) })
	t.Run("nothing listens on TCP", func(t *testing.T) { checkNoTCP(t, dir) })
	t.Run("folders are closed to others", func(t *testing.T) {
		for _, name := range []string{"socket", "postgres"} {
			info, err := os.Stat(filepath.Join(dir, name))
			require.NoError(t, err)
			require.Equal(t, os.ModeDir|0o700, info.Mode(), name)
		}
	})
	t.Run("Ctrl-C in the terminal does not reach the server", func(t *testing.T) {
		pid := serverPid(t, dir)
		group, err := syscall.Getpgid(pid)
		require.NoError(t, err)
		require.Equal(t, pid, group)
	})
	t.Run("a second start is refused", func(t *testing.T) { checkSecondStart(t, c, dir) })
	t.Run("psql takes the URL", func(t *testing.T) { checkPsql(t, c) })
}

func checkSettings(t *testing.T, c *localpg.Cluster) {
	for setting, want := range map[string]string{
		"listen_addresses": "", "jit": "off", "data_checksums": "on", "server_encoding": "UTF8",
		"fsync": "on", "full_page_writes": "on", "synchronous_commit": "on", "TimeZone": "UTC",
	} {
		require.Equal(t, want, ask(t, c, `SHOW `+setting), setting)
	}
	require.Contains(t, []string{"C.UTF-8", "C"}, ask(t, c, `SELECT datcollate FROM pg_database WHERE datname = 'postgres'`))
	require.Equal(t, "true", ask(t, c, `SELECT rolsuper::text FROM pg_roles WHERE rolname = current_user`))
}

func TestThrowaway(t *testing.T) {
	t.Parallel()
	c, err := localpg.Start(t.Context(), localpg.Options{Dir: folder(t), Throwaway: true})
	require.NoError(t, err)
	t.Cleanup(func() { stop(t, c) })
	for _, setting := range []string{"fsync", "full_page_writes", "synchronous_commit"} {
		require.Equal(t, "off", ask(t, c, `SHOW `+setting), setting)
	}
}

func checkNoTCP(t *testing.T, dir string) {
	for _, table := range []string{"/proc/net/tcp", "/proc/net/tcp6"} {
		sockets := tcpListeners(t, table)
		for _, link := range openFiles(t, serverPid(t, dir)) {
			inode, isSocket := strings.CutPrefix(link, "socket:[")
			if isSocket {
				require.NotContains(t, sockets, strings.TrimSuffix(inode, "]"))
			}
		}
	}
}

// tcpListeners returns the inodes of listening TCP sockets. The columns are
// those of proc(5): 3 is the state (0A is TCP_LISTEN), 9 the inode.
func tcpListeners(t *testing.T, table string) map[string]bool {
	text, err := os.ReadFile(table)
	if err != nil {
		t.Skipf("no %s on this system", table)
	}
	inodes := map[string]bool{}
	for line := range strings.Lines(string(text)) {
		if cols := strings.Fields(line); len(cols) > 9 && cols[3] == "0A" {
			inodes[cols[9]] = true
		}
	}
	return inodes
}

func openFiles(t *testing.T, pid int) []string {
	fds, err := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
	require.NoError(t, err)
	require.NotEmpty(t, fds)
	var links []string
	for _, fd := range fds {
		if link, err := os.Readlink(fd); err == nil {
			links = append(links, link)
		}
	}
	return links
}

func checkSecondStart(t *testing.T, c *localpg.Cluster, dir string) {
	_, err := localpg.Start(t.Context(), localpg.Options{Dir: dir})
	require.ErrorContains(t, err, "another ashbook is using the data folder "+dir)
	require.ErrorContains(t, err, strconv.Itoa(os.Getpid()))
	require.ErrorContains(t, err, "--data")
	require.Equal(t, "1", ask(t, c, `SELECT '1'`), "the first one is not disturbed")
}

func TestStopIsCleanAndMayBeRepeated(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	c := start(t, dir)
	idle := connect(t, c.URL(localpg.Owner, "postgres")) // an open connection does not hold it up
	stop(t, c)
	stop(t, c)
	ended(t, c)
	require.Error(t, idle.Ping(t.Context()))
	require.NoFileExists(t, filepath.Join(dir, "postgres", "postmaster.pid"))
	log, err := os.ReadFile(filepath.Join(dir, "postgres.log"))
	require.NoError(t, err)
	require.Contains(t, string(log), "database system is shut down")
}

func TestStopThatRunsOutOfTimeSaysSo(t *testing.T) {
	t.Parallel()
	c := start(t, existing(t))
	past, cancel := context.WithCancel(context.Background())
	cancel()
	if err := c.Stop(past); err != nil { // it may just have been quick enough
		require.ErrorIs(t, err, context.Canceled)
	}
	stop(t, c)
}

func TestLongPath(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), strings.Repeat("a long name ", 4), strings.Repeat("b", 100))
	require.NoError(t, os.MkdirAll(dir, 0o755))
	fill(t, dir)
	c := start(t, dir)
	socketDir := connect(t, c.URL(localpg.Owner, "postgres")).Config().Host
	require.NotContains(t, socketDir, "long name")
	info, err := os.Stat(socketDir)
	require.NoError(t, err)
	require.Equal(t, os.ModeDir|0o700, info.Mode())
	stop(t, c)
	require.NoDirExists(t, socketDir)
}

func TestPathWithSpecialCharacters(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), `so "ap" [1] %20+ü\'`)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	fill(t, dir)
	c := start(t, dir)
	exe(t, c, `CREATE DATABASE "soap & lye/1"`)
	require.NoError(t, connect(t, c.URL(localpg.Owner, "soap & lye/1")).Ping(t.Context()))
	require.DirExists(t, filepath.Join(dir, "socket"))
}

// A comma would split the host of the connection string in two.
func TestPathWithComma(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), "soap,lye")
	require.NoError(t, os.MkdirAll(dir, 0o755))
	fill(t, dir)
	require.Equal(t, "1", ask(t, start(t, dir), `SELECT '1'`))
}

func checkPsql(t *testing.T, c *localpg.Cluster) {
	psql, err := exec.LookPath("psql")
	if err != nil {
		t.Skip("psql is not installed")
	}
	cmd := exec.Command(psql, "-XAtc", "SELECT current_user", c.URL(localpg.Owner, "postgres"))
	cmd.Env = append(os.Environ(), "PGPORT=1", "PGHOST=nowhere.invalid", "PGUSER=nobody_here")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Equal(t, localpg.Owner+"\n", string(out))
}

func TestMissingFolderIsMade(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), "not", "there", "yet")
	c := start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
}

func TestCancelledStartLeavesNothingRunning(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := localpg.Start(ctx, localpg.Options{Dir: dir})
	require.Error(t, err)
	c := start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
}

func TestUnfinishedClusterIsNotUsed(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	half := filepath.Join(dir, "postgres.unfinished-1")
	require.NoError(t, os.Mkdir(half, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(half, "PG_VERSION"), []byte("15\n"), 0o600))
	c := start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
	require.NoDirExists(t, half)
}

func TestLongLogIsRotated(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	log := filepath.Join(dir, "postgres.log")
	fill(t, dir)
	require.NoError(t, os.WriteFile(log, make([]byte, 10<<20+1), 0o600))
	start(t, dir)
	info, err := os.Stat(log)
	require.NoError(t, err)
	require.Less(t, info.Size(), int64(1<<20))
	require.FileExists(t, log+".1")
}

// killHard sends SIGKILL to a server that the test has started.
func killHard(t *testing.T, pid int) {
	t.Helper()
	require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
}
