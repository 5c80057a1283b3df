package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// format is the version of the ledger's encoder that encode follows.
const format = 1

// encode writes a body as the ledger does; the test compares the two.
func encode(b ledger.Body) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	err := enc.Encode(b)
	return bytes.TrimRight(buf.Bytes(), "\n"), err
}

// write writes an entry with the rows that follow from it, unless err says that its body could not be made.
func (f *filler) write(at time.Time, body ledger.Body, err error) error {
	if err != nil {
		return err
	}
	text, err := encode(body)
	if err != nil {
		return err
	}
	f.entry++
	f.to.add("entry", f.entry, body.Kind(), format, at, at, f.by.ID, text)
	f.rows(f.entry, at, body)
	return nil
}

// rows writes what Apply of each body writes. Verify finds out when the two part ways.
func (f *filler) rows(e int64, at time.Time, body ledger.Body) {
	switch b := body.(type) {
	case *ledger.BatchPlanned:
		for i, line := range b.Lines {
			f.to.add("batch_line", b.ID, i+1, line.Material, line.Portion, line.Grams, line.Tolerance)
		}
	case *ledger.StepTaken:
		f.to.add("step", e, b.Batch, b.Step, b.Note, f.by.ID, at)
	case *ledger.LotReceived:
		f.to.add("lot", b.ID, b.Code, "bought", f.names[b.Material], "g", b.Mass.Grams, b.Material, b.Supplier, b.SupplierLot, nil, "", b.ReceivedOn, b.Mass.Grams, b.Mass.Grams, 0, e)
		f.move(e, b.ID, b.Mass.Grams, "supplier", 0, "shelf", 0)
	case *ledger.WeighingTaken:
		f.weighingRows(e, at, b)
	case *ledger.BatchYielded:
		for _, o := range b.Outputs {
			f.to.add("lot", o.ID, o.Code, o.What, o.Name, "piece", o.Pieces, nil, nil, "", b.Batch, o.Portion, b.MadeOn, o.Mass.Grams, o.PouredGrams, o.PourShare, e)
			f.move(e, o.ID, decimal.NewFromInt(o.Pieces), "made", b.Batch, "rack", 0)
		}
	case *ledger.ReadingTaken:
		f.to.add("reading", e, orNull(b.Batch), orNull(b.Lot), b.Type, b.Value, b.ValueUnit, b.Typed, b.Unit, b.Method, b.Instrument, b.Sample, b.Passed, f.by.ID, at,
			b.Verdict, b.Words)
	case *ledger.ReleaseDecided:
		f.to.add("release", e, b.Batch, b.Decision, b.Statement, f.by.ID, at)
	case *ledger.DispatchSent:
		f.to.add("dispatch", b.ID, b.Code, b.Channel, b.Buyer, b.Occasion, b.Reference, b.SentOn, e)
		f.to.add("dispatch_line", b.ID, 1, b.Lines[0].Lot, b.Lines[0].Pieces)
		f.move(e, b.Lines[0].Lot, decimal.NewFromInt(b.Lines[0].Pieces), "ready", 0, "sent", b.ID)
	}
}

func (f *filler) weighingRows(e int64, at time.Time, w *ledger.WeighingTaken) {
	f.to.add("weighing", e, w.Batch, orNull(int64(w.Line)), w.Lot, w.Portion, w.Planned, w.Tolerance, w.Amount, w.Mass.Grams, w.PouredGrams,
		w.Leaves, w.Mass.Typed, string(w.Mass.Unit), w.Scale, w.SecondCheck, f.by.ID, at)
	from := "shelf"
	if w.Pieces != nil {
		from = "ready"
	}
	f.move(e, w.Lot, w.Amount, from, 0, "pot", w.Batch)
}

// batchRow writes a batch as it stands once it is released.
func (f *filler) batchRow(b *made) {
	m := f.batch
	f.to.add("batch", b.id, b.code, m.Purpose, m.Name, m.FormulaVersion, ledger.Released, b.pouredAt.Format(time.DateOnly), m.MouldHours, m.CureDays,
		m.Superfat, b.pouredAt, b.cutAt, b.entry)
}

