package ledger

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// format is the version of the encoder that turns a body into the text of an entry. A change to how any kind is
// written gets a new number, and decode keeps reading the old ones.
const format = 1

// Body is what an entry says: one Go type per kind, whose JSON is the text that is kept.
//
// Fields marked readOnly are worked out by Check and kept with the entry, so that Apply needs nothing but the body and
// the tables as earlier entries left them. Apply must give the same rows when it is replayed: no clock, no chance.
type Body interface {
	Kind() string
	Right() Right
	// Subjects are the numbers of the things whose rows Check relies on or Apply changes; they are locked first.
	Subjects() []int64
	// Check refuses what may not be recorded, and fills in what Apply will need.
	Check(context.Context, *Tx, *Entry) error
	Apply(context.Context, *Tx, *Entry) error
}

// Gated is a body that stands behind a gate: its findings may stop it, unless a person with the right to do so goes
// on against them and says why.
type Gated interface {
	Body
	Gate(context.Context, *Tx, *Entry) (Judgement, error)
}

// wider is a body that changes things which only the database can name once its subjects are locked.
type wider interface {
	Also(context.Context, *Tx) ([]int64, error)
}

// Correctable is a body whose entry a later entry may correct or strike.
type Correctable interface {
	Body
	// Strike takes back what the old entry changed, in the name of the new one; postings are reversed by the door.
	Strike(ctx context.Context, tx *Tx, old, by *Entry) error
}

// Entry is one line of the journal.
type Entry struct {
	ID         int64
	HappenedAt time.Time
	RecordedAt time.Time
	PersonID   int64
	Corrects   int64
	Reason     string
	strikes    bool // takes the corrected entry back and puts nothing in its place
}

// Request asks Record for an entry.
type Request struct {
	Key        string    // idempotency key of the caller; empty: none
	HappenedAt time.Time // when it happened, as the person says; zero: now, or for a correction when the corrected entry did
	Corrects   int64     // the entry that this one puts right; 0: none
	Reason     string    // why it is corrected
	Override   string    // why a gate's stop is passed; empty: it is not
	Body       Body
	Files      [][]byte // bytes kept by digest in the same transaction (documents, labels)
	Contact    *Contact // personal data of the buyer that Body adds; kept outside the journal
}

// Receipt is the answer to a recorded entry. Recording the same request by the same key again gives the same receipt.
type Receipt struct {
	Entry      int64     `json:"entry" doc:"number of the entry in the journal"`
	Kind       string    `json:"kind"`
	HappenedAt time.Time `json:"happened_at"`
	RecordedAt time.Time `json:"recorded_at"`
	Corrects   int64     `json:"corrects,omitempty"`
	Reason     string    `json:"reason,omitempty"`
	Record     Body      `json:"record" doc:"the record as it was kept, with what was worked out"`
}

// maxAhead is how far a happened_at may lie ahead of the server's clock: clocks of tablets differ a little.
const maxAhead = 5 * time.Minute

// Record is the one door for every write. It locks what the entry is about, checks, asks the gate, inserts the entry
// and applies it, all in one transaction.
//
// The commit point is the commit of that transaction: before it nothing has happened, after it the entry is there
// with all that follows from it. A caller that did not hear the answer asks again with the same key.
func (l *Ledger) Record(ctx context.Context, by Actor, req Request) (*Receipt, error) {
	if req.Body == nil {
		return nil, invalid("record", "nothing to record; send the record's fields")
	}
	if !by.May(req.Body.Right()) {
		return nil, forbidden("%s is a %s and may not record %s; ask an owner", by.Name, by.Role, req.Body.Kind())
	}
	if req.Override != "" && !by.May(MayOverride) {
		return nil, forbidden("%s is a %s and may not pass a gate against its word; ask an owner or a reviewer", by.Name, by.Role)
	}
	asked, err := encode(req.Body)
	if err != nil {
		return nil, err
	}
	digest := req.digest(asked)
	old, oldBody, err := l.toCorrect(ctx, by, req)
	if err != nil {
		return nil, err
	}
	var receipt *Receipt
	err = l.inTx(ctx, func(tx *Tx) error {
		body, err := decode(req.Body.Kind(), format, asked) // a fresh copy: Check fills it, and a retry starts anew
		if err != nil {
			return err
		}
		subjects := body.Subjects()
		if oldBody != nil {
			subjects = append(subjects, oldBody.Subjects()...)
		}
		if req.Key != "" {
			subjects = append(subjects, keySubject(by, req.Key))
		}
		tx.corrects = old != nil
		if err := tx.lockAll(ctx, subjects, body, oldBody); err != nil {
			return err
		}
		id, known, err := tx.open(ctx, by, req.Key)
		if err != nil {
			return err
		}
		if known != 0 {
			receipt, err = earlier(ctx, tx, known, req.Key, digest)
			return err
		}
		tx.now = l.Now() // taken under the locks: of two entries about one thing, the later has the later time
		receipt, err = tx.record(ctx, by, req, id, body, digest, old, oldBody)
		return err
	})
	if short, ok := errors.AsType[*shortError](err); ok {
		return nil, l.explainShort(ctx, short)
	}
	if err != nil {
		return nil, err
	}
	return receipt, nil
}

