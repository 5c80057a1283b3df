package api

import (
	"cmp"
	"strconv"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// usual is what a new formula starts from; every figure can be changed. Common practice, no source.
func usual() *ledger.FormulaDefined {
	return &ledger.FormulaDefined{OilGrams: decimal.NewFromInt(1000), Superfat: decimal.New(5, -2), Concentration: decimal.New(33, -2),
		AlkaliPurity: decimal.New(98, -2), MouldHours: 24, Bars: 10}
}

func formulaForm(action string, known *ledger.FormulaDefined, all []ledger.Material, lines, portions int) *pages.Form {
	f := known
	if f == nil {
		f = usual()
	}
	form := pages.NewForm("formula", action, "Keep the formula", formulaFields(f, all)...)
	form.AddTable(&pages.Table{Name: "lines", Legend: "Ingredients", Grows: true,
		Hint: "Oils, scents, colours, additives. The oil lines sum to the oil mass. Empty rows do not count."}, max(lines, len(f.Lines)), lineRow(f, all))
	form.AddTable(&pages.Table{Name: "portions", Legend: "Portions", Grows: true,
		Hint: "Only when the pot is divided: parts that are coloured, scented or layered apart. State all by share, or all by mass."}, max(portions, len(f.Portions)), portionRow(f))
	return form
}

func formulaFields(f *ledger.FormulaDefined, all []ledger.Material) []pages.Field {
	hundred := func(d decimal.Decimal) string { return d.Shift(2).String() }
	cure := ""
	if f.CureDays > 0 {
		cure = strconv.Itoa(f.CureDays)
	}
	name := pages.In(pages.Text, "name", "Name", "").Is(f.Name).Must()
	return []pages.Field{name,
		pages.In(pages.Decimal, "oil_grams", "Oils, g", "The total of the oil lines.").Is(f.OilGrams.String()).Must(),
		pages.In(pages.Count, "bars", "Bars that it gives", "").Is(strconv.Itoa(f.Bars)).Must(),
		pages.In(pages.Count, "mould_hours", "Hours in the mould, at least", "A silicone mould wants three to four days: 72 to 96 hours. Common practice.").Is(strconv.Itoa(f.MouldHours)).Must(),
		pages.In(pages.Select, "alkali_by", "Alkali by", "").Is(alkaliBy(f)).Must().Of(
			pages.Option{Value: "superfat", Label: "superfat, %"}, pages.Option{Value: "grams", Label: "mass of alkali, g"}),
		pages.In(pages.Decimal, "superfat", "Superfat, or mass of alkali", "Superfat is the part of the alkali for complete saponification that is left out.").Is(alkaliAmount(f)).Must(),
		pages.In(pages.Select, "water_by", "Water by", "").Is(waterBy(f)).Must().Of(pages.Option{Value: "strength", Label: "lye strength, %"},
			pages.Option{Value: "ratio", Label: "grams to one gram of alkali"}, pages.Option{Value: "grams", Label: "mass of water, g"}),
		pages.In(pages.Decimal, "concentration", "Lye strength, ratio, or mass of water", "Strength is alkali in alkali and water, as weighed.").Is(waterAmount(f)).Must(),
		pages.In(pages.Select, "alkali", "Alkali", "").Is(some(f.Alkali)).Must().Of(materialOptions(all, "alkali")...),
		pages.In(pages.Decimal, "alkali_purity", "Alkali purity for planning, %", "").Is(hundred(f.AlkaliPurity)).Must(),
		pages.In(pages.Select, "water", "Water", "").Is(some(f.Water)).Must().Of(materialOptions(all, "water")...),
		pages.In(pages.Select, "stock_lye", "Stock lye", "To take the alkali from a solution that was made before.").Is(some(f.StockLye)).
			Of(pages.OrNone("none: dry alkali", materialOptions(all, "prepared"))...),
		pages.In(pages.Select, "second_alkali", "Second alkali", "Only for a mixture of sodium and potassium hydroxide.").Is(some(f.SecondAlkali)).
			Of(pages.OrNone("none", materialOptions(all, "alkali"))...).Under(""),
		pages.In(pages.Decimal, "second_share", "Share of the second alkali, %", "").Is(secondShare(f)).Under(""),
		pages.In(pages.Select, "second_basis", "That share is of", "They differ: 40 % of the mass is 32 % of the equivalents.").Is(f.SecondBasis).
			Of(pages.OrNone("choose", pages.Same("equivalents", "mass"))...).Under(""),
		pages.In(pages.Decimal, "second_purity", "Purity of the second alkali, %", "").Is(secondPurity(f)).Under(""),
		pages.In(pages.Decimal, "lye_warn", "Warn above this chance of lye-heavy soap, %", "Empty: as the shop has it. Give both or neither.").Is(hundredfold(f.LyeWarn)).Under(""),
		pages.In(pages.Decimal, "lye_stop", "Stop above this chance, %", "").Is(hundredfold(f.LyeStop)).Under(""),
		pages.In(pages.Decimal, "temp_min_c", "Combine from", "").Is(shown(f.TempMinC, f.TempUnit)),
		pages.In(pages.Decimal, "temp_max_c", "Combine up to", "").Is(shown(f.TempMaxC, f.TempUnit)),
		pages.In(pages.Select, "temp_unit", "Degrees", "").Is(cmp.Or(f.TempUnit, "C")).Of(pages.Option{Value: "C", Label: "°C"}, pages.Option{Value: "F", Label: "°F"}),
		pages.In(pages.Count, "cure_days", "Days of cure, at least", "Empty: as the shop has it.").Is(cure),
		pages.In(pages.Area, "note", "Note", "").Is(f.Note)}
}

// The form asks for one figure and what it is; the body has a field for each way.
func alkaliBy(f *ledger.FormulaDefined) string {
	if f.AlkaliGrams != nil {
		return "grams"
	}
	return "superfat"
}

func alkaliAmount(f *ledger.FormulaDefined) string {
	if f.AlkaliGrams != nil {
		return f.AlkaliGrams.String()
	}
	return f.Superfat.Shift(2).String()
}

func waterBy(f *ledger.FormulaDefined) string {
	switch {
	case f.WaterRatio != nil:
		return "ratio"
	case f.WaterGrams != nil:
		return "grams"
	}
	return "strength"
}

func waterAmount(f *ledger.FormulaDefined) string {
	switch {
	case f.WaterRatio != nil:
		return f.WaterRatio.String()
	case f.WaterGrams != nil:
		return f.WaterGrams.String()
	}
	return f.Concentration.Shift(2).String()
}

func secondShare(f *ledger.FormulaDefined) string {
	if f.SecondAlkali == 0 {
		return ""
	}
	return f.SecondShare.Shift(2).String()
}

func secondPurity(f *ledger.FormulaDefined) string {
	if f.SecondAlkali == 0 {
		return ""
	}
	return f.SecondPurity.Shift(2).String()
}

func some(id int64) string {
	if id == 0 {
		return ""
	}
	return digits(id)
}

func lineRow(f *ledger.FormulaDefined, all []ledger.Material) func(int) []pages.Field {
	options := pages.OrNone("none", materialOptions(all, "oil", "scent", "colour", "additive", "spirit", "prepared"))
	return func(i int) []pages.Field {
		l := ledger.FormulaLine{Basis: ledger.ByPercent}
		amount := ""
		if i < len(f.Lines) {
			l = f.Lines[i]
			amount = l.Amount.String()
		}
		return []pages.Field{
			pages.In(pages.Select, "material", "Material", "").Is(some(l.Material)).Of(options...),
			pages.In(pages.Decimal, "amount", "Amount", "").Is(amount),
			pages.In(pages.Select, "basis", "Stated as", "").Is(l.Basis).Of(pages.Same(ledger.ByPercent, ledger.ByMass, ledger.BySpoon)...),
			pages.In(pages.Select, "unit", "Spoon", "").Is(string(l.Unit)).Of(pages.OrNone("none", pages.Same("tsp", "tbsp", "cup", "fl oz", "ml", "drop"))...),
			pages.In(pages.Select, "per", "Per", "").Is(string(l.Per)).Of(pages.OrNone("none", pages.Same("lb", "kg"))...),
			pages.In(pages.Text, "portion", "Portion", "").Is(l.Portion),
		}
	}
}

func portionRow(f *ledger.FormulaDefined) func(int) []pages.Field {
	return func(i int) []pages.Field {
		row := []pages.Field{pages.In(pages.Text, "name", "Name", ""), pages.In(pages.Decimal, "amount", "Amount", ""),
			pages.In(pages.Select, "by", "Stated as", "").Of(pages.Option{Value: "share", Label: "% of the pot"}, pages.Option{Value: "grams", Label: "grams"})}
		if i >= len(f.Portions) {
			return row
		}
		p := f.Portions[i]
		row[0].Value, row[1].Value = p.Name, p.Share.Shift(2).String()
		if p.Grams != nil {
			row[1].Value, row[2].Value = p.Grams.String(), "grams"
		}
		return row
	}
}

func (in *input) formula(lines, portions int) *ledger.FormulaDefined {
	f := &ledger.FormulaDefined{Name: in.text("name"), OilGrams: in.number("oil_grams"), Alkali: in.chosen("alkali"), AlkaliPurity: in.share("alkali_purity"), Water: in.chosen("water"),
		StockLye: in.pick("stock_lye"), TempMinC: in.celsius("temp_min_c"), TempMaxC: in.celsius("temp_max_c"), TempUnit: in.text("temp_unit"),
		MouldHours: int(in.count("mould_hours")), CureDays: int(in.count("cure_days")), Bars: int(in.count("bars")), Note: in.text("note")}
	in.lye(f)
	for i := range lines {
		row := "lines." + strconv.Itoa(i) + "."
		if material := in.pick(row + "material"); material != 0 {
			f.Lines = append(f.Lines, ledger.FormulaLine{Material: material, Amount: in.number(row + "amount"), Basis: in.text(row + "basis"),
				Unit: measure.Unit(in.text(row + "unit")), Per: measure.Unit(in.text(row + "per")), Portion: in.text(row + "portion")})
		}
	}
	for i := range portions {
		row := "portions." + strconv.Itoa(i) + "."
		if name := in.text(row + "name"); name != "" {
			f.Portions = append(f.Portions, in.portion(name, row))
		}
	}
	return f
}

// lye reads what was chosen about alkali and water.
func (in *input) lye(f *ledger.FormulaDefined) {
	if in.text("alkali_by") == "grams" {
		f.AlkaliGrams = in.optional("superfat")
	} else {
		f.Superfat = in.share("superfat")
	}
	switch in.text("water_by") {
	case "ratio":
		f.WaterRatio = in.optional("concentration")
	case "grams":
		f.WaterGrams = in.optional("concentration")
	default:
		f.Concentration = in.share("concentration")
	}
	if f.SecondAlkali = in.pick("second_alkali"); f.SecondAlkali != 0 {
		f.SecondShare, f.SecondBasis, f.SecondPurity = in.share("second_share"), in.text("second_basis"), in.share("second_purity")
	}
	f.LyeWarn, f.LyeStop = in.optionalShare("lye_warn"), in.optionalShare("lye_stop")
}

func (in *input) portion(name, row string) ledger.FormulaPortion {
	amount := in.number(row + "amount")
	if in.text(row+"by") == "grams" {
		return ledger.FormulaPortion{Name: name, Grams: &amount}
	}
	return ledger.FormulaPortion{Name: name, Share: amount.Shift(-2)}
}

// shown is a temperature in the degrees that the formula speaks in.
func shown(celsius *decimal.Decimal, unit string) string {
	if celsius == nil || unit != "F" {
		return text(celsius)
	}
	return measure.Fahrenheit(*celsius).String()
}

// celsius is a temperature in the unit that the form says, as degrees Celsius.
func (in *input) celsius(name string) *decimal.Decimal {
	if in.text(name) == "" {
		return nil
	}
	t, err := measure.ParseTemperature(in.text(name), in.text("temp_unit"))
	if err != nil {
		in.form.Blame(name, err.Error())
	}
	return &t.Celsius
}
