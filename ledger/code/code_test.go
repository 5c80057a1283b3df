package code

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func day(year, yearDay int) time.Time {
	return time.Date(year, time.January, yearDay, 12, 0, 0, 0, time.UTC)
}

func TestCheckCharacterAgainstPublishedVectors(t *testing.T) {
	for _, v := range []struct{ text, check, source string }{
		{"G123498654321", "H", "UK blood services' Red Book, annex 2, worked example of the ISO 7064 mod 37,2 of a donation number"},
		{"261472", "8", "computed beforehand with another implementation, MOD 37-2 vector"},
		{"26147B", "R", "computed beforehand with another implementation, MOD 37-2 vector"},
		{"263311", "A", "computed beforehand with another implementation, MOD 37-2 vector"},
	} {
		got, err := CheckCharacter(v.text)
		require.NoError(t, err)
		require.Equal(t, v.check, string(got), "%s: %s", v.text, v.source)
	}
}

func TestCheckCharacterRefusesOtherSigns(t *testing.T) {
	for _, s := range []string{"", "B26147-2", "b261472", "26*", "26 1", "É1"} {
		_, err := CheckCharacter(s)
		require.Error(t, err, "%q", s)
	}
}

// The weighted-sum form of the standard: sum of value × 2^(position from the right), check included
// with position 0, is 1 modulo 37. It is worked out here without the recursive form that the package uses.
func TestCheckCharacterSatisfiesTheCongruence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9A-Z]{1,20}`).Draw(t, "text")
		check, err := CheckCharacter(s)
		require.NoError(t, err)
		full, sum, weight := s+string(check), 0, 1
		for i := len(full) - 1; i >= 0; i-- {
			sum += strings.IndexByte(signs, full[i]) * weight
			weight = weight * 2 % 37
		}
		require.Equal(t, 1, sum%37)
	})
}

func TestNewCountsUsableSerials(t *testing.T) {
	seen := map[Code]bool{}
	for n := 1; n <= 900; n++ {
		c, err := New(Batch, day(2026, 147), n)
		require.NoError(t, err)
		require.False(t, seen[c], "%s twice", c)
		seen[c] = true
		require.NotContains(t, string(c)[7:], "*")
		require.False(t, strings.ContainsAny(string(c), "ILOU"), "%s", c)
		require.Equal(t, Batch, c.Kind())
		require.Equal(t, "2026-05-27", c.Day().Format(time.DateOnly))
		again, err := Parse(c.String())
		require.NoError(t, err)
		require.Equal(t, c, again)
	}
	first, err := New(Batch, day(2026, 147), 1)
	require.NoError(t, err)
	require.Equal(t, Code("B26147-18"), first, "the example in the documentation")
}

func TestSerialsAreInOrder(t *testing.T) {
	for i, want := range map[int]string{1: "1", 9: "9", 10: "A", 18: "J", 31: "Z", 32: "11", 62: "1Z", 63: "21", 992: "ZZ", 993: "111", 30783: "ZZZ", 30784: "1111"} {
		require.Equal(t, want, serial(i), "serial %d", i)
	}
}

func TestNewRefuses(t *testing.T) {
	for _, v := range []struct {
		kind Kind
		day  time.Time
		n    int
	}{
		{'X', day(2026, 1), 1}, {0, day(2026, 1), 1}, {Batch, day(1999, 1), 1}, {Batch, day(2100, 1), 1},
		{Batch, day(2026, 1), 0}, {Batch, day(2026, 1), -3}, {Batch, day(2026, 1), 30784},
	} {
		c, err := New(v.kind, v.day, v.n)
		require.Error(t, err)
		require.Empty(t, c)
	}
}

func TestNewTakesTheDayInItsOwnZone(t *testing.T) {
	late := time.Date(2026, time.May, 27, 23, 30, 0, 0, time.FixedZone("west", -7*3600))
	c, err := New(Bars, late, 1)
	require.NoError(t, err)
	require.Equal(t, "S26147", string(c[:6]))
}

func TestParseIsTolerant(t *testing.T) {
	// 2026-11-01 is day 305: the digits hold a 0 to be typed as O, the serial is the 1 to be typed as I or L.
	want, err := New(Prepared, day(2026, 305), 1)
	require.NoError(t, err)
	last := string(want[8:])
	require.Equal(t, "P26305-1", string(want[:8]))
	for _, s := range []string{
		"P26305-1" + last, "p26305-1" + strings.ToLower(last), "P263051" + last, " P 26 305 1 " + last,
		"p263O5-l" + last, "P263o5–I" + last, "P26305\u22121" + last, "P26305 i" + last + "\n",
	} {
		got, err := Parse(s)
		require.NoError(t, err, "%q", s)
		require.Equal(t, want, got, "%q", s)
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	for s, want := range map[string]error{
		"":                       ErrShape,
		"B26147":                 ErrShape,
		"26147-1X":               ErrShape,
		"X26147-1X":              ErrShape,
		"B2614A-1X":              ErrShape,
		"B26147-UX":              ErrShape,
		"B26147-1U":              ErrShape,
		"B26147-1*":              ErrShape,
		"B26147-0X":              ErrShape,
		"B26147-11111X":          ErrShape,
		"B26147/18":              ErrShape,
		strings.Repeat("B", 500): ErrShape,
		"B26000-1X":              ErrDate,
		"B26366-1X":              ErrDate, // 2026 has 365 days
		"B26999-1X":              ErrDate,
		"B26147-1Y":              ErrCheck,
		"B26174-18":              ErrCheck,
	} {
		got, err := Parse(s)
		require.ErrorIs(t, err, want, "%q", s)
		require.Empty(t, got)
	}
	leap, err := New(Batch, day(2028, 366), 1)
	require.NoError(t, err)
	_, err = Parse(string(leap))
	require.NoError(t, err, "2028 is a leap year")
}

// sample holds codes of each kind over days and serial lengths.
func sample(t *testing.T) []Code {
	var out []Code
	for _, k := range []Kind{Batch, Material, Prepared, Bars, Remnants, Dispatch} {
		for _, d := range []time.Time{day(2026, 1), day(2026, 147), day(2027, 110), day(2028, 366), day(2030, 209)} {
			for _, n := range []int{1, 2, 9, 20, 27, 28, 300, 900, 2000} {
				c, err := New(k, d, n)
				require.NoError(t, err)
				out = append(out, c)
			}
		}
	}
	return out
}

func TestEverySubstitutionIsFoundOrHarmless(t *testing.T) {
	for _, c := range sample(t) {
		text := strings.ReplaceAll(string(c), "-", "")
		substitutions(text, func(wrong []byte) {
			if got, err := Parse(string(wrong)); err == nil {
				require.Equal(t, c, got, "%s read from %s", got, wrong) // same text, or I, L, O for 1, 1, 0
			}
		})
	}
}

func TestEverySwapIsFound(t *testing.T) {
	for _, c := range sample(t) {
		text := strings.ReplaceAll(string(c), "-", "")
		for distance := 1; distance <= 2; distance++ {
			swaps(text, distance, func(wrong []byte) {
				if got, err := Parse(string(wrong)); err == nil {
					require.Equal(t, text, string(wrong), "%s read from %s", got, wrong) // equal characters swapped
				}
			})
		}
	}
}

func TestNearFindsTheCodeThatWasMeant(t *testing.T) {
	for _, c := range sample(t)[:60] {
		text := strings.ReplaceAll(string(c), "-", "")
		mustFind := func(wrong []byte) {
			if _, err := Parse(string(wrong)); err != nil {
				require.Contains(t, Near(string(wrong)), c, "from %s", wrong)
			}
		}
		swaps(text, 1, mustFind)
		swaps(text, 2, mustFind)
		substitutions(text, func(wrong []byte) {
			if !strings.ContainsAny(string(wrong), "ILO") { // those are read as digits first
				mustFind(wrong)
			}
		})
	}
}

func TestNearOffersOnlyGoodCodesAndPutsTheSwapFirst(t *testing.T) {
	got := Near("B21647-18") // 1 and 6 swapped
	require.NotEmpty(t, got)
	require.Equal(t, Code("B26147-18"), got[0])
	for _, c := range got {
		parsed, err := Parse(string(c))
		require.NoError(t, err)
		require.Equal(t, c, parsed)
	}
	require.Nil(t, Near("B26147-18"), "a good code")
	require.Nil(t, Near("B26147"), "too short")
	require.Nil(t, Near(strings.Repeat("B26147-18", 90)), "too long")
}

func TestZeroValuesForTextThatIsNoCode(t *testing.T) {
	for _, c := range []Code{"", "B26147-1Y", "b26147-18", "B2614718", "B26366-1X"} {
		require.Zero(t, c.Kind(), "%q", c)
		require.True(t, c.Day().IsZero(), "%q", c)
	}
	require.Equal(t, "unknown kind", Kind('X').String())
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"B26147-18", "p263o5-l8", "", "B26147–18", "S26001-ZZZ9", "B2６147-1X", "B26147-1*"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := Parse(s)
		near := Near(s)
		if err != nil {
			require.Empty(t, c)
			return
		}
		require.Nil(t, near)
		again, err := Parse(string(c))
		require.NoError(t, err)
		require.Equal(t, c, again)
		require.True(t, c.Kind().known())
		require.False(t, c.Day().IsZero())
	})
}
