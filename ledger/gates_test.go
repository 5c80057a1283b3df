package ledger_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// rulesOf gives the rules of a refusal that stop, and fails unless it is one by a gate.
func rulesOf(t *testing.T, err error) []string {
	t.Helper()
	e, ok := errors.AsType[*ledger.Error](err)
	require.True(t, ok, "%v", err)
	require.Equal(t, ledger.Refused, e.Fault, err.Error())
	return rules(e.Findings, ledger.Stop)
}

func rules(findings []ledger.Finding, level ledger.Level) (names []string) {
	for _, f := range findings {
		if f.Level == level && !slices.Contains(names, f.Rule) {
			names = append(names, f.Rule)
		}
	}
	return names
}

// stops fails unless exactly these rules stop the body.
func (w *workshop) stops(b ledger.Body, want ...string) error {
	w.t.Helper()
	err := w.try(b)
	require.ElementsMatch(w.t, want, rulesOf(w.t, err), "%v", err)
	return err
}

func textOf(t *testing.T, err error, rule string) string {
	t.Helper()
	e, _ := errors.AsType[*ledger.Error](err)
	for _, f := range e.Findings {
		if f.Rule == rule {
			return f.Text
		}
	}
	require.Fail(t, "no finding", rule)
	return ""
}

func TestWeighGate(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	line := w.lineOf(b, w.olive) // 700 g, 2 % either way
	weigh := func(lot int64, mass string) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: b.ID, Line: line, Lot: lot, Mass: grams(mass)}
	}
	old := record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-0", Mass: grams("900"), BestBefore: "2026-05-03"})
	today := record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-3", Mass: grams("900"), BestBefore: "2026-05-04"})
	w.stops(weigh(old.ID, "700"), "lot-expired")
	w.stops(weigh(w.coconutLot, "700"), "other-material")
	w.stops(weigh(w.oliveLot, "685.9"), "off-plan")
	w.stops(weigh(w.oliveLot, "714.1"), "off-plan")
	record(w, &ledger.LotHeld{Lot: w.oliveLot, Reason: "smells odd"})
	w.stops(weigh(w.oliveLot, "700"), "lot-on-hold")
	w.stops(weigh(w.oliveLot, "70"), "lot-on-hold", "off-plan")
	record(w, &ledger.LotFreed{Lot: w.oliveLot, Reason: "it was the cloth"})

	err := w.stops(weigh(w.oliveLot, "70"), "off-plan")
	require.Contains(t, textOf(t, err, "off-plan"), "a tenth of the plan, as if the decimal point had slipped")
	ounces := weigh(w.oliveLot, "24.69") // 700 g are 24.69 oz
	err = w.stops(ounces, "off-plan")
	require.Contains(t, textOf(t, err, "off-plan"), "as if ounces had been typed as grams")

	record(w, weigh(today.ID, "714")) // in date on its last day, at the edge of the tolerance
	w.stops(weigh(w.oliveLot, "700"), "second-addition")
	w.stops(weigh(w.oliveLot, "1"), "second-addition")
	w.verify()
}

func TestWeighInParts(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	part := func(mass string, partial bool) *ledger.WeighingTaken {
		return &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams(mass), Partial: partial}
	}
	w.stops(part("300", false), "off-plan")
	record(w, part("300", true))
	w.stops(part("500", true), "off-plan") // too much is not partial
	record(w, part("200", true))
	record(w, part("200", false))
	w.stops(part("100", true), "second-addition")
	w.verify()
}

// Days are the shop's days: half past eleven at night in UTC is the next day in Vienna.
func TestExpiryIsByTheShopsDay(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	lot := record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-3", Mass: grams("900"), BestBefore: "2026-05-04"})
	usable := func() bool {
		lots, err := w.l.Lots(t.Context(), ledger.LotQuery{Material: w.olive, Usable: true})
		require.NoError(t, err)
		return slices.ContainsFunc(lots, func(l ledger.Lot) bool { return l.ID == lot.ID })
	}
	weigh := &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: lot.ID, Mass: grams("700")}
	w.clock.Set(time.Date(2026, 5, 4, 22, 30, 0, 0, time.UTC))
	require.False(t, usable())
	w.stops(weigh, "lot-expired")
	w.clock.Set(time.Date(2026, 5, 4, 21, 30, 0, 0, time.UTC))
	require.True(t, usable())
	record(w, weigh)
}

