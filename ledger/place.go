package ledger

import "strconv"

// Place is where an amount of a lot is. Real places never hold less than nothing; supplier, made and count stand for
// the world outside the books and may.
type Place struct {
	Name string
	ID   int64 // the batch of a pot or of what was made, the dispatch of what was sent; else 0
}

func (p Place) String() string {
	if p.ID == 0 {
		return p.Name
	}
	return p.Name + "/" + strconv.FormatInt(p.ID, 10)
}

// The places. Materials wait on the shelf; bars cure on the rack and are ready once released.
var (
	fromSupplier = Place{Name: "supplier"}
	onShelf      = Place{Name: "shelf"}
	onRack       = Place{Name: "rack"}
	ready        = Place{Name: "ready"}
	kept         = Place{Name: "kept"}
	waste        = Place{Name: "waste"}
	intoAir      = Place{Name: "air"}
	counted      = Place{Name: "count"}
)

func inPot(batch int64) Place     { return Place{"pot", batch} }
func madeBy(batch int64) Place    { return Place{"made", batch} }
func sentBy(dispatch int64) Place { return Place{"sent", dispatch} }