func (f *filler) move(e, lot int64, amount decimal.Decimal, from string, fromID int64, to string, toID int64) {
	f.to.add("posting", e, 1, lot, from, fromID, amount.Neg())
	f.to.add("posting", e, 2, lot, to, toID, amount)
}

func orNull(n int64) any {
	if n == 0 {
		return nil
	}
	return n
}

// columns are those that the filler gives of each table, in its order.
var columns = map[string]string{
	"entry":      "id, kind, format, happened_at, recorded_at, person_id, body",
	"posting":    "entry_id, line, lot_id, place, place_id, amount",
	"serial":     "kind, day, last",
	"batch":      "id, code, purpose, name, formula_version_id, stage, planned_on, mould_hours, cure_days, superfat, poured_at, cut_at, entry_id",
	"batch_line": "batch_id, line, material_id, portion, planned, tolerance",
	"lot": "id, code, what, name, unit, amount, material_id, supplier_id, supplier_lot, batch_id, portion, made_on, grams, poured_grams, pour_share, entry_id" +
		", held, hold_reason",
	"weighing": "entry_id, batch_id, line, lot_id, portion, planned, tolerance, amount, grams, poured_grams, leaves, typed, unit, scale, second_check, " +
		"person_id, happened_at",
	"reading":       "entry_id, batch_id, lot_id, kind, value, unit, typed, typed_unit, method, instrument, sample, passed, person_id, happened_at, verdict, words",
	"step":          "entry_id, batch_id, step, note, person_id, happened_at",
	"release":       "entry_id, batch_id, decision, statement, person_id, happened_at",
	"dispatch":      "id, code, channel, buyer_id, occasion, reference, sent_on, entry_id",
	"dispatch_line": "dispatch_id, line, lot_id, pieces",
}

// copier gathers rows in the text form of COPY, and sends them table by table.
type copier struct {
	conn *pgx.Conn
	rows map[string]*bytes.Buffer
}

func newCopier(conn *pgx.Conn) *copier {
	c := &copier{conn, map[string]*bytes.Buffer{}}
	for table := range columns {
		c.rows[table] = &bytes.Buffer{}
	}
	return c
}

func (c *copier) add(table string, values ...any) {
	if table == "lot" { // no lot is on hold
		values = append(values, false, "")
	}
	buf := c.rows[table]
	for i, v := range values {
		if i > 0 {
			buf.WriteByte('\t')
		}
		put(buf, v)
	}
	buf.WriteByte('\n')
}

var escape = strings.NewReplacer(`\`, `\\`, "\t", `\t`, "\n", `\n`, "\r", `\r`)

func put(buf *bytes.Buffer, v any) {
	switch v := v.(type) {
	case nil:
		buf.WriteString(`\N`)
	case []byte:
		_, _ = escape.WriteString(buf, string(v))
	case string:
		_, _ = escape.WriteString(buf, v)
	case time.Time:
		buf.WriteString(v.Format(time.RFC3339Nano))
	case *decimal.Decimal:
		if v == nil {
			put(buf, nil)
			return
		}
		buf.WriteString(v.String())
	case *bool:
		if v == nil {
			put(buf, nil)
			return
		}
		fmt.Fprint(buf, *v)
	default:
		fmt.Fprint(buf, v)
	}
}

// flush sends the tables of which more than so many bytes wait.
func (c *copier) flush(ctx context.Context, over int) error {
	for table, buf := range c.rows {
		if buf.Len() <= over {
			continue
		}
		if _, err := c.conn.PgConn().CopyFrom(ctx, buf, "copy "+table+" ("+columns[table]+") from stdin"); err != nil {
			return fmt.Errorf("copy %s: %w", table, err)
		}
		buf.Reset()
	}
	return nil
}
