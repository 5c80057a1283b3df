package demo

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

func TestMain(m *testing.M) { ledgertest.Main(m) }

// loaded is the demonstration in a database of its own.
type loaded struct {
	*testing.T
	url    string
	result *Result
	ledger *ledger.Ledger
}

func loadDemo(t *testing.T) loaded {
	t.Helper()
	url := ledgertest.NewDatabase(t, true).Service
	r, err := Load(t.Context(), url)
	require.NoError(t, err)
	l, err := ledger.Open(t.Context(), url, func() time.Time { return r.Today })
	require.NoError(t, err)
	t.Cleanup(l.Close)
	return loaded{t, url, r, l}
}

func must[T any](v T, err error) func(loaded) T {
	return func(d loaded) T {
		d.Helper()
		require.NoError(d, err)
		return v
	}
}

func (d loaded) count(sql string) (n int) {
	d.Helper()
	require.NoError(d, d.ledger.Pool().QueryRow(d.Context(), sql).Scan(&n))
	return n
}

func (d loaded) material(name string) ledger.Material {
	d.Helper()
	for _, m := range must(d.ledger.Materials(d.Context()))(d) {
		if m.Name == name {
			return m
		}
	}
	require.Fail(d, "no material "+name)
	return ledger.Material{}
}

// All that is read from one load, since loading takes a while.
func TestDemonstration(t *testing.T) {
	d := loadDemo(t)
	for name, check := range map[string]func(loaded){
		"stock": stock, "batches": batches, "what went wrong": incidents, "sales": sales, "people": people,
		"a supplier's lot": supplierLot, "a buyer": buyer, "a batch": batchSources, "water now": waterNow, "the text": printed, "materials": asPublished, "twice": twice,
	} {
		t.Run(name, func(t *testing.T) {
			check(loaded{t, d.url, d.result, d.ledger})
		})
	}
}

func stock(d loaded) {
	materials := must(d.ledger.Materials(d.Context()))(d)
	require.Len(d, materials, 17)
	for _, m := range materials {
		require.True(d, m.Invented, "%s is demonstration data and says so", m.Name)
	}
	require.Len(d, must(d.ledger.Suppliers(d.Context()))(d), 4)
	require.Len(d, must(d.ledger.Lots(d.Context(), ledger.LotQuery{What: "bought"}))(d), 24)
	require.Len(d, must(d.ledger.Lots(d.Context(), ledger.LotQuery{What: "prepared"}))(d), 4)
	require.Len(d, must(d.ledger.Formulas(d.Context()))(d), 5, "four formulas, one of them in two versions")
	require.Equal(d, 6, d.count(`select count(*) from document`))
	require.Equal(d, 2, d.count(`select count(*) from formula_portion`))
	require.Equal(d, 1, d.count(`select count(*) from weighing w join lot l on l.id = w.lot_id where l.what = 'bars'`))
	shop := must(d.ledger.Shop(d.Context()))(d)
	require.Contains(d, shop.Name, "invented")
	require.Equal(d, d.result.Today.Location().String(), shop.Timezone)
}

func batches(d loaded) {
	stages, purposes := map[string]int{}, map[string]int{}
	first, last := d.result.Today, time.Time{}
	for _, b := range must(d.ledger.Batches(d.Context(), "", 0))(d) {
		purposes[b.Purpose]++
		if b.Purpose != ledger.ForSoap {
			continue
		}
		stages[b.Stage]++
		if b.PlannedOn.Before(first) {
			first = b.PlannedOn
		}
		if b.PlannedOn.After(last) {
			last = b.PlannedOn
		}
		state := must(d.ledger.Lye(d.Context(), b.ID))(d)
		if b.Stage == ledger.Released {
			require.InDelta(d, b.Superfat.InexactFloat64(), state.Superfat.InexactFloat64(), 0.01, "%s as weighed", b.Name)
		}
	}
	require.Equal(d, map[string]int{"soap": 10, "stock lye": 2, "premix": 1, "merge": 1}, purposes)
	require.Equal(d, map[string]int{"planned": 1, "weighing": 1, "curing": 2, "released": 5, "rejected": 1}, stages)
	require.Equal(d, "2026-05-18 to 2026-11-20", first.Format(time.DateOnly)+" to "+last.Format(time.DateOnly))
	require.Equal(d, 3, d.count(`select count(distinct w.batch_id) from weighing w join lot l on l.id = w.lot_id
		join batch b on b.id = l.batch_id where b.id = (select min(id) from batch where purpose = 'stock lye')`), "one stock lye for three batches")
}

