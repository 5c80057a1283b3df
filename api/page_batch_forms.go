package api

import (
	"slices"

	"ashbook/api/pages"
	"ashbook/ledger"
)

func actionOf(b ledger.Batch, act string) string { return "/batches/" + digits(b.ID) + "/" + act }

func stepForm(b ledger.Batch, step, button string) *pages.Form {
	return pages.NewForm("step", actionOf(b, "step"), button, pages.In(pages.Hidden, "step", "", "").Is(step),
		pages.In(pages.Text, "note", "Note", "")).WithTime()
}

func eventForm(b ledger.Batch) *pages.Form {
	return pages.NewForm("event", actionOf(b, "event"), "Mark it",
		pages.In(pages.Choice, "step", "What happened?", "").Must().Of(
			pages.Option{Value: ledger.StepTrace, Label: "Trace"}, pages.Option{Value: ledger.StepSpray, Label: "Sprayed"},
			pages.Option{Value: ledger.StepInsulate, Label: "Insulated"}, pages.Option{Value: ledger.StepNote, Label: "A note"}),
		pages.In(pages.Area, "note", "Note", "How it looked: thin, thick, false trace, warm, cracked.")).WithTime()
}

// readings of a whole batch, in the order in which they come up.
var batchReadings = []string{ledger.OilTemperature, ledger.LyeTemperature, ledger.PotGross, ledger.RoomTemperature, ledger.RoomHumidity}

// readingUnits are all units of those readings.
func readingUnits() []pages.Option {
	labels := map[string]string{"C": "°C", "F": "°F", "%": "% humidity"}
	var list []pages.Option
	seen := map[string]bool{}
	for _, kind := range batchReadings {
		for _, u := range ledger.ReadingKinds[kind] {
			if seen[u] {
				continue
			}
			seen[u] = true
			label := labels[u]
			if label == "" {
				label = u
			}
			list = append(list, pages.Option{Value: u, Label: label})
		}
	}
	return list
}

func readingForm(b ledger.Batch, kind string) *pages.Form {
	what := pages.In(pages.Select, "type", "What was read?", "").Must().Is(kind).Of(pages.Same(batchReadings...)...)
	button := "Record the reading"
	if kind != "" {
		what = pages.In(pages.Hidden, "type", "", "").Is(kind)
		button = "Record the " + kind
	}
	id := "reading"
	label := "As read"
	units := readingUnits()
	if kind != "" {
		id, label, units = "reading-now", "The "+kind+", as read", units[:2]
	}
	return pages.NewForm(id, actionOf(b, "reading"), button, what,
		pages.In(pages.Decimal, "typed", label, "").Must().Large(),
		pages.In(pages.Select, "unit", "Unit", "").Is(b.TempUnit).Of(units...),
		pages.In(pages.Text, "instrument", "Thermometer or scale", "")).WithTime()
}

func barForm(b ledger.Batch, lots []ledger.Lot, marks string) *pages.Form {
	return pages.NewForm("bar", actionOf(b, "bar"), "Record the mass of the bar",
		lotChoice(lots), pages.In(pages.Hidden, "type", "", "").Is(ledger.BarMass),
		pages.In(pages.Text, "sample", "Which bar", marks).Must(),
		pages.In(pages.Decimal, "typed", "Mass of the bar", "").Must().Large(),
		pages.In(pages.Select, "unit", "Unit", "").Is("g").Of(pages.Same(ledger.ReadingKinds[ledger.BarMass]...)...),
		pages.In(pages.Text, "instrument", "Scale", "")).WithTime()
}

// lotChoice asks for one of the lots; with only one there is nothing to ask.
func lotChoice(lots []ledger.Lot) pages.Field {
	f := pages.In(pages.Choice, "lot", "Which bars?", "").Must()
	for _, l := range lots {
		f.Options = append(f.Options, pages.Option{Value: digits(l.ID), Label: l.Code, Note: l.Portion})
	}
	if len(lots) == 1 {
		f.Kind, f.Value = pages.Hidden, digits(lots[0].ID)
	}
	return f
}

