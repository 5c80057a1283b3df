package localpg_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger/localpg"
)

func TestServerKilled(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	c := start(t, dir)
	exe(t, c, `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('ash')`)
	killHard(t, serverPid(t, dir))
	ended(t, c)
	stop(t, c) // of a server that has ended is fine
	require.FileExists(t, filepath.Join(dir, "postgres", "postmaster.pid"), "the killed server left its pid file")

	c = start(t, dir)
	require.Equal(t, "ash", ask(t, c, `SELECT word FROM kept`))
}

// A backend that is busy with a query does not notice that its server was
// killed, and holds the shared memory until the query ends.
func TestServerKilledWhileAQueryRuns(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	c := start(t, dir)
	conn := connect(t, c.URL(localpg.Owner, "postgres"))
	var backend int
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT pg_backend_pid()`).Scan(&backend))
	done := make(chan struct{})
	go func() {
		defer close(done)
		_, _ = conn.Exec(context.Background(), `SELECT count(*) FROM generate_series(1, 20000000)`)
	}()
	t.Cleanup(func() { <-done })
	require.Eventually(t, func() bool {
		return ask(t, c, fmt.Sprintf(`SELECT state FROM pg_stat_activity WHERE pid = %d`, backend)) == "active"
	}, 10*time.Second, 5*time.Millisecond)
	killHard(t, serverPid(t, dir))
	ended(t, c)

	c = start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
}

// runHelper starts this test binary as an ashbook of its own on dir and
// returns it with the URL of its server.
func runHelper(t *testing.T, dir string) (*exec.Cmd, string) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), helperDir+"="+dir)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	url, ok := strings.CutPrefix(strings.TrimSpace(line), "ready ")
	require.True(t, ok, line)
	return cmd, url
}

func commitWord(t *testing.T, url string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer func() { _ = conn.Close(t.Context()) }()
	_, err = conn.Exec(t.Context(), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('tallow')`)
	require.NoError(t, err)
}

func TestAshbookKilled(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	helper, url := runHelper(t, dir)
	commitWord(t, url)
	require.NoError(t, helper.Process.Kill())
	_ = helper.Wait()

	c := start(t, dir) // at once, while the orphan may still be shutting down
	require.Equal(t, "tallow", ask(t, c, `SELECT word FROM kept`))
}

// Nothing is left running when ashbook is killed, even if it never comes back.
func TestServerEndsWithAshbook(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("only Linux ties a child to its parent")
	}
	dir := existing(t)
	helper, _ := runHelper(t, dir)
	pid := serverPid(t, dir)
	require.NoError(t, helper.Process.Kill())
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", pid))
		return err != nil || len(text) == 0 // gone, or ended and not yet collected
	}, 20*time.Second, 10*time.Millisecond)
	require.NoFileExists(t, filepath.Join(dir, "postgres", "postmaster.pid"), "it was shut down in order")
}

// A kill -9 in the middle of making the cluster leaves nothing that looks whole.
func TestAshbookKilledWhileMakingTheCluster(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	self, err := os.Executable()
	require.NoError(t, err)
	helper := exec.Command(self)
	helper.Env = append(os.Environ(), helperDir+"="+dir)
	require.NoError(t, helper.Start())
	t.Cleanup(func() { _ = helper.Process.Kill() })
	require.Eventually(t, func() bool {
		hits, err := filepath.Glob(filepath.Join(dir, "postgres.unfinished-*", "PG_VERSION"))
		return err == nil && len(hits) == 1
	}, 20*time.Second, time.Millisecond)
	require.NoError(t, helper.Process.Kill())
	_ = helper.Wait()
	require.NoDirExists(t, filepath.Join(dir, "postgres"))

	c := start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
	require.Eventually(t, func() bool {
		hits, err := filepath.Glob(filepath.Join(dir, "postgres.unfinished-*"))
		return err == nil && len(hits) == 0
	}, 5*time.Second, 10*time.Millisecond)
}

// Without the kernel's help (as on macOS) the server of a killed ashbook runs
// on. Here the test runs such a server itself.
func TestLeftoverServerIsEnded(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	c := start(t, dir)
	exe(t, c, `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('brine')`)
	bin := ask(t, c, `SELECT setting FROM pg_config WHERE name = 'BINDIR'`)
	stop(t, c)

	info, err := os.Stat(filepath.Join(dir, "postgres"))
	require.NoError(t, err)
	stat := info.Sys().(*syscall.Stat_t)
	orphan := exec.Command(filepath.Join(bin, "postgres"), "-D", filepath.Join(dir, "postgres"),
		"-c", "listen_addresses=", "-c", "unix_socket_directories="+filepath.Join(dir, "socket"))
	orphan.Dir = dir
	var said bytes.Buffer
	orphan.Stderr = &said
	if os.Geteuid() == 0 {
		orphan.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: stat.Uid, Gid: stat.Gid}}
	}
	require.NoError(t, orphan.Start())
	gone := make(chan error, 1)
	go func() { gone <- orphan.Wait() }()
	t.Cleanup(func() { _ = orphan.Process.Kill() })
	require.Eventually(t, func() bool {
		conn, err := pgx.Connect(t.Context(), c.URL(localpg.Owner, "postgres"))
		if err != nil {
			return false
		}
		return conn.Close(t.Context()) == nil
	}, 20*time.Second, 20*time.Millisecond)

	again := start(t, dir)
	require.Equal(t, "brine", ask(t, again, `SELECT word FROM kept`))
	select {
	case err := <-gone:
		require.NoError(t, err)
		require.Contains(t, said.String(), "received fast shutdown request")
	case <-time.After(10 * time.Second):
		t.Fatal("the leftover server still runs")
	}
}

