package api

import (
	"fmt"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// input reads a form that was sent, field by field. What cannot be read is said at the field and gives a zero value.
type input struct {
	s    *Server
	r    *http.Request
	form *pages.Form
	zone *time.Location
	req  ledger.Request // what goes beside the body
}

// read takes in what was sent and puts it into the form.
func (s *Server) read(r *http.Request, form *pages.Form) (*input, error) {
	if err := parseForm(r); err != nil {
		return nil, err
	}
	form.Fill(r.PostForm)
	in := &input{s: s, r: r, form: form, zone: time.UTC}
	shop, err := s.shop(r)
	if err != nil {
		return nil, err
	}
	if shop != nil {
		in.zone = shop.Zone()
	}
	in.req = ledger.Request{Key: form.Key, Override: in.text("override"), HappenedAt: in.moment("happened_at")}
	return in, nil
}

func parseForm(r *http.Request) error {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	var err error
	switch kind {
	case "multipart/form-data":
		err = r.ParseMultipartForm(1 << 20)
	default:
		err = r.ParseForm()
	}
	if _, tooLarge := asTooLarge(err); err != nil && !tooLarge {
		return newProblem("request", "the form could not be read; go back and send it again")
	}
	return err
}

// text is what was typed, without space around it; browsers send line breaks as two characters, records hold one.
func (in *input) text(name string) string {
	return strings.TrimSpace(strings.ReplaceAll(in.r.PostForm.Get(name), "\r\n", "\n"))
}

func (in *input) yes(name string) bool { return in.text(name) == "yes" }

// number is a number that must be there.
func (in *input) number(name string) decimal.Decimal {
	d := in.optional(name)
	if d == nil {
		in.form.Blame(name, "is empty; type a number")
		return decimal.Zero
	}
	return *d
}

// optional is a number that may be left out.
func (in *input) optional(name string) *decimal.Decimal {
	typed := in.text(name)
	if typed == "" {
		return nil
	}
	d, err := measure.ParseNumber(typed)
	if err != nil {
		in.form.Blame(name, err.Error())
	}
	return &d
}

// share is a number typed as per cent, as a fraction.
func (in *input) share(name string) decimal.Decimal { return in.number(name).Shift(-2) }

// optionalShare is share for what may be left out.
func (in *input) optionalShare(name string) *decimal.Decimal {
	d := in.optional(name)
	if d == nil {
		return nil
	}
	share := d.Shift(-2)
	return &share
}

// count is a whole number; 0 when it was left out.
func (in *input) count(name string) int64 {
	typed := in.text(name)
	if typed == "" {
		return 0
	}
	n, err := strconv.ParseInt(typed, 10, 32)
	if err != nil || n < 0 {
		in.form.Blame(name, fmt.Sprintf("%q is not a whole number; type digits only", typed))
		return 0
	}
	return n
}

// pick is the number of the thing that was chosen from a list; 0: none.
func (in *input) pick(name string) int64 {
	n, err := strconv.ParseInt(in.text(name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// chosen is pick for a list from which something has to be chosen.
func (in *input) chosen(name string) int64 {
	n := in.pick(name)
	if n == 0 {
		in.form.Blame(name, "choose one from the list")
	}
	return n
}

// mass is an amount with its unit, as typed; the ledger turns it into grams.
func (in *input) mass(name, unit string) measure.Mass {
	m := measure.Mass{Typed: in.text(name), Unit: measure.Unit(in.text(unit))}
	if m.Typed == "" {
		in.form.Blame(name, "is empty; type what the scale shows")
	}
	return m
}

const momentLayout = "2006-01-02T15:04"

// moment is a day and time of day in the shop's zone; the zero time when it was left out.
func (in *input) moment(name string) time.Time {
	typed := in.text(name)
	if typed == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation(momentLayout, strings.TrimSuffix(typed, ":00Z"), in.zone)
	if err != nil {
		in.form.Blame(name, fmt.Sprintf("%q is not a time; write it as 2026-11-25T14:30", typed))
	}
	return t
}

// file is an uploaded file.
func (in *input) file(name string) []byte {
	f, header, err := in.r.FormFile(name)
	if err != nil {
		in.form.Blame(name, "choose a file")
		return nil
	}
	defer f.Close()
	if header.Size > ledger.MaxDocument {
		in.form.Blame(name, "the file is larger than 10 MiB; send a smaller one")
		return nil
	}
	b, err := io.ReadAll(f)
	if err != nil {
		in.form.Blame(name, "the file could not be read; choose it again")
	}
	return b
}

// rows tells how many rows of a table were sent, and whether more are wanted.
func rows(r *http.Request, table string, least int) (n int, more bool) {
	n = least
	for name := range r.PostForm {
		rest, ok := strings.CutPrefix(name, table+".")
		if !ok {
			continue
		}
		digits, _, _ := strings.Cut(rest, ".")
		if i, err := strconv.Atoi(digits); err == nil && i < 200 {
			n = max(n, i+1)
		}
	}
	if r.PostForm.Get("more") == table {
		return min(n+4, 200), true
	}
	return n, false
}
