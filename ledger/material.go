package ledger

import (
	"context"
	"errors"
	"regexp"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// MaterialKinds are what a material can be.
var MaterialKinds = []string{"oil", "alkali", "water", "scent", "colour", "additive", "spirit", "packaging", "prepared"}

// MaterialPart is one ingredient of a prepared material, as planned. What a prepared lot really holds is known from
// the weighings of the batch that made it.
type MaterialPart struct {
	Material int64           `json:"material"`
	Share    decimal.Decimal `json:"share" doc:"mass fraction; the shares of a material sum to 1"`
}

// MaterialDefined describes what can be bought or made: a new material, or a known one described anew.
type MaterialDefined struct {
	ID         int64            `json:"id,omitempty" doc:"0: a new material; else the one that is described anew"`
	Name       string           `json:"name" maxLength:"200" doc:"name at the bench"`
	Type       string           `json:"kind" enum:"oil,alkali,water,scent,colour,additive,spirit,packaging,prepared"`
	USName     string           `json:"us_name,omitempty" doc:"name in a United States ingredient statement"`
	EUName     string           `json:"eu_name,omitempty" doc:"INCI name or CI number for a European ingredient list"`
	CAS        string           `json:"cas,omitempty" doc:"CAS registry number"`
	SAPMin     *decimal.Decimal `json:"sap_min,omitempty" doc:"least saponification value, mg KOH per g; oils only"`
	SAPMax     *decimal.Decimal `json:"sap_max,omitempty" doc:"largest saponification value, mg KOH per g; oils only"`
	SAPSource  string           `json:"sap_source,omitempty" doc:"where the range comes from"`
	NoGlycerol bool             `json:"no_glycerol,omitempty" doc:"a wax or free acid that gives no glycerol"`
	FreeAcid   bool             `json:"free_acid,omitempty" doc:"an oil that is free fatty acid, as stearic acid: with alkali it forms water and no glycerol"`
	AcidEquiv  *decimal.Decimal `json:"acid_equivalent,omitempty" doc:"an additive that takes up alkali: g of the pure acid that take one mol, its molar mass over its acid groups; citric acid 64.041, its monohydrate 70.046, lactic acid 90.078, acetic acid 60.052"`
	AcidShare  *decimal.Decimal `json:"acid_share,omitempty" doc:"mass fraction of that acid, the rest being water: 0.05 for vinegar; none given: 1"`
	WaterShare *decimal.Decimal `json:"water_share,omitempty" doc:"an additive that is partly water, which dries out: mass fraction of water, 0.87 for milk; none given: 0"`
	Alkali     string           `json:"alkali,omitempty" enum:",NaOH,KOH" doc:"which alkali; alkalis only"`
	Density    *decimal.Decimal `json:"density,omitempty" doc:"g per mL as it lies in the spoon, for spoons and cups; water without one has that of pure water"`
	DensityAtC *decimal.Decimal `json:"density_at_c,omitempty" doc:"°C at which the density was measured; none given: 20"`
	DropGrams  *decimal.Decimal `json:"grams_per_drop,omitempty" doc:"g per drop, as the supplier states it or the shop found it: 20 drops weighed, divided by 20"`
	Caution    string           `json:"caution,omitempty" doc:"shown where the material is weighed"`
	Invented   bool             `json:"invented,omitempty" doc:"true for demonstration data"`
	Parts      []MaterialPart   `json:"parts,omitempty" doc:"what a prepared material is made of, as planned"`
}

// Kind names the entry.
func (*MaterialDefined) Kind() string { return "material.defined" }

// Right is what it asks for.
func (*MaterialDefined) Right() Right { return MayMake }

// Subjects are the list of materials and the one that is described anew, whose name a receipt copies.
func (m *MaterialDefined) Subjects() []int64 { return []int64{4, m.ID} }

var casShape = regexp.MustCompile(`^[1-9][0-9]{1,6}-[0-9]{2}-[0-9]$`)

// validCAS checks the shape and the check digit of a CAS registry number: the digits before the last, counted from
// the right and each multiplied by its place, sum modulo 10 to the last (rule of the Chemical Abstracts Service).
func validCAS(s string) bool {
	if !casShape.MatchString(s) {
		return false
	}
	sum, place := 0, 0
	for i := len(s) - 3; i >= 0; i-- {
		if s[i] == '-' {
			continue
		}
		place++
		sum += place * int(s[i]-'0')
	}
	return sum%10 == int(s[len(s)-1]-'0')
}

// Check refuses a material that a gate or a label could not work with.
func (m *MaterialDefined) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := m.checkFields(); err != nil {
		return err
	}
	if err := m.checkParts(ctx, tx); err != nil {
		return err
	}
	taken, err := exists(ctx, tx, `select 1 from material where lower(name) = lower($1) and id <> $2`, m.Name, m.ID)
	if err != nil {
		return err
	}
	if taken {
		return conflict("the material %q is there already; choose it from the list", m.Name)
	}
	if m.ID == 0 {
		m.ID, err = tx.newID(ctx)
		return err
	}
	was, err := readMaterial(ctx, tx, m.ID)
	if err != nil {
		return err
	}
	if was.Kind != m.Type {
		return invalid("kind", "%s is of kind %s, and lots of it are in use as such; define another material", was.Name, was.Kind)
	}
	return nil
}

