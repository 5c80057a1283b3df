package measure

import (
	"testing"

	"ashbook/testdata/reference"
)

// A rectangular 7 to 10 has 1.5/√3 = 0.87: uncertainty guide, chem-check-values.csv.
func TestRectangular(t *testing.T) {
	reference.Within(t, d("0.87"), Rectangular(d("1.5")), d("0.005"))
}
