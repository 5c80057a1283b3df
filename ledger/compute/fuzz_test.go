package compute

import (
	"encoding/json"
	"errors"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
)

// aLine is what every line of a refusal looks like: the path of a field, or input, and a text.
var aLine = regexp.MustCompile(`^(input|("[^\n]*"|[a-z0-9_]+)(\.([a-z0-9_]+|"[^\n]*")|\[[0-9]+\])*): \S[^\n]*$`)

// promise is what a calculation holds to, whatever it reads.
type promise struct {
	c              Command
	reads, answers *jsonschema.Schema
}

func promised(t testing.TB, name string) promise {
	c := named(t, name)
	text, err := c.OutputSchema()
	return promise{c, inputSchema(t, name), compiled(t, text, err)}
}

// check holds a calculation to this: it never panics; it answers with JSON that its own schema takes and that so holds no NaN or
// infinity, or each line of its refusal names a field; and what it has answered, the schema of its input takes too.
func (p promise) check(t *testing.T, in string) {
	t.Helper()
	out, err := p.c.Run(strings.NewReader(in))
	if err != nil {
		var w *WrongInput
		require.True(t, errors.As(err, &w), "%v", err)
		for line := range strings.SplitSeq(w.Error(), "\n") {
			require.Regexp(t, aLine, line)
		}
		return
	}
	require.True(t, json.Valid(out))
	require.NoError(t, validate(t, p.answers, string(out)), "%s\n%s", in, out)
	require.NoError(t, validate(t, p.reads, in), in)
}

// scalar is a figure, a text, true, false or null, where it is not the name of a field.
var scalar = regexp.MustCompile(`([:\[,]\s*)("(?:[^"\\]|\\.)*"|-?[0-9.eE+-]+|true|false|null)(\s*[,\]}])`)

// replaced sets the nth scalar of a text.
func replaced(in string, n int, by string) (string, bool) {
	all := scalar.FindAllStringSubmatchIndex(in, -1)
	if n >= len(all) {
		return in, false
	}
	return in[:all[n][4]] + by + in[all[n][5]:], true
}

// extremes are figures at the ends of what is read, and what is no figure.
var extremes = []string{"0", "1", `"0"`, `"1"`, `"1.000000000000"`, "0.000000000001", `"0.999999999999"`, "999999999.999999999999", "-999999999", "20", "1e3", "1e-12", "1e9", "3650",
	"null", "true", `""`, `"2026-01-01"`, `"9999-12-31"`, `"0000-01-01T00:00:00+14:00"`, "[]", "{}", `{"value": 999999999, "u": 999999999}`, `{"value": 0.000000000001, "half": 999999999}`}

// Every scalar of every example, at every extreme.
func TestEveryFigureAtItsExtremes(t *testing.T) {
	for name, in := range examples(t) {
		p := promised(t, calculationOf(name))
		for n := 0; ; n++ {
			if _, there := replaced(in, n, ""); !there {
				require.Positive(t, n)
				break
			}
			for _, by := range extremes {
				changed, _ := replaced(in, n, by)
				p.check(t, changed)
			}
		}
	}
}

func fuzz(f *testing.F, name string) {
	for example, in := range examples(f) {
		if calculationOf(example) == name {
			f.Add(in, uint16(0), "")
			for n, by := range extremes {
				f.Add(in, uint16(n), by)
			}
		}
	}
	for _, in := range []string{"", "{}", "[]", `{"oils": [{"grams": 1e999999999}]}`, `{"a": [[[[[[[[[[[[[[[]]]]]]]]]]]]]]]}`, "\xff", "[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]",
		`[{"a": 1, "a": 2}]`, `{"a": 1}{`, `{"": 1, "\u0000": 2}`} {
		f.Add(in, uint16(0), "")
	}
	p := promised(f, name)
	f.Fuzz(func(t *testing.T, in string, at uint16, by string) {
		if by != "" {
			in, _ = replaced(in, int(at), by)
		}
		p.check(t, in)
	})
}

func FuzzLye(f *testing.F)         { fuzz(f, "lye") }
func FuzzSolution(f *testing.F)    { fuzz(f, "solution") }
func FuzzTitration(f *testing.F)   { fuzz(f, "titration") }
func FuzzCure(f *testing.F)        { fuzz(f, "cure") }
func FuzzComposition(f *testing.F) { fuzz(f, "composition") }
