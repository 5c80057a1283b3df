package ledger

import "context"

// BuyerKinds are what a buyer can be.
var BuyerKinds = []string{"shop", "person", "organiser"}

// BuyerAdded opens an account for a buyer. Name and address are personal data and stand in Contact, outside the
// journal: they can be erased, and what the buyer got stays on record under the number.
type BuyerAdded struct {
	ID   int64  `json:"id" readOnly:"true"`
	Type string `json:"type" enum:"shop,person,organiser"`
}

// Contact is how to reach a buyer.
type Contact struct {
	Name    string `json:"name" maxLength:"200"`
	Address string `json:"address,omitempty" maxLength:"500"`
	Email   string `json:"email,omitempty" maxLength:"200"`
	Phone   string `json:"phone,omitempty" maxLength:"60"`
}

// Kind names the entry.
func (*BuyerAdded) Kind() string { return "buyer.added" }

// Right is what it asks for.
func (*BuyerAdded) Right() Right { return MaySell }

// Subjects: nothing that exists is changed.
func (*BuyerAdded) Subjects() []int64 { return nil }

// Check gives the buyer a number.
func (b *BuyerAdded) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := oneOf("type", b.Type, BuyerKinds...); err != nil {
		return err
	}
	var err error
	b.ID, err = tx.newID(ctx)
	return err
}

// Apply adds the buyer.
func (b *BuyerAdded) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into buyer (id, kind, entry_id) values ($1,$2,$3)`, b.ID, b.Type, e.ID)
	return err
}

func (tx *Tx) keepContact(ctx context.Context, id int64, c Contact) error {
	if err := words("name", &c.Name, 200); err != nil {
		return err
	}
	for field, s := range map[string]*string{"address": &c.Address, "email": &c.Email, "phone": &c.Phone} {
		if err := anyWords(field, s, 500); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `insert into contact (subject_id, name, address, email, phone) values ($1,$2,$3,$4,$5)`, id, c.Name, c.Address, c.Email, c.Phone)
	return err
}

// Buyer is a buyer with the contact, which is empty once it was erased.
type Buyer struct {
	ID      int64  `json:"id"`
	Type    string `json:"type"`
	Name    string `json:"name,omitempty"`
	Address string `json:"address,omitempty"`
	Email   string `json:"email,omitempty"`
	Phone   string `json:"phone,omitempty"`
}

// Buyers lists all buyers by name.
func (l *Ledger) Buyers(ctx context.Context) ([]Buyer, error) {
	return all[Buyer](ctx, l.pool, `select b.id, b.kind, coalesce(c.name, ''), coalesce(c.address, ''), coalesce(c.email, ''), coalesce(c.phone, '')
		from buyer b left join contact c on c.subject_id = b.id order by c.name nulls last, b.id`)
}
