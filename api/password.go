package api

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"
	"sync"

	"github.com/alexedwards/argon2id"
	"github.com/jackc/pgx/v5"

	"ashbook/ledger"
)

const (
	shortestPassword = 12
	longestPassword  = 200
	fewestCharacters = 5 // different ones
)

// hashing holds back all but two password hashes at a time: each takes 64 MiB, and anyone may ask for one.
var hashing = make(chan struct{}, 2)

func takeTurn(ctx context.Context) (func(), error) {
	select {
	case hashing <- struct{}{}:
		return func() { <-hashing }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// nobodysHash is compared with when a login does not exist, so that the answer takes as long.
var nobodysHash = sync.OnceValues(func() (string, error) { return argon2id.CreateHash(rand.Text(), argon2id.DefaultParams) })

// matches compares a password with a hash; with none it takes the same time and says no.
func matches(ctx context.Context, plain, hash string) (bool, error) {
	if len(plain) > 4*longestPassword {
		plain = ""
	}
	done, err := takeTurn(ctx)
	if err != nil {
		return false, err
	}
	defer done()
	if hash != "" {
		return argon2id.ComparePasswordAndHash(plain, hash)
	}
	nobodys, err := nobodysHash()
	if err != nil {
		return false, err
	}
	_, err = argon2id.ComparePasswordAndHash(plain, nobodys)
	return false, err
}

// SetPassword gives a person a password of 12 to 200 characters, of which five differ. With mustChange it has to be
// replaced at the first sign-in. All sessions of the person end. A password that breaks the rules is Invalid.
func SetPassword(ctx context.Context, l *ledger.Ledger, person int64, plain string, mustChange bool) error {
	if err := checkPassword(plain); err != nil {
		return err
	}
	if _, err := l.Actor(ctx, person); err != nil {
		return err
	}
	done, err := takeTurn(ctx)
	if err != nil {
		return err
	}
	defer done()
	hash, err := argon2id.CreateHash(plain, argon2id.DefaultParams)
	if err != nil {
		return fmt.Errorf("hash the password: %w", err)
	}
	return l.SetPassword(ctx, person, hash, mustChange)
}

func checkPassword(plain string) error {
	n, different := 0, map[rune]bool{}
	for _, r := range plain {
		n++
		different[r] = true
	}
	refuse := func(format string, args ...any) error {
		return &ledger.Error{Fault: ledger.Invalid, Field: "password", Message: fmt.Sprintf(format, args...)}
	}
	switch {
	case n < shortestPassword:
		return refuse("the password has %d characters; take at least %d, for example four words", n, shortestPassword)
	case n > longestPassword:
		return refuse("the password has %d characters; at most %d fit", n, longestPassword)
	case len(different) < fewestCharacters:
		return refuse("the password has only %d different characters; take at least %d", len(different), fewestCharacters)
	}
	return nil
}

// readable leaves out the letters and figures that are taken for each other: 0 o, 1 i l.
const readable = "abcdefghjkmnpqrstuvwxyz23456789"

// oneTimePassword is a random password of 99 bits that can be read from a screen and typed: four groups of five.
func oneTimePassword() string {
	groups := make([]string, 4)
	for i := range groups {
		var b strings.Builder
		for b.Len() < 5 {
			var one [1]byte
			rand.Read(one[:]) // never fails: the runtime ends the program instead
			// Values past the last whole multiple would make the first letters likelier.
			if n := len(readable); int(one[0]) < 256/n*n {
				b.WriteByte(readable[int(one[0])%n])
			}
		}
		groups[i] = b.String()
	}
	return strings.Join(groups, "-")
}

// ownerLock is the number of the advisory lock under which the first owner is made.
const ownerLock = 0x617368626f6f6b // "ashbook"

// ResetPassword gives a person a new one-time password, which has to be changed at the next sign-in.
func ResetPassword(ctx context.Context, l *ledger.Ledger, person int64) (string, error) {
	plain := oneTimePassword()
	return plain, SetPassword(ctx, l, person, plain, true)
}

// EnsureOwner sees that somebody can sign in as an owner. When there are no people it adds the owner "owner"; when no
// owner has a password, since an earlier start ended between the two, it takes the first one. Either is given a
// one-time password, which is returned in plain this once, with created true, and has to be changed at the first
// sign-in. Of several processes that start at once, one does it.
func EnsureOwner(ctx context.Context, l *ledger.Ledger) (login, password string, created bool, err error) {
	// A connection of its own: waiting for the lock on one of the pool could take the last that the holder needs.
	conn, err := pgx.ConnectConfig(ctx, l.Pool().Config().ConnConfig)
	if err != nil {
		return "", "", false, fmt.Errorf("make the first owner: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	err = pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `select pg_advisory_xact_lock($1)`, int64(ownerLock)); err != nil {
			return err
		}
		owner, err := ownerWithoutPassword(ctx, l)
		if err != nil || owner == nil {
			return err
		}
		login, password, created = owner.Login, oneTimePassword(), true
		return SetPassword(ctx, l, owner.ID, password, true)
	})
	if err != nil {
		return "", "", false, fmt.Errorf("make the first owner: %w", err)
	}
	return login, password, created, nil
}

// ownerWithoutPassword gives the owner who needs a first password, adding one when there are no people; nil when some
// owner can sign in.
func ownerWithoutPassword(ctx context.Context, l *ledger.Ledger) (*ledger.Person, error) {
	people, err := l.People(ctx)
	if err != nil {
		return nil, err
	}
	if len(people) == 0 {
		r, err := l.Record(ctx, ledger.System, ledger.Request{Body: &ledger.PersonAdded{Login: "owner", Name: "Owner", Role: ledger.Owner}})
		if err != nil {
			return nil, err
		}
		p := r.Record.(*ledger.PersonAdded)
		return &ledger.Person{ID: p.ID, Login: p.Login}, nil
	}
	var first *ledger.Person
	for _, p := range people {
		if p.Role != ledger.Owner || !p.Active {
			continue
		}
		_, err := l.Credential(ctx, p.Login)
		if err == nil {
			return nil, nil
		}
		if ledger.FaultOf(err) != ledger.NotFound {
			return nil, err
		}
		if first == nil {
			first = &p
		}
	}
	return first, nil
}
