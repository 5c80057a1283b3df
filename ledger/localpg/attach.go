package localpg

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"
)

// Exists tells whether a data folder holds a cluster.
func Exists(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, "postgres"))
	return err == nil
}

// Attach gives the address of the server that another ashbook runs on a data folder, for a short look beside it: an
// address as Cluster.URL gives it. It starts and holds nothing; when the other ends, so do the connections.
//
// Where the socket lies is read from the server's own note, and the server is asked which cluster it serves before
// the answer is believed.
func Attach(ctx context.Context, dir, role, database string) (string, error) {
	data, err := filepath.Abs(filepath.Join(dir, "postgres"))
	if err != nil {
		return "", fmt.Errorf("find the data folder %s: %w", dir, err)
	}
	note, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	if err != nil {
		return "", fmt.Errorf("look for the server that runs on %s: %w; is it still starting?", dir, err)
	}
	// The fifth line of postmaster.pid is the socket's folder (PostgreSQL, src/include/utils/pidfile.h).
	lines := strings.Split(string(note), "\n")
	if len(lines) < 5 || strings.TrimSpace(lines[4]) == "" {
		return "", fmt.Errorf("the server that runs on %s has not noted its socket yet; try again in a moment", dir)
	}
	address := socketURL(strings.TrimSpace(lines[4]), role, database)
	conn, err := pgx.Connect(ctx, socketURL(strings.TrimSpace(lines[4]), Owner, "postgres"))
	if err != nil {
		return "", fmt.Errorf("reach the server that another ashbook runs on %s: %w", dir, err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	var serves string
	if err := conn.QueryRow(ctx, `show data_directory`).Scan(&serves); err != nil {
		return "", fmt.Errorf("ask the server that runs on %s: %w", dir, err)
	}
	if !sameFolder(serves, data) {
		return "", fmt.Errorf("the socket noted in %s belongs to another server (on %s); stop both and start ashbook again", data, serves)
	}
	return address, nil
}