func TestStartGate(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	plan := func(oils string) *ledger.StepTaken {
		b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID, OilGrams: dec(oils)})
		return &ledger.StepTaken{Batch: b.ID, Step: ledger.StepStart}
	}
	err := w.stops(plan("8000"), "stock-short") // 5600 g of olive oil and 5000 on the shelf
	require.Contains(t, textOf(t, err, "stock-short"), "Olive oil: 5600 g needed, 5000 g usable")
	next := plan("1000")
	record(w, &ledger.LotHeld{Lot: w.coconutLot, Reason: "smells odd"})
	err = w.stops(next, "stock-not-usable")
	require.Contains(t, textOf(t, err, "stock-not-usable"), "Coconut oil")
	w.receive(w.coconut, "CO-2", "299.9")
	w.stops(next, "stock-not-usable")
	w.receive(w.coconut, "CO-3", "0.1")
	record(w, next)
	w.verify()
}

// combining is a batch that is weighed with a mass of alkali and warm.
func (w *workshop) combining(alkali string) int64 {
	w.t.Helper()
	b := w.started()
	for i, line := range b.Lines {
		mass, override := line.Grams.String(), ""
		if line.Material == w.lye {
			mass, override = alkali, "a test of the gate"
		}
		_, err := w.l.Record(w.t.Context(), w.owner, ledger.Request{Override: override, Body: &ledger.WeighingTaken{Batch: b.ID, Line: i + 1,
			Lot: w.lotFor(line.Material), Mass: grams(mass), SecondCheck: ledger.SecondMethod}})
		require.NoError(w.t, err)
	}
	w.warm(b.ID)
	return b.ID
}

func combine(batch int64) *ledger.StepTaken {
	return &ledger.StepTaken{Batch: batch, Step: ledger.StepCombine}
}

// 700 g of olive oil at SAP 190 and 300 g of coconut oil at 256.5, the middles of the ranges of Codex CXS 33-1981 and
// CXS 210-1999, take 209.95 g of KOH, so 209.95 × 39.997 / 56.1056 = 149.67078 g of NaOH, 152.7253 g at 98 %.
func TestCombineGateLooksAtTheLye(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.stops(combine(w.combining("152.8")), "lye-heavy")
	w.stops(combine(w.combining("152.7")), "lye-heavy-likely") // nothing is left: as likely lye-heavy as not
	w.stops(combine(w.combining("150.9")), "lye-heavy-likely") // 1.2 %
	b := w.combining("150.2")
	lye, err := w.l.Lye(t.Context(), b)
	require.NoError(t, err)
	require.InDelta(t, 0.1427, lye.Budget.Chance.InexactFloat64(), 0.001) // two million draws, ranges and purity rectangular
	possible := record(w, combine(b))
	require.Equal(t, []string{"lye-heavy-possible", "superfat-off-plan"}, rules(possible.Findings, ledger.Warn))
	require.Contains(t, possible.Findings[0].Text, "a certificate for the oil's lot would narrow it")
	planned := record(w, combine(w.combining("145.1")))
	require.Empty(t, planned.Findings)
	off := record(w, combine(w.combining("139")))
	require.Equal(t, []string{"weighed-short", "superfat-off-plan"}, rules(off.Findings, ledger.Warn))
	w.verify()
}

// A certificate of the lot narrows the answer: the same weighing that stopped over the published range passes.
func TestCertificateNarrowsTheChance(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	w.oliveLot = record(w, &ledger.LotReceived{Material: w.olive, Supplier: w.supplier, SupplierLot: "OL-2", Mass: grams("2000"),
		SAPValue: ptr(dec("190")), SAPHalf: ptr(dec("1"))}).ID
	b := w.combining("150.2")
	lye, err := w.l.Lye(t.Context(), b)
	require.NoError(t, err)
	require.InDelta(t, 0.1427, lye.Published.Chance.InexactFloat64(), 0.001) // two million draws each, ranges and purity rectangular
	require.InDelta(t, 0.0368, lye.Budget.Chance.InexactFloat64(), 0.001)
	require.Less(t, lye.Budget.Uncertainty.InexactFloat64(), lye.Published.Uncertainty.InexactFloat64())
	require.Equal(t, "Coconut oil", lye.Budget.Inputs[0].Name)
	require.NotContains(t, rules(record(w, combine(b)).Findings, ledger.Warn), "lye-heavy-possible")
	w.verify()
}

