package api

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"ashbook/api/pages"
	"ashbook/ledger"
)

// mountStatic mounts what every page loads, outside the sessions.
func (s *Server) mountStatic(r chi.Router) {
	files := http.StripPrefix("/static/", http.FileServerFS(pages.Static()))
	r.Get("/static/*", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "public, max-age=300")
		files.ServeHTTP(w, r)
	})
}

// mountPages mounts the pages; each says which right it needs.
func (s *Server) mountPages(r chi.Router) {
	r.Get(signInPath, s.open(s.getSignIn))
	r.Post(signInPath, s.open(s.postSignIn))
	r.Post("/sign-out", s.page(ledger.MayRead, s.postSignOut))
	r.Get("/", s.page(ledger.MayRead, s.getHome))
	r.Get("/more", s.page(ledger.MayRead, s.getMore))
	r.Get(passwordPath, s.page(ledger.MayRead, s.getPassword))
	r.Post(passwordPath, s.page(ledger.MayRead, s.postPassword))
	s.mountHouse(r)
	s.mountStore(r)
	s.mountFormulas(r)
	s.mountBench(r)
	s.mountSales(r)
	s.mountAnswers(r)
}

func (s *Server) mountHouse(r chi.Router) {
	r.Get("/shop", s.page(ledger.MayRead, s.getShop))
	r.Post("/shop", s.page(ledger.MayManage, s.postShop))
	r.Get("/people", s.page(ledger.MayRead, s.getPeople))
	r.Post("/people", s.page(ledger.MayManage, s.postPerson))
	r.Post("/people/{id}", s.page(ledger.MayManage, s.postPersonChange))
	r.Post("/people/{id}/password", s.page(ledger.MayManage, s.postPersonPassword))
	r.Get("/suppliers", s.page(ledger.MayRead, s.getSuppliers))
	r.Post("/suppliers", s.page(ledger.MayMake, s.postSupplier))
	r.Get("/buyers", s.page(ledger.MaySell, s.getBuyers))
	r.Post("/buyers", s.page(ledger.MaySell, s.postBuyer))
}

func (s *Server) mountStore(r chi.Router) {
	r.Get("/materials", s.page(ledger.MayRead, s.getMaterials))
	r.Get("/materials/new", s.page(ledger.MayMake, s.getDefine))
	r.Post("/materials/new", s.page(ledger.MayMake, s.postDefine))
	r.Get("/materials/{id}", s.page(ledger.MayRead, s.getMaterial))
	r.Get("/materials/{id}/edit", s.page(ledger.MayMake, s.getDefine))
	r.Post("/materials/{id}/edit", s.page(ledger.MayMake, s.postDefine))
	r.Get("/stock", s.page(ledger.MayRead, s.getStock))
	r.Get("/lots/receive", s.page(ledger.MayMake, s.getReceive))
	r.Post("/lots/receive", s.page(ledger.MayMake, s.postReceive))
	r.Get("/lots/{id}", s.page(ledger.MayRead, s.getLot))
	r.Get("/lots/{id}/{act}", s.page(ledger.MayRead, toThing("/lots/")))
	r.Post("/lots/{id}/hold", s.page(ledger.MaySell, s.postHold))
	r.Post("/lots/{id}/free", s.page(ledger.MayRelease, s.postFree))
	r.Post("/lots/{id}/move", s.page(ledger.MayMake, s.postMove))
	r.Post("/lots/{id}/density", s.page(ledger.MayMake, s.postDensity))
	r.Post("/lots/{id}/right", s.page(ledger.MayMake, s.postRight))
	r.Post("/lots/{id}/papers", s.page(ledger.MayMake, s.postPaper))
	r.Post("/lots/{id}/label", s.page(ledger.MaySell, s.postLotLabel))
	r.Get("/documents/{id}", s.page(ledger.MayRead, s.getDocument))
	r.Get("/labels/{id}.pdf", s.page(ledger.MayRead, s.getLabel))
}

func (s *Server) mountFormulas(r chi.Router) {
	r.Get("/formulas", s.page(ledger.MayRead, s.getFormulas))
	r.Get("/formulas/new", s.page(ledger.MayMake, s.getFormulaEdit))
	r.Post("/formulas/new", s.page(ledger.MayMake, s.postFormula))
	r.Get("/formulas/{id}", s.page(ledger.MayRead, s.getFormula))
	r.Get("/formulas/{id}/next", s.page(ledger.MayMake, s.getFormulaEdit))
	r.Post("/formulas/{id}/next", s.page(ledger.MayMake, s.postFormula))
}

func (s *Server) mountBench(r chi.Router) {
	r.Get("/batches", s.page(ledger.MayRead, s.getBatches))
	r.Get("/batches/plan", s.page(ledger.MayMake, s.getPlan))
	r.Post("/batches/plan", s.page(ledger.MayMake, s.postPlanSoap))
	r.Post("/batches/prepare", s.page(ledger.MayMake, s.postPlanPrep))
	r.Get("/batches/{id}", s.page(ledger.MayRead, s.getBatch))
	r.Get("/batches/{id}/cure.pdf", s.page(ledger.MayRead, s.getCureSheet))
	r.Get("/batches/{id}/{act}", s.page(ledger.MayRead, toThing("/batches/")))
	for act, f := range map[string]batchAct{
		"weigh": s.postWeigh, "step": s.postStep, "event": s.postStep, "reading": s.postReading, "bar": s.postReading, "test": s.postReading,
		"density": s.postReading, "titration": s.postReading, "ph": s.postReading,
		"split": s.postSplit, "cut": s.postCut, "fill": s.postFill, "deviation": s.postDeviation, "label": s.postBatchLabel,
	} {
		right := ledger.MayMake
		if act == "label" {
			right = ledger.MaySell
		}
		r.Post("/batches/{id}/"+act, s.page(right, s.onBatch(f)))
	}
	r.Post("/batches/{id}/release", s.page(ledger.MayRelease, s.onBatch(s.postRelease)))
	r.Post("/batches/{id}/decide/{deviation}", s.page(ledger.MayRelease, s.onBatch(s.postDecide)))
	r.Get("/weighings/{id}/correct", s.page(ledger.MayMake, s.getCorrect))
	r.Post("/weighings/{id}/correct", s.page(ledger.MayMake, s.postCorrect))
	r.Get("/bars/{id}/correct", s.page(ledger.MayMake, s.getBarCorrect))
	r.Post("/bars/{id}/correct", s.page(ledger.MayMake, s.postBarCorrect))
	r.Get("/entries/{id}/strike", s.page(ledger.MaySell, s.getStrike))
	r.Post("/entries/{id}/strike", s.page(ledger.MaySell, s.postStrike))
}

func (s *Server) mountSales(r chi.Router) {
	r.Get("/dispatches", s.page(ledger.MayRead, s.getDispatches))
	r.Get("/dispatches/new", s.page(ledger.MaySell, s.getSend))
	r.Post("/dispatches/new", s.page(ledger.MaySell, s.postSend))
	r.Get("/dispatches/{id}", s.page(ledger.MayRead, s.getDispatch))
	r.Post("/dispatches/{id}/return", s.page(ledger.MaySell, s.postReturn))
}

func (s *Server) mountAnswers(r chi.Router) {
	r.Get("/ask", s.page(ledger.MayRead, s.getAsk))
	r.Get("/journal", s.page(ledger.MayRead, s.getJournal))
	r.Get("/drills", s.page(ledger.MayRead, s.getDrills))
	r.Post("/drills/start", s.page(ledger.MaySell, s.postDrillStart))
	r.Post("/drills", s.page(ledger.MaySell, s.postDrill))
}
