// Package host finds or starts the database and opens the ledger on it, so that every command begins the same way.
package host

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"

	"ashbook/ledger"
	"ashbook/ledger/localpg"
)

// Options say which database is meant.
type Options struct {
	Database string // address of a server; empty: a private cluster in Data
	Data     string // the data folder; empty: DataFolder()
	Logger   *slog.Logger
	Look     bool // only look: beside another ashbook that runs the private server, and never at a new, empty folder
}

// Host is an open ledger with what was started for it.
type Host struct {
	Ledger  *ledger.Ledger
	URL     string // address under the service's role
	Warning string // what the database cannot protect; empty when nothing is missing
	cluster *localpg.Cluster
}

// database is the name of the database on a private cluster.
const database = "ashbook"

// DataFolder is where the ledger of this user lies when nothing else is said: ASHBOOK_DATA, or the place that the
// system has for it.
func DataFolder() string {
	if dir := os.Getenv("ASHBOOK_DATA"); dir != "" {
		return dir
	}
	if os.Geteuid() == 0 {
		return "/var/lib/ashbook"
	}
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" {
		return filepath.Join(dir, "ashbook")
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "ashbook-data"
	}
	return filepath.Join(home, ".local", "share", "ashbook")
}

// Open opens the ledger. A private cluster is started when no server is named, and its schema is brought up to date; on
// a server of the user's own that is done only when the address is that of the owner.
func Open(ctx context.Context, o Options) (*Host, error) {
	if o.Database != "" {
		return openServer(ctx, o.Database)
	}
	if o.Data == "" {
		o.Data = DataFolder()
	}
	if o.Look && !localpg.Exists(o.Data) {
		// A folder mistyped must not be answered with "nothing is known", or "no difference".
		return nil, fmt.Errorf("there are no records in %s; name the folder that has them with --data, or the server with --database", o.Data)
	}
	cluster, err := localpg.Start(ctx, localpg.Options{Dir: o.Data, Logger: o.Logger})
	if errors.Is(err, localpg.ErrInUse) && o.Look {
		return beside(ctx, o.Data)
	}
	if err != nil {
		return nil, err
	}
	h := &Host{cluster: cluster, URL: cluster.URL(ledger.ServiceRole, database)}
	if err := h.prepare(ctx, cluster); err != nil {
		h.Close()
		return nil, err
	}
	return h, nil
}

// beside opens the ledger on the server that another ashbook runs, which has brought the schema up to its own version.
func beside(ctx context.Context, data string) (*Host, error) {
	url, err := localpg.Attach(ctx, data, ledger.ServiceRole, database)
	if err != nil {
		return nil, err
	}
	return openServer(ctx, url)
}

func (h *Host) prepare(ctx context.Context, cluster *localpg.Cluster) error {
	if err := makeDatabase(ctx, cluster.URL(localpg.Owner, "postgres")); err != nil {
		return err
	}
	if err := ledger.Migrate(ctx, cluster.URL(localpg.Owner, database), ledger.ServiceRole); err != nil {
		return err
	}
	var err error
	h.Ledger, err = ledger.Open(ctx, h.URL, nil)
	return err
}

func makeDatabase(ctx context.Context, url string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return fmt.Errorf("reach the private database: %w", err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	var there bool
	if err := conn.QueryRow(ctx, `select exists (select 1 from pg_database where datname = $1)`, database).Scan(&there); err != nil || there {
		return err
	}
	_, err = conn.Exec(ctx, `create database `+database)
	return err
}

func openServer(ctx context.Context, url string) (*Host, error) {
	state, err := ledger.Inspect(ctx, url)
	if err != nil {
		return nil, err
	}
	if state.Owner {
		if err := ledger.Migrate(ctx, url, ""); err != nil {
			return nil, err
		}
	} else if state.Have != state.Want {
		return nil, fmt.Errorf("the database is at schema version %d, this ashbook needs %d; run \"ashbook migrate\" with the owner's address first", state.Have, state.Want)
	}
	l, err := ledger.Open(ctx, url, nil)
	if err != nil {
		return nil, err
	}
	h := &Host{Ledger: l, URL: url}
	if state.Owner {
		h.Warning = ledger.OwnerWarning
	}
	return h, nil
}

// Done is closed when a private server has ended by itself; it never is for a server of the user's own.
func (h *Host) Done() <-chan struct{} {
	if h.cluster == nil {
		return nil
	}
	return h.cluster.Done()
}

// Close closes the ledger and stops a private server in order.
func (h *Host) Close() error {
	if h.Ledger != nil {
		h.Ledger.Close()
	}
	if h.cluster == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	return h.cluster.Stop(ctx)
}
