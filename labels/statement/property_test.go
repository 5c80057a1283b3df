package statement

import (
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawParts invents a batch with few names, so that merging, ties and all flags are common.
func drawParts(t *rapid.T) []Part {
	count := rapid.IntRange(1, 14).Draw(t, "count")
	parts := make([]Part, count)
	for i := range parts {
		name := rapid.SampledFrom([]string{"Alpha", "Beta", "Gamma", "Delta", "delta", "Eps", "Zeta"}).Draw(t, "name")
		kind := rapid.SampledFrom([]string{"", "", "", "", "colour", "scent", "leaves", "within"}).Draw(t, "kind")
		parts[i] = Part{
			Material: fmt.Sprintf("material %d", i), US: name, EU: strings.ToUpper(name),
			Grams:  decimal.New(rapid.Int64Range(0, 3000).Draw(t, "mass"), -rapid.Int32Range(0, 2).Draw(t, "places")),
			Colour: kind == "colour", Scent: kind == "scent", Leaves: kind == "leaves", Within: kind == "within",
			Lots: []string{rapid.SampledFrom([]string{"L1", "L2", "L3"}).Draw(t, "lot")},
		}
	}
	return parts
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		style := rapid.SampledFrom([]Style{US, EU}).Draw(t, "style")
		parts := drawParts(t)
		s, err := Compose(style, parts)
		other, err2 := Compose(style, rapid.Permutation(parts).Draw(t, "shuffled"))
		if err != nil {
			require.ErrorContains(t, err, "nothing to list")
			require.Error(t, err2)
			return
		}
		require.NoError(t, err2)
		require.Equal(t, fmt.Sprint(s), fmt.Sprint(other), "order of the parts does not matter")
		requireConserved(t, s, parts)
		requireOrdered(t, s)
	})
}

// requireConserved checks that no gram is lost and every name is printed once.
func requireConserved(t *rapid.T, s Statement, parts []Part) {
	var total, listed, sum decimal.Decimal
	for _, p := range parts {
		if p.Leaves {
			continue
		}
		listed = listed.Add(p.Grams)
		if !p.Within {
			total = total.Add(p.Grams)
		}
	}
	seen := map[string]bool{}
	for _, l := range s.Lines {
		sum = sum.Add(l.Grams)
		require.False(t, seen[strings.ToLower(l.Name)], "listed twice: %s", l.Name)
		seen[strings.ToLower(l.Name)] = true
		require.NotEmpty(t, l.Materials)
	}
	require.True(t, total.Equal(s.TotalGrams))
	require.True(t, listed.Equal(sum))
}

// requireOrdered checks, with its own arithmetic, that the ordered part falls and that nothing large hides after it.
func requireOrdered(t *rapid.T, s Statement) {
	var before *decimal.Decimal
	for _, l := range s.Lines {
		switch {
		case strings.Contains(l.Why, "by mass"):
			require.True(t, before == nil || before.GreaterThanOrEqual(l.Grams), "%s stands too low", l.Name)
			before = &l.Grams
		case strings.Contains(l.Why, "free order"):
			require.True(t, l.Grams.LessThanOrEqual(s.TotalGrams.Shift(-2)), "%s is above 1 %%", l.Name)
		default:
			require.Contains(t, l.Why, "colour: listed last")
		}
	}
}
