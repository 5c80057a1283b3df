// Package migrations holds the numbered SQL files that build the schema, embedded in the binary.
//
// Files are applied in the order of their number, each in a transaction of its own, and never changed once they
// have been released: a later need is a later file. There is no way back down.
package migrations

import "embed"

// Files are the migrations, named NNN_what_it_does.sql.
//
//go:embed *.sql
var Files embed.FS
