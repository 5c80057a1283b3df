package pages

import (
	"bytes"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"ashbook/ledger"
)

// weighFields are the fields that the bench lays out by hand.
var weighFields = []string{"line", "lot", "mass", "unit", "second_check", "checked_by", "lot_code", "partial", "scale", "portion", "pieces"}

// fullForm has every kind of field, typed, hinted and faulty.
func fullForm(id string) *Form {
	kinds := []string{Hidden, Choice, Decimal, Select, Choice, Select, Text, Check, Text, Select, Count}
	var fields []Field
	for i, name := range weighFields {
		fields = append(fields, In(kinds[i], name, "Label <of> "+name, "a hint").Is("v").Must().Of(Option{"v", "Value", "note"}, Option{"w", "Other", ""}))
	}
	for _, kind := range []string{Date, Moment, Area, Secret, OnePass, LoginBox, Upload} {
		fields = append(fields, In(kind, "the-"+kind, kind, "").Large())
	}
	f := NewForm(id, "/there", "Do it", fields...).WithTime()
	f.AddTable(&Table{Name: "lines", Legend: "Lines", Hint: "hint", Grows: true}, 2, func(int) []Field {
		return []Field{In(Select, "material", "Material", "").Of(Same("a", "b")...), In(Decimal, "amount", "Amount", "")}
	})
	f.Blame("mass", "is wrong")
	f.Blame("lines", "are wrong")
	f.Blame("nowhere", "all of it is wrong")
	f.Findings, f.MayPass = []ledger.Finding{{Rule: "r", Level: ledger.Stop, Text: "stopped"}, {Rule: "w", Level: ledger.Warn, Text: "warned"}}, true
	return f
}

// filler gives every field of a struct a value, so that every branch of a template that shows something is drawn.
type filler struct{ forms int }

func (fl *filler) fill(v reflect.Value, depth int) {
	if depth > 8 || !v.CanSet() {
		return
	}
	switch v.Interface().(type) {
	case *Form:
		fl.forms++
		v.Set(reflect.ValueOf(fullForm("form" + string(rune('a'+fl.forms)))))
		return
	case decimal.Decimal:
		v.Set(reflect.ValueOf(decimal.RequireFromString("12.5")))
		return
	case time.Time:
		v.Set(reflect.ValueOf(time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)))
		return
	case *time.Location:
		v.Set(reflect.ValueOf(time.UTC))
		return
	case ledger.Actor:
		v.Set(reflect.ValueOf(ledger.Actor{ID: 7, Login: "olga", Name: "Olga", Role: ledger.Owner}))
		return
	}
	fl.fillKind(v, depth)
}

func (fl *filler) fillKind(v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.String:
		v.SetString("words")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(3)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fl.fill(v.Elem(), depth+1)
	case reflect.Struct:
		for i := range v.NumField() {
			fl.fill(v.Field(i), depth+1)
		}
	case reflect.Slice:
		n := 2
		if v.Type().Elem().Kind() == reflect.Uint8 {
			n = 32
		}
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fl.fill(v.Index(i), depth+1)
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		value := reflect.New(v.Type().Elem()).Elem()
		fl.fill(value, depth+1)
		key := reflect.New(v.Type().Key()).Elem()
		fl.fill(key, depth+1)
		v.SetMapIndex(key, value)
	}
}

func draw(t *testing.T, p Page) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Render(&b, p), p.Template())
	return b.String()
}

func fresh(p Page) Page { return reflect.New(reflect.TypeOf(p).Elem()).Interface().(Page) }

// full gives a page with everything in it.
func full(p Page) Page {
	page := fresh(p)
	fl := &filler{}
	fl.fill(reflect.ValueOf(page).Elem(), 0)
	return page
}

func TestEveryTemplateDrawsItsStructFullAndEmpty(t *testing.T) {
	for _, p := range All {
		t.Run(p.Template(), func(t *testing.T) {
			whole := draw(t, full(p))
			require.Contains(t, whole, "</html>")
			require.Contains(t, whole, "Record of the maker. It informs; it does not certify that a product is safe or lawful.")
			bare := fresh(p)
			giveForms(reflect.ValueOf(bare).Elem())
			require.Contains(t, draw(t, bare), "</html>")
		})
	}
}

// giveForms gives an empty page the forms that it always has.
func giveForms(v reflect.Value) {
	if f := v.FieldByName("Form"); f.IsValid() {
		f.Set(reflect.ValueOf(fullForm("form")))
	}
	if f := v.FieldByName("Formula"); f.IsValid() && f.Kind() == reflect.Pointer {
		f.Set(reflect.New(f.Type().Elem()))
	}
}

var (
	idOf    = regexp.MustCompile(` id="([^"]*)"`)
	forOf   = regexp.MustCompile(` for="([^"]*)"`)
	toldBy  = regexp.MustCompile(` aria-describedby="([^"]*)"`)
	inputs  = regexp.MustCompile(`<(?:input|select|textarea)[^>]*>`)
	inline  = regexp.MustCompile(`(?i) style=|<style| on[a-z]+="|javascript:`)
	scripts = regexp.MustCompile(`<script[^>]*>`)
)

