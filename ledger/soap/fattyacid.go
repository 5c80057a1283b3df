package soap

import "github.com/shopspring/decimal"

// FattyAcid is one acid of an oil's composition.
type FattyAcid struct {
	Name      string
	Share     decimal.Decimal // by mass, in any unit common to the composition; it need not sum to 1
	MolarMass decimal.Decimal // g/mol, above zero
}

// SAPFromFattyAcids returns the saponification value, mg KOH per g, of the pure triglyceride with the
// given composition. It is a check on a SAP from elsewhere: unsaponifiable matter and moisture make the
// oil's own value lower by their share.
//
// The mean molar mass is that of the mol, not of the mass: sum of shares over sum of share/molar mass.
// A triglyceride is three acids and a glycerol less three waters. Shares from gas chromatography
// go through FromMethylEsters first.
func SAPFromFattyAcids(acids []FattyAcid) (decimal.Decimal, error) {
	shares, moles := decimal.Zero, decimal.Zero
	for _, a := range acids {
		if a.Share.IsNegative() || !a.MolarMass.IsPositive() {
			return decimal.Zero, wrong("%s has a share of %s and a molar mass of %s; the first must not be negative, the second must be above zero", a.Name, a.Share, a.MolarMass)
		}
		shares = shares.Add(a.Share)
		moles = moles.Add(divide(a.Share, a.MolarMass))
	}
	if !shares.IsPositive() {
		return decimal.Zero, wrong("there are no fatty acids with a share")
	}
	triglyceride := three.Mul(divide(shares, moles)).Add(MolarGlycerol).Sub(three.Mul(molarWater))
	return divide(three.Mul(molarKOH).Mul(thousand), triglyceride), nil
}

// molarMethylene is what a methyl ester has over its acid, g/mol: CH2.
var molarMethylene = decimal.RequireFromString("14.027")

// FromMethylEsters turns shares of methyl esters, which gas chromatography and most standards report,
// into shares of the acids themselves. It matters for short acids: coconut oil comes out 0.5 mg KOH/g
// lower.
func FromMethylEsters(esters []FattyAcid) []FattyAcid {
	acids := make([]FattyAcid, len(esters))
	for i, e := range esters {
		acids[i] = e
		acids[i].Share = divide(e.Share.Mul(e.MolarMass), e.MolarMass.Add(molarMethylene))
	}
	return acids
}