// A formula may have limits of its own, narrower or wider than the shop's.
func TestFormulaHasLimitsOfItsOwn(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := *w.formula
	f.Formula, f.Name, f.LyeWarn, f.LyeStop = 0, "Careful", ptr(dec("0.01")), ptr(dec("0.1"))
	w.formula = record(w, &f)
	w.stops(combine(w.combining("150.2")), "lye-heavy-likely")
	f.Name, f.Superfat = "Thin", dec("0.01")
	f.LyeWarn, f.LyeStop = nil, nil
	w.formula = record(w, &f)
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	w.stops(&ledger.StepTaken{Batch: b.ID, Step: ledger.StepStart}, "lye-heavy-likely")
	f.Name, f.Superfat = "Middling", dec("0.02")
	w.formula = record(w, &f)
	b = record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: w.formula.ID})
	start := record(w, &ledger.StepTaken{Batch: b.ID, Step: ledger.StepStart})
	require.Equal(t, []string{"lye-heavy-possible"}, rules(start.Findings, ledger.Warn))
	w.verify()
}

func TestCombineGateWantsAllWeighed(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	w.stops(combine(b.ID), "not-weighed", "lye-unknown", "temperature-missing")
	weigh := func(material int64, mass string, second string) {
		record(w, &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, material), Lot: w.lotFor(material), Mass: grams(mass), SecondCheck: second, Partial: true})
	}
	weigh(w.lye, "145.1", "")
	weigh(w.olive, "700", "")
	weigh(w.coconut, "300", "")
	w.warm(b.ID)
	w.stops(combine(b.ID), "not-weighed") // water
	weigh(w.water, "200", "")
	require.Contains(t, textOf(t, w.stops(combine(b.ID), "not-weighed"), "not-weighed"), "more was to follow")
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "that is all there is", Body: &ledger.WeighingTaken{Batch: b.ID,
		Line: w.lineOf(b, w.water), Lot: w.waterLot, Mass: grams("50")}})
	require.NoError(t, err)
	done := record(w, combine(b.ID)) // the scent may follow
	require.ElementsMatch(t, []string{"weighed-short", "lye-weighed-once"}, rules(done.Findings, ledger.Warn))

	pour := &ledger.StepTaken{Batch: b.ID, Step: ledger.StepPour}
	require.Contains(t, textOf(t, w.stops(pour, "not-weighed"), "not-weighed"), "Scent of hay")
	weigh(w.scent, "30", "")
	record(w, pour)
	w.verify()
}

func TestCombineGateLooksAtTemperatures(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b := w.started()
	w.weigh(b.ID)
	read := func(kind, typed, unit string) {
		record(w, &ledger.ReadingTaken{Batch: b.ID, Type: kind, Typed: typed, Unit: unit})
		w.clock.Add(time.Minute)
	}
	read(ledger.OilTemperature, "42", "C")
	w.stops(combine(b.ID), "temperature-missing")
	read(ledger.LyeTemperature, "50.1", "C") // the formula asks for 30 to 50 °C
	require.NotContains(t, textOf(t, w.stops(combine(b.ID), "temperature-outside"), "temperature-outside"), "other scale")
	read(ledger.LyeTemperature, "104", "C") // 40 °C, had it been typed as °F
	require.Contains(t, textOf(t, w.stops(combine(b.ID), "temperature-outside"), "temperature-outside"), "degrees of the other scale")
	read(ledger.LyeTemperature, "40", "F")
	require.Contains(t, textOf(t, w.stops(combine(b.ID), "temperature-outside"), "temperature-outside"), "degrees of the other scale")
	read(ledger.LyeTemperature, "122", "F") // 50 °C
	read(ledger.OilTemperature, "85", "F")  // 29.4 °C
	w.stops(combine(b.ID), "temperature-outside")
	read(ledger.OilTemperature, "86", "F") // 30 °C
	record(w, combine(b.ID))
	w.verify()
}

