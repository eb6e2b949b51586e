// SPDX-License-Identifier: Apache-2.0

package web

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/whatif"
	"towpath/web/view"
)

// Trier plans the shop with changes beside the shop as it is, and makes changes
// the shop's own. It may be called from any goroutine.
type Trier interface {
	// Try plans both, from the plan in force (nil: there is none), and compares.
	// It tells how far it is. When ctx ends first it compares the best plans
	// until then, with ctx's error; nil when there are none.
	Try(ctx context.Context, q *whatif.Question, from *scheduler.Plan, told func(TryProgress)) (*Trial, error)
	// Adopt reports the events that make the changes, all or none, or says with
	// a *Refusal why the comparison no longer holds. mark begins their IDs.
	Adopt(ctx context.Context, q *whatif.Question, mark, by string) (Outcome, error)
	// TakeOff declares the plant without one of the sets that were adopted on
	// top of its file, told by its key, or says with a *Refusal why not.
	TakeOff(ctx context.Context, key, by string) (Outcome, error)
}

// Shelf keeps what was tried over a restart of the program. It may be called
// from any goroutine.
type Shelf interface {
	// Load lists what is kept, the oldest first; with an error, what of it could
	// be read.
	Load() ([]view.WhatIf, error)
	// Put keeps a set under its ID, as it is now.
	Put(x view.WhatIf) error
	// Drop forgets a set.
	Drop(id string) error
}

// Trial is a comparison with the two plans it compares.
type Trial struct {
	*whatif.Comparison
	Before *scheduler.Plan
	After  *scheduler.Plan
}

// TryProgress is how far trying is.
type TryProgress struct {
	Doing string // in words
	Done  int
	Most  int // 0: not known
}

// NameBody calls a set of changes something else.
type NameBody struct {
	Name string `json:"name" doc:"what it is called, at most 80 characters on one line"`
}

// AdoptBody makes changes the shop's own.
type AdoptBody struct {
	By string `json:"by,omitempty" doc:"who adopts them"`
}

func whatifsModel(s *Server, _ echo.Context) (any, error) { return s.whatifs.brief(), nil }

func whatifModel(s *Server, c echo.Context) (any, error) {
	x, err := s.tried(c)
	if err != nil {
		return nil, err
	}
	return x.WhatIf, nil
}

// whatifLineups are the two line-ups of a set.
func whatifLineups(s *Server, c echo.Context) (any, error) {
	x, err := s.tried(c)
	if err != nil {
		return nil, err
	}
	q, err := lineupQuery(c)
	if err != nil {
		return nil, err
	}
	if x.sides == nil {
		return nil, fault(http.StatusConflict, "busy", "There are no line-ups: "+x.WhyNot+".", "Wait for the comparison, or try it again.")
	}
	return x.sides().Lineups(q), nil
}

// whatifPage is where changes are put together.
func whatifPage(s *Server, c echo.Context) (any, error) {
	var from *view.WhatIf
	id := c.QueryParam("from")
	if id != "" {
		if x := s.whatifs.find(id, s.shop.Picture()); x != nil {
			from = &x.WhatIf
		}
	}
	p := s.view().WhatIfPage(s.whatifs.brief(), from, s.trier != nil)
	p.Gone = id != "" && from == nil
	return p, nil
}

// whatifTriedPage is what came of a set.
func whatifTriedPage(s *Server, c echo.Context) (any, error) {
	x, err := s.tried(c)
	if err != nil {
		return nil, err
	}
	p := view.TriedPage{WhatIf: x.WhatIf}
	if p.Comparison == nil {
		return p, nil
	}
	if p.Shelved {
		p.Sides = &view.SidesPage{Comparison: p.Comparison, Figures: true}
	} else if p.Sides, err = sidesPage(c, p.Comparison, x.sides()); err != nil {
		return nil, err
	}
	p.Sides.WasWord, p.Sides.IsWord = "as it is", "what if"
	if r := p.Comparison.Chances; r != nil {
		p.Sides.WasRisk, p.Sides.IsRisk = &r.Before, &r.After
	}
	p.Sides.Tries, p.Sides.Few = p.Comparison.Iterations, view.FewTries(p.Comparison)
	return p, nil
}

