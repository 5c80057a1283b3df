package api

import (
	"bytes"
	"fmt"
	"html"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// hand is a person who works through the pages alone, without a script: forms are taken from the page as drawn, filled
// in, and sent.
type hand struct {
	*visitor
	t  *testing.T
	at string // the page where one is
	on sheet
}

func (v *visitor) hand(t *testing.T) *hand { return &hand{visitor: v, t: t} }

// open goes to a page.
func (h *hand) open(path string) *hand {
	h.t.Helper()
	h.at, h.on = path, h.see(path)
	require.Equal(h.t, http.StatusOK, h.on.status, "%s: %s", path, h.on.words())
	return h
}

var (
	formOf     = regexp.MustCompile(`(?s)<form class="form" id="([^"]+)" method="post" action="([^"]+)"[^>]*>(.*?)</form>`)
	inputOf    = regexp.MustCompile(`<input[^>]*>`)
	areaOf     = regexp.MustCompile(`(?s)<textarea[^>]* name="([^"]+)"[^>]*>(.*?)</textarea>`)
	selectOf   = regexp.MustCompile(`(?s)<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>`)
	optionOf   = regexp.MustCompile(`<option value="([^"]*)"( selected)?>`)
	attributes = regexp.MustCompile(`(name|value|type)="([^"]*)"`)
)

// form gives the action of a form on the page and what it would send as it stands.
func (h *hand) form(id string) (string, url.Values) {
	h.t.Helper()
	for _, m := range formOf.FindAllStringSubmatch(h.on.html, -1) {
		if m[1] == id {
			return html.UnescapeString(m[2]), standing(m[3])
		}
	}
	require.Fail(h.t, "no form", "%s has no form %q:\n%s", h.at, id, h.on.words())
	return "", nil
}

func standing(inside string) url.Values {
	v := url.Values{}
	for _, in := range inputOf.FindAllString(inside, -1) {
		a := map[string]string{}
		for _, m := range attributes.FindAllStringSubmatch(in, -1) {
			a[m[1]] = html.UnescapeString(m[2])
		}
		box := a["type"] == "checkbox" || a["type"] == "radio"
		if !box || strings.Contains(in, " checked") {
			v.Set(a["name"], a["value"])
		}
	}
	for _, m := range areaOf.FindAllStringSubmatch(inside, -1) {
		v.Set(m[1], html.UnescapeString(m[2]))
	}
	for _, m := range selectOf.FindAllStringSubmatch(inside, -1) {
		for i, o := range optionOf.FindAllStringSubmatch(m[2], -1) {
			if i == 0 || o[2] != "" {
				v.Set(m[1], html.UnescapeString(o[1]))
			}
		}
	}
	return v
}

// try fills in a form of the page and sends it. Fields are pairs of name and value.
func (h *hand) try(id string, fields ...string) sheet {
	h.t.Helper()
	action, values := h.form(id)
	for i := 0; i < len(fields); i += 2 {
		_, there := values[fields[i]]
		require.True(h.t, there || strings.Contains(h.on.html, `name="`+fields[i]+`"`), "the form %s has no field %q", id, fields[i])
		values.Set(fields[i], fields[i+1])
	}
	return h.fill(action, values)
}

// send is try for a form that is taken; it goes on to where the answer leads.
func (h *hand) send(id string, fields ...string) *hand {
	h.t.Helper()
	r := h.try(id, fields...)
	require.Equal(h.t, http.StatusSeeOther, r.status, "%s at %s: %s", id, h.at, r.words())
	h.open(strings.SplitN(r.to, "#", 2)[0])
	return h
}

// pick gives the value of the option or the radio button that a text stands beside.
func (h *hand) pick(text string) string {
	h.t.Helper()
	for _, shape := range []string{`<option value="([^"]*)"[^>]*>%s`, `<input type="radio"[^>]*value="([^"]*)"[^>]*> <span class="choice-text"><span>%s`} {
		if m := regexp.MustCompile(fmt.Sprintf(shape, regexp.QuoteMeta(html.EscapeString(text)))).FindStringSubmatch(h.on.html); m != nil {
			return m[1]
		}
	}
	require.Fail(h.t, "no option", "%s offers no %q", h.at, text)
	return ""
}

func (h *hand) says(words ...string) *hand {
	h.t.Helper()
	for _, w := range words {
		require.Contains(h.t, h.on.words(), w)
	}
	return h
}

// upload sends a form with a file.
func (h *hand) upload(id, field string, content []byte, fields ...string) {
	h.t.Helper()
	action, values := h.form(id)
	for i := 0; i < len(fields); i += 2 {
		values.Set(fields[i], fields[i+1])
	}
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, v := range values {
		if name != field {
			require.NoError(h.t, m.WriteField(name, v[0]))
		}
	}
	part, err := m.CreateFormFile(field, "paper.txt")
	require.NoError(h.t, err)
	_, err = part.Write(content)
	require.NoError(h.t, err)
	require.NoError(h.t, m.Close())
	req, err := http.NewRequestWithContext(h.t.Context(), http.MethodPost, h.h.url+action, &b)
	require.NoError(h.t, err)
	req.Header.Set("Content-Type", m.FormDataContentType())
	res := h.read(h.http.Do(req))
	require.Equal(h.t, http.StatusSeeOther, res.status, res.words())
	h.open(res.to)
}
