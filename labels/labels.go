// Package labels issues the label of a lot of bars: it gathers what was really weighed, works out the statement and the
// net contents, draws the band, records it in the journal, and only then hands out the bytes.
//
// A label informs; neither it nor this package certifies that a bar may be sold somewhere.
package labels

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/labels/netcontents"
	"ashbook/labels/sheet"
	"ashbook/labels/statement"
	"ashbook/ledger"
)

// Request asks for a label.
type Request struct {
	Key    string // idempotency key; empty: none
	Lot    int64  // a lot of bars
	Copies int    // how many are to be printed
	Style  string // "US" or "EU"; empty: the shop's own
}

// Issued is a label that was recorded.
type Issued struct {
	Receipt *ledger.Receipt
	PDF     []byte
}

// Inputs are all that a label is drawn from. They are kept beside the PDF, so that it can be explained, and drawn
// again to the same bytes, for as long as the same version of the drawing is at hand.
type Inputs struct {
	Format      int                     `json:"format"`
	Lot         string                  `json:"lot"`
	Batch       string                  `json:"batch"`
	Statement   statement.Statement     `json:"statement"`
	Net         netcontents.Declaration `json:"net"`
	NetFrom     string                  `json:"net_from"` // which weighing the net quantity stands on
	Label       sheet.Label             `json:"label"`
	Ingredients []Line                  `json:"ingredients"`
}

// Line is one bought material of the bar with its mass and the lots that it came from.
type Line struct {
	Material string          `json:"material"`
	Grams    decimal.Decimal `json:"grams"`
	Lots     []string        `json:"lots"`
}

// Draw draws the label.
func (in Inputs) Draw() ([]byte, error) { return sheet.Draw(in.Label) }

// Issue draws a label for a lot of bars and records it. A lot that is not free for sale gets a marked proof. A
// repeat with the same key gives the label that was issued first.
func Issue(ctx context.Context, l *ledger.Ledger, by ledger.Actor, req Request) (*Issued, error) {
	if issued, err := earlier(ctx, l, by, req); issued != nil || err != nil {
		return issued, err
	}
	if req.Copies == 0 {
		req.Copies = 1
	}
	in, err := Prepare(ctx, l, req.Lot, req.Style)
	if err != nil {
		return nil, err
	}
	pdf, err := in.Draw()
	if err != nil {
		return nil, unprintable(err)
	}
	kept, err := json.Marshal(in)
	if err != nil {
		return nil, err
	}
	receipt, err := l.Record(ctx, by, ledger.Request{Key: req.Key, Files: [][]byte{pdf, kept}, Body: &ledger.LabelIssued{
		Lot: req.Lot, Style: in.Statement.Style.String(), Proof: in.Label.Proof, Copies: req.Copies, SHA256: digest(pdf), Inputs: digest(kept)}})
	if ledger.FaultOf(err) == ledger.Conflict { // the same request got there first, drawn a moment earlier
		if issued, again := earlier(ctx, l, by, req); issued != nil || again != nil {
			return issued, again
		}
	}
	if err != nil {
		return nil, err
	}
	return &Issued{receipt, pdf}, nil
}

