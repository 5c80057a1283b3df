package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/http"

	"github.com/jackc/pgx/v5"
)

// DocumentFiled keeps a paper of a lot: certificate, safety data sheet, declaration. The bytes go into Request.Files.
type DocumentFiled struct {
	ID        int64  `json:"id" readOnly:"true"`
	Lot       int64  `json:"lot"`
	Type      string `json:"type" enum:"certificate,safety data sheet,allergen declaration,scent certificate,invoice,photo,other"`
	Title     string `json:"title" maxLength:"200"`
	ExpiresOn string `json:"expires_on,omitempty" format:"date"`
	SHA256    string `json:"sha256" doc:"hex digest of the bytes"`
	Size      int64  `json:"size" doc:"bytes"`
	MediaType string `json:"media_type" doc:"as sniffed from the bytes"`
}

// DocumentTypes are the papers that a lot may have.
var DocumentTypes = []string{"certificate", "safety data sheet", "allergen declaration", "scent certificate", "invoice", "photo", "other"}

// MaxDocument is the largest paper that is kept: 10 MiB.
const MaxDocument = 10 << 20

// FileDocument describes bytes as a document of a lot, ready to be recorded with those bytes.
func FileDocument(lot int64, kind, title, expires string, b []byte) *DocumentFiled {
	sum := sha256.Sum256(b)
	return &DocumentFiled{Lot: lot, Type: kind, Title: title, ExpiresOn: expires, SHA256: hex.EncodeToString(sum[:]),
		Size: int64(len(b)), MediaType: http.DetectContentType(b)}
}

// Kind names the entry.
func (*DocumentFiled) Kind() string { return "document.filed" }

// Right is what it asks for.
func (*DocumentFiled) Right() Right { return MayMake }

// Subjects is the lot.
func (d *DocumentFiled) Subjects() []int64 { return []int64{d.Lot} }

// Check refuses a paper without a lot or of a size that is not kept.
func (d *DocumentFiled) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if _, err := readLot(ctx, tx, d.Lot); err != nil {
		return err
	}
	if err := oneOf("type", d.Type, DocumentTypes...); err != nil {
		return err
	}
	if err := words("title", &d.Title, 200); err != nil {
		return err
	}
	if _, err := date("expires_on", d.ExpiresOn); err != nil {
		return err
	}
	if d.Size <= 0 || d.Size > MaxDocument {
		return invalid("size", "the file has %d bytes; 1 to %d are kept", d.Size, MaxDocument)
	}
	if err := tx.needFile(ctx, "sha256", d.SHA256); err != nil {
		return err
	}
	var err error
	d.ID, err = tx.newID(ctx)
	return err
}

// Apply files the document with its lot.
func (d *DocumentFiled) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	digest, err := hex.DecodeString(d.SHA256)
	if err != nil {
		return err
	}
	expires, err := date("expires_on", d.ExpiresOn)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `insert into document (id, lot_id, kind, title, media_type, digest, size, expires_on, entry_id)
		values ($1,$2,$3,$4,$5,$6,$7,$8,$9)`, d.ID, d.Lot, d.Type, d.Title, d.MediaType, digest, d.Size, expires, e.ID)
	return err
}

// Digest is a SHA-256, written in hex.
type Digest []byte

// MarshalText writes the digest in hex.
func (d Digest) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, d), nil }

// UnmarshalText reads a digest in hex.
func (d *Digest) UnmarshalText(text []byte) (err error) {
	*d, err = hex.AppendDecode(nil, text)
	return err
}

// Document is a paper of a lot.
type Document struct {
	ID        int64  `json:"id"`
	Lot       int64  `json:"lot"`
	Type      string `json:"type"`
	Title     string `json:"title"`
	MediaType string `json:"media_type"`
	Digest    Digest `json:"sha256" doc:"SHA-256 of the bytes, in hex"`
	Size      int64  `json:"size"`
}

// Documents lists the papers of a lot.
func (l *Ledger) Documents(ctx context.Context, lot int64) ([]Document, error) {
	return all[Document](ctx, l.pool, `select id, lot_id, kind, title, media_type, digest, size from document where lot_id = $1 order by id`, lot)
}

// Document reads one document and its bytes.
func (l *Ledger) Document(ctx context.Context, id int64) (Document, []byte, error) {
	d, err := one[Document](ctx, l.pool, `select id, lot_id, kind, title, media_type, digest, size from document where id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return d, nil, notFound("document", "there is no document %d", id)
	}
	if err != nil {
		return d, nil, err
	}
	b, err := l.File(ctx, d.Digest)
	return d, b, err
}

// File gives the bytes that were kept under a digest, and sees that they still have it.
func (l *Ledger) File(ctx context.Context, digest []byte) ([]byte, error) {
	b, err := scalar[[]byte](ctx, l.pool, `select bytes from attachment where digest = $1`, digest)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, notFound("digest", "no file is kept under %x", digest)
	}
	if err != nil {
		return nil, err
	}
	if got := sha256.Sum256(b); string(got[:]) != string(digest) {
		return nil, conflict("the file kept under %x has other bytes now; the database was altered", digest)
	}
	return b, nil
}
