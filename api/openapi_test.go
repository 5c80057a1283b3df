package api

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// document is as much of an OpenAPI document as the tests look at.
type document struct {
	OpenAPI string
	Info    struct{ Title, Version string }
	Paths   map[string]map[string]struct {
		OperationID string
		Summary     string
		Parameters  []struct{ Name, In string }
		RequestBody *struct{ Content map[string]any }
		Responses   map[string]struct{ Description string }
		Security    []map[string][]string
	}
	Components struct {
		Schemas         map[string]schema
		SecuritySchemes map[string]any
	}
}

type schema struct {
	Type       any
	Pattern    string
	Required   []string
	Properties map[string]schema
	ReadOnly   bool
	Enum       []any
	Ref        string `json:"$ref"`
}

func readDocument(t *testing.T) (document, []byte, *house) {
	t.Helper()
	h := newHouse(t)
	r := h.nobody().get(openAPIPath)
	require.Equal(t, http.StatusOK, r.status)
	var d document
	r.json(t, &d)
	return d, r.body, h
}

// By the OpenAPI Specification 3.1.0: required fields of the document, of an operation and of a response (section 4.8),
// operationId unique (4.8.10), path parameters declared for each template expression (4.8.12).
func TestTheDocumentIsWhole(t *testing.T) {
	t.Parallel()
	d, raw, h := readDocument(t)
	require.Equal(t, "3.1.0", d.OpenAPI)
	require.NotEmpty(t, d.Info.Title)
	require.NotEmpty(t, d.Info.Version)

	described := map[string]bool{}
	ids := map[string]bool{}
	for path, item := range d.Paths {
		for method, op := range item {
			route := strings.ToUpper(method) + " " + path
			described[route] = true
			require.NotEmpty(t, op.Summary, route)
			require.NotEmpty(t, op.OperationID, route)
			require.False(t, ids[op.OperationID], "%s twice", op.OperationID)
			ids[op.OperationID] = true
			require.NotEmpty(t, op.Responses, route)
			for status, res := range op.Responses {
				require.NotEmpty(t, res.Description, "%s %s", route, status)
			}
			for _, expression := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(path, -1) {
				require.Contains(t, op.Parameters, struct{ Name, In string }{expression[1], "path"}, route)
			}
			records := method == "post" && op.Responses["201"].Description != ""
			require.Equal(t, records, hasKey(op.Parameters), "%s: Idempotency-Key", route)
			require.Equal(t, apiRules[route] != anyone, len(op.Security) > 0, route)
		}
	}
	for _, route := range routes(t, h.server.Handler()) {
		if strings.Contains(route, " /v1/") && !strings.HasSuffix(route, openAPIPath) {
			require.True(t, described[route], "%s is not described", route)
		}
	}
	requireReferences(t, raw, d)
}

func hasKey(parameters []struct{ Name, In string }) bool {
	for _, p := range parameters {
		if p.Name == "Idempotency-Key" && p.In == "header" {
			return true
		}
	}
	return false
}

func requireReferences(t *testing.T, raw []byte, d document) {
	t.Helper()
	refs := regexp.MustCompile(`"\$ref":"([^"]+)"`).FindAllSubmatch(raw, -1)
	require.NotEmpty(t, refs)
	for _, ref := range refs {
		name, local := strings.CutPrefix(string(ref[1]), "#/components/schemas/")
		require.True(t, local, "%s", ref[1])
		require.Contains(t, d.Components.Schemas, name)
	}
}

func TestTheDocumentSaysHowDecimalsTravel(t *testing.T) {
	t.Parallel()
	d, raw, _ := readDocument(t)
	amount := d.Components.Schemas["StockMoved"].Properties["amount"]
	require.Equal(t, "string", amount.Type)
	require.Equal(t, decimalPattern, amount.Pattern)
	require.NotContains(t, string(raw), `"Decimal"`)

	m := d.Components.Schemas["Mass"]
	require.True(t, m.Properties["grams"].ReadOnly)
	require.Contains(t, m.Properties["unit"].Enum, any("lb oz"))

	optional := d.Components.Schemas["Material"].Properties["sap_min"]
	require.Equal(t, []any{"string", "null"}, optional.Type)

	for text, fits := range map[string]bool{"12.5": true, "0": true, "-3": true, "1e9": false, "": false, ".5": false, "1,5": false, "1234567890123456": false, "NaN": false} {
		require.Equal(t, fits, regexp.MustCompile(decimalPattern).MatchString(text), "%q", text)
	}
}

// Every answer of a running server must be as the document says: here the lists and a record, key by key.
func TestAnswersHaveTheKeysThatTheDocumentDescribes(t *testing.T) {
	t.Parallel()
	d, _, h := readDocument(t)
	v := h.as("owner")
	b := atTheBench(v)
	b.plan()
	for path, name := range map[string]string{"/v1/lots": "Lot", "/v1/materials": "Material", "/v1/batches": "Batch", "/v1/people": "Person", "/v1/suppliers": "Supplier"} {
		var got struct{ Items []map[string]json.RawMessage }
		v.get(path).json(t, &got)
		require.NotEmpty(t, got.Items, path)
		for _, item := range got.Items {
			for key := range item {
				require.Contains(t, d.Components.Schemas[name].Properties, key, path)
			}
			for _, key := range d.Components.Schemas[name].Required {
				require.Contains(t, item, key, path)
			}
		}
	}
}
