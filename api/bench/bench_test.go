package bench

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/labels"
	"ashbook/ledger"
)

// warm is how many turns go by before time is taken, and asked how many lots or batches the questions go round.
const (
	warm  = 20
	asked = 200
)

// BenchmarkLargeLedger times what people wait for.
func BenchmarkLargeLedger(b *testing.B) {
	g := grounds(b)
	b.Run("ask", func(b *testing.B) { benchAsk(b, g) })
	b.Run("list", func(b *testing.B) { benchList(b, g) })
	b.Run("weighing", func(b *testing.B) { benchWeighing(b, g) })
	b.Run("start", func(b *testing.B) { benchStart(b, g) })
	b.Run("label", func(b *testing.B) { benchLabel(b, g) })
}

// benchAsk asks for lots that reached few batches, about forty, or a fifth of all, and back from a batch's code.
// The lots lie all over the ledger.
func benchAsk(b *testing.B, grounds []*ground) {
	pools := map[*ground]*pgxpool.Pool{}
	for _, g := range grounds {
		pool, err := floorPool(b.Context(), g.l)
		require.NoError(b, err)
		defer pool.Close()
		pools[g] = pool
	}
	some := fmt.Sprintf(`select supplier_lot from lot where supplier_lot like '%%s' order by md5(code) limit %d`, asked)
	for _, q := range []struct {
		name, words string
		floor       func(context.Context, *pgxpool.Pool, string) (floor, error)
	}{
		{"few", fmt.Sprintf(some, "few-%"), floorForward},
		{"typical", fmt.Sprintf(some, "typical-0-%"), floorForward},
		{"big", `select 'big'`, floorForward},
		{"back", fmt.Sprintf(`select code from batch where purpose = 'soap' and stage = 'released' order by md5(code) limit %d`, asked), floorBack},
	} {
		b.Run(q.name, func(b *testing.B) {
			var sides []side
			most, lines := 0, map[*ground]int{}
			for _, g := range grounds {
				words := g.texts(b, q.words)
				most = max(most, len(words))
				sides = append(sides, g.side("own", func(turn int) error {
					a, err := g.l.Ask(b.Context(), words[turn%len(words)])
					if err == nil {
						lines[g] += len(a.Sources) + len(a.Reached) + len(a.Sent)
					}
					return err
				}), g.side("floor", func(turn int) error { // about another lot, so that neither finds in the cache what the other has just read
					_, err := q.floor(b.Context(), pools[g], words[(turn+len(words)/2)%len(words)])
					return err
				}))
			}
			before := min(asked, most) // each was asked about before
			timed(b, before, sides)
			for g, n := range lines {
				b.ReportMetric(float64(n)/float64(before+b.N), fmt.Sprintf("%d/own/lines", g.batches))
			}
		})
	}
}

func (g *ground) side(name string, op func(turn int) error) side {
	return side{fmt.Sprintf("%d/%s", g.batches, name), op}
}

// benchList lists the lots that may be used: of a material, as at the bench, and of everything, as far as one page goes.
func benchList(b *testing.B, grounds []*ground) {
	for name, what := range map[string]string{"material": "Invented clay", "everything": ""} {
		b.Run(name, func(b *testing.B) {
			var sides []side
			for _, g := range grounds {
				q := ledger.LotQuery{Usable: true}
				if what != "" {
					q.Material = g.material(b, what)
				}
				sides = append(sides, g.side("own", func(int) error {
					_, err := g.l.Lots(b.Context(), q)
					return err
				}))
			}
			timed(b, warm, sides)
		})
	}
}

// material is the number of a material.
func (g *ground) material(b *testing.B, name string) int64 {
	b.Helper()
	materials, err := g.l.Materials(b.Context())
	require.NoError(b, err)
	i := slices.IndexFunc(materials, func(m ledger.Material) bool { return m.Name == name })
	require.GreaterOrEqual(b, i, 0)
	return materials[i].ID
}

