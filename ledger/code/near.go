package code

// Near returns codes that may have been meant by a text that has the length of a code but is none:
// those that one swap of neighbours, one wrong character or one swap around a third character turns
// it into. It returns nil for a good code and for a text of another length.
//
// They come in that order because a given swap of neighbours is likelier than a given wrong
// character, and that is likelier than a given swap around a third: of wrong entries about 79 % are
// one wrong character, but that is spread over some 200 candidates, 10 % swap one of 7 pairs of neighbours,
// under 1 % one of 6 pairs around a third (shares: published studies of typed decimal codes).
// The caller should show only those that exist, and keep on record that a person chose.
func Near(s string) []Code {
	text, err := plain(s)
	if err != nil || len(text) < headLength+2 || len(text) > headLength+maxSerial+1 || good(text) {
		return nil
	}
	var found []Code
	seen := map[string]bool{}
	try := func(t []byte) {
		if candidate := string(t); good(candidate) && !seen[candidate] {
			seen[candidate] = true
			found = append(found, printed(candidate))
		}
	}
	swaps(text, 1, try)
	substitutions(text, try)
	swaps(text, 2, try)
	return found
}

// good reports whether a text without separators is a code.
func good(text string) bool {
	if !shaped(text) || !checks(text) {
		return false
	}
	_, err := parseDay(text)
	return err == nil
}

// swaps tries text with each two characters exchanged that stand distance apart.
func swaps(text string, distance int, try func([]byte)) {
	for i := 0; i+distance < len(text); i++ {
		t := []byte(text)
		t[i], t[i+distance] = t[i+distance], t[i]
		try(t)
	}
}

// substitutions tries text with each character replaced by each other one.
func substitutions(text string, try func([]byte)) {
	for i := range len(text) {
		for _, sign := range []byte(signs) {
			t := []byte(text)
			t[i] = sign
			try(t)
		}
	}
}
