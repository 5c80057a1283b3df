package lye

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// heatOfSolution is the heat that a mol of solid sodium hydroxide gives off in r mol of water at 25 °C: the table of integral
// heats of solution in Felder & Rousseau, from NBS Circular 500 (r = 4 retrieved, the other rows from memory, high confidence).
// The row of NBS 1982, -44.505 kJ/mol at infinite dilution, is of another set and not used: for lye of soap making either
// figure at infinite dilution says too much.
//
//go:embed naoh-heat-of-solution.csv
var heatOfSolution string

// heatCapacity is that of the solution: the model of Laliberté 2009 up to 30 %, from there a straight line to 3.30 at 50 %
// (from memory, medium confidence).
//
//go:embed naoh-heat-capacity.csv
var heatCapacity string

// point is a row of a table of one input.
type point struct{ x, y decimal.Decimal }

var (
	heats      = readHeats(heatOfSolution) // x mol of water per mol, falling; y kJ/mol given off
	capacities = readCapacities(heatCapacity)
)

func readRows(text string) [][]string {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic("lye: heat table: " + err.Error())
	}
	return rows[1:]
}

// readHeats returns the table in x = 1/r, rising from infinite dilution.
func readHeats(text string) []point {
	var points []point
	for _, row := range readRows(text) {
		x := decimal.Zero
		if row[0] == "infinite" {
			if row[3] != "same table" {
				continue
			}
		} else {
			x = divide(one, decimal.RequireFromString(row[0]))
		}
		points = append(points, point{x, decimal.RequireFromString(row[2]).Neg()})
	}
	slices.SortFunc(points, func(a, b point) int { return a.x.Cmp(b.x) })
	return points
}

// readCapacities returns x mass fraction, y kJ/(kg K), which is J/(g K).
func readCapacities(text string) []point {
	var points []point
	for _, row := range readRows(text) {
		points = append(points, point{decimal.RequireFromString(row[0]).Shift(-2), decimal.RequireFromString(row[1])})
	}
	return points
}

// at interpolates between the rows of a rising table, and continues its first and last line beyond its ends.
func at(points []point, x decimal.Decimal) decimal.Decimal {
	i := slices.IndexFunc(points, func(p point) bool { return p.x.GreaterThanOrEqual(x) })
	if i < 0 {
		i = len(points) - 1
	}
	i = max(i, 1)
	return between(x, points[i-1].x, points[i].x, points[i-1].y, points[i].y)
}

// HeatOfSolution returns the kJ that a mol of solid NaOH gives off when it dissolves in r mol of water at 25 °C, r above zero.
// Between the rows of the table it is linear in 1/r. The table ends at r = 3, a lye of 42.5 %; below that it continues the line
// between r = 3 and 4 in r itself. The heat grows ever slower with r, so that line lies above the truth: an upper bound.
func HeatOfSolution(r decimal.Decimal) (decimal.Decimal, error) {
	if !r.IsPositive() {
		return decimal.Zero, wrong("%s mol of water per mol of NaOH is not above zero; weigh the water", r)
	}
	if x := divide(one, r); x.LessThanOrEqual(heats[len(heats)-1].x) {
		return at(heats, x), nil
	}
	last, before := heats[len(heats)-1], heats[len(heats)-2]
	bound := between(r, divide(one, last.x), divide(one, before.x), last.y, before.y)
	return decimal.Max(bound, decimal.Zero), nil
}

// Level says how much caution a temperature asks for.
type Level string

// The levels. The temperatures are ours.
const (
	Usual   Level = ""        // up to 80 °C
	Caution Level = "caution" // above 80 °C
	Strong  Level = "strong"  // above 100 °C: steam and spatter
)

var (
	cautionAbove = decimal.NewFromInt(80)
	strongAbove  = decimal.NewFromInt(100)
)

func levelOf(celsius decimal.Decimal) Level {
	switch {
	case celsius.GreaterThan(strongAbove):
		return Strong
	case celsius.GreaterThan(cautionAbove):
		return Caution
	}
	return Usual
}

// Dissolving is what goes into the vessel when lye is made.
type Dissolving struct {
	Kind         string          // NaOH; see ErrNoFigure for KOH
	Alkali       decimal.Decimal // g as weighed, above zero
	Purity       decimal.Decimal // mass fraction of hydroxide, above 0, at most 1; the rest is counted as water
	Water        decimal.Decimal // g of liquid water, zero or more
	WaterCelsius decimal.Decimal // of the liquid water, 0 to 60 °C
	Ice          decimal.Decimal // g of ice at 0 °C, zero or more: part of the water of the lye
}

// Peak is how hot lye gets while it is made if no heat is lost: an upper bound for the whole, not for a clump of
// alkali that lies on the bottom. Vessels lose heat; 65 to 95 °C is usual (from memory, medium confidence).
type Peak struct {
	Celsius     decimal.Decimal // the bound
	Rise        decimal.Decimal // °C above the water before the ice and the alkali went in
	Strength    decimal.Decimal // mass fraction of hydroxide, pure basis
	HeatPerMole decimal.Decimal // kJ per mol of NaOH given off
	Bounded     bool            // the heat is beyond the end of its table, see HeatOfSolution
	Level       Level
}

// ErrNoFigure is wrapped when the physical data to compute with are not known here.
var ErrNoFigure = errors.New("not known")

// Figures from memory, high confidence.
var (
	meltingHeat   = decimal.RequireFromString("333.55") // J/g of ice
	waterCapacity = decimal.RequireFromString("4.18")   // J/(g K)
	solidCapacity = decimal.RequireFromString("1.49")   // J/(g K) of solid NaOH
)

