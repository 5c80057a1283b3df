package made

import (
	"cmp"
	"slices"

	"ashbook/ledger/lye"
	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/shopspring/decimal"
)

// What says what a part of a composition is.
type What string

// What parts are.
const (
	Soap         What = "soap"           // salt of an oil's fatty acids; of a wax, with its alcohols
	Glycerol     What = "glycerol"       // set free from an oil
	FreeOil      What = "unreacted oil"  // oil that found no alkali
	FattyAcid    What = "fatty acid"     // taken out of an oil's soap by an acid
	AnyWater     What = "water"          // poured, part of another material, or formed
	FreeAlkali   What = "free alkali"    // hydroxide that found no oil: caustic
	AcidSalt     What = "acid salt"      // of an acid additive, as sodium citrate
	FreeAcid     What = "unreacted acid" // acid additive that found neither hydroxide nor soap
	RestOfAlkali What = "rest of alkali" // what an alkali holds besides hydroxide, as carbonate
	AsAdded      What = "as added"       // all that does not react
)

// Part is a share of a composition.
type Part struct {
	What   What
	Alkali string          // of soap, acid salts and free alkali: soap.NaOH or soap.KOH
	Of     trace.ID        // the bought lot that it came from, or its key after Merge; 0 for water that formed
	Name   string          // of that lot's Ingredient
	Share  decimal.Decimal // from 0 to 1, rounded to 12 places
	Fatty  decimal.Decimal // total fatty matter in it, as a share of the whole composition, rounded likewise
}

// String names the part, as in "sodium soap of olive oil".
func (p Part) String() string {
	metal := map[string]string{soap.NaOH: "sodium ", soap.KOH: "potassium "}[p.Alkali]
	switch {
	case p.What == Soap:
		return metal + "soap of " + p.Name
	case p.What == AcidSalt:
		return metal + "salt of " + p.Name
	case p.What == FreeAlkali:
		return "free " + metal + "hydroxide"
	case p.What == Glycerol || p.What == FattyAcid:
		return string(p.What) + " from " + p.Name
	case p.What == FreeOil || p.What == FreeAcid:
		return "unreacted " + p.Name
	case p.What == RestOfAlkali:
		return "rest of " + p.Name
	case p.What == AnyWater && p.Of == 0:
		return "water that formed"
	case p.What == AnyWater:
		return "water of " + p.Name
	}
	return p.Name
}

// Composition is what a lot is made of. The shares of its parts sum to exactly 1: each is rounded and the rest
// is put on the largest. A part so small that its share rounds to 0 is still listed. The largest comes first.
type Composition struct {
	Parts []Part
	Mass  decimal.Decimal // grams left of each gram as poured: 1 until it dries; rounded to 12 places
}

// Share returns the share of all parts of a kind.
func (c Composition) Share(what What) decimal.Decimal {
	sum := decimal.Zero
	for _, p := range c.Parts {
		if p.What == what {
			sum = sum.Add(p.Share)
		}
	}
	return sum
}

// FattyMatter returns the share of total fatty matter: fatty acids bound in soap and free, and unreacted oil, with the
// unsaponifiable matter and wax alcohols in them, as ISO 685 counts it. Scents, which that test catches in part, are not in it.
func (c Composition) FattyMatter() decimal.Decimal {
	sum := decimal.Zero
	for _, p := range c.Parts {
		sum = sum.Add(p.Fatty)
	}
	return sum
}

// FreeAlkali returns the free caustic alkali as a share of sodium hydroxide, as tests of soap state it: potassium
// hydroxide counts as the sodium hydroxide of as many mol. It is zero unless there was more alkali than oil.
func (c Composition) FreeAlkali() decimal.Decimal {
	sum := decimal.Zero
	for _, p := range c.Parts {
		switch {
		case p.What != FreeAlkali:
		case p.Alkali == soap.KOH:
			sum = sum.Add(divide(p.Share.Mul(lye.MolarNaOH), lye.MolarKOH))
		default:
			sum = sum.Add(p.Share)
		}
	}
	return sum.Round(sharePlaces)
}

// Dried returns the composition of a bar that was poured as so many grams, on the basis of its shares, and weighs so many
// now. Water leaves, and nothing else; it fails when more was lost than there is water, or when the bar gained.
func (c Composition) Dried(poured, now decimal.Decimal) (Composition, error) {
	if !poured.IsPositive() || !now.IsPositive() || now.GreaterThan(poured) {
		return Composition{}, wrong("a bar poured with %s g cannot dry to %s g; weigh it again", poured, now)
	}
	there := c.Share(AnyWater)
	lost := divide(poured.Sub(now), poured)
	if lost.GreaterThan(there) {
		return Composition{}, wrong("a bar poured with %s g weighs %s g and has lost %s g, but held only %s g of water; weigh it again, or correct the mass poured",
			poured, now, poured.Sub(now), there.Mul(poured).Round(3))
	}
	return c.less(lost), nil
}

