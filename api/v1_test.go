package api

import (
	"bytes"
	"encoding/base64"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// bench is what a premix is made of, all of it invented.
type bench struct {
	*visitor
	oil, mica, premix, oilLot, micaLot any
}

// atTheBench makes materials and lots through the API.
func atTheBench(v *visitor) bench {
	v.h.t.Helper()
	supplier := v.made("/v1/suppliers", fields{"name": "Invented Oils"})["id"]
	b := bench{visitor: v}
	b.oil = v.made("/v1/materials", fields{"name": "Sunflower oil", "kind": "oil", "eu_name": "HELIANTHUS ANNUUS SEED OIL", "sap_min": "187", "sap_max": "194",
		"sap_source": "Codex CXS 210-1999"})["id"]
	b.mica = v.made("/v1/materials", fields{"name": "Mica", "kind": "colour", "eu_name": "CI 77019"})["id"]
	b.premix = v.made("/v1/materials", fields{"name": "Blue dispersion", "kind": "prepared",
		"parts": []fields{{"material": b.mica, "share": "0.2"}, {"material": b.oil, "share": "0.8"}}})["id"]
	receive := func(material any, number string) any {
		return v.made("/v1/lots", fields{"material": material, "supplier": supplier, "supplier_lot": number, "mass": grams("500")})["id"]
	}
	b.oilLot, b.micaLot = receive(b.oil, "SU-1"), receive(b.mica, "MI-1")
	return b
}

func (b bench) plan() any {
	b.h.t.Helper()
	return b.made("/v1/batches", fields{"purpose": "premix", "material": b.premix, "lines": []fields{
		{"material": b.mica, "grams": "20", "tolerance": "0.5"}, {"material": b.oil, "grams": "80", "tolerance": "1"}}})["id"]
}

func weighing(batch, line, lot any, mass string) fields {
	return fields{"batch": batch, "line": line, "lot": lot, "mass": grams(mass)}
}

func TestAPremixFromPlanToLot(t *testing.T) {
	t.Parallel()
	b := atTheBench(newHouse(t).as(ledger.Maker))
	batch := b.plan()
	first := b.made("/v1/weighings", weighing(batch, 1, b.micaLot, "20"))
	require.Equal(t, "20", first["amount"])
	b.made("/v1/weighings", weighing(batch, 2, b.oilLot, "80"))
	b.made("/v1/yields", fields{"batch": batch, "outputs": []fields{{"what": "prepared", "mass": grams("99")}}})

	var got batchRecord
	b.get("/v1/batches/"+idOf(batch)).json(t, &got)
	require.Equal(t, ledger.Made, got.Stage)
	require.Len(t, got.Lines, 2)
	require.Len(t, got.Weighings, 2)
	require.Equal(t, "Invented maker", got.Weighings[0].Person)
	require.Len(t, got.Outputs, 1)
	require.False(t, got.Lye.Known)

	var held list[ledger.Holding]
	b.get("/v1/lots/"+idOf(b.micaLot)+"/holdings").json(t, &held)
	require.Len(t, held.Items, 3, "shelf, pot, and the supplier on the other side of the books")

	var told ledger.Answer
	b.get("/v1/ask?q=SU-1").json(t, &told)
	require.Equal(t, "SU-1", told.Asked)
	require.Len(t, told.Reached, 2)

	var usable list[ledger.Lot]
	b.get("/v1/lots?what=prepared&usable=true").json(t, &usable)
	require.Len(t, usable.Items, 1)
	require.Equal(t, got.Outputs[0].Code, usable.Items[0].Code)
}

func TestAListOfNothingIsAnEmptyList(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Visitor)
	require.JSONEq(t, `{"items":[]}`, string(v.get("/v1/drills").body))
}

func TestTheSamePostTwiceRecordsOnce(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Maker)
	send := func(name, key string) reply {
		return v.send("POST", "/v1/suppliers", fields{"record": fields{"name": name}}, "Idempotency-Key", key)
	}
	first, second := send("Invented Oils", "k"), send("Invented Oils", "k")
	require.Equal(t, http.StatusCreated, first.status)
	require.Equal(t, http.StatusCreated, second.status)
	require.Equal(t, string(first.body), string(second.body))
	var all list[ledger.Supplier]
	v.get("/v1/suppliers").json(t, &all)
	require.Len(t, all.Items, 1)

	other := send("Other Oils", "k")
	require.Equal(t, http.StatusConflict, other.status)
	require.Equal(t, "/problems/conflict", other.problem(t).Type)
	require.Contains(t, other.problem(t).Detail, "new key")
}

