package soap

import (
	"strings"
	"testing"

	"ashbook/ledger/lye"
	"ashbook/testdata/reference"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// point is an oil with a point SAP.
func point(name, grams, sap string) Oil {
	return Oil{Name: name, Grams: d(grams), SAPMin: d(sap), SAPMax: d(sap)}
}

// weighed is an alkali of a purity taken as exact.
func weighed(kind string, grams, purity decimal.Decimal) Alkali {
	return Alkali{Kind: kind, Grams: grams, Purity: purity}
}

// fourOils is the worked recipe of the reference values, with the ranges of chem-sap.csv.
func fourOils() []Oil {
	return []Oil{
		{Name: "olive", Grams: d("500"), SAPMin: d("184"), SAPMax: d("196")},
		{Name: "coconut", Grams: d("250"), SAPMin: d("248"), SAPMax: d("265")},
		{Name: "palm", Grams: d("200"), SAPMin: d("190"), SAPMax: d("209")},
		{Name: "castor", Grams: d("50"), SAPMin: d("176"), SAPMax: d("187")},
	}
}

// The quantities of chem-check-values.csv that this package computes, by id. Ids that are not here
// belong to lye solutions, titration and what soap is made of.
var computed = map[string]func(t *testing.T) decimal.Decimal{
	"koh_to_naoh": func(*testing.T) decimal.Decimal {
		return NaOHNeeded([]Oil{point("any", "1000", "1")}) // takes 1 g KOH
	},
	"triolein_sap": func(t *testing.T) decimal.Decimal {
		sap, err := SAPFromFattyAcids([]FattyAcid{{Name: "C18:1", Share: d("1"), MolarMass: d("282.468")}})
		require.NoError(t, err)
		return sap
	},
	"four_oil_koh":       func(*testing.T) decimal.Decimal { return KOHNeeded(fourOils()) },
	"four_oil_naoh_pure": func(*testing.T) decimal.Decimal { return NaOHNeeded(fourOils()) },
	"four_oil_naoh_weighed": func(t *testing.T) decimal.Decimal {
		return fourOilAlkali(t)
	},
	"four_oil_superfat_entered": func(t *testing.T) decimal.Decimal {
		r, err := Superfat(fourOils(), []Alkali{weighed(NaOH, d("143.8"), d("0.98"))})
		require.NoError(t, err)
		return r.Superfat
	},
	"four_oil_u_superfat": func(t *testing.T) decimal.Decimal {
		b, err := Uncertainty(entered())
		require.NoError(t, err)
		return decimal.NewFromFloat(b.U)
	},
	"rectangular_u": func(t *testing.T) decimal.Decimal { // a gram of an oil of 7 to 10 and 8.5 mg KOH
		b, err := Uncertainty([]Oil{{Name: "any", Grams: one, SAPMin: d("7"), SAPMax: d("10")}}, []Alkali{weighed(KOH, d("0.0085"), one)})
		require.NoError(t, err)
		return decimal.NewFromFloat(b.U).Mul(d("8.5"))
	},
	"four_oil_water_33": func(t *testing.T) decimal.Decimal {
		water, err := lye.WaterFor(fourOilAlkali(t), d("0.33"))
		require.NoError(t, err)
		return water
	},
	"citric_naoh": func(*testing.T) decimal.Decimal {
		return divide(molarNaOH, CitricAcid(d("1")).EquivalentMass)
	},
	"cold_process_1908_coconut": func(t *testing.T) decimal.Decimal {
		// mg KOH per g of oil that the alkali stands for: the SAP at which the superfat is nil.
		naoh := coconutLye1908(t)
		return divide(naoh.Mul(molarKOH), molarNaOH).Mul(d("1000")).Div(d("100"))
	},
	"cold_process_1908_coconut_superfat": func(t *testing.T) decimal.Decimal {
		oil := Oil{Name: "coconut 1908", Grams: d("100"), SAPMin: d("259.7"), SAPMax: d("261.9")}
		r, err := Superfat([]Oil{oil}, []Alkali{weighed(NaOH, coconutLye1908(t), d("1"))})
		require.NoError(t, err)
		return r.Superfat
	},
	"coconut_sap_from_fa": func(t *testing.T) decimal.Decimal { return sapOfMidpoints(t, "coconut") },
	"palm_sap_from_fa":    func(t *testing.T) decimal.Decimal { return sapOfMidpoints(t, "palm") },
	"pk_sap_from_fa":      func(t *testing.T) decimal.Decimal { return sapOfMidpoints(t, "palm kernel") },
}

func TestReferenceCheckValues(t *testing.T) {
	for id, compute := range computed {
		reference.Holds(t, id, compute(t))
	}
}

func fourOilAlkali(t *testing.T) decimal.Decimal {
	grams, err := AlkaliToWeigh(fourOils(), d("0.05"), d("0.98"), NaOH)
	require.NoError(t, err)
	return grams
}

// coconutLye1908 is the NaOH of the handbook's recipe: half the oil's weight of lye of 71.4 °Tw, which
// is 32.64 % by the handbook's own table, for 100 g of oil.
func coconutLye1908(t *testing.T) decimal.Decimal {
	water := d("50").Mul(one.Sub(d("0.3264")))
	naoh := d("50").Sub(water)
	c, err := lye.Concentration(naoh, water)
	require.NoError(t, err)
	reference.Within(t, d("0.3264"), c, d("1e-20"))
	return naoh
}

// composition is the midpoint of each fatty-acid range of chem-fatty-acids.csv.
func composition(t *testing.T, oil string) []FattyAcid {
	molar := map[string]decimal.Decimal{}
	for _, row := range reference.Rows("chem-fatty-acid-mw.csv") {
		molar[row["fatty_acid"]] = d(row["molar_mass_g_mol"])
	}
	var acids []FattyAcid
	for _, row := range reference.Rows("chem-fatty-acids.csv") {
		if row["oil"] == oil {
			mid := d(row["min_pct"]).Add(d(row["max_pct"])).Mul(half)
			acids = append(acids, FattyAcid{row["fatty_acid"], mid, molar[row["fatty_acid"]]})
		}
	}
	return acids
}

func sapOfMidpoints(t *testing.T, oil string) decimal.Decimal {
	sap, err := SAPFromFattyAcids(FromMethylEsters(composition(t, oil)))
	require.NoError(t, err, oil)
	return sap
}

// The worked recipe's ranges are those of the table of published ranges.
func TestFourOilsHaveThePublishedRanges(t *testing.T) {
	published := map[string]map[string]string{}
	for _, row := range reference.Rows("chem-sap.csv") {
		name, _, _ := strings.Cut(row["oil"], " (")
		published[name] = row
	}
	for _, o := range fourOils() {
		row := published[o.Name]
		require.Equal(t, row["sap_min"]+"-"+row["sap_max"], o.SAPMin.String()+"-"+o.SAPMax.String(), "%s: %s", o.Name, row["source"])
	}
}
