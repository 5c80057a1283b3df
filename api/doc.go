// Package api serves the ledger over HTTP: sign-in, the JSON API under /v1 with its OpenAPI document, and the pages.
//
// It decides who is asking and turns requests into calls of the ledger; what may be recorded is decided there alone.
// Errors become answers through one table (problems), for programs as problem details by RFC 9457, for people as a
// page. The text of an error that is not the caller's to mend never leaves the server.
package api
