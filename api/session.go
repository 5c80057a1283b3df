package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/scs/pgxstore"
	"github.com/alexedwards/scs/v2"

	"ashbook/ledger"
)

const (
	cookieName   = "ashbook"
	sessionLife  = 12 * time.Hour
	sweepEvery   = 10 * time.Minute
	personInIt   = "person"   // session: number of the person
	passwordInIt = "password" // session: fingerprint of the password's hash, which ends it when the password changes
	signInPath   = "/sign-in"
	passwordPath = "/password"
	longestLogin = 40
)

// newSessions keeps sessions in the ledger's database, each under the hash of its token: who reads the table cannot
// step into a session.
func (s *Server) newSessions(insecure bool) *scs.SessionManager {
	m := scs.New()
	m.Store = pgxstore.NewWithCleanupInterval(s.ledger.Pool(), 0) // sweepSessions cleans; the store's own cannot be stopped safely
	m.Lifetime = sessionLife
	m.HashTokenInStore = true
	m.Cookie.Name = cookieName
	m.Cookie.HttpOnly = true
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Secure = !insecure
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		s.answerProblem(w, r, s.problemOf(r.Context(), err))
	}
	return m
}

// sweepSessions removes sessions that have ended, now and then, until the context ends.
func (s *Server) sweepSessions(ctx context.Context) {
	tick := time.NewTicker(sweepEvery)
	defer tick.Stop()
	for {
		if _, err := s.ledger.Pool().Exec(ctx, `delete from sessions where expiry < current_timestamp`); err != nil && ctx.Err() == nil {
			s.log.WarnContext(ctx, "ended sessions could not be removed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// identity is who is signed in.
type identity struct {
	actor      ledger.Actor
	mustChange bool // of the password, before anything else
}

// actor is the person who is signed in; the zero Actor, who may do nothing, when nobody is.
func (s *Server) actor(ctx context.Context) ledger.Actor {
	return identityOf(ctx).actor
}

func identityOf(ctx context.Context) identity {
	id, _ := ctx.Value(identityKey).(identity)
	return id
}

// identify puts the person of the session into the context. Role and access are read anew for each request, so that a
// change of them holds at once.
func (s *Server) identify(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id, err := s.whoIs(r.Context())
		if err != nil {
			s.answerProblem(w, r, s.problemOf(r.Context(), err))
			return
		}
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), identityKey, id)))
	})
}

// whoIs reads the person of the session; nobody when there is none, or when the person's access or password has
// changed since.
func (s *Server) whoIs(ctx context.Context) (identity, error) {
	person := s.sessions.GetInt64(ctx, personInIt)
	if person == 0 {
		return identity{}, nil
	}
	actor, err := s.ledger.Actor(ctx, person)
	if ledger.FaultOf(err) == ledger.NotFound {
		return identity{}, s.sessions.Destroy(ctx)
	}
	if err != nil {
		return identity{}, err
	}
	c, err := s.ledger.Credential(ctx, actor.Login)
	if err != nil && ledger.FaultOf(err) != ledger.NotFound {
		return identity{}, err
	}
	if fingerprint(c.Hash) != s.sessions.GetString(ctx, passwordInIt) {
		return identity{}, s.sessions.Destroy(ctx)
	}
	return identity{actor, c.MustChange}, nil
}

func fingerprint(hash string) string {
	sum := sha256.Sum256([]byte(hash))
	return hex.EncodeToString(sum[:16])
}

// signIn opens a session for a login and its password. The answer is a problem, the same and after the same time
// whether the login exists or not; attempts that fail too often have to wait.
func (s *Server) signIn(r *http.Request, login, password string) error {
	ctx := r.Context()
	if len(login) > longestLogin || strings.ContainsFunc(login, func(r rune) bool { return r < ' ' || r == utf8.RuneError }) {
		login = "" // nobody's, and fit to be remembered and asked for
	}
	attempt := login + "\x00" + address(r)
	if wait := s.throttle.begin(attempt); wait > 0 {
		return throttled(wait)
	}
	c, err := s.ledger.Credential(ctx, login)
	known := err == nil
	if !known && ledger.FaultOf(err) != ledger.NotFound {
		return err
	}
	right, err := matches(ctx, password, c.Hash)
	if err != nil {
		return err
	}
	if !known || !right {
		return newProblem("sign-in", "the login or the password is wrong; type both again")
	}
	s.throttle.succeed(attempt)
	return s.openSession(ctx, c)
}

// openSession fills a session under a new token, so that a token that somebody planted before is worth nothing.
func (s *Server) openSession(ctx context.Context, c ledger.Credential) error {
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	s.sessions.Put(ctx, personInIt, c.PersonID)
	s.sessions.Put(ctx, passwordInIt, fingerprint(c.Hash))
	return nil
}

// signOut ends the session.
func (s *Server) signOut(ctx context.Context) error { return s.sessions.Destroy(ctx) }

// changePassword replaces the password of the person who is signed in. Their other sessions end.
func (s *Server) changePassword(r *http.Request, old, plain string) error {
	ctx := r.Context()
	actor := s.actor(ctx)
	attempt := actor.Login + "\x00" + address(r)
	if wait := s.throttle.begin(attempt); wait > 0 {
		return throttled(wait)
	}
	c, err := s.ledger.Credential(ctx, actor.Login)
	if err != nil {
		return err
	}
	right, err := matches(ctx, old, c.Hash)
	if err != nil {
		return err
	}
	if !right {
		return &ledger.Error{Fault: ledger.Invalid, Field: "old", Message: "this is not your present password; type it again"}
	}
	s.throttle.succeed(attempt)
	if old == plain {
		return &ledger.Error{Fault: ledger.Invalid, Field: "password", Message: "this is the old password; choose another"}
	}
	if err := SetPassword(ctx, s.ledger, actor.ID, plain, false); err != nil {
		return err
	}
	if c, err = s.ledger.Credential(ctx, actor.Login); err != nil {
		return err
	}
	return s.openSession(ctx, c)
}

// address is where a request comes from, without the port. Headers of proxies are not believed: anyone can send them.
func address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// pageFunc answers a request for a page. What it returns as an error is answered through the table of problems.
type pageFunc func(w http.ResponseWriter, r *http.Request) error

// page is a page for people with a right. Without a session it sends to the sign-in page, which leads back; with a
// password that must be changed it sends to the page for that.
func (s *Server) page(right ledger.Right, f pageFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		id := identityOf(r.Context())
		switch {
		case id.actor.ID == 0:
			http.Redirect(w, r, signInPath+"?next="+url.QueryEscape(returnTo(r)), http.StatusSeeOther)
		case id.mustChange && r.URL.Path != passwordPath:
			http.Redirect(w, r, passwordPath, http.StatusSeeOther)
		case !id.actor.May(right):
			s.answerProblem(w, r, notAllowed(id.actor, right))
		default:
			s.open(f)(w, r)
		}
	}
}

// open is a page for anyone.
func (s *Server) open(f pageFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := f(w, r); err != nil {
			s.answerProblem(w, r, s.problemOf(r.Context(), err))
		}
	}
}

// returnTo is where to go after signing in: the page asked for, or the first page after a form, which is lost.
func returnTo(r *http.Request) string {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return "/"
	}
	return r.URL.RequestURI()
}

// localPath gives a path of this server to go on to, whatever a next parameter says. Addresses of other servers, also
// those that a browser would make one of, give the first page.
func localPath(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || len(next) == 0 || next[0] != '/' {
		return "/"
	}
	if len(next) > 1 && (next[1] == '/' || next[1] == '\\') {
		return "/"
	}
	return next
}
