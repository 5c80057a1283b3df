package sheet

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// invented is a label of an invented shop, with a US ingredient statement (21 CFR 701.3) and the least heights for a
// 90 x 60 mm panel: 1/8 in for the net quantity, 1/16 in for the ingredients.
func invented() Label {
	return Label{
		Identity: "Handmade soap", Product: "Lavender & Oat", Net: "NET WT 4.2 oz (120 g)",
		Ingredients: "Ingredients: Olea Europaea (Olive) Fruit Oil, Cocos Nucifera (Coconut) Oil, Water, " +
			"Elaeis Guineensis (Palm) Oil, Sodium Hydroxide, Fragrance, Rosmarinus Officinalis (Rosemary) Leaf Extract, " +
			"Titanium Dioxide",
		Maker:     []string{"Hollow Ash Soapworks (invented)", "12 Sample Lane, Nowhere, OR 97000", "hello@hollowash.example"},
		BatchCode: "HA-26-0117", BestBefore: "05/2029",
		Cautions:      []string{"For external use. Avoid contact with the eyes; if soap gets in, rinse with water."},
		Origin:        "Made in Oregon, USA",
		Shop:          "Hollow Ash",
		DigitHeightMM: decimal.RequireFromString("3.175"), TextHeightMM: decimal.RequireFromString("1.5875"),
		Footer:  "Lavender & Oat, batch HA-26-0117, label digest 5f0c (invented)",
		Created: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC),
	}
}

// inventedEU is a second label, with the capitals and the length of a European ingredient list (Regulation (EC) No
// 1223/2009, Article 19(1)(g)) and letters of several languages.
func inventedEU() Label {
	l := invented()
	l.Product = "Savon de Łódź, crème brûlée"
	l.Net = "120 g"
	l.DigitHeightMM = decimal.NewFromInt(3)
	l.TextHeightMM = decimal.RequireFromString("1.2")
	l.Ingredients = "INGREDIENTS: OLEA EUROPAEA FRUIT OIL, AQUA, COCOS NUCIFERA OIL, HELIANTHUS ANNUUS SEED OIL, SODIUM HYDROXIDE, " +
		"BUTYROSPERMUM PARKII BUTTER, RICINUS COMMUNIS SEED OIL, PARFUM, KAOLIN, LAVANDULA OIL/EXTRACT, LINALOOL, LINALYL ACETATE, " +
		"LIMONENE, BETA-CARYOPHYLLENE, CI 77891"
	l.Maker = []string{"Mydlarnia Pusty Jesion (invented)", "ul. Próbna 12, 00-000 Łódź", "El niño – Straße, hőszín, žába, șarpe, dağ, İzmir, ħobż, þorn, l’œuf"}
	l.Origin = ""
	return l
}

// pdftotext reads a page back with poppler, spaces made one.
func pdftotext(t *testing.T, pdf []byte) string {
	cmd := exec.Command("pdftotext", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err, "pdftotext (poppler-utils) must be installed")
	return strings.Join(strings.Fields(string(out)), " ")
}

// A foreign reader finds every text whole, with all its letters.
func TestTextCanBeReadBack(t *testing.T) {
	for _, l := range []Label{invented(), inventedEU()} {
		pdf, err := Draw(l)
		require.NoError(t, err)
		text := pdftotext(t, pdf)
		for _, want := range append(append(l.Maker, l.Cautions...), l.Product, l.Identity, l.Net, l.Ingredients, l.Origin,
			"Batch "+l.BatchCode, "Best used before the end of "+l.BestBefore, l.Footer, disclaimer) {
			require.Contains(t, text, want)
		}
		require.NotContains(t, text, "PROOF")
	}
}

func TestProofIsMarked(t *testing.T) {
	l := invented()
	plain, err := Draw(l)
	require.NoError(t, err)
	l.Proof = true
	proof, err := Draw(l)
	require.NoError(t, err)
	text := pdftotext(t, proof)
	require.Contains(t, text, "PROOF - NOT FOR SALE")
	require.Contains(t, text, l.Ingredients, "the mark does not break up the label's own words")
	// The pale mark is ink on the front panel: more pixels are not white than without it.
	_, front, _, _ := DefaultBand.place()
	zone := box{front.x, front.y, front.x + front.w, front.y + front.h}
	require.Greater(t, count(render(t, proof, 150, zone), 250), count(render(t, plain, 150, zone), 250)*5/4)
}

