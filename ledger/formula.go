package ledger

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

// The bases on which a formula states an ingredient.
const (
	ByMass    = "grams"           // a mass
	ByPercent = "percent of oils" // per cent of the oil mass
	BySpoon   = "spoons per oils" // kitchen spoons per unit of oil mass, through the density
)

// FormulaPortion is a part of the batch that is coloured, scented or layered apart from the rest.
type FormulaPortion struct {
	Name  string           `json:"name" maxLength:"40"`
	Share decimal.Decimal  `json:"share" doc:"mass fraction of what is common; the shares sum to 1"`
	Grams *decimal.Decimal `json:"grams,omitempty" doc:"given instead of shares: mass of each portion; shares are worked out"`
}

// FormulaLine is one ingredient. Alkali and water are worked out and are not lines.
type FormulaLine struct {
	Material int64           `json:"material"`
	Portion  string          `json:"portion,omitempty" doc:"the portion it belongs to; empty: common to all"`
	Basis    string          `json:"basis" enum:"grams,percent of oils,spoons per oils"`
	Amount   decimal.Decimal `json:"amount" doc:"grams, per cent, or number of spoons"`
	Unit     measure.Unit    `json:"unit,omitempty" enum:",tsp,tbsp,cup" doc:"the spoon; for spoons per oils only"`
	Per      measure.Unit    `json:"per,omitempty" enum:",lb,kg" doc:"the mass of oils that the spoons are for"`
	Grams    decimal.Decimal `json:"grams" readOnly:"true" doc:"planned mass at the formula's own size"`
}

// FormulaDefined is a version of a formula: the first of a new one, or the next of a known one. A version never
// changes, so what was made by it stays explained.
type FormulaDefined struct {
	ID            int64            `json:"id" readOnly:"true" doc:"number of this version"`
	Formula       int64            `json:"formula,omitempty" doc:"0: a new formula; else the one that gets a new version"`
	Version       int              `json:"version" readOnly:"true"`
	Name          string           `json:"name" maxLength:"200"`
	OilGrams      decimal.Decimal  `json:"oil_grams" doc:"total of the oil lines, g"`
	Superfat      decimal.Decimal  `json:"superfat" doc:"fraction of the alkali for complete saponification that is left out, for example 0.05"`
	Concentration decimal.Decimal  `json:"concentration" doc:"alkali / (alkali + water) as weighed, for example 0.33"`
	Alkali        int64            `json:"alkali" doc:"the alkali material"`
	AlkaliPurity  decimal.Decimal  `json:"alkali_purity" doc:"hydroxide mass fraction assumed for planning, for example 0.98"`
	Water         int64            `json:"water" doc:"the water material"`
	StockLye      int64            `json:"stock_lye,omitempty" doc:"a prepared material to take the alkali from instead of dry alkali"`
	TempMinC      *decimal.Decimal `json:"temp_min_c,omitempty" doc:"least temperature of oils and lye at combining, °C"`
	TempMaxC      *decimal.Decimal `json:"temp_max_c,omitempty"`
	MouldHours    int              `json:"mould_hours" minimum:"0" doc:"least hours from pouring to unmoulding"`
	CureDays      int              `json:"cure_days,omitempty" minimum:"0" doc:"0: the shop's own"`
	Bars          int              `json:"bars" minimum:"1" doc:"bars that a batch of this size gives"`
	Note          string           `json:"note,omitempty" maxLength:"4000"`
	Portions      []FormulaPortion `json:"portions,omitempty"`
	Lines         []FormulaLine    `json:"lines"`
	Plan          []PlanLine       `json:"plan" readOnly:"true" doc:"everything to weigh at the formula's own size"`
}

// PlanLine is one thing to weigh.
type PlanLine struct {
	Material  int64           `json:"material"`
	Portion   string          `json:"portion,omitempty"`
	Grams     decimal.Decimal `json:"grams"`
	Tolerance decimal.Decimal `json:"tolerance" doc:"grams either way within which a weighing needs no reason"`
}