func TestPourGateLooksAtTheLyeAgain(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch := w.combining("145.1")
	record(w, combine(batch))
	more := &ledger.WeighingTaken{Batch: batch, Lot: w.lyeLot, Mass: grams("20")} // more alkali at trace
	w.stops(more, "lye-unplanned")
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "it looked too soft", Body: more})
	require.NoError(t, err)
	pour := &ledger.StepTaken{Batch: batch, Step: ledger.StepPour}
	w.stops(pour, "lye-heavy")
	record(w, &ledger.WeighingTaken{Batch: batch, Lot: w.oliveLot, Mass: grams("150")}) // put right with oil
	record(w, pour)
	w.verify()
}

func TestUnmouldGate(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch := w.combining("145.1")
	w.step(batch, ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour)
	w.clock.Add(24*time.Hour - time.Second)
	unmould := &ledger.StepTaken{Batch: batch, Step: ledger.StepUnmould}
	err := w.stops(unmould, "too-early")
	require.Contains(t, textOf(t, err, "too-early"), "24 hours in the mould")
	w.clock.Add(time.Second)
	record(w, unmould)
	w.verify()
}

func TestReleaseGateWantsCure(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	release := &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}
	record(w, &ledger.ReadingTaken{Batch: b.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid"})
	weigh := func(mass string) {
		record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: "1"})
		w.clock.Add(7 * 24 * time.Hour)
	}
	for _, mass := range []string{"116.0", "115.9", "115.8"} {
		weigh(mass)
	}
	err := w.stops(release, "not-cured")
	require.Contains(t, textOf(t, err, "not-cured"), "Cut 21 days ago; 28 days are asked for")
	weigh("112")
	err = w.stops(release, "not-cured")
	require.Contains(t, textOf(t, err, "not-cured"), "still lose")
	for _, mass := range []string{"111.9", "111.8", "111.7"} {
		weigh(mass)
	}
	kept := record(w, release)
	require.Equal(t, []string{"no-sample-kept"}, rules(kept.Findings, ledger.Warn))
	w.verify()
}

// A weighing that does not go with the others is pointed at, though the bars are slow enough with it and without it.
func TestReleaseGatePointsAtAnOddWeighing(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	for _, masses := range [][2]string{{"116.0", "114.0"}, {"109.3", "107.5"}, {"107.0", "105.0"}, {"105.8", "104.0"}, {"105.2", "105.0"}, {"104.8", "103.0"}, {"104.6", "102.8"}, {"104.5", "102.7"}, {"104.4", "102.6"}, {"104.4", "102.6"}} {
		for j, mass := range masses {
			record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: ledger.BarMass, Typed: mass, Unit: "g", Sample: []string{"1", "2"}[j]})
		}
		w.clock.Add(7 * 24 * time.Hour)
	}
	record(w, &ledger.ReadingTaken{Batch: b.ID, Type: ledger.FreeAlkali, Typed: "0.02", Method: "titration with 0.1 mol/L acid", Passed: ptr(true)})
	kept := record(w, &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"})
	require.Equal(t, []string{"odd-weighing", "no-sample-kept"}, rules(kept.Findings, ledger.Warn))
	require.Contains(t, kept.Findings[0].Text, `The weighing of bar "2"`)
	w.verify()
}

