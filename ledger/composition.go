package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"ashbook/ledger/made"
	"ashbook/ledger/soap"
	"ashbook/ledger/trace"
)

// MadeOf is what a lot, or the pot of a batch, is made of: what was added, and what that has become once oils and alkali
// have met. Premixes, stock lye and reworked soap are seen through at any depth: the oil of a dispersion is one of the
// oils, and spirit that leaves is no ingredient (common practice, no source). It is worked out from what was weighed, by
// the rules of package made; a prediction is no test.
type MadeOf struct {
	Pieces decimal.Decimal `json:"pieces" doc:"bars in the lot; 0 for what is not counted"`
	Added  []AddedPart     `json:"added" nullable:"false" doc:"bought materials, as added; what evaporates is left out"`
	Made   []MadePart      `json:"made" nullable:"false" doc:"what they have become, the largest first"`
	Scents []ScentPart     `json:"scents" nullable:"false" doc:"its scents, held against what the certificates of their lots allow"`
	Poured MadeState       `json:"poured" doc:"as poured"`
	Now    MadeState       `json:"now" doc:"at the mass that the bars have now; only water has left since"`
	From   string          `json:"now_from" doc:"which weighing the mass now stands on"`
	On     string          `json:"now_on,omitempty" format:"date" doc:"the day of that weighing; none: as poured"`
}

// AddedPart is a bought material in a lot.
type AddedPart struct {
	Material int64           `json:"material"`
	Name     string          `json:"name"`
	Share    decimal.Decimal `json:"share" doc:"fraction of the mass as poured"`
	Grams    decimal.Decimal `json:"grams" doc:"to the microgram; the parts sum to the mass as poured"`
	Lots     []string        `json:"lots" doc:"codes of the bought lots"`
}

// MadePart is a product in a lot.
type MadePart struct {
	What     made.What       `json:"what" enum:"soap,glycerol,unreacted oil,fatty acid,water,free alkali,acid salt,unreacted acid,rest of alkali,as added"`
	Alkali   string          `json:"alkali,omitempty" enum:",NaOH,KOH" doc:"of soap, acid salts and free alkali"`
	Material int64           `json:"material" doc:"what it came from; 0 for water that formed"`
	Text     string          `json:"text" doc:"in words, as sodium soap of olive oil"`
	Share    decimal.Decimal `json:"share" doc:"fraction of the mass as poured"`
	Grams    decimal.Decimal `json:"grams" doc:"as poured, to the microgram; the parts sum to the mass as poured"`
	ShareNow decimal.Decimal `json:"share_now" doc:"fraction of the mass now"`
	GramsNow decimal.Decimal `json:"grams_now" doc:"to the microgram; the parts sum to the mass now"`
	Lots     []string        `json:"lots" doc:"codes of the bought lots behind it"`
}

// MadeState is a composition at one mass.
type MadeState struct {
	Grams       decimal.Decimal `json:"grams" doc:"of the whole lot"`
	FattyMatter decimal.Decimal `json:"fatty_matter" doc:"total fatty matter, as ISO 685 counts it, scents left out; fraction"`
	FreeOil     decimal.Decimal `json:"free_oil" doc:"oil that found no alkali; fraction"`
	FreeAlkali  decimal.Decimal `json:"free_alkali" doc:"predicted free caustic alkali as NaOH; fraction"`
	Glycerol    decimal.Decimal `json:"glycerol" doc:"set free from the oils; fraction"`
	Water       decimal.Decimal `json:"water" doc:"fraction"`
}

// Made works out what a lot of bars, remnants or something prepared is made of.
func (l *Ledger) Made(ctx context.Context, lot Lot) (*MadeOf, error) {
	if lot.BatchID == nil {
		return nil, invalid("lot", "%s was bought, not made", lot.Code)
	}
	f, err := loadFamily(ctx, l.pool, []int64{*lot.BatchID}, true)
	if err != nil {
		return nil, err
	}
	all, err := f.made(lot.ID)
	if err != nil {
		return nil, err
	}
	now, err := massNow(ctx, l.pool, lot, all[lot.ID])
	if err != nil {
		return nil, err
	}
	m, err := f.madeOf(lot.ID, all[lot.ID], lot.PouredGrams, now)
	if lot.What == "bars" {
		m.Pieces = lot.Amount
	}
	return m, err
}

// MadeOfBatch works out what all that was weighed into a batch so far makes, of stock lye without its steam. Portions count as mixed.
func (l *Ledger) MadeOfBatch(ctx context.Context, batch int64) (*MadeOf, error) {
	b, err := readBatch(ctx, l.pool, batch)
	if err != nil {
		return nil, err
	}
	f, err := loadFamily(ctx, l.pool, []int64{batch}, true)
	if err != nil {
		return nil, err
	}
	grams := f.inPot(batch)
	if !grams.IsPositive() {
		return nil, conflict("nothing that stays was weighed into batch %s yet", b.Code)
	}
	pot := f.potOf(batch)
	all, err := f.made(pot)
	if err != nil {
		return nil, err
	}
	return f.madeOf(pot, all[pot], grams, massAt{Grams: grams, From: asPoured})
}

