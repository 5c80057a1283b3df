package ledger

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger/measure"
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
	Unit     measure.Unit    `json:"unit,omitempty" enum:",tsp,tbsp,cup,fl oz,ml,drop" doc:"the spoon, or drop; for spoons per oils only"`
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
	Superfat      decimal.Decimal  `json:"superfat" required:"false" doc:"fraction of the alkali for complete saponification that is left out, for example 0.05; worked out where alkali_grams is given"`
	AlkaliGrams   *decimal.Decimal `json:"alkali_grams,omitempty" doc:"alkali to weigh, g, both kinds together; given instead of superfat, and goes before it"`
	Concentration decimal.Decimal  `json:"concentration" required:"false" doc:"alkali / (alkali + water) as weighed, for example 0.33; worked out where water_ratio or water_grams is given"`
	WaterRatio    *decimal.Decimal `json:"water_ratio,omitempty" doc:"grams of water to one gram of alkali; given instead of concentration, and goes before it"`
	WaterGrams    *decimal.Decimal `json:"water_grams,omitempty" doc:"water, g; given instead of concentration, and goes before it"`
	Alkali        int64            `json:"alkali" doc:"the alkali material"`
	AlkaliPurity  decimal.Decimal  `json:"alkali_purity" doc:"hydroxide mass fraction assumed for planning, for example 0.98"`
	SecondAlkali  int64            `json:"second_alkali,omitempty" doc:"the other alkali of a mixture, potassium beside sodium hydroxide or the other way round"`
	SecondShare   decimal.Decimal  `json:"second_share" required:"false" doc:"its share of the alkali, fraction"`
	SecondBasis   string           `json:"second_basis,omitempty" enum:",equivalents,mass" doc:"what the share is of: of the equivalents (mol), or of the mass of pure alkali"`
	SecondPurity  decimal.Decimal  `json:"second_purity" required:"false" doc:"hydroxide mass fraction assumed for it"`
	Water         int64            `json:"water" doc:"the water material"`
	StockLye      int64            `json:"stock_lye,omitempty" doc:"a prepared material to take the alkali from instead of dry alkali"`
	TempMinC      *decimal.Decimal `json:"temp_min_c,omitempty" doc:"least temperature of oils and lye at combining, °C"`
	TempMaxC      *decimal.Decimal `json:"temp_max_c,omitempty"`
	TempUnit      string           `json:"temp_unit,omitempty" enum:",C,F" doc:"the degrees that the maker reads; empty: C"`
	MouldHours    int              `json:"mould_hours" minimum:"0" doc:"least hours from pouring to unmoulding"`
	CureDays      int              `json:"cure_days,omitempty" minimum:"0" doc:"0: the shop's own"`
	Bars          int              `json:"bars" minimum:"1" doc:"bars that a batch of this size gives"`
	Note          string           `json:"note,omitempty" maxLength:"4000"`
	Portions      []FormulaPortion `json:"portions,omitempty"`
	Lines         []FormulaLine    `json:"lines"`
	LyeWarn       *decimal.Decimal `json:"lye_warn,omitempty" doc:"chance of lye-heavy soap above which the gates warn; absent: the shop's"`
	LyeStop       *decimal.Decimal `json:"lye_stop,omitempty" doc:"chance of lye-heavy soap above which the gates stop; absent: the shop's"`
	Plan          []PlanLine       `json:"plan" readOnly:"true" doc:"everything to weigh at the formula's own size"`
	Lye           *PlannedLye      `json:"lye,omitempty" readOnly:"true" doc:"what the plan leaves when it is weighed as rounded, and how sure that is"`
}

// PlannedLye is what the rounded plan comes to.
type PlannedLye struct {
	LyeBudget
	Asked         decimal.Decimal `json:"asked" doc:"superfat that was asked for; the difference is what rounding to the step of the scale does"`
	Concentration decimal.Decimal `json:"concentration" doc:"alkali / (alkali + water) of the rounded plan"`
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
	limits, err := benchLimits(ctx, tx)
	if err != nil {
		return err
	}
	p := newPlanner(f, limits)
	if err := p.load(ctx, tx); err != nil {
		return err
	}
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
	if err := f.checkAlkali(); err != nil {
		return err
	}
	if (f.TempMinC == nil) != (f.TempMaxC == nil) || f.TempMinC != nil && f.TempMaxC.LessThan(*f.TempMinC) {
		return invalid("temp_min_c", "give both ends of the temperature window, the lower first, or neither")
	}
	if err := oneOf("temp_unit", f.TempUnit, "", "C", "F"); err != nil {
		return err
	}
	if f.MouldHours < 0 || f.MouldHours > 24*60 || f.CureDays < 0 || f.CureDays > 730 || f.Bars < 1 || f.Bars > 100000 {
		return invalid("bars", "hours in the mould are 0 to 1440, cure days 0 to 730, bars 1 to 100000")
	}
	if len(f.Lines) == 0 || len(f.Lines) > 200 {
		return invalid("lines", "a formula has 1 to 200 lines, this has %d", len(f.Lines))
	}
	return nil
}

