package sheet

import "strings"

// sideMargin is the white edge of a side panel in its own frame, along and across.
const sideMargin = 6.5

// setSpine sets the product name along the first side, as on the spine of a book: on one row if it can be of a fair size,
// else on two.
func setSpine(p *panel, l Label, set *faces) error {
	const most, fair, least = 20.0, 12.0, 8.0 // points
	width := p.w - 2*sideMargin
	name := words(set.display, l.Product)
	b := block{name: "product name"}
	for pt := most; pt >= least; pt-- {
		b.size = pt * mmPerPoint
		b.rows = balance(name, b.size, 0, width)
		if widest(b.rows) <= width && (len(b.rows) == 1 || len(b.rows) == 2 && pt <= fair) {
			break
		}
	}
	if err := tooWide(b.name, p.name, b.rows, width, adviceShorten); err != nil {
		return err
	}
	leading := max(1.1, tightLeading(b.rows)) * b.size
	below := float64(len(b.rows)-1) * leading
	height := below + (set.display.ascent+set.display.descent)*b.size
	if err := tooTall(b.name, p.name, height-(p.h-2*frameInset), adviceShorten); err != nil {
		return err
	}
	b.rows = centre(b.rows, p.w, (p.h+set.display.capHeight*b.size-below)/2, leading)
	p.blocks = append(p.blocks, b)
	p.curves = append(p.curves, sideRules(p)...)
	return nil
}

// setMaker sets the maker's name and address, and the origin, along the first side, where the back has no room for them.
func setMaker(p *panel, l Label, set *faces) error {
	size := textSize(l, set.text, backLeast)
	width := p.w - 2*sideMargin
	maker := block{name: "maker's name and address", size: size}
	for i, line := range l.Maker {
		f := set.text
		if i == 0 {
			f = set.bold
		}
		maker.rows = append(maker.rows, balance(words(f, line), size, 0, width)...)
	}
	blocks := []block{maker}
	if l.Origin != "" {
		blocks = append(blocks, block{name: "origin", size: size, rows: balance(words(set.text, l.Origin), size, 0, width)})
	}
	count := 0
	for _, b := range blocks {
		if err := tooWide(b.name, p.name, b.rows, width, adviceShorten); err != nil {
			return err
		}
		count += len(b.rows)
	}
	leading := backLeading * size
	below := float64(count-1) * leading
	height := below + (set.text.ascent+set.text.descent)*size
	if err := tooTall(names(blocks), p.name, height-(p.h-2*frameInset), adviceShorten); err != nil {
		return err
	}
	base := (p.h + set.text.capHeight*size - below) / 2
	for _, b := range blocks {
		b.rows = centre(b.rows, p.w, base, leading)
		base += float64(len(b.rows)) * leading
		p.blocks = append(p.blocks, b)
	}
	p.curves = append(p.curves, sideRules(p)...)
	return nil
}

// sideRules are two short hairlines that close a side panel at its ends.
func sideRules(p *panel) []curve {
	inset := frameInset
	return []curve{
		straight(inset, p.h/2-4, inset, p.h/2+4),
		straight(p.w-inset, p.h/2-4, p.w-inset, p.h/2+4),
	}
}

// setCode sets the batch code and the date along the second side.
//
// The words before the date are those of Article 19(1)(c) of Regulation (EC) No 1223/2009 [retrieved].
func setCode(p *panel, l Label, set *faces) error {
	size := textSize(l, set.text, 7.5)
	width := p.w - 2*sideMargin
	code := append(words(set.text, "Batch"), words(set.bold, l.BatchCode)...)
	blocks := []block{{name: "batch code", rows: balance(code, size, 0, width)}}
	if l.BestBefore != "" {
		date := append(words(set.text, "Best used before the end of"), words(set.bold, l.BestBefore)...)
		blocks = append(blocks, block{name: "best-before date", rows: balance(date, size, 0, width)})
	}
	p.curves = append(p.curves, sideRules(p)...)
	return stack(p, blocks, size, width, set)
}

// stack places blocks of one size under each other in the middle of a panel.
func stack(p *panel, blocks []block, size, width float64, set *faces) error {
	leading, gap := 1.3*size, 0.5*size
	height := set.text.capHeight*size - leading - gap
	for _, b := range blocks {
		if err := tooWide(b.name, p.name, b.rows, width, adviceShorten); err != nil {
			return err
		}
		height += float64(len(b.rows))*leading + gap
	}
	if err := tooTall(names(blocks), p.name, height-(p.h-2*sideMargin), adviceShorten); err != nil {
		return err
	}
	base := (p.h-height)/2 + set.text.capHeight*size
	for _, b := range blocks {
		b.size, b.rows = size, centre(b.rows, p.w, base, leading)
		base += float64(len(b.rows))*leading + gap
		p.blocks = append(p.blocks, b)
	}
	return nil
}

// names lists blocks for an error.
func names(blocks []block) string {
	var out []string
	for _, b := range blocks {
		out = append(out, b.name)
	}
	return strings.Join(out, " and ")
}
