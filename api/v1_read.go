package api

import (
	"context"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"ashbook/ledger"
)

// list is the answer of every list.
type list[T any] struct {
	Items []T `json:"items" nullable:"false"`
}

// nothing is the input of a request without parameters.
type nothing struct{}

// byID names one thing.
type byID struct {
	ID int64 `path:"id" minimum:"1"`
}

// byBatch narrows a list to a batch.
type byBatch struct {
	Batch int64 `query:"batch" minimum:"0" doc:"number of the batch; 0: see the summary"`
}

// get mounts a read for people with a right.
func get[I, O any](a *v1, right ledger.Right, path, summary string, f func(context.Context, *I) (O, error)) {
	huma.Register(a.API, operation(http.MethodGet, path, summary, a.need(right)), func(ctx context.Context, in *I) (*answer[O], error) {
		out, err := f(ctx, in)
		if err != nil {
			return nil, a.problem(ctx, err, func(field string) string {
				if strings.Contains(path, "{id}") && !queries[I](field) {
					return "path.id" // the ledger names the thing, the address only its number
				}
				return "query." + field
			})
		}
		return &answer[O]{out}, nil
	})
}

// queries tells whether an input has a query parameter of a name.
func queries[I any](name string) bool {
	in := reflect.TypeFor[I]()
	for i := range in.NumField() {
		if in.Field(i).Tag.Get("query") == name {
			return true
		}
	}
	return false
}

// lists mounts the read of a list.
func lists[I, T any](a *v1, right ledger.Right, path, summary string, f func(context.Context, *I) ([]T, error)) {
	get(a, right, path, summary, func(ctx context.Context, in *I) (list[T], error) {
		items, err := f(ctx, in)
		if items == nil {
			items = []T{}
		}
		return list[T]{items}, err
	})
}

// whole makes a read without parameters fit for get and lists.
func whole[O any](f func(context.Context) (O, error)) func(context.Context, *nothing) (O, error) {
	return func(ctx context.Context, _ *nothing) (O, error) { return f(ctx) }
}

// numbered makes a read of one thing fit for get and lists.
func numbered[O any](f func(context.Context, int64) (O, error)) func(context.Context, *byID) (O, error) {
	return func(ctx context.Context, in *byID) (O, error) { return f(ctx, in.ID) }
}

// ofBatch makes a list of a batch fit for lists.
func ofBatch[T any](f func(context.Context, int64) ([]T, error)) func(context.Context, *byBatch) ([]T, error) {
	return func(ctx context.Context, in *byBatch) ([]T, error) { return f(ctx, in.Batch) }
}

func (a *v1) mountReads() {
	l, read := a.ledger, ledger.MayRead
	get(a, read, "/v1/shop", "The shop's settings", whole(a.shop))
	lists(a, read, "/v1/people", "The shop's people", whole(l.People))
	lists(a, read, "/v1/suppliers", "All suppliers", whole(l.Suppliers))
	lists(a, read, "/v1/materials", "All materials", whole(l.Materials))
	get(a, read, "/v1/materials/{id}", "One material", numbered(l.Material))
	lists(a, read, "/v1/lots", "Lots, first to expire first, 500 at a time", a.lots)
	get(a, read, "/v1/lots/{id}", "One lot with its papers", numbered(a.lot))
	lists(a, read, "/v1/lots/{id}/holdings", "Where all of a lot is", numbered(a.holdings))
	get(a, read, "/v1/lots/{id}/composition", "What a lot that was made here consists of: as added, and as made once oils and alkali have met; a prediction, no test", numbered(a.made))
	lists(a, read, "/v1/formulas", "All versions of formulas, the latest of each first", whole(l.Formulas))
	get(a, read, "/v1/formulas/{id}", "One version of a formula with its plan", numbered(l.Formula))
	get(a, read, "/v1/formulas/{id}/composition", "What a version of a formula will be made of when it is weighed as planned: as poured, and as now dried to 10 % of water; worked out by the materials as they are known now", numbered(l.FormulaMade))
	lists(a, read, "/v1/batches", "Batches, the newest first, 200 at a time", a.batches)
	get(a, read, "/v1/batches/{id}", "One batch with all that was recorded", numbered(a.batch))
	get(a, read, "/v1/batches/{id}/composition", "What all that was weighed into a batch makes, its portions mixed; 409 while nothing was weighed", numbered(l.MadeOfBatch))
	get(a, read, "/v1/batches/{id}/cure", "How the bars of a batch cure: drying curve of each lot, when they can be ready, what they are expected to weigh", a.cure)
	lists(a, read, "/v1/deviations", "Deviations of a batch; without one, all that are open", ofBatch(l.Deviations))
	lists(a, ledger.MaySell, "/v1/buyers", "All buyers with their contacts", whole(l.Buyers))
	lists(a, read, "/v1/dispatches", "Dispatches, the newest first, 200 at a time; private people are named only to those who sell", a.dispatches)
	get(a, read, "/v1/dispatches/{id}", "One dispatch with its lines", numbered(a.dispatch))
	lists(a, read, "/v1/labels", "Labels of a batch; without one, the last 200", ofBatch(l.Labels))
	get(a, read, "/v1/labels/{id}", "One label", numbered(l.Label))
	lists(a, read, "/v1/drills", "Mock recalls, the newest first", whole(l.Drills))
	get(a, read, "/v1/ask", "What went into it, where it went, what is not accounted for", a.ask)
	get(a, ledger.MayManage, "/v1/verify", "Replay the journal and compare every table with it", whole(l.Verify))
}

