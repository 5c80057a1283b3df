// Package code makes and reads the codes that are printed on batches, lots and dispatches.
//
// A code is
//
//	PREFIX YY DDD - SERIAL CHECK      for example B26147-18
//
// PREFIX says what it names (see Kind), YY is the year of this century, DDD the day of the year
// (001 to 366), SERIAL the running number of that kind and day, and CHECK an ISO/IEC 7064 MOD 37-2
// check character over all that stands before it, prefix included, the hyphen not counted.
//
// Serials use 1-9 and A-Z without I, L, O and U (three look like digits, the fourth helps to spell
// words): first one character, then two, then three. A serial whose check character would be one
// of I, L, O, U or the asterisk is skipped, so these never appear in a code. That costs about one
// serial in seven and makes it harmless to read a typed I or L as 1 and a typed O as 0.
//
// The hyphen is for the eye and stands before the serial. The printed form is upper case throughout,
// so that it fits the alphanumeric mode of a QR symbol.
package code

import (
	"fmt"
	"time"
)

// Kind is the prefix letter: what sort of thing a code names.
type Kind byte

// The kinds of thing that carry a code.
const (
	Batch    Kind = 'B' // one making
	Material Kind = 'M' // a bought lot
	Prepared Kind = 'P' // a lot made for later use: premix, dispersion, stock lye, merged jug
	Bars     Kind = 'S' // finished soap
	Remnants Kind = 'R' // trimmings and scrap
	Dispatch Kind = 'D' // goods that left
)

// String names the kind in words, or "unknown kind".
func (k Kind) String() string {
	switch k {
	case Batch:
		return "batch"
	case Material:
		return "material lot"
	case Prepared:
		return "prepared lot"
	case Bars:
		return "bars"
	case Remnants:
		return "remnants"
	case Dispatch:
		return "dispatch"
	}
	return "unknown kind"
}

func (k Kind) known() bool { return k.String() != "unknown kind" }

// Code is a code in its printed form. Make one with New or Parse; any other text in it is not a
// code, and its methods then return zero values.
type Code string

// String returns the printed form.
func (c Code) String() string { return string(c) }

// Kind returns what the code names, 0 if c is not in printed form.
func (c Code) Kind() Kind {
	if _, err := parsePrinted(c); err != nil {
		return 0
	}
	return Kind(c[0])
}

// Day returns the day in the code at midnight UTC, or the zero time if c is not in printed form.
func (c Code) Day() time.Time {
	day, err := parsePrinted(c)
	if err != nil {
		return time.Time{}
	}
	return day
}

// serialSigns are the digits of serials. There is no zero among them, so that serials of one, two
// and three characters never share a value.
const serialSigns = "123456789ABCDEFGHJKMNPQRSTVWXYZ"

// maxSerial is the longest serial: 31 + 31² + 31³ = 30 783 serials a day for each kind, before skipping.
const maxSerial = 3

// New returns the n-th usable code of its kind and day, counting from 1. The day is taken in the
// time zone that it carries, and must lie in the years 2000 to 2099. It fails for an unknown kind,
// for n below 1 and when the day has no n-th serial (there are more than 26 000).
func New(k Kind, day time.Time, n int) (Code, error) {
	if !k.known() {
		return "", fmt.Errorf("no code for kind %q: use one of B M P S R D", byte(k))
	}
	if day.Year() < 2000 || day.Year() > 2099 {
		return "", fmt.Errorf("no code for the year %d: codes hold the years 2000 to 2099", day.Year())
	}
	if n < 1 {
		return "", fmt.Errorf("no code number %d: count from 1", n)
	}
	head := fmt.Sprintf("%c%02d%03d", k, day.Year()-2000, day.YearDay())
	usable := 0
	for i := 1; ; i++ {
		s := serial(i)
		if len(s) > maxSerial {
			return "", fmt.Errorf("no code number %d on %s: that day has only %d for %s", n, day.Format(time.DateOnly), usable, k)
		}
		check, err := CheckCharacter(head + s)
		if err != nil {
			return "", err
		}
		if !awkward(check) {
			usable++
		}
		if usable == n {
			return Code(head + "-" + s + string(check)), nil
		}
	}
}

// serial writes i (from 1) with serialSigns, shortest first: 1 … Z, 11 … ZZ, 111 ….
func serial(i int) string {
	var out []byte
	for ; i > 0; i = (i - 1) / len(serialSigns) {
		out = append([]byte{serialSigns[(i-1)%len(serialSigns)]}, out...)
	}
	return string(out)
}

// awkward reports whether a check character is one that codes never use.
func awkward(check byte) bool {
	switch check {
	case '*', 'I', 'L', 'O', 'U':
		return true
	}
	return false
}