// Kind names the entry.
func (*FormulaDefined) Kind() string { return "formula.defined" }

// Right is what it asks for.
func (*FormulaDefined) Right() Right { return MayMake }

// Subjects is the list of formulas.
func (*FormulaDefined) Subjects() []int64 { return []int64{5} }

// Check works out the plan and refuses a formula that cannot be made.
func (f *FormulaDefined) Check(ctx context.Context, tx *Tx, _ *Entry) error {
	if err := f.checkFields(); err != nil {
		return err
	}
	if err := f.checkPortions(); err != nil {
		return err
	}
	if err := f.identify(ctx, tx); err != nil {
		return err
	}
	p := planner{formula: f, parts: map[int64][]MaterialPart{}, materials: map[int64]Material{}}
	if err := p.load(ctx, tx); err != nil {
		return err
	}
	var err error
	f.Plan, err = p.plan()
	return err
}

func (f *FormulaDefined) checkFields() error {
	if err := words("name", &f.Name, 200); err != nil {
		return err
	}
	if err := anyWords("note", &f.Note, 4000); err != nil {
		return err
	}
	if err := positive("oil_grams", f.OilGrams); err != nil {
		return err
	}
	one := decimal.NewFromInt(1)
	// A negative superfat would plan lye-heavy soap; more than half left unsaponified is no soap.
	if f.Superfat.IsNegative() || f.Superfat.GreaterThan(decimal.New(5, -1)) {
		return invalid("superfat", "%s is outside 0 to 0.5; below zero the soap would be lye-heavy", f.Superfat)
	}
	if f.Concentration.LessThan(decimal.New(15, -2)) || f.Concentration.GreaterThan(decimal.New(5, -1)) {
		return invalid("concentration", "%s is outside 0.15 to 0.50", f.Concentration)
	}
	if !f.AlkaliPurity.IsPositive() || f.AlkaliPurity.GreaterThan(one) {
		return invalid("alkali_purity", "%s is outside 0 to 1", f.AlkaliPurity)
	}
	if (f.TempMinC == nil) != (f.TempMaxC == nil) || f.TempMinC != nil && f.TempMaxC.LessThan(*f.TempMinC) {
		return invalid("temp_min_c", "give both ends of the temperature window, the lower first, or neither")
	}
	if f.MouldHours < 0 || f.MouldHours > 24*60 || f.CureDays < 0 || f.CureDays > 730 || f.Bars < 1 || f.Bars > 100000 {
		return invalid("bars", "hours in the mould are 0 to 1440, cure days 0 to 730, bars 1 to 100000")
	}
	if len(f.Lines) == 0 || len(f.Lines) > 200 {
		return invalid("lines", "a formula has 1 to 200 lines, this has %d", len(f.Lines))
	}
	return nil
}

func (f *FormulaDefined) checkPortions() error {
	if len(f.Portions) == 0 {
		return nil
	}
	total, byMass := decimal.Zero, f.Portions[0].Grams != nil
	seen := map[string]bool{}
	for i := range f.Portions {
		p := &f.Portions[i]
		if err := words("portions", &p.Name, 40); err != nil {
			return err
		}
		if seen[p.Name] {
			return invalid("portions", "the portion %q is there twice", p.Name)
		}
		seen[p.Name] = true
		if (p.Grams != nil) != byMass {
			return invalid("portions", "state all portions by share, or all by mass")
		}
		if byMass {
			p.Share = *p.Grams
		}
		if err := positive("portions", p.Share); err != nil {
			return err
		}
		total = total.Add(p.Share)
	}
	if byMass {
		shares(f.Portions, total)
	} else if !total.Equal(decimal.NewFromInt(1)) {
		return invalid("portions", "the shares sum to %s, not to 1", total)
	}
	return nil
}

// shares turns masses into shares that sum to exactly 1: the last takes what rounding leaves.
func shares(portions []FormulaPortion, total decimal.Decimal) {
	left := decimal.NewFromInt(1)
	for i := range portions {
		s := portions[i].Share.DivRound(total, 9)
		if i == len(portions)-1 {
			s = left
		}
		portions[i].Share, left = s, left.Sub(s)
	}
}

