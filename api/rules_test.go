package api

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// What a route asks for beside the rights of the ledger.
const (
	anyone    ledger.Right = "anyone"
	anySigned ledger.Right = "any session"
)

// apiRules states for every route outside the pages who may take it. The rules of the pages are pageRules. They are
// written down a second time here, apart from the code that asks for them, so that a slip there is found.
var apiRules = map[string]ledger.Right{
	"GET /healthz":                  anyone,
	"GET /problems/{name}":          anyone,
	"GET /v1/openapi.json":          anyone,
	"POST /v1/session":              anyone,
	"DELETE /v1/session":            anyone,
	"GET /v1/session":               anySigned,
	"POST /v1/session/password":     anySigned,
	"POST /v1/people/{id}/password": ledger.MayManage,

	"POST /v1/shop":                 ledger.MayManage,
	"POST /v1/people":               ledger.MayManage,
	"POST /v1/people/changes":       ledger.MayManage,
	"POST /v1/suppliers":            ledger.MayMake,
	"POST /v1/materials":            ledger.MayMake,
	"POST /v1/lots":                 ledger.MayMake,
	"POST /v1/lots/holds":           ledger.MaySell,
	"POST /v1/lots/frees":           ledger.MayRelease,
	"POST /v1/documents":            ledger.MayMake,
	"POST /v1/formulas":             ledger.MayMake,
	"POST /v1/batches":              ledger.MayMake,
	"POST /v1/weighings":            ledger.MayMake,
	"POST /v1/readings":             ledger.MayMake,
	"POST /v1/steps":                ledger.MayMake,
	"POST /v1/splits":               ledger.MayMake,
	"POST /v1/yields":               ledger.MayMake,
	"POST /v1/deviations":           ledger.MayMake,
	"POST /v1/deviations/decisions": ledger.MayRelease,
	"POST /v1/releases":             ledger.MayRelease,
	"POST /v1/stock-moves":          ledger.MayMake,
	"POST /v1/buyers":               ledger.MaySell,
	"POST /v1/dispatches":           ledger.MaySell,
	"POST /v1/returns":              ledger.MaySell,
	"POST /v1/labels":               ledger.MaySell,
	"POST /v1/drills":               ledger.MaySell,
	"POST /v1/strikes":              ledger.MaySell,

	"GET /v1/shop":                      ledger.MayRead,
	"GET /v1/people":                    ledger.MayRead,
	"GET /v1/suppliers":                 ledger.MayRead,
	"GET /v1/materials":                 ledger.MayRead,
	"GET /v1/materials/{id}":            ledger.MayRead,
	"GET /v1/lots":                      ledger.MayRead,
	"GET /v1/lots/{id}":                 ledger.MayRead,
	"GET /v1/lots/{id}/holdings":        ledger.MayRead,
	"GET /v1/lots/{id}/composition":     ledger.MayRead,
	"GET /v1/batches/{id}/composition":  ledger.MayRead,
	"GET /v1/documents":                 ledger.MayRead,
	"GET /v1/documents/{id}":            ledger.MayRead,
	"GET /v1/formulas":                  ledger.MayRead,
	"GET /v1/formulas/{id}":             ledger.MayRead,
	"GET /v1/formulas/{id}/composition": ledger.MayRead,
	"GET /v1/batches":                   ledger.MayRead,
	"GET /v1/batches/{id}":              ledger.MayRead,
	"GET /v1/batches/{id}/cure":         ledger.MayRead,
	"GET /v1/deviations":                ledger.MayRead,
	"GET /v1/buyers":                    ledger.MaySell,
	"GET /v1/dispatches":                ledger.MayRead,
	"GET /v1/dispatches/{id}":           ledger.MayRead,
	"GET /v1/labels":                    ledger.MayRead,
	"GET /v1/labels/{id}":               ledger.MayRead,
	"GET /v1/labels/{id}/pdf":           ledger.MayRead,
	"GET /v1/drills":                    ledger.MayRead,
	"GET /v1/ask":                       ledger.MayRead,
	"GET /v1/verify":                    ledger.MayManage,
}

// routes walks what is mounted: method and pattern.
func routes(t *testing.T, h http.Handler) []string {
	t.Helper()
	var found []string
	require.NoError(t, chi.Walk(h.(chi.Routes), func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		found = append(found, method+" "+route)
		return nil
	}))
	slices.Sort(found)
	return found
}

// endsSession tells whether nobody is signed in after a route was taken.
func endsSession(route string) bool {
	return route == "DELETE /v1/session" || route == "POST /sign-out"
}

func TestEveryRouteStatesWhoMayTakeIt(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	rules := maps.Clone(apiRules)
	maps.Copy(rules, pageRules)
	found := routes(t, h.server.Handler())
	for _, route := range found {
		require.Contains(t, rules, route, "a route without a rule")
	}
	for route := range rules {
		require.Contains(t, found, route, "a rule without a route")
	}

	h.tryAll(h.nobody(), ledger.Actor{}, found, rules)
	for _, role := range ledger.Roles {
		h.tryAll(h.as(role), h.people[role], found, rules)
	}
}

// tryAll takes every route as one person, with ids of nothing and empty bodies.
func (h *house) tryAll(v *visitor, as ledger.Actor, found []string, rules map[string]ledger.Right) {
	h.t.Helper()
	for _, route := range found {
		method, pattern, _ := strings.Cut(route, " ")
		got := v.try(method, pattern)
		if endsSession(route) && as.ID != 0 {
			v.signIn(string(as.Role), anyPassword)
		}
		switch right := rules[route]; {
		case right == anyone, right == anySigned && as.ID != 0, as.May(right):
			require.NotEqual(h.t, http.StatusForbidden, got.status, "%s as %q: %s", route, as.Role, got.body)
			if route != "POST /sign-in" { // which answers 401 to empty fields
				require.NotEqual(h.t, http.StatusUnauthorized, got.status, "%s as %q: %s", route, as.Role, got.body)
			}
			require.NotContains(h.t, got.header.Get("Location"), signInPath+"?next", "%s as %q", route, as.Role)
			require.Less(h.t, got.status, 500, "%s as %q: %s", route, as.Role, got.body)
		case as.ID != 0:
			require.Equal(h.t, http.StatusForbidden, got.status, "%s as %q", route, as.Role)
		case strings.HasPrefix(pattern, "/v1/"):
			require.Equal(h.t, http.StatusUnauthorized, got.status, "%s without a session", route)
		default:
			require.Equal(h.t, http.StatusSeeOther, got.status, "%s without a session", route)
			require.Contains(h.t, got.header.Get("Location"), signInPath, route)
		}
	}
}

func (v *visitor) try(method, pattern string) reply {
	path := pattern
	for {
		before, rest, found := strings.Cut(path, "{")
		if !found {
			break
		}
		_, after, _ := strings.Cut(rest, "}")
		path = before + "999999" + after
	}
	path = strings.TrimSuffix(path, "*")
	if method == http.MethodGet || method == http.MethodDelete {
		return v.send(method, path, nil)
	}
	if strings.HasPrefix(path, "/v1/") {
		return v.send(method, path, "{}", "Idempotency-Key", "k")
	}
	return v.send(method, path, "", "Content-Type", "application/x-www-form-urlencoded")
}
