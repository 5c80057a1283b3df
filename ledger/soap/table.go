package soap

import (
	_ "embed"
	"encoding/csv"
	"strings"
	"sync"

	"github.com/shopspring/decimal"
)

// The bounds of what is taken for a saponification value, in mg KOH per g, and for how far a certificate's may be off to each side, which is
// below MostSAPHalf. Waxes lie from about 90, coconut at 268, short fatty acids at 400. A figure outside is a slip or was given in
// another unit: 0.19 is g KOH per g. Common practice, no source.
var (
	LeastSAP    = decimal.NewFromInt(50)
	MostSAP     = decimal.NewFromInt(450)
	MostSAPHalf = decimal.NewFromInt(30)
)

// sapTable has one range per oil, with where it is from and whether that text was seen or is from memory.
//
//go:embed sap.csv
var sapTable string

// PublishedOil is what is published of one oil, fat, wax or fatty acid. The ranges are limits of
// authenticity and therefore wide; a certificate of the lot is worth more.
type PublishedOil struct {
	Name                 string
	SAPMin, SAPMax       decimal.Decimal  // mg KOH per g
	IodineMin, IodineMax *decimal.Decimal // g iodine per 100 g; nil: not stated
	Unsaponifiable       *decimal.Decimal // at most, g per kg; nil: not stated
	Source               string
	Mark                 string // how the source is known: retrieved, memory or computed, with remarks
	Retrieved            bool   // the source was seen; else the row is from memory, or computed for a pure acid
	FreeAcid             bool   // a free fatty acid: with alkali it makes water
	NoGlycerol           bool   // sets no glycerol free: a wax, wool fat, or a free fatty acid
}

// Oil returns an amount of it, with the published range.
func (p PublishedOil) Oil(grams decimal.Decimal) Oil {
	return Oil{Name: p.Name, Grams: grams, SAPMin: p.SAPMin, SAPMax: p.SAPMax, NoGlycerol: p.NoGlycerol}
}

// Rows that are no glycerides: esters of other alcohols (about half of jojoba is wax alcohol, from memory), and acids that are free already.
var (
	waxes     = map[string]bool{"jojoba (liquid wax)": true, "beeswax (yellow or white)": true, "lanolin (wool fat)": true}
	freeAcids = map[string]bool{
		"stearic acid (commercial, C16/C18 mix)": true, "stearic acid (pure C18:0, theory)": true, "palmitic acid (pure C16:0, theory)": true,
	}
)

var published = sync.OnceValue(readPublished)

// Published returns the table of published oils, in its order. The slice is the caller's own.
func Published() []PublishedOil { return append([]PublishedOil(nil), published()...) }

// readPublished panics on a table that it cannot read: it is part of the program.
func readPublished() []PublishedOil {
	rows, err := csv.NewReader(strings.NewReader(sapTable)).ReadAll()
	if err != nil {
		panic("soap: table of oils: " + err.Error())
	}
	oils := make([]PublishedOil, 0, len(rows)-1)
	for _, r := range rows[1:] {
		oils = append(oils, PublishedOil{
			Name: r[0], SAPMin: decimal.RequireFromString(r[1]), SAPMax: decimal.RequireFromString(r[2]),
			Unsaponifiable: optional(r[3]), IodineMin: optional(r[4]), IodineMax: optional(r[5]),
			Source: r[6], Mark: r[7], Retrieved: strings.HasPrefix(r[7], "retrieved"),
			FreeAcid: freeAcids[r[0]], NoGlycerol: waxes[r[0]] || freeAcids[r[0]],
		})
	}
	return oils
}

func optional(cell string) *decimal.Decimal {
	if cell == "" {
		return nil
	}
	v := decimal.RequireFromString(cell)
	return &v
}
