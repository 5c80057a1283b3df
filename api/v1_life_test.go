package api

import (
	"bytes"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// soaper makes a soap with nothing but the API; everything in it is invented.
type soaper struct {
	*visitor
	lots map[string]any // by name of the material
}

func (s soaper) receive(material fields, mass string, more fields) any {
	s.h.t.Helper()
	m := s.made("/v1/materials", material)
	lot := fields{"material": m["id"], "supplier": s.lots["supplier"], "supplier_lot": "NO-" + idOf(m["id"]), "mass": grams(mass)}
	for k, v := range more {
		lot[k] = v
	}
	s.lots[material["name"].(string)] = s.made("/v1/lots", lot)["id"]
	return m["id"]
}

func (s soaper) formula() any {
	s.h.t.Helper()
	s.lots["supplier"] = s.made("/v1/suppliers", fields{"name": "Invented Oils"})["id"]
	oil := func(name, inci, low, high string) any {
		return s.receive(fields{"name": name, "kind": "oil", "us_name": name, "eu_name": inci, "sap_min": low, "sap_max": high,
			"sap_source": "Codex CXS 33-1981 and CXS 210-1999", "invented": true}, "5000", nil)
	}
	olive, coconut := oil("Olive oil", "OLEA EUROPAEA FRUIT OIL", "184", "196"), oil("Coconut oil", "COCOS NUCIFERA OIL", "248", "265")
	lye := s.receive(fields{"name": "Lye", "kind": "alkali", "alkali": "NaOH", "us_name": "Sodium Hydroxide", "eu_name": "SODIUM HYDROXIDE"}, "2000", fields{"purity": "0.98"})
	water := s.receive(fields{"name": "Water", "kind": "water", "us_name": "Water", "eu_name": "AQUA"}, "10000", nil)
	return s.made("/v1/formulas", fields{"name": "Two oils", "oil_grams": "1000", "superfat": "0.05", "concentration": "0.33", "alkali": lye, "alkali_purity": "0.98",
		"water": water, "mould_hours": 24, "bars": 12, "lines": []fields{
			{"material": olive, "basis": "percent of oils", "amount": "70"}, {"material": coconut, "basis": "grams", "amount": "300"}}})["id"]
}

func (s soaper) step(batch any, step string) {
	s.made("/v1/steps", fields{"batch": batch, "step": step})
}

// bars makes a batch of the formula up to bars on the rack.
func (s soaper) bars(formula any) (batch, lot any) {
	s.h.t.Helper()
	batch = s.made("/v1/batches", fields{"purpose": "soap", "formula_version": formula})["id"]
	s.step(batch, ledger.StepStart)
	var got batchRecord
	s.get("/v1/batches/"+idOf(batch)).json(s.h.t, &got)
	require.Len(s.h.t, got.Lines, 4)
	for _, line := range got.Lines {
		w := weighing(batch, line.Line, s.lots[line.Name], line.Planned.String())
		w["second_check"] = ledger.SecondMethod
		s.made("/v1/weighings", w)
	}
	for _, of := range []string{ledger.OilTemperature, ledger.LyeTemperature} {
		s.made("/v1/readings", fields{"batch": batch, "type": of, "typed": "104", "unit": "F"})
	}
	for _, step := range []string{ledger.StepLyeMade, ledger.StepCombine, ledger.StepPour} {
		s.step(batch, step)
	}
	s.h.clock.Add(30 * time.Hour)
	s.step(batch, ledger.StepUnmould)
	out := s.made("/v1/yields", fields{"batch": batch, "outputs": []fields{{"what": "bars", "pieces": 12, "mass": grams("1400")}}})
	return batch, out["outputs"].([]any)[0].(fields)["id"]
}

func (s soaper) cure(batch, bars any) {
	s.h.t.Helper()
	for _, mass := range []string{"116.0", "110.6", "110.4", "110.3", "110.2"} {
		s.made("/v1/readings", fields{"lot": bars, "type": "bar mass", "typed": mass, "unit": "g", "sample": "1"})
		s.h.clock.Add(7 * 24 * time.Hour)
	}
	s.made("/v1/readings", fields{"batch": batch, "type": "free alkali", "typed": "0.02", "method": "titration with 0.1 mol/L acid", "passed": true})
}

func TestASoapFromItsOilsToItsBuyer(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	maker, reviewer, seller := soaper{h.as(ledger.Maker), fields{}}, h.as(ledger.Reviewer), h.as(ledger.Seller)
	batch, bars := maker.bars(maker.formula())

	release := fields{"record": fields{"batch": batch, "decision": "released", "statement": "looked at weights, cure and alkali"}}
	early := reviewer.post("/v1/releases", release)
	require.Equal(t, "/problems/gate", early.problem(t).Type, "uncured bars are not released")
	proof := maker.label(bars)
	require.True(t, proof.Record.Proof)

	maker.cure(batch, bars)
	opened := maker.made("/v1/deviations", fields{"batch": batch, "what": "the invented thermometer fell into the pot"})
	require.Equal(t, "/problems/gate", reviewer.post("/v1/releases", release).problem(t).Type, "a deviation is open")
	reviewer.made("/v1/deviations/decisions", fields{"deviation": opened["id"], "decision": "taken out whole; nothing is missing"})
	require.Equal(t, http.StatusCreated, reviewer.post("/v1/releases", release).status)
	require.False(t, seller.label(bars).Record.Proof)

	bought := seller.post("/v1/buyers", fields{"record": fields{"type": "shop"}, "contact": fields{"name": "Invented Corner Shop"}})
	var buyer Receipt[*ledger.BuyerAdded]
	bought.json(t, &buyer)
	sent := seller.made("/v1/dispatches", fields{"channel": "shop", "buyer": buyer.Record.ID, "reference": "R-1", "lines": []fields{{"lot": bars, "pieces": 10}}})
	seller.made("/v1/returns", fields{"dispatch": sent["id"], "lot": bars, "pieces": 2, "decision": "restock", "reason": "not sold, as they left"})
	more := seller.post("/v1/dispatches", fields{"record": fields{"channel": "market", "occasion": "Invented market", "lines": []fields{{"lot": bars, "pieces": 5}}}})
	require.Equal(t, http.StatusConflict, more.status, "four are left: %s", more.body)

	var dispatch dispatchRecord
	seller.get("/v1/dispatches/"+idOf(sent["id"])).json(t, &dispatch)
	require.Equal(t, "Invented Corner Shop", dispatch.Buyer)
	require.Equal(t, "2", dispatch.Lines[0].Returned.String())
	var told ledger.Answer
	seller.get("/v1/ask?q=NO-"+idOf(maker.oliveMaterial())).json(t, &told)
	require.Equal(t, "8", told.Sent[0].Pieces.String())

	var whole batchRecord
	maker.get("/v1/batches/"+idOf(batch)).json(t, &whole)
	require.Equal(t, ledger.Released, whole.Stage)
	require.True(t, whole.Lye.Known)
	require.Len(t, whole.Releases, 1)
	require.Len(t, whole.Deviations, 1)
	v, err := h.l.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)
}

func (s soaper) oliveMaterial() any {
	var lot fields
	s.get("/v1/lots/"+idOf(s.lots["Olive oil"])).json(s.h.t, &lot)
	return lot["material_id"]
}

// label issues a label and sees that its PDF is served, and that the same request gives the same label.
func (v *visitor) label(bars any) labelReceipt {
	v.h.t.Helper()
	ask := func() reply {
		return v.send("POST", "/v1/labels", fields{"lot": bars, "copies": 12}, "Idempotency-Key", "label")
	}
	first := ask()
	require.Equal(v.h.t, http.StatusCreated, first.status, "%s", first.body)
	require.Equal(v.h.t, string(first.body), string(ask().body))
	var r labelReceipt
	first.json(v.h.t, &r)
	pdf := v.get(r.PDF)
	require.Equal(v.h.t, "application/pdf", pdf.header.Get("Content-Type"))
	require.True(v.h.t, bytes.HasPrefix(pdf.body, []byte("%PDF-")))
	return r
}