func (f *FormulaDefined) identify(ctx context.Context, tx *Tx) (err error) {
	if f.ID, err = tx.newID(ctx); err != nil {
		return err
	}
	if f.Formula != 0 {
		f.Version, err = scalar[int](ctx, tx, `select coalesce(max(version), 0) + 1 from formula_version where formula_id = $1`, f.Formula)
		if err == nil && f.Version == 1 {
			return notFound("formula", "there is no formula %d", f.Formula)
		}
		return err
	}
	taken, err := exists(ctx, tx, `select 1 from formula where lower(name) = lower($1)`, f.Name)
	if err != nil {
		return err
	}
	if taken {
		return conflict("the formula %q is there already; make a new version of it", f.Name)
	}
	f.Version = 1
	f.Formula, err = tx.newID(ctx)
	return err
}

// planner works out what to weigh.
type planner struct {
	formula   *FormulaDefined
	materials map[int64]Material
	parts     map[int64][]MaterialPart // of prepared materials, as planned
}

func (p *planner) load(ctx context.Context, tx *Tx) error {
	f := p.formula
	ids := []int64{f.Alkali, f.Water}
	if f.StockLye != 0 {
		ids = append(ids, f.StockLye)
	}
	for _, line := range f.Lines {
		ids = append(ids, line.Material)
	}
	for i := 0; i < len(ids); i++ { // ids grows by the parts of prepared materials
		if _, ok := p.materials[ids[i]]; ok {
			continue
		}
		m, err := readMaterial(ctx, tx, ids[i])
		if err != nil {
			return err
		}
		p.materials[m.ID] = m
		if m.Kind != "prepared" {
			continue
		}
		if p.parts[m.ID], err = readParts(ctx, tx, m.ID); err != nil {
			return err
		}
		for _, part := range p.parts[m.ID] {
			ids = append(ids, part.Material)
		}
	}
	return p.checkRoles()
}

func (p *planner) checkRoles() error {
	f := p.formula
	if p.materials[f.Alkali].Kind != "alkali" {
		return invalid("alkali", "%s is no alkali", p.materials[f.Alkali].Name)
	}
	if p.materials[f.Water].Kind != "water" {
		return invalid("water", "%s is no water", p.materials[f.Water].Name)
	}
	if f.StockLye != 0 && p.materials[f.StockLye].Kind != "prepared" {
		return invalid("stock_lye", "%s is not prepared here", p.materials[f.StockLye].Name)
	}
	names := map[string]bool{"": true}
	for _, portion := range f.Portions {
		names[portion.Name] = true
	}
	for i, line := range f.Lines {
		m := p.materials[line.Material]
		if m.Kind == "alkali" || line.Material == f.Water || line.Material == f.StockLye || m.Kind == "packaging" {
			return invalid("lines", "line %d: %s is worked out or is not part of the soap; leave it out of the lines", i+1, m.Name)
		}
		if !names[line.Portion] {
			return invalid("lines", "line %d: there is no portion %q", i+1, line.Portion)
		}
	}
	return nil
}

