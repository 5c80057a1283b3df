package demo

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
	"ashbook/testdata/reference"
)

const smallHead = "zone: America/New_York\ntoday: 2026-11-20 17:00\nbatch: b\nlabel: l\nquestion: q\nfiles: [a.yaml]\n"

const smallStart = `- {at: 2026-11-01 08:00, by: ashbook, person.added: {as: olga, login: olga, name: Olga Example, role: owner, password: a-long-enough-one}}
- at: 2026-11-01 09:00
  by: olga
  supplier.added:
    - {as: oils, name: Invented Oils}
- {at: 2026-11-01 09:10, by: olga, material.defined: {as: water, name: Water, kind: water}}
`

func files(head, events string) fstest.MapFS {
	return fstest.MapFS{"scenario.yaml": {Data: []byte(head)}, "a.yaml": {Data: []byte(events)}}
}

const smallLot = "- {at: 2026-11-02 08:00, by: olga, lot.received: {as: w, material: water, supplier: oils, supplier_lot: W-1, mass: 5 kg}}\n"

// instead is the receipt of a lot with a part of it written otherwise; it stands on line 7.
func instead(part, otherwise string) string { return strings.Replace(smallLot, part, otherwise, 1) }

// What is wrong in the files is named with the file and the line, and nothing of it is guessed.
func TestScenarioIsStrict(t *testing.T) {
	const head = "- {at: 2026-11-02 08:00, by: olga, "
	for name, v := range map[string]struct{ events, want string }{
		"unknown kind":    {head + "lot.bought: {}}", `a.yaml:7: unknown field or kind of entry "lot.bought"`},
		"no such day":     {instead("2026-11-02", "2026-11-32"), `a.yaml:7: "2026-11-32 08:00" is not a time`},
		"after today":     {instead("2026-11-02", "2026-11-21"), "a.yaml:7: it is recorded before it happens, or after the scenario's today"},
		"recorded before": {instead("by:", "recorded: 2026-11-01 23:00, by:"), "a.yaml:7: it is recorded before it happens"},
		"no person":       {instead("by: olga, ", ""), "a.yaml:7: an event has at, by, and a kind of entry"},
		"two kinds":       {instead("by:", "lot.held: {}, by:"), "a.yaml:7: an event is of one kind"},
		"no list":         {"at: 2026-11-02 08:00", "a.yaml"},
	} {
		_, err := parse(files(smallHead, smallStart+v.events))
		require.ErrorContains(t, err, v.want, name)
	}
}

// None of these is recorded, so one database does for all.
func TestPlayIsStrict(t *testing.T) {
	const head = "- {at: 2026-11-02 08:00, by: olga, "
	url := ledgertest.NewDatabase(t, true).Service
	for name, v := range map[string]struct{ events, want string }{
		"unknown field":           {instead("mass:", "weight:"), `a.yaml:7: unknown field "weight"`},
		"unknown field below":     {"- at: 2026-11-02 08:00\n  by: olga\n  shop.set:\n    nme: X", `a.yaml:10: unknown field "nme"`},
		"unknown material":        {instead("material: water", "material: watr"), `a.yaml:7: there is no material named "watr" by then`},
		"a name of another sort":  {instead("supplier: oils", "supplier: water"), `a.yaml:7: there is no supplier named "water" by then`},
		"unknown person":          {instead("by: olga", "by: ines"), `a.yaml:7: there is no person named "ines" by then`},
		"named later":             {instead("2026-11-02 08:00", "2026-11-01 08:30"), `a.yaml:7: there is no material named "water" by then`},
		"no such best date":       {instead("mass:", "best_before: 2027-02-30, mass:"), `a.yaml:7: best_before: "2027-02-30" is not a date`},
		"a field twice":           {instead("mass:", "mass: 4 kg, mass:"), "a.yaml:7: mass is there twice"},
		"no unit":                 {instead("5 kg", "5"), `a.yaml:7: "5" is no mass`},
		"an alias":                {head + "supplier.added: {name: &x Y, note: *x}}", "a.yaml:7: anchors and aliases"},
		"a name in vain":          {head + "dispatch.sent: {channel: shop, lines: [{as: z, pieces: 1}]}}", `a.yaml:7: unknown field "as"`},
		"what the ledger refuses": {instead("supplier_lot: W-1, ", ""), "a.yaml:7: supplier_lot: give the supplier's lot number, or say that none was given"},
	} {
		_, err := load(t.Context(), url, files(smallHead, smallStart+v.events))
		require.ErrorContains(t, err, v.want, name)
	}
}

