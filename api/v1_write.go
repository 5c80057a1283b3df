package api

import (
	"context"
	"fmt"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"ashbook/labels"
	"ashbook/ledger"
)

// posted is the body of a request that records.
type posted interface {
	request() ledger.Request
	// locate names the place of a field in the body, for errors.
	locate(field string) string
}

// Envelope is what all kinds of entry are sent in.
type Envelope[B ledger.Body] struct {
	Record     B         `json:"record" doc:"what is recorded; fields that are worked out may be left out and are not believed"`
	HappenedAt time.Time `json:"happened_at,omitzero" doc:"when it happened, if not now"`
	Corrects   int64     `json:"corrects,omitempty" minimum:"1" doc:"number of the entry that this one puts right"`
	Reason     string    `json:"reason,omitempty" maxLength:"1000" doc:"why it is corrected"`
	Override   string    `json:"override,omitempty" maxLength:"1000" doc:"why a gate is passed against its word"`
}

func (e Envelope[B]) request() ledger.Request {
	clearReadOnly(reflect.ValueOf(e.Record))
	return ledger.Request{HappenedAt: e.HappenedAt, Corrects: e.Corrects, Reason: e.Reason, Override: e.Override, Body: e.Record}
}

func (e Envelope[B]) locate(field string) string {
	switch field {
	case "record", "happened_at", "corrects", "override":
		return "body." + field
	case "reason": // the correction's, unless that was given
		if e.Corrects != 0 && strings.TrimSpace(e.Reason) == "" {
			return "body.reason"
		}
	}
	return "body.record." + field
}

// buyerEnvelope carries the personal data of a buyer beside the record.
type buyerEnvelope struct {
	Envelope[*ledger.BuyerAdded]
	Contact ledger.Contact `json:"contact" doc:"personal data; kept outside the journal, so that it can be erased"`
}

func (e buyerEnvelope) request() ledger.Request {
	r := e.Envelope.request()
	r.Contact = &e.Contact
	return r
}

func (e buyerEnvelope) locate(field string) string {
	switch field {
	case "name", "address", "email", "phone":
		return "body.contact." + field
	}
	return e.Envelope.locate(field)
}

// paper is the part of a document's record that the sender states; the rest follows from its bytes.
type paper struct {
	Lot       int64  `json:"lot"`
	Type      string `json:"type" enum:"certificate,safety data sheet,allergen declaration,scent certificate,invoice,photo,other"`
	Title     string `json:"title" maxLength:"200"`
	ExpiresOn string `json:"expires_on,omitempty" format:"date"`
}

type documentEnvelope struct {
	Record     paper     `json:"record"`
	Content    []byte    `json:"content" doc:"the bytes in base64; up to 10 MiB of them"`
	HappenedAt time.Time `json:"happened_at,omitzero" doc:"when it happened, if not now"`
}

func (e documentEnvelope) request() ledger.Request {
	p := e.Record
	return ledger.Request{HappenedAt: e.HappenedAt, Files: [][]byte{e.Content}, Body: ledger.FileDocument(p.Lot, p.Type, p.Title, p.ExpiresOn, e.Content)}
}

func (e documentEnvelope) locate(field string) string {
	switch field {
	case "happened_at":
		return "body.happened_at"
	case "size", "sha256", "media_type":
		return "body.content"
	}
	return "body.record." + field
}

// strike takes an entry back; there is nothing to record beside that.
type strike struct {
	Corrects   int64     `json:"corrects" minimum:"1" doc:"number of the entry to strike"`
	Reason     string    `json:"reason" minLength:"1" maxLength:"1000" doc:"why it is struck"`
	HappenedAt time.Time `json:"happened_at,omitzero" doc:"when it was found out, if not now"`
}

func (s strike) request() ledger.Request {
	return ledger.Request{HappenedAt: s.HappenedAt, Corrects: s.Corrects, Reason: s.Reason, Body: &ledger.EntryStruck{}}
}

func (strike) locate(field string) string { return "body." + field }

// Receipt is ledger.Receipt with the kind of its record, so that the document can describe it.
type Receipt[B ledger.Body] struct {
	Entry      int64     `json:"entry" doc:"number of the entry in the journal"`
	Kind       string    `json:"kind"`
	HappenedAt time.Time `json:"happened_at"`
	RecordedAt time.Time `json:"recorded_at"`
	Corrects   int64     `json:"corrects,omitempty"`
	Reason     string    `json:"reason,omitempty"`
	Record     B         `json:"record" doc:"the record as it was kept, with what was worked out"`
}

func receiptOf[B ledger.Body](r *ledger.Receipt) Receipt[B] {
	return Receipt[B]{r.Entry, r.Kind, r.HappenedAt, r.RecordedAt, r.Corrects, r.Reason, r.Record.(B)}
}

// keyed is the input of every request that records.
type keyed[I any] struct {
	Key  string `header:"Idempotency-Key" required:"true" maxLength:"200" doc:"a text of the sender's, new for each thing to record"`
	Body I
}

type answer[O any] struct{ Body O }