// A stale pid file whose number now belongs to a process of someone else: it
// must neither be killed nor keep the records shut.
func TestStalePidFileWithForeignProcess(t *testing.T) {
	t.Parallel()
	for name, content := range map[string]func(pid int) string{
		"of another program": func(pid int) string { return fmt.Sprintf("%d\n/nowhere\n1700000000\n5432\n", pid) },
		"single-user mark":   func(pid int) string { return fmt.Sprintf("-%d\n/nowhere\n", pid) },
		"empty":              func(int) string { return "" },
		"broken":             func(int) string { return "soap" },
		"whole process group": func(int) string {
			return "0\n"
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := existing(t)
			c := start(t, dir)
			exe(t, c, `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('oat')`)
			stop(t, c)

			info, err := os.Stat(filepath.Join(dir, "postgres"))
			require.NoError(t, err)
			stat := info.Sys().(*syscall.Stat_t)
			other := exec.Command("sleep", "600") // as the server's user, which PostgreSQL alone would take for a server
			if os.Geteuid() == 0 {
				other.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: stat.Uid, Gid: stat.Gid}}
			}
			other.Dir = filepath.Join(dir, "postgres")
			require.NoError(t, other.Start())
			t.Cleanup(func() { _ = other.Wait() })
			t.Cleanup(func() { _ = other.Process.Kill() })
			text := []byte(content(other.Process.Pid))
			for _, path := range []string{"postgres/postmaster.pid", "socket/.s.PGSQL.5432.lock"} {
				require.NoError(t, os.WriteFile(filepath.Join(dir, path), text, 0o600))
				require.NoError(t, os.Chown(filepath.Join(dir, path), int(stat.Uid), int(stat.Gid)))
			}

			again := start(t, dir)
			require.Equal(t, "oat", ask(t, again, `SELECT word FROM kept`))
			require.NoError(t, other.Process.Signal(syscall.Signal(0)), "the other process lives on")
		})
	}
}

// The server of another data folder is a postgres too, and none of our business.
func TestStalePidFileWithServerOfAnotherFolder(t *testing.T) {
	t.Parallel()
	dir, otherDir := existing(t), existing(t)
	other := start(t, otherDir)
	text, err := os.ReadFile(filepath.Join(otherDir, "postgres", "postmaster.pid"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "postgres", "postmaster.pid"), text, 0o600))

	c := start(t, dir)
	require.Equal(t, "1", ask(t, c, `SELECT '1'`))
	require.Equal(t, "1", ask(t, other, `SELECT '1'`), "the other server lives on")
}

func TestClusterOfAnotherVersion(t *testing.T) {
	t.Parallel()
	dir := existing(t)
	version := filepath.Join(dir, "postgres", "PG_VERSION")
	require.NoError(t, os.WriteFile(version, []byte("9.6\n"), 0o600))
	_, err := localpg.Start(t.Context(), localpg.Options{Dir: dir})
	require.ErrorContains(t, err, "made by PostgreSQL 9.6")
	require.ErrorContains(t, err, "found: ")
	require.ErrorContains(t, err, "install PostgreSQL 9.6, or dump")
	require.FileExists(t, version, "nothing is deleted")
}

func TestFolderThatIsNoCluster(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "postgres"), 0o755)) // for example the place of an unmounted disk
	_, err := localpg.Start(t.Context(), localpg.Options{Dir: dir})
	require.ErrorContains(t, err, "does not look like a PostgreSQL cluster")
	require.ErrorContains(t, err, "mount it")
}

func TestFolderThatTheServersUserCannotEnter(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("only root changes to another user")
	}
	closed := filepath.Join(folder(t), "closed")
	require.NoError(t, os.MkdirAll(filepath.Join(closed, "data"), 0o755))
	require.NoError(t, os.Chmod(closed, 0o700))
	_, err := localpg.Start(t.Context(), localpg.Options{Dir: filepath.Join(closed, "data")})
	require.ErrorContains(t, err, "cannot enter the folder "+closed+";")
	require.ErrorContains(t, err, "--data")
}

func TestExistingClusterRunsAsItsOwner(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("only root changes to another user")
	}
	const someone = 54321 // a user without a name
	dir := existing(t)
	require.NoError(t, filepath.WalkDir(filepath.Join(dir, "postgres"), func(path string, _ os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Lchown(path, someone, someone)
	}))
	start(t, dir)
	info, err := os.Stat(fmt.Sprintf("/proc/%d", serverPid(t, dir)))
	require.NoError(t, err)
	require.EqualValues(t, someone, info.Sys().(*syscall.Stat_t).Uid)
}
