package assay

import (
	"fmt"
	"math"

	"github.com/shopspring/decimal"
)

// PHReading is a pH with what it takes to understand it.
type PHReading struct {
	PH       decimal.Decimal // 0 to 14
	Solution decimal.Decimal // g of soap per 100 g of solution, above 0, at most 100
	Celsius  decimal.Decimal // of the solution, 0 to 60 °C
	Strip    bool            // a paper strip; otherwise a meter
}

// PHStand is where a reading lies against what soap itself shows.
type PHStand string

// The stands. None of them says that a bar is free of alkali.
const (
	BelowSoap PHStand = "below what soap shows"
	LikeSoap  PHStand = "as soap itself shows"
	AboveSoap PHStand = "above what soap shows"
)

// Soap itself shows pH 9 to 10.5, from its own hydrolysis. Published readings: bathing soap 9 to 10 (Tarun et al. 2014), 8.7 to 9.7 and
// 10.7 to 12.2 (soap on sale, 2020), washing soap 10.6 to 11.7.
var (
	soapFrom = decimal.RequireFromString("9")
	soapTo   = decimal.RequireFromString("10.5")
)

// HighestSoapPH is the most that soap itself shows.
func HighestSoapPH() decimal.Decimal { return soapTo }

// HiddenFromPH says with figures why a pH alone does not tell whether a bar is free of alkali.
func HiddenFromPH() string {
	limit, one := limits()[0].Percent, decimal.NewFromInt(1)
	hidden, _ := AlkaliPH(limit, one) // both are above zero
	return fmt.Sprintf("%s %% of free NaOH alone gives pH %s in a 1 %% solution (computed, unbuffered, 25 °C), and soap itself %s to %s.",
		limit, hidden.StringFixed(2), soapFrom, soapTo)
}

// PHLook is something to look at, never a pass: the decision is a titration's.
type PHLook struct {
	Stand PHStand
	// HiddenAlkali is the pH that 0.05 % of free NaOH, the usual limit, would show in this solution without any soap: where it lies
	// within what soap shows, the reading cannot see it.
	HiddenAlkali decimal.Decimal
	Texts        []string
}

// LookAtPH says what a pH of a soap solution tells, and that it does not tell whether the bar is free of alkali.
func LookAtPH(r PHReading) (PHLook, error) {
	if r.PH.IsNegative() || r.PH.GreaterThan(decimal.NewFromInt(14)) {
		return PHLook{}, wrong("a pH of %s is not from 0 to 14; read it again", r.PH)
	}
	if r.Celsius.IsNegative() || r.Celsius.GreaterThan(decimal.NewFromInt(60)) {
		return PHLook{}, wrong("a solution of %s °C is not from 0 to 60 °C; measure it again", r.Celsius)
	}
	hidden, err := AlkaliPH(limits()[0].Percent, r.Solution)
	if err != nil {
		return PHLook{}, err
	}
	look := PHLook{HiddenAlkali: hidden}
	var text string
	switch {
	case r.PH.LessThan(soapFrom):
		look.Stand, text = BelowSoap, "Soap itself shows 9 to 10.5: look at the probe or strip, at the dilution, and whether this is soap."
	case r.PH.GreaterThan(soapTo):
		look.Stand, text = AboveSoap, "Soap itself shows 9 to 10.5: look for free alkali with a titration before these bars go anywhere."
	default:
		look.Stand, text = LikeSoap, "Soap itself shows this. It does not tell whether there is free alkali besides."
	}
	look.Texts = append(look.Texts, text, fmt.Sprintf("0.05 %% of free NaOH alone, without any soap, would show pH %s in a %s %% solution.", hidden.StringFixed(2), r.Solution))
	look.Texts = append(look.Texts, r.circumstances()...)
	return look, nil
}

// circumstances says what in the reading makes it less worth. Common practice, no source.
func (r PHReading) circumstances() []string {
	var texts []string
	if r.Strip {
		texts = append(texts, "A strip is good to half a unit at best, and soap bleaches or stains some of them.")
	}
	if r.Celsius.LessThan(decimal.NewFromInt(15)) || r.Celsius.GreaterThan(decimal.NewFromInt(30)) {
		texts = append(texts, "pH moves with temperature: let the solution come to 20 or 25 °C, and set the meter to it.")
	}
	if r.Solution.LessThan(decimal.RequireFromString("0.5")) || r.Solution.GreaterThan(decimal.NewFromInt(10)) {
		texts = append(texts, "1 to 10 % of soap in water is usual; other dilutions cannot be compared with readings elsewhere.")
	}
	return texts
}

// AlkaliPH returns the pH, to two decimals, that free sodium hydroxide alone shows at 25 °C: free is per cent of the soap, above
// 0, solution the per cent of soap in water, above 0 and at most 100. It takes 1 % as 10 g/L, all of it as dissolved, and nothing
// as buffering: soap does buffer, and carbon dioxide takes alkali up, so real readings differ. It is for showing how little pH
// tells: ten times the alkali is one unit.
func AlkaliPH(free, solution decimal.Decimal) (decimal.Decimal, error) {
	hundred := decimal.NewFromInt(100)
	if !free.IsPositive() || free.GreaterThan(hundred) || !solution.IsPositive() || solution.GreaterThan(hundred) {
		return decimal.Zero, wrong("%s %% of free alkali in a solution of %s %% soap has no pH; both are above 0 and at most 100", free, solution)
	}
	molar := divide(solution.Mul(free), equivalents[NaOH].Mul(decimal.NewFromInt(10))) // mol/L: 10 g/L × solution × free/100 / 40
	return decimal.NewFromFloat(14 + math.Log10(molar.InexactFloat64())).Round(2), nil
}