func sidesPage(c echo.Context, x *whatif.Comparison, sides *view.Sides) (*view.SidesPage, error) {
	q, err := lineupQuery(c)
	if err != nil {
		return nil, err
	}
	return &view.SidesPage{Comparison: x, Lineups: sides.Lineups(q), All: c.QueryParam("all") == "1"}, nil
}

func whatifPairModel(s *Server, c echo.Context) (any, error) {
	p, _, err := s.pair(c)
	return p, err
}

func whatifPairPage(s *Server, c echo.Context) (any, error) {
	pair, sides, err := s.pair(c)
	if err != nil {
		return nil, err
	}
	p := view.PairPage{WhatIfPair: pair}
	if p.Sides, err = sidesPage(c, pair.Comparison, sides); err != nil {
		return nil, err
	}
	p.Sides.WasWord, p.Sides.IsWord, p.Sides.WasRisk, p.Sides.IsRisk = pair.A.Name, pair.B.Name, pair.RiskA, pair.RiskB
	p.Sides.Tries, p.Sides.Few = pair.Comparison.Iterations, pair.Few
	return p, nil
}

// pair holds the two sets that are named against each other.
func (s *Server) pair(c echo.Context) (p view.WhatIfPair, sides *view.Sides, err error) {
	var two [2]*tried
	for i, name := range []string{"a", "b"} {
		if two[i], err = s.keptWhatIf(c.QueryParam(name)); err != nil {
			return p, nil, err
		}
		if two[i].trial == nil {
			return p, nil, fault(http.StatusConflict, "busy", strconv.Quote(two[i].Name)+" cannot be compared: "+two[i].WhyNot+".", "Wait for its comparison, or try it again.")
		}
	}
	a, b := two[0], two[1]
	if a.ID == b.ID {
		return p, nil, fault(http.StatusBadRequest, "bad_request", "a and b are one and the same.", "Name two sets.")
	}
	p = view.WhatIfPair{A: a.WhatIfBrief, B: b.WhatIfBrief, Together: a.q.Together(b.q)}
	if p.Comparison, sides, err = s.whatifs.compared(a, b); err != nil {
		return p, nil, err
	}
	if x, y := a.Comparison.Chances, b.Comparison.Chances; x != nil && y != nil {
		p.RiskA, p.RiskB = &x.After, &y.After
	}
	p.Few = view.FewTries(a.Comparison) || view.FewTries(b.Comparison)
	return p, sides, nil
}

// tried is the set named in the path.
func (s *Server) tried(c echo.Context) (*tried, error) { return s.keptWhatIf(part(c, "whatif")) }

func (s *Server) keptWhatIf(id string) (*tried, error) {
	if x := s.whatifs.find(id, s.shop.Picture()); x != nil {
		return x, nil
	}
	return nil, fault(http.StatusNotFound, "not_found", "That what-if is not kept.", fmt.Sprintf("Try it again; the last %d are kept.", mostWhatIfs))
}

// tryWhatIf makes changes on a copy of the shop and begins to plan it.
func (s *Server) tryWhatIf(c echo.Context) error {
	var body WhatIfBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	if s.trier == nil {
		return fault(http.StatusNotFound, "not_found", "This shop tries no changes.", "Use towpath whatif.")
	}
	if v := s.view(); v.Empty() != "" {
		return fault(http.StatusServiceUnavailable, "starting", v.Empty(), "Ask again in a moment.")
	}
	p := s.shop.Picture()
	q, err := question(&body, p)
	if err != nil {
		return err
	}
	x := &tried{q: q, WhatIf: view.WhatIf{
		WhatIfBrief: view.WhatIfBrief{Name: q.Set.Name, State: "waiting", Asked: q.Now},
		Note:        q.Set.Note, Changes: []string{}, OfPlant: q.OfPlant(), Rows: body.Changes, Source: body.Text,
	}}
	if x.Rows == nil {
		x.Rows = []json.RawMessage{}
	}
	for i := range q.Set.Changes {
		x.Changes = append(x.Changes, q.Set.Changes[i].Words(p.State.Plant.Zone))
	}
	if p.Plan != nil {
		x.Plan = p.Plan.Version
	}
	return c.JSON(http.StatusOK, s.compare(x, p.Plan).WhatIf)
}

