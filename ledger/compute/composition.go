package compute

import (
	"errors"
	"fmt"
	"strings"

	"ashbook/ledger/made"
	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/shopspring/decimal"
)

func workComposition(in CompositionInput) (out CompositionOutput, err error) {
	tree, err := in.tree()
	if err != nil {
		return CompositionOutput{}, err
	}
	lots := make([]trace.ID, len(in.Of))
	for i, asked := range in.Of {
		lots[i] = tree.ids[asked.Lot]
	}
	added, err := tree.family.Compositions(lots...)
	if err != nil {
		return CompositionOutput{}, tree.refused(err)
	}
	asMade, err := made.AsMade(tree.family, tree.facts, lots...)
	if err != nil {
		return CompositionOutput{}, tree.refused(err)
	}
	for i, asked := range in.Of {
		one := LotOut{Lot: asked.Lot, AsAdded: tree.added(added[lots[i]]), AsPoured: tree.madeOut(asMade[lots[i]])}
		if one.AsDried, err = asked.dried(tree, asMade[lots[i]], fmt.Sprintf("of[%d]", i)); err != nil {
			return CompositionOutput{}, err
		}
		out.Lots = append(out.Lots, one)
	}
	out.About = about("composition", append(tree.sources, compositionSources...), reactionsEnd, lyeBurns, sheetFirst)
	return out, nil
}

var compositionSources = []string{
	"Reactions run to completion, at the middle of each range of saponification values (common practice, no source); every neutral oil in the same proportion.",
	"Total fatty matter as ISO 685 counts it; scents are not in it. Molar masses from the standard atomic weights (from memory, high confidence).",
	"Free fatty acids react before neutral fat, and carbonate saponifies none: Simmons & Appleton, The Handbook of Soap Manufacture, 1908 (carbonate: retrieved; free fatty acids: from memory, medium confidence).",
}

const reactionsEnd = "A prediction of no free alkali is no test. A bar a day old has not reacted to the end yet, so a test of the bar goes before it."

// tree is the input as the kernels take it, with the names of its numbers.
type tree struct {
	family  trace.Family
	facts   made.Facts
	ids     map[string]trace.ID
	names   []string // of lots by number
	batches []string // names by number
	sources []string
	places  map[trace.ID]string // paths of bought lots in the input
}

func (in CompositionInput) tree() (*tree, error) {
	var w WrongInput
	t := &tree{facts: made.Facts{Lots: map[trace.ID]made.Ingredient{}, Soap: map[trace.ID]bool{}}, ids: map[string]trace.ID{}, names: []string{""}, batches: []string{""},
		places: map[trace.ID]string{}}
	for i, l := range in.Lots {
		path := fmt.Sprintf("lots[%d]", i)
		id := t.name(&w, path+".lot", l.Lot)
		ingredient, source := l.ingredient(&w, path)
		t.facts.Lots[id], t.places[id] = ingredient, path
		if source != "" {
			t.sources = append(t.sources, source)
		}
	}
	for i, b := range in.Batches { // what was made may be used in a batch that is listed before
		for j, o := range b.Makes {
			t.name(&w, fmt.Sprintf("batches[%d].makes[%d].lot", i, j), o.Lot)
		}
	}
	uses := 0
	for i, b := range in.Batches {
		t.batch(&w, fmt.Sprintf("batches[%d]", i), b)
		uses += len(b.Uses)
	}
	if uses > mostUses {
		w.add("batches", "%d uses in all; give no more than %d at once", uses, mostUses)
	}
	for i, asked := range in.Of {
		t.lot(&w, fmt.Sprintf("of[%d].lot", i), asked.Lot)
	}
	return t, w.failed()
}

// name numbers a lot.
func (t *tree) name(w *WrongInput, path, lot string) trace.ID {
	if _, twice := t.ids[lot]; twice {
		w.add(path, "%s is given twice; a lot is either bought or comes from one batch or portion", quoted(lot))
	}
	id := trace.ID(len(t.names))
	t.ids[lot], t.names = id, append(t.names, lot)
	return id
}

// lot finds the number of a lot.
func (t *tree) lot(w *WrongInput, path, lot string) trace.ID {
	id, known := t.ids[lot]
	if !known {
		w.add(path, "%s is neither in lots nor made by a batch; name it there", quoted(lot))
	}
	return id
}

