package api

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/measure"
	"ashbook/ledger/soap"
)

func TestTheMaterialFormAsksWhatItsKindHas(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	for kind, fields := range map[string][2][]string{ // shown, and not
		"oil":       {{"sap_min", "no_glycerol", "free_acid", "density", "grams_per_drop"}, {"alkali", "acid_equivalent", "parts.0.share"}},
		"additive":  {{"acid_equivalent", "acid_share", "water_share", "density"}, {"sap_min", "free_acid", "alkali"}},
		"alkali":    {{"alkali", "density"}, {"sap_min", "no_glycerol", "grams_per_drop", "parts.0.share"}},
		"water":     {{"density", "density_at_c"}, {"sap_min", "alkali", "grams_per_drop"}},
		"packaging": {{"name"}, {"density", "grams_per_drop", "sap_min", "alkali"}},
		"prepared":  {{"parts.0.share", "density"}, {"sap_min", "alkali"}},
	} {
		_, values := p.open("/materials/new?kind=" + kind).form("define")
		require.Equal(t, kind, values.Get("kind"))
		for _, name := range fields[0] {
			require.Contains(t, p.on.html, `name="`+name+`"`, kind)
		}
		for _, name := range fields[1] {
			require.NotContains(t, p.on.html, `name="`+name+`"`, kind)
		}
	}
	p.open("/materials/new?kind=stone").says("What is it?", "Alkalis")
	sent := w.as(ledger.Maker).fill("/materials/new", url.Values{"name": {"Stone"}})
	require.Equal(t, http.StatusUnprocessableEntity, sent.status)
	require.Contains(t, sent.words(), "What is it?")
}

// A field that its kind does not ask for is shown where it holds something: sending the form must not empty it.
func TestDescribingAnewLosesNothing(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	drop := dec("0.05")
	density, at := dec("1.525"), dec("25")
	lye := w.record(&ledger.MaterialDefined{Name: "Lye, 50 %", Type: "alkali", Alkali: "NaOH", Density: &density, DensityAtC: &at, DropGrams: &drop}).Record.(*ledger.MaterialDefined)
	p := w.as(ledger.Maker).hand(t)
	p.open("/materials/"+itoa(lye.ID)+"/edit").send("define", "caution", "Lye burns").says("1.525 g/mL at 25 °C", "0.05 g", "Lye burns")
	m, err := w.l.Material(t.Context(), lye.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"1.525", "25", "0.05", "NaOH"}, []string{m.Density.String(), m.DensityAtC.String(), m.DropGrams.String(), m.Alkali})
}

func TestAnOilStartsFromWhatIsPublished(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	p.open("/materials/new?kind=oil").says("Start from published or usual values", "castor: 176 to 187 mg KOH/g", "castor oil: 0.959 g/mL at 25 °C")
	p.open("/materials/new?kind=oil&like=castor&usual=castor+oil").send("define", "name", "Castor")
	p.says("176 to 187 mg KOH/g", "British Pharmacopoeia 1993", "0.959 g/mL at 25 °C, 0.949 at 40 °C")
	// Every source fits into the field that keeps it, and a range from memory says so.
	for _, o := range soap.Published() {
		said := sourceOf(o)
		require.Less(t, len(said), 300, o.Name)
		require.Equal(t, !o.Retrieved, strings.Contains(said, "not seen in print"), o.Name)
	}
	p.open("/materials/new?kind=oil&like=jojoba+(liquid+wax)")
	require.Regexp(t, `name="no_glycerol" value="yes" checked`, p.on.html)
	require.NotRegexp(t, `name="free_acid" value="yes" checked`, p.on.html)
	p.open("/materials/new?kind=oil&like=stearic+acid+(commercial,+C16/C18+mix)").send("define", "name", "Stearic acid").says("with lye it forms water and no glycerol")
}

func TestWaterIsMeasuredByTheCupWithoutADensity(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Maker).hand(t)
	p.open("/materials/" + itoa(w.materials["Water"])).says("0.9982 g/mL at 20 °C, 0.992 at 40 °C")
	p.open("/lots/receive?material="+itoa(w.materials["Water"])).send("receive", "supplier", p.pick("Invented Oils"), "no_supplier_lot", "yes",
		"mass", "2", "unit", string(measure.Cup)).says("472.32 g")
}

func TestACertificateIsTypedShownAndPutRight(t *testing.T) {
	t.Parallel()
	w := newWorkshop(t)
	p := w.as(ledger.Owner).hand(t)
	receive := func(material, lot string, fields ...string) *hand {
		p.open("/lots/receive")
		return p.send("receive", append([]string{"material", digits(w.materials[material]), "supplier", p.pick("Invented Oils"), "supplier_lot", lot, "mass", "500"}, fields...)...)
	}
	receive("Olive oil", "OL-77", "sap_value", "191.2").says("191.2 ± 1 mg KOH/g", "the usual; none was given")
	require.NotContains(t, p.on.html, `name="purity"`, "an oil has no purity to put right")
	p.send("right", "sap_half", "0.5", "reason", "it stands on the certificate").says("191.2 ± 0.5 mg KOH/g")
	receive("Lye", "LY-77", "purity", "98.5", "purity_half", "0.25").says("98.5 % ± 0.25 %")
	require.NotContains(t, p.on.html, "the usual; none was given")
	receive("Scent of hay", "SC-77", "limit_share", "2.36", "limit_note", "IFRA category 9, invented").says("At most in the finished bar", "2.36 %", "IFRA category 9, invented")
	p.send("right", "limit_share", "2.4", "reason", "it stands on the certificate").says("2.4 %", "IFRA category 9, invented")
	tooMuch := p.try("right", "limit_share", "101", "reason", "a slip")
	require.Equal(t, http.StatusUnprocessableEntity, tooMuch.status)
	require.Regexp(t, `(?s)id="right-limit_share-fault">.*?belongs to a scent`, tooMuch.html)
	receive("Lye", "LY-78", "purity", "98.5", "purity_half", "0.25")
	wrong := p.try("right", "purity_half", "99", "reason", "a slip")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Regexp(t, `(?s)id="right-purity_half-fault">.*?may be off`, wrong.html)
	p.open("/lots/" + itoa(w.lots["WA-1"].ID))
	require.NotContains(t, p.on.html, `name="sap_value"`)
}
