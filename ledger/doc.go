// Package ledger keeps the facts of a soap workshop once: a journal of entries that only grows, the double-entry
// movements of every lot that follow from it, and the tables that pages and queries read.
//
// Record is the only door for a write. Each kind of entry is a Go type in a file of its own, with Check (may it be
// recorded?) and Apply (what it changes); replaying the journal through Apply gives the same tables, which Verify
// proves. Amounts are decimals, in grams or in pieces; times are UTC, shown in the shop's own zone.
package ledger
