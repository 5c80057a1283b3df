package sheet

// page is the whole label, laid out: four panels of the band.
type page struct {
	panels []*panel
}

// margin is the white edge of a panel that no text enters, in millimetres.
const margin = 7.0

// layOut places every text of a label. It fails when one does not fit at its least height.
func layOut(l Label, set *faces) (page, error) {
	spine, front, code, back := l.Band.place()
	if err := setFront(front, l, set); err != nil {
		return page{}, err
	}
	if err := setCode(code, l, set); err != nil {
		return page{}, err
	}
	if err := setRest(spine, back, l, set); err != nil {
		return page{}, err
	}
	if err := checkFooter(l, set); err != nil {
		return page{}, err
	}
	return page{panels: []*panel{spine, front, code, back}}, nil
}

// setRest fills the back panel and the first side. The back bears ingredients, cautions and maker, and the side the
// product name once more. Where that is too much for the back, the maker takes the place of the repeated name.
func setRest(spine, back *panel, l Label, set *faces) error {
	err := setBack(back, l, set)
	if err == nil {
		return setSpine(spine, l, set)
	}
	rest := l
	rest.Maker, rest.Origin = nil, ""
	if setBack(back, rest, set) != nil || setMaker(spine, l, set) != nil {
		return err // names what is longest on the fuller panel
	}
	return nil
}

// textSize is the least type size in millimetres at which required text in a face is tall enough, and never under a floor
// in points that we find readable.
func textSize(l Label, f *face, floor float64) float64 {
	return max(sizeFor(l.TextHeightMM.InexactFloat64(), f.oHeight), floor*mmPerPoint)
}

// Advice for texts that do not fit.
const (
	adviceShorten = "shorten it, or use a band for a larger bar"
	adviceLeaflet = "shorten it, use a band for a larger bar, or put it on a tag or leaflet that goes with the bar"
)

// tooWide reports rows that exceed a width, or nil.
func tooWide(text, panel string, rows []row, width float64, advice string) error {
	if over := widest(rows) - width; over > slack {
		return &TooLongError{Text: text, Panel: panel, OverMM: max(over, 0.1), Across: true, Advice: advice}
	}
	return nil
}

// tooTall reports a text that ends that far beyond its room, or nil.
func tooTall(text, panel string, over float64, advice string) error {
	if over > slack {
		return &TooLongError{Text: text, Panel: panel, OverMM: max(over, 0.1), Advice: advice}
	}
	return nil
}

// slack forgives the rounding of float arithmetic, far below what any printer resolves.
const slack = 1e-6