// batch adds the edges of a batch.
func (t *tree) batch(w *WrongInput, path string, b BatchInput) {
	id := trace.ID(len(t.batches))
	t.batches = append(t.batches, b.Batch)
	t.facts.Soap[id] = b.Soap
	portions, sum := map[string]bool{}, decimal.Zero
	for i, p := range b.Portions {
		if portions[p.Portion] {
			w.add(fmt.Sprintf("%s.portions[%d].portion", path, i), "%s is given twice; name portions apart", quoted(p.Portion))
		}
		portions[p.Portion], sum = true, sum.Add(p.Share)
		t.family.Splits = append(t.family.Splits, trace.Split{Batch: id, Portion: p.Portion, Share: p.Share})
	}
	if len(b.Portions) > 0 && !sum.Equal(one) {
		w.add(path+".portions", "the shares sum to %s, not to 1; correct them", sum)
	}
	inPortion := func(path, portion string) {
		if portion != "" && !portions[portion] {
			w.add(path, "%s is not a portion of this batch; name it in portions, with its share", quoted(portion))
		}
	}
	for i, u := range b.Uses {
		at := fmt.Sprintf("%s.uses[%d]", path, i)
		inPortion(at+".portion", u.Portion)
		t.family.Uses = append(t.family.Uses, trace.Use{Batch: id, Lot: t.lot(w, at+".lot", u.Lot), Portion: u.Portion, Grams: u.Grams, Leaves: u.Leaves})
	}
	for i, o := range b.Makes {
		inPortion(fmt.Sprintf("%s.makes[%d].portion", path, i), o.Portion)
		t.family.Origins = append(t.family.Origins, trace.Origin{Lot: t.ids[o.Lot], Batch: id, Portion: o.Portion})
	}
}

// ingredient returns what a bought lot is, and where the range of an oil is from.
func (l LotInput) ingredient(w *WrongInput, path string) (made.Ingredient, string) {
	out := made.Ingredient{Name: l.Lot}
	if l.Name != "" {
		out.Name = l.Name
	}
	switch {
	case l.Oil != nil:
		low, high, row := l.Oil.ends(w, path+".oil")
		out.Kind, out.SAPMin, out.SAPMax = made.Oil, low, high
		out.FreeAcid = l.Oil.FreeAcid || row.FreeAcid
		out.NoGlycerol = l.Oil.NoGlycerol || row.NoGlycerol
		return out, l.Oil.source(out.Name, row)
	case l.Alkali != nil:
		out.Kind, out.Alkali, out.Purity = made.Alkali, l.Alkali.Kind, l.Alkali.Purity
	case l.Water != nil:
		out.Kind = made.Water
	case l.Acid != nil:
		a := AcidInput{Name: l.Acid.Name, EquivalentMass: l.Acid.EquivalentMass}.acid(w, path+".acid")
		out.Kind, out.Purity, out.EquivalentMass = made.Acid, l.Acid.Purity, a.EquivalentMass
	case l.Other != nil:
		out.Kind, out.Water = made.Other, l.Other.WaterShare
	}
	return out, ""
}

// refused names what a kernel's refusal is about.
func (t *tree) refused(err error) error {
	if cycle, ok := errors.AsType[*trace.CycleError](err); ok {
		var names []string
		for _, lot := range cycle.Lots {
			names = append(names, quoted(t.names[lot]))
		}
		return amiss("batches", "a lot is among its own ancestors: %s, each made with the next and the last with the first; correct the uses", strings.Join(names, ", "))
	}
	if errors.Is(err, soap.ErrInput) {
		for id, path := range t.places { // the name of the lot is in the text
			if strings.Contains(err.Error(), t.facts.Lots[id].Name) {
				return refused(path, err)
			}
		}
	}
	return refused("batches", err)
}

func (t *tree) added(parts []trace.Part) []AddedPart {
	out := make([]AddedPart, len(parts))
	for i, p := range parts {
		out[i] = AddedPart{t.names[p.Lot], t.facts.Lots[p.Lot].Name, p.Share}
	}
	return out
}

func (t *tree) madeOut(c made.Composition) MadeOut {
	out := MadeOut{MassLeft: c.Mass, Water: c.Share(made.AnyWater), Glycerol: c.Share(made.Glycerol), FattyMatter: c.FattyMatter(), FreeAlkali: c.FreeAlkali()}
	for _, p := range c.Parts {
		out.Parts = append(out.Parts, MadePart{string(p.What), p.String(), p.Alkali, t.names[p.Of], p.Share, p.Fatty})
	}
	return out
}

// dried is the lot at the mass or the water that is asked for.
func (a LotAsked) dried(t *tree, c made.Composition, path string) (*MadeOut, error) {
	field, err := "", error(nil)
	switch {
	case a.GramsPoured != nil:
		field = path + ".grams_now"
		c, err = c.Dried(*a.GramsPoured, *a.GramsNow)
	case a.WaterShare != nil:
		field = path + ".water_share"
		c, err = c.AtWater(*a.WaterShare)
	default:
		return nil, nil
	}
	if err != nil {
		return nil, refused(field, err)
	}
	out := t.madeOut(c)
	return &out, nil
}
