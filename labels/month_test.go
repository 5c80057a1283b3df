package labels

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// "Best used before the end of" a month (Regulation (EC) No 1223/2009, Article 19(1)(c)) may promise no day more than
// the maker set.
func TestPrintedMonthEndsNoLaterThanTheDay(t *testing.T) {
	for day, want := range map[string]string{"2026-10-01": "09/2026", "2026-10-30": "09/2026", "2026-10-31": "10/2026", "2028-02-28": "01/2028",
		"2028-02-29": "02/2028", "2027-01-15": "12/2026"} {
		d, err := time.Parse(time.DateOnly, day)
		require.NoError(t, err)
		require.Equal(t, want, lastWholeMonth(d).Format("01/2006"), day)
	}
}
