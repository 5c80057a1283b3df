package sheet

import "strings"

// The front panel, from top to bottom: the shop in small letterspaced capitals, a sprig, the product name, what it is,
// and the net quantity alone in the lowest part.
const (
	frameInset  = 3.5  // of the hairline frame, from the panel's edge
	netZone     = 0.7  // the net quantity stays below this part of the height: 21 CFR 701.13(f), 16 CFR 500.6(b) [from memory]
	nameMost    = 38.0 // largest product name, points
	nameTwoRows = 30.0 // largest on two rows
	nameLeast   = 17.0
	sprigRoom   = 7.8
	netFloor    = 12.0 // points
	netMargin   = 6.2  // of the net quantity, left and right: inside the frame's corners
	netFoot     = 8.2  // from the panel's edge to its last baseline
	netFootTwo  = 6.3  // the same, on two rows
	identityMin = 13.0 // points
)

// setFront lays out the front panel: the net quantity first, because the law places it, then the rest above it.
func setFront(p *panel, l Label, set *faces) error {
	p.curves = append(p.curves, frame(p.w, p.h, frameInset)...)
	net, clear, err := setNet(p, l, set)
	if err != nil {
		return err
	}
	top := frameInset + 3
	shop, err := setShop(p, l, set, top)
	if err != nil {
		return err
	}
	if len(shop.rows) > 0 {
		top = shop.bottom()
		p.blocks = append(p.blocks, shop)
	}
	p.blocks = append(p.blocks, net)
	return setTitle(p, l, set, top, clear)
}

// setNet places the net quantity on one row, or two, at the foot of the panel, and returns how far down other text may
// come: one letter height above it stays clear (21 CFR 701.13(f) [from memory]). Nothing else stands left or right of it.
func setNet(p *panel, l Label, set *faces) (net block, clear float64, err error) {
	height := l.DigitHeightMM.InexactFloat64()
	f := set.text
	size := max(sizeFor(height, f.digitHeight), sizeFor(height, f.oHeight), netFloor*mmPerPoint)
	width := p.w - 2*netMargin
	rows := balance(words(f, l.Net), size, 0, width)
	if err := tooWide("net quantity", p.name, rows, width, adviceShorten); err != nil {
		return net, 0, err
	}
	leading, foot := 1.15*size, netFoot
	if len(rows) > 1 {
		foot = max(netFootTwo, f.capHeight*size)
	}
	first := p.h - foot - float64(len(rows)-1)*leading
	net = block{name: "net quantity", size: size, rows: centre(rows, p.w, first, leading)}
	cap := first - f.capHeight*size
	if err := tooTall(net.name, "lowest 30 % of the "+p.name, netZone*p.h-cap, adviceShorten); err != nil {
		return net, 0, err
	}
	return net, cap - f.capHeight*size, nil
}

// setShop sets the shop's name in letterspaced capitals, closer or smaller where it is long.
func setShop(p *panel, l Label, set *faces, top float64) (block, error) {
	b := block{name: "shop name", tint: leaf}
	if l.Shop == "" {
		return b, nil
	}
	width := p.w - 2*margin
	for _, try := range []struct{ points, track float64 }{{7.5, 0.22}, {7, 0.12}, {6.5, 0.04}} {
		b.size, b.track = try.points*mmPerPoint, try.track
		b.rows = []row{setRow(words(set.text, strings.ToUpper(l.Shop)), b.size, b.track)}
		if widest(b.rows) <= width {
			break
		}
	}
	b.rows = centre(b.rows, p.w, top+set.text.ascent*b.size, 0)
	return b, tooWide(b.name, p.name, b.rows, width, adviceShorten)
}

// setTitle fills the room between two heights with the sprig, the product name and the identity, the name as large as
// it will go. Without room for the sprig, the sprig is what gives way.
func setTitle(p *panel, l Label, set *faces, top, bottom float64) error {
	width := p.w - 2*margin
	var err error
	for _, sprig := range []float64{sprigRoom, 0} {
		for pt := nameMost; pt >= nameLeast; pt-- {
			t := composeTitle(l, set, pt*mmPerPoint, width)
			if err = t.fits(p.name, width, bottom-top-sprig); err != nil {
				continue
			}
			// Half of what is left over goes above, and a little of that between the sprig and the name.
			spare := bottom - top - sprig - t.height
			t.place(p, top+sprig+spare*0.55)
			if sprig > 0 {
				p.curves = append(p.curves, sprigAt(p.w/2, top+spare*0.35+sprigRoom*0.48, 34)...)
			}
			return nil
		}
	}
	return err
}

// title is the product name over the identity, at one size of the name.
type title struct {
	name, identity               block
	rise                         float64 // of the name's first row above its baseline
	nameLeading, identityLeading float64
	gap                          float64 // from the name's last baseline to the identity's first
	height                       float64 // from the top of the name to the depth of the identity
}

// composeTitle sets both texts at the sizes that go with a size of the name. The identity follows the name in size, as
// 21 CFR 701.11 asks for a size reasonably related to the most prominent print [from memory].
func composeTitle(l Label, set *faces, size, width float64) title {
	small := max(0.44*size, textSize(l, set.italic, identityMin))
	name := balance(words(set.display, l.Product), size, 0, width)
	identity := balance(words(set.italic, l.Identity), small, 0, width)
	rise, _ := name[0].extent()
	_, depth := name[len(name)-1].extent()
	above, _ := identity[0].extent()
	t := title{
		name:            block{name: "product name", size: size, rows: name},
		identity:        block{name: "identity", size: small, rows: identity},
		rise:            rise * size,
		nameLeading:     tightLeading(name) * size,
		identityLeading: tightLeading(identity) * small,
		gap:             max(0.24*size+0.98*small, depth*size+(above+0.15)*small),
	}
	t.height = t.rise + float64(len(name)-1)*t.nameLeading + t.gap +
		float64(len(identity)-1)*t.identityLeading + set.italic.descent*small
	return t
}

// fits reports what of a title is too large for a room: the name on up to two rows, the identity on up to two.
func (t title) fits(panel string, width, height float64) error {
	for _, b := range []block{t.name, t.identity} {
		if err := tooWide(b.name, panel, b.rows, width, adviceShorten); err != nil {
			return err
		}
	}
	part := t.name.name
	if len(t.identity.rows) > len(t.name.rows) {
		part = t.identity.name
	}
	over := t.height - height
	if len(t.name.rows) > 1 {
		over = max(over, t.name.size-nameTwoRows*mmPerPoint)
	}
	if extra := max(len(t.name.rows), len(t.identity.rows)) - 2; extra > 0 {
		over = max(over, float64(extra)*t.identity.size)
	}
	return tooTall(part, panel, over, adviceShorten)
}

// place puts the title on the panel, its first capitals at a height.
func (t title) place(p *panel, top float64) {
	base := top + t.rise
	t.name.rows = centre(t.name.rows, p.w, base, t.nameLeading)
	base += float64(len(t.name.rows)-1)*t.nameLeading + t.gap
	t.identity.rows = centre(t.identity.rows, p.w, base, t.identityLeading)
	p.blocks = append(p.blocks, t.name, t.identity)
}