// shop gives the settings in the words in which they are set.
func (a *v1) shop(ctx context.Context) (ledger.ShopSet, error) {
	s, err := a.ledger.Shop(ctx)
	return ledger.ShopSet(s), err
}

type lotFilter struct {
	What     string `query:"what" enum:"bought,prepared,bars,remnants"`
	Material int64  `query:"material" minimum:"0"`
	Usable   bool   `query:"usable" doc:"only what is on hand, not on hold and not expired"`
	After    int64  `query:"after" minimum:"0" doc:"only lots that stand behind the lot of this number in the list; 0: from its beginning"`
}

func (a *v1) lots(ctx context.Context, in *lotFilter) ([]ledger.Lot, error) {
	return a.ledger.Lots(ctx, ledger.LotQuery{What: in.What, Material: in.Material, Usable: in.Usable, After: in.After})
}

type lotRecord struct {
	ledger.Lot
	State     string              `json:"state" doc:"what it may be used for now"`
	Documents []ledger.Document   `json:"documents"`
	Strength  *ledger.LyeStrength `json:"lye_strength,omitempty" doc:"of stock lye, by mass and by density"`
}

func (a *v1) lot(ctx context.Context, id int64) (lotRecord, error) {
	lot, err := a.ledger.Lot(ctx, id)
	if err != nil {
		return lotRecord{}, err
	}
	rec := lotRecord{Lot: lot, State: lot.State()}
	if rec.Documents, err = a.ledger.Documents(ctx, id); err != nil {
		return rec, err
	}
	rec.Strength, err = a.ledger.StockStrength(ctx, lot)
	return rec, err
}

func (a *v1) holdings(ctx context.Context, id int64) ([]ledger.Holding, error) {
	if _, err := a.ledger.Lot(ctx, id); err != nil {
		return nil, err
	}
	return a.ledger.Holdings(ctx, id)
}

func (a *v1) made(ctx context.Context, id int64) (*ledger.MadeOf, error) {
	lot, err := a.ledger.Lot(ctx, id)
	if err != nil {
		return nil, err
	}
	return a.ledger.Made(ctx, lot)
}

type batchFilter struct {
	Stage  string `query:"stage" maxLength:"40" doc:"planned, weighing, lye made, combined, poured, unmoulded, curing, released, rejected, made"`
	Before int64  `query:"before" minimum:"0" doc:"only batches with a lower number; 0: from the newest"`
}

func (a *v1) batches(ctx context.Context, in *batchFilter) ([]ledger.Batch, error) {
	return a.ledger.Batches(ctx, in.Stage, in.Before)
}

type cureFilter struct {
	ID int64  `path:"id" minimum:"1"`
	On string `query:"on" format:"date" doc:"a day to foretell masses for, YYYY-MM-DD, from the cut to two years after it; none: today and the day on which the bars can be ready"`
}

func (a *v1) cure(ctx context.Context, in *cureFilter) (*ledger.Cure, error) {
	var on time.Time
	if in.On != "" {
		var err error
		if on, err = time.Parse(time.DateOnly, in.On); err != nil {
			return nil, &ledger.Error{Fault: ledger.Invalid, Field: "on", Message: "write the day as YYYY-MM-DD, for example 2026-08-14"}
		}
	}
	return a.ledger.Cure(ctx, in.ID, on)
}

type before struct {
	Before int64 `query:"before" minimum:"0" doc:"only dispatches with a lower number; 0: from the newest"`
}

func (a *v1) dispatches(ctx context.Context, in *before) ([]ledger.Dispatch, error) {
	return a.left(ctx, in.Before)
}

type dispatchRecord struct {
	ledger.Dispatch
	Lines []ledger.SentLine `json:"lines"`
}

func (a *v1) dispatch(ctx context.Context, id int64) (dispatchRecord, error) {
	d, err := a.leftWith(ctx, id)
	if err != nil {
		return dispatchRecord{}, err
	}
	lines, err := a.ledger.SentLines(ctx, id)
	return dispatchRecord{d, lines}, err
}

type question struct {
	Q string `query:"q" required:"true" minLength:"1" maxLength:"200" doc:"a printed code, a supplier's lot number, an invoice number, or a buyer's name"`
}

func (a *v1) ask(ctx context.Context, in *question) (*ledger.Answer, error) {
	return a.asked(ctx, in.Q)
}