// plan resolves every line to grams, then the alkali for all oils, those inside prepared materials included, and the
// water. Sources of the arithmetic are with the soap package.
func (p *planner) plan() ([]PlanLine, error) {
	f := p.formula
	var plan []PlanLine
	var oils []soap.Oil
	direct := decimal.Zero
	for i := range f.Lines {
		line, m := &f.Lines[i], p.materials[f.Lines[i].Material]
		var err error
		if line.Grams, err = f.grams(*line, m); err != nil {
			return nil, invalid("lines", "line %d, %s: %s", i+1, m.Name, err)
		}
		if m.Kind == "oil" {
			direct = direct.Add(line.Grams)
			oils = append(oils, oilOf(m, nil, line.Grams))
		}
		for _, part := range p.parts[m.ID] {
			if pm := p.materials[part.Material]; pm.Kind == "oil" {
				oils = append(oils, oilOf(pm, nil, line.Grams.Mul(part.Share)))
			}
		}
		plan = append(plan, planLine(m, false, line.Portion, line.Grams))
	}
	// Lines by per cent may leave a trace of rounding; a tenth of a gram is less than a kitchen scale shows.
	if direct.Sub(f.OilGrams).Abs().GreaterThan(decimal.New(1, -1)) {
		return nil, invalid("oil_grams", "the oil lines sum to %s g, not to %s g; correct the total or the lines", direct, f.OilGrams)
	}
	first, err := p.lye(oils)
	if err != nil {
		return nil, err
	}
	return append(first, plan...), nil
}

func (f *FormulaDefined) grams(line FormulaLine, m Material) (decimal.Decimal, error) {
	if err := positive("amount", line.Amount); err != nil {
		return decimal.Zero, err
	}
	switch line.Basis {
	case ByMass:
		return line.Amount.Round(3), nil
	case ByPercent:
		return f.OilGrams.Mul(line.Amount).Shift(-2).Round(3), nil
	case BySpoon:
		per, err := measure.ParseMass("1", line.Per, measure.Bulk{})
		if err != nil {
			return decimal.Zero, fmt.Errorf("per: %w", err)
		}
		g, err := soap.SpoonPerMass(line.Amount, line.Unit, m.bulk().Density, per.Grams, f.OilGrams)
		return g.Round(3), err
	}
	return decimal.Zero, fmt.Errorf("the basis %q is not one of: %s, %s, %s", line.Basis, ByMass, ByPercent, BySpoon)
}

func (p *planner) lye(oils []soap.Oil) ([]PlanLine, error) {
	f := p.formula
	alkali := p.materials[f.Alkali]
	weigh, err := soap.AlkaliToWeigh(oils, f.Superfat, f.AlkaliPurity, alkali.Alkali)
	if err != nil {
		return nil, invalid("lines", "the alkali cannot be worked out: %s", err)
	}
	water, err := lye.WaterFor(weigh, f.Concentration)
	if err != nil {
		return nil, invalid("concentration", "%s", err)
	}
	if f.StockLye == 0 {
		return []PlanLine{planLine(alkali, true, "", weigh.Round(1)), planLine(p.materials[f.Water], false, "", water.Round(1))}, nil
	}
	stock := p.materials[f.StockLye]
	strength := decimal.Zero
	for _, part := range p.parts[stock.ID] {
		if part.Material == f.Alkali {
			strength = part.Share
		}
	}
	if !strength.IsPositive() {
		return nil, invalid("stock_lye", "%s is not planned to hold %s", stock.Name, alkali.Name)
	}
	draw, err := lye.FromStock(weigh, strength, f.Concentration)
	if err != nil {
		return nil, invalid("concentration", "%s", err)
	}
	plan := []PlanLine{planLine(stock, true, "", draw.Stock.Round(1))}
	if more := draw.Water.Round(1); more.IsPositive() {
		plan = append(plan, planLine(p.materials[f.Water], false, "", more))
	}
	return plan, nil
}

// planLine sets how far a weighing may be off without a reason: lye, dry or from stock, by half a per cent or 1 g; oils and
// water by 2 % or 5 g; scents, colours and the rest by 2 % or half a gram, whichever is larger; never more than a
// tenth. Common practice, no source.
func planLine(m Material, lye bool, portion string, grams decimal.Decimal) PlanLine {
	part, least := decimal.New(2, -2), decimal.NewFromInt(5)
	switch {
	case lye:
		part, least = decimal.New(5, -3), decimal.NewFromInt(1)
	case m.Kind != "oil" && m.Kind != "water":
		least = decimal.New(5, -1)
	}
	tolerance := decimal.Min(decimal.Max(grams.Mul(part), least), grams.Mul(decimal.New(1, -1)))
	return PlanLine{Material: m.ID, Portion: portion, Grams: grams, Tolerance: tolerance.Round(3)}
}

