package api

import (
	"fmt"
	"net/http"
	"strconv"

	"ashbook/api/pages"
	"ashbook/ledger"
	"ashbook/ledger/measure"
)

// batchAct answers a form that stands on the page of a batch.
type batchAct func(w http.ResponseWriter, r *http.Request, b ledger.Batch) error

func (s *Server) onBatch(f batchAct) pageFunc {
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := number(r, "id")
		if err != nil {
			return err
		}
		b, err := s.ledger.Batch(r.Context(), id)
		if err != nil {
			return err
		}
		return f(w, r, b)
	}
}

// bench is the page of the batch with the form as it is now in its place.
func (s *Server) bench(in *input, b ledger.Batch, line int) again {
	return func() (pages.Page, error) {
		p, err := s.batchPage(in.r, b.ID, line)
		if err != nil {
			return nil, err
		}
		p.Put(in.form)
		return p, nil
	}
}

func toBatch(b ledger.Batch, say string) outcome {
	return func(ledger.Body) (string, string) { return "/batches/" + digits(b.ID), say }
}

func (s *Server) postStep(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	if err := parseForm(r); err != nil {
		return err
	}
	step := r.PostForm.Get("step")
	form := stepForm(b, step, "Record the step: "+step)
	if r.PostForm.Get("form") == "event" {
		form = eventForm(b)
	}
	in, err := s.read(r, form)
	if err != nil {
		return err
	}
	body := &ledger.StepTaken{Batch: b.ID, Step: step, Note: in.text("note")}
	return in.record(w, body, s.bench(in, b, 0), toBatch(b, "Recorded: "+step+"."))
}

func (s *Server) postReading(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	if err := parseForm(r); err != nil {
		return err
	}
	outputs, err := s.ledger.Outputs(r.Context(), b.ID)
	if err != nil {
		return err
	}
	form := readingForm(b, "")
	switch r.PostForm.Get("form") {
	case "bar":
		form = barForm(b, barsOf(outputs), "")
	case "test":
		form = testForm(b)
	case "density":
		form = densityForm(actionOf(b, "density"))
	case "titration":
		form = titrationForm(b)
	case "ph":
		form = phForm(b)
	case "reading-now":
		form = readingForm(b, r.PostForm.Get("type"))
	}
	in, err := s.read(r, form)
	if err != nil {
		return err
	}
	return in.record(w, in.reading(b), s.bench(in, b, 0), func(kept ledger.Body) (string, string) {
		reading := kept.(*ledger.ReadingTaken)
		return "/batches/" + digits(b.ID), fmt.Sprintf("Read: %s, %s %s.", reading.Type, reading.Typed, reading.Unit)
	})
}

func barsOf(outputs []ledger.Lot) []ledger.Lot {
	var list []ledger.Lot
	for _, o := range outputs {
		if o.What == "bars" {
			list = append(list, o)
		}
	}
	return list
}

func (in *input) reading(b ledger.Batch) *ledger.ReadingTaken {
	body := &ledger.ReadingTaken{Batch: b.ID, Type: in.text("type"), Typed: in.text("typed"), Unit: in.text("unit"), Method: in.text("method"),
		Instrument: in.text("instrument"), Sample: in.text("sample")}
	switch in.form.ID {
	case "bar":
		body.Batch, body.Lot = 0, in.chosen("lot")
	case "density":
		body.At, body.Within = in.at(), in.optional("within")
	case "titration":
		body.Titration, body.Limit = in.titrated(), in.limit()
		body.Type = ledger.SoapMethods()[body.Titration.Method]
	case "ph":
		body.Way, body.Solution, body.At, body.Passed = in.text("way"), in.optional("solution"), in.at(), in.passed()
	case "test":
		body.Passed, body.Limit, body.Within, body.MeasuredBy = in.passed(), in.limit(), in.optional("within"), in.text("measured_by")
	}
	return body
}

// passed is the verdict that was chosen; nil when none was.
func (in *input) passed() *bool {
	verdict := in.text("passed")
	if verdict != "yes" && verdict != "no" {
		return nil
	}
	passed := verdict == "yes"
	return &passed
}

