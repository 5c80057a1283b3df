package ledger

import (
	"context"
	"strings"
	"time"
	"unicode"

	"github.com/shopspring/decimal"

	"ashbook/ledger/code"
)

// words trims a required text and refuses what is empty, too long or not printable.
func words(field string, s *string, most int) error {
	if err := anyWords(field, s, most); err != nil {
		return err
	}
	if *s == "" {
		return invalid(field, "is empty; fill it in")
	}
	return nil
}

// anyWords is words for a text that may be empty. Line breaks are allowed, other control characters are not: they
// would travel into labels and files.
func anyWords(field string, s *string, most int) error {
	*s = strings.TrimSpace(*s)
	if len([]rune(*s)) > most {
		return invalid(field, "has %d characters; at most %d fit", len([]rune(*s)), most)
	}
	for _, r := range *s {
		if (unicode.IsControl(r) && r != '\n') || r == unicode.ReplacementChar {
			return invalid(field, "has a character that cannot be printed; type it again")
		}
	}
	return nil
}

// writable refuses a figure with an exponent that nobody writes: comparing or printing 1e999999999 would take for ever.
func writable(field string, v decimal.Decimal) error {
	if v.Exponent() > 12 || v.Exponent() < -20 || v.Coefficient().BitLen() > 128 {
		return invalid(field, "the figure is too long or too large; write it with at most 12 digits before and 6 after the point")
	}
	return nil
}

func between(field string, v decimal.Decimal, low, high int64) error {
	if err := writable(field, v); err != nil {
		return err
	}
	if v.LessThan(decimal.NewFromInt(low)) || v.GreaterThan(decimal.NewFromInt(high)) {
		return invalid(field, "%s is outside %d to %d", v, low, high)
	}
	return nil
}

// maxGrams is more than any workshop weighs at once, and keeps a slipped digit out of the books: ten tonnes.
var maxGrams = decimal.NewFromInt(10_000_000)

func positive(field string, v decimal.Decimal) error {
	if err := writable(field, v); err != nil {
		return err
	}
	if !v.IsPositive() {
		return invalid(field, "%s is not more than zero", v)
	}
	if v.GreaterThan(maxGrams) {
		return invalid(field, "%s is more than this ledger takes (%s)", v, maxGrams)
	}
	if v.Exponent() < -6 {
		return invalid(field, "%s has more than six decimals; round it", v)
	}
	return nil
}

func oneOf(field, v string, allowed ...string) error {
	for _, a := range allowed {
		if v == a {
			return nil
		}
	}
	return invalid(field, "%q is not one of %s", v, strings.Join(allowed, ", "))
}

const dateLayout = time.DateOnly

// date reads a calendar day; empty gives nil.
func date(field, s string) (*time.Time, error) {
	if s == "" {
		return nil, nil
	}
	t, err := time.Parse(dateLayout, s)
	if err != nil {
		return nil, invalid(field, "%q is not a date; write it as 2026-11-25", s)
	}
	return &t, nil
}

// Printed is a code together with the serial that it was made from.
type Printed struct {
	Code   string `json:"code" readOnly:"true" doc:"printed code with its check character"`
	Serial int    `json:"serial" readOnly:"true" doc:"number of the code among those of its kind and day"`
}

// codeDay is the subject that makes two writers of one kind of code on one day wait for each other.
func codeDay(k code.Kind, day time.Time) int64 {
	return 1<<61 + int64(k)<<24 + day.Unix()/86400
}

// nextCode gives the next code of a kind for a day. The lock is taken last in a transaction and in the order of kinds.
func (tx *Tx) nextCode(ctx context.Context, k code.Kind, day time.Time, after int) (Printed, error) {
	if err := tx.lock(ctx, []int64{codeDay(k, day)}); err != nil {
		return Printed{}, err
	}
	last, err := scalar[int](ctx, tx, `select coalesce((select last from serial where kind = $1 and day = $2), 0)`, string(rune(k)), day)
	if err != nil {
		return Printed{}, err
	}
	n := last + 1 + after
	c, err := code.New(k, day, n)
	if err != nil {
		return Printed{}, invalid("happened_at", "no code can be made for that day: %s", err)
	}
	return Printed{c.String(), n}, nil
}

func (tx *Tx) useCode(ctx context.Context, k code.Kind, day time.Time, p Printed) error {
	_, err := tx.Exec(ctx, `insert into serial (kind, day, last) values ($1,$2,$3)
		on conflict (kind, day) do update set last = greatest(serial.last, excluded.last)`, string(rune(k)), day, p.Serial)
	return err
}
