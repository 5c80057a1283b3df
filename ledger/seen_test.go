package ledger_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// A clean passing leaves the figures that it rested on, and a later correction does not change them: superfat and chance by the sum at
// TestCombineGateLooksAtTheLye (145.1 g leave 1 - 145.1 × 0.98 / 149.67078 = 5.0 %), temperatures, cure and test.
func TestWhatAGateLookedAtIsKept(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, _ := w.released()
	steps, err := w.l.Steps(t.Context(), b.ID)
	require.NoError(t, err)
	combine := func(list []ledger.BatchStep) []string {
		for _, s := range list {
			if s.Step == ledger.StepCombine {
				return s.Seen
			}
		}
		return nil
	}
	was := combine(steps)
	require.Contains(t, was, "the oil temperature: 42 °C, the formula asks for 30 to 50 °C")
	require.Contains(t, was[0], "superfat 5.0 %, 95 % sure that it lies between")
	require.Contains(t, was[0], "chance of lye-heavy soap below 0.1 %; warns above 5 %, stops above 20 %")
	releases, err := w.l.Releases(t.Context(), b.ID)
	require.NoError(t, err)
	seen := releases[0].Seen
	all := strings.Join(seen, "\n")
	require.Contains(t, all, "cure: ")
	require.Contains(t, all, "free alkali: 0.02")
	require.Contains(t, all, "superfat 5.0 %")

	w.corrected(w.entryOf(b.ID, w.oliveLot), &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("710")})
	steps, err = w.l.Steps(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, was, combine(steps))
	w.verify()
}
