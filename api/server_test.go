package api

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

func TestAPostOfAnotherSiteIsRefused(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Maker)
	body := fields{"record": fields{"name": "Invented Oils"}}
	for _, header := range [][]string{
		{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://elsewhere.example"},
	} {
		got := v.send("POST", "/v1/suppliers", body, append(header, "Idempotency-Key", "k")...)
		require.Equal(t, http.StatusForbidden, got.status)
		require.Equal(t, "/problems/cross-origin", got.problem(t).Type)
	}
	require.Equal(t, http.StatusCreated, v.send("POST", "/v1/suppliers", body, "Sec-Fetch-Site", "same-origin", "Idempotency-Key", "k").status)
}

func TestEveryAnswerCarriesTheHeaders(t *testing.T) {
	t.Parallel()
	v := newHouse(t).nobody()
	for _, path := range []string{"/", "/v1/lots", "/v1/nowhere", "/nowhere", "/healthz", "/sign-in"} {
		h := v.get(path).header
		require.Contains(t, h.Get("Content-Security-Policy"), "default-src 'self'", path)
		require.Contains(t, h.Get("Content-Security-Policy"), "frame-ancestors 'none'", path)
		require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		require.Equal(t, "same-origin", h.Get("Referrer-Policy"), path)
		require.NotEmpty(t, h.Get("X-Request-Id"), path)
	}
}

func TestAPanicIsAnsweredAndLogged(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	handler := h.server.nameRequest(h.server.recoverPanic(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("a bug") })))
	w := httptest.NewRecorder()
	handler.ServeHTTP(w, httptest.NewRequest("GET", "/v1/lots", nil))
	require.Equal(t, http.StatusInternalServerError, w.Code)
	require.NotContains(t, w.Body.String(), "a bug")
	require.Contains(t, h.log.String(), "a bug")
}

func TestHeadIsAnsweredLikeGet(t *testing.T) {
	t.Parallel()
	v := newHouse(t).as(ledger.Visitor)
	got := v.send("HEAD", "/v1/lots", nil)
	require.Equal(t, http.StatusOK, got.status)
	require.Empty(t, got.body)
}
