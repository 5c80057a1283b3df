package sheet

// The back panel: the ingredients and the cautions from the top, the maker and the origin at the foot, one type size
// for all, and the white between them.
const (
	backMargin  = 6.4
	backComfort = 8.4 // points: the size when there is room
	backLeast   = 6.0 // points: when the law sets no height
	backLeading = 1.26
)

// setBack tries the comfortable size first and comes down to the least lawful one; past that it is an error.
func setBack(p *panel, l Label, set *faces) error {
	least := textSize(l, set.text, backLeast)
	var err error
	for size := max(least, backComfort*mmPerPoint); ; size -= 0.1 * mmPerPoint {
		size = max(size, least)
		// The bold of the maker's name and of the lead-in has a slightly taller o than the text, so the text decides.
		b := composeBack(p, l, set, size)
		if err = b.fits(p); err == nil {
			b.place(p)
			return nil
		}
		if size == least {
			return err
		}
	}
}

// backText is the back panel at one type size.
type backText struct {
	upper         []block // ingredients, cautions
	maker, origin block
	beside        bool // the origin stands on the maker's last row, at the right; else on rows of its own below it
	size, leading float64
	width         float64 // of the panel's text
	cap           float64
}

// composeBack breaks all texts into rows.
func composeBack(p *panel, l Label, set *faces, size float64) backText {
	b := backText{size: size, leading: backLeading * size, width: p.w - 2*backMargin, cap: set.text.capHeight * size}
	if l.Ingredients != "" {
		b.upper = append(b.upper, b.block("ingredient statement", wrap(leadIn(words(set.text, l.Ingredients), set.bold), size, 0, b.width)))
	}
	var cautions []row
	for _, c := range l.Cautions {
		cautions = append(cautions, wrap(words(set.text, c), size, 0, b.width)...)
	}
	if len(cautions) > 0 {
		b.upper = append(b.upper, b.block("cautions", cautions))
	}
	var maker []row
	for i, line := range l.Maker {
		f := set.text
		if i == 0 {
			f = set.bold
		}
		maker = append(maker, wrap(words(f, line), size, 0, b.width)...)
	}
	if len(maker) == 0 { // it stands on the side panel
		return b
	}
	b.maker = b.block("maker's name and address", maker)
	if l.Origin != "" {
		b.origin = b.block("origin", wrap(words(set.text, l.Origin), size, 0, b.width))
		b.beside = len(b.origin.rows) == 1 && maker[len(maker)-1].width+2.5*size+b.origin.rows[0].width <= b.width
	}
	return b
}

func (b backText) block(name string, rows []row) block {
	return block{name: name, size: b.size, rows: rows}
}

// gap is the white between two paragraphs, and half of that round the rule.
func (b backText) gap() float64 { return 0.55 * b.leading }

// footRows is the number of rows below the hairline.
func (b backText) footRows() int {
	if b.beside {
		return len(b.maker.rows)
	}
	return len(b.maker.rows) + len(b.origin.rows)
}

// height is all text with its gaps, from the first capital to the last baseline.
func (b backText) height() float64 {
	if b.footRows() == 0 {
		return b.upperHeight() - b.gap() - b.leading + b.cap
	}
	foot := float64(b.footRows()) * b.leading
	upper := b.upperHeight()
	if len(b.upper) > 0 {
		upper += b.gap()
	}
	return upper + foot - b.leading + b.cap
}

// upperHeight is the texts above the foot, each with the gap below it.
func (b backText) upperHeight() (height float64) {
	for _, u := range b.upper {
		height += float64(len(u.rows))*b.leading + b.gap()
	}
	return height
}

// fits reports the text that is too long for the panel, or nil. Where all together are too tall, the longest is named.
func (b backText) fits(p *panel) error {
	longest := b.maker
	for _, u := range b.upper {
		if err := tooWide(u.name, p.name, u.rows, b.width, adviceLeaflet); err != nil {
			return err
		}
		if len(u.rows) > len(longest.rows) {
			longest = u
		}
	}
	for _, foot := range []block{b.maker, b.origin} {
		if err := tooWide(foot.name, p.name, foot.rows, b.width, adviceShorten); err != nil {
			return err
		}
	}
	return tooTall(longest.name, p.name, b.height()-(p.h-2*backMargin), adviceLeaflet)
}

// place puts the texts on the panel: upper texts from the top, the foot at the bottom, a hairline over the foot.
func (b backText) place(p *panel) {
	p.curves = append(p.curves, frame(p.w, p.h, frameInset)...)
	base := backMargin + b.cap
	for _, u := range b.upper {
		u.rows = left(u.rows, backMargin, base, b.leading)
		base += float64(len(u.rows))*b.leading + b.gap()
		p.blocks = append(p.blocks, u)
	}
	if b.footRows() == 0 {
		return
	}
	last := p.h - backMargin
	first := last - float64(b.footRows()-1)*b.leading
	b.maker.rows = left(b.maker.rows, backMargin, first, b.leading)
	p.blocks = append(p.blocks, b.maker)
	switch {
	case b.beside:
		b.origin.rows = right(b.origin.rows, p.w-backMargin, last, b.leading)
	default:
		b.origin.rows = left(b.origin.rows, backMargin, first+float64(len(b.maker.rows))*b.leading, b.leading)
	}
	if len(b.origin.rows) > 0 {
		p.blocks = append(p.blocks, b.origin)
	}
	top := first - b.cap - b.gap()
	if len(b.upper) > 0 {
		p.curves = append(p.curves, straight(backMargin, top, p.w-backMargin, top))
	}
}