// oilOf is an oil for the lye sum. A lot's own certificate narrows the published range to its value.
func oilOf(m Material, certificate *decimal.Decimal, grams decimal.Decimal) soap.Oil {
	o := soap.Oil{Name: m.Name, Grams: grams, SAPMin: *m.SAPMin, SAPMax: *m.SAPMax, NoGlycerol: m.NoGlycerol}
	if certificate != nil {
		o.SAPMin, o.SAPMax = *certificate, *certificate
	}
	return o
}

// Apply writes the version; nothing of an older one changes.
func (f *FormulaDefined) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	if f.Version == 1 {
		if _, err := tx.Exec(ctx, `insert into formula (id, name, entry_id) values ($1,$2,$3)`, f.Formula, f.Name, e.ID); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `insert into formula_version (id, formula_id, version, name, oil_grams, superfat, concentration, alkali_id,
		alkali_purity, water_id, stock_lye_id, temp_min_c, temp_max_c, mould_hours, cure_days, bars, note, entry_id)
		values ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,nullif($11,0),$12,$13,$14,$15,$16,$17,$18)`, f.ID, f.Formula, f.Version, f.Name, f.OilGrams,
		f.Superfat, f.Concentration, f.Alkali, f.AlkaliPurity, f.Water, f.StockLye, f.TempMinC, f.TempMaxC, f.MouldHours, f.CureDays,
		f.Bars, f.Note, e.ID)
	if err != nil {
		return err
	}
	batch := &pgx.Batch{}
	for i, p := range f.Portions {
		batch.Queue(`insert into formula_portion (version_id, portion, line, share) values ($1,$2,$3,$4)`, f.ID, p.Name, i+1, p.Share)
	}
	for i, line := range f.Lines {
		batch.Queue(`insert into formula_line (version_id, line, material_id, portion, basis, amount, unit, per_unit, grams)
			values ($1,$2,$3,$4,$5,$6,$7,$8,$9)`, f.ID, i+1, line.Material, line.Portion, line.Basis, line.Amount, line.Unit, line.Per, line.Grams)
	}
	for i, line := range f.Plan {
		batch.Queue(`insert into formula_plan (version_id, line, material_id, portion, grams, tolerance) values ($1,$2,$3,$4,$5,$6)`,
			f.ID, i+1, line.Material, line.Portion, line.Grams, line.Tolerance)
	}
	return tx.SendBatch(ctx, batch).Close()
}

// FormulaVersion is a version of a formula, in one line.
type FormulaVersion struct {
	ID            int64           `json:"id"`
	Formula       int64           `json:"formula"`
	Version       int             `json:"version"`
	Name          string          `json:"name"`
	OilGrams      decimal.Decimal `json:"oil_grams"`
	Superfat      decimal.Decimal `json:"superfat"`
	Concentration decimal.Decimal `json:"concentration"`
	Bars          int             `json:"bars"`
	CureDays      int             `json:"cure_days"`
	Latest        bool            `json:"latest"`
}

// Formulas lists all versions, the latest of each formula first.
func (l *Ledger) Formulas(ctx context.Context) ([]FormulaVersion, error) {
	return all[FormulaVersion](ctx, l.pool, `select id, formula_id, version, name, oil_grams, superfat, concentration, bars, cure_days,
		version = max(version) over (partition by formula_id) from formula_version order by name, formula_id, version desc`)
}

// Formula reads one version as it was defined, with its plan.
func (l *Ledger) Formula(ctx context.Context, version int64) (*FormulaDefined, error) {
	id, err := scalar[int64](ctx, l.pool, `select entry_id from formula_version where id = $1`, version)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, notFound("formula", "there is no formula version %d", version)
	}
	if err != nil {
		return nil, err
	}
	_, body, err := readEntry(ctx, l.pool, id)
	if err != nil {
		return nil, err
	}
	return body.(*FormulaDefined), nil
}
