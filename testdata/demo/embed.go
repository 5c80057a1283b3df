// Package workshop carries the files of the demonstration: an invented workshop over half a year. How they are
// written is said at the head of scenario.yaml; package api/demo plays them.
package workshop

import "embed"

// Files holds scenario.yaml and the files that it names.
//
//go:embed *.yaml
var Files embed.FS