// compare keeps a set and begins to plan it in the background.
func (s *Server) compare(x *tried, from *scheduler.Plan) *tried {
	ctx, cancel := context.WithCancel(s.life)
	x.cancel = cancel
	q := x.q
	id := s.whatifs.add(x)
	go func() {
		defer cancel()
		if !s.whatifs.enter(ctx, id) {
			return
		}
		defer s.whatifs.leave()
		var trial *Trial
		err := guarded(s.log, func() (err error) {
			trial, err = s.trier.Try(ctx, q, from, func(p TryProgress) { s.whatifs.told(id, p) })
			return err
		})
		s.whatifs.ended(ctx, id, trial, err)
		if err != nil && ctx.Err() == nil {
			s.log.Error("try a set of changes", "err", err)
		}
	}()
	if kept := s.whatifs.find(id, s.shop.Picture()); kept != nil {
		return kept
	}
	return x // twenty others have come in between
}

// stopWhatIf gives up planning; what is found stays.
func (s *Server) stopWhatIf(c echo.Context) error {
	x, err := s.tried(c)
	if err != nil {
		return err
	}
	x.cancel()
	return s.answerWhatIf(c, x.ID)
}

func (s *Server) answerWhatIf(c echo.Context, id string) error {
	x, err := s.keptWhatIf(id)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, x.WhatIf)
}

// renameWhatIf calls a set something else.
func (s *Server) renameWhatIf(c echo.Context) error {
	var body NameBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	x, err := s.tried(c)
	if err != nil {
		return err
	}
	name := strings.TrimSpace(body.Name)
	if !resources.IsSetName(name) {
		return fault(http.StatusBadRequest, "bad_request", fmt.Sprintf("name: %q cannot be a name.", body.Name), "Allowed: "+resources.AllowedSetName+".")
	}
	s.whatifs.rename(x.ID, name)
	return s.answerWhatIf(c, x.ID)
}

// dropWhatIf forgets a set.
func (s *Server) dropWhatIf(c echo.Context) error {
	x, err := s.tried(c)
	if err != nil {
		return err
	}
	s.whatifs.drop(x.ID)
	return c.JSON(http.StatusOK, s.whatifs.brief())
}

// adoptWhatIf makes the changes of a set the shop's own.
func (s *Server) adoptWhatIf(c echo.Context) error {
	var body AdoptBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	x, err := s.tried(c)
	if err != nil {
		return err
	}
	if x.trial == nil && x.Adopted == nil {
		return fault(http.StatusConflict, "refused", "It cannot be adopted: "+x.WhyNot+".", "Wait for the comparison, or try it again.")
	}
	if !s.whatifs.beginAdopting(x.ID) {
		return s.adoptedAlready(x.ID)
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
	defer cancel()
	out, err := s.trier.Adopt(ctx, x.q, "whatif-"+x.ID, body.By)
	now, _ := s.shop.Now()
	s.whatifs.endAdopting(x.ID, out.Seq, body.By, now)
	if err != nil {
		return err
	}
	s.seen(ctx, out.Seq)
	return s.answerWhatIf(c, x.ID)
}

func (s *Server) adoptedAlready(id string) error {
	x, err := s.keptWhatIf(id)
	if err != nil {
		return err
	}
	if x.Adopted == nil {
		return fault(http.StatusConflict, "busy", "Somebody is adopting it at this moment.", "Look again in a moment.")
	}
	return fault(http.StatusConflict, "refused",
		fmt.Sprintf("%s was adopted already, by %s, as far as event %s.", strconv.Quote(x.Name), cmp.Or(x.Adopted.By, "somebody"), strconv.FormatUint(x.Adopted.Seq, 10)),
		"Nothing more was changed. Try another set, or look at the log.")
}
