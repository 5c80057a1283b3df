package compute

import (
	"math"
	"regexp"

	"ashbook/ledger/measure"
	"ashbook/ledger/soap"

	"github.com/shopspring/decimal"
)

// rule bounds a number. A decimal string is held to patterns, so that the schema can say the same.
type rule struct {
	least, most       *decimal.Decimal
	openLeast         bool // least itself is not allowed
	openMost          bool
	patterns          []*regexp.Regexp
	words, definition string // words begin the sentence of a refusal
}

var (
	zero    = decimal.Zero
	one     = decimal.NewFromInt(1)
	largest = decimal.New(1, 9) // no mass or reading comes near it: a thousand tonnes
	lowest  = largest.Neg()

	mostML, mostMolar = decimal.NewFromInt(1000), decimal.NewFromInt(20) // of package assay
)

// mostPlaces is how many decimal places a figure may have: a microgram in a tonne.
const mostPlaces = 12

var (
	anySign  = regexp.MustCompile(`^-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,12})?$`)
	plain    = regexp.MustCompile(`^(0|[1-9][0-9]{0,8})(\.[0-9]{1,12})?$`)
	nonzero  = regexp.MustCompile(`[1-9]`)
	upToOne  = regexp.MustCompile(`^(0(\.[0-9]{1,12})?|1(\.0{1,12})?)$`)
	aVolume  = regexp.MustCompile(`^((0|[1-9][0-9]{0,2})(\.[0-9]{1,12})?|1000(\.0{1,12})?)$`)
	aMolar   = regexp.MustCompile(`^((0|[1-9]|1[0-9])(\.[0-9]{1,12})?|20(\.0{1,12})?)$`)
	aSAP     = regexp.MustCompile(`^(([5-9][0-9]|[1-3][0-9]{2}|4[0-4][0-9])(\.[0-9]{1,12})?|450(\.0{1,12})?)$`)
	aSAPHalf = regexp.MustCompile(`^(0|[1-9]|[12][0-9])(\.[0-9]{1,12})?$`)
	underOne = regexp.MustCompile(`^0(\.[0-9]{1,12})?$`)
)

// rules are what the tag is may name.
var rules = map[string]rule{
	"number":               {&lowest, &largest, true, true, []*regexp.Regexp{anySign}, "a number", "number"},
	"zero or more":         {&zero, &largest, false, true, []*regexp.Regexp{plain}, "a number of zero or more", "zero_or_more"},
	"above zero":           {&zero, &largest, true, true, []*regexp.Regexp{plain, nonzero}, "a number above zero", "above_zero"},
	"share":                {&zero, &one, false, false, []*regexp.Regexp{upToOne}, "a share from 0 to 1 (5 % is 0.05)", "share"},
	"share above zero":     {&zero, &one, true, false, []*regexp.Regexp{upToOne, nonzero}, "a share above 0 and at most 1 (98 % is 0.98)", "share_above_zero"},
	"volume":               {&zero, &mostML, false, false, []*regexp.Regexp{aVolume}, "a volume from 0 to 1000 mL", "volume"},
	"molar":                {&zero, &mostMolar, true, false, []*regexp.Regexp{aMolar, nonzero}, "a concentration above 0 and up to 20 mol/L", "molar"},
	"saponification value": {&soap.LeastSAP, &soap.MostSAP, false, false, []*regexp.Regexp{aSAP}, "a saponification value from 50 to 450 mg KOH per g", "saponification_value"},
	"saponification half":  {&zero, &soap.MostSAPHalf, false, true, []*regexp.Regexp{aSAPHalf}, "a half-width of a saponification value of at least 0 and below 30 mg KOH per g", "saponification_half"},
	"share below one":      {&zero, &one, false, true, []*regexp.Regexp{underOne}, "a share of at least 0 and below 1 (5 % is 0.05)", "share_below_one"},
}

// takes tells whether the rule allows a figure.
func (r rule) takes(d decimal.Decimal) bool {
	low, high := d.Cmp(*r.least), d.Cmp(*r.most)
	return (low > 0 || low == 0 && !r.openLeast) && (high < 0 || high == 0 && !r.openMost)
}

// mostCharacters bounds the text of a JSON number before it is worked out.
const mostCharacters = 40

// figureOf reads a JSON number: one with an exponent beyond all reason is refused before it takes memory.
func figureOf(typed string) (decimal.Decimal, bool) {
	if len(typed) > mostCharacters {
		return decimal.Zero, false
	}
	d, err := decimal.NewFromString(typed)
	if err != nil || d.Exponent() > 9 || d.Exponent() < -mostCharacters {
		return decimal.Zero, false
	}
	return d, d.Equal(d.Truncate(mostPlaces))
}

// measured gives the reading with its standard uncertainty.
func (d doubted) measured() measure.Measured {
	switch {
	case d.U != nil:
		return measure.Measured{Value: d.Value, U: *d.U}
	case d.Half != nil:
		return measure.Measured{Value: d.Value, U: measure.Rectangular(*d.Half)}
	}
	return measure.Measured{Value: d.Value}
}

// shown is how many decimal places of an exact value are answered.
const shown = 12

func exact(d decimal.Decimal) decimal.Decimal { return d.Round(shown) }

// digits is how many figures of a statistic are answered. More would be noise.
const digits = 8

// statistic turns a float into a decimal of eight figures. What is not a number, or is beyond all numbers, panics with notFinite,
// which the command turns into a refusal.
func statistic(f float64) decimal.Decimal {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		panic(notFinite{})
	}
	if math.Abs(f) < 1e-30 {
		return decimal.Zero
	}
	places := digits - 1 - int(math.Floor(math.Log10(math.Abs(f))))
	return decimal.NewFromFloat(f).Round(int32(places))
}

type notFinite struct{}

// finitely refuses the field where a statistic came out as no number.
func finitely(field string, err *error) {
	switch p := recover().(type) {
	case nil:
	case notFinite:
		*err = amiss(field, "the figures are too far apart to be worked out; check them")
	default:
		panic(p)
	}
}
