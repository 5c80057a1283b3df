package api

import (
	"context"
	"net"
	"net/http"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

func TestSignInOpensASessionAndSignOutEndsIt(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	v := h.nobody()
	require.Equal(t, http.StatusUnauthorized, v.get("/v1/session").status)
	maker := h.as(ledger.Maker)
	var me signedInPerson
	maker.get("/v1/session").json(t, &me)
	require.Equal(t, signedInPerson{h.people[ledger.Maker].ID, "maker", "Invented maker", ledger.Maker, false}, me)
	require.Equal(t, http.StatusNoContent, maker.send("DELETE", "/v1/session", nil).status)
	require.Equal(t, http.StatusUnauthorized, maker.get("/v1/session").status)
}

func TestTheCookieIsKeptFromScriptsAndOtherSites(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	require.NoError(t, SetPassword(t.Context(), h.l, h.people[ledger.Owner].ID, anyPassword, false))
	cookie := h.nobody().signIn("owner", anyPassword).header.Get("Set-Cookie")
	require.Regexp(t, `^ashbook=[\w-]{20,}; `, cookie)
	require.Contains(t, cookie, "HttpOnly")
	require.Contains(t, cookie, "SameSite=Lax")
	require.NotContains(t, cookie, "Secure")
	secure, err := New(Config{Ledger: h.l})
	require.NoError(t, err)
	require.True(t, secure.sessions.Cookie.Secure)

	token := regexp.MustCompile(`^ashbook=([^;]+)`).FindStringSubmatch(cookie)[1]
	var kept int
	require.NoError(t, h.l.Pool().QueryRow(t.Context(), `select count(*) from sessions where token = $1`, token).Scan(&kept))
	require.Zero(t, kept, "the table holds the token itself")
}

func TestSignInRenewsTheToken(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	v := h.as(ledger.Owner)
	first := v.signIn("owner", anyPassword).header.Get("Set-Cookie")
	second := v.signIn("owner", anyPassword).header.Get("Set-Cookie")
	require.NotEqual(t, first, second)
}

func TestAWrongPasswordAndAnUnknownLoginAreAnsweredAlike(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	require.NoError(t, SetPassword(t.Context(), h.l, h.people[ledger.Owner].ID, anyPassword, false))
	wrong := h.nobody().signIn("owner", "not the right words")
	unknown := h.nobody().signIn("nobody", "not the right words")
	withoutPassword := h.nobody().signIn("maker", "not the right words")
	require.Equal(t, http.StatusUnauthorized, wrong.status)
	require.Equal(t, "/problems/sign-in", wrong.problem(t).Type)
	require.Equal(t, string(wrong.body), string(unknown.body))
	require.Equal(t, string(wrong.body), string(withoutPassword.body))
	require.NotContains(t, string(wrong.body), "not the right words")
	require.Empty(t, unknown.header.Get("Set-Cookie"))
}

// A comparison costs one hash either way. Other tests run beside this one, so that only the order of size is asked for.
func TestAnUnknownLoginTakesAsLong(t *testing.T) {
	h := newHouse(t)
	require.NoError(t, SetPassword(t.Context(), h.l, h.people[ledger.Owner].ID, anyPassword, false))
	fastest := func(login string) time.Duration {
		best := time.Hour
		for range 4 {
			began := time.Now()
			h.nobody().signIn(login, "not the right words")
			best = min(best, time.Since(began))
		}
		return best
	}
	known, unknown := fastest("owner"), fastest("nobody")
	require.Greater(t, unknown, known/3)
	require.Less(t, unknown, known*3)
}

func TestGuessingHasToWait(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	require.NoError(t, SetPassword(t.Context(), h.l, h.people[ledger.Owner].ID, anyPassword, false))
	v := h.nobody()
	for range freeAttempts {
		require.Equal(t, http.StatusUnauthorized, v.signIn("owner", "wrong").status)
	}
	slowed := v.signIn("owner", anyPassword)
	require.Equal(t, http.StatusTooManyRequests, slowed.status)
	require.Equal(t, "/problems/throttled", slowed.problem(t).Type)
	require.Equal(t, "1", slowed.header.Get("Retry-After"))
	require.Equal(t, http.StatusUnauthorized, v.signIn("maker", "wrong").status, "another login does not wait")
	h.clock.Add(time.Second)
	require.Equal(t, http.StatusOK, v.signIn("owner", anyPassword).status)
}

func TestWaitsGrowAndAreForgotten(t *testing.T) {
	t.Parallel()
	clock := ledgertest.NewClock(time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC))
	th := newThrottle(clock.Now)
	for range freeAttempts {
		require.Zero(t, th.begin("a"))
	}
	for _, wait := range []time.Duration{1, 2, 4, 8} {
		require.Equal(t, wait*time.Second, th.begin("a"))
		clock.Add(wait * time.Second)
		require.Zero(t, th.begin("a"))
	}
	clock.Add(forgetAfter + time.Second)
	require.Zero(t, th.begin("a"))
	require.Zero(t, th.begin("a"))
}

func TestManyMadeUpLoginsDoNotFillTheMemory(t *testing.T) {
	t.Parallel()
	th := newThrottle(time.Now)
	for i := range 3 * mostKept {
		th.begin(string(rune(i)))
	}
	require.LessOrEqual(t, len(th.tries), mostKept)
}

