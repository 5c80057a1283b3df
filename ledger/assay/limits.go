package assay

import (
	"fmt"

	"github.com/shopspring/decimal"
)

// Limit is what a result in per cent is held against.
type Limit struct {
	Name    string
	Test    Test
	Percent decimal.Decimal
	AtLeast bool   // the result has to be this high; otherwise it may be no higher
	As      string // as Result.As
	Source  string
	Mark    string // how well it is known
}

func (l Limit) String() string {
	bound := "at most"
	if l.AtLeast {
		bound = "at least"
	}
	text := fmt.Sprintf("%s %s %s %%", l.Test, bound, l.Percent)
	if l.As != "" {
		text += " as " + l.As
	}
	return text
}

// DefaultFreeCaustic is the limit for a shop that has set none: 0.05 % as NaOH. It is that of milled toilet soap; a cured
// bar with a superfat should hold none at all.
func DefaultFreeCaustic() Limit { return limits()[0] }

// Limits lists published limits, to choose from: the limit that the shop has set decides, and the law of the place goes before
// both. None of the national standards was seen in full. They are for milled soap, whose water and fat differ from those of
// cold-process bars.
func Limits() []Limit { return limits() }

func limits() []Limit {
	of := decimal.RequireFromString
	const grades = "Indian Standard IS 2888:2004, by secondary texts"
	const usp = "USP-NF monograph"
	return []Limit{
		{"toilet soap", FreeCaustic, of("0.05"), false, NaOH, "Indian Standard IS 2888", MemoryMedium},
		{"toilet soap, East Africa", FreeCaustic, of("0.05"), false, NaOH, "East African Standard EAS 186", MemoryLow},
		{"toilet soap, East Africa", Chloride, of("1"), false, "NaCl", "East African Standard EAS 186: about", MemoryLow},
		{"toilet soap, grade 1", FattyMatter, of("76"), true, "", grades, Secondary},
		{"toilet soap, grade 2", FattyMatter, of("70"), true, "", grades, Secondary},
		{"toilet soap, grade 3", FattyMatter, of("60"), true, "", grades, Secondary},
		{"bathing bar", FattyMatter, of("40"), true, "", "Indian Standard IS 13498:1997, by secondary texts", Secondary},
		{"sodium hydroxide", LyeTotalAlkali, of("95.0"), true, NaOH, usp, Retrieved},
		{"sodium hydroxide", LyeTotalAlkali, of("100.5"), false, NaOH, usp, Retrieved},
		{"sodium hydroxide", LyeCarbonate, of("3.0"), false, "Na2CO3", usp, Retrieved},
		{"potassium hydroxide", LyeTotalAlkali, of("85.0"), true, KOH, usp, Retrieved},
		{"potassium hydroxide", LyeCarbonate, of("3.5"), false, "K2CO3", usp, Retrieved},
	}
}

// Verdict is how a result stands to a limit.
type Verdict string

// The verdicts.
const (
	Pass     Verdict = "pass"              // the whole 95 % interval keeps the limit
	Fail     Verdict = "fail"              // all of it breaks the limit
	TooClose Verdict = "too close to call" // the limit lies inside it
)

// Judgement is a result held against a limit, the result stated as the limit is.
type Judgement struct {
	Result    Result
	Limit     Limit
	Low, High decimal.Decimal // the 95 % interval
	Verdict   Verdict
	Text      string
}

// Judge holds a result against a limit by the 95 % interval of the result, two standard uncertainties to each side. A result
// without an uncertainty is judged by its value alone, and the text says so. Alkali is restated as the limit states it. It fails
// if the two are not about the same test or substance.
func Judge(r Result, l Limit) (Judgement, error) {
	if r.Test != l.Test || r.Unit != Percent {
		return Judgement{}, wrong("a result for %s in %s cannot be held against a limit for %s in %%; choose a limit of the same test", r.Test, r.Unit, l.Test)
	}
	if !(r.U >= 0) {
		return Judgement{}, wrong("the uncertainty %g of the %s is not zero or more; work the result out again", r.U, r.Test)
	}
	if r.As != l.As {
		var err error
		if r, err = r.ExpressedAs(l.As); err != nil {
			return Judgement{}, err
		}
	}
	j := Judgement{Result: r, Limit: l}
	j.Low, j.High = r.Interval()
	j.Verdict = verdictOf(j.Low, j.High, l)
	j.Text = j.text()
	return j, nil
}

func verdictOf(low, high decimal.Decimal, l Limit) Verdict {
	if l.AtLeast {
		low, high, l.Percent = high.Neg(), low.Neg(), l.Percent.Neg()
	}
	switch {
	case high.LessThanOrEqual(l.Percent):
		return Pass
	case low.GreaterThan(l.Percent):
		return Fail
	}
	return TooClose
}

func (j Judgement) text() string {
	found := fmt.Sprintf("%s %% found, %s asked for (%s, %s)", j.Result.Value.StringFixed(3), j.Limit, j.Limit.Source, j.Limit.Mark)
	if j.Result.U == 0 {
		return found + ": " + string(j.Verdict) + " by its value alone, for no uncertainty was stated."
	}
	found += fmt.Sprintf("; it lies between %s and %s with 95 %% confidence", j.Low.StringFixed(3), j.High.StringFixed(3))
	if j.Verdict == TooClose {
		return found + ": too close to call. Repeat with a larger sample or a weaker titrant, and take the mean."
	}
	return found + ": " + string(j.Verdict) + "."
}