func (m *MaterialDefined) checkFields() error {
	for _, f := range []struct {
		field string
		value *string
		most  int
	}{{"us_name", &m.USName, 200}, {"eu_name", &m.EUName, 200}, {"sap_source", &m.SAPSource, 300}, {"caution", &m.Caution, 1000}} {
		if err := anyWords(f.field, f.value, f.most); err != nil {
			return err
		}
	}
	if err := words("name", &m.Name, 200); err != nil {
		return err
	}
	if err := oneOf("kind", m.Type, MaterialKinds...); err != nil {
		return err
	}
	if m.CAS != "" && !validCAS(m.CAS) {
		return invalid("cas", "%q is not a CAS number (its check digit does not fit); look it up on the safety data sheet", m.CAS)
	}
	if err := m.checkBulk(); err != nil {
		return err
	}
	return m.checkChemistry()
}

// checkBulk looks at what lets the material be measured without a scale.
func (m *MaterialDefined) checkBulk() error {
	if m.Density != nil && (m.Density.LessThan(decimal.New(5, -2)) || m.Density.GreaterThan(decimal.NewFromInt(25))) {
		return invalid("density", "%s g/mL is outside 0.05 to 25", m.Density)
	}
	if m.DensityAtC != nil {
		if m.Density == nil {
			return invalid("density_at_c", "a temperature without a density says nothing; give the density, or leave both empty")
		}
		if m.DensityAtC.IsNegative() || m.DensityAtC.GreaterThan(decimal.NewFromInt(100)) {
			return invalid("density_at_c", "%s °C is outside 0 to 100; give the temperature at which the density was measured", m.DensityAtC)
		}
	}
	// Droppers give 0.02 to 0.05 g. Common practice, no source; the range is wider, and below the 0.4 g that twenty drops weigh.
	if m.DropGrams != nil && (m.DropGrams.LessThan(decimal.New(5, -3)) || m.DropGrams.GreaterThan(decimal.New(2, -1))) {
		return invalid("grams_per_drop", "%s g is no drop, which weighs 0.005 to 0.2 g; weigh 20 drops and divide by 20", m.DropGrams)
	}
	return nil
}

func (m *MaterialDefined) checkChemistry() error {
	oil := m.Type == "oil"
	if oil != (m.SAPMin != nil && m.SAPMax != nil) || oil != (m.SAPSource != "") {
		return invalid("sap_min", "an oil, and nothing else, has a saponification range with its source; give sap_min, sap_max and sap_source")
	}
	if oil && (m.SAPMin.LessThan(soap.LeastSAP) || m.SAPMax.GreaterThan(soap.MostSAP) || m.SAPMax.LessThan(*m.SAPMin)) {
		return invalid("sap_min", "%s to %s mg KOH/g is no range between %s and %s", m.SAPMin, m.SAPMax, soap.LeastSAP, soap.MostSAP)
	}
	if m.FreeAcid && !oil {
		return invalid("free_acid", "only an oil is a free fatty acid; an additive that takes up alkali has an acid_equivalent")
	}
	if err := m.checkAdditive(); err != nil {
		return err
	}
	if m.Type == "alkali" {
		return oneOf("alkali", m.Alkali, "NaOH", "KOH")
	}
	return oneOf("alkali", m.Alkali, "")
}

