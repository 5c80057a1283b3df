package code

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// The ways in which a text fails to be a code; test with errors.Is.
var (
	ErrShape = errors.New("not in the shape of a code")
	ErrDate  = errors.New("no such day")
	ErrCheck = errors.New("check character does not fit")
)

// headLength is the length of prefix, year and day.
const headLength = 6

// maxTyped is the longest text that is looked at, in bytes; a code has at most 11 characters.
const maxTyped = 64

// Parse reads a code as a person types it: upper or lower case, with or without spaces and hyphens,
// I or L for 1 and O for 0. It returns the printed form.
//
// The error wraps ErrShape, ErrDate or ErrCheck and says what to look at. For ErrCheck and ErrDate,
// Near offers codes that may have been meant. Whether the day lies in the future, and whether such a
// code exists, only the caller can say.
func Parse(s string) (Code, error) {
	text, err := squeeze(s)
	if err != nil {
		return "", err
	}
	if _, err := parseDay(text); err != nil {
		return "", err
	}
	if !checks(text) {
		return "", fmt.Errorf("%w: %s has a wrong or swapped character; compare it with the print", ErrCheck, printed(text))
	}
	return printed(text), nil
}

// parsePrinted checks that c is exactly the printed form of a code, and returns its day.
func parsePrinted(c Code) (time.Time, error) {
	parsed, err := Parse(string(c))
	if err != nil {
		return time.Time{}, err
	}
	if parsed != c {
		return time.Time{}, fmt.Errorf("%w: %q is not the printed form %s", ErrShape, string(c), parsed)
	}
	return parseDay(strings.ReplaceAll(string(c), "-", ""))
}

// squeeze returns s in upper case without separators, look-alikes replaced, once it has the shape of
// a code: known prefix, five digits, a serial and a check character.
func squeeze(s string) (string, error) {
	text, err := plain(s)
	if err != nil {
		return "", err
	}
	if len(text) < headLength+2 || len(text) > headLength+maxSerial+1 {
		return "", fmt.Errorf("%w: %q has %d letters and digits; a code has 8 to 10, such as B26147-18", ErrShape, s, len(text))
	}
	if !shaped(text) {
		return "", fmt.Errorf("%w: %q; a code is one of the letters B M P S R D, five digits, then 2 to 4 characters, such as B26147-18", ErrShape, s)
	}
	return text, nil
}

// separators are left out when a code is read: spaces, the hyphens and dashes that keyboards put in
// for one, and the minus sign.
const separators = " \t\r\n\u00a0-\u2010\u2011\u2012\u2013\u2014\u2212"

// plain takes separators out and replaces look-alikes. Only the length is limited.
func plain(s string) (string, error) {
	if len(s) > maxTyped {
		return "", fmt.Errorf("%w: the text is %d bytes long; a code has 8 to 10 letters and digits, such as B26147-18", ErrShape, len(s))
	}
	return strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune(separators, r):
			return -1
		case r == 'i' || r == 'I' || r == 'l' || r == 'L':
			return '1'
		case r == 'o' || r == 'O':
			return '0'
		case r >= 'a' && r <= 'z':
			return r - 'a' + 'A'
		}
		return r
	}, s), nil
}

// shaped reports whether text, squeezed and of the right length, has the right sort of character in
// each position.
func shaped(text string) bool {
	if !Kind(text[0]).known() {
		return false
	}
	for i := 1; i < headLength; i++ {
		if text[i] < '0' || text[i] > '9' {
			return false
		}
	}
	last := len(text) - 1
	for i := headLength; i < last; i++ {
		if strings.IndexByte(serialSigns, text[i]) < 0 {
			return false
		}
	}
	return value(text[last]) >= 0 && !awkward(text[last])
}

// parseDay reads the day of a shaped text.
func parseDay(text string) (time.Time, error) {
	yy, _ := strconv.Atoi(text[1:3]) // digits: seen to by shaped
	ddd, _ := strconv.Atoi(text[3:6])
	day := time.Date(2000+yy, time.January, ddd, 0, 0, 0, 0, time.UTC)
	if ddd < 1 || day.Year() != 2000+yy {
		return time.Time{}, fmt.Errorf("%w: %s names day %d of %d; look at its five digits", ErrDate, printed(text), ddd, 2000+yy)
	}
	return day, nil
}

// printed sets the hyphen.
func printed(text string) Code { return Code(text[:headLength] + "-" + text[headLength:]) }