// Both papers take the page at full size. A4 is 297 x 210 mm (ISO 216), Letter 11 x 8.5 in.
func TestPageFitsBothPapers(t *testing.T) {
	require.LessOrEqual(t, pageW, min(297, 11*25.4))
	require.LessOrEqual(t, pageH, min(210, 8.5*25.4))
	pdf, err := Draw(invented())
	require.NoError(t, err)
	cmd := exec.Command("pdfinfo", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err, "pdfinfo (poppler-utils) must be installed")
	require.Regexp(t, `Pages: +1\n`, string(out))
	require.Regexp(t, `Page size: +790\.87 x 595\.28 pts`, string(out))
}

// helperEnv makes a second process of this test binary print a label instead of testing.
const helperEnv = "SHEET_TEST_DRAW"

func TestMain(m *testing.M) {
	if os.Getenv(helperEnv) == "" {
		os.Exit(m.Run())
	}
	pdf, err := Draw(invented())
	if err != nil {
		os.Exit(1)
	}
	os.Stdout.Write(pdf)
}

// The same label gives the same bytes: fifty times at once, and in another process.
func TestSameBytes(t *testing.T) {
	want, err := Draw(invented())
	require.NoError(t, err)
	got := make([][]byte, 50)
	var all sync.WaitGroup
	for i := range got {
		all.Go(func() { got[i], _ = Draw(invented()) })
	}
	all.Wait()
	for _, g := range got {
		require.True(t, bytes.Equal(want, g), "another run gave other bytes")
	}
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), helperEnv+"=1", "TZ=Asia/Tokyo")
	other, err := cmd.Output()
	require.NoError(t, err)
	require.True(t, bytes.Equal(want, other), "another process gave other bytes")
	later := invented()
	later.Created = later.Created.Add(time.Second)
	changed, err := Draw(later)
	require.NoError(t, err)
	require.False(t, bytes.Equal(want, changed), "the date is in the bytes")
}

func TestTooLongSaysWhatToDo(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Label)
		text   string
		panel  string
		across bool
	}{
		"ingredients": {func(l *Label) { l.Ingredients += strings.Repeat(", Butyrospermum Parkii (Shea) Butter", 9) }, "ingredient statement", "back panel", false},
		"long word":   {func(l *Label) { l.Ingredients = "Ingredients: " + strings.Repeat("Oleo", 20) }, "ingredient statement", "back panel", true},
		"maker":       {func(l *Label) { l.Maker = append(l.Maker, strings.Fields(strings.Repeat("line ", 20))...) }, "maker's name and address", "back panel", false},
		"net":         {func(l *Label) { l.Net = strings.Repeat("NET WT 4.2 oz ", 9) }, "net quantity", "lowest 30 % of the front panel", false},
		"net height":  {func(l *Label) { l.DigitHeightMM = decimal.RequireFromString("12.7") }, "net quantity", "lowest 30 % of the front panel", false},
		"name":        {func(l *Label) { l.Product = strings.Repeat("Lavender ", 20) }, "product name", "front panel", false},
		"name wide":   {func(l *Label) { l.Product = strings.Repeat("Lavender", 6) }, "product name", "front panel", true},
		"identity":    {func(l *Label) { l.Identity = strings.Repeat("soap made by hand ", 12) }, "identity", "front panel", false},
		"shop":        {func(l *Label) { l.Shop = strings.Repeat("Hollow Ash ", 9) }, "shop name", "front panel", true},
		"code":        {func(l *Label) { l.BatchCode = strings.Repeat("HA26", 12) }, "batch code", "second side", true},
		"footer":      {func(l *Label) { l.Footer = strings.Repeat("product and digest ", 40) }, "footer", "strip under the band", false},
		"date":        {func(l *Label) { l.BestBefore = strings.Repeat("May 2029 ", 20) }, "batch code and best-before date", "second side", false},
	} {
		t.Run(name, func(t *testing.T) {
			l := invented()
			c.change(&l)
			_, err := Draw(l)
			var long *TooLongError
			require.True(t, errors.As(err, &long), "%v", err)
			require.Equal(t, c.text, long.Text)
			require.Equal(t, c.panel, long.Panel)
			require.Equal(t, c.across, long.Across)
			require.GreaterOrEqual(t, long.OverMM, 0.1)
			require.ErrorContains(t, err, "shorten it")
		})
	}
}

