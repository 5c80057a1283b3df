package assay

// Method names a way to a result.
type Method string

// The methods.
const (
	EthanolMethod        Method = "ethanol"
	BariumMethod         Method = "barium chloride"
	FreeAlkaliMethod     Method = "acid in ethanol, back"
	WholeMethod          Method = "split with acid, back"
	FattyMethod          Method = "dried potassium soap"
	ChlorideMethod       Method = "silver nitrate"
	OvenMethod           Method = "oven"
	SaponificationMethod Method = "boiled with alkali, back"
	TwoIndicatorMethod   Method = "two indicators"
)

// How well something is known: seen in a text that was looked up, or remembered.
const (
	Retrieved    = "retrieved"
	Secondary    = "retrieved (secondary)" // in a text about the standard, not in the standard
	Derived      = "factors retrieved, formula of the hydroxide computed"
	MemoryHigh   = "from memory (high)"
	MemoryMedium = "from memory (medium)"
	MemoryLow    = "from memory (low)"
)

// About describes a method. Formula has mL, mol/L and g: V volumes, c concentrations, m the sample.
type About struct {
	Method   Method
	Tests    []Test
	Standard string
	Formula  string
	Mark     string // of the formula
	Note     string // what goes wrong
}

// Methods lists every method. The principles of ISO 456, 684 and 685 were seen in their abstracts; that ISO 457
// and 672 are the standards for chloride and moisture is from memory.
func Methods() []About {
	return []About{
		{EthanolMethod, []Test{FreeCaustic}, "ISO 456, ethanol method: sodium soap", "% NaOH = V × c × 4.0 / m", MemoryHigh,
			"Neutralise the ethanol first, and keep carbon dioxide off: boil it out. The factor agrees with a handbook of 1908. Hot ethanol burns: no flame."},
		{BariumMethod, []Test{FreeCaustic}, "ISO 456, barium chloride method: potassium soap", "% KOH = V × c × 5.61 / m", MemoryHigh,
			"Barium chloride is poisonous: read its safety data sheet, and do not pour it down the drain."},
		{FreeAlkaliMethod, []Test{TotalFreeAlkali}, "ISO 684", "% NaOH = (V0 × c0 - V1 × c1) × 4.0 / m; as KOH 5.61", MemoryHigh,
			"Counts carbonate besides caustic. A result below zero means a sample that is acid, or two titres that do not fit."},
		{WholeMethod, []Test{TotalAlkali}, "ISO 685", "% NaOH = (V0 × c0 - V1 × c1) × 4.0 / m; as KOH 5.61", MemoryHigh,
			"This is the alkali of the soap itself; it says nothing about what is free."},
		{FattyMethod, []Test{FattyMatter}, "ISO 685", "% = (m dried - V × c × 0.038) × 100 / m", MemoryHigh,
			"Includes unsaponifiable matter, free oil and rosin acids. Light petroleum burns: no flame, and air the room."},
		{ChlorideMethod, []Test{Chloride}, "ISO 457 (that it is the standard: from memory)", "% NaCl = V × c × 5.85 / m", Retrieved,
			"V is the silver nitrate that the chloride took up; after a titration back, what was added less what was left. The factor is that of a handbook of 1908."},
		{OvenMethod, []Test{Moisture}, "ISO 672 (that it is the standard: from memory): 105 °C to constant mass", "% = (m before - m after) × 100 / m before", Retrieved,
			"Anything else that flies off, such as scent and alcohol, counts as moisture. Cut the dry outside away first."},
		{SaponificationMethod, []Test{Saponification}, "ISO 3657", "mg KOH/g = 56.1056 × c × (V blank - V sample) / m; the standard rounds to 56.1", MemoryHigh,
			"The sample should take about half of the alkali: 45 to 55 % of the blank is titrated back (ASTM D5558)."},
		{TwoIndicatorMethod, []Test{LyeTotalAlkali, LyeHydroxide, LyeCarbonate}, "USP-NF, sodium hydroxide and potassium hydroxide",
			"% total = V × c × 4.000 / m, % Na2CO3 = V after × c × 10.60 / m, % NaOH = (V - 2 × V after) × c × 4.000 / m; as KOH 5.611, K2CO3 13.82", Derived,
			"Water free of carbon dioxide, and a cool, quick titration: lye draws carbon dioxide from the air meanwhile."},
	}
}

// Notes are what the common quick tests cannot tell.
func Notes() []string {
	return []string{
		"Phenolphthalein on a wet bar always goes pink: soap splits in water and is alkaline by itself. It tells something in neutral alcohol only (from memory, high).",
		"Nobody should taste soap: free alkali burns the tongue, and a sting has no number. It is never evidence for a release.",
		"pH is a weak test of free alkali; record it, and decide by a titration.",
		"Cut the outer edges of a bar away before sampling: the surface dries and draws carbon dioxide while the inside is as it was.",
	}
}