// needKey asks for an Idempotency-Key that can be kept.
func (a *v1) needKey(ctx huma.Context, next func(huma.Context)) {
	key := ctx.Header("Idempotency-Key")
	if strings.TrimSpace(key) == "" {
		a.deny(ctx, newProblem("key", "send the header Idempotency-Key with a text of your own, new for each thing to record and the same when you send it again"))
		return
	}
	if strings.ContainsFunc(key, func(r rune) bool { return r < ' ' || r > '~' }) || len(key) > 200 {
		a.deny(ctx, newProblem("key", "the Idempotency-Key has more than 200 characters, or others than printable ASCII; take for example a UUID"))
		return
	}
	next(ctx)
}

func writing(a *v1, path, summary string, right ledger.Right) huma.Operation {
	op := operation(http.MethodPost, path, summary, a.need(right), a.needKey)
	op.DefaultStatus = http.StatusCreated
	return op
}

// post mounts the recording of one kind of entry, sent as I.
func post[B ledger.Body, I posted](a *v1, path, summary string) {
	var kind B
	op := writing(a, path, summary, kind.Right())
	if path == documentsPath {
		op.MaxBodyBytes = maxInBase64
	}
	huma.Register(a.API, op, func(ctx context.Context, in *keyed[I]) (*answer[Receipt[B]], error) {
		req := in.Body.request()
		req.Key = in.Key
		r, err := a.ledger.Record(ctx, a.actor(ctx), req)
		if err != nil {
			return nil, a.problem(ctx, err, in.Body.locate)
		}
		return &answer[Receipt[B]]{receiptOf[B](r)}, nil
	})
}

// write mounts the recording of one kind of entry in the plain envelope.
func write[B ledger.Body](a *v1, path, summary string) { post[B, Envelope[B]](a, path, summary) }

func (a *v1) mountWrites() {
	write[*ledger.ShopSet](a, "/v1/shop", "State who the shop is and its limits")
	write[*ledger.PersonAdded](a, "/v1/people", "Add a person")
	write[*ledger.PersonChanged](a, "/v1/people/changes", "Change a person's role, or end or renew access")
	write[*ledger.SupplierAdded](a, "/v1/suppliers", "Add a supplier")
	write[*ledger.MaterialDefined](a, "/v1/materials", "Describe a material")
	write[*ledger.LotReceived](a, "/v1/lots", "Receive a supplier's lot")
	write[*ledger.LotHeld](a, "/v1/lots/holds", "Put a lot on hold")
	write[*ledger.LotFreed](a, "/v1/lots/frees", "Free a lot from hold")
	post[*ledger.DocumentFiled, documentEnvelope](a, documentsPath, "File a paper of a lot")
	write[*ledger.FormulaDefined](a, "/v1/formulas", "Define a formula or its next version")
	write[*ledger.BatchPlanned](a, "/v1/batches", "Open a batch")
	write[*ledger.WeighingTaken](a, "/v1/weighings", "Take a weighing")
	write[*ledger.ReadingTaken](a, "/v1/readings", "Take a reading")
	write[*ledger.StepTaken](a, "/v1/steps", "Take a step of a batch")
	write[*ledger.PortionsSplit](a, "/v1/splits", "Divide a batch into its portions")
	write[*ledger.BatchYielded](a, "/v1/yields", "Count and weigh what a batch gave")
	write[*ledger.DeviationOpened](a, "/v1/deviations", "Note a deviation")
	write[*ledger.DeviationDecided](a, "/v1/deviations/decisions", "Decide a deviation")
	write[*ledger.ReleaseDecided](a, "/v1/releases", "Release or reject a batch")
	write[*ledger.StockMoved](a, "/v1/stock-moves", "Move stock by hand")
	post[*ledger.BuyerAdded, buyerEnvelope](a, "/v1/buyers", "Add a buyer")
	write[*ledger.DispatchSent](a, "/v1/dispatches", "Send bars out")
	write[*ledger.DispatchReturned](a, "/v1/returns", "Take bars back")
	write[*ledger.DrillRecorded](a, "/v1/drills", "Record a mock recall")
	post[*ledger.EntryStruck, strike](a, "/v1/strikes", "Strike an entry")
	a.mountLabel()
}

// labelWanted asks for a label.
type labelWanted struct {
	Lot    int64  `json:"lot" doc:"a lot of bars"`
	Copies int    `json:"copies" minimum:"1" doc:"how many are to be printed"`
	Style  string `json:"style,omitempty" enum:"US,EU" doc:"whose rules it follows; empty: the shop's own"`
}

type labelReceipt struct {
	Receipt[*ledger.LabelIssued]
	PDF string `json:"pdf" doc:"address of the PDF"`
}

func (a *v1) mountLabel() {
	op := writing(a, "/v1/labels", "Issue a label", (*ledger.LabelIssued).Right(nil))
	huma.Register(a.API, op, func(ctx context.Context, in *keyed[labelWanted]) (*answer[labelReceipt], error) {
		issued, err := labels.Issue(ctx, a.ledger, a.actor(ctx), labels.Request{Key: in.Key, Lot: in.Body.Lot, Copies: in.Body.Copies, Style: in.Body.Style})
		if err != nil {
			return nil, a.problem(ctx, err, func(field string) string { return "body." + field })
		}
		r := receiptOf[*ledger.LabelIssued](issued.Receipt)
		return &answer[labelReceipt]{labelReceipt{r, fmt.Sprintf("/v1/labels/%d/pdf", r.Record.ID)}}, nil
	})
}
