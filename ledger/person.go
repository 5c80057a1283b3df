package ledger

import (
	"context"
	"errors"
	"regexp"

	"github.com/jackc/pgx/v5"
)

// PersonAdded gives a person a place in the shop. The password is kept outside the journal.
type PersonAdded struct {
	ID    int64  `json:"id" readOnly:"true"`
	Login string `json:"login" doc:"name to sign in with: 2 to 40 of a-z, 0-9, dot, hyphen"`
	Name  string `json:"name" maxLength:"200" doc:"name as it stands beside what the person recorded"`
	Role  Role   `json:"role" enum:"owner,maker,reviewer,seller,visitor"`
}

var loginShape = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{1,39}$`)

// Kind names the entry.
func (*PersonAdded) Kind() string { return "person.added" }

// Right is what it asks for.
func (*PersonAdded) Right() Right { return MayManage }

// Subjects is the roll of people.
func (*PersonAdded) Subjects() []int64 { return []int64{2} }

// Check refuses a login that is taken or not typeable.
func (p *PersonAdded) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if !loginShape.MatchString(p.Login) {
		return invalid("login", "%q is not a login: 2 to 40 small letters, digits, dots or hyphens", p.Login)
	}
	if err := words("name", &p.Name, 200); err != nil {
		return err
	}
	if rights[p.Role] == nil {
		return invalid("role", "%q is not a role", p.Role)
	}
	taken, err := exists(ctx, tx, `select 1 from person where login = $1`, p.Login)
	if err != nil {
		return err
	}
	if taken {
		return conflict("the login %q is taken; choose another", p.Login)
	}
	p.ID, err = tx.newID(ctx)
	return err
}

// Apply adds the person.
func (p *PersonAdded) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `insert into person (id, login, name, role, active, entry_id) values ($1,$2,$3,$4,true,$5)`,
		p.ID, p.Login, p.Name, p.Role, e.ID)
	return err
}

// PersonChanged changes a person's role, or ends or renews the person's access.
type PersonChanged struct {
	ID     int64 `json:"id"`
	Role   Role  `json:"role" enum:"owner,maker,reviewer,seller,visitor"`
	Active bool  `json:"active"`
}

// Kind names the entry.
func (*PersonChanged) Kind() string { return "person.changed" }

// Right is what it asks for.
func (*PersonChanged) Right() Right { return MayManage }

// Subjects is the roll of people.
func (*PersonChanged) Subjects() []int64 { return []int64{2} }

// Check keeps at least one owner who can sign in.
func (p *PersonChanged) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if rights[p.Role] == nil {
		return invalid("role", "%q is not a role", p.Role)
	}
	found, err := exists(ctx, tx, `select 1 from person where id = $1`, p.ID)
	if err != nil {
		return err
	}
	if !found {
		return notFound("id", "there is no person %d", p.ID)
	}
	if p.Role == Owner && p.Active {
		return nil
	}
	other, err := exists(ctx, tx, `select 1 from person where role = 'owner' and active and id <> $1`, p.ID)
	if err != nil {
		return err
	}
	if !other {
		return invalid("role", "this is the last owner; make another person an owner first")
	}
	return nil
}

// Apply changes the person.
func (p *PersonChanged) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	_, err := tx.Exec(ctx, `update person set role = $2, active = $3, entry_id = $4 where id = $1`, p.ID, p.Role, p.Active, e.ID)
	return err
}

// Person is one of the shop's people.
type Person struct {
	ID     int64  `json:"id"`
	Login  string `json:"login"`
	Name   string `json:"name"`
	Role   Role   `json:"role"`
	Active bool   `json:"active"`
}

// People lists everyone, in the order of their names.
func (l *Ledger) People(ctx context.Context) ([]Person, error) {
	return all[Person](ctx, l.pool, `select id, login, name, role, active from person order by name, id`)
}

// Actor gives the person of a number, as someone who may record; NotFound when gone or no longer active.
func (l *Ledger) Actor(ctx context.Context, id int64) (Actor, error) {
	a, err := one[Actor](ctx, l.pool, `select id, login, name, role from person where id = $1 and active`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return a, notFound("", "this person has no access any more")
	}
	return a, err
}

// ActorByLogin gives an active person by login.
func (l *Ledger) ActorByLogin(ctx context.Context, login string) (Actor, error) {
	a, err := one[Actor](ctx, l.pool, `select id, login, name, role from person where login = $1 and active`, login)
	if errors.Is(err, pgx.ErrNoRows) {
		return a, notFound("login", "there is no active person with the login %q", login)
	}
	return a, err
}

// Credential is what sign-in compares a password with.
type Credential struct {
	PersonID   int64
	Hash       string
	MustChange bool
}

// Credential finds an active person's credential by login; NotFound when there is none.
func (l *Ledger) Credential(ctx context.Context, login string) (Credential, error) {
	c, err := one[Credential](ctx, l.pool, `select p.id, c.password_hash, c.must_change from person p
		join credential c on c.person_id = p.id where p.login = $1 and p.active`, login)
	if errors.Is(err, pgx.ErrNoRows) {
		return c, notFound("login", "no such person")
	}
	return c, err
}

// SetPassword keeps the hash of a person's new password.
func (l *Ledger) SetPassword(ctx context.Context, person int64, hash string, mustChange bool) error {
	_, err := l.pool.Exec(ctx, `insert into credential (person_id, password_hash, must_change, changed_at) values ($1,$2,$3,$4)
		on conflict (person_id) do update set password_hash = excluded.password_hash, must_change = excluded.must_change,
		changed_at = excluded.changed_at`, person, hash, mustChange, l.Now())
	return err
}
