package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/localpg"
)

// folder is a data folder that the database server's user can enter.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "ashbook-cmd-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o755))
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// outcome runs the program and gives its exit code and what it printed.
func outcome(t *testing.T, args ...string) (int, string, string) {
	t.Helper()
	t.Setenv("DATABASE_URL", "")
	var out, errs bytes.Buffer
	code := run(t.Context(), args, strings.NewReader(""), &out, &errs)
	return code, out.String(), errs.String()
}

func TestWrongUseIsTwo(t *testing.T) {
	for _, args := range [][]string{{}, {"bake"}, {"ask"}, {"ask", "a", "b"}, {"verify", "--loudly"}, {"migrate"}} {
		code, _, errs := outcome(t, args...)
		require.Equal(t, wrongUse, code, args)
		require.True(t, len(args) == 0 || errs != "", args)
	}
	code, out, _ := outcome(t, "help")
	require.Equal(t, done, code)
	for _, c := range commands {
		require.Contains(t, out, c.does)
	}
}

// The demo is loaded, asked about, labelled and verified; then a table is changed behind the journal's back.
func TestDemoIsAnsweredAndVerified(t *testing.T) {
	dir := folder(t)
	code, out, errs := outcome(t, "demo", "--once", "--data", dir)
	require.Equal(t, done, code, errs)
	require.Contains(t, out, "no difference")
	file := regexp.MustCompile(`\S+\.pdf`).FindString(out)
	pdf, err := os.ReadFile(file)
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(pdf, []byte("%PDF")))

	code, again, _ := outcome(t, "demo", "--once", "--data", dir)
	require.Equal(t, done, code)
	require.Equal(t, without(out), without(again), "a second load changes nothing")

	code, out, errs = outcome(t, "ask", "--data", dir, "--json", "UM-0612")
	require.Equal(t, done, code, errs)
	var a ledger.Answer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.NotEmpty(t, a.Sent)
	code, _, errs = outcome(t, "ask", "--data", dir, "no-such-thing")
	require.Equal(t, no, code)
	require.Contains(t, errs, "nothing is known")

	label := filepath.Join(dir, "label.pdf")
	code, out, errs = outcome(t, "label", a.Sent[0].LotCode, "--data", dir, "--out", label)
	require.Equal(t, done, code, errs)
	require.Contains(t, out, a.Sent[0].LotCode)
	require.FileExists(t, label)

	code, _, errs = outcome(t, "verify", "--data", filepath.Join(dir, "mistyped"))
	require.Equal(t, no, code)
	require.Contains(t, errs, "there are no records in")

	tamper(t, dir, `update ashbook.dispatch_line set pieces = pieces + 1 where ctid = (select min(ctid) from ashbook.dispatch_line)`)
	code, out, _ = outcome(t, "verify", "--data", dir)
	require.Equal(t, no, code)
	require.Contains(t, out, "table dispatch_line")
}

// without leaves out the seconds that a verification took.
func without(s string) string { return regexp.MustCompile(`\([0-9.]+ s\)`).ReplaceAllString(s, "") }

func tamper(t *testing.T, dir, sql string) {
	t.Helper()
	cluster, err := localpg.Start(t.Context(), localpg.Options{Dir: dir})
	require.NoError(t, err)
	defer func() { require.NoError(t, cluster.Stop(context.Background())) }()
	conn, err := pgx.Connect(t.Context(), cluster.URL(localpg.Owner, "ashbook"))
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close(context.Background())) }()
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err)
}

// A first start prints the one-time password, serves, lets others look in beside it, and ends in order on a signal.
func TestServeStartsAndStops(t *testing.T) {
	dir := folder(t)
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	r, w := io.Pipe()
	var wg sync.WaitGroup
	var code int
	wg.Go(func() {
		code = run(ctx, []string{"serve", "--data", dir, "--database", "", "--listen", "127.0.0.1:0"}, strings.NewReader(""), w, io.Discard)
		_ = w.Close()
	})
	said := make([]byte, 4096)
	var text string
	for !strings.Contains(text, "ashbook is at ") {
		n, err := r.Read(said)
		require.NoError(t, err, text)
		text += string(said[:n])
	}
	go func() { _, _ = io.Copy(io.Discard, r) }()
	require.Contains(t, text, "one-time password")
	address := regexp.MustCompile(`http://\S+`).FindString(text)
	client := http.Client{Timeout: 10 * time.Second}
	answer, err := client.Get(address + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode)

	beside, out, errs := outcome(t, "verify", "--data", dir)
	require.Equal(t, done, beside, errs)
	require.Contains(t, out, "1 entries replayed")
	interrupt()
	wg.Wait()
	require.Equal(t, done, code)
}
