package ledger

import (
	"fmt"

	"ashbook/ledger/assay"
)

// judgeAlkali looks at the last test of each kind. Free alkali in per cent is evidence; a pH alone is too weak, and a tongue test is none.
func judgeAlkali(j *Judgement, readings []Reading) {
	last := lastTests(readings)
	for _, kind := range []string{FreeAlkali, PH, AlkaliTongueTest} {
		r, made := last[kind]
		switch {
		case made && r.Verdict == string(assay.TooClose):
			j.add(Stop, "alkali-too-close", fmt.Sprintf("the last %s is too close to its limit to call: %s", kind, r.Words))
		case made && !*r.Passed:
			j.add(Stop, "alkali-test-failed", fmt.Sprintf("the last %s (%s) did not pass%s", kind, r.result(), r.because()))
		}
	}
	judgePH(j, last)
	for _, kind := range qualityTests {
		if r, made := last[kind]; made && (r.Passed == nil || !*r.Passed) {
			j.add(Warn, "test-outside-limit", fmt.Sprintf("the last test of the %s (%s) did not pass%s", kind, r.result(), r.because()))
		}
	}
}

// judgePH stops where a pH is all there is, and where it is above what soap shows though somebody passed it.
func judgePH(j *Judgement, last map[string]Reading) {
	_, titrated := last[FreeAlkali]
	ph, measured := last[PH]
	switch {
	case !titrated && !measured:
		j.add(Stop, "alkali-test-missing", "no measured alkali test: record the free alkali with its method")
	case !titrated:
		j.add(Stop, "ph-only", fmt.Sprintf("pH-only: a weak test of free alkali (%s). %s Record a titration of the free alkali, or say why this is enough.", ph.result(), assay.HiddenFromPH()))
	}
	if most := assay.HighestSoapPH(); measured && *ph.Passed && ph.Value.GreaterThan(most) {
		j.add(Stop, "ph-too-high", fmt.Sprintf("the last pH (%s) was passed, but soap itself shows no more than %s: look for free alkali with a titration, "+
			"and measure the pH again", ph.result(), most))
	}
}

// lastTests are the last standing tests by kind, of those that say whether something passed.
func lastTests(readings []Reading) map[string]Reading {
	last := map[string]Reading{}
	for _, r := range readings {
		if r.StruckBy == nil && (r.Passed != nil || r.Verdict == string(assay.TooClose)) {
			last[r.Type] = r
		}
	}
	return last
}

// result is the figure of a test with its method.
func (r Reading) result() string {
	unit := r.TypedUnit
	if unit != "" {
		unit = " " + unit
	}
	return fmt.Sprintf("%s%s by %s", r.Typed, unit, r.Method)
}

// because is what a verdict that was worked out rests on.
func (r Reading) because() string {
	if r.Words == "" {
		return ""
	}
	return ": " + r.Words
}