// checkAlkali looks at what was chosen about the lye. What is worked out from it is looked at when it is.
func (f *FormulaDefined) checkAlkali() error {
	if f.AlkaliGrams == nil {
		if err := checkSuperfat(f.Superfat); err != nil {
			return err
		}
	} else if err := positive("alkali_grams", *f.AlkaliGrams); err != nil {
		return err
	}
	if f.WaterRatio != nil && f.WaterGrams != nil {
		return invalid("water_ratio", "water is given both as a ratio and as a mass; give one of them")
	}
	for field, v := range map[string]*decimal.Decimal{"water_ratio": f.WaterRatio, "water_grams": f.WaterGrams} {
		if v != nil {
			if err := positive(field, *v); err != nil {
				return err
			}
		}
	}
	if err := checkPurity("alkali_purity", f.AlkaliPurity); err != nil {
		return err
	}
	if f.LyeWarn != nil || f.LyeStop != nil {
		if f.LyeWarn == nil || f.LyeStop == nil {
			return invalid("lye_warn", "a formula with limits of its own gives both lye_warn and lye_stop")
		}
		if err := checkChances(*f.LyeWarn, *f.LyeStop); err != nil {
			return err
		}
	}
	return f.checkMixture()
}

// checkSuperfat: a negative one would plan lye-heavy soap; more than half left unsaponified is no soap.
func checkSuperfat(s decimal.Decimal) error {
	if s.IsNegative() || s.GreaterThan(decimal.New(5, -1)) {
		return invalid("superfat", "%s is outside 0 to 0.5; below zero the soap would be lye-heavy", s)
	}
	return nil
}

// checkPurity refuses what no alkali for soap has: below half it is a slip of the point or of the unit.
func checkPurity(field string, p decimal.Decimal) error {
	if p.LessThan(decimal.New(5, -1)) || p.GreaterThan(decimal.NewFromInt(1)) {
		return invalid(field, "%s %% is no purity of an alkali, which has 50 to 100 %%; look at the certificate and at the point", p.Shift(2))
	}
	return nil
}

func (f *FormulaDefined) checkMixture() error {
	if f.SecondAlkali == 0 {
		if !f.SecondShare.IsZero() || f.SecondBasis != "" || !f.SecondPurity.IsZero() {
			return invalid("second_alkali", "a share of a second alkali is given, but not which")
		}
		return nil
	}
	if f.StockLye != 0 {
		return invalid("stock_lye", "a mixture of two alkalis is weighed dry; leave stock_lye or second_alkali out")
	}
	if !f.SecondShare.IsPositive() || f.SecondShare.GreaterThanOrEqual(decimal.NewFromInt(1)) {
		return invalid("second_share", "%s is outside 0 to 1; with all or nothing of it the formula has one alkali", f.SecondShare)
	}
	if err := oneOf("second_basis", f.SecondBasis, "equivalents", "mass"); err != nil {
		return err
	}
	return checkPurity("second_purity", f.SecondPurity)
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

// Apply writes the version; nothing of an older one changes.
func (f *FormulaDefined) Apply(ctx context.Context, tx *Tx, e *Entry) error {
	if f.Version == 1 {
		if _, err := tx.Exec(ctx, `insert into formula (id, name, entry_id) values ($1,$2,$3)`, f.Formula, f.Name, e.ID); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `insert into formula_version (id, formula_id, version, name, oil_grams, superfat, concentration, alkali_id,
		alkali_purity, water_id, stock_lye_id, temp_min_c, temp_max_c, mould_hours, cure_days, bars, note, entry_id, lye_warn, lye_stop)
		values ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,nullif($11,0),$12,$13,$14,$15,$16,$17,$18,$19,$20)`, f.ID, f.Formula, f.Version, f.Name, f.OilGrams,
		f.Superfat, f.Concentration, f.Alkali, f.AlkaliPurity, f.Water, f.StockLye, f.TempMinC, f.TempMaxC, f.MouldHours, f.CureDays,
		f.Bars, f.Note, e.ID, f.LyeWarn, f.LyeStop)
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
	return readFormula(ctx, l.pool, version)
}

func readFormula(ctx context.Context, q querier, version int64) (*FormulaDefined, error) {
	id, err := scalar[int64](ctx, q, `select entry_id from formula_version where id = $1`, version)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, notFound("formula_version", "there is no formula version %d", version)
	}
	if err != nil {
		return nil, err
	}
	_, body, err := readEntry(ctx, q, id)
	if err != nil {
		return nil, err
	}
	return body.(*FormulaDefined), nil
}