func incidents(d loaded) {
	require.Equal(d, 1, d.count(`select count(*) from gate_pass where rules = '{too-early}' and reason <> ''`))
	require.Equal(d, 2, d.count(`select count(*) from deviation where closed_by is not null`))
	require.Equal(d, 1, d.count(`select count(*) from weighing w join entry e on e.id = w.struck_by where e.corrects = w.entry_id and e.reason <> ''`))
	require.Equal(d, 1, d.count(`select count(*) from entry where recorded_at - happened_at >= '3 days'`))
	require.Equal(d, 2, d.count(`select count(*) from lot where held and hold_reason <> ''`))
	require.Equal(d, 1, d.count(`select count(*) from lot where held and what = 'bars'`))
	require.Equal(d, 1, d.count(`select count(*) from entry where kind = 'lot.freed'`))
	drills := must(d.ledger.Drills(d.Context()))(d)
	require.Len(d, drills, 1)
	require.Equal(d, "2 lots, 51 of 52 bars", fmt.Sprintf("%d lots, %s of %s bars", drills[0].Lots, drills[0].Accounted, drills[0].Made),
		"24 layered and 28 patchwork bars, one of them missing")
}

func sales(d loaded) {
	require.Equal(d, 3, d.count(`select count(distinct channel) from dispatch`))
	require.Equal(d, 1, d.count(`select count(*) from dispatch_return where decision = 'keep'`))
	require.Equal(d, 12, d.count(`select sum(pieces)::int from dispatch_return r join dispatch d on d.id = r.dispatch_id where channel = 'market'
		and decision = 'restock'`), "3 + 2 + 2 from midsummer, 4 + 1 from harvest")
	require.Equal(d, 1, d.count(`select sum(pieces)::int from dispatch_return where decision = 'scrap'`))
	require.Equal(d, 7, d.count(`select sum(amount)::int from balance where place = 'kept'`), "one of each of six batches, one sent back")
	require.Equal(d, 6, d.count(`select count(*) from label`))
	require.Equal(d, 1, d.count(`select count(*) from label where proof`))
	require.True(d, strings.HasPrefix(string(d.result.LabelPDF), "%PDF-"))
	sold := must(d.ledger.Dispatches(d.Context(), 0))(d)
	require.Equal(d, "2026-11-19", sold[0].SentOn.Format(time.DateOnly), "the last sale is shortly before today")
}

func people(d loaded) {
	roles := map[ledger.Role]bool{}
	for _, p := range d.result.People {
		roles[p.Role] = true
		c := must(d.ledger.Credential(d.Context(), p.Login))(d)
		require.False(d, c.MustChange)
		require.Contains(d, d.result.Text("label.pdf"), p.Password)
	}
	require.Len(d, roles, 5)
	owner := d.result.People[0]
	c := must(d.ledger.Credential(d.Context(), owner.Login))(d)
	ok, err := argon2id.ComparePasswordAndHash(owner.Password, c.Hash)
	require.NoError(d, err)
	require.True(d, ok)
}

func printed(d loaded) {
	text := d.result.Text("here/label.pdf")
	for _, want := range []string{"here/label.pdf", d.result.Batch, d.result.LabelCode, d.result.LotQuery, "invented", "for this demonstration only", "Who holds bars"} {
		require.Contains(d, text, want)
	}
}

func twice(d loaded) {
	before := must(d.ledger.Verify(d.Context()))(d)
	require.Empty(d, before.Difference)
	require.Equal(d, before.Entries, d.result.Entries)
	again, err := Load(d.Context(), d.url)
	require.NoError(d, err)
	require.Equal(d, d.result, again)
	after := must(d.ledger.Verify(d.Context()))(d)
	require.Empty(d, after.Difference)
	require.Equal(d, before.Entries, after.Entries)
	require.Equal(d, before.Rows, after.Rows)
}
