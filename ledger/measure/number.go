package measure

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// ErrNumber is wrapped by every refusal to read a number; the text says what to type instead.
var ErrNumber = errors.New("not a number that can be used")

// maxDigits is how many digits a typed number may have, before and after the point together.
const maxDigits = 12

// ParseNumber reads a number as a person types it: "12", "12.5", "12,5", ".5", "1/2", "1 1/2", "1½".
// The result is zero or more. Fractions are rounded at the 16th decimal place.
//
// It refuses what could mean two things: a comma before exactly three digits ("1,234") may be a
// decimal comma or a thousands mark, while "0,125" can only be the first. It also refuses
// thousands marks of any other kind, exponents, signs, and more than 12 digits.
func ParseNumber(typed string) (decimal.Decimal, error) {
	text := strings.TrimSpace(spellFractions(typed))
	if err := allowedSigns(typed, text); err != nil {
		return decimal.Zero, err
	}
	if strings.Contains(text, "/") {
		return parseFraction(typed, text)
	}
	if strings.Contains(text, " ") {
		return decimal.Zero, refuse(typed, "there is a space inside; type it without, or a fraction like 1 1/2")
	}
	return parseDecimal(typed, text)
}

func refuse(typed, why string) error {
	if len(typed) > 40 {
		typed = typed[:40] + "…"
	}
	return fmt.Errorf("%w: %q: %s", ErrNumber, typed, why)
}

// vulgar holds the fraction signs that telephones offer.
var vulgar = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅓", " 1/3", "⅔", " 2/3",
	"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⁄", "/", "\u00a0", " ")

func spellFractions(s string) string { return vulgar.Replace(s) }

// allowedSigns looks at which characters there are, not at their order.
func allowedSigns(typed, text string) error {
	digits := 0
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r == '-' || r == '−':
			return refuse(typed, "it is negative; amounts are zero or more")
		case r == 'e' || r == 'E':
			return refuse(typed, "write all its digits, without an exponent")
		case strings.ContainsRune(".,/ ", r):
		default:
			return refuse(typed, "type digits with at most one point or comma, or a fraction like 1 1/2")
		}
	}
	if digits == 0 {
		return refuse(typed, "there is no digit in it")
	}
	if digits > maxDigits {
		return refuse(typed, fmt.Sprintf("it has %d digits; at most %d can be kept", digits, maxDigits))
	}
	return nil
}

func parseDecimal(typed, text string) (decimal.Decimal, error) {
	points, commas := strings.Count(text, "."), strings.Count(text, ",")
	if points+commas > 1 {
		return decimal.Zero, refuse(typed, "there is more than one point or comma; leave thousands marks out")
	}
	if whole, rest, found := strings.Cut(text, ","); found {
		if len(rest) == 3 && len(whole) <= 3 && strings.Trim(whole, "0") != "" {
			return decimal.Zero, refuse(typed, fmt.Sprintf("does it mean %s%s or %s.%s? Type one of these", whole, rest, whole, rest))
		}
		text = whole + "." + rest
	}
	return decimal.NewFromString(strings.TrimSuffix("0"+text, "."))
}

// parseFraction reads "3/4" and "1 3/4". The part with the slash must be below 1 if a whole number
// stands before it: "1 5/4" is more likely a slip than meant.
func parseFraction(typed, text string) (decimal.Decimal, error) {
	fields := strings.Fields(text)
	whole := decimal.Zero
	if len(fields) == 2 {
		var ok bool
		if whole, ok = digits(fields[0]); !ok {
			return decimal.Zero, refuse(typed, "the part before a fraction must be a whole number")
		}
	}
	if len(fields) > 2 {
		return decimal.Zero, refuse(typed, "a fraction is typed like 3/4 or 1 3/4")
	}
	above, below, _ := strings.Cut(fields[len(fields)-1], "/")
	top, ok := digits(above)
	bottom, ok2 := digits(below)
	if !ok || !ok2 || bottom.IsZero() {
		return decimal.Zero, refuse(typed, "a fraction is typed like 3/4 or 1 3/4")
	}
	if len(fields) == 2 && top.GreaterThanOrEqual(bottom) {
		return decimal.Zero, refuse(typed, "the fraction after a whole number must be less than 1")
	}
	return whole.Add(top.DivRound(bottom, 16)), nil
}

// digits reads a text of nothing but digits.
func digits(s string) (decimal.Decimal, bool) {
	if s == "" || strings.Trim(s, "0123456789") != "" {
		return decimal.Zero, false
	}
	d, err := decimal.NewFromString(s)
	return d, err == nil
}