// checkAdditive looks at the acid and the water of an additive. No acid is lighter than hydrofluoric, 20 g/mol.
func (m *MaterialDefined) checkAdditive() error {
	whole := decimal.NewFromInt(1)
	if a := m.AcidEquiv; a != nil && (m.Type != "additive" || a.LessThan(decimal.NewFromInt(20)) || a.GreaterThan(decimal.NewFromInt(1000))) {
		return invalid("acid_equivalent", "it belongs to an additive that takes up alkali and lies between 20 and 1000 g/mol: the molar mass of the acid over its acid groups")
	}
	if a := m.AcidShare; a != nil && (m.AcidEquiv == nil || !a.IsPositive() || a.GreaterThan(whole)) {
		return invalid("acid_share", "it says how much of the additive is acid: give acid_equivalent too, and a fraction above 0 and at most 1, for example 0.05")
	}
	if w := m.WaterShare; w != nil && (m.Type != "additive" || m.AcidEquiv != nil || !w.IsPositive() || w.GreaterThanOrEqual(whole)) {
		return invalid("water_share", "it says how much of an additive is water: a fraction above 0 and below 1, for example 0.87; of an acid, acid_share says it already")
	}
	return nil
}

func (m *MaterialDefined) checkParts(ctx context.Context, tx *Tx) error {
	if m.Type != "prepared" {
		if len(m.Parts) > 0 {
			return invalid("parts", "only a prepared material has parts")
		}
		return nil
	}
	sum := decimal.Zero
	for i, p := range m.Parts {
		if err := positive("parts", p.Share); err != nil {
			return err
		}
		part, err := readMaterial(ctx, tx, p.Material)
		if err != nil {
			return err
		}
		if part.Kind == "prepared" {
			return invalid("parts", "%s is itself prepared; name what it is made of", part.Name)
		}
		sum = sum.Add(m.Parts[i].Share)
	}
	if !sum.Equal(decimal.NewFromInt(1)) {
		return invalid("parts", "the shares sum to %s, not to 1; give the mass fraction of each part", sum)
	}
	return nil
}

// Apply writes the material as it is now.
func (m *MaterialDefined) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	at := measure.RoomCelsius
	if m.DensityAtC != nil {
		at = *m.DensityAtC
	}
	_, err := tx.Exec(ctx, `insert into material (id, name, kind, us_name, eu_name, cas, sap_min, sap_max, sap_source, no_glycerol,
		alkali, density, density_at_c, grams_per_drop, caution, invented, entry_id, free_acid, acid_equivalent, acid_share, water_share)
		values ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11,$12,$13,$14,$15,$16,$17,$18,$19,$20,$21)
		on conflict (id) do update set name=excluded.name, us_name=excluded.us_name, eu_name=excluded.eu_name, cas=excluded.cas,
		sap_min=excluded.sap_min, sap_max=excluded.sap_max, sap_source=excluded.sap_source, no_glycerol=excluded.no_glycerol,
		alkali=excluded.alkali, density=excluded.density, density_at_c=excluded.density_at_c, grams_per_drop=excluded.grams_per_drop,
		caution=excluded.caution, invented=excluded.invented, entry_id=excluded.entry_id, free_acid=excluded.free_acid,
		acid_equivalent=excluded.acid_equivalent, acid_share=excluded.acid_share, water_share=excluded.water_share`,
		m.ID, m.Name, m.Type, m.USName, m.EUName, m.CAS, m.SAPMin, m.SAPMax, m.SAPSource, m.NoGlycerol, m.Alkali, m.Density,
		at, m.DropGrams, m.Caution, m.Invented, e.ID, m.FreeAcid, m.AcidEquiv, m.AcidShare, m.WaterShare)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `delete from material_part where material_id = $1`, m.ID); err != nil {
		return err
	}
	for _, p := range m.Parts {
		if _, err := tx.Exec(ctx, `insert into material_part (material_id, part_id, share) values ($1,$2,$3)
			on conflict (material_id, part_id) do update set share = material_part.share + excluded.share`, m.ID, p.Material, p.Share); err != nil {
			return err
		}
	}
	return nil
}

