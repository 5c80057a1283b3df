package pages

import (
	"encoding/hex"
	"html/template"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// functions are the few words that templates have beside the methods of the page.
var functions = template.FuncMap{
	"degrees":  func(low, high *decimal.Decimal, unit string) string { return measure.Window(*low, *high, unit) },
	"day":      day,
	"grams":    grams,
	"percent":  percent,
	"percent2": func(d decimal.Decimal) string { return d.Shift(2).StringFixed(2) + " %" },
	"amount":   Amount,
	"hex":      hex.EncodeToString,
	"lines":    func(s string) []string { return strings.Split(s, "\n") },
	"add":      func(a, b int) int { return a + b },
	"caution":  func(key string) Caution { return Cautions[key] },
	"dict":     dict,
	"verdict":  verdict,
}

// day writes a calendar day, which has no zone: lots and batches are dated by the shop's days already.
func day(t any) string {
	switch t := t.(type) {
	case time.Time:
		return t.Format("2 Jan 2006")
	case *time.Time:
		if t != nil {
			return t.Format("2 Jan 2006")
		}
	}
	return ""
}

// grams writes a mass to the hundredth that a scale can show; what was typed stands beside it where that matters.
func grams(d any) string { return number(d, 2) }

// Amount writes an amount in a lot's unit: grams, or pieces in words.
func Amount(d decimal.Decimal, unit string) string {
	if unit != "piece" {
		return number(d, 2) + " g"
	}
	if d.Equal(decimal.NewFromInt(1)) {
		return "1 bar"
	}
	return d.String() + " bars"
}

// percent writes a fraction as per cent with one decimal.
func percent(d any) string {
	switch d := d.(type) {
	case decimal.Decimal:
		return ledger.Percent(d) + " %"
	case *decimal.Decimal:
		if d != nil {
			return ledger.Percent(*d) + " %"
		}
	}
	return ""
}

func number(d any, places int32) string {
	switch d := d.(type) {
	case decimal.Decimal:
		return d.Round(places).String()
	case *decimal.Decimal:
		if d != nil {
			return d.Round(places).String()
		}
	}
	return ""
}

// verdict says whether a test passed; a reading that is no test says nothing.
func verdict(passed *bool) string {
	switch {
	case passed == nil:
		return ""
	case *passed:
		return "passed"
	}
	return "failed"
}

// dict gives a part several values by name.
func dict(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}