// The alkali comes from a shelf: it is taken at 20 °C, or at the water's temperature if that is higher.
var shelfCelsius = decimal.NewFromInt(20)

var (
	hottestWater  = decimal.NewFromInt(60)
	strongestHeat = decimal.RequireFromString("0.5")
)

// PeakOf returns the upper bound of the temperature while lye is made: the heat of solution at its own dilution, over the heat
// capacity of the lye, less what melting and warming the ice takes. The heat of solution is that of 25 °C.
//
// It fails for a lye of more than 50 %, for water that is not liquid or warmer than 60 °C, and for more ice than would melt. For
// potassium hydroxide it wraps ErrNoFigure: no table of its heat of solution has a source here.
func PeakOf(d Dissolving) (Peak, error) {
	if err := d.check(); err != nil {
		return Peak{}, err
	}
	total := d.Alkali.Add(d.Water).Add(d.Ice)
	pure := d.Alkali.Mul(d.Purity)
	share := divide(pure, total)
	if share.GreaterThan(strongestHeat) {
		return Peak{}, wrong("a lye of %s %% is stronger than 50 %%, where the heat is known no more; take more water", share.Shift(2).Round(1))
	}
	r := divide(total.Sub(pure).Mul(MolarNaOH), pure.Mul(MolarWater))
	perMole, err := HeatOfSolution(r)
	if err != nil {
		return Peak{}, err
	}
	heat := divide(pure.Mul(perMole).Shift(3), MolarNaOH) // J
	heat = heat.Add(d.Alkali.Mul(solidCapacity).Mul(decimal.Max(shelfCelsius.Sub(d.WaterCelsius), decimal.Zero)))
	heat = heat.Sub(d.Ice.Mul(meltingHeat.Add(waterCapacity.Mul(d.WaterCelsius))))
	rise := divide(heat, total.Mul(at(capacities, decimal.Max(share, capacities[0].x))))
	peak := Peak{Celsius: d.WaterCelsius.Add(rise), Rise: rise, Strength: share, HeatPerMole: perMole, Bounded: divide(one, r).GreaterThan(heats[len(heats)-1].x)}
	if d.Ice.IsPositive() && peak.Celsius.IsNegative() {
		return Peak{}, wrong("%s g of ice take more heat than %s g of %s give off; some of it would not melt, so take less ice and more water", d.Ice, d.Alkali, d.Kind)
	}
	peak.Level = levelOf(peak.Celsius)
	return peak, nil
}

func (d Dissolving) check() error {
	if _, err := MolarMass(d.Kind); err != nil {
		return err
	}
	if d.Kind != NaOH {
		return wrong("the heat of dissolving %s is %w here; expect it to get as hot as NaOH lye does, and read the thermometer", d.Kind, ErrNoFigure)
	}
	if err := CheckPurity(d.Kind, d.Purity); err != nil {
		return err
	}
	if !d.Alkali.IsPositive() || d.Water.IsNegative() || d.Ice.IsNegative() {
		return wrong("%s g of %s in %s g of water and %s g of ice cannot be; weigh the alkali, which must be above zero, and the water and ice", d.Alkali, d.Kind, d.Water, d.Ice)
	}
	if d.WaterCelsius.IsNegative() || d.WaterCelsius.GreaterThan(hottestWater) {
		return wrong("water of %s °C is not from 0 to 60 °C; measure it again, and never put lye into hot water", d.WaterCelsius)
	}
	return nil
}

// Caution says what to mind at that temperature; empty for the usual one. Common practice, no source.
func (p Peak) Caution() string {
	switch p.Level {
	case Strong:
		return "It may come to boiling: steam and spatter burn. Start with cold water or with ice, add the alkali in small parts, stir, and wait in between."
	case Caution:
		return "It gets hot enough to scald and to soften thin plastic. Start with cold water and add the alkali slowly."
	}
	return ""
}

// Vessel says what lye may be made in, and what not. Aluminium: chemistry, from memory; the rest common practice, no source.
const Vessel = "Never in aluminium, zinc or tin, nor with tools of them: lye eats them and gives off hydrogen, which burns. " +
	"Use polypropylene (PP), HDPE or stainless steel that takes the heat; glass can etch and crack."

// Cautions says what to mind when lye is made: by the level of the peak, then Handling, then what goes before all of it. The zero
// Peak, for when no peak is known, brings no line of its own.
func Cautions(p Peak) []string {
	var lines []string
	if line := p.Caution(); line != "" {
		lines = append(lines, line)
	}
	return append(append(lines, Handling()...), "The supplier's safety data sheet and local law go before this.")
}

// Handling says what to mind with any lye, the gravest first. Whoever shows it alone adds that the supplier's safety data sheet, local law and
// the emergency services go before it. Common practice, no source, but for goggles and adding the alkali to cold water (CCOHS; 29 CFR 1910).
func Handling() []string {
	return []string{
		"It burns skin at once and can blind. Goggles, gloves, long sleeves and shoes that cover the foot on; children, pets and visitors out.",
		"Add the alkali slowly to cold water while stirring, never water to the alkali. It heats up by itself, near boiling.",
		"On skin or in eyes: rinse with plenty of running water at once, keep rinsing, and call your local emergency number or poison centre.",
		"Draw the fumes off or open the window, and do not lean over the vessel: they hurt. Know where the running water is before you open the tub.",
		Vessel,
	}
}