func (tx *Tx) record(ctx context.Context, by Actor, req Request, id int64, body Body, digest []byte, old *Entry, oldBody Correctable) (*Receipt, error) {
	e := &Entry{ID: id, HappenedAt: req.HappenedAt.UTC().Truncate(time.Microsecond), RecordedAt: tx.now, PersonID: by.ID,
		Corrects: req.Corrects, Reason: strings.TrimSpace(req.Reason)}
	_, e.strikes = body.(*EntryStruck)
	switch {
	case !req.HappenedAt.IsZero():
	case old != nil: // what is put right happened when it happened
		e.HappenedAt = old.HappenedAt
	default:
		e.HappenedAt = tx.now
	}
	if e.HappenedAt.After(tx.now.Add(maxAhead)) {
		return nil, invalid("happened_at", "%s lies ahead of the server's clock (%s); correct the time, or the clock of the device",
			e.HappenedAt.In(tx.zone).Format(time.DateTime), tx.now.In(tx.zone).Format(time.DateTime))
	}
	if old != nil {
		by, err := scalar[int64](ctx, tx, `select coalesce(max(id), 0) from entry where corrects = $1`, old.ID)
		if err != nil {
			return nil, err
		}
		if by != 0 {
			return nil, conflict("entry %d was already corrected by entry %d; correct that one", old.ID, by)
		}
		if err := tx.strike(ctx, old, e, oldBody); err != nil {
			return nil, err
		}
	}
	for _, f := range req.Files { // before the check, which wants to see the files that an entry names
		if err := tx.keepFile(ctx, f); err != nil {
			return nil, err
		}
	}
	if err := body.Check(ctx, tx, e); err != nil {
		return nil, err
	}
	if err := tx.askGate(ctx, by, req, body, e); err != nil {
		return nil, err
	}
	kept, err := tx.insert(ctx, e, body, req.Key, digest)
	if err != nil {
		return nil, err
	}
	if err := kept.Apply(ctx, tx, e); err != nil {
		return nil, err
	}
	if err := tx.settle(ctx); err != nil {
		return nil, err
	}
	if buyer, ok := kept.(*BuyerAdded); ok && req.Contact != nil {
		if err := tx.keepContact(ctx, buyer.ID, *req.Contact); err != nil {
			return nil, err
		}
	}
	return e.receipt(kept), nil
}

// lockAll locks the subjects of a request and then those that follow from them. The entry's number is drawn only
// after the last lock, so that of two entries about one thing the lower number is the one that was applied first:
// replaying in the order of numbers gives the same tables.
func (tx *Tx) lockAll(ctx context.Context, subjects []int64, bodies ...Body) error {
	if err := tx.lock(ctx, subjects); err != nil {
		return err
	}
	for _, b := range bodies {
		w, ok := b.(wider)
		if !ok {
			continue
		}
		more, err := w.Also(ctx, tx)
		if err != nil {
			return err
		}
		if err := tx.lock(ctx, more); err != nil {
			return err
		}
	}
	return nil
}

// strike takes the old entry back before the new one is checked, so that the check sees the world without the mistake.
// Replay does the same in the same order.
func (tx *Tx) strike(ctx context.Context, old, by *Entry, body Correctable) error {
	if err := tx.reverse(ctx, old, by, body); err != nil {
		return err
	}
	return body.Strike(ctx, tx, old, by)
}

func (tx *Tx) nextEntry(ctx context.Context) (int64, error) {
	return scalar[int64](ctx, tx, `select nextval('entry_seq')`)
}

// insert writes the entry and gives back the body as it reads from the text that was kept, so that what is applied
// now is exactly what a replay will apply.
func (tx *Tx) insert(ctx context.Context, e *Entry, body Body, key string, digest []byte) (Body, error) {
	text, err := encode(body)
	if err != nil {
		return nil, err
	}
	if key == "" {
		digest = nil
	}
	_, err = tx.Exec(ctx, `insert into entry (id, kind, format, happened_at, recorded_at, person_id, corrects, reason, key, key_digest, body)
		values ($1,$2,$3,$4,$5,$6,nullif($7,0),$8,nullif($9,''),$10,$11)`,
		e.ID, body.Kind(), format, e.HappenedAt, e.RecordedAt, e.PersonID, e.Corrects, e.Reason, key, digest, string(text))
	if err != nil {
		return nil, fmt.Errorf("insert entry: %w", err)
	}
	return decode(body.Kind(), format, text)
}

