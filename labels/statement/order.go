package statement

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// entry gathers the parts of one label name.
type entry struct {
	name            string
	grams           decimal.Decimal
	colour          bool // every part of this name was added as a colour
	materials, lots []string
}

// add takes a part into the entry. Of two spellings that differ in case only, the first in byte order is printed, so
// that the order of the parts does not matter. A name that is also there for another purpose than colour loses
// the freedom of colours and is ordered by mass, which is lawful in every case.
func (e *entry) add(name string, p Part) {
	e.name = min(e.name, name)
	e.grams = e.grams.Add(p.Grams)
	e.colour = e.colour && p.Colour
	e.materials = insert(e.materials, p.Material)
	for _, lot := range p.Lots {
		e.lots = insert(e.lots, lot)
	}
}

// insert keeps a sorted list of strings, each once.
func insert(list []string, s string) []string {
	i, found := slices.BinarySearch(list, s)
	if found {
		return list
	}
	return slices.Insert(list, i, s)
}

// group is the place of a name in the statement.
type group int

const (
	ordered group = iota // by mass
	free                 // small amounts, lawful in any order
	colours              // after all others, lawful in any order
)

// groupOf applies the two thresholds, on unrounded masses.
//
// US: "not more than 1 percent" is free, so exactly 1 % is free: 21 CFR 701.3(f)(2) [from memory]; colours after the
// others whatever their amount: 701.3(f)(3) [from memory].
//
// EU: "less than 1 %" is free, so exactly 1 % stays ordered; colours in any order after the others: Article 19(1)(g) of
// Regulation (EC) No 1223/2009 [from memory].
func groupOf(style Style, e *entry, total decimal.Decimal) group {
	if e.colour {
		return colours
	}
	against := e.grams.Mul(hundred).Cmp(total)
	if against < 0 || (against == 0 && style == US) {
		return free
	}
	return ordered
}

var hundred = decimal.NewFromInt(100)

// arrange puts the entries in printed order: by group, then by descending mass, equal masses by name. Within the free
// groups any order is lawful; mass order is as good as any and reads well.
func arrange(style Style, merged map[string]*entry, total decimal.Decimal) []Line {
	entries := make([]*entry, 0, len(merged))
	for _, e := range merged {
		entries = append(entries, e)
	}
	slices.SortFunc(entries, func(a, b *entry) int {
		return cmp.Or(
			cmp.Compare(groupOf(style, a, total), groupOf(style, b, total)),
			b.grams.Cmp(a.grams),
			cmp.Compare(strings.ToLower(a.name), strings.ToLower(b.name)),
		)
	})
	lines := make([]Line, len(entries))
	for i, e := range entries {
		tie := (i > 0 && entries[i-1].grams.Equal(e.grams)) || (i+1 < len(entries) && entries[i+1].grams.Equal(e.grams))
		lines[i] = line(style, e, i+1, tie, total)
	}
	return lines
}

// line makes the printed line of an entry that stands at a place, counted from 1.
func line(style Style, e *entry, place int, tie bool, total decimal.Decimal) Line {
	percent := e.grams.Mul(hundred).DivRound(total, 2)
	sum := fmt.Sprintf("%s g of %s g = %s %%", figure(e.grams), figure(total), percent.StringFixed(2))
	return Line{
		Name: e.name, Grams: e.grams, Percent: percent, Materials: e.materials, Lots: e.lots,
		Why: why(style, groupOf(style, e, total), place, tie, sum),
	}
}

// why says in words which rule put a line where it is.
func why(style Style, g group, place int, tie bool, sum string) string {
	switch {
	case g == colours:
		return "colour: listed last; " + sum
	case g == free && style == US:
		return "at or under 1 %: free order; " + sum
	case g == free:
		return "under 1 %: free order; " + sum
	case tie:
		return ordinal(place) + " by mass: " + sum + "; equal masses by name"
	}
	return ordinal(place) + " by mass: " + sum
}

// ordinal writes 1st, 2nd, 3rd, 4th ... 11th, 12th, 13th ... 21st.
func ordinal(n int) string {
	suffix := "th"
	if n%100/10 != 1 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprintf("%d%s", n, suffix)
}

// figure writes a mass in full, with a comma at each thousand.
func figure(d decimal.Decimal) string {
	whole, fraction, cut := strings.Cut(d.String(), ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if cut {
		return whole + "." + fraction
	}
	return whole
}
