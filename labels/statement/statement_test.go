package statement

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

func grams(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func part(material, us, eu, g string) Part {
	return Part{Material: material, US: us, EU: eu, Grams: grams(g)}
}

func names(s Statement) []string {
	var out []string
	for _, l := range s.Lines {
		out = append(out, l.Name)
	}
	return out
}

// The batch of 1,476 g of the project's notes on United States rules, section 2.2, worked by hand from
// 21 CFR 701.3(a) and (f). Water and coconut oil tie at 300 g.
func TestWorkedExampleUS(t *testing.T) {
	colour := part("titanium white", "Titanium Dioxide", "CI 77891", "3")
	colour.Colour = true
	scent := part("evening blend", "", "", "30")
	scent.Scent = true
	s, err := Compose(US, []Part{
		part("olive oil", "Olea Europaea (Olive) Fruit Oil", "OLEA EUROPAEA FRUIT OIL", "450"),
		colour,
		part("coconut oil", "Cocos Nucifera (Coconut) Oil", "COCOS NUCIFERA OIL", "300"),
		part("palm oil", "Elaeis Guineensis (Palm) Oil", "ELAEIS GUINEENSIS OIL", "250"),
		part("rosemary extract", "Rosmarinus Officinalis (Rosemary) Leaf Extract", "ROSMARINUS OFFICINALIS LEAF EXTRACT", "1"),
		part("water", "Water", "AQUA", "300"),
		part("lye", "Sodium Hydroxide", "SODIUM HYDROXIDE", "142"),
		scent,
	})
	require.NoError(t, err)
	require.Equal(t, "Ingredients: Olea Europaea (Olive) Fruit Oil, Cocos Nucifera (Coconut) Oil, Water, "+
		"Elaeis Guineensis (Palm) Oil, Sodium Hydroxide, Fragrance, "+
		"Rosmarinus Officinalis (Rosemary) Leaf Extract, Titanium Dioxide", s.Text)
	require.Equal(t, "1476", s.TotalGrams.String())
	var percents []string
	for _, l := range s.Lines {
		percents = append(percents, l.Percent.StringFixed(2))
	}
	require.Equal(t, []string{"30.49", "20.33", "20.33", "16.94", "9.62", "2.03", "0.07", "0.20"}, percents)
	require.Equal(t, "1st by mass: 450 g of 1,476 g = 30.49 %", s.Lines[0].Why)
	require.Equal(t, "2nd by mass: 300 g of 1,476 g = 20.33 %; equal masses by name", s.Lines[1].Why)
	require.Equal(t, "at or under 1 %: free order; 1 g of 1,476 g = 0.07 %", s.Lines[6].Why)
	require.Equal(t, "colour: listed last; 3 g of 1,476 g = 0.20 %", s.Lines[7].Why)
}

// The batch of 1,462.2 g of the project's notes on European rules, section 1.8, starting-material style, with the
// allergens of section 2 (25 g scent and 10 g lavender oil) worked by hand from Article 19(1)(g).
func worked() []Part {
	scent := part("evening blend", "", "", "25")
	scent.Scent = true
	colour := part("titanium white", "Titanium Dioxide", "CI 77891", "2")
	colour.Colour = true
	parts := []Part{
		part("olive oil", "Olea Europaea (Olive) Fruit Oil", "OLEA EUROPAEA FRUIT OIL", "450"),
		part("coconut oil", "Cocos Nucifera (Coconut) Oil", "COCOS NUCIFERA OIL", "250"),
		part("sunflower oil", "Helianthus Annuus (Sunflower) Seed Oil", "HELIANTHUS ANNUUS SEED OIL", "150"),
		part("shea butter", "Butyrospermum Parkii (Shea) Butter", "BUTYROSPERMUM PARKII BUTTER", "100"),
		part("castor oil", "Ricinus Communis (Castor) Seed Oil", "RICINUS COMMUNIS SEED OIL", "50"),
		part("lye", "Sodium Hydroxide", "SODIUM HYDROXIDE", "138.4"),
		part("water", "Water", "AQUA", "276.8"),
		part("lavender oil", "Lavandula Angustifolia (Lavender) Oil", "LAVANDULA OIL/EXTRACT", "10"),
		part("kaolin", "Kaolin", "KAOLIN", "10"),
		scent, colour,
	}
	for name, mass := range map[string]string{"LINALOOL": "4.70", "LINALYL ACETATE": "3.90", "LIMONENE": "0.79", "BETA-CARYOPHYLLENE": "0.40"} {
		a := part("allergen "+strings.ToLower(name), "", name, mass)
		a.Within = true
		parts = append(parts, a)
	}
	return parts
}

func TestWorkedExampleEU(t *testing.T) {
	s, err := Compose(EU, worked())
	require.NoError(t, err)
	require.Equal(t, "INGREDIENTS: OLEA EUROPAEA FRUIT OIL, AQUA, COCOS NUCIFERA OIL, HELIANTHUS ANNUUS SEED OIL, "+
		"SODIUM HYDROXIDE, BUTYROSPERMUM PARKII BUTTER, RICINUS COMMUNIS SEED OIL, PARFUM, KAOLIN, "+
		"LAVANDULA OIL/EXTRACT, LINALOOL, LINALYL ACETATE, LIMONENE, BETA-CARYOPHYLLENE, CI 77891", s.Text)
	require.Equal(t, "1462.2", s.TotalGrams.String(), "allergens inside the scent are not counted twice")
	want := []string{"30.78", "18.93", "17.10", "10.26", "9.47", "6.84", "3.42", "1.71", "0.68", "0.68"}
	for i, w := range want {
		require.Equal(t, w, s.Lines[i].Percent.StringFixed(2), s.Lines[i].Name)
	}
	require.Equal(t, "under 1 %: free order; 10 g of 1,462.2 g = 0.68 %", s.Lines[8].Why)
}

// Exactly 1.000 % is "not more than 1 percent" (21 CFR 701.3(f)(2)) but not "less than 1 %" (Article 19(1)(g)).
// Clay is a hair above it, so the printed percentage is 1.00 for both and only unrounded masses can tell them apart.
func TestExactlyOnePercent(t *testing.T) {
	parts := []Part{
		part("oil", "Oil", "OIL", "979.9"), part("at", "At", "AT", "10"),
		part("above", "Above", "ABOVE", "10.001"), part("rest", "Rest", "REST", "0.099"),
	}
	us, err := Compose(US, parts)
	require.NoError(t, err)
	require.Equal(t, []string{"Oil", "Above", "At", "Rest"}, names(us))
	require.Equal(t, "2nd by mass: 10.001 g of 1,000 g = 1.00 %", us.Lines[1].Why)
	require.Equal(t, "at or under 1 %: free order; 10 g of 1,000 g = 1.00 %", us.Lines[2].Why)
	eu, err := Compose(EU, parts)
	require.NoError(t, err)
	require.Equal(t, "3rd by mass: 10 g of 1,000 g = 1.00 %", eu.Lines[2].Why)
	require.Contains(t, eu.Lines[3].Why, "under 1 %: free order")
}

func TestSameNameAddsUp(t *testing.T) {
	fresh := part("olive oil", "Olive Oil", "OLIVE OIL", "200")
	fresh.Lots = []string{"L2", "L1"}
	rework := part("reworked trimmings", "Olive  oil", "OLIVE OIL", "150.5")
	rework.Lots = []string{"L1", "B7"}
	s, err := Compose(US, []Part{part("water", "Water", "AQUA", "300"), fresh, rework})
	require.NoError(t, err)
	require.Equal(t, []string{"Olive Oil", "Water"}, names(s))
	require.Equal(t, "350.5", s.Lines[0].Grams.String())
	require.Equal(t, []string{"olive oil", "reworked trimmings"}, s.Lines[0].Materials)
	require.Equal(t, []string{"B7", "L1", "L2"}, s.Lines[0].Lots)
}

func TestScentsCollapseAndSpiritLeaves(t *testing.T) {
	rose, mint := part("rose", "", "", "3"), part("mint", "", "", "4")
	rose.Scent, mint.Scent = true, true
	spirit := part("spirit", "", "", "500")
	spirit.Leaves = true
	s, err := Compose(US, []Part{part("oil", "Oil", "OIL", "93"), rose, spirit, mint, part("unused", "", "", "0")})
	require.NoError(t, err)
	require.Equal(t, []string{"Oil", "Fragrance"}, names(s))
	require.Equal(t, "100", s.TotalGrams.String())
	require.Equal(t, "7.00", s.Lines[1].Percent.StringFixed(2))
}

// A name that serves as colour and as something else at once is not excused from the order by mass.
func TestColourWithAnotherPurpose(t *testing.T) {
	colour, filler := part("white", "Mica", "CI 77019", "40"), part("filler", "Mica", "CI 77019", "20")
	colour.Colour = true
	s, err := Compose(US, []Part{part("oil", "Oil", "OIL", "100"), part("salt", "Salt", "SALT", "50"), colour, filler})
	require.NoError(t, err)
	require.Equal(t, []string{"Oil", "Mica", "Salt"}, names(s))
}

func TestErrorsNameTheMaterial(t *testing.T) {
	both := part("tinted scent", "A", "B", "1")
	both.Colour, both.Scent = true, true
	for name, c := range map[string]struct {
		style Style
		part  Part
		want  []string
	}{
		"US name missing": {US, part("palm flakes", " ", "X", "1"), []string{"palm flakes", "US label name"}},
		"EU name missing": {EU, part("palm flakes", "X", "", "1"), []string{"palm flakes", "EU label name"}},
		"negative mass":   {US, part("palm flakes", "X", "X", "-1"), []string{"palm flakes", "-1 g"}},
		"two purposes":    {US, both, []string{"tinted scent", "both colour and scent"}},
		"nothing":         {US, part("palm flakes", "X", "X", "0"), []string{"nothing to list"}},
		"unknown style":   {Style(9), part("palm flakes", "X", "X", "1"), []string{"Style(9)"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Compose(c.style, []Part{c.part})
			for _, w := range c.want {
				require.ErrorContains(t, err, w)
			}
		})
	}
}

func TestOrdinals(t *testing.T) {
	for n, want := range map[int]string{1: "1st", 2: "2nd", 3: "3rd", 4: "4th", 11: "11th", 12: "12th", 13: "13th", 21: "21st", 102: "102nd", 111: "111th"} {
		require.Equal(t, want, ordinal(n))
	}
}
