// Package bench measures what people wait for: an answer about a lot, the recording of a weighing, a label. It times
// them on a ledger of many batches, beside the least that the same work can cost: hand-written SQL over the same
// tables, and the PDF library alone.
//
// Everything is in the package's tests. The test holds that the ledger which is measured is one that the journal itself
// could have written; the benchmarks, which deploy/bench starts, say how long things take and assert nothing.
package bench
