// Package made works out what a lot is made of once its oils and alkali have met: soap by oil, glycerol, oil
// that found no alkali, water and all the rest, through premixes, stock lye and reworked soap at any depth.
// trace.Family.Composition gives the other half, what was added.
//
// It follows the same family tree. Each batch that makes soap, or each portion of it, is a pool of what was weighed
// into it, scraps and stock lye as they were made; then the pool reacts to completion. Batches that make a premix, a
// stock lye or a merged jug only mix. What holds, each with where it comes from:
//
//   - Reactions run to completion, at the point value of each saponification value (common practice, no
//     source). A bar a day old is not there yet, so a test of the bar goes before a prediction.
//   - A neutral fat and three hydroxides give three soaps and one glycerol, and no water; a free acid and a
//     hydroxide give a salt and a water. The masses follow from the molar masses.
//   - Acid additives react first (from memory, high confidence), and free fatty acids before neutral fat: strong lye turns
//     them to soap at once (Simmons & Appleton, The Handbook of Soap Manufacture, 1908). Then every neutral oil and wax reacts in the
//     same proportion: they compete for the lye, and none is kept back as the free oil (from memory, medium
//     confidence). That is how soap.Superfat counts, too.
//   - An acid that finds no hydroxide takes alkali from soap and leaves fatty acid, as in the standard test for total
//     fatty matter, which decomposes soap with acid (ISO 685). Acid that finds neither stays as it is.
//   - Sodium and potassium are bound in the proportion of their hydroxide equivalents in the pool. Ions in
//     wet soap change places, so which oil has which is bookkeeping; the sums are not.
//   - The carbonate in an alkali does not saponify neutral fat (the same handbook). It and the alkali's other
//     impurities stay as they are: the rest of the alkali.
//   - What is not glyceride in an oil, and the free fatty acids that its saponification value covers, count as
//     glyceride: glycerol comes out a little too high, by the acid value over the saponification value.
//   - Wax and wool fat set no glycerol free; their alcohols are counted in their soap.
//   - A lot taken from the whole of a batch with portions is taken as the whole mixed before it reacts.
//
// Amounts are worked out in steps of 1e-18 per gram and given out as shares of 12 places, a microgram in a tonne.
// Shares are of the mass as poured. Reworked soap counts with its mass as poured, too, so water that it has lost by then
// counts until Dried takes it away. Scent that evaporates in the cure is still in it.
//
// Lye burns: a prediction of no free alkali is no test. Nothing here certifies a product.
package made

import (
	"fmt"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/shopspring/decimal"
)

// Kind says how a bought lot reacts.
type Kind string

// The kinds. Scents, colours, salt, milk and all that neither takes alkali nor gives it are Other.
const (
	Oil    Kind = "oil" // oils, fats, waxes and fatty acids
	Alkali Kind = "alkali"
	Water  Kind = "water"
	Acid   Kind = "acid" // additives that take up alkali, as citric acid
	Other  Kind = "other"
)

// Ingredient is what is known about a bought lot. What its Kind does not need is left zero.
type Ingredient struct {
	Name           string
	Kind           Kind
	SAPMin, SAPMax decimal.Decimal // of an oil: mg KOH per g; 0 < SAPMin <= SAPMax
	NoGlycerol     bool            // of an oil: a wax or wool fat, whose alcohol is not glycerol
	FreeAcid       bool            // of an oil: a fatty acid, as stearic acid: makes water and no glycerol
	Alkali         string          // of an alkali: soap.NaOH or soap.KOH
	Purity         decimal.Decimal // mass fraction of hydroxide or of acid, above 0, at most 1. The rest of an acid is water.
	EquivalentMass decimal.Decimal // of an acid: grams of the pure acid that take one mol of alkali, as in soap.Acid
	Water          decimal.Decimal // of Other: mass fraction of water that can dry out, as in milk; from 0 to 1
}

// Facts are what a family tree does not say: what its bought lots are and which of its batches make soap.
type Facts struct {
	Lots map[trace.ID]Ingredient
	Soap map[trace.ID]bool // by batch: its oils and alkali react
}

// AsMade returns what lots are made of, doing the work behind them once. It fails as trace.Family.Composition does, and
// with an error that wraps soap.ErrInput when the facts about a bought lot among their ancestors are missing or
// out of range.
func AsMade(f trace.Family, facts Facts, lots ...trace.ID) (map[trace.ID]Composition, error) {
	m := maker{facts: facts, known: map[trace.ID]*matter{}}
	pools, err := trace.Fold(f, m.bought, m.mix, lots...)
	if err != nil {
		return nil, err
	}
	out := make(map[trace.ID]Composition, len(lots))
	for lot, p := range pools {
		out[lot] = m.composition(p)
	}
	return out, nil
}

