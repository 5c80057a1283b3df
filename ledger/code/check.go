package code

import "fmt"

// signs are the characters that ISO/IEC 7064 MOD 37-2 works with; a sign's value is its index.
// The asterisk (36) can only be a check character.
const signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

// CheckCharacter returns the ISO/IEC 7064 MOD 37-2 check character of s, which may hold 0-9 and
// A-Z only: no lower case, no hyphen, no space. The result may be an asterisk.
//
// MOD 37-2 is used because it finds every single wrong character, every swap of neighbours and
// every swap around a third character, and needs one character for it.
func CheckCharacter(s string) (byte, error) {
	if s == "" {
		return 0, fmt.Errorf("check character of an empty text: give at least one of 0-9 or A-Z")
	}
	sum := 0
	for i := range len(s) {
		v := value(s[i])
		if v < 0 || s[i] == '*' {
			return 0, fmt.Errorf("check character of %q: character %d is not one of 0-9 or A-Z", s, i+1)
		}
		sum = (sum + v) * 2 % 37
	}
	return signs[(38-sum)%37], nil
}

// value is the index of c in signs, or -1.
func value(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'Z':
		return int(c-'A') + 10
	case c == '*':
		return 36
	}
	return -1
}

// checks reports whether the last character of s is the check character of the rest.
func checks(s string) bool {
	want, err := CheckCharacter(s[:len(s)-1])
	return err == nil && s[len(s)-1] == want
}
