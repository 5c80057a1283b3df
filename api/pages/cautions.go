package pages

import (
	"strings"

	"ashbook/ledger/assay"
	"ashbook/ledger/lye"
)

// Caution is a warning that stands where the danger is. It says what is common knowledge of the trade and sends the
// reader to the safety data sheet, to local law and to the emergency services, which go before it.
type Caution struct {
	Title string
	Lines []string
}

// shownFirst is how many lines stand open; the rest unfolds, so that a caution does not push the work off the screen.
const shownFirst = 3

// First are the lines that are always seen.
func (c Caution) First() []string { return c.Lines[:min(shownFirst, len(c.Lines))] }

// Rest are the lines that unfold.
func (c Caution) Rest() []string { return c.Lines[min(shownFirst, len(c.Lines)):] }

// Cautions by the place where they are shown. Common practice, no source; the wording is our own.
var Cautions = map[string]Caution{
	"lye": {"Lye burns", lye.Handling()},
	"combine": {"Hot and caustic", []string{
		"Hot fat and fresh lye solution both burn. Keep goggles and gloves on; pour low and slowly; children and pets out.",
		"Blend with the blade under the surface. If it heats up or rises, step back and let it settle."}},
	"spirit": {"Spirit burns", []string{
		"No flame, no heat pad, no spark nearby, never a spray towards a flame. Air the room; the vapour is heavier than air.",
		"Let it dry off before you cover the mould or switch anything on. Children and pets out; the bottle closed and away from heat."}},
	"fresh": {"Fresh soap is still caustic", []string{
		"Treat it like lye for the first days: gloves on when you unmould and cut, crumbs off the bench, children and pets away from it."}},
	"test": {"A test is evidence, not a proof of safety", append(assay.Notes(),
		"Prefer a titration, or send a bar to a laboratory.",
		"Limits depend on the method and the place: say which method, and against which limit it passed.")},
	"titration": {"Solvents burn, and some salts poison", methodNotes()},
	"stock": {"Stock lye looks like water", []string{
		"Label the jug before you fill it: name, strength, date, hazard. Close it, lock it away, out of reach of children."}},
}

// methodNotes are what can go wrong with each method for soap, the dangers of its solvents and salts among it.
func methodNotes() []string {
	var lines []string
	for _, m := range assay.Methods() {
		if strings.HasPrefix(m.Standard, "ISO") && m.Method != assay.SaponificationMethod {
			lines = append(lines, m.Standard+". "+m.Note)
		}
	}
	return lines
}