func TestRefusesWhatCannotBePrinted(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Label)
		want   string
	}{
		"control":        {func(l *Label) { l.Product = "Oat\x07meal" }, "the product name holds the control or invisible character U+0007 at byte 3"},
		"new line":       {func(l *Label) { l.Maker[1] = "a\nb" }, "maker's name and address holds the control"},
		"turned text":    {func(l *Label) { l.Ingredients = "Water \u202eliO" }, "ingredient statement holds the control or invisible character U+202E"},
		"zero width":     {func(l *Label) { l.BatchCode = "HA\u200b1" }, "batch code"},
		"broken bytes":   {func(l *Label) { l.Net = "120 g\xff" }, "net quantity"},
		"no such glyph":  {func(l *Label) { l.Cautions[0] = "肥皂" }, "typefaces cannot draw"},
		"past the plane": {func(l *Label) { l.Shop = "Ash 🌿" }, "shop name holds '🌿'"},
		"no name":        {func(l *Label) { l.Product = " " }, "the product name is empty"},
		"no maker":       {func(l *Label) { l.Maker = nil }, "maker's name and address is empty"},
		"no date":        {func(l *Label) { l.Created = time.Time{} }, "no date of creation"},
		"height":         {func(l *Label) { l.TextHeightMM = decimal.NewFromInt(-1) }, "negative"},
		"tiny band":      {func(l *Label) { l.Band = Band{FrontW: 20, FrontH: 20, Side: 10, Flap: 5} }, "too small"},
		"long band":      {func(l *Label) { l.Band = Band{FrontW: 120, FrontH: 60, Side: 25, Flap: 12} }, "too long for A4"},
		"tall band":      {func(l *Label) { l.Band = Band{FrontW: 90, FrontH: 150, Side: 25, Flap: 12} }, "too tall for A4"},
	} {
		t.Run(name, func(t *testing.T) {
			l := invented()
			c.change(&l)
			_, err := Draw(l)
			require.ErrorContains(t, err, c.want)
		})
	}
}

// An accent typed as a character of its own prints as the letter it belongs to.
func TestAccentsAreComposed(t *testing.T) {
	l := invented()
	l.Product = "Cre\u0300me"
	pdf, err := Draw(l)
	require.NoError(t, err)
	require.Contains(t, pdftotext(t, pdf), "Cr\u00e8me")
}

// 90 x 60 mm is 8.37 sq in, so 21 CFR 701.13(i) asks for 1/8 in.
func TestFrontArea(t *testing.T) {
	require.Equal(t, "8.371", DefaultBand.FrontAreaSqIn().String())
}

// At the least height of United States law (1/16 inch) a long statement leaves no room for the maker on the back.
func TestMakerMovesToTheSideWhenTheBackIsFull(t *testing.T) {
	l := invented()
	l.Maker, l.Origin = []string{"Hollow Ash (invented)", "12 Sample Lane, Nowhere", "hello@hollowash.example"}, ""
	l.Ingredients = "Ingredients: Olea Europaea (Olive) Fruit Oil, Cocos Nucifera (Coconut) Oil, Water, Elaeis Guineensis (Palm) Oil, Sodium Hydroxide, " +
		"Butyrospermum Parkii (Shea) Butter, Theobroma Cacao (Cocoa) Seed Butter, Fragrance, Helianthus Annuus (Sunflower) Seed Oil, " +
		"Sodium Lactate, Kaolin, Rosmarinus Officinalis (Rosemary) Leaf Extract, Mica, Titanium Dioxide"
	set, err := loadFaces()
	require.NoError(t, err)
	l, err = check(l, set)
	require.NoError(t, err)
	laid, err := layOut(l, set)
	require.NoError(t, err)
	where := map[string]string{}
	for _, p := range laid.panels {
		for _, b := range p.blocks {
			where[b.name] = p.name
		}
	}
	require.Equal(t, laid.panels[0].name, where["maker's name and address"])
	require.Equal(t, laid.panels[3].name, where["ingredient statement"])
}
