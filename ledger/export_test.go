package ledger

import (
	"context"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
)

// Unlisted names tables of the schema that are neither derived from the journal nor known to stand outside it, so that
// a new table cannot be forgotten by Verify.
func (l *Ledger) Unlisted(ctx context.Context) ([]string, error) {
	names, err := column[string](ctx, l.pool, `select table_name from information_schema.tables where table_schema = $1 order by 1`, Schema)
	if err != nil {
		return nil, err
	}
	known := append(derivedTables(), "entry", "attachment", "credential", "sessions", "contact", "schema_version")
	return slices.DeleteFunc(names, func(n string) bool { return slices.Contains(known, n) }), nil
}

// StepOf is the step in grams that is taken of a weighing on a scale without a name, in a shop that did not say what its scales show.
func StepOf(mass measure.Mass) decimal.Decimal {
	return (&scales{limits: usual}).step(ladled{Typed: mass.Typed, Unit: mass.Unit, Weight: mass.Grams})
}
