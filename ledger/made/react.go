package made

import (
	"ashbook/ledger/soap"
	"ashbook/ledger/trace"

	"github.com/shopspring/decimal"
)

// form is what a bought lot, or a part of it, has become.
type form uint8

// What follows without more facts, the glycerol set free and the water that formed, has no form: composition works it out.
const (
	raw       form = iota // grams of an oil, of pure acid, or of what never reacts
	wet                   // grams of water
	rest                  // grams of what an alkali holds besides hydroxide
	hydroxide             // mol
	soapSalt              // mol of an oil's fatty acid bound to an alkali
	acidSalt              // mol of an acid bound to an alkali
	fattyAcid             // mol of an oil's fatty acid that an acid took out of its soap
)

// alkalis are numbered by their place here; metal is in the same order.
var alkalis = [...]string{soap.NaOH, soap.KOH}

// substance is a form of a lot; of hydroxide and salts, with one alkali, by its number.
type substance struct {
	form   form
	alkali uint8
	lot    trace.ID
}

// pool is how much there is of each substance per gram. An amount that rounds to zero is kept, so that what is there is
// listed; what has reacted away is not.
type pool map[substance]fixed

// bought is a gram of a bought lot.
func (m *maker) bought(lot trace.ID) (pool, error) {
	i, err := m.learn(lot)
	if err != nil {
		return nil, err
	}
	p := pool{}
	put := func(s substance, amount fixed) {
		if s.lot = lot; amount > 0 {
			p[s] = amount
		}
	}
	switch i.Kind {
	case Alkali:
		s := substance{form: hydroxide}
		if i.Alkali == soap.KOH {
			s.alkali = 1
		}
		put(s, times(fix(i.Purity), i.moles, unit))
		put(substance{form: rest}, unit-fix(i.Purity))
	case Acid:
		put(substance{form: raw}, fix(i.Purity))
		put(substance{form: wet}, unit-fix(i.Purity))
	case Water:
		put(substance{form: wet}, unit)
	default:
		put(substance{form: raw}, unit-fix(i.Water))
		put(substance{form: wet}, fix(i.Water))
	}
	return p, nil
}

// mix adds up what went into a batch or a portion, and lets it react if the batch makes soap.
func (m *maker) mix(batch trace.ID, _ string, in []trace.In[pool]) (pool, error) {
	total, most := decimal.Zero, 0
	for _, i := range in {
		total = total.Add(i.Grams)
		most += len(i.Value)
	}
	p := make(pool, most)
	for _, i := range in {
		share := fix(i.Grams.DivRound(total, fixedPlaces))
		for s, amount := range i.Value {
			p[s] += times(share, amount, unit)
		}
	}
	if m.facts.Soap[batch] {
		m.react(p)
	}
	return p, nil
}

// react takes a pool to completion: acids first, then fatty acids, then neutral oils and waxes.
func (m *maker) react(p pool) {
	acids, fatty, neutral := m.takers(p)
	free := p.supply(hydroxide)
	left := free.total - p.take(acids, free)
	if left == 0 {
		m.split(p)
	}
	left -= p.take(fatty, free.of(left))
	left -= p.take(neutral, free.of(left))
	p.draw(hydroxide, free.total, left)
}

// split lets acid that found no hydroxide take alkali out of soap.
func (m *maker) split(p pool) {
	acids, _, _ := m.takers(p)
	soaps := p.supply(soapSalt)
	taken := p.take(acids, soaps)
	if taken == 0 {
		return
	}
	for s, moles := range p {
		if s.form != soapSalt {
			continue
		}
		freed := times(moles, taken, soaps.total)
		if oil := m.known[s.lot]; oil.FreeAcid {
			p[substance{form: raw, lot: s.lot}] += oil.mass.of(freed)
		} else {
			p[substance{form: fattyAcid, lot: s.lot}] += freed
		}
	}
	p.draw(soapSalt, soaps.total, soaps.total-taken)
}

// taker is a substance that takes up alkali and becomes a salt.
type taker struct {
	from  substance
	into  form
	moles fixed
}

// takers lists what takes up alkali, in the order in which it does.
func (m *maker) takers(p pool) (acids, fatty, neutral []taker) {
	for s, amount := range p {
		if s.form == fattyAcid {
			fatty = append(fatty, taker{s, soapSalt, amount})
		}
		if s.form != raw {
			continue
		}
		known := m.known[s.lot]
		moles := times(amount, known.moles, unit)
		switch {
		case known.Kind == Acid:
			acids = append(acids, taker{s, acidSalt, moles})
		case known.Kind == Oil && known.FreeAcid:
			fatty = append(fatty, taker{s, soapSalt, moles})
		case known.Kind == Oil:
			neutral = append(neutral, taker{s, soapSalt, moles})
		}
	}
	return acids, fatty, neutral
}

// supply is the mol of alkali there are to take, and the share of each alkali in them.
type supply struct {
	total  fixed
	shares [len(alkalis)]fixed
}

// of returns a supply of the same alkalis, as much as is left of it.
func (s supply) of(left fixed) supply { return supply{left, s.shares} }

// supply adds up the alkali that is in one form.
func (p pool) supply(from form) (s supply) {
	for at, moles := range p {
		if at.form == from {
			s.shares[at.alkali] += moles
			s.total += moles
		}
	}
	if s.total > 0 {
		s.shares[0] = times(s.shares[0], unit, s.total)
		s.shares[1] = unit - s.shares[0]
	}
	return s
}

// take turns takers into salts, each in the same proportion, as far as the supply goes, and returns the mol taken: all of the
// supply if no more than dust would stay. The caller takes them from where they were.
func (p pool) take(takers []taker, from supply) fixed {
	want := fixed(0)
	for _, t := range takers {
		want += t.moles
	}
	if want == 0 || from.total == 0 {
		return 0
	}
	all := from.total > want-dust
	for _, t := range takers {
		reacted := t.moles
		if all {
			delete(p, t.from)
		} else {
			reacted = times(reacted, from.total, want)
			p[t.from] = times(p[t.from], want-from.total, want)
		}
		first := times(reacted, from.shares[0], unit)
		for i, moles := range [...]fixed{first, reacted - first} {
			if from.shares[i] > 0 {
				p[substance{t.into, uint8(i), t.from.lot}] += moles
			}
		}
	}
	if all && from.total > want+dust {
		return want
	}
	return from.total
}

// draw leaves of one form, of which there was a total, only what is left, the same share of each substance.
func (p pool) draw(from form, total, left fixed) {
	for s, amount := range p {
		switch {
		case s.form != from || left == total:
		case left == 0:
			delete(p, s)
		default:
			p[s] = times(amount, left, total)
		}
	}
}
