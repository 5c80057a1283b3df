package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"ashbook/ledger"
)

// problem is an error as it is answered: problem details by RFC 9457, with the gate's findings where one refused.
type problem struct {
	Type     string           `json:"type" doc:"which problem it is; the address explains it"`
	Title    string           `json:"title"`
	Status   int              `json:"status"`
	Detail   string           `json:"detail,omitempty" doc:"what happened, to what, and what to do next"`
	Errors   []fieldError     `json:"errors,omitempty" doc:"which parts of the request are to blame"`
	Findings []ledger.Finding `json:"findings,omitempty" doc:"what the gate found"`

	wait time.Duration // before it is worth trying again; 0: nothing to say
}

type fieldError struct {
	Location string `json:"location,omitempty" doc:"for example body.record.mass"`
	Message  string `json:"message"`
}

// Error makes a problem an error, so that a handler may return one.
func (p *problem) Error() string { return p.Detail }

// GetStatus is the HTTP status, as huma asks for it.
func (p *problem) GetStatus() int { return p.Status }

// ContentType is that of problem details.
func (p *problem) ContentType(string) string { return "application/problem+json" }

// GetHeaders are what the answer carries besides, as huma asks for it.
func (p *problem) GetHeaders() http.Header {
	h := http.Header{}
	if p.wait > 0 {
		h.Set("Retry-After", strconv.Itoa(int(math.Ceil(p.wait.Seconds()))))
	}
	return h
}

// problemKind is a line of the table of problems.
type problemKind struct {
	status      int
	title       string
	explanation string
}

// problems is the one table of everything that is answered instead of what was asked for.
var problems = map[string]problemKind{
	"invalid":      {http.StatusUnprocessableEntity, "The input is wrong", "A field holds what cannot be recorded. errors names it. Mend it and send the request again under a new key."},
	"not-found":    {http.StatusNotFound, "There is no such thing", "The request names something that the ledger does not hold."},
	"conflict":     {http.StatusConflict, "It was already done or has changed", "The request does not fit what is recorded now: it was done before, the key was used for another request, or there is less than asked for. Read anew and decide."},
	"gate":         {http.StatusConflict, "A gate says no", "findings list what stands against it. Mend that, or let a person who may pass gates send the request with an override that says why."},
	"forbidden":    {http.StatusForbidden, "Your role does not allow it", "Ask an owner of the shop."},
	"internal":     {http.StatusInternalServerError, "Something went wrong in ashbook", "The cause stands in the server's log under the request id of the answer. Send the request again under the same key: it is recorded once."},
	"sign-in":      {http.StatusUnauthorized, "Nobody is signed in", "Sign in: POST /v1/session with login and password, and send the cookie."},
	"password":     {http.StatusForbidden, "The password must be changed first", "A password that somebody else gave has to be replaced before anything else is done: POST /v1/session/password."},
	"throttled":    {http.StatusTooManyRequests, "Too many attempts", "Wait as long as Retry-After says."},
	"key":          {http.StatusBadRequest, "The Idempotency-Key is missing or cannot be kept", "Every request that records carries a key of its own in the header Idempotency-Key, so that it can be sent again without being recorded twice."},
	"request":      {http.StatusBadRequest, "The request cannot be read", "It is not what the document at /v1/openapi.json describes."},
	"media-type":   {http.StatusUnsupportedMediaType, "The request is in another format", "Send JSON, with the header Content-Type: application/json."},
	"slow":         {http.StatusRequestTimeout, "The request took too long to arrive", "Send it again; a request that records is recorded once under its key."},
	"too-large":    {http.StatusRequestEntityTooLarge, "The request is too large", "Documents may have 10 MiB, anything else 1 MiB."},
	"cross-origin": {http.StatusForbidden, "Sent by another site", "A page of another site tried to send a request in your name."},
	"method":       {http.StatusMethodNotAllowed, "That is not done here", "The address is right, the method is not."},
}

// problemNames names the line of the table for each fault of the ledger.
var problemNames = map[ledger.Fault]string{
	ledger.Internal: "internal", ledger.Invalid: "invalid", ledger.NotFound: "not-found", ledger.Conflict: "conflict",
	ledger.Refused: "gate", ledger.Forbidden: "forbidden",
}

// newProblem makes a problem of a kind in the table. An internal one has a fixed text.
func newProblem(name, detail string) *problem {
	k, ok := problems[name]
	if !ok {
		panic("no problem is called " + name)
	}
	if name == "internal" {
		detail = "the request was not carried out; try again, and if it stays so, look into the server's log"
	}
	return &problem{Type: "/problems/" + name, Title: k.title, Status: k.status, Detail: detail}
}

// problemOf turns an error into the problem to answer, and logs it where the answer does not tell the cause.
func (s *Server) problemOf(ctx context.Context, err error) *problem {
	if p, ok := errors.AsType[*problem](err); ok {
		return p
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return newProblem("too-large", "the request is larger than what is taken here; send less at once")
	}
	e, ok := errors.AsType[*ledger.Error](err)
	if !ok || e.Fault == ledger.Internal {
		s.log.ErrorContext(ctx, "request failed", "request", requestName(ctx), "error", err)
		return newProblem("internal", "")
	}
	p := newProblem(problemNames[e.Fault], e.Message)
	p.Findings = e.Findings
	if e.Field != "" {
		p.Errors = []fieldError{{Location: e.Field, Message: e.Message}}
	}
	return p
}

// answerProblem answers for a whole request: problem details under /v1, a page elsewhere.
func (s *Server) answerProblem(w http.ResponseWriter, r *http.Request, p *problem) {
	maps.Copy(w.Header(), p.GetHeaders())
	if !isAPI(r) {
		s.problemPage(w, r, p)
		return
	}
	w.Header().Set("Content-Type", p.ContentType(""))
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // the client has gone; nobody is left to tell
}

func isAPI(r *http.Request) bool { return strings.HasPrefix(r.URL.Path, "/v1/") }

func (s *Server) notFound(w http.ResponseWriter, r *http.Request) {
	s.answerProblem(w, r, newProblem("not-found", fmt.Sprintf("there is nothing at %s; look whether the address is complete", r.URL.Path)))
}

func (s *Server) methodNotAllowed(w http.ResponseWriter, r *http.Request) {
	s.answerProblem(w, r, newProblem("method", fmt.Sprintf("%s does not take %s", r.URL.Path, r.Method)))
}

// explainProblem is what the type of a problem points to.
func (s *Server) explainProblem(w http.ResponseWriter, r *http.Request) {
	k, ok := problems[chi.URLParam(r, "name")]
	if !ok {
		s.notFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	fmt.Fprintf(w, "%s (%d)\n\n%s\n", k.title, k.status, k.explanation)
}