func TestAKeyIsNeeded(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Maker)
	body := fields{"record": fields{"name": "Invented Oils"}}
	for _, header := range [][]string{nil, {"Idempotency-Key", "  "}, {"Idempotency-Key", strings.Repeat("k", 201)}, {"Idempotency-Key", "schlüssel"}} {
		got := v.send("POST", "/v1/suppliers", body, header...)
		require.Equal(t, http.StatusBadRequest, got.status)
		require.Equal(t, "/problems/key", got.problem(t).Type)
		require.Contains(t, got.problem(t).Detail, "Idempotency-Key")
	}
	require.JSONEq(t, `{"items":[]}`, string(v.get("/v1/suppliers").body))
}

func TestAGateRefusesWithFindingsUntilSomebodyPassesIt(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	maker, reviewer := h.as(ledger.Maker), h.as(ledger.Reviewer)
	b := atTheBench(maker)
	batch := b.plan()
	b.made("/v1/lots/holds", fields{"lot": b.micaLot, "reason": "the invented certificate is missing"})
	body := fields{"record": weighing(batch, 1, b.micaLot, "20")}
	refused := b.post("/v1/weighings", body)
	require.Equal(t, http.StatusConflict, refused.status)
	p := refused.problem(t)
	require.Equal(t, "/problems/gate", p.Type)
	require.NotEmpty(t, p.Findings)
	require.Equal(t, ledger.Stop, p.Findings[0].Level)
	require.NotEmpty(t, p.Findings[0].Rule)
	require.Equal(t, http.StatusOK, b.get(p.Type).status, "the type of the problem explains it")

	body["override"] = "the certificate came by post"
	require.Equal(t, http.StatusForbidden, maker.post("/v1/weighings", body).status)
	passed := reviewer.post("/v1/weighings", body)
	require.Equal(t, http.StatusCreated, passed.status, "%s", passed.body)
	require.Contains(t, string(passed.body), `"findings"`)
}

func TestACorrectionNamesWhatItCorrects(t *testing.T) {
	t.Parallel()
	b := atTheBench(newHouse(t).as(ledger.Maker))
	batch := b.plan()
	var wrong Receipt[*ledger.WeighingTaken]
	b.post("/v1/weighings", fields{"record": weighing(batch, 1, b.micaLot, "20.4")}).json(t, &wrong)
	body := fields{"record": weighing(batch, 1, b.micaLot, "20.1"), "corrects": wrong.Entry}
	without := b.post("/v1/weighings", body)
	require.Equal(t, http.StatusUnprocessableEntity, without.status)
	require.Equal(t, "body.reason", without.problem(t).Errors[0].Location)
	body["reason"] = "read from the wrong line"
	var right Receipt[*ledger.WeighingTaken]
	b.post("/v1/weighings", body).json(t, &right)
	require.Equal(t, wrong.Entry, right.Corrects)
	require.Equal(t, "read from the wrong line", right.Reason)

	struck := b.post("/v1/strikes", fields{"corrects": right.Entry, "reason": "weighed into another pot"})
	require.Equal(t, http.StatusCreated, struck.status, "%s", struck.body)
	require.Equal(t, http.StatusUnprocessableEntity, b.post("/v1/strikes", fields{"corrects": right.Entry}).status)
	var got batchRecord
	b.get("/v1/batches/"+idOf(batch)).json(t, &got)
	for _, w := range got.Weighings {
		require.NotNil(t, w.StruckBy)
	}
}

func TestProblemsNameTheField(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Owner)
	for name, c := range map[string]struct {
		path     string
		body     fields
		status   int
		location string
	}{
		"the ledger's check":  {"/v1/people", fields{"record": fields{"login": "A B", "name": "x", "role": "maker"}}, 422, "body.record.login"},
		"the schema's check":  {"/v1/people", fields{"record": fields{"login": "ab", "name": "x", "role": "king"}}, 422, "body.record.role"},
		"a missing field":     {"/v1/people", fields{"record": fields{"login": "ab", "role": "maker"}}, 422, "body.record"},
		"a field too many":    {"/v1/suppliers", fields{"record": fields{"name": "x", "nmae": "y"}}, 422, "body.record.nmae"},
		"another case":        {"/v1/suppliers", fields{"record": fields{"Name": "x"}}, 422, "body.record.Name"},
		"a number for a text": {"/v1/stock-moves", fields{"record": fields{"lot": 1, "way": "kept", "amount": 5, "reason": "x"}}, 422, "body.record.amount"},
		"a power of ten":      {"/v1/stock-moves", fields{"record": fields{"lot": 1, "way": "kept", "amount": "1e999999999", "reason": "x"}}, 422, "body.record.amount"},
		"no such lot":         {"/v1/lots/holds", fields{"record": fields{"lot": 999, "reason": "x"}}, 404, "body.record.lot"},
		"time ahead":          {"/v1/suppliers", fields{"record": fields{"name": "x"}, "happened_at": "2031-01-01T00:00:00Z"}, 422, "body.happened_at"},
		"a contact":           {"/v1/buyers", fields{"record": fields{"type": "shop"}, "contact": fields{"name": " "}}, 422, "body.contact.name"},
	} {
		got := v.post(c.path, c.body)
		require.Equal(t, c.status, got.status, "%s: %s", name, got.body)
		var places []string
		for _, e := range got.problem(t).Errors {
			places = append(places, e.Location)
			require.NotEmpty(t, e.Message)
		}
		require.Contains(t, places, c.location, name)
	}
}

