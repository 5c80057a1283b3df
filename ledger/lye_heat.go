package ledger

import (
	"context"
	"errors"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/ledger/lye"
)

// LyePeak bounds how hot the lye of a batch gets while it is made: what it would reach if no heat were lost.
type LyePeak struct {
	Celsius   *decimal.Decimal `json:"celsius,omitempty" doc:"°C, the bound; none where the heat of dissolving is not known"`
	From      decimal.Decimal  `json:"from" doc:"°C, of the water before"`
	FromRoom  bool             `json:"from_room" doc:"the water is taken as warm as the room was last read; otherwise 20 °C"`
	Cold      *decimal.Decimal `json:"cold,omitempty" doc:"°C, the bound with water of 5 °C"`
	Ice       *decimal.Decimal `json:"ice,omitempty" doc:"°C, the bound with a third of the water as ice"`
	Strong    bool             `json:"strong" doc:"it may come to boiling"`
	Caution   string           `json:"caution,omitempty" doc:"what to mind at that temperature"`
	Vessel    string           `json:"vessel" doc:"what lye may be made in, and what not"`
	NotKnown  string           `json:"not_known,omitempty" doc:"why there is no figure"`
	FullTable bool             `json:"full_table" doc:"the strength lies inside the table of the heat of solution; otherwise the bound runs on beyond its end"`
}

var (
	usualWaterCelsius = decimal.NewFromInt(20)
	coldWaterCelsius  = decimal.NewFromInt(5) // from a refrigerator
)

// LyePeak works the bound out from the alkali and the water that were weighed; nil while one of the two is missing, or the lye was made
// before and is only thinned.
func (l *Ledger) LyePeak(ctx context.Context, batch int64) (*LyePeak, error) {
	uses, err := all[lyeUse](ctx, l.pool, lyeUses, batch)
	if err != nil {
		return nil, err
	}
	var d lye.Dissolving
	pure := decimal.Zero
	for _, use := range uses {
		switch use.Kind {
		case "alkali":
			if d.Kind == "" || use.Alkali != lye.NaOH {
				d.Kind = use.Alkali
			}
			d.Alkali = d.Alkali.Add(use.Weight)
			pure = pure.Add(use.Weight.Mul(orUsual(use.Purity, decimal.NewFromInt(1))))
		case "water":
			d.Water = d.Water.Add(use.Weight)
		}
	}
	if !d.Alkali.IsPositive() || !d.Water.IsPositive() {
		return nil, nil
	}
	d.Purity = pure.DivRound(d.Alkali, 9)
	read, err := readReadings(ctx, l.pool, batch)
	if err != nil {
		return nil, err
	}
	p := &LyePeak{From: usualWaterCelsius, Vessel: lye.Vessel}
	if room := lastRoom(read); room != nil {
		p.From, p.FromRoom = *room, true
	}
	return p, p.bound(d)
}

// lastRoom is the last room temperature that stands and at which water is water; nil when there is none.
func lastRoom(readings []Reading) *decimal.Decimal {
	for _, r := range slices.Backward(readings) {
		if r.Type == RoomTemperature && r.StruckBy == nil && !r.Value.IsNegative() && r.Value.LessThan(decimal.NewFromInt(60)) {
			return &r.Value
		}
	}
	return nil
}

func (p *LyePeak) bound(d lye.Dissolving) error {
	d.WaterCelsius = p.From
	peak, err := lye.PeakOf(d)
	if errors.Is(err, lye.ErrInput) || errors.Is(err, lye.ErrNoFigure) {
		p.NotKnown = unwrapped(err)
		return nil
	}
	if err != nil {
		return err
	}
	p.Celsius, p.Strong, p.Caution, p.FullTable = whole(peak), peak.Level == lye.Strong, peak.Caution(), !peak.Bounded
	d.WaterCelsius = decimal.Min(coldWaterCelsius, p.From)
	if cold, err := lye.PeakOf(d); err == nil && d.WaterCelsius.LessThan(p.From) {
		p.Cold = whole(cold)
	}
	d.WaterCelsius, d.Ice = p.From, d.Water.DivRound(decimal.NewFromInt(3), 3)
	d.Water = d.Water.Sub(d.Ice)
	if ice, err := lye.PeakOf(d); err == nil {
		p.Ice = whole(ice)
	}
	return nil
}

// whole rounds a bound up to whole degrees.
func whole(p lye.Peak) *decimal.Decimal {
	c := p.Celsius.RoundCeil(0)
	return &c
}
