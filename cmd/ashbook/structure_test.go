package main

import (
	"encoding/json"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers lists our packages from the bottom up. A package may import those of lower layers, never one of its own
// layer or above.
var layers = [][]string{
	{"ledger/code", "ledger/measure", "ledger/cure", "ledger/trace", "ledger/localpg", "labels/chart", "migrations", "testdata/demo", "testdata/reference"},
	{"ledger/lye", "ledger/assay"},
	{"ledger/soap"},
	{"ledger/made"},
	{"ledger/compute"},
	{"ledger", "labels/statement"},
	{"ledger/ledgertest", "labels/netcontents", "labels/sheet"},
	{"labels"},
	{"api/host", "api/pages", "api/bench"},
	{"api"},
	{"api/demo"},
	{"cmd/ashbook"},
}

// Some modules are for one place alone.
var only = map[string][]string{
	"github.com/go-chi/chi/v5":         {"api"},
	"github.com/danielgtaylor/huma/v2": {"api"},
	"github.com/alexedwards/scs/v2":    {"api"},
	"github.com/jung-kurt/gofpdf":      {"labels/sheet"},
	"github.com/jackc/tern/v2":         {"ledger"},
	"gonum.org/v1/gonum":               {"ledger/cure"},
	"ashbook/testdata/reference":       {},                // for tests alone
	"net/http":                         {"api", "ledger"}, // the ledger sniffs the type of a document with it
	"github.com/jackc/pgx/v5":          {"api", "api/host", "ledger", "ledger/localpg", "ledger/ledgertest", "api/bench"},
}

// modules are all that may be part of the program. A new one is added here and, with its why, in DEVELOPERS.md.
var modules = []string{
	"github.com/alexedwards/argon2id", "github.com/alexedwards/scs/pgxstore", "github.com/alexedwards/scs/v2",
	"github.com/danielgtaylor/huma/v2", "github.com/go-chi/chi/v5", "go.yaml.in/yaml/v3", "github.com/jackc/pgx/v5", "github.com/jackc/tern/v2",
	"github.com/jung-kurt/gofpdf", "github.com/shopspring/decimal", "golang.org/x/image", "golang.org/x/text", "golang.org/x/sys", "golang.org/x/time", "gonum.org/v1/gonum",
}

type listed struct {
	ImportPath string
	Imports    []string
	Module     *struct {
		Path     string
		Indirect bool
	}
}

func list(t *testing.T, args ...string) (packages []listed) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "go", append([]string{"list", "-json=ImportPath,Imports,Module"}, args...)...).Output()
	require.NoError(t, err)
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := dec.Decode(&p)
		if err == io.EOF {
			return packages
		}
		require.NoError(t, err)
		packages = append(packages, p)
	}
}

func layerOf(path string) int {
	return slices.IndexFunc(layers, func(l []string) bool { return slices.Contains(l, path) })
}

func TestImportsPointDown(t *testing.T) {
	for _, p := range list(t, "ashbook/...") {
		from := strings.TrimPrefix(p.ImportPath, "ashbook/")
		at := layerOf(from)
		require.GreaterOrEqual(t, at, 0, "%s has no place in the layers; give it one here and in DEVELOPERS.md", from)
		for _, i := range p.Imports {
			if to, ours := strings.CutPrefix(i, "ashbook/"); ours {
				require.Less(t, layerOf(to), at, "%s imports %s, which does not lie below it", from, to)
			}
			for module, where := range only {
				if i == module || strings.HasPrefix(i, module+"/") {
					require.Contains(t, where, from, "%s is not for %s", module, from)
				}
			}
		}
	}
}

func TestOnlyChosenModules(t *testing.T) {
	for _, p := range list(t, "-deps", "ashbook/cmd/ashbook") {
		if p.Module != nil && !p.Module.Indirect && p.Module.Path != "ashbook" {
			require.Contains(t, modules, p.Module.Path, "%s brings a module that nobody chose", p.ImportPath)
		}
	}
}

func TestNoRoomForAnything(t *testing.T) {
	for _, p := range list(t, "ashbook/...") {
		last := p.ImportPath[strings.LastIndex(p.ImportPath, "/")+1:]
		require.NotContains(t, []string{"util", "utils", "common", "helpers", "models", "types"}, last)
	}
}
