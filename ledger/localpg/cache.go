package localpg

import "strconv"

// The least and the most of PostgreSQL's own cache, in bytes. With less the folder of a small shop would not fit; past
// the most, what the operating system keeps of the files does as well.
const (
	leastCache = 64 << 20
	mostCache  = 1 << 30
)

// cacheFor is the setting shared_buffers on a machine with so many bytes of memory; 0: unknown. PostgreSQL's manual
// (Resource Consumption) gives a quarter for a machine that does nothing else; ours does, so it is an eighth. It is
// taken from the system as it fills, not at the start.
//
// A question looks at some hundred pages that lie all over the tables. One that is not in this cache costs many times
// as much as one that is, even where the operating system has it, so a cache that is too small makes an old ledger slow.
func cacheFor(memory int64) string {
	return strconv.FormatInt(min(max(memory/8, leastCache), mostCache)>>10, 10) + "kB"
}
