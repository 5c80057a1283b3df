package ledger

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/tern/v2/migrate"

	"ashbook/migrations"
)

// ServiceRole is the role that the service uses on the private cluster. It reads everything and writes rows, but
// cannot alter the schema, and cannot change or remove an entry.
const ServiceRole = "ashbook_service"

// minServer is the oldest PostgreSQL that is tested for: 14.
const minServer = 140000

// migrateLock makes two processes that start at once migrate one after the other.
const migrateLock = 0x617368626f6f6b // "ashbook"

// Migrate brings the schema up to this version, as the owner of the database, and gives a role the rights of the
// service (empty: none). Run twice, or by two processes at once, it does the work once. A database that a newer
// ashbook has migrated is refused.
func Migrate(ctx context.Context, ownerURL, serviceRole string) error {
	cfg, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("cannot read the database address: %w", err)
	}
	settle(&cfg.Config)
	conn, err := pgx.ConnectConfig(ctx, cfg)
	if err != nil {
		return fmt.Errorf("cannot reach the database: %w", err)
	}
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_ = conn.Close(ctx) // also frees the lock
	}()
	if err := checkServer(ctx, conn); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `select pg_advisory_lock($1)`, int64(migrateLock)); err != nil {
		return err
	}
	if err := applyMigrations(ctx, conn); err != nil {
		return err
	}
	if serviceRole == "" {
		return nil
	}
	return grantService(ctx, conn, serviceRole)
}

func checkServer(ctx context.Context, conn *pgx.Conn) error {
	version, err := scalar[int](ctx, conn, `select current_setting('server_version_num')::int`)
	if err != nil {
		return err
	}
	if version < minServer {
		return fmt.Errorf("the PostgreSQL server is version %d.%d; ashbook needs 14 or later", version/10000, version%10000)
	}
	return nil
}

func applyMigrations(ctx context.Context, conn *pgx.Conn) error {
	if _, err := conn.Exec(ctx, `create schema if not exists `+Schema); err != nil {
		return fmt.Errorf("cannot make the schema: %w; migrate with the address of the role that owns the database", err)
	}
	m, err := migrate.NewMigrator(ctx, conn, Schema+".schema_version")
	if err != nil {
		return fmt.Errorf("cannot read the schema's version: %w", err)
	}
	if err := m.LoadMigrations(migrations.Files); err != nil {
		return err
	}
	have, err := m.GetCurrentVersion(ctx)
	if err != nil {
		return fmt.Errorf("cannot read the schema's version: %w", err)
	}
	if int(have) > len(m.Migrations) {
		return &Error{Fault: Conflict, Message: fmt.Sprintf("the database is at schema version %d, this ashbook knows %d; install the newer ashbook that migrated it",
			have, len(m.Migrations))}
	}
	return m.Migrate(ctx)
}

// roleExists tells that a role was made meanwhile: roles belong to the server, and another of its databases may be
// migrated at the same moment, which this one's lock does not see.
func roleExists(err error) bool {
	pg, ok := errors.AsType[*pgconn.PgError](err)
	return ok && (pg.Code == "42710" || pg.Code == "23505")
}

// grantService gives a role what the service needs and no more. The journal and the kept files get rows and lose none.
func grantService(ctx context.Context, conn *pgx.Conn, role string) error {
	found, err := exists(ctx, conn, `select 1 from pg_roles where rolname = $1`, role)
	if err != nil {
		return err
	}
	name := pgx.Identifier{role}.Sanitize()
	if !found {
		if _, err := conn.Exec(ctx, `create role `+name+` login`); err != nil && !roleExists(err) {
			return fmt.Errorf("cannot make the role %s: %w; make it by hand with LOGIN and migrate again", role, err)
		}
	}
	rights := []string{
		`grant usage on schema ` + Schema + ` to ` + name,
		`grant select on all tables in schema ` + Schema + ` to ` + name,
		`grant usage on all sequences in schema ` + Schema + ` to ` + name,
	}
	for _, t := range append(journalTables(), "attachment") {
		rights = append(rights, `revoke all on `+t+` from `+name, `grant select, insert on `+t+` to `+name)
	}
	for _, t := range append(derivedTables(), "credential", "sessions", "contact") {
		if t != "posting" {
			rights = append(rights, `grant select, insert, update, delete on `+t+` to `+name)
		}
	}
	for _, sql := range rights {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return fmt.Errorf("cannot grant the service its rights: %w", err)
		}
	}
	return nil
}

// State is what a role finds when it looks at a database.
type State struct {
	Owner bool // the role owns the schema, or could make it
	Have  int  // the schema's version; 0: there is none yet
	Want  int  // the version that this ashbook works with
}

// OwnerWarning says what a database cannot protect when the service uses the owner's role.
const OwnerWarning = "the service uses the role that owns the tables. Triggers still refuse changes to entries, but this role could take the triggers away. " +
	"For full protection run \"ashbook migrate --service ROLE\" with the owner's address, and give serve the address of that role"

// Inspect looks at a database under the role of an address, and changes nothing.
func Inspect(ctx context.Context, url string) (State, error) {
	s := State{}
	cfg, err := pgx.ParseConfig(url)
	if err != nil {
		return s, fmt.Errorf("cannot read the database address: %w", err)
	}
	settle(&cfg.Config)
	conn, err := pgx.ConnectConfig(ctx, cfg)
	if err != nil {
		return s, fmt.Errorf("cannot reach the database: %w", err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	if s.Want, err = wanted(); err != nil {
		return s, err
	}
	there, err := exists(ctx, conn, `select 1 from pg_namespace where nspname = $1`, Schema)
	if err != nil {
		return s, err
	}
	if !there {
		s.Owner, err = scalar[bool](ctx, conn, `select has_database_privilege(current_database(), 'create')`)
		return s, err
	}
	if s.Owner, err = scalar[bool](ctx, conn, `select pg_has_role(current_user, nspowner, 'usage') from pg_namespace where nspname = $1`, Schema); err != nil {
		return s, err
	}
	// A version that cannot be read is an error, never "a fresh database".
	s.Have, err = scalar[int](ctx, conn, `select version from schema_version`)
	return s, err
}

// wanted counts the migrations that this ashbook brings.
func wanted() (int, error) {
	files, err := fs.Glob(migrations.Files, "*.sql")
	return len(files), err
}