// Material is a material as it is now.
type Material struct {
	ID         int64            `json:"id"`
	Name       string           `json:"name"`
	Kind       string           `json:"kind"`
	USName     string           `json:"us_name"`
	EUName     string           `json:"eu_name"`
	CAS        string           `json:"cas"`
	SAPMin     *decimal.Decimal `json:"sap_min"`
	SAPMax     *decimal.Decimal `json:"sap_max"`
	SAPSource  string           `json:"sap_source"`
	NoGlycerol bool             `json:"no_glycerol"`
	FreeAcid   bool             `json:"free_acid" doc:"an oil that is free fatty acid"`
	AcidEquiv  *decimal.Decimal `json:"acid_equivalent,omitempty" doc:"g of the pure acid that take one mol of alkali"`
	AcidShare  *decimal.Decimal `json:"acid_share,omitempty" doc:"mass fraction of acid; none: 1"`
	WaterShare *decimal.Decimal `json:"water_share,omitempty" doc:"mass fraction of water that dries out; none: 0"`
	Alkali     string           `json:"alkali"`
	Density    *decimal.Decimal `json:"density"`
	DensityAtC decimal.Decimal  `json:"density_at_c" doc:"°C at which the density was measured"`
	DropGrams  *decimal.Decimal `json:"grams_per_drop"`
	Caution    string           `json:"caution"`
	Invented   bool             `json:"invented"`
}

// DensityAt is the density at a temperature in °C, from what is recorded: along a line for an oil, by the equation of
// water for water that has none of its own. known is false where neither says it.
func (m Material) DensityAt(celsius decimal.Decimal) (density decimal.Decimal, known bool) {
	switch {
	case m.Density != nil && m.Kind == "oil":
		return measure.DensityAt(*m.Density, m.DensityAtC, measure.OilFall, celsius), true
	case m.Density != nil:
		return *m.Density, m.DensityAtC.Equal(celsius)
	case m.Kind == "water":
		density, err := measure.WaterDensity(celsius)
		return density, err == nil
	}
	return decimal.Zero, false
}

// bulk is what the material is measured by without a scale. What has a density of its own is taken at that, whatever
// the temperature in the spoon; a warm oil is up to a fiftieth lighter.
func (m Material) bulk() measure.Bulk {
	var b measure.Bulk
	if m.Density != nil {
		b.Density = *m.Density
	} else {
		b.Density, _ = m.DensityAt(measure.RoomCelsius)
	}
	if m.DropGrams != nil {
		b.GramsPerDrop = *m.DropGrams
	}
	return b
}

const materialColumns = `id, name, kind, us_name, eu_name, cas, sap_min, sap_max, sap_source, no_glycerol, free_acid, acid_equivalent, acid_share,
	water_share, alkali, density, density_at_c, grams_per_drop, caution, invented`

// burns tells, in SQL, whether the material m is an alkali, or is prepared with one.
const burns = `(m.kind = 'alkali' or exists (select 1 from material_part mp join material pm on pm.id = mp.part_id
	where mp.material_id = m.id and pm.kind = 'alkali'))`

func readMaterial(ctx context.Context, q querier, id int64) (Material, error) {
	m, err := one[Material](ctx, q, `select `+materialColumns+` from material where id = $1`, id)
	if errors.Is(err, pgx.ErrNoRows) {
		return m, notFound("material", "there is no material %d", id)
	}
	return m, err
}

// Materials lists all materials by kind and name.
func (l *Ledger) Materials(ctx context.Context) ([]Material, error) {
	return all[Material](ctx, l.pool, `select `+materialColumns+` from material order by kind, name`)
}

// Material reads one material.
func (l *Ledger) Material(ctx context.Context, id int64) (Material, error) {
	return readMaterial(ctx, l.pool, id)
}

// Parts are what a prepared material is made of, as planned.
func (l *Ledger) Parts(ctx context.Context, material int64) ([]MaterialPart, error) {
	return readParts(ctx, l.pool, material)
}

func readParts(ctx context.Context, q querier, material int64) ([]MaterialPart, error) {
	return all[MaterialPart](ctx, q, `select part_id, share from material_part where material_id = $1 order by part_id`, material)
}
