// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"

	"towpath/resources"
)

// streams bounds the live streams.
type streams struct {
	most int
	open atomic.Int64
	beat time.Duration
}

// settle is the shortest time between two signals on one stream, so that a
// burst of facts does not make every page load itself ten times.
const settle = 300 * time.Millisecond

// seenWithin is how long an answer waits at most for the pages to show what it
// answers.
const seenWithin = time.Second

// seen waits until the pages show the log as far as a fact, so that who is told
// of it and looks finds it. It is safe already: when that takes too long, it is
// told all the same.
func (s *Server) seen(ctx context.Context, seq uint64) {
	ctx, cancel := context.WithTimeout(ctx, seenWithin)
	defer cancel()
	shown := func() bool {
		p := s.shop.Picture()
		return p.State != nil && p.State.Seq >= seq
	}
	for news := s.shop.Subscribe(ctx); !shown(); {
		select {
		case <-ctx.Done():
			return
		case _, open := <-news:
			if !open {
				return
			}
		}
	}
}

// Sign is what the live stream says: which picture is the latest, and what
// time it is in the shop.
type Sign struct {
	Version uint64         `json:"version" doc:"changes with every picture"`
	Now     resources.Tick `json:"now" doc:"the shop's instant"`
	Speed   float64        `json:"speed" doc:"seconds of the shop in one second of the wall"`
}

func (s *Server) sign() Sign {
	now, speed := s.shop.Now()
	p := s.shop.Picture()
	return Sign{Version: p.Version, Now: max(now, p.Now), Speed: speed}
}

// live streams signs as server-sent events (HTML Standard, section 9.2).
func (s *Server) live(c echo.Context) error {
	if s.streams.open.Add(1) > int64(s.streams.most) {
		s.streams.open.Add(-1)
		return fault(http.StatusServiceUnavailable, "busy", "Too many pages are connected.", "Close some; this page asks again by itself.")
	}
	defer s.streams.open.Add(-1)
	ctx := c.Request().Context()
	news := s.shop.Subscribe(ctx)
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, "text/event-stream")
	h.Set(echo.HeaderCacheControl, "no-store")
	h.Set("X-Accel-Buffering", "no")
	c.Response().WriteHeader(http.StatusOK)
	beat := time.NewTicker(s.streams.beat)
	defer beat.Stop()
	for {
		if err := s.sendSign(c); err != nil {
			return nil // the page is gone
		}
		select {
		case <-ctx.Done():
			return nil
		case <-s.life.Done():
			return nil
		case <-beat.C:
		case _, open := <-news:
			if !open {
				return nil
			}
			select {
			case <-time.After(settle):
			case <-ctx.Done():
				return nil
			}
		}
	}
}

func (s *Server) sendSign(c echo.Context) error {
	text, err := json.Marshal(s.sign())
	if err != nil {
		return err
	}
	control := http.NewResponseController(c.Response())
	_ = control.SetWriteDeadline(time.Now().Add(2*s.streams.beat + requestTime))
	if _, err := fmt.Fprintf(c.Response(), "event: picture\ndata: %s\n\n", text); err != nil {
		return err
	}
	return control.Flush()
}