func (s *Server) postSplit(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	portions, err := s.ledger.BatchPortions(r.Context(), b.ID)
	if err != nil {
		return err
	}
	in, err := s.read(r, splitForm(b, portions))
	if err != nil {
		return err
	}
	body := &ledger.PortionsSplit{Batch: b.ID, Density: in.optional("batter_density")}
	for i := range portions {
		row := "portions." + strconv.Itoa(i) + "."
		body.Portions = append(body.Portions, ledger.PortionMass{Name: in.text(row + "name"), Mass: in.mass(row+"mass", row+"unit")})
	}
	return in.record(w, body, s.bench(in, b, 0), toBatch(b, "The pot is divided."))
}

func (s *Server) postCut(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	portions, err := s.ledger.BatchPortions(r.Context(), b.ID)
	if err != nil {
		return err
	}
	in, err := s.read(r, cutForm(b, portions))
	if err != nil {
		return err
	}
	body := &ledger.BatchYielded{Batch: b.ID, Waste: in.wasted()}
	for i := range max(1, len(portions)) {
		row := "outputs." + strconv.Itoa(i) + "."
		if in.text(row+"pieces") != "" || in.text(row+"mass") != "" {
			body.Outputs = append(body.Outputs, ledger.Output{What: "bars", Portion: in.text(row + "portion"), Pieces: in.count(row + "pieces"),
				Mass: in.mass(row+"mass", row+"unit"), BestBefore: in.text("best_before")})
		}
	}
	if in.text("remnants") != "" {
		body.Outputs = append(body.Outputs, ledger.Output{What: "remnants", Name: "Trimmings of " + b.Name, Mass: in.mass("remnants", "remnants_unit")})
	}
	return in.record(w, body, s.bench(in, b, 0), yielded)
}

// wasted is what was thrown away; nil when nothing was.
func (in *input) wasted() *measure.Mass {
	if in.text("waste") == "" {
		return nil
	}
	m := in.mass("waste", "waste_unit")
	return &m
}

func (s *Server) postFill(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	in, err := s.read(r, fillForm(b))
	if err != nil {
		return err
	}
	body := &ledger.BatchYielded{Batch: b.ID, Waste: in.wasted(),
		Outputs: []ledger.Output{{What: "prepared", Mass: in.mass("mass", "unit"), BestBefore: in.text("best_before")}}}
	return in.record(w, body, s.bench(in, b, 0), yielded)
}

func yielded(kept ledger.Body) (to, say string) {
	y := kept.(*ledger.BatchYielded)
	say = "It gave"
	for i, o := range y.Outputs {
		if i > 0 {
			say += ","
		}
		say += " " + o.Code
	}
	return "/batches/" + digits(y.Batch), say + ". Write the code on the tray or the jug."
}

func (s *Server) postDeviation(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	in, err := s.read(r, deviationForm(b))
	if err != nil {
		return err
	}
	return in.record(w, &ledger.DeviationOpened{Batch: b.ID, What: in.text("what")}, s.bench(in, b, 0), toBatch(b, "A deviation is open. Somebody with the right decides it."))
}

func (s *Server) postDecide(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	id, err := number(r, "deviation")
	if err != nil {
		return err
	}
	in, err := s.read(r, decideForm(ledger.Deviation{ID: id, Batch: b.ID}))
	if err != nil {
		return err
	}
	return in.record(w, &ledger.DeviationDecided{Deviation: id, Decision: in.text("decision")}, s.bench(in, b, 0), toBatch(b, "The deviation is decided."))
}

func (s *Server) postRelease(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	in, err := s.read(r, releaseForm(b))
	if err != nil {
		return err
	}
	body := &ledger.ReleaseDecided{Batch: b.ID, Decision: in.text("decision"), Statement: in.text("statement")}
	return in.record(w, body, s.bench(in, b, 0), toBatch(b, b.Code+" is "+body.Decision+"."))
}

func (s *Server) postBatchLabel(w http.ResponseWriter, r *http.Request, b ledger.Batch) error {
	outputs, err := s.ledger.Outputs(r.Context(), b.ID)
	if err != nil {
		return err
	}
	in, err := s.read(r, labelForm(actionOf(b, "label"), barsOf(outputs)))
	if err != nil {
		return err
	}
	return in.issue(w, s.bench(in, b, 0), "/batches/"+digits(b.ID)+"#labels")
}
