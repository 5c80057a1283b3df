package ledger

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// kinds makes an empty body of each kind of entry. A new kind is a file with its type, and a line here.
var kinds = map[string]func() Body{
	"shop.set":          func() Body { return &ShopSet{} },
	"person.added":      func() Body { return &PersonAdded{} },
	"person.changed":    func() Body { return &PersonChanged{} },
	"supplier.added":    func() Body { return &SupplierAdded{} },
	"material.defined":  func() Body { return &MaterialDefined{} },
	"lot.received":      func() Body { return &LotReceived{} },
	"lot.held":          func() Body { return &LotHeld{} },
	"lot.freed":         func() Body { return &LotFreed{} },
	"document.filed":    func() Body { return &DocumentFiled{} },
	"formula.defined":   func() Body { return &FormulaDefined{} },
	"batch.planned":     func() Body { return &BatchPlanned{} },
	"weighing.taken":    func() Body { return &WeighingTaken{} },
	"reading.taken":     func() Body { return &ReadingTaken{} },
	"step.taken":        func() Body { return &StepTaken{} },
	"portions.split":    func() Body { return &PortionsSplit{} },
	"batch.yielded":     func() Body { return &BatchYielded{} },
	"gate.passed":       func() Body { return &GatePassed{} },
	"deviation.opened":  func() Body { return &DeviationOpened{} },
	"deviation.decided": func() Body { return &DeviationDecided{} },
	"release.decided":   func() Body { return &ReleaseDecided{} },
	"stock.moved":       func() Body { return &StockMoved{} },
	"buyer.added":       func() Body { return &BuyerAdded{} },
	"dispatch.sent":     func() Body { return &DispatchSent{} },
	"dispatch.returned": func() Body { return &DispatchReturned{} },
	"label.issued":      func() Body { return &LabelIssued{} },
	"drill.recorded":    func() Body { return &DrillRecorded{} },
	"entry.struck":      func() Body { return &EntryStruck{} },
}

// encode is the one encoder of bodies. The order of fields is the order in the Go type, text is not HTML-escaped, and
// decimals are strings, so that the bytes say exactly what was recorded.
func encode(b Body) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(b); err != nil {
		return nil, fmt.Errorf("encode %s: %w", b.Kind(), err)
	}
	return bytes.TrimRight(buf.Bytes(), "\n"), nil
}

func decode(kind string, version int16, text []byte) (Body, error) {
	make, ok := kinds[kind]
	if !ok || version != format {
		return nil, fmt.Errorf("entry kind %q in format %d is not known to this version of ashbook; install a newer one", kind, version)
	}
	b := make()
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(b); err != nil {
		return nil, fmt.Errorf("entry kind %q: %w", kind, err)
	}
	return b, nil
}
