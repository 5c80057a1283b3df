package trace

import "github.com/shopspring/decimal"

// Step is one edge between two lots, by way of the batch that used the one and made the other.
type Step struct {
	From  ID // the lot the step starts at: one nearer to the lot asked about
	Batch ID // the batch between the two
	Lot   ID // the lot the step arrives at; 0 if going down and the batch has made none of it yet
	// Portion, Grams and Leaves are those of the use. Grams are what was used, not the part of it in one
	// of several lots made, so grams of steps that share a use must not be added up.
	Portion string
	Grams   decimal.Decimal
	Leaves  bool
	Depth   int // 1 for the nearest
}

// Up returns what is behind one or more lots: a step for each use in the batch or portion that made them, and on
// to bought lots, the nearest first; a depth counts from the nearest of the lots asked about. Uses that leave are included, because what evaporates was in touch
// with the product. Each lot is looked into once, at its least depth; so a family tree with a
// cycle, which Composition refuses, still gets an answer.
func (f Family) Up(lots ...ID) []Step {
	at := f.index()
	return walk(lots, func(from ID) []Step {
		var steps []Step
		for _, o := range at.origins[from] {
			for _, u := range at.uses[o.Batch] {
				if meets(u.Portion, o.Portion) {
					steps = append(steps, stepOf(u, from, u.Lot))
				}
			}
		}
		return steps
	})
}

// Down returns what one or more lots went into: a step for each use and each lot that the use reached, and on to
// lots that went into nothing further, the nearest first. A use in one portion does not reach a lot
// made from another. A use that reached no lot yet, because the batch is still in the making or only
// other portions have been taken out, is a step with Lot 0. Each lot is looked into once.
func (f Family) Down(lots ...ID) []Step {
	at := f.index()
	return walk(lots, func(from ID) []Step {
		var steps []Step
		for _, u := range at.usedIn[from] {
			reached := false
			for _, o := range at.made[u.Batch] {
				if meets(u.Portion, o.Portion) {
					steps = append(steps, stepOf(u, from, o.Lot))
					reached = true
				}
			}
			if !reached {
				steps = append(steps, stepOf(u, from, 0))
			}
		}
		return steps
	})
}

func stepOf(u Use, from, to ID) Step {
	return Step{From: from, Batch: u.Batch, Lot: to, Portion: u.Portion, Grams: u.Grams, Leaves: u.Leaves}
}

// walk visits lots breadth first from those it starts at and collects the steps that next gives for each.
func walk(start []ID, next func(ID) []Step) []Step {
	var out []Step
	depth := map[ID]int{0: 0} // 0 is no lot and leads nowhere
	var queue []ID
	for _, lot := range start {
		if _, seen := depth[lot]; !seen {
			depth[lot] = 0
			queue = append(queue, lot)
		}
	}
	for ; len(queue) > 0; queue = queue[1:] {
		for _, step := range next(queue[0]) {
			step.Depth = depth[queue[0]] + 1
			out = append(out, step)
			if _, seen := depth[step.Lot]; !seen {
				depth[step.Lot] = step.Depth
				queue = append(queue, step.Lot)
			}
		}
	}
	return out
}
