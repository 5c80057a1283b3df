package ledger

import (
	"maps"
	"slices"
)

// What a gate looked at is kept with the entry that passed it, so that months later it is known on which figures and by
// which limits a step was taken, whatever has been put right since.

// seeLye keeps the lye sum with the limits that held.
func seeLye(j *Judgement, lye LyeState, limits LyeLimits) {
	j.see("lye: %s; warns above %s %%, stops above %s %%", lye.Budget.figures(), limits.Warn.Shift(2), limits.Stop.Shift(2))
	j.see("lye: %s g of oils, %s g of alkali as weighed, %s g of water", lye.OilGrams.Round(2), lye.AlkaliGrams.Round(2), lye.WaterGrams.Round(2))
}

// seeTests keeps the last test of each kind.
func seeTests(j *Judgement, readings []Reading) {
	last := lastTests(readings)
	for _, kind := range slices.Sorted(maps.Keys(last)) {
		r := last[kind]
		words := ""
		if r.Words != "" {
			words = ". " + r.Words
		}
		j.see("%s: %s, %s%s", kind, r.result(), passedOrNot(r.Passed), words)
	}
}

func passedOrNot(passed *bool) string {
	switch {
	case passed == nil:
		return "held against no limit"
	case *passed:
		return "passed"
	}
	return "did not pass"
}
