// Package bench measures what people wait for: an answer about a lot, a list, the recording of a weighing, a label. It
// times them in turn on a ledger of many batches and on one of a tenth as many, beside the least that the same work can
// cost: hand-written SQL over the same tables, and the PDF library alone.
//
// Everything is in the package's tests. The test holds that the ledger which is measured is one that the journal itself
// could have written; the benchmarks, which deploy/bench starts, say how long things take and assert nothing.
package bench
