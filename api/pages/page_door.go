package pages

import "ashbook/ledger"

// SignIn asks who one is.
type SignIn struct {
	Base
	Form *Form
}

// Template names the template.
func (*SignIn) Template() string { return "signin" }

// Password sets one's own password; Must says that the one-time password has to go first.
type Password struct {
	Base
	Must bool
	Form *Form
}

// Template names the template.
func (*Password) Template() string { return "password" }

// Problem says what went wrong when there is no form to say it in.
type Problem struct {
	Base
	Status  int
	Message string
	Next    string // what to do now
}

// Template names the template.
func (*Problem) Template() string { return "problem" }

// Waiting is a batch with what comes next for it.
type Waiting struct {
	ledger.Batch
	Next string
	Due  string // when it can be done, empty when it can be done now
}

// StageGroup are the batches of one stage that wait.
type StageGroup struct {
	Stage   string
	Batches []Waiting
}

// OpenDeviation is a deviation that nobody has decided, with its batch.
type OpenDeviation struct {
	ledger.Deviation
	Code string
	Name string
}

// FirstStep is something that a new shop does once.
type FirstStep struct {
	Done bool
	Text string
	Link string
}

// Home shows what waits.
type Home struct {
	Base
	First      []FirstStep // nil once the shop works
	Groups     []StageGroup
	Held       []ledger.Lot
	Expiring   []ledger.Lot
	Deviations []OpenDeviation
}

// Template names the template.
func (*Home) Template() string { return "home" }

// Calm tells that nothing waits.
func (h *Home) Calm() bool {
	return len(h.Groups)+len(h.Held)+len(h.Expiring)+len(h.Deviations) == 0
}

// More lists the rooms that the menu has no place for.
type More struct{ Base }

// Template names the template.
func (*More) Template() string { return "more" }