func TestBodiesThatCannotBeRead(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Owner)
	send := func(body string, header ...string) reply {
		return v.send("POST", "/v1/suppliers", body, append([]string{"Idempotency-Key", "k"}, header...)...)
	}
	for body, status := range map[string]int{
		`{"record":{"name":"a"`:                         400,
		`{"record":{"name":"a"},"record":{"name":"b"}}`: 400,
		`{"record":{"name":"a","name":"b"}}`:            400,
		`{"record":{"name":"a\u0000b"}}`:                400,
		`{"record":null}`:                               422,
		`{}`:                                            422,
		`[]`:                                            422,
		"":                                              400,
		`{"record":{"name":"` + strings.Repeat("a", 2<<20) + `"}}`: 413,
	} {
		got := send(body)
		require.Equal(t, status, got.status, "%.60s: %.300s", body, got.body)
		got.problem(t)
	}
	require.Equal(t, http.StatusUnsupportedMediaType, send(`{"record":{"name":"a"}}`, "Content-Type", "text/plain").status)
	require.JSONEq(t, `{"items":[]}`, string(v.get("/v1/suppliers").body))
}

func TestKeysMayRepeatInDifferentObjects(t *testing.T) {
	t.Parallel()
	var v any
	require.NoError(t, unmarshal([]byte(`{"a":[{"x":1,"y":"x"},{"x":2}],"b":{"a":"b","c":["c","c"]}}`), &v))
	require.ErrorContains(t, unmarshal([]byte(`{"a":[{"x":1,"y":{},"x":2}]}`), &v), `"x" stands twice`)
}

func TestWhatIsNotThere(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Owner)
	for path, location := range map[string]string{"/v1/lots/999": "path.id", "/v1/batches/999": "path.id", "/v1/dispatches/999": "path.id", "/v1/documents/999": "path.id",
		"/v1/formulas/999": "path.id", "/v1/labels/999/pdf": "path.id", "/v1/materials/999": "path.id", "/v1/lots/999/holdings": "path.id", "/v1/ask?q=nothing-known": "query.q"} {
		got := v.get(path)
		require.Equal(t, http.StatusNotFound, got.status, path)
		require.Equal(t, location, got.problem(t).Errors[0].Location, path)
	}
	require.Equal(t, "/problems/not-found", v.get("/v1/nowhere").problem(t).Type)
	require.Equal(t, http.StatusMethodNotAllowed, v.send("PUT", "/v1/lots", nil).status)
	require.Equal(t, http.StatusUnprocessableEntity, v.get("/v1/lots/one").status)
	require.Equal(t, http.StatusUnprocessableEntity, v.get("/v1/lots?whta=bars").status)
	require.Equal(t, http.StatusUnprocessableEntity, v.get("/v1/ask").status)
	require.Equal(t, http.StatusBadRequest, v.get("/v1/ask?q=%00").status)
	require.Equal(t, http.StatusBadRequest, v.get("/v1/ask?q=%ff").status)
}