// AtWater returns the composition dried until a given share of it is water. It fails for more water than there is.
func (c Composition) AtWater(share decimal.Decimal) (Composition, error) {
	there := c.Share(AnyWater)
	if share.IsNegative() || share.GreaterThan(there) || there.Equal(one) {
		return Composition{}, wrong("soap with %s of water cannot dry to %s; give a share from 0 to what it holds, of something that is not all water", there, share)
	}
	return c.less(divide(there.Sub(share), one.Sub(share))), nil
}

// less takes a share of the whole away from the water.
func (c Composition) less(lost decimal.Decimal) Composition {
	left, there := one.Sub(lost), c.Share(AnyWater)
	parts := slices.Clone(c.Parts)
	for i, p := range parts {
		if p.What == AnyWater {
			p.Share = divide(p.Share.Mul(there.Sub(lost)), there)
		}
		parts[i].Share, parts[i].Fatty = divide(p.Share, left), divide(p.Fatty, left)
	}
	return Composition{settled(parts), c.Mass.Mul(left).Round(sharePlaces)}
}

// Merge puts together the parts whose lots have the same key, as those of one material. A part takes the name of the
// largest in it.
func (c Composition) Merge(key func(lot trace.ID) trace.ID) Composition {
	type same struct {
		what   What
		alkali string
		of     trace.ID
	}
	var parts []Part
	at := map[same]int{}
	for _, p := range c.Parts {
		if p.Of != 0 {
			p.Of = key(p.Of)
		}
		i, found := at[same{p.What, p.Alkali, p.Of}]
		if !found {
			at[same{p.What, p.Alkali, p.Of}] = len(parts)
			parts = append(parts, p)
			continue
		}
		parts[i].Share, parts[i].Fatty = parts[i].Share.Add(p.Share), parts[i].Fatty.Add(p.Fatty)
	}
	return Composition{settled(parts), c.Mass}
}

// composition turns a pool into products.
func (m *maker) composition(p pool) Composition {
	parts, formed, glycerols := make([]Part, 0, 2*len(p)), fixed(0), map[trace.ID]fixed{}
	add := func(part Part, share, fatty fixed) {
		part.Share, part.Fatty = share.share(), fatty.share()
		parts = append(parts, part)
	}
	for at, amount := range p {
		known := m.known[at.lot]
		part := Part{Of: at.lot, Name: known.Name}
		switch at.form {
		case raw:
			part.What = unreacted[known.Kind]
			fatty := fixed(0)
			if known.Kind == Oil {
				fatty = amount
			}
			add(part, amount, fatty)
		case wet:
			part.What = AnyWater
			add(part, amount, 0)
		case rest:
			part.What = RestOfAlkali
			add(part, amount, 0)
		case hydroxide:
			part.What, part.Alkali = FreeAlkali, alkalis[at.alkali]
			add(part, known.mass.of(amount), 0)
		case acidSalt:
			part.What, part.Alkali = AcidSalt, alkalis[at.alkali]
			add(part, salt(known.mass, at.alkali).of(amount), 0)
			formed += amount
		case soapSalt:
			part.What, part.Alkali = Soap, alkalis[at.alkali]
			add(part, salt(known.fatty, at.alkali).of(amount), known.fatty.of(amount))
			if known.FreeAcid {
				formed += amount
			}
			glycerols[at.lot] += amount
		case fattyAcid:
			part.What = FattyAcid
			add(part, known.fatty.of(amount), known.fatty.of(amount))
			formed -= amount // what took it out of soap is a salt and a water less
			glycerols[at.lot] += amount
		}
	}
	for lot, moles := range glycerols {
		if known := m.known[lot]; known.glycerol > 0 {
			add(Part{What: Glycerol, Of: lot, Name: known.Name}, known.glycerol.of(moles), 0)
		}
	}
	if formed > dust {
		add(Part{What: AnyWater}, water.of(formed), 0)
	}
	return Composition{settled(parts), one}
}

var unreacted = map[Kind]What{Oil: FreeOil, Acid: FreeAcid, Other: AsAdded}

// salt returns the molar mass of the salt of an acid, less the water that forms.
func salt(acid molar, alkali uint8) molar { return acid + metal[alkali] - water }

const sharePlaces = 12 // of a Part: a microgram in a tonne

// settled rounds the shares of parts so that they sum to exactly 1, and sorts them.
func settled(parts []Part) []Part {
	rest := one
	for i := range parts {
		parts[i].Share, parts[i].Fatty = parts[i].Share.Round(sharePlaces), parts[i].Fatty.Round(sharePlaces)
		rest = rest.Sub(parts[i].Share)
	}
	slices.SortFunc(parts, func(a, b Part) int { // rounded shares compare faster
		return cmp.Or(b.Share.Cmp(a.Share), cmp.Compare(a.What, b.What), cmp.Compare(a.Of, b.Of), cmp.Compare(a.Alkali, b.Alkali))
	})
	parts[0].Share = parts[0].Share.Add(rest)
	return parts
}
