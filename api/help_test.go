package api

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"strconv"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

// house is a small invented shop behind a running server, with one person of each role.
type house struct {
	t      *testing.T
	l      *ledger.Ledger
	clock  *ledgertest.Clock
	db     ledgertest.Database
	server *Server
	log    *logBook
	url    string
	people map[ledger.Role]ledger.Actor
}

const anyPassword = "four invented words here"

func newHouse(t *testing.T) *house {
	t.Helper()
	h := &house{t: t, log: &logBook{}, people: map[ledger.Role]ledger.Actor{}}
	h.l, h.clock, h.db = ledgertest.OpenDatabase(t)
	by := ledger.System
	for _, role := range ledger.Roles {
		r, err := h.l.Record(t.Context(), by, ledger.Request{Body: &ledger.PersonAdded{Login: string(role), Name: "Invented " + string(role), Role: role}})
		require.NoError(t, err)
		a, err := h.l.Actor(t.Context(), r.Record.(*ledger.PersonAdded).ID)
		require.NoError(t, err)
		h.people[role] = a
		if role == ledger.Owner {
			by = a
		}
	}
	h.record(&ledger.ShopSet{Name: "Invented Soap Works", Address: []string{"1 Nowhere Lane", "Inventia"}, Contact: "post@example.org",
		Timezone: "Europe/Vienna", Currency: "EUR", LabelStyle: "EU", CureDays: 28, LossPerWeek: decimal.RequireFromString("0.5")})
	var err error
	h.server, err = New(Config{Ledger: h.l, Logger: slog.New(slog.NewJSONHandler(h.log, nil)), Insecure: true})
	require.NoError(t, err)
	srv := httptest.NewServer(h.server.Handler())
	t.Cleanup(srv.Close)
	h.url = srv.URL
	return h
}

// record records as the owner, beside the server.
func (h *house) record(b ledger.Body) *ledger.Receipt {
	h.t.Helper()
	r, err := h.l.Record(h.t.Context(), h.people[ledger.Owner], ledger.Request{Body: b})
	require.NoError(h.t, err)
	return r
}

// visitor is a client of the server, with cookies of its own.
type visitor struct {
	h    *house
	http *http.Client
	keys int
}

func (h *house) nobody() *visitor {
	jar, err := cookiejar.New(nil)
	require.NoError(h.t, err)
	return &visitor{h: h, http: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// as gives a client that is signed in as the person of a role.
func (h *house) as(role ledger.Role) *visitor {
	h.t.Helper()
	require.NoError(h.t, SetPassword(h.t.Context(), h.l, h.people[role].ID, anyPassword, false))
	v := h.nobody()
	require.Equal(h.t, http.StatusOK, v.signIn(string(role), anyPassword).status)
	return v
}

func (v *visitor) signIn(login, password string) reply {
	return v.send("POST", "/v1/session", map[string]string{"login": login, "password": password})
}

// reply is an answer that has been read.
type reply struct {
	status int
	header http.Header
	body   []byte
}

func (r reply) json(t testing.TB, into any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(r.body, into), "%s", r.body)
}

func (r reply) problem(t testing.TB) problem {
	t.Helper()
	require.Equal(t, "application/problem+json", r.header.Get("Content-Type"), "%s", r.body)
	var p problem
	r.json(t, &p)
	require.Equal(t, r.status, p.Status)
	return p
}

// send sends a body as JSON, or a string as it stands. A header is a pair of name and value.
func (v *visitor) send(method, path string, body any, header ...string) reply {
	v.h.t.Helper()
	var b []byte
	switch body := body.(type) {
	case nil:
	case string:
		b = []byte(body)
	default:
		var err error
		b, err = json.Marshal(body)
		require.NoError(v.h.t, err)
	}
	req, err := http.NewRequestWithContext(v.h.t.Context(), method, v.h.url+path, bytes.NewReader(b))
	require.NoError(v.h.t, err)
	if len(b) > 0 {
		req.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := v.http.Do(req)
	require.NoError(v.h.t, err)
	defer res.Body.Close()
	got, err := io.ReadAll(res.Body)
	require.NoError(v.h.t, err)
	return reply{res.StatusCode, res.Header, got}
}

func (v *visitor) get(path string) reply { v.h.t.Helper(); return v.send("GET", path, nil) }

type fields = map[string]any

// post records something under a new key.
func (v *visitor) post(path string, body fields) reply {
	v.h.t.Helper()
	v.keys++
	return v.send("POST", path, body, "Idempotency-Key", fmt.Sprintf("key %d", v.keys))
}

// made posts a record in the plain envelope, which must be taken, and gives what was kept of it.
func (v *visitor) made(path string, record fields) fields {
	v.h.t.Helper()
	r := v.post(path, fields{"record": record})
	require.Equal(v.h.t, http.StatusCreated, r.status, "%s", r.body)
	var receipt struct{ Record fields }
	r.json(v.h.t, &receipt)
	return receipt.Record
}

func grams(typed string) fields { return fields{"typed": typed, "unit": "g"} }

// idOf is an id of a decoded JSON document as it stands in an address.
func idOf(id any) string { return strconv.FormatInt(int64(id.(float64)), 10) }

// ruin changes the database behind the ledger's back, as the owner of the schema.
func (h *house) ruin(sql string) {
	h.t.Helper()
	conn, err := pgx.Connect(h.t.Context(), h.db.Owner)
	require.NoError(h.t, err)
	defer conn.Close(context.Background())
	_, err = conn.Exec(h.t.Context(), "set search_path to "+ledger.Schema+"; "+sql)
	require.NoError(h.t, err)
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// logBook is a log that several requests write to.
type logBook struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logBook) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logBook) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