func TestPagesHoldTogether(t *testing.T) {
	for _, p := range All {
		html := draw(t, full(p))
		require.NotContains(t, html, "ZgotmplZ", p.Template())
		require.NotContains(t, html, "<nil>", p.Template())
		require.NotContains(t, html, "&lt;no value", p.Template())
		require.Empty(t, inline.FindString(html), "%s: the policy allows no inline style or script", p.Template())
		require.Len(t, scripts.FindAllString(html, -1), 1, p.Template())
		require.Equal(t, 1, strings.Count(html, "<h1"), "%s has one heading of the first rank", p.Template())
		ids := map[string]bool{}
		for _, m := range idOf.FindAllStringSubmatch(html, -1) {
			require.NotEmpty(t, m[1], p.Template())
			ids[m[1]] = true
		}
		for _, m := range append(forOf.FindAllStringSubmatch(html, -1), toldBy.FindAllStringSubmatch(html, -1)...) {
			require.True(t, ids[m[1]], "%s: nothing has the id %q", p.Template(), m[1])
		}
	}
}

func TestEveryInputHasALabel(t *testing.T) {
	for _, p := range All {
		html := draw(t, full(p))
		labelled := map[string]bool{}
		for _, m := range forOf.FindAllStringSubmatch(html, -1) {
			labelled[m[1]] = true
		}
		for _, in := range inputs.FindAllString(html, -1) {
			if strings.Contains(in, `type="hidden"`) || strings.Contains(in, `type="radio"`) { // a radio stands inside its label
				continue
			}
			m := idOf.FindStringSubmatch(in)
			require.Len(t, m, 2, "%s: %s", p.Template(), in)
			require.True(t, labelled[m[1]], "%s: %s", p.Template(), in)
		}
	}
}

func TestATemplateWithoutAPageIsRefused(t *testing.T) {
	set := parse()
	delete(set, "home")
	require.ErrorContains(t, undeclared(set), "home.html")
	require.NoError(t, undeclared(parse()))
}

func TestWhatIsTypedIsShownAsText(t *testing.T) {
	f := NewForm("f", "/x", "Go", In(Text, "name", "Name", ""))
	f.Fill(map[string][]string{"name": {`"><script>alert(1)</script>`}, "key": {"kept"}})
	f.Blame("name", "<b>wrong</b>")
	html := draw(t, &SignIn{Base: Base{Title: "t"}, Form: f})
	require.NotContains(t, html, "<script>alert")
	require.NotContains(t, html, "<b>wrong")
	require.Contains(t, html, `name="key" value="kept"`)
	require.Contains(t, html, `aria-invalid="true"`)
}

func TestAPasswordIsNeverGivenBack(t *testing.T) {
	f := NewForm("f", "/x", "Go", In(Secret, "password", "New", ""), In(OnePass, "old", "Old", ""))
	f.Fill(map[string][]string{"password": {"four words typed here"}, "old": {"older words"}})
	html := draw(t, &SignIn{Form: f})
	require.NotContains(t, html, "four words typed here")
	require.NotContains(t, html, "older words")
}

func TestBlameStandsWhereItBelongs(t *testing.T) {
	f := fullForm("f")
	mass, err := f.Get("mass")
	require.NoError(t, err)
	require.Equal(t, "is wrong", mass.Fault)
	require.Equal(t, "are wrong", f.Tables[0].Fault)
	require.Equal(t, "all of it is wrong", f.Fault)
	f.Blame("lines.1.amount", "no number")
	amount, err := f.Get("lines.1.amount")
	require.NoError(t, err)
	require.Equal(t, "no number", amount.Fault)
	_, err = f.Get("colour of the sky")
	require.Error(t, err)
}

func TestNumbersAndTimesInWords(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	b := Base{Zone: zone}
	at := time.Date(2026, 5, 4, 22, 30, 0, 0, time.UTC) // half past midnight in Vienna, where summer time is UTC+2
	require.Equal(t, "5 May 2026, 00:30", b.When(at))
	require.Equal(t, "5 May 2026", b.On(at))
	require.True(t, b.Late(at, at.Add(25*time.Hour)))
	require.False(t, b.Late(at, at.Add(24*time.Hour)))
	require.Equal(t, "1 bar", Amount(decimal.NewFromInt(1), "piece"))
	require.Equal(t, "12 bars", Amount(decimal.NewFromInt(12), "piece"))
	require.Equal(t, "267.9 g", Amount(decimal.RequireFromString("267.90"), "g"))
	require.Equal(t, "5.0 %", percent(decimal.RequireFromString("0.05")))
	require.Equal(t, "", day((*time.Time)(nil)))
	passed, failed := true, false
	require.Equal(t, []string{"passed", "failed", ""}, []string{verdict(&passed), verdict(&failed), verdict(nil)})
}

func TestAFormGoesBackToItsPlace(t *testing.T) {
	b := &Batch{Weigh: NewForm("weigh", "/w", "Weigh"), Acts: []Act{{Form: NewForm("event", "/e", "Mark")}}}
	weigh, event, lost := NewForm("weigh", "/w", "x"), NewForm("event", "/e", "x"), NewForm("cut", "/c", "x")
	b.Put(weigh)
	b.Put(event)
	b.Put(lost)
	require.Same(t, weigh, b.Weigh)
	require.Same(t, lost, b.Acts[0].Form)
	require.Same(t, event, b.Acts[1].Form)
}
