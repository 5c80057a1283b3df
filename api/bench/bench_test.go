package bench

import (
	"fmt"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/labels"
	"ashbook/ledger"
)

// warm is how many turns go by before time is taken.
const warm = 20

// BenchmarkLargeLedger times what people wait for.
func BenchmarkLargeLedger(b *testing.B) {
	g := large(b)
	b.Run("ask", g.benchAsk)
	b.Run("weighing", g.benchWeighing)
	b.Run("label", g.benchLabel)
}

// benchAsk asks for lots that reached few batches, about forty, or a fifth of all, and back from a batch's code.
// The lots lie all over the ledger.
func (g *ground) benchAsk(b *testing.B) {
	pool, err := floorPool(b.Context(), g.l)
	require.NoError(b, err)
	defer pool.Close()
	some := `select supplier_lot from lot where supplier_lot like '%s' order by md5(code) limit 200`
	for _, q := range []struct {
		name  string
		words []string
	}{
		{"few", g.texts(b, fmt.Sprintf(some, "few-%"))},
		{"typical", g.texts(b, fmt.Sprintf(some, "typical-0-%"))},
		{"big", []string{"big"}},
	} {
		b.Run(q.name+"/floor", func(b *testing.B) {
			timed(b, min(warm, len(q.words)), func(i int) error {
				_, err := floorForward(b.Context(), pool, q.words[i%len(q.words)])
				return err
			})
		})
		b.Run(q.name+"/own", func(b *testing.B) { g.ask(b, q.words) })
	}
	codes := g.texts(b, `select code from batch where purpose = 'soap' and stage = 'released' order by md5(code) limit 200`)
	b.Run("back/floor", func(b *testing.B) {
		timed(b, warm, func(i int) error {
			_, err := floorBack(b.Context(), pool, codes[i%len(codes)])
			return err
		})
	})
	b.Run("back/own", func(b *testing.B) { g.ask(b, codes) })
}

func (g *ground) ask(b *testing.B, words []string) {
	timed(b, min(warm, len(words)), func(i int) error {
		_, err := g.l.Ask(b.Context(), words[i%len(words)])
		return err
	})
}

// weighings plans and starts as many batches as are needed for n weighings, from lots of their own.
func (g *ground) weighings(b testing.TB, n int) (list []*ledger.WeighingTaken) {
	b.Helper()
	record := func(body ledger.Body) ledger.Body {
		r, err := g.l.Record(b.Context(), g.by, ledger.Request{Body: body})
		require.NoError(b, err)
		return r.Record
	}
	formulas, err := g.l.Formulas(b.Context())
	require.NoError(b, err)
	suppliers, err := g.l.Suppliers(b.Context())
	require.NoError(b, err)
	lots := map[int64]int64{}
	for len(list) < n {
		batch := record(&ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: formulas[0].ID}).(*ledger.BatchPlanned)
		for i, line := range batch.Lines {
			if lots[line.Material] == 0 {
				mass := decimal.Min(line.Grams.Mul(decimal.NewFromInt(int64(n))), decimal.NewFromInt(10_000_000))
				lots[line.Material] = record(&ledger.LotReceived{Material: line.Material, Supplier: suppliers[0].ID, SupplierLot: "bench", Mass: grams(mass)}).(*ledger.LotReceived).ID
			}
			list = append(list, &ledger.WeighingTaken{Batch: batch.ID, Line: i + 1, Lot: lots[line.Material], Mass: grams(line.Grams),
				Scale: "bench scale", SecondCheck: ledger.SecondMethod})
		}
		record(&ledger.StepTaken{Batch: batch.ID, Step: ledger.StepStart})
	}
	return list
}

func keyOf(w *ledger.WeighingTaken) string { return fmt.Sprintf("bench %d/%d", w.Batch, w.Line) }

// benchWeighing records a weighing for good.
func (g *ground) benchWeighing(b *testing.B) {
	b.Run("floor", func(b *testing.B) {
		list := g.weighings(b, b.N+warm)
		timed(b, warm, func(i int) error { return floorWeighing(b.Context(), g.l.Pool(), g.by.ID, list[i]) })
	})
	b.Run("own", func(b *testing.B) {
		list := g.weighings(b, b.N+warm)
		timed(b, warm, func(i int) error {
			_, err := g.l.Record(b.Context(), g.by, ledger.Request{Key: keyOf(list[i]), Body: list[i]})
			return err
		})
	})
}

// benchLabel issues labels, and draws them without recording. The floor, the PDF library alone, is in labels/sheet.
func (g *ground) benchLabel(b *testing.B) {
	var bars []ledger.Lot
	for _, code := range g.texts(b, `select code from lot where what = 'bars' order by md5(code) limit 100`) {
		lot, err := g.l.BarsByCode(b.Context(), code)
		require.NoError(b, err)
		bars = append(bars, lot)
	}
	b.Run("issue/own", func(b *testing.B) {
		timed(b, warm, func(i int) error {
			_, err := labels.Issue(b.Context(), g.l, g.by, labels.Request{Lot: bars[i%len(bars)].ID, Copies: 40})
			return err
		})
	})
	b.Run("draw/own", func(b *testing.B) {
		timed(b, warm, func(i int) error {
			in, err := labels.Prepare(b.Context(), g.l, bars[i%len(bars)].ID, "")
			if err != nil {
				return err
			}
			_, err = in.Draw()
			return err
		})
	})
}