// potOf is a lot of all that is in a batch, which need not have given one yet.
func (f *family) potOf(batch int64) int64 {
	pot := -batch // no lot has a number below zero
	f.Origins = append(f.Origins, trace.Origin{Lot: pot, Batch: batch})
	return pot
}

// made works out what lots are made of, by bought lot.
func (f *family) made(lots ...int64) (map[int64]made.Composition, error) {
	facts := made.Facts{Lots: map[int64]made.Ingredient{}, Soap: f.soap}
	for id, lot := range f.lots {
		if lot.Batch == 0 {
			facts.Lots[id] = matterOf(f.materials[lot.Material], lot)
		}
	}
	all, err := made.AsMade(f.Family, facts, lots...)
	if errors.Is(err, soap.ErrInput) {
		return nil, conflict("the composition cannot be worked out: %s", err)
	}
	return all, err
}

// matterOf says how a bought lot reacts, by its certificate or else by its material, as the lye sum takes it.
func matterOf(m Material, lot familyLot) made.Ingredient {
	i := made.Ingredient{Name: m.Name, Kind: made.Other, Water: orUsual(m.WaterShare, decimal.Zero)}
	switch m.Kind {
	case "oil":
		o := certified(oilOf(m, decimal.Zero), lot)
		i.Kind, i.SAPMin, i.SAPMax, i.NoGlycerol, i.FreeAcid = made.Oil, o.SAPMin, o.SAPMax, o.NoGlycerol, m.FreeAcid
	case "alkali":
		a := alkaliOf(m, lot, decimal.Zero)
		i.Kind, i.Alkali, i.Purity = made.Alkali, a.Kind, a.Purity
	case "water":
		i.Kind = made.Water
	}
	for _, a := range acidsOf(m, decimal.NewFromInt(1)) {
		i.Kind, i.EquivalentMass, i.Purity = made.Acid, a.EquivalentMass, a.Grams
	}
	return i
}

// madeOf puts a composition by lot together by material, at two masses.
func (f *family) madeOf(lot int64, c made.Composition, poured decimal.Decimal, at massAt) (*MadeOf, error) {
	m, now := &MadeOf{From: at.From, On: at.On, Added: []AddedPart{}}, at.Grams
	list, err := f.ingredients(lot, decimal.NewFromInt(1))
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(list, func(a, b Ingredient) int { return b.Grams.Cmp(a.Grams) })
	for _, i := range list {
		m.Added = append(m.Added, AddedPart{Material: i.Material.ID, Name: i.Material.Name, Share: i.Grams, Lots: i.Lots})
	}
	deal(poured, len(m.Added), func(i int) (decimal.Decimal, *decimal.Decimal) { return m.Added[i].Share, &m.Added[i].Grams })
	byMaterial := c.Merge(f.material)
	dried := byMaterial
	if now.LessThan(poured) {
		if dried, err = byMaterial.Dried(poured, now); err != nil {
			return nil, conflict("the composition cannot be worked out: %s", err)
		}
	}
	m.Poured, m.Now = stateOf(byMaterial, poured), stateOf(dried, now)
	if m.Scents, err = f.scents(lot, poured.DivRound(now, 24)); err != nil {
		return nil, err
	}
	m.Made = f.madeParts(c, byMaterial, dried)
	deal(poured, len(m.Made), func(i int) (decimal.Decimal, *decimal.Decimal) { return m.Made[i].Share, &m.Made[i].Grams })
	deal(now, len(m.Made), func(i int) (decimal.Decimal, *decimal.Decimal) { return m.Made[i].ShareNow, &m.Made[i].GramsNow })
	return m, nil
}

func (f *family) material(lot int64) int64 { return f.lots[lot].Material }

func stateOf(c made.Composition, grams decimal.Decimal) MadeState {
	return MadeState{Grams: grams, FattyMatter: c.FattyMatter(), FreeOil: c.Share(made.FreeOil), FreeAlkali: c.FreeAlkali(), Glycerol: c.Share(made.Glycerol),
		Water: c.Share(made.AnyWater)}
}

// product is what parts of one material have in common.
type product struct {
	what   made.What
	alkali string
	of     int64
}

// madeParts joins the parts at two masses, with the bought lots behind each.
func (f *family) madeParts(c, byMaterial, dried made.Composition) []MadePart {
	lots, now := map[product][]string{}, map[product]decimal.Decimal{}
	for _, p := range c.Parts {
		if p.Of != 0 && f.lots[p.Of].Code != "" {
			at := product{p.What, p.Alkali, f.material(p.Of)}
			lots[at] = append(lots[at], f.lots[p.Of].Code)
		}
	}
	for _, p := range dried.Parts {
		now[product{p.What, p.Alkali, p.Of}] = p.Share
	}
	parts := make([]MadePart, len(byMaterial.Parts))
	for i, p := range byMaterial.Parts {
		at := product{p.What, p.Alkali, p.Of}
		parts[i] = MadePart{What: p.What, Alkali: p.Alkali, Material: p.Of, Text: p.String(), Share: p.Share, ShareNow: now[at], Lots: lots[at]}
		if m := f.materials[p.Of]; p.What == made.AnyWater && m.Kind == "water" {
			parts[i].Text = m.Name
		}
		slices.Sort(parts[i].Lots)
		if parts[i].Lots == nil {
			parts[i].Lots = []string{}
		}
	}
	return parts
}

