// Package reference holds the tables that tests check against: published values, and values that were computed beforehand with
// other software. Each row names its source and how far it is to be trusted. For tests only; what the program needs of a
// table lies in the package that uses it.
package reference

import (
	"embed"
	"encoding/csv"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// Files are the tables as they are kept.
//
//go:embed *.csv
var Files embed.FS

// Rows gives the rows of a table, each by the names of its columns. It panics on a table that is not there or has no
// rows: a check against nothing would pass.
func Rows(name string) []map[string]string {
	f, err := Files.Open(name)
	if err != nil {
		panic("reference: " + err.Error())
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		panic("reference: " + name + ": " + err.Error())
	}
	if len(lines) < 2 {
		panic("reference: " + name + " has no rows")
	}
	rows := make([]map[string]string, 0, len(lines)-1)
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Value gives the row of chem-check-values.csv with an id, and panics if there is none.
func Value(id string) map[string]string {
	for _, row := range Rows("chem-check-values.csv") {
		if row["id"] == id {
			return row
		}
	}
	panic("reference: chem-check-values.csv has no row " + id)
}

// Holds requires that got is the expected value of a row of chem-check-values.csv, within the tolerance that the row states.
func Holds(t require.TestingT, id string, got decimal.Decimal) {
	row := Value(id)
	Within(t, decimal.RequireFromString(row["expected"]), got, decimal.RequireFromString(row["tolerance"]),
		"%s, %s; source: %s (%s)", id, row["inputs"], row["source"], row["mark"])
}

// Within requires |want - got| <= tolerance.
func Within(t require.TestingT, want, got, tolerance decimal.Decimal, note ...any) {
	if helper, ok := t.(interface{ Helper() }); ok {
		helper.Helper()
	}
	if want.Sub(got).Abs().GreaterThan(tolerance) {
		require.Equal(t, want.String(), got.String(), note...)
	}
}
