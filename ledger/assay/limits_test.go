package assay

import (
	"math"
	"slices"
	"strings"
	"testing"

	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func caustic(value string, u float64) Result {
	return Result{Test: FreeCaustic, Method: EthanolMethod, Value: d(value), U: u, Unit: Percent, As: NaOH}
}

func TestJudge(t *testing.T) {
	limit := DefaultFreeCaustic()
	require.Equal(t, "0.05", limit.Percent.String())
	require.Contains(t, limit.Mark, "from memory")
	for _, v := range []struct {
		value   string
		u       float64
		verdict Verdict
		text    string
	}{
		{"0", 0.002, Pass, "pass"}, {"0.045", 0.002, Pass, "pass"}, {"0.046", 0.002, Pass, "pass"},
		{"0.047", 0.002, TooClose, "larger sample"}, {"0.054", 0.002, TooClose, "too close to call"}, {"0.055", 0.002, Fail, "fail"},
		{"0.05", 0, Pass, "no uncertainty was stated"}, {"0.051", 0, Fail, "no uncertainty was stated"},
	} {
		j, err := Judge(caustic(v.value, v.u), limit)
		require.NoError(t, err)
		require.Equal(t, v.verdict, j.Verdict, "%s ± %g", v.value, v.u)
		require.Contains(t, j.Text, v.text)
		require.Contains(t, j.Text, "from memory (medium)")
	}
	grade := Limits()[slices.IndexFunc(Limits(), func(l Limit) bool { return l.Name == "toilet soap, grade 1" })]
	for value, verdict := range map[string]Verdict{"77": Pass, "76.5": TooClose, "75.5": TooClose, "74.9": Fail} {
		j, err := Judge(Result{Test: FattyMatter, Value: d(value), U: 0.5, Unit: Percent}, grade)
		require.NoError(t, err)
		require.Equal(t, verdict, j.Verdict, value)
		require.Contains(t, j.Text, "at least 76 %")
	}
}

// 0.0700 % as KOH is 0.0499 % as NaOH: the limit is kept, though the figure is above it.
func TestJudgeRestates(t *testing.T) {
	r := caustic("0.0700", 0)
	r.As, r.Method = KOH, BariumMethod
	j, err := Judge(r, DefaultFreeCaustic())
	require.NoError(t, err)
	require.Equal(t, Pass, j.Verdict)
	require.Equal(t, NaOH, j.Result.As)
	reference.Within(t, d("0.0499"), j.Result.Value, d("0.00005"))
}

func TestJudgeRefusals(t *testing.T) {
	moisture := Result{Test: Moisture, Value: d("10"), Unit: Percent}
	free, err := caustic("0.04", 0).MillimolesPerGram()
	require.NoError(t, err)
	carbonate := Result{Test: FreeCaustic, Value: d("0.04"), Unit: Percent, As: "Na2CO3"}
	for _, r := range []Result{moisture, free, carbonate, caustic("0.06", -0.01), caustic("0.06", math.NaN())} {
		_, err := Judge(r, DefaultFreeCaustic())
		require.ErrorIs(t, err, ErrInput)
	}
}

// No verdict depends on which way round a limit is written, and exactly one side of the interval decides.
func TestVerdictsMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := decimal.New(int64(rapid.IntRange(-100, 100).Draw(t, "low")), -2)
		high := low.Add(decimal.New(int64(rapid.IntRange(0, 100).Draw(t, "width")), -2))
		limit := Limit{Percent: decimal.New(int64(rapid.IntRange(-100, 100).Draw(t, "limit")), -2)}
		most := verdictOf(low, high, limit)
		require.Equal(t, most == Pass, high.LessThanOrEqual(limit.Percent))
		require.Equal(t, most == Fail, low.GreaterThan(limit.Percent))
		limit.AtLeast = true
		least := verdictOf(low, high, limit)
		require.Equal(t, least == Pass, low.GreaterThanOrEqual(limit.Percent))
		require.Equal(t, least == Fail, high.LessThan(limit.Percent))
	})
}

// Every limit and every method says where it is from and how well it is known, and every test has a method.
func TestTablesAreComplete(t *testing.T) {
	marks := []string{Retrieved, Secondary, Derived, MemoryHigh, MemoryMedium, MemoryLow}
	tests := map[Test]bool{}
	for _, m := range Methods() {
		require.Contains(t, marks, m.Mark, m.Method)
		require.NotEmpty(t, m.Standard, m.Method)
		require.NotEmpty(t, m.Formula, m.Method)
		require.NotEmpty(t, m.Note, m.Method)
		for _, test := range m.Tests {
			tests[test] = true
		}
	}
	require.Len(t, tests, 10)
	for _, l := range Limits() {
		require.Contains(t, marks, l.Mark)
		require.NotEmpty(t, l.Source)
		require.True(t, tests[l.Test], "%s", l)
		require.True(t, l.Percent.IsPositive())
	}
	require.Contains(t, strings.Join(Notes(), "\n"), "always goes pink")
}

// 0.05 % free NaOH alone shows pH 10.10 in a 1 % solution and 11.10 in 10 %, 0.5 % shows 11.10 and 12.10: computed beforehand in
// the reference notes.
func TestAlkaliPH(t *testing.T) {
	for _, v := range [][3]string{{"0.05", "1", "10.10"}, {"0.05", "10", "11.10"}, {"0.5", "1", "11.10"}, {"0.5", "10", "12.10"}} {
		got, err := AlkaliPH(d(v[0]), d(v[1]))
		require.NoError(t, err)
		require.Equal(t, v[2], got.StringFixed(2), "%s %% in %s %%", v[0], v[1])
	}
	for _, v := range [][2]string{{"0", "1"}, {"101", "1"}, {"0.05", "0"}, {"0.05", "101"}} {
		_, err := AlkaliPH(d(v[0]), d(v[1]))
		require.ErrorIs(t, err, ErrInput)
	}
}

// The published readings of chemistry notes: bathing soap in India 9 to 10, on sale in Zambia up to 12.2, and what is no soap.
func TestLookAtPH(t *testing.T) {
	for ph, stand := range map[string]PHStand{"8.9": BelowSoap, "9": LikeSoap, "10": LikeSoap, "10.5": LikeSoap, "10.6": AboveSoap, "12.2": AboveSoap, "7": BelowSoap} {
		look, err := LookAtPH(PHReading{d(ph), d("1"), d("25"), false})
		require.NoError(t, err)
		require.Equal(t, stand, look.Stand, ph)
		require.Equal(t, "10.10", look.HiddenAlkali.StringFixed(2))
		require.Len(t, look.Texts, 2)
	}
	look, err := LookAtPH(PHReading{d("10"), d("20"), d("40"), true})
	require.NoError(t, err)
	require.Len(t, look.Texts, 5, "a strip, warm, and an unusual dilution")
	for _, v := range []PHReading{
		{d("14.1"), d("1"), d("25"), false}, {d("-1"), d("1"), d("25"), false}, {d("10"), d("0"), d("25"), false},
		{d("10"), d("101"), d("25"), false}, {d("10"), d("1"), d("61"), false}, {d("10"), d("1"), d("-1"), false},
	} {
		_, err := LookAtPH(v)
		require.ErrorIs(t, err, ErrInput, "%v", v)
	}
}