func splitForm(b ledger.Batch, portions []ledger.BatchPortion) *pages.Form {
	f := pages.NewForm("split", actionOf(b, "split"), "Record the portions",
		pages.In(pages.Decimal, "batter_density", "Batter, g/mL", "Only for cups: fill one, weigh the batter in it, divide by 236.6.")).WithTime()
	f.AddTable(&pages.Table{Name: "portions", Legend: "Mass of each portion"}, len(portions), func(i int) []pages.Field {
		return []pages.Field{pages.In(pages.Hidden, "name", "", "").Is(portions[i].Name),
			pages.In(pages.Decimal, "mass", portions[i].Name, "").Must().Large(), unitField("unit", scoopUnits())}
	})
	return f
}

func cutForm(b ledger.Batch, portions []ledger.BatchPortion) *pages.Form {
	f := pages.NewForm("cut", actionOf(b, "cut"), "Record what it gave",
		pages.In(pages.Date, "best_before", "Best before, for the bars", "It is printed on the label. Empty: none."),
		pages.In(pages.Decimal, "remnants", "Trimmings, all of them", "Kept to be made over. Empty: none."), unitField("remnants_unit", massUnits()),
		pages.In(pages.Decimal, "waste", "Left in the pot or thrown away", "Empty: nothing."), unitField("waste_unit", massUnits())).WithTime()
	which := pages.OrNone("all of it", portionOptions(portions))
	f.AddTable(&pages.Table{Name: "outputs", Legend: "Bars", Hint: "One row for each lot of bars that is sold apart."}, max(1, len(portions)), func(i int) []pages.Field {
		row := []pages.Field{pages.In(pages.Count, "pieces", "Bars", "").Large(), pages.In(pages.Decimal, "mass", "All of them on the scale", "").Large(),
			unitField("unit", massUnits())}
		if len(portions) > 0 {
			row = slices.Insert(row, 0, pages.In(pages.Select, "portion", "Portion", "").Of(which...))
		}
		return row
	})
	return f
}

func portionOptions(portions []ledger.BatchPortion) []pages.Option {
	var list []pages.Option
	for _, p := range portions {
		list = append(list, pages.Option{Value: p.Name, Label: p.Name})
	}
	return list
}

func fillForm(b ledger.Batch) *pages.Form {
	return pages.NewForm("fill", actionOf(b, "fill"), "It is filled",
		pages.In(pages.Decimal, "mass", "All of it on the scale", "").Must().Large(), unitField("unit", massUnits()),
		pages.In(pages.Date, "best_before", "Best before", "Empty: the earliest date of what went in."),
		pages.In(pages.Decimal, "waste", "Left in the vessel or thrown away", "Empty: nothing."), unitField("waste_unit", massUnits())).WithTime()
}

func deviationForm(b ledger.Batch) *pages.Form {
	return pages.NewForm("deviation", actionOf(b, "deviation"), "Open a deviation", pages.In(pages.Area, "what", "What was not as it should be?", "").Must()).WithTime()
}

func decideForm(d ledger.Deviation) *pages.Form {
	return pages.NewForm("decide-"+digits(d.ID), "/batches/"+digits(d.Batch)+"/decide/"+digits(d.ID), "Close the deviation",
		pages.In(pages.Area, "decision", "What was found and done, and why the batch may go on or not", "").Must())
}

func releaseForm(b ledger.Batch) *pages.Form {
	return pages.NewForm("release", actionOf(b, "release"), "Record the decision",
		pages.In(pages.Choice, "decision", "May the bars be sold?", "").Must().Of(
			pages.Option{Value: ledger.Released, Label: "Released", Note: "they may be sold"}, pages.Option{Value: ledger.Rejected, Label: "Rejected", Note: "they may not"}),
		pages.In(pages.Area, "statement", "What did you look at?", "In your words: weights, cure, tests, look and smell.").Must()).WithTime()
}