func TestReleaseGateWantsAMeasuredTest(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.dry(bars)
	release := &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}
	test := func(kind, typed string, passed bool) {
		record(w, &ledger.ReadingTaken{Lot: bars.ID, Type: kind, Typed: typed, Method: "invented method", Passed: ptr(passed)})
		w.clock.Add(time.Minute)
	}
	w.stops(release, "alkali-test-missing")
	test(ledger.AlkaliTongueTest, "0", true)
	w.stops(release, "alkali-test-missing") // the tongue alone is no evidence
	test(ledger.FreeAlkali, "0.2", false)
	w.stops(release, "alkali-test-failed")
	test(ledger.PH, "9.5", true)
	w.stops(release, "alkali-test-failed") // another method does not outweigh it
	test(ledger.FreeAlkali, "0.02", true)
	test(ledger.AlkaliTongueTest, "1", false)
	w.stops(release, "alkali-test-failed")
	test(ledger.AlkaliTongueTest, "0", true)

	d := record(w, &ledger.DeviationOpened{Batch: b.ID, What: "the room stood at 35 °C for a day"})
	err := w.stops(release, "open-deviation")
	require.Contains(t, textOf(t, err, "open-deviation"), "the room stood at 35 °C")
	record(w, &ledger.DeviationDecided{Deviation: d.ID, Decision: "looked at the bars: no sweat, no cracks"})
	fault(t, w.try(&ledger.DeviationDecided{Deviation: d.ID, Decision: "again"}), ledger.Conflict)
	record(w, &ledger.StockMoved{Lot: bars.ID, Way: ledger.KeptBack, Amount: dec("1"), Reason: "sample"})
	require.Empty(t, record(w, release).Findings)
	require.Equal(t, "11 1", w.at(bars.ID, "ready")+" "+w.at(bars.ID, "kept"))
	w.verify()
}

// A weighing that is corrected after the cut can show that the soap was lye-heavy all along.
func TestReleaseGateLooksAtTheLye(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	w.cure(b.ID, bars)
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Corrects: w.entryOf(b.ID, w.oliveLot), Reason: "it was the small jug", Override: "a test of the gate",
		Body: &ledger.WeighingTaken{Batch: b.ID, Line: w.lineOf(b, w.olive), Lot: w.oliveLot, Mass: grams("600")}})
	require.NoError(t, err)
	w.stops(&ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Released, Statement: "looked"}, "lye-heavy")
	record(w, &ledger.ReleaseDecided{Batch: b.ID, Decision: ledger.Rejected, Statement: "lye-heavy"}) // rejecting needs no evidence
	require.Equal(t, "12", w.at(bars.ID, "rack"))
	w.verify()
}

func TestDispatchAndLabelGates(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	b, bars := w.make()
	send := &ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 1}}}
	label := func(proof bool) error {
		doc := ledger.FileDocument(0, "", "", "", []byte("invented label"))
		_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Files: [][]byte{[]byte("invented label")}, Body: &ledger.LabelIssued{Lot: bars.ID,
			Style: "EU", Copies: 1, Proof: proof, SHA256: doc.SHA256, Inputs: doc.SHA256}})
		return err
	}
	w.stops(send, "not-released")
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "a friend wants one", Body: send})
	require.Equal(t, []string{"not-released"}, rulesOf(t, err), "no reason sends what nobody released")
	fault(t, label(false), ledger.Refused)
	require.NoError(t, label(true))
	w.cure(b.ID, bars)
	w.release(b.ID)
	require.NoError(t, label(false))
	record(w, &ledger.LotHeld{Lot: bars.ID, Reason: "a complaint"})
	w.stops(send, "lot-on-hold")
	fault(t, label(false), ledger.Refused)
	record(w, &ledger.LotFreed{Lot: bars.ID, Reason: "looked into"})
	record(w, send)
	fault(t, w.try(&ledger.DispatchSent{Channel: "gift", Lines: []ledger.DispatchLine{{Lot: bars.ID, Pieces: 12}}}), ledger.Conflict) // 11 are left
	w.verify()
}

func TestPassAGateAgainstItsWord(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	batch := w.combining("155") // 1 - 155 × 0.98 / 149.67078 is -1.49 %
	req := ledger.Request{Override: " a titration will decide ", Body: combine(batch)}
	_, err := w.l.Record(t.Context(), w.maker, req)
	fault(t, err, ledger.Forbidden)
	blank := req
	blank.Override = "  "
	_, err = w.l.Record(t.Context(), w.owner, blank)
	require.Equal(t, []string{"lye-heavy"}, rulesOf(t, err))

	r, err := w.l.Record(t.Context(), w.owner, req)
	require.NoError(t, err)
	require.Equal(t, []string{"lye-heavy"}, rules(r.Record.(*ledger.StepTaken).Findings, ledger.Stop))
	conn := connect(t, w.db.Service)
	body := queryColumn[string](t, conn, `select body from entry where kind = 'gate.passed' and id > $1`, r.Entry)
	require.Len(t, body, 1)
	require.Contains(t, body[0], `"gate":"combine"`)
	require.Contains(t, body[0], `"rules":["lye-heavy"]`)
	require.Contains(t, body[0], "superfat as weighed -1.5 %")
	require.Contains(t, body[0], `"reason":"a titration will decide"`)
	reasons := queryColumn[string](t, conn, `select reason from gate_pass where batch_id = $1 and gate = 'combine' and person_id = $2`, batch, w.owner.ID)
	require.Equal(t, []string{"a titration will decide"}, reasons)
	w.verify()
}

