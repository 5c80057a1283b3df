package ledger

import (
	"context"
	"encoding/hex"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
)

// LabelIssued says that a label was drawn for a lot of bars. Its bytes and the inputs that it was drawn from go into
// Request.Files, and are kept before anything is handed out.
type LabelIssued struct {
	ID     int64  `json:"id" readOnly:"true"`
	Lot    int64  `json:"lot"`
	Style  string `json:"style" enum:"US,EU"`
	Proof  bool   `json:"proof" doc:"marked as not for sale, since the batch is not released"`
	Copies int    `json:"copies" minimum:"1"`
	SHA256 string `json:"sha256" doc:"hex digest of the PDF"`
	Inputs string `json:"inputs_sha256" doc:"hex digest of the JSON that it was drawn from"`
}

// Kind names the entry.
func (*LabelIssued) Kind() string { return "label.issued" }

// Right is what it asks for.
func (*LabelIssued) Right() Right { return MaySell }

// Subjects is the lot.
func (i *LabelIssued) Subjects() []int64 { return []int64{i.Lot} }

// Also are the bars of the same batch: a release of the batch waits for the label, or the label for the release.
func (i *LabelIssued) Also(ctx context.Context, tx *Tx) ([]int64, error) {
	return column[int64](ctx, tx, `select b.id from lot l join lot b on b.batch_id = l.batch_id and b.what = 'bars' where l.id = $1`, i.Lot)
}

// Check keeps a label of an unreleased batch a proof.
func (i *LabelIssued) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	lot, err := readLot(ctx, tx, i.Lot)
	if err != nil {
		return err
	}
	if lot.What != "bars" {
		return invalid("lot", "%s is no lot of bars", lot.Code)
	}
	if err := oneOf("style", i.Style, "US", "EU"); err != nil {
		return err
	}
	if i.Copies < 1 || i.Copies > 100_000 {
		return invalid("copies", "%d copies; give 1 to 100000", i.Copies)
	}
	for field, d := range map[string]string{"sha256": i.SHA256, "inputs_sha256": i.Inputs} {
		if err := tx.needFile(ctx, field, d); err != nil {
			return err
		}
	}
	b, err := readBatch(ctx, tx, *lot.BatchID)
	if err != nil {
		return err
	}
	if !i.Proof && (b.Stage != Released || lot.Held) {
		return &Error{Fault: Refused, Field: "proof", Message: "batch " + b.Code + " is not free for sale (" + b.Stage + "); only a proof can be drawn"}
	}
	i.ID, err = tx.newID(ctx)
	return err
}

// Apply keeps the label with its lot.
func (i *LabelIssued) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	digest, err := hex.DecodeString(i.SHA256)
	if err != nil {
		return err
	}
	inputs, err := hex.DecodeString(i.Inputs)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `insert into label (id, lot_id, batch_id, style, proof, copies, digest, inputs, person_id, happened_at, entry_id)
		values ($1,$2,(select batch_id from lot where id = $2),$3,$4,$5,$6,$7,$8,$9,$10)`,
		i.ID, i.Lot, i.Style, i.Proof, i.Copies, digest, inputs, e.PersonID, e.HappenedAt, e.ID)
	return err
}

// Label is a label as it was issued.
type Label struct {
	ID         int64     `json:"id"`
	Lot        int64     `json:"lot"`
	LotCode    string    `json:"lot_code"`
	Style      string    `json:"style"`
	Proof      bool      `json:"proof"`
	Copies     int       `json:"copies"`
	Digest     Digest    `json:"sha256" doc:"SHA-256 of the PDF, in hex"`
	Inputs     Digest    `json:"inputs_sha256" doc:"SHA-256 of what it was drawn from, in hex"`
	Person     string    `json:"person"`
	HappenedAt time.Time `json:"happened_at"`
	Entry      int64     `json:"entry"`
}

const labelColumns = `select x.id, x.lot_id, l.code, x.style, x.proof, x.copies, x.digest, x.inputs, coalesce(p.name, 'ashbook itself'), x.happened_at, x.entry_id
	from label x join lot l on l.id = x.lot_id left join person p on p.id = x.person_id `

// Labels lists the labels issued for a batch, or with batch 0 the last 200 of all.
func (l *Ledger) Labels(ctx context.Context, batch int64) ([]Label, error) {
	return all[Label](ctx, l.pool, labelColumns+`where $1 = 0 or x.batch_id = $1 order by x.id desc limit 200`, batch)
}

// Label reads one label; its bytes are kept under Digest, what it was drawn from under Inputs.
func (l *Ledger) Label(ctx context.Context, id int64) (Label, error) {
	x, err := one[Label](ctx, l.pool, labelColumns+`where x.id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return x, notFound("label", "there is no label %d", id)
	}
	return x, err
}
