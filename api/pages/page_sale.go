package pages

import (
	"time"

	"github.com/shopspring/decimal"

	"ashbook/ledger"
)

// Dispatches lists what left.
type Dispatches struct {
	Base
	Dispatches []ledger.Dispatch
	Next       int64
}

// Template names the template.
func (*Dispatches) Template() string { return "dispatches" }

// Send sends bars out.
type Send struct {
	Base
	Form  *Form
	Ready bool // there are released bars
}

// Template names the template.
func (*Send) Template() string { return "send" }

// Dispatch shows what left together and takes bars back.
type Dispatch struct {
	Base
	Dispatch ledger.Dispatch
	Lines    []ledger.SentLine
	Return   *Form
}

// Template names the template.
func (*Dispatch) Template() string { return "dispatch" }

// Ask answers about a lot, a batch, a dispatch or a buyer.
type Ask struct {
	Base
	Words  string
	Answer *ledger.Answer // nil: nothing asked, or nothing found
	Fault  string
	// Sums over the lots of bars that were reached.
	Made, OnHand, Sent, Kept, Gone, Unaccounted decimal.Decimal
	Bars                                        int
	Drill                                       *Form // when a drill runs: records its outcome
	Started                                     time.Time
}

// Template names the template.
func (*Ask) Template() string { return "ask" }

// Line is an entry of the journal in words.
type JournalLine struct {
	Entry       int64
	Kind        string // in words
	What        string
	Link        string
	Person      string
	HappenedAt  time.Time
	RecordedAt  time.Time
	Corrects    int64
	CorrectedBy int64
	Reason      string
	Strikable   bool
}

// Journal lists the latest entries.
type Journal struct {
	Base
	Lines []JournalLine
	Next  int64
}

// Template names the template.
func (*Journal) Template() string { return "journal" }

// Drills lists the mock recalls and starts one.
type Drills struct {
	Base
	Drills []ledger.Drill
	Start  *Form
}

// Template names the template.
func (*Drills) Template() string { return "drills" }
