package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"ashbook/ledger"
)

// Config says what a server serves.
type Config struct {
	Ledger   *ledger.Ledger
	Logger   *slog.Logger // nil: slog.Default
	Insecure bool         // cookies without Secure, for plain http
}

// Server answers HTTP requests about one ledger. It is safe for use by many goroutines.
type Server struct {
	ledger   *ledger.Ledger
	log      *slog.Logger
	sessions *scs.SessionManager
	throttle *throttle
	handler  http.Handler
}

// New makes a server with everything mounted.
func New(cfg Config) (*Server, error) {
	if cfg.Ledger == nil {
		return nil, errors.New("the server has no ledger; open one and give it in Config")
	}
	if cfg.Logger == nil {
		cfg.Logger = slog.Default()
	}
	if _, err := nobodysHash(); err != nil { // made now, so that the first unknown login takes no longer than the next
		return nil, fmt.Errorf("prepare the comparison of passwords: %w", err)
	}
	s := &Server{ledger: cfg.Ledger, log: cfg.Logger, throttle: newThrottle(cfg.Ledger.Now)}
	s.sessions = s.newSessions(cfg.Insecure)
	router, err := s.routes()
	if err != nil {
		return nil, err
	}
	s.handler = router
	return s, nil
}

// Handler gives the chi router with everything mounted.
func (s *Server) Handler() http.Handler { return s.handler }

func (s *Server) routes() (chi.Router, error) {
	r := chi.NewRouter()
	r.Use(s.nameRequest, s.logAccess, s.recoverPanic, setHeaders, s.refuseCrossOrigin(), s.refuseUnreadable, limitBody, middleware.GetHead)
	r.NotFound(s.notFound)
	r.MethodNotAllowed(s.methodNotAllowed)
	r.Get("/healthz", s.health)
	r.Get("/problems/{name}", s.explainProblem)
	s.mountStatic(r)
	var err error
	r.Group(func(r chi.Router) {
		r.Use(s.sessions.LoadAndSave, s.identify)
		err = s.mountAPI(r)
		s.mountPages(r)
	})
	return r, err
}

// health answers 204 while the database answers.
func (s *Server) health(w http.ResponseWriter, r *http.Request) {
	if err := s.ledger.Pool().Ping(r.Context()); err != nil {
		s.log.ErrorContext(r.Context(), "the database does not answer", "error", err)
		w.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// graceful is how long running requests may take after the server was told to stop.
const graceful = 10 * time.Second

// Serve answers on a listener until the context ends, then lets running requests finish. It returns nil after such an
// end, and the error of the listener otherwise.
func (s *Server) Serve(ctx context.Context, listener net.Listener) error {
	server := &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       2 * time.Minute, // an upload over a slow line
		WriteTimeout:      3 * time.Minute, // verify replays the whole journal
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go s.sweepSessions(ctx)
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		patience, done := context.WithTimeout(context.WithoutCancel(ctx), graceful)
		defer done()
		stopped <- server.Shutdown(patience)
	}()
	if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return <-stopped
}
