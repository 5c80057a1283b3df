package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const root = "../.."

// said is what a compute command prints, by its words as typed at the root of the repository.
func said(t *testing.T, stdin string, words ...string) (int, string, string) {
	t.Helper()
	if last := words[len(words)-1]; strings.HasPrefix(last, "testdata/") {
		words[len(words)-1] = filepath.Join(root, last)
	}
	t.Setenv("DATABASE_URL", "postgres://nowhere.invalid/none") // which it must not need
	var out, errs bytes.Buffer
	code := run(t.Context(), words, strings.NewReader(stdin), &out, &errs)
	return code, out.String(), errs.String()
}

var console = regexp.MustCompile("(?s)```console\n\\$ (?:echo '([^']*)' \\| )?ashbook (compute [^\n]*)\n(.*?)```")

// The examples of the README are what the program prints. A line with … stands for lines that are left out.
func TestReadmeExamples(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	blocks := console.FindAllStringSubmatch(string(readme), -1)
	seen := map[string]bool{}
	for _, b := range blocks {
		words := strings.Fields(b[2])
		code, out, errs := said(t, b[1], words...)
		require.Equal(t, b[1] == "", code == done, b[2])
		rest := "\n" + out + errs
		for part := range strings.SplitSeq("\n"+b[3], "\n…") {
			part = strings.TrimSuffix(part, "\n")
			at := strings.Index(rest+"\n", part+"\n")
			require.GreaterOrEqual(t, at, 0, "%s does not print, or not in this order:%s\nbut\n%s", b[2], part, out+errs)
			rest = rest[at+len(part):]
		}
		seen[words[1]] = true
	}
	require.Len(t, seen, 5, "each calculation has an example")
}

func TestComputeExitCodes(t *testing.T) {
	const file = "testdata/compute/solution-twaddell-1908.json"
	code, out, errs := said(t, "", "compute", "solution", file)
	require.Equal(t, done, code, errs)
	require.Empty(t, errs)
	require.True(t, json.Valid([]byte(out)))
	in, err := os.ReadFile(filepath.Join(root, file))
	require.NoError(t, err)
	_, piped, _ := said(t, string(in), "compute", "solution", "-")
	require.Equal(t, out, piped)

	code, out, errs = said(t, `{"alkali": "LiOH"}`, "compute", "solution", "-")
	require.Equal(t, wrongUse, code)
	require.Empty(t, out)
	require.Equal(t, "compute solution: alkali: \"LiOH\" is not known; give one of NaOH, KOH\ncompute solution: by_mass: missing; give by_mass, or by_density, or by_mass and by_density\n", errs)

	code, _, errs = said(t, "", "compute", "solution", "testdata/compute/none.json")
	require.Equal(t, no, code)
	require.Contains(t, errs, "none.json")
	for _, words := range [][]string{{"compute"}, {"compute", "bread", "-"}, {"compute", "lye"}, {"compute", "lye", "a", "b"}, {"compute", "lye", "-", "--database", "x"}} {
		code, _, errs = said(t, "", words...)
		require.Equal(t, wrongUse, code, words)
		require.NotEmpty(t, errs, words)
	}
	for _, flag := range []string{"--schema", "--output-schema"} {
		code, out, errs = said(t, "", "compute", "lye", flag)
		require.Equal(t, done, code, errs)
		require.Contains(t, out, "https://json-schema.org/draft/2020-12/schema")
	}
}