// toCorrect reads the entry that a request puts right and refuses what cannot be put right.
func (l *Ledger) toCorrect(ctx context.Context, by Actor, req Request) (*Entry, Correctable, error) {
	if req.Corrects == 0 {
		return nil, nil, nil
	}
	if strings.TrimSpace(req.Reason) == "" {
		return nil, nil, invalid("reason", "a correction says why; give the reason")
	}
	old, body, err := readEntry(ctx, l.pool, req.Corrects)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil, notFound("corrects", "there is no entry %d", req.Corrects)
	}
	if err != nil {
		return nil, nil, err
	}
	fixable, ok := body.(Correctable)
	if !ok {
		return nil, nil, invalid("corrects", "an entry of kind %s cannot be corrected; record what is true now as a new entry", body.Kind())
	}
	if _, strikes := req.Body.(*EntryStruck); !strikes && req.Body.Kind() != body.Kind() {
		return nil, nil, invalid("corrects", "entry %d is of kind %s and is corrected by the same kind, or struck", old.ID, body.Kind())
	}
	if !by.May(body.Right()) {
		return nil, nil, forbidden("%s is a %s and may not put right an entry of kind %s; ask an owner", by.Name, by.Role, body.Kind())
	}
	return old, fixable, nil
}

func readEntry(ctx context.Context, q querier, id int64) (*Entry, Body, error) {
	var (
		e      Entry
		kind   string
		format int16
		text   string
	)
	err := q.QueryRow(ctx, `select id, kind, format, happened_at, recorded_at, person_id, coalesce(corrects, 0), reason, body
			from entry where id = $1`, id).
		Scan(&e.ID, &kind, &format, &e.HappenedAt, &e.RecordedAt, &e.PersonID, &e.Corrects, &e.Reason, &text)
	if err != nil {
		return nil, nil, err
	}
	body, err := decode(kind, format, []byte(text))
	return &e, body, err
}

// open loads the shop's time zone and gives the number that the entry will have, and that of the entry which the same
// key was used for before; 0: there is none.
func (tx *Tx) open(ctx context.Context, by Actor, key string) (id, known int64, err error) {
	var zone string
	err = tx.QueryRow(ctx, `select nextval('entry_seq'), (`+zoneOfShop+`), coalesce((select id from entry where person_id = $1 and key = nullif($2, '')), 0)`,
		by.ID, key).Scan(&id, &zone, &known)
	tx.zone = Shop{Timezone: zone}.Zone()
	return id, known, err
}

// earlier gives the receipt of an entry that was recorded by the same key.
func earlier(ctx context.Context, tx *Tx, id int64, key string, digest []byte) (*Receipt, error) {
	was, err := scalar[[]byte](ctx, tx, `select key_digest from entry where id = $1`, id)
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(was, digest) {
		return nil, conflict("the key %q was used for another request (entry %d); use a new key", key, id)
	}
	e, body, err := readEntry(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	return e.receipt(body), nil
}

// Recorded gives the receipt of the entry that a person recorded by a key; nil when there is none, or no key.
func (l *Ledger) Recorded(ctx context.Context, by Actor, key string) (*Receipt, error) {
	id, err := scalar[int64](ctx, l.pool, `select coalesce((select id from entry where person_id = $1 and key = $2), 0)`, by.ID, key)
	if err != nil || id == 0 {
		return nil, err
	}
	e, body, err := readEntry(ctx, l.pool, id)
	if err != nil {
		return nil, err
	}
	return e.receipt(body), nil
}

func (e *Entry) receipt(body Body) *Receipt {
	return &Receipt{Entry: e.ID, Kind: body.Kind(), HappenedAt: e.HappenedAt.UTC(), RecordedAt: e.RecordedAt.UTC(),
		Corrects: e.Corrects, Reason: e.Reason, Record: body}
}

// digest stands for what was asked, so that a key used twice for different things is found out. Personal data is left
// out of it: a digest of a name would outlive the name's erasure.
func (r Request) digest(body []byte) []byte {
	happened := ""
	if !r.HappenedAt.IsZero() {
		happened = r.HappenedAt.UTC().Truncate(time.Microsecond).Format(time.RFC3339Nano)
	}
	head, _ := json.Marshal([]any{r.Body.Kind(), happened, r.Corrects, r.Reason, r.Override, len(r.Files)})
	sum := sha256.New()
	sum.Write(head)
	sum.Write(body)
	for _, f := range r.Files {
		d := sha256.Sum256(f)
		sum.Write(d[:])
	}
	return sum.Sum(nil)
}

// keySubject turns an idempotency key into a number to lock. Two keys that meet in one number only wait for each
// other; the sign keeps them apart from the numbers of things.
func keySubject(by Actor, key string) int64 {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d\x00%s", by.ID, key))
	return -int64(binary.BigEndian.Uint64(sum[:8])>>2) - 1
}

// needFile refuses a body that names a file which is neither kept already nor sent along in Request.Files.
func (tx *Tx) needFile(ctx context.Context, field, digest string) error {
	b, err := hex.DecodeString(digest)
	if err != nil || len(b) != sha256.Size {
		return invalid(field, "%q is not a SHA-256 digest in hex", digest)
	}
	kept, err := exists(ctx, tx, `select 1 from attachment where digest = $1`, b)
	if err == nil && !kept {
		return invalid(field, "no file with the digest %s came along; send its bytes with the record", digest)
	}
	return err
}

func (tx *Tx) keepFile(ctx context.Context, b []byte) error {
	d := sha256.Sum256(b)
	_, err := tx.Exec(ctx, `insert into attachment (digest, bytes) values ($1, $2) on conflict do nothing`, d[:], b)
	return err
}