// deal hands a mass out by shares that sum to 1, to the microgram; the largest takes what rounding leaves.
func deal(grams decimal.Decimal, n int, part func(i int) (share decimal.Decimal, into *decimal.Decimal)) {
	rest, largest := grams, 0
	for i := range n {
		share, into := part(i)
		*into = share.Mul(grams).Round(6)
		rest = rest.Sub(*into)
		if most, _ := part(largest); share.GreaterThan(most) {
			largest = i
		}
	}
	if n > 0 {
		_, into := part(largest)
		*into = into.Add(rest)
	}
}

// judgeMade holds what bars are made of against what their lye sum may not show: alkali that reworked soap brought, or
// that one portion got. Soap whose lye was wrong is named wherever it went; when the oils of these bars are
// predicted to have taken its alkali up it is a warning, since a prediction is no test.
func judgeMade(ctx context.Context, q querier, j *Judgement, batch int64) error {
	f, err := loadFamily(ctx, q, []int64{batch}, true)
	if err != nil {
		return err
	}
	bars, err := all[Lot](ctx, q, `select `+lotColumns+` from lot l where l.batch_id = $1 and l.what = 'bars' and l.struck_by is null order by l.id`, batch)
	if err != nil {
		return err
	}
	ids := []int64{f.potOf(batch)}
	for _, b := range bars {
		ids = append(ids, b.ID)
	}
	made, err := f.made(ids...)
	if err != nil {
		return err
	}
	free := made[ids[0]].FreeAlkali().IsPositive()
	said := slices.Contains(j.stops(), "lye-heavy")
	for _, b := range bars {
		if !made[b.ID].FreeAlkali().IsPositive() {
			continue
		}
		if free = true; !said {
			j.add(Stop, "free-alkali-predicted", fmt.Sprintf("%s: %s. Do not release without a titration of these bars and a decision", b.Code, alkaliText(made[b.ID])))
		}
	}
	if err := judgeReworked(ctx, q, j, f, batch, made[ids[0]], free); err != nil {
		return err
	}
	return judgeScents(ctx, q, j, f, bars, made)
}

// judgeReworked names the soap that went into this one, through any depth, whose lye was wrong.
func judgeReworked(ctx context.Context, q querier, j *Judgement, f *family, batch int64, c made.Composition, free bool) error {
	for _, id := range f.reworked(batch) {
		b, err := readBatch(ctx, q, id)
		if err != nil {
			return err
		}
		lye, err := lyeOf(ctx, q, id)
		if err != nil {
			return err
		}
		was := fmt.Sprintf("soap of batch %s is in this one, and its superfat as weighed is %s %%", b.Code, Percent(lye.Superfat))
		switch {
		case lye.Known && !lye.Superfat.IsNegative():
		case !lye.Known && lye.AlkaliGrams.IsZero(): // only made over: the soap behind it is named itself
		case !lye.Known || free:
			j.add(Stop, "reworked-lye-heavy", was+"; do not release without a titration of these bars and a decision")
		default:
			j.add(Warn, "reworked-lye-heavy", fmt.Sprintf("%s; the oils of this one are predicted to have taken up its alkali: %s. Let the titration decide", was, alkaliText(c)))
		}
	}
	return nil
}

// judgeReworkInPot looks whether soap that is made over brings more alkali than the oils in the pot have left to take. It
// gives what the pot makes, or nothing when no soap is made over in it.
func judgeReworkInPot(ctx context.Context, q querier, j *Judgement, batch int64) (*made.Composition, error) {
	f, err := loadFamily(ctx, q, []int64{batch}, true)
	if err != nil || len(f.reworked(batch)) == 0 {
		return nil, err
	}
	pot := f.potOf(batch)
	all, err := f.made(pot)
	if err != nil {
		return nil, err
	}
	c := all[pot]
	if c.FreeAlkali().IsPositive() {
		j.add(Stop, "free-alkali-predicted", alkaliText(c)+". Do not combine; add oil, or strike the weighing of the soap that brings it")
	}
	return &c, nil
}

// reworked are the batches of soap behind a batch, oldest first.
func (f *family) reworked(batch int64) (list []int64) {
	for id := range f.soap {
		if id != batch {
			list = append(list, id)
		}
	}
	slices.Sort(list)
	return list
}

// alkaliText is the free alkali of a composition, and the oil that is left, in a few words.
func alkaliText(c made.Composition) string {
	if alkali := c.FreeAlkali(); alkali.IsPositive() {
		return fmt.Sprintf("%s %% of free alkali (as NaOH) is predicted in what was poured, reworked soap counted in, more than all the oils can take", alkali.Shift(2).RoundUp(2).StringFixed(2))
	}
	return fmt.Sprintf("no free alkali is predicted, and %s %% of unreacted oil", Percent(c.Share(made.FreeOil)))
}
