// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"towpath/web/view"
)

// Options are what a Server works with. Shop is required.
type Options struct {
	Shop    Shop
	Logger  *slog.Logger
	Version string        // of the program, for the help page; may be empty
	Beat    time.Duration // between signs of life on a live stream; default 10 s
	Streams int           // live streams at once; default 256
	Season  Season        // for looking far ahead; nil: no forecast, no solving of additions
	Chances Chances       // plays the plan forward; nil: nobody does
	History History       // what the log knows; nil: nothing is said of breakdowns
	Saver   Saver         // finds what would save an order; nil: nobody is asked
	Promise Promiser      // answers when an asked order could leave; nil: nobody is asked
	Trier   Trier         // tries changes on a copy; nil: nobody does
	Shelf   Shelf         // keeps what was tried; nil: nobody does, over a restart
}

// Server answers requests for pages, JSON and live updates.
type Server struct {
	shop    Shop
	log     *slog.Logger
	version string
	echo    *echo.Echo
	pages   *templates
	streams *streams
	season  Season
	reports reports
	worths  long[view.WorthJob]
	saver   Saver
	savings savings
	chances Chances
	risks   long[view.RiskJob]
	history History
	learned learned

	promiser  Promiser
	questions *questions

	trier   Trier
	whatifs *whatifs

	life  context.Context // of streams and of work that goes on after its request; over when the server closes
	close context.CancelFunc

	mu   sync.Mutex
	last *view.View // of the latest picture asked for
}

// New prepares a Server. It fails only when a page's template is broken, or
// without a Shop.
func New(o Options) (*Server, error) {
	if o.Shop == nil {
		return nil, errors.New("web: a shop is required")
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Beat <= 0 {
		o.Beat = 10 * time.Second
	}
	if o.Streams <= 0 {
		o.Streams = 256
	}
	pages, err := loadTemplates()
	if err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	s := &Server{
		shop: o.Shop, log: o.Logger, version: o.Version, echo: echo.New(), pages: pages,
		streams: &streams{most: o.Streams, beat: o.Beat}, season: o.Season, saver: o.Saver, chances: o.Chances, history: o.History,
		promiser: o.Promise, questions: newQuestions(), trier: o.Trier, whatifs: newWhatIfs(o.Shelf, o.Logger),
	}
	s.life, s.close = context.WithCancel(context.Background())
	s.echo.HideBanner, s.echo.HidePort = true, true
	s.echo.HTTPErrorHandler = s.handleError
	s.echo.Use(s.recover, s.guard, middleware.GzipWithConfig(middleware.GzipConfig{
		MinLength: 1024, Skipper: func(c echo.Context) bool { return c.Request().URL.Path == "/live" },
	}))
	s.routes()
	return s, nil
}

// Handler is the whole site, for a server of somebody else's or a test.
func (s *Server) Handler() http.Handler { return s.echo }

// Serve answers on a listener until the context ends, then lets requests under
// way finish and closes live streams. The listener is closed when it returns.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{
		Handler: s.echo, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: maxHeaders,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		return fmt.Errorf("web: %w", err)
	case <-ctx.Done():
	}
	s.Close()
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := srv.Shutdown(grace); err != nil {
		_ = srv.Close()
	}
	<-done
	return nil
}

// Close ends live streams and gives up what is being computed; requests are still answered.
func (s *Server) Close() { s.close() }

// recover turns a panic in a handler into an internal error.
func (s *Server) recover(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			if p := recover(); p != nil {
				if abort, ok := p.(error); ok && errors.Is(abort, http.ErrAbortHandler) {
					panic(p)
				}
				s.log.Error("handler panicked", "path", c.Request().URL.Path, "panic", p, "stack", string(debug.Stack()))
				err = fmt.Errorf("handler panicked: %v", p)
				c.Error(err)
				err = nil
			}
		}()
		return next(c)
	}
}

// view is the latest picture with its lists, at the shop's present instant.
func (s *Server) view() *view.View {
	p := s.shop.Picture()
	now, _ := s.shop.Now()
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.last == nil || s.last.Picture != p {
		s.last = view.New(p)
	}
	return s.last.At(now)
}
