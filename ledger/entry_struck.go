package ledger

import "context"

// EntryStruck takes an entry back without putting another in its place; the request names it in Corrects.
type EntryStruck struct{}

// Kind names the entry.
func (*EntryStruck) Kind() string { return "entry.struck" }

// Right is what anyone has who records at all; the door asks for the right of the struck entry besides.
func (*EntryStruck) Right() Right { return MaySell }

// Subjects are those of the struck entry, which the door adds.
func (*EntryStruck) Subjects() []int64 { return nil }

// Check asks for the entry to strike.
func (*EntryStruck) Check(_ context.Context, _ *Tx, e *Entry) error {
	if e.Corrects == 0 {
		return invalid("corrects", "name the entry to strike")
	}
	return nil
}

// Apply has nothing left to do: the door has taken the old entry back.
func (*EntryStruck) Apply(context.Context, *Tx, *Entry) error { return nil }