func TestAGivenPasswordMustBeReplacedFirst(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	owner := h.as(ledger.Owner)
	path := "/v1/people/" + itoa(h.people[ledger.Maker].ID) + "/password"
	require.Equal(t, http.StatusUnprocessableEntity, owner.send("POST", path, fields{"password": "short"}).status)
	require.Equal(t, http.StatusNoContent, owner.send("POST", path, fields{"password": "handed over on paper"}).status)

	maker := h.nobody()
	require.Equal(t, http.StatusOK, maker.signIn("maker", "handed over on paper").status)
	refused := maker.get("/v1/lots")
	require.Equal(t, http.StatusForbidden, refused.status)
	require.Equal(t, "/problems/password", refused.problem(t).Type)
	require.Equal(t, passwordPath, maker.get("/").header.Get("Location"))

	change := func(old, plain string) reply {
		return maker.send("POST", "/v1/session/password", fields{"old": old, "password": plain})
	}
	require.Equal(t, "body.old", change("wrong old words", "my own long words").problem(t).Errors[0].Location)
	require.Equal(t, "body.password", change("handed over on paper", "too short").problem(t).Errors[0].Location)
	require.Equal(t, "body.password", change("handed over on paper", "aaaaaaaaaaaaaaaa").problem(t).Errors[0].Location)
	require.Equal(t, http.StatusUnprocessableEntity, change("handed over on paper", "handed over on paper").status)
	require.Equal(t, http.StatusNoContent, change("handed over on paper", "my own long words").status)
	require.Equal(t, http.StatusOK, maker.get("/v1/lots").status)
}

func TestAChangeOfPasswordEndsOtherSessions(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	here, there := h.as(ledger.Maker), h.nobody()
	c, err := h.l.Credential(t.Context(), "maker")
	require.NoError(t, err)
	require.False(t, c.MustChange)
	require.Equal(t, http.StatusOK, there.signIn("maker", anyPassword).status)
	require.Equal(t, http.StatusNoContent, here.send("POST", "/v1/session/password", fields{"old": anyPassword, "password": "other words than before"}).status)
	require.Equal(t, http.StatusOK, here.get("/v1/session").status)
	require.Equal(t, http.StatusUnauthorized, there.get("/v1/session").status)
}

func TestAccessThatEndsHoldsAtOnce(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	maker := h.as(ledger.Maker)
	h.record(&ledger.PersonChanged{ID: h.people[ledger.Maker].ID, Role: ledger.Visitor, Active: true})
	require.Equal(t, http.StatusForbidden, maker.post("/v1/suppliers", fields{"record": fields{"name": "Invented Oils"}}).status)
	h.record(&ledger.PersonChanged{ID: h.people[ledger.Maker].ID, Role: ledger.Maker, Active: false})
	require.Equal(t, http.StatusUnauthorized, maker.get("/v1/lots").status)
	require.Equal(t, http.StatusUnauthorized, maker.signIn("maker", anyPassword).status)
}

func TestTheFirstOwnerIsMadeOnce(t *testing.T) {
	t.Parallel()
	l, _ := ledgertest.Open(t)
	var (
		wg  sync.WaitGroup
		mu  sync.Mutex
		got []string
	)
	for range 4 {
		wg.Go(func() {
			login, password, created, err := EnsureOwner(context.Background(), l)
			if err != nil {
				t.Error(err)
			}
			if created {
				mu.Lock()
				defer mu.Unlock()
				got = append(got, login+" "+password)
			}
		})
	}
	wg.Wait()
	require.Len(t, got, 1)
	require.Regexp(t, `^owner [a-hjkmnp-z2-9]{5}(-[a-hjkmnp-z2-9]{5}){3}$`, got[0])
	c, err := l.Credential(t.Context(), "owner")
	require.NoError(t, err)
	require.True(t, c.MustChange)
	right, err := matches(t.Context(), got[0][len("owner "):], c.Hash)
	require.NoError(t, err)
	require.True(t, right)
}

// A start that ended after the owner was recorded and before the password was kept must not lock everyone out.
func TestAnOwnerWithoutAPasswordGetsOneAtTheNextStart(t *testing.T) {
	t.Parallel()
	l, _ := ledgertest.Open(t)
	_, err := l.Record(t.Context(), ledger.System, ledger.Request{Body: &ledger.PersonAdded{Login: "olga", Name: "Olga", Role: ledger.Owner}})
	require.NoError(t, err)
	login, password, created, err := EnsureOwner(t.Context(), l)
	require.NoError(t, err)
	require.True(t, created)
	require.Equal(t, "olga", login)
	require.NotEmpty(t, password)
	_, _, created, err = EnsureOwner(t.Context(), l)
	require.NoError(t, err)
	require.False(t, created)
}

func TestOnlyOwnPathsAreGoneBackTo(t *testing.T) {
	t.Parallel()
	for next, want := range map[string]string{
		"/batches/7?x=1": "/batches/7?x=1", "": "/", "//evil.example": "/", `/\evil.example`: "/", "https://evil.example/": "/",
		"evil": "/", "javascript:alert(1)": "/", "/": "/", "/\tx": "/", "/a\x00": "/",
	} {
		require.Equal(t, want, localPath(next), "%q", next)
	}
}

func TestServeStopsWithItsContext(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- h.server.Serve(ctx, listener) }()
	res, err := http.Get("http://" + listener.Addr().String() + "/healthz")
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusNoContent, res.StatusCode)
	stop()
	require.NoError(t, <-ended)
	_, err = http.Get("http://" + listener.Addr().String() + "/healthz")
	require.Error(t, err)
}
