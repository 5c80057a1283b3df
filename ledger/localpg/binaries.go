package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// oldestMajor is the oldest PostgreSQL that ashbook's SQL is written for.
const oldestMajor = 14

// binaries is one installed PostgreSQL server.
type binaries struct {
	dir   string // holds initdb and postgres
	major int
}

func (b binaries) initdb() string   { return filepath.Join(b.dir, "initdb") }
func (b binaries) postgres() string { return filepath.Join(b.dir, "postgres") }
func (b binaries) String() string   { return fmt.Sprintf("%d in %s", b.major, b.dir) }

// binaryGlobs are where packages put the server's programs: Debian and
// Ubuntu (also Alpine, Arch and Fedora, which have them on the PATH), the
// PostgreSQL project's RPMs, a build from source, Homebrew on either chip.
var binaryGlobs = []string{
	"/usr/lib/postgresql/*/bin",
	"/usr/libexec/postgresql*",
	"/usr/pgsql-*/bin",
	"/usr/local/pgsql/bin",
	"/opt/homebrew/opt/postgresql@*/bin",
	"/usr/local/opt/postgresql@*/bin",
}

// clusterMajor reads which version the cluster in data was made by; "" means
// that there is no cluster yet. A folder without a readable PG_VERSION is an
// error and not an absent cluster: it may be a disk that is not mounted.
func clusterMajor(data string) (string, error) {
	if _, err := os.Lstat(data); errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	text, err := os.ReadFile(filepath.Join(data, "PG_VERSION"))
	if err != nil {
		return "", fmt.Errorf("the folder %s does not look like a PostgreSQL cluster: %w; "+
			"if it lies on a disk that is not mounted, mount it; if nothing in it is needed, "+
			"move it away and ashbook makes a new one", data, err)
	}
	return strings.TrimSpace(string(text)), nil
}

// chooseBinaries picks the programs for a cluster of the given major version,
// or for a new cluster when major is "". Only the same major version can read
// a cluster's files.
func chooseBinaries(ctx context.Context, major, data string) (binaries, error) {
	found := installed(ctx, candidateDirs())
	if bin, ok := pick(found, major); ok {
		return bin, nil
	}
	list := "none was found"
	if len(found) > 0 {
		names := make([]string, len(found))
		for i, b := range found {
			names[i] = b.String()
		}
		list = "found: " + strings.Join(names, ", ")
	}
	if major == "" {
		return binaries{}, fmt.Errorf("no PostgreSQL server of version %d or newer is installed (%s); "+
			"install one (Debian, Ubuntu: apt-get install postgresql; Fedora: dnf install postgresql-server; "+
			"macOS: brew install postgresql@17) or name a server in DATABASE_URL", oldestMajor, list)
	}
	return binaries{}, fmt.Errorf("the cluster in %s was made by PostgreSQL %s and only that version can open it (%s); "+
		"install PostgreSQL %s, or dump the records on a machine that has it and restore them into a new data folder",
		data, major, list, major)
}

func pick(found []binaries, major string) (binaries, bool) {
	for _, b := range found {
		if major == strconv.Itoa(b.major) || (major == "" && b.major >= oldestMajor) {
			return b, true
		}
	}
	return binaries{}, false
}

// candidateDirs lists folders that hold both programs: the PATH first, since
// that is what the user chose, then each known place, newest version first.
func candidateDirs() []string {
	dirs := filepath.SplitList(os.Getenv("PATH"))
	for _, glob := range binaryGlobs {
		hits, _ := filepath.Glob(glob) // errs only on a bad pattern
		slices.SortFunc(hits, func(a, b string) int { return numberIn(b) - numberIn(a) })
		dirs = append(dirs, hits...)
	}
	var full []string
	for _, dir := range dirs {
		// A link on the PATH is followed: the server finds its other files
		// relative to the real folder.
		real, err := filepath.EvalSymlinks(filepath.Join(dir, "initdb"))
		if err != nil || !filepath.IsAbs(real) {
			continue
		}
		dir = filepath.Dir(real)
		if _, err := exec.LookPath(filepath.Join(dir, "postgres")); err == nil && !slices.Contains(full, dir) {
			full = append(full, dir)
		}
	}
	return full
}

var digits = regexp.MustCompile(`\d+`)

func numberIn(path string) int {
	n, _ := strconv.Atoi(digits.FindString(path)) // no number sorts last
	return n
}

// installed asks the server in each folder for its version; a program that
// does not answer as PostgreSQL does is left out.
func installed(ctx context.Context, dirs []string) []binaries {
	var found []binaries
	for _, dir := range dirs {
		out, err := exec.CommandContext(ctx, filepath.Join(dir, "postgres"), "--version").Output()
		if err != nil || !strings.HasPrefix(string(out), "postgres (PostgreSQL) ") {
			continue
		}
		if n := numberIn(string(out)); n > 0 {
			found = append(found, binaries{dir: dir, major: n})
		}
	}
	return found
}