// maker works out pools.
type maker struct {
	facts Facts
	known map[trace.ID]*matter
}

// matter is an Ingredient that was checked, with its equivalents.
type matter struct {
	Ingredient
	moles    fixed // equivalents per gram of the oil, the pure acid or the pure alkali
	mass     molar // of an equivalent of the same
	fatty    molar // of an equivalent of an oil's fatty acid
	glycerol molar // that an equivalent of an oil sets free
}

// molar is a molar mass in 1e-12 g/mol.
type molar fixed

const gram molar = 1e12

func molarMass(d decimal.Decimal) molar { return molar(d.Shift(12).Round(0).IntPart()) }

// of returns the grams of so many mol.
func (m molar) of(moles fixed) fixed { return times(moles, fixed(m), fixed(gram)) }

var (
	one       = decimal.NewFromInt(1)
	milligram = lye.MolarKOH.Shift(3) // of KOH per mol, the unit of saponification values
	glycerol  = divide(soap.MolarGlycerol, decimal.NewFromInt(3))
	water     = molarMass(lye.MolarWater)
	metal     = [...]molar{molarMass(lye.MolarNaOH), molarMass(lye.MolarKOH)}
)

// divide rounds where no figure of a share or a molar mass is touched.
func divide(a, b decimal.Decimal) decimal.Decimal { return a.DivRound(b, 24) }

func wrong(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{soap.ErrInput}, args...)...)
}

// learn checks the facts about a bought lot and works out its equivalents.
func (m *maker) learn(lot trace.ID) (*matter, error) {
	i, known := m.facts.Lots[lot]
	if !known {
		return nil, wrong("nothing is known about lot %d; say what it is", lot)
	}
	out, mass := &matter{Ingredient: i}, decimal.Zero
	var err error
	switch i.Kind {
	case Oil:
		mass, err = i.equivalent()
	case Alkali:
		if err = lye.CheckPurity(i.Name, i.Purity); err == nil {
			mass, err = lye.MolarMass(i.Alkali)
		}
	case Acid:
		mass, err = i.EquivalentMass, lye.CheckPurity(i.Name, i.Purity)
	case Water, Other:
		if i.Water.IsNegative() || i.Water.GreaterThan(one) {
			err = wrong("%s has a share of water of %s; it must be from 0 to 1", i.Name, i.Water)
		}
	default:
		err = wrong("%s of lot %d is of kind %q, which is not known; use oil, alkali, water, acid or other", i.Name, lot, i.Kind)
	}
	if err == nil && i.Kind != Water && i.Kind != Other {
		err = out.weigh(mass)
	}
	m.known[lot] = out
	return out, err
}

// equivalent returns the grams of an oil that take one mol of alkali.
func (i Ingredient) equivalent() (decimal.Decimal, error) {
	if !i.SAPMin.IsPositive() || i.SAPMax.LessThan(i.SAPMin) {
		return decimal.Zero, wrong("%s has a saponification value from %s to %s mg KOH/g; give a range above zero, the lower end first", i.Name, i.SAPMin, i.SAPMax)
	}
	return divide(milligram, soap.Oil{SAPMin: i.SAPMin, SAPMax: i.SAPMax}.SAP()), nil
}

// What an equivalent can weigh, g/mol: no acid is lighter than hydrofluoric, and what takes less alkali than the
// heaviest takes none that a scale could show.
var lightest, heaviest = decimal.NewFromInt(20), decimal.NewFromInt(1_000_000)

// weigh keeps the mass of an equivalent and what goes with it. The fatty acid of an oil is the oil and a water, less a
// third of a glycerol; a free fatty acid is its own.
func (m *matter) weigh(mass decimal.Decimal) error {
	if mass.LessThan(lightest) || mass.GreaterThan(heaviest) {
		return wrong("an equivalent of %s weighs %s g/mol; it must be from %s to %s; correct its saponification value, or its molar mass over its acid groups", m.Name, mass, lightest, heaviest)
	}
	m.moles, m.mass = fix(divide(one, mass)), molarMass(mass)
	m.fatty = m.mass
	if m.Kind == Oil && !m.FreeAcid {
		if !m.NoGlycerol {
			m.glycerol = molarMass(glycerol)
		}
		m.fatty += water - m.glycerol
	}
	return nil
}
