package pages

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var token = regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)

// palettes reads the colour tokens of the light and the dark scheme from the style sheet.
func palettes(t *testing.T) map[string]map[string]string {
	t.Helper()
	css, err := static.ReadFile("static/ashbook.css")
	require.NoError(t, err)
	light, rest, ok := strings.Cut(string(css), "@media (prefers-color-scheme: dark)")
	require.True(t, ok)
	dark, _, _ := strings.Cut(rest, "*, *::before")
	read := func(part string) map[string]string {
		m := map[string]string{}
		for _, found := range token.FindAllStringSubmatch(part, -1) {
			m[found[1]] = found[2]
		}
		return m
	}
	return map[string]map[string]string{"light": read(light), "dark": read(dark)}
}

// luminance is the relative luminance of WCAG 2.2 (definition of "relative luminance", W3C Recommendation).
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(colour[1:], 16, 32)
	require.NoError(t, err)
	channel := func(v uint64) float64 {
		c := float64(v&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(n>>16) + 0.7152*channel(n>>8) + 0.0722*channel(n)
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// The ends of the scale, and a pair that WCAG's own technique G18 gives, hold the arithmetic above to the standard.
func TestContrastArithmetic(t *testing.T) {
	require.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9)
	require.InDelta(t, 1, contrast(t, "#777777", "#777777"), 1e-9)
	require.InDelta(t, 4.48, contrast(t, "#777777", "#ffffff"), 0.005) // the grey that just fails AA, widely published
}

// WCAG 2.2, 1.4.3: text 4.5 to 1. 1.4.11: what is needed to see a field or its state 3 to 1.
func TestColoursReadInBothSchemes(t *testing.T) {
	text := [][2]string{{"ink", "paper"}, {"ink", "sheet"}, {"ink", "well"}, {"ink-soft", "paper"}, {"ink-soft", "sheet"}, {"ink-soft", "well"}, {"ink-soft", "clay-soft"},
		{"ink-soft", "leaf-soft"}, {"leaf", "paper"}, {"leaf", "sheet"}, {"leaf", "leaf-soft"}, {"on-leaf", "leaf"}, {"clay", "sheet"}, {"clay", "clay-soft"}, {"on-clay", "clay"},
		{"ink", "clay-soft"}, {"ink", "honey-soft"}, {"honey", "honey-soft"}, {"ink", "leaf-soft"}, {"on-display", "display"}, {"on-display-soft", "display"}}
	shape := [][2]string{{"line-strong", "sheet"}, {"line-strong", "paper"}, {"leaf", "sheet"}, {"clay", "sheet"}, {"focus", "sheet"}, {"focus", "paper"}}
	for scheme, p := range palettes(t) {
		for _, pair := range text {
			require.NotEmpty(t, p[pair[0]]+p[pair[1]], "%s: %v", scheme, pair)
			require.GreaterOrEqual(t, contrast(t, p[pair[0]], p[pair[1]]), 4.5, "%s: %s on %s", scheme, pair[0], pair[1])
		}
		for _, pair := range shape {
			require.GreaterOrEqual(t, contrast(t, p[pair[0]], p[pair[1]]), 3.0, "%s: %s on %s", scheme, pair[0], pair[1])
		}
	}
}
