package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humachi"
	"github.com/go-chi/chi/v5"

	"ashbook/ledger"
)

const (
	documentsPath = "/v1/documents"
	openAPIPath   = "/v1/openapi.json"
)

// v1 is the JSON API while it is put together.
type v1 struct {
	*Server
	huma.API
}

// mountAPI mounts the JSON API and its document. The document is made once, of what was mounted.
func (s *Server) mountAPI(r chi.Router) error {
	a := &v1{s, humachi.New(r, apiConfig())}
	a.mountSession()
	a.mountWrites()
	a.mountReads()
	a.mountFiles()
	describeNullable(a.OpenAPI().Components.Schemas)
	document, err := json.Marshal(a.OpenAPI())
	if err != nil {
		return fmt.Errorf("describe the API: %w", err)
	}
	r.Get(openAPIPath, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/openapi+json")
		_, _ = w.Write(document) // the client has gone; nobody is left to tell
	})
	return nil
}

func apiConfig() huma.Config {
	format := huma.Format{Marshal: huma.DefaultJSONFormat.Marshal, Unmarshal: unmarshal}
	return huma.Config{
		OpenAPI: &huma.OpenAPI{
			OpenAPI: "3.1.0",
			Info: &huma.Info{Title: "ashbook", Version: "1", Description: "Batch records of a soap workshop. Masses, shares and money are decimals and travel " +
				"as strings. Every request that records carries an Idempotency-Key; sent again under the same key it gives the same receipt and records nothing."},
			Components: &huma.Components{
				Schemas: newRegistry(),
				SecuritySchemes: map[string]*huma.SecurityScheme{"session": {Type: "apiKey", In: "cookie", Name: cookieName,
					Description: "the cookie that POST /v1/session sets"}},
			},
		},
		Formats:       map[string]huma.Format{"application/json": format, "json": format}, // "json" stands for all that end in +json
		DefaultFormat: "application/json",
		// A mistyped parameter would otherwise widen a list without a word.
		RejectUnknownQueryParameters: true,
	}
}

// guard lets a request through to its operation, or answers in its place.
type guard = func(huma.Context, func(huma.Context))

// operation describes one. Guards run before the input is read, so that who may not do a thing learns nothing by trying.
func operation(method, path, summary string, guards ...guard) huma.Operation {
	op := huma.Operation{Method: method, Path: path, OperationID: operationID(method, path), Summary: summary,
		Tags: []string{strings.Split(path, "/")[2]}, Middlewares: guards, MaxBodyBytes: maxBody, BodyReadTimeout: bodyPatience}
	if len(guards) > 0 {
		op.Security = []map[string][]string{{"session": {}}}
	}
	return op
}

func operationID(method, path string) string {
	words := strings.FieldsFunc(strings.TrimPrefix(path, "/v1/"), func(r rune) bool { return strings.ContainsRune("/{}", r) })
	return strings.ToLower(method) + "-" + strings.Join(words, "-")
}

// signedIn asks for a session, whatever state its password is in.
func (a *v1) signedIn(ctx huma.Context, next func(huma.Context)) {
	if identityOf(ctx.Context()).actor.ID == 0 {
		a.deny(ctx, newProblem("sign-in", "nobody is signed in, or the session has ended; sign in and send the request again"))
		return
	}
	next(ctx)
}

// need asks for a session of a person with a right, whose password is the person's own.
func (a *v1) need(right ledger.Right) guard {
	return func(ctx huma.Context, next func(huma.Context)) {
		a.signedIn(ctx, func(ctx huma.Context) {
			id := identityOf(ctx.Context())
			switch {
			case id.mustChange:
				a.deny(ctx, newProblem("password", "the password was given by somebody else; replace it first"))
			case !id.actor.May(right):
				a.deny(ctx, notAllowed(id.actor, right))
			default:
				next(ctx)
			}
		})
	}
}

func (a *v1) deny(ctx huma.Context, p *problem) {
	r, w := humachi.Unwrap(ctx)
	a.answerProblem(w, r, p)
}

// problem is problemOf with the field named by its place in the request, as huma names those that it finds itself.
func (a *v1) problem(ctx context.Context, err error, locate func(field string) string) error {
	p := a.problemOf(ctx, err)
	for i := range p.Errors {
		p.Errors[i].Location = locate(p.Errors[i].Location)
	}
	return p
}
