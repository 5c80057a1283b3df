package localpg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// unfinished is the name under which a cluster is made. The finished cluster
// is renamed to its place in one step, so whatever bears this name has never
// held a record.
const unfinished = "postgres.unfinished-"

// createCluster makes a new cluster at data. A crash before the rename leaves
// only an unfinished folder, which the next start clears away.
func createCluster(ctx context.Context, o Options, bin binaries, who account, data string) error {
	clearUnfinished(o)
	o.Logger.Info("making a new database cluster", "folder", data, "postgresql", bin.major)
	made, err := initWithLocale(ctx, o, bin, who, "C.UTF-8")
	if errors.Is(err, errNoLocale) {
		made, err = initWithLocale(ctx, o, bin, who, "C")
	}
	if err != nil {
		return err
	}
	if !o.Throwaway {
		if err := runInitdb(ctx, o, bin, who, "--sync-only", "-D", made); err != nil {
			return fmt.Errorf("write the new cluster to disk: %w", err)
		}
	}
	if err := os.Rename(made, data); err != nil {
		return fmt.Errorf("put the new cluster in its place: %w", err)
	}
	return syncFolder(o.Dir)
}

// clearUnfinished removes what a crash in createCluster left. What cannot be
// removed does no harm, since each attempt has a name of its own.
func clearUnfinished(o Options) {
	left, _ := filepath.Glob(filepath.Join(quoteGlob(o.Dir), unfinished+"*")) // errs only on a bad pattern
	for _, path := range left {
		if err := os.RemoveAll(path); err != nil {
			o.Logger.Warn("could not remove an unfinished cluster", "folder", path, "error", err)
		}
	}
}

func quoteGlob(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}

// initWithLocale runs initdb in a fresh folder and returns the folder.
func initWithLocale(ctx context.Context, o Options, bin binaries, who account, locale string) (string, error) {
	made, err := os.MkdirTemp(o.Dir, unfinished)
	if err != nil {
		return "", fmt.Errorf("make a folder for the new cluster: %w", err)
	}
	if err := who.give(made); err != nil {
		return "", err
	}
	// --no-sync: createCluster syncs once, when all is there.
	err = runInitdb(ctx, o, bin, who, "-D", made, "-U", Owner, "--encoding=UTF8", "--locale="+locale,
		"--auth-local=trust", "--auth-host=reject", "--data-checksums", "--no-instructions", "--no-sync")
	if err != nil {
		_ = os.RemoveAll(made)
		return "", err
	}
	return made, nil
}

// errNoLocale says that the system lacks the locale asked for; C is built in.
var errNoLocale = errors.New("the locale is not installed")

func runInitdb(ctx context.Context, o Options, bin binaries, who account, args ...string) error {
	cmd := who.command(ctx, o.Dir, bin.initdb(), args...)
	dieWithParent(cmd, syscall.SIGKILL) // a half-made cluster is worth nothing
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	err := runTied(cmd)
	if err == nil {
		return nil
	}
	if strings.Contains(said.String(), "invalid locale name") {
		return errNoLocale
	}
	return fmt.Errorf("%s in %s failed: %w: %s", bin.initdb(), o.Dir, err, lastLines(said.String(), 5))
}

// syncFolder makes a rename inside dir outlive a power cut.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("write %s to disk: %w", dir, err)
	}
	defer func() { _ = f.Close() }()
	if err := f.Sync(); err != nil {
		return fmt.Errorf("write %s to disk: %w", dir, err)
	}
	return nil
}

// lastLines joins the last n lines of text into one.
func lastLines(text string, n int) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], " | ")
}
