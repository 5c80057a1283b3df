package api

import (
	"context"
	"fmt"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"ashbook/ledger"
)

// file is an answer of bytes.
type file struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Policy      string `header:"Content-Security-Policy"`
	Body        []byte
}

// inert is the policy of files that came from outside: whatever they hold, they run nothing here.
const inert = "default-src 'none'; frame-ancestors 'none'; sandbox"

func (a *v1) mountFiles() {
	lists(a, ledger.MayRead, documentsPath, "Papers of a lot", a.papers)
	serve(a, documentsPath+"/{id}", "The bytes of a paper", func(ctx context.Context, id int64) (*file, error) {
		d, b, err := a.ledger.Document(ctx, id)
		return fileOf(d.Title, d.MediaType, b), err
	})
	serve(a, "/v1/labels/{id}/pdf", "The PDF of a label as it was issued", func(ctx context.Context, id int64) (*file, error) {
		label, err := a.ledger.Label(ctx, id)
		if err != nil {
			return nil, err
		}
		b, err := a.ledger.File(ctx, label.Digest)
		return fileOf(labelName(label), "application/pdf", b), err
	})
}

func labelName(l ledger.Label) string { return fmt.Sprintf("label-%s-%d", l.LotCode, l.ID) }

// serve mounts the bytes of one thing.
func serve(a *v1, path, summary string, f func(context.Context, int64) (*file, error)) {
	op := operation(http.MethodGet, path, summary, a.need(ledger.MayRead))
	op.Responses = map[string]*huma.Response{"200": {Description: "the bytes", Content: map[string]*huma.MediaType{
		"*/*": {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}}
	huma.Register(a.API, op, func(ctx context.Context, in *byID) (*file, error) {
		out, err := f(ctx, in.ID)
		if err != nil {
			return nil, a.problem(ctx, err, func(string) string { return "path.id" })
		}
		return out, nil
	})
}

type byLot struct {
	Lot int64 `query:"lot" required:"true" minimum:"1" doc:"number of the lot"`
}

func (a *v1) papers(ctx context.Context, in *byLot) ([]ledger.Document, error) {
	return a.ledger.Documents(ctx, in.Lot)
}