// The passing of a dispatch is kept with the lot that something spoke against.
func TestPassADispatchKeepsTheLot(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	_, one := w.released()
	_, two := w.released()
	record(w, &ledger.LotHeld{Lot: one.ID, Reason: "a complaint"})
	_, err := w.l.Record(t.Context(), w.owner, ledger.Request{Override: "samples for the laboratory", Body: &ledger.DispatchSent{Channel: "tester",
		Lines: []ledger.DispatchLine{{Lot: one.ID, Pieces: 1}, {Lot: two.ID, Pieces: 1}}}})
	require.NoError(t, err)
	lots := queryColumn[int64](t, connect(t, w.db.Service), `select lot_id from gate_pass where gate = 'dispatch'`)
	require.Equal(t, []int64{one.ID}, lots)
}

// fourOils is the formula of the worked recipe.
func (w *workshop) fourOils() *ledger.FormulaDefined {
	oil := func(name, low, high string) int64 {
		return record(w, &ledger.MaterialDefined{Name: name, Type: "oil", SAPMin: ptr(dec(low)), SAPMax: ptr(dec(high)), SAPSource: "Codex CXS 210-1999"}).ID
	}
	palm, castor := oil("Palm oil", "190", "209"), oil("Castor oil", "176", "187")
	return &ledger.FormulaDefined{Name: "Four oils", OilGrams: dec("1000"), Superfat: dec("0.05"), Concentration: dec("0.33"), Alkali: w.lye,
		AlkaliPurity: dec("0.98"), Water: w.water, Bars: 12, Lines: []ledger.FormulaLine{{Material: w.olive, Basis: ledger.ByPercent, Amount: dec("50")},
			{Material: w.coconut, Basis: ledger.ByPercent, Amount: dec("25")}, {Material: palm, Basis: ledger.ByPercent, Amount: dec("20")},
			{Material: castor, Basis: ledger.ByPercent, Amount: dec("5")}}}
}

// The four-oil example that is worked in testdata/reference/chem-check-values.csv, rows four_oil_naoh_weighed (143.81057 g),
// four_oil_water_33 (291.97904 g) and four_oil_superfat_entered (0.05006984433010753): olive 500 g at SAP 190, coconut
// 250 at 256.5, palm 200 at 199.5, castor 50 at 181.5; 5 % superfat, alkali of 98 %, lye of 33 %.
func TestLyeSumOfTheFourOilExample(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	f := record(w, w.fourOils())
	palmLot, castorLot := w.receive(f.Lines[2].Material, "PA-1", "1000"), w.receive(f.Lines[3].Material, "CA-1", "1000")
	b := record(w, &ledger.BatchPlanned{Purpose: ledger.ForSoap, FormulaVersion: f.ID})
	require.Equal(t, "143.8", b.Lines[0].Grams.String())
	require.Equal(t, "292", b.Lines[1].Grams.String())
	w.step(b.ID, ledger.StepStart)
	for i, lot := range []int64{w.lyeLot, w.waterLot, w.oliveLot, w.coconutLot, palmLot, castorLot} {
		record(w, &ledger.WeighingTaken{Batch: b.ID, Line: i + 1, Lot: lot, Mass: grams(b.Lines[i].Grams.String())})
	}
	lye, err := w.l.Lye(t.Context(), b.ID)
	require.NoError(t, err)
	require.True(t, lye.Known)
	// The example takes 56.1056 and 39.997 g/mol as the soap package does; eleven places are kept from it.
	require.Equal(t, "0.05006984433", lye.Superfat.StringFixed(11))
	require.Equal(t, "0.330", lye.Concentration.StringFixed(3))
	require.Equal(t, "1000", lye.OilGrams.String())
	record(w, combine(b.ID)) // a formula without a temperature window asks for no temperature
}
