package ledger

import (
	"fmt"

	"ashbook/ledger/assay"
)

// judgeAlkali looks at the last test of each kind. A titration is evidence; a pH alone is weak evidence, which is said; a tongue test is
// kept, but alone it is none.
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
	_, titrated := last[FreeAlkali]
	ph, measured := last[PH]
	switch {
	case titrated:
	case measured:
		j.add(Warn, "ph-only", fmt.Sprintf("pH-only: a weak test of free alkali (%s). A titration of the free alkali decides. %s", ph.result(), ph.Words))
	default:
		j.add(Stop, "alkali-test-missing", "no measured alkali test: record the free alkali or the pH with its method")
	}
	for _, kind := range qualityTests {
		if r, made := last[kind]; made && (r.Passed == nil || !*r.Passed) {
			j.add(Warn, "test-outside-limit", fmt.Sprintf("the last test of the %s (%s) did not pass%s", kind, r.result(), r.because()))
		}
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
