package api

import (
	"context"
	"net/http"
	"time"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// stages are those at which something is still to be done.
var stages = []string{ledger.Planned, ledger.Weighing, ledger.LyeMade, ledger.Combined, ledger.Poured, ledger.Unmoulded, ledger.Curing}

func stageOptions() []pages.Option {
	list := []pages.Option{{Label: "All"}}
	return append(list, pages.Same(append(append([]string{}, stages...), ledger.Released, ledger.Rejected, ledger.Made)...)...)
}

const pageOfBatches = 200 // as many as the ledger gives at a time

func (s *Server) getBatches(w http.ResponseWriter, r *http.Request) error {
	p := &pages.Batches{Stage: r.URL.Query().Get("stage"), Stages: stageOptions()}
	var list []ledger.Batch
	var err error
	keep(&err, &p.Base)(s.base(r, "Batches"))
	keep(&err, &list)(s.ledger.Batches(r.Context(), p.Stage, asked(r, "before")))
	if err != nil {
		return err
	}
	if p.Batches, err = s.waiting(r.Context(), p.Base, list); err != nil {
		return err
	}
	if len(list) == pageOfBatches {
		p.Next = list[len(list)-1].ID
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) waiting(ctx context.Context, b pages.Base, list []ledger.Batch) ([]pages.Waiting, error) {
	ready, err := s.readyDays(ctx, list)
	if err != nil {
		return nil, err
	}
	var out []pages.Waiting
	for _, batch := range list {
		wait := pages.Waiting{Batch: batch, Next: nextWord(batch)}
		if due := dueAt(batch); due.After(b.Now) {
			wait.Due = "from " + b.When(due)
			if batch.Stage == ledger.Curing { // cure is counted in days
				wait.Due = "from " + b.On(due)
			}
		}
		if on := ready[batch.ID]; on.After(today(b)) { // no earlier than its days
			wait.Due = "ready from " + on.Format("2 Jan 2006") + " by its curve"
		}
		out = append(out, wait)
	}
	return out, nil
}

// nextWord names what comes next, for lists.
func nextWord(b ledger.Batch) string {
	if b.Purpose != ledger.ForSoap && (b.Stage == ledger.Planned || b.Stage == ledger.Weighing) {
		return "weigh and fill"
	}
	return map[string]string{ledger.Planned: "start", ledger.Weighing: "weigh, make the lye", ledger.LyeMade: "combine", ledger.Combined: "pour",
		ledger.Poured: "unmould", ledger.Unmoulded: "cut", ledger.Curing: "cure, test, release"}[b.Stage]
}

// dueAt is when the next thing can be done; the zero time when it can be done now.
func dueAt(b ledger.Batch) time.Time {
	switch {
	case b.Stage == ledger.Poured && b.PouredAt != nil:
		return b.PouredAt.Add(time.Duration(b.MouldHours) * time.Hour)
	case b.Stage == ledger.Curing && b.CutAt != nil:
		return b.CutAt.AddDate(0, 0, b.CureDays)
	}
	return time.Time{}
}