// weighings plans and starts as many batches as are needed for n weighings, from lots of their own.
func (g *ground) weighings(b testing.TB, n int) (list []*ledger.WeighingTaken) {
	b.Helper()
	lots := map[int64]int64{}
	for len(list) < n {
		batch := g.plan(b, lots, n)
		for i, line := range batch.Lines {
			list = append(list, &ledger.WeighingTaken{Batch: batch.ID, Line: i + 1, Lot: lots[line.Material], Mass: grams(line.Grams),
				Scale: "bench scale", SecondCheck: ledger.SecondMethod})
		}
		g.record(b, &ledger.StepTaken{Batch: batch.ID, Step: ledger.StepStart})
	}
	return list
}

// planned plans n batches, for which there is enough.
func (g *ground) planned(b testing.TB, n int) (batches []int64) {
	b.Helper()
	lots := map[int64]int64{}
	for range n {
		batches = append(batches, g.plan(b, lots, n).ID)
	}
	return batches
}

// plan plans a batch, and receives a lot for n of them of each material that has none yet.
func (g *ground) plan(b testing.TB, lots map[int64]int64, n int) *ledger.BatchPlanned {
	b.Helper()
	formulas, err := g.l.Formulas(b.Context())
	require.NoError(b, err)
	suppliers, err := g.l.Suppliers(b.Context())
	require.NoError(b, err)
	batch := g.record(b, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: formulas[0].ID}).(*ledger.BatchPlanned)
	for _, line := range batch.Lines {
		if lots[line.Material] == 0 {
			mass := decimal.Min(line.Grams.Mul(decimal.NewFromInt(int64(n))), decimal.NewFromInt(10_000_000))
			lots[line.Material] = g.record(b, &ledger.LotReceived{Material: line.Material, Supplier: suppliers[0].ID, SupplierLot: "bench", Mass: grams(mass)}).(*ledger.LotReceived).ID
		}
	}
	return batch
}

func (g *ground) record(b testing.TB, body ledger.Body) ledger.Body {
	b.Helper()
	r, err := g.l.Record(b.Context(), g.by, ledger.Request{Body: body})
	require.NoError(b, err)
	return r.Record
}

func keyOf(w *ledger.WeighingTaken) string { return fmt.Sprintf("bench %d/%d", w.Batch, w.Line) }

// benchWeighing records a weighing for good.
func benchWeighing(b *testing.B, grounds []*ground) {
	var sides []side
	for _, g := range grounds {
		own, floor := g.weighings(b, b.N+warm), g.weighings(b, b.N+warm)
		sides = append(sides, g.side("own", func(turn int) error {
			_, err := g.l.Record(b.Context(), g.by, ledger.Request{Key: keyOf(own[turn]), Body: own[turn]})
			return err
		}), g.side("floor", func(turn int) error { return floorWeighing(b.Context(), g.l.Pool(), g.by.ID, floor[turn]) }))
	}
	timed(b, warm, sides)
}

// benchStart starts a batch, for which the gate looks whether enough of every line of the weigh list is on the shelf.
func benchStart(b *testing.B, grounds []*ground) {
	var sides []side
	for _, g := range grounds {
		planned := g.planned(b, b.N+warm)
		sides = append(sides, g.side("own", func(turn int) error {
			_, err := g.l.Record(b.Context(), g.by, ledger.Request{Body: &ledger.StepTaken{Batch: planned[turn], Step: ledger.StepStart}})
			return err
		}))
	}
	timed(b, warm, sides)
}

// benchLabel issues labels, and draws them without recording. The floor, the PDF library alone, is in labels/sheet.
func benchLabel(b *testing.B, grounds []*ground) {
	var issue, draw []side
	for _, g := range grounds {
		var bars []int64
		for _, code := range g.texts(b, `select code from lot where what = 'bars' order by md5(code) limit 100`) {
			lot, err := g.l.BarsByCode(b.Context(), code)
			require.NoError(b, err)
			bars = append(bars, lot.ID)
		}
		issue = append(issue, g.side("own", func(turn int) error {
			_, err := labels.Issue(b.Context(), g.l, g.by, labels.Request{Lot: bars[turn%len(bars)], Copies: 40})
			return err
		}))
		draw = append(draw, g.side("own", func(turn int) error {
			in, err := labels.Prepare(b.Context(), g.l, bars[turn%len(bars)], "")
			if err != nil {
				return err
			}
			_, err = in.Draw()
			return err
		}))
	}
	b.Run("issue", func(b *testing.B) { timed(b, warm, issue) })
	b.Run("draw", func(b *testing.B) { timed(b, warm, draw) })
}
