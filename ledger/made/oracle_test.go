package made

import (
	"testing"

	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// AsMade agrees with grams of products, computed the slow way in floating point, path by path.
func TestAgreesWithGramsOfProducts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := grow(t, rapid.IntRange(1, 5).Draw(t, "batches"))
		all, err := AsMade(w.Family, w.Facts, w.made...)
		require.NoError(t, err)
		for _, lot := range w.made {
			want, got := slowly(w.Family, w.Facts, lot), map[product]float64{}
			for _, p := range all[lot].Parts {
				got[product{p.What, p.Alkali, p.Of}] = p.Share.InexactFloat64()
			}
			for p := range got {
				want[p] += 0
			}
			for p, share := range want {
				require.InDelta(t, share, got[p], 1e-9, "lot %d: %v", lot, p)
			}
		}
	})
}

type product struct {
	what   What
	alkali string
	of     trace.ID
}

// slowly shares no code with AsMade: it carries grams of products, not mol of what is bound.
func slowly(f trace.Family, facts Facts, lot trace.ID) map[product]float64 {
	for _, o := range f.Origins {
		if o.Lot != lot {
			continue
		}
		share := 1.0
		for _, s := range f.Splits {
			if s.Batch == o.Batch && s.Portion == o.Portion {
				share = s.Share.InexactFloat64()
			}
		}
		pot, total := map[product]float64{}, 0.0
		for _, u := range f.Uses {
			if u.Batch != o.Batch || u.Portion != "" && u.Portion != o.Portion || u.Grams.IsZero() {
				continue
			}
			grams := u.Grams.InexactFloat64()
			if u.Portion == "" {
				grams *= share
			}
			if total += grams; grams == 0 {
				continue
			}
			for p, part := range slowly(f, facts, u.Lot) {
				pot[p] += grams * part
			}
		}
		if facts.Soap[o.Batch] {
			boil(pot, facts)
		}
		for p := range pot {
			pot[p] /= total
		}
		return pot
	}
	i := facts.Lots[lot]
	purity, water := i.Purity.InexactFloat64(), i.Water.InexactFloat64()
	switch i.Kind {
	case Oil:
		return map[product]float64{{FreeOil, "", lot}: 1}
	case Alkali:
		return map[product]float64{{FreeAlkali, i.Alkali, lot}: purity, {RestOfAlkali, "", lot}: 1 - purity}
	case Acid:
		return map[product]float64{{FreeAcid, "", lot}: purity, {AnyWater, "", lot}: 1 - purity}
	case Water:
		return map[product]float64{{AnyWater, "", lot}: 1}
	}
	return map[product]float64{{AsAdded, "", lot}: 1 - water, {AnyWater, "", lot}: water}
}

const waterMass = 18.015

var metals = map[string]float64{soap.NaOH: 39.997, soap.KOH: 56.1056}

// boil lets a pot react, one class after the other.
func boil(pot map[product]float64, facts Facts) {
	oil := func(lot trace.ID) (equivalent, acid, glycerol float64) {
		i := facts.Lots[lot]
		equivalent = 2 * 56105.6 / i.SAPMin.Add(i.SAPMax).InexactFloat64()
		switch {
		case i.FreeAcid:
			return equivalent, equivalent, 0
		case i.NoGlycerol:
			return equivalent, equivalent + waterMass, 0
		}
		return equivalent, equivalent + waterMass - 92.094/3, 92.094 / 3
	}
	// Each class: what it takes in grams per mol, and what a mol of it yields besides the salt.
	type class struct {
		has   func(p product) bool
		grams func(p product) float64
		yield func(p product, alkali string, mol float64)
	}
	salt := func(what What, p product, alkali string, mol, acid float64) {
		pot[product{what, alkali, p.of}] += mol * (acid + metals[alkali] - waterMass)
	}
	formed := product{AnyWater, "", 0}
	acids := class{
		func(p product) bool { return p.what == FreeAcid },
		func(p product) float64 { return facts.Lots[p.of].EquivalentMass.InexactFloat64() },
		func(p product, alkali string, mol float64) {
			salt(AcidSalt, p, alkali, mol, facts.Lots[p.of].EquivalentMass.InexactFloat64())
			pot[formed] += mol * waterMass
		},
	}
	fatty := class{
		func(p product) bool { return p.what == FattyAcid || p.what == FreeOil && facts.Lots[p.of].FreeAcid },
		func(p product) float64 { _, acid, _ := oil(p.of); return acid },
		func(p product, alkali string, mol float64) {
			_, acid, _ := oil(p.of)
			salt(Soap, p, alkali, mol, acid)
			pot[formed] += mol * waterMass
		},
	}
	neutral := class{
		func(p product) bool { return p.what == FreeOil && !facts.Lots[p.of].FreeAcid },
		func(p product) float64 { equivalent, _, _ := oil(p.of); return equivalent },
		func(p product, alkali string, mol float64) {
			_, acid, glycerol := oil(p.of)
			salt(Soap, p, alkali, mol, acid)
			if glycerol > 0 {
				pot[product{Glycerol, "", p.of}] += mol * glycerol
			}
		},
	}
	molOf := func(c class) (all map[product]float64, sum float64) {
		all = map[product]float64{}
		for p, grams := range pot {
			if c.has(p) {
				all[p] = grams / c.grams(p)
				sum += all[p]
			}
		}
		return all, sum
	}
	lye := class{
		func(p product) bool { return p.what == FreeAlkali },
		func(p product) float64 { return metals[p.alkali] }, nil,
	}
	soaps := class{
		func(p product) bool { return p.what == Soap },
		func(p product) float64 { _, acid, _ := oil(p.of); return acid + metals[p.alkali] - waterMass }, nil,
	}
	react := func(takers, givers class, given func(p product, mol float64)) {
		take, wanted := molOf(takers)
		give, there := molOf(givers)
		done := min(wanted, there)
		if done <= 0 {
			return
		}
		for p, mol := range take {
			pot[p] -= mol * done / wanted * takers.grams(p)
			if done == wanted {
				delete(pot, p) // not what rounding leaves
			}
			for g, part := range give {
				takers.yield(p, g.alkali, mol*done/wanted*part/there)
			}
		}
		for g, mol := range give {
			pot[g] -= mol * done / there * givers.grams(g)
			if done == there {
				delete(pot, g)
			}
			if given != nil {
				given(g, mol*done/there)
			}
		}
	}
	react(acids, lye, nil)
	react(acids, soaps, func(p product, mol float64) {
		_, acid, _ := oil(p.of)
		what := FattyAcid
		if facts.Lots[p.of].FreeAcid {
			what = FreeOil
		}
		pot[product{what, "", p.of}] += mol * acid
		pot[formed] -= mol * waterMass
	})
	react(fatty, lye, nil)
	react(neutral, lye, nil)
}
