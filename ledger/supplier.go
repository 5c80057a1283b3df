package ledger

import "context"

// SupplierAdded names someone from whom lots are bought.
type SupplierAdded struct {
	ID   int64  `json:"id" readOnly:"true"`
	Name string `json:"name" maxLength:"200"`
	Note string `json:"note" maxLength:"1000" required:"false"`
}

// Kind names the entry.
func (*SupplierAdded) Kind() string { return "supplier.added" }

// Right is what it asks for.
func (*SupplierAdded) Right() Right { return MayMake }

// Subjects is the list of suppliers.
func (*SupplierAdded) Subjects() []int64 { return []int64{3} }

// Check refuses a name that is there already.
func (s *SupplierAdded) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := words("name", &s.Name, 200); err != nil {
		return err
	}
	if err := anyWords("note", &s.Note, 1000); err != nil {
		return err
	}
	taken, err := exists(ctx, tx, `select 1 from supplier where lower(name) = lower($1)`, s.Name)
	if err != nil {
		return err
	}
	if taken {
		return conflict("the supplier %q is there already; choose it from the list", s.Name)
	}
	s.ID, err = tx.newID(ctx)
	return err
}

// Apply adds the supplier.
func (s *SupplierAdded) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into supplier (id, name, note, entry_id) values ($1,$2,$3,$4)`, s.ID, s.Name, s.Note, e.ID)
	return err
}

// Supplier is someone from whom lots are bought.
type Supplier struct {
	ID   int64  `json:"id"`
	Name string `json:"name"`
	Note string `json:"note"`
}

// Suppliers lists all suppliers by name.
func (l *Ledger) Suppliers(ctx context.Context) ([]Supplier, error) {
	return all[Supplier](ctx, l.pool, `select id, name, note from supplier order by name`)
}