func TestNamesAreGivenOnce(t *testing.T) {
	_, err := load(t.Context(), ledgertest.NewDatabase(t, true).Service, files(smallHead, smallStart+smallLot+smallLot))
	require.ErrorContains(t, err, `a.yaml:8: the name "w" is given twice`)
}

func TestHeadIsStrict(t *testing.T) {
	for head, want := range map[string]string{
		smallHead + "colour: red\n": "scenario.yaml: yaml: unmarshal errors:\n  line 7: field colour not found",
		strings.Replace(smallHead, "America/New_York", "Nowhere/Quillmere", 1): "scenario.yaml: zone:",
		strings.Replace(smallHead, "17:00", "25:00", 1):                        "scenario.yaml: today:",
		strings.Replace(smallHead, "a.yaml", "b.yaml", 1):                      "b.yaml",
	} {
		_, err := parse(files(head, smallStart))
		require.ErrorContains(t, err, want)
	}
}

// A database that holds other records by the same keys is left alone.
func TestAnotherVersionIsRefused(t *testing.T) {
	url := ledgertest.NewDatabase(t, true).Service
	_, err := load(t.Context(), url, files(smallHead, smallStart))
	require.ErrorContains(t, err, `issues no label named "l"`)
	_, err = load(t.Context(), url, files(smallHead, strings.Replace(smallStart, "Invented Oils", "Other Oils", 1)))
	require.ErrorContains(t, err, "start with an empty one")
}

// asPublished: the names, numbers and ranges of real materials are those of the published tables in testdata/reference, whose sources stand
// in their own columns.
func asPublished(d loaded) {
	oils, others, sap := by("common_name", "inci-oils.csv"), by("common_name", "inci-others.csv"), by("oil", "chem-sap.csv")
	for name, sapRow := range map[string]string{"Olive oil": "olive (virgin, refined)", "Coconut oil": "coconut", "Castor oil": "castor",
		"Sunflower oil": "sunflower (regular, high-linoleic)", "Shea butter": "shea butter (unrefined)"} {
		m := d.material(name)
		inci, range_ := oils[strings.ToLower(name)], sap[sapRow]
		require.Equal(d, []string{inci["inci_oil_name"], inci["cas_oil"]}, []string{m.EUName, m.CAS}, name)
		require.Equal(d, []string{range_["sap_min"], range_["sap_max"]}, []string{m.SAPMin.String(), m.SAPMax.String()}, name)
	}
	for name, row := range map[string]string{"Lye (sodium hydroxide)": "sodium hydroxide (lye)", "Water": "water", "Lavender oil": "lavender oil",
		"Ultramarine blue": "ultramarine blue / violet / pink", "Titanium dioxide": "titanium dioxide", "Kaolin": "kaolin",
		"Sodium lactate 60 %": "sodium lactate", "Oat kernel flour": "oat kernel flour", "Hay meadow scent (invented)": "fragrance oil"} {
		m, r := d.material(name), others[row]
		require.Equal(d, []string{r["eu_label_name"], r["us_pcpc_name"], r["cas"]}, []string{m.EUName, m.USName, m.CAS}, name)
	}
}

// by gives the rows of a reference table by the words in one of its columns.
func by(column, name string) map[string]map[string]string {
	rows := map[string]map[string]string{}
	for _, row := range reference.Rows(name) {
		rows[row[column]] = row
	}
	return rows
}

// A shop's own records never get the demonstration among them.
func TestOwnRecordsAreLeftAlone(t *testing.T) {
	l, _, db := ledgertest.OpenDatabase(t)
	_, err := l.Record(t.Context(), ledger.System, ledger.Request{Body: &ledger.SupplierAdded{Name: "Somebody"}})
	require.NoError(t, err)
	_, err = Load(t.Context(), db.Service)
	require.ErrorContains(t, err, "records of its own")
	entries, err := l.Journal(t.Context(), ledger.JournalQuery{})
	require.NoError(t, err)
	require.Len(t, entries, 1)
}
