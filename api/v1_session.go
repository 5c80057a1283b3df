package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humachi"

	"ashbook/ledger"
)

const sessionPath = "/v1/session"

// signedInPerson tells a program whom its session belongs to.
type signedInPerson struct {
	Person     int64       `json:"person"`
	Login      string      `json:"login"`
	Name       string      `json:"name"`
	Role       ledger.Role `json:"role"`
	MustChange bool        `json:"must_change" doc:"the password has to be replaced before anything else"`
}

func (id identity) describe() signedInPerson {
	return signedInPerson{id.actor.ID, id.actor.Login, id.actor.Name, id.actor.Role, id.mustChange}
}

type credentials struct {
	Body struct {
		Login    string `json:"login" maxLength:"40"`
		Password string `json:"password" maxLength:"200" format:"password"`
	} `nameHint:"Credentials"`
}

type newPassword struct {
	Body struct {
		Old      string `json:"old" maxLength:"200" format:"password" doc:"the present password"`
		Password string `json:"password" maxLength:"200" format:"password" doc:"the new one, of 12 characters or more"`
	} `nameHint:"NewPassword"`
}

type givenPassword struct {
	ID   int64 `path:"id" minimum:"1"`
	Body struct {
		Password string `json:"password" maxLength:"200" format:"password" doc:"12 characters or more; to be replaced at the first sign-in"`
	} `nameHint:"GivenPassword"`
}

// withRequest lets a handler ask where the request comes from.
func withRequest(ctx huma.Context, next func(huma.Context)) {
	r, _ := humachi.Unwrap(ctx)
	next(huma.WithValue(ctx, wholeKey, r))
}

func requestOf(ctx context.Context) *http.Request { return ctx.Value(wholeKey).(*http.Request) }

func inBody(field string) string { return "body." + field }

func (a *v1) mountSession() {
	signIn := operation(http.MethodPost, sessionPath, "Sign in")
	signIn.Middlewares = huma.Middlewares{withRequest}
	huma.Register(a.API, signIn, a.openedSession)
	huma.Register(a.API, operation(http.MethodGet, sessionPath, "Who is signed in", a.signedIn), a.presentSession)
	signOut := operation(http.MethodDelete, sessionPath, "Sign out")
	huma.Register(a.API, signOut, func(ctx context.Context, _ *nothing) (*nothing, error) {
		if err := a.signOut(ctx); err != nil {
			return nil, a.problem(ctx, err, inBody)
		}
		return nil, nil
	})
	huma.Register(a.API, operation(http.MethodPost, sessionPath+"/password", "Replace your own password", a.signedIn, withRequest), a.replacedPassword)
	huma.Register(a.API, operation(http.MethodPost, "/v1/people/{id}/password", "Give a person a password", a.need(ledger.MayManage)), a.gavePassword)
}

func (a *v1) openedSession(ctx context.Context, in *credentials) (*answer[signedInPerson], error) {
	if err := a.signIn(requestOf(ctx), in.Body.Login, in.Body.Password); err != nil {
		return nil, a.problem(ctx, err, inBody)
	}
	id, err := a.whoIs(ctx)
	if err != nil {
		return nil, a.problem(ctx, err, inBody)
	}
	return &answer[signedInPerson]{id.describe()}, nil
}

func (a *v1) presentSession(ctx context.Context, _ *nothing) (*answer[signedInPerson], error) {
	return &answer[signedInPerson]{identityOf(ctx).describe()}, nil
}

func (a *v1) replacedPassword(ctx context.Context, in *newPassword) (*nothing, error) {
	if err := a.changePassword(requestOf(ctx), in.Body.Old, in.Body.Password); err != nil {
		return nil, a.problem(ctx, err, inBody)
	}
	return nil, nil
}

func (a *v1) gavePassword(ctx context.Context, in *givenPassword) (*nothing, error) {
	err := SetPassword(ctx, a.ledger, in.ID, in.Body.Password, true)
	if ledger.FaultOf(err) == ledger.NotFound {
		return nil, a.problem(ctx, &ledger.Error{Fault: ledger.NotFound, Field: "id", Message: "there is no person of that number with access"},
			func(string) string { return "path.id" })
	}
	if err != nil {
		return nil, a.problem(ctx, err, inBody)
	}
	return nil, nil
}