// earlier gives the label that the same key was used for, if it was.
func earlier(ctx context.Context, l *ledger.Ledger, by ledger.Actor, req Request) (*Issued, error) {
	receipt, err := l.Recorded(ctx, by, req.Key)
	if receipt == nil || err != nil {
		return nil, err
	}
	body, ok := receipt.Record.(*ledger.LabelIssued)
	if !ok || body.Lot != req.Lot {
		return nil, &ledger.Error{Fault: ledger.Conflict, Message: fmt.Sprintf("the key %q was used for another request (entry %d); use a new key", req.Key, receipt.Entry)}
	}
	sum, err := hex.DecodeString(body.SHA256)
	if err != nil {
		return nil, err
	}
	pdf, err := l.File(ctx, sum)
	return &Issued{receipt, pdf}, err
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Prepare works out what a label of a lot of bars would say now. It changes nothing.
func Prepare(ctx context.Context, l *ledger.Ledger, lotID int64, style string) (Inputs, error) {
	in := Inputs{Format: 1}
	lot, err := l.Lot(ctx, lotID)
	if err != nil {
		return in, err
	}
	if lot.What != "bars" {
		return in, wrong("lot", "%s is no lot of bars; a label is for bars", lot.Code)
	}
	shop, err := l.Shop(ctx)
	if err != nil {
		return in, err
	}
	batch, err := l.Batch(ctx, *lot.BatchID)
	if err != nil {
		return in, err
	}
	if style == "" {
		style = shop.LabelStyle
	}
	market, ok := map[string]statement.Style{"US": statement.US, "EU": statement.EU}[style]
	if !ok {
		return in, wrong("style", "%q is neither US nor EU", style)
	}
	in.Lot, in.Batch = lot.Code, batch.Code
	if err := in.compose(ctx, l, lot, market); err != nil {
		return in, err
	}
	if err := in.weigh(ctx, l, lot, shop, market); err != nil {
		return in, err
	}
	return in, in.write(ctx, l, lot, batch, shop, market)
}

// compose makes the ingredient statement from the actual weighings of the lot's batch and of all behind it.
func (in *Inputs) compose(ctx context.Context, l *ledger.Ledger, lot ledger.Lot, style statement.Style) error {
	ingredients, err := l.Ingredients(ctx, lot)
	if err != nil {
		return err
	}
	var parts []statement.Part
	for _, i := range ingredients {
		m := i.Material
		parts = append(parts, statement.Part{Material: m.Name, US: m.USName, EU: m.EUName, Grams: i.Grams, Colour: m.Kind == "colour",
			Scent: m.Kind == "scent", Leaves: m.Kind == "spirit", Lots: i.Lots})
		in.Ingredients = append(in.Ingredients, Line{m.Name, i.Grams, i.Lots})
	}
	if in.Statement, err = statement.Compose(style, parts); err != nil {
		return wrong("lot", "%s", err)
	}
	return nil
}

// weigh declares what every bar still holds: the lightest bar of the last day on which bars were weighed, or, before
// any was, the mean at cutting. Bars go on losing water after that; what they will hold on the day of sale is for
// the maker to judge until enough weighings allow a prediction.
func (in *Inputs) weigh(ctx context.Context, l *ledger.Ledger, lot ledger.Lot, shop ledger.Shop, style statement.Style) error {
	readings, err := l.BarMasses(ctx, lot.ID)
	if err != nil {
		return err
	}
	mass := lot.Grams.Div(lot.Amount)
	in.NetFrom = "mean of the bars at cutting"
	var last string
	for _, r := range readings {
		day := r.HappenedAt.In(shop.Zone()).Format("2006-01-02")
		if day != last || r.Value.LessThan(mass) {
			mass = r.Value
		}
		last = day
		in.NetFrom = "lightest bar weighed on " + day
	}
	if in.Net, err = netcontents.Declare(style, mass); err != nil {
		return wrong("lot", "%s", err)
	}
	return nil
}

// The heights of letters. United States: 1/16 inch for what must be declared (21 CFR 701.2 and 701.3(b), from memory
// and retrieved); Europe asks for "easily legible" and sets no figure, for which 1.2 mm is common practice, no source.
var (
	letterUS = decimal.RequireFromString("1.5875")
	letterEU = decimal.RequireFromString("1.2")
)

// write fills in the words of the band.
func (in *Inputs) write(ctx context.Context, l *ledger.Ledger, lot ledger.Lot, batch ledger.Batch, shop ledger.Shop, style statement.Style) error {
	code, err := printedCode(ctx, l, lot, batch)
	if err != nil {
		return err
	}
	in.Label = sheet.Label{
		Identity: "Soap", Product: lot.Name, Net: in.Net.Text, Ingredients: in.Statement.Text,
		Maker:     []string{shop.Name, strings.Join(shop.Address, ", "), shop.Contact},
		BatchCode: code, Shop: shop.Name, Cautions: cautions,
		Proof:         batch.Stage != ledger.Released || lot.Held || lot.Expired(today(l, shop)),
		DigitHeightMM: netcontents.DigitHeight(in.Net.Grams), TextHeightMM: letterEU,
		Footer:  lot.Code + " · entry drawn " + today(l, shop).Format("2006-01-02"),
		Created: today(l, shop),
	}
	if style == statement.US {
		in.Label.DigitHeightMM = netcontents.TypeHeight(sheet.DefaultBand.FrontAreaSqIn())
		in.Label.TextHeightMM = letterUS
	}
	if lot.BestBefore != nil {
		in.Label.BestBefore = lastWholeMonth(*lot.BestBefore).Format("01/2006")
	}
	return nil
}

// lastWholeMonth is the month whose end is not later than the day: "best used before the end of" it promises no day more.
func lastWholeMonth(day time.Time) time.Time {
	if next := day.AddDate(0, 0, 1); next.Month() != day.Month() {
		return day
	}
	return day.AddDate(0, 0, -day.Day())
}

// today is the day, not the moment: two draws on one day give the same bytes.
func today(l *ledger.Ledger, shop ledger.Shop) time.Time {
	y, m, d := l.Now().In(shop.Zone()).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// cautions are in our own words; they claim nothing about effects.
var cautions = []string{"For washing only. If it gets into the eyes, rinse with plenty of water. Stop using it if your skin reacts."}

// printedCode is the batch code, followed by the lot's own where the batch gave more than one lot of bars, so that a
// question about one of them does not reach the others.
func printedCode(ctx context.Context, l *ledger.Ledger, lot ledger.Lot, batch ledger.Batch) (string, error) {
	outputs, err := l.Outputs(ctx, batch.ID)
	if err != nil {
		return "", err
	}
	outputs = slices.DeleteFunc(outputs, func(o ledger.Lot) bool { return o.What != "bars" })
	if len(outputs) > 1 {
		return batch.Code + " / " + lot.Code, nil
	}
	return batch.Code, nil
}

func wrong(field, format string, args ...any) error {
	return &ledger.Error{Fault: ledger.Invalid, Field: field, Message: fmt.Sprintf(format, args...)}
}

// unprintable makes the drawing's refusal one that the caller can act on.
func unprintable(err error) error {
	if long, ok := errors.AsType[*sheet.TooLongError](err); ok {
		return wrong("lot", "the label cannot be drawn: %s", long)
	}
	return wrong("lot", "the label cannot be drawn: %s", err)
}