// A record may be sent back as it came; what the ledger works out is not taken from the sender.
func TestFieldsThatAreWorkedOutAreNotBelieved(t *testing.T) {
	t.Parallel()
	b := atTheBench(newHouse(t).as(ledger.Maker))
	batch := b.plan()
	record := weighing(batch, 1, b.micaLot, "20")
	record["amount"], record["poured_grams"], record["planned"], record["leaves"] = "1", "1", "1", true
	record["findings"] = []fields{{"rule": "x", "level": "warn", "text": "y"}}
	record["mass"].(fields)["grams"] = "1"
	kept := b.made("/v1/weighings", record)
	require.Equal(t, "20", kept["amount"])
	require.Equal(t, "20", kept["poured_grams"])
	require.Equal(t, "20", kept["planned"])
	require.Equal(t, "20", kept["mass"].(fields)["grams"])
	require.Nil(t, kept["leaves"])
	require.NotContains(t, kept, "findings")

	send := func(record fields) reply {
		return b.send("POST", "/v1/suppliers", fields{"record": record}, "Idempotency-Key", "the same request")
	}
	require.Equal(t, string(send(fields{"name": "Other Oils"}).body), string(send(fields{"name": "Other Oils", "id": 7}).body), "it is the same request with and without them")
	added := b.made("/v1/suppliers", fields{"id": 1, "name": "More Oils"})
	require.NotEqual(t, "1", idOf(added["id"]))
}

func TestADocumentComesBackAsBytesThatRunNothing(t *testing.T) {
	t.Parallel()
	b := atTheBench(newHouse(t).as(ledger.Maker))
	file := func(content []byte, title string) fields {
		r := b.post("/v1/documents", fields{"record": fields{"lot": b.oilLot, "type": "certificate", "title": title}, "content": base64.StdEncoding.EncodeToString(content)})
		require.Equal(t, http.StatusCreated, r.status, "%s", r.body)
		var got struct{ Record fields }
		r.json(t, &got)
		return got.Record
	}
	page := []byte("<html><script>alert(1)</script></html>")
	kept := file(page, "a/b\"c")
	require.Equal(t, "text/html; charset=utf-8", kept["media_type"])
	got := b.get("/v1/documents/" + idOf(kept["id"]))
	require.Equal(t, page, got.body)
	require.Equal(t, "application/octet-stream", got.header.Get("Content-Type"))
	require.Equal(t, "nosniff", got.header.Get("X-Content-Type-Options"))
	require.Contains(t, got.header.Get("Content-Security-Policy"), "sandbox")
	require.Equal(t, "attachment; filename=a-b-c.bin", got.header.Get("Content-Disposition"))

	large := append([]byte("%PDF-1.7\n"), bytes.Repeat([]byte{7}, ledger.MaxDocument-9)...)
	kept = file(large, "as large as may be")
	got = b.get("/v1/documents/" + idOf(kept["id"]))
	require.Equal(t, "application/pdf", got.header.Get("Content-Type"))
	require.True(t, bytes.Equal(large, got.body))

	for _, content := range [][]byte{{}, append(large, 7)} {
		r := b.post("/v1/documents", fields{"record": fields{"lot": b.oilLot, "type": "photo", "title": "x"}, "content": base64.StdEncoding.EncodeToString(content)})
		require.Equal(t, http.StatusUnprocessableEntity, r.status)
		require.Equal(t, "body.content", r.problem(t).Errors[0].Location)
	}
	var papers list[ledger.Document]
	b.get("/v1/documents?lot="+idOf(b.oilLot)).json(t, &papers)
	require.Len(t, papers.Items, 2)
}

func TestABuyersContactStandsBesideTheRecord(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Seller)
	r := v.post("/v1/buyers", fields{"record": fields{"type": "shop"}, "contact": fields{"name": "Invented Corner Shop", "email": "shop@example.org"}})
	require.Equal(t, http.StatusCreated, r.status, "%s", r.body)
	require.NotContains(t, string(r.body), "Corner")
	var buyers list[ledger.Buyer]
	v.get("/v1/buyers").json(t, &buyers)
	require.Equal(t, "Invented Corner Shop", buyers.Items[0].Name)
}

func TestVerifyFindsTheBooksInOrder(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	v := h.as(ledger.Owner)
	atTheBench(v)
	var verdict ledger.Verdict
	v.get("/v1/verify").json(t, &verdict)
	require.Empty(t, verdict.Difference)
	require.Positive(t, verdict.Entries)
}

// What went wrong inside is written to the log and not to the caller.
func TestAnInnerErrorKeepsItsTextInside(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	v := h.as(ledger.Owner)
	h.ruin(`alter table supplier rename column name to secret_name`)
	got := v.get("/v1/suppliers")
	require.Equal(t, http.StatusInternalServerError, got.status)
	require.Equal(t, newProblem("internal", "").Detail, got.problem(t).Detail)
	require.NotContains(t, string(got.body), "column")
	require.Contains(t, h.log.String(), got.header.Get("X-Request-Id"))
	require.Contains(t, h.log.String(), "column")
	require.NotContains(t, h.log.String(), anyPassword)
}
