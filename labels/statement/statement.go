// Package statement writes the ingredient statement of a bar from the masses that truly went into its batch.
//
// It is a pure function over plain values: parts in, a statement with the reason for each place out. Premixes and
// reworked soap must have been seen through to their own ingredients before; parts that carry the same label name
// add up here.
//
// The United States order is the grouped form of 21 CFR 701.3(f) [from memory; its base rule 701.3(a) retrieved]. The
// European order is Article 19(1)(g) of Regulation (EC) No 1223/2009 [from memory]. Percentages only explain: order
// and thresholds are decided on unrounded masses. The statement informs; it does not certify that a label is legal.
package statement

import (
	"errors"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Style is the set of rules and names a statement follows. The zero value is no style.
type Style int

const (
	// US lists United States names in the three groups of 21 CFR 701.3(f) [from memory].
	US Style = iota + 1
	// EU lists INCI names after the word INGREDIENTS, as Article 19(1)(g) of Regulation (EC) No 1223/2009 asks
	// [heading retrieved; order from memory].
	EU
)

// String returns "US" or "EU".
func (s Style) String() string {
	switch s {
	case US:
		return "US"
	case EU:
		return "EU"
	}
	return fmt.Sprintf("Style(%d)", int(s))
}

// The words a scent collapses into. "Fragrance": 21 CFR 701.3(a) [retrieved]. "PARFUM": Article 19(1)(g) of Regulation
// (EC) No 1223/2009 [retrieved in a secondary text].
const (
	scentUS = "Fragrance"
	scentEU = "PARFUM"
)

// The lead-in of each style. The word INGREDIENTS is required by Article 19(1)(g) [retrieved]; 21 CFR 701.3 asks for
// no heading, ours tells the buyer what the list is.
const (
	leadUS = "Ingredients: "
	leadEU = "INGREDIENTS: "
)

// Part is one material as it went into the batch.
type Part struct {
	Material string          // name for people, unique per material; used in errors and explanations
	US, EU   string          // label names; for the EU a colour's name is its CI number where it has one
	Grams    decimal.Decimal // actual mass in the batch, as added, at or above zero; a part of zero grams is not listed
	Colour   bool            // added to colour the bar: listed after the others
	Scent    bool            // collapsed into "Fragrance" or "PARFUM"; its own label names are not used
	Leaves   bool            // a processing aid that leaves (spirit): neither listed nor counted in the total
	Within   bool            // already counted in another part, as an allergen in a scent: listed, but not added to the total
	Lots     []string        // lot codes it came from, for the explanation
}

// Line is one name of the statement and why it stands where it does.
type Line struct {
	Name      string
	Grams     decimal.Decimal // unrounded sum over the parts with this name
	Percent   decimal.Decimal // of the total, rounded to two places, half away from zero
	Materials []string        // sorted, each once
	Lots      []string        // sorted, each once
	Why       string          // one sentence for people: "1st by mass: 500 g of 1,435.8 g = 34.82 %"
}

// Statement is the finished list.
type Statement struct {
	Style      Style
	Lines      []Line          // in printed order
	TotalGrams decimal.Decimal // all that stays in the bar as added; Within parts are counted once, Leaves parts never
	Text       string          // exactly what is printed
}

// Compose orders the parts into the statement of the style. The result does not depend on the order of the parts.
// It fails, naming the material, when a mass is negative, a label name that would be printed is missing, a part is
// both colour and scent, or nothing is left to list.
func Compose(style Style, parts []Part) (Statement, error) {
	if style != US && style != EU {
		return Statement{}, fmt.Errorf("compose ingredient statement: unknown style %s; choose US or EU", style)
	}
	merged, total, err := merge(style, parts)
	if err != nil {
		return Statement{}, err
	}
	if len(merged) == 0 || !total.IsPositive() {
		return Statement{}, errors.New("compose ingredient statement: nothing to list: no part has a mass above zero and stays in the bar; weigh the batch first")
	}
	lines := arrange(style, merged, total)
	return Statement{Style: style, Lines: lines, TotalGrams: total, Text: text(style, lines)}, nil
}

// merge adds up the parts of each label name and the total that the percentages are taken from.
//
// Left out: what is taken away again during making, 21 CFR 701.3(l)(2)(i) [from memory] and Article 19(1)(g),
// subsidiary technical materials absent from the final product [retrieved].
func merge(style Style, parts []Part) (map[string]*entry, decimal.Decimal, error) {
	merged := map[string]*entry{}
	var total decimal.Decimal
	for _, p := range parts {
		if p.Grams.IsNegative() {
			return nil, total, fmt.Errorf("compose ingredient statement: material %q has a mass of %s g; a mass cannot be negative, correct its weighing", p.Material, p.Grams)
		}
		if p.Leaves || p.Grams.IsZero() {
			continue
		}
		name, err := labelName(style, p)
		if err != nil {
			return nil, total, err
		}
		if !p.Within {
			total = total.Add(p.Grams)
		}
		key := strings.ToLower(name)
		if merged[key] == nil {
			merged[key] = &entry{name: name, colour: true}
		}
		merged[key].add(name, p)
	}
	return merged, total, nil
}

// labelName is the name that a part is printed under, with runs of space made one.
func labelName(style Style, p Part) (string, error) {
	if p.Scent && p.Colour {
		return "", fmt.Errorf("compose ingredient statement: material %q is marked both colour and scent; keep the one it was added for", p.Material)
	}
	name, scent, kind := p.US, scentUS, "US label name"
	if style == EU {
		name, scent, kind = p.EU, scentEU, "EU label name (INCI)"
	}
	if p.Scent {
		return scent, nil
	}
	name = strings.Join(strings.Fields(name), " ")
	if name == "" {
		return "", fmt.Errorf("compose ingredient statement: material %q has no %s; add the name to the material", p.Material, kind)
	}
	return name, nil
}

// text joins the printed names after the lead-in.
func text(style Style, lines []Line) string {
	names := make([]string, len(lines))
	for i, l := range lines {
		names[i] = l.Name
	}
	lead := leadUS
	if style == EU {
		lead = leadEU
	}
	return lead + strings.Join(names, ", ")
}
