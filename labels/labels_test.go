package labels_test

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"ashbook/labels"
	"ashbook/ledger"
	"ashbook/ledger/ledgertest"
)

func TestMain(m *testing.M) { ledgertest.Main(m) }

func bars(t *testing.T) *ledgertest.Bars {
	t.Helper()
	return ledgertest.MakeBars(t)
}

func TestLabelSaysWhatWasWeighed(t *testing.T) {
	t.Parallel()
	b := bars(t)
	b.Release()
	issued, err := labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Lot: b.Lot.ID, Copies: 12, Style: "EU"})
	require.NoError(t, err)
	text := read(t, issued.PDF)

	// Worked by hand from the weighings of ledgertest.MakeBars: olive 700 g, coconut 300 g, water and lye as planned,
	// 20 g of dispersion that holds 4 g of mica and 16 g of sunflower oil, 30 g of scent; the spirit leaves.
	// Order by mass at addition: Regulation (EC) No 1223/2009, Article 19(1)(g); the colour last.
	require.Contains(t, text, "INGREDIENTS: OLEA EUROPAEA FRUIT OIL, COCOS NUCIFERA OIL, AQUA, SODIUM HYDROXIDE, PARFUM, HELIANTHUS ANNUUS SEED OIL, CI 77019")
	require.NotContains(t, text, "ALCOHOL")
	require.Contains(t, text, "110 g") // the lightest bar of the last weighing: 110.2 g, rounded down
	require.Contains(t, text, b.Batch.Code)
	require.Contains(t, text, "Invented Soap Works")
	require.NotContains(t, text, "PROOF")

	us, err := labels.Prepare(t.Context(), b.Ledger, b.Lot.ID, "US")
	require.NoError(t, err)
	require.Equal(t, "NET WT 3.8 oz (110 g)", us.Net.Text) // 110.2 / 28.349523125 = 3.887…, down (16 CFR 500.19)
}

func TestUnreleasedBarsGetAProof(t *testing.T) {
	t.Parallel()
	b := bars(t)
	issued, err := labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Lot: b.Lot.ID})
	require.NoError(t, err)
	require.Contains(t, read(t, issued.PDF), "PROOF - NOT FOR SALE")
	require.True(t, issued.Receipt.Record.(*ledger.LabelIssued).Proof)
}

func TestKeptLabelIsDrawnAgainByteForByte(t *testing.T) {
	t.Parallel()
	b := bars(t)
	b.Release()
	issued, err := labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Lot: b.Lot.ID})
	require.NoError(t, err)
	kept, err := b.Ledger.Label(t.Context(), issued.Receipt.Record.(*ledger.LabelIssued).ID)
	require.NoError(t, err)
	pdf, err := b.Ledger.File(t.Context(), kept.Digest)
	require.NoError(t, err)
	require.Equal(t, issued.PDF, pdf)

	inputs, err := b.Ledger.File(t.Context(), kept.Inputs)
	require.NoError(t, err)
	var in labels.Inputs
	require.NoError(t, json.Unmarshal(inputs, &in))
	again, err := in.Draw()
	require.NoError(t, err)
	require.Equal(t, pdf, again)
	v, err := b.Ledger.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, v.Difference)
}

func TestSameKeyIssuesOnce(t *testing.T) {
	t.Parallel()
	b := bars(t)
	var wg sync.WaitGroup
	pdfs := make([][]byte, 6)
	for i := range pdfs {
		wg.Go(func() {
			issued, err := labels.Issue(context.Background(), b.Ledger, b.Owner, labels.Request{Key: "print-1", Lot: b.Lot.ID})
			if err == nil {
				pdfs[i] = issued.PDF
			}
		})
	}
	wg.Wait()
	for _, pdf := range pdfs {
		require.Equal(t, pdfs[0], pdf)
		require.NotEmpty(t, pdf)
	}
	issued, err := b.Ledger.Labels(t.Context(), b.Batch.ID)
	require.NoError(t, err)
	require.Len(t, issued, 1)
}

func TestLabelRefusals(t *testing.T) {
	t.Parallel()
	b := bars(t)
	_, err := labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Lot: b.Olive})
	require.ErrorContains(t, err, "no lot of bars")
	_, err = labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Lot: b.Lot.ID, Style: "XX"})
	require.ErrorContains(t, err, "neither US nor EU")
	_, err = labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Key: "k", Lot: b.Lot.ID})
	require.NoError(t, err)
	_, err = labels.Issue(t.Context(), b.Ledger, b.Owner, labels.Request{Key: "k", Lot: b.Olive})
	require.Equal(t, ledger.Conflict, ledger.FaultOf(err))
}

// read gives the text of a PDF in reading order, in one line.
func read(t *testing.T, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), hex.EncodeToString([]byte(t.Name()))[:8]+".pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.CommandContext(t.Context(), "pdftotext", "-raw", file, "-").Output()
	require.NoError(t, err, "pdftotext is missing; install poppler-utils")
	return strings.Join(strings.Fields(string(out)), " ")
}
