package api

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/http"
	"runtime/debug"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-chi/chi/v5/middleware"

	"ashbook/ledger"
)

type contextKey int

const (
	requestKey contextKey = iota
	identityKey
	wholeKey // the *http.Request itself, where a handler of the API needs it
)

// nameRequest gives each request a name of its own, for the log and for the answer. A name sent by the client is not
// taken: it could stand for two requests.
func (s *Server) nameRequest(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := rand.Text()
		w.Header().Set("X-Request-Id", name)
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), requestKey, name)))
	})
}

func requestName(ctx context.Context) string {
	name, _ := ctx.Value(requestKey).(string)
	return name
}

// logAccess writes a line for each request: no query, header or body, where secrets and names of buyers stand.
func (s *Server) logAccess(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := time.Now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		defer func() {
			s.log.InfoContext(r.Context(), "request", "request", requestName(r.Context()), "method", r.Method, "path", r.URL.Path,
				"status", ww.Status(), "bytes", ww.BytesWritten(), "took", time.Since(began), "from", address(r))
		}()
		next.ServeHTTP(ww, r)
	})
}

// recoverPanic answers 500 for a handler that panics. The server's own way to end a request passes.
func (s *Server) recoverPanic(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler {
				panic(v)
			}
			s.log.ErrorContext(r.Context(), "panic", "request", requestName(r.Context()), "panic", fmt.Sprint(v), "stack", string(debug.Stack()))
			s.answerProblem(w, r, newProblem("internal", ""))
		}()
		next.ServeHTTP(w, r)
	})
}

// policy lets a page load and post only to this server, and run no script that stands in the page.
const policy = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// setHeaders sets what every answer carries. Answers are not kept by caches unless a handler says otherwise.
func setHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// refuseCrossOrigin refuses what a page of another site sends with our cookie.
func (s *Server) refuseCrossOrigin() func(http.Handler) http.Handler {
	protection := http.NewCrossOriginProtection()
	protection.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.answerProblem(w, r, newProblem("cross-origin", "this request was sent by a page of another site and was not carried out; open ashbook itself and do it there"))
	}))
	return protection.Handler
}

const (
	maxBody     = 1 << 20                    // JSON and forms
	maxUpload   = ledger.MaxDocument + 1<<20 // a form with a paper: the paper and the other fields
	maxInBase64 = ledger.MaxDocument/3*4 + 1<<20
)

// limitBody ends a body that is larger than anything its kind could hold.
func limitBody(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most := int64(maxBody)
		switch {
		case r.URL.Path == documentsPath:
			most = maxInBase64
		case strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data"):
			most = maxUpload
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// refuseUnreadable refuses a query with text that no database keeps and no code or name holds.
func (s *Server) refuseUnreadable(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for _, values := range r.URL.Query() {
			for _, v := range values {
				if !utf8.ValidString(v) || strings.ContainsRune(v, 0) {
					s.answerProblem(w, r, newProblem("request", "the address holds characters that are no text; type it again"))
					return
				}
			}
		}
		next.ServeHTTP(w, r)
	})
}
