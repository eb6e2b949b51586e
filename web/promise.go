// SPDX-License-Identifier: Apache-2.0

package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/web/view"
)

// Promiser answers when an order that is only asked for could leave, and keeps
// capacity for it. It may be called from any goroutine.
type Promiser interface {
	// Promise answers within a caller's patience. Nothing is kept.
	Promise(ctx context.Context, ask promise.Ask) (*promise.Answer, error)
	// Deepen takes the second look and tells how far that is. When ctx ends it
	// answers with what was known until then, and ctx's error.
	Deepen(ctx context.Context, a *promise.Answer, told func(promise.Progress)) (*promise.Answer, error)
	// Keep answers again and keeps the capacity that the answer takes, or says
	// with a *Refusal why that is no longer possible.
	Keep(ctx context.Context, ask promise.Ask, k Keep) (*promise.Held, error)
}

// Keep is how capacity is to be kept.
type Keep struct {
	For      resources.Seconds
	ShipBy   resources.Tick // shipment to promise
	PerMille int64          // it was said to hold in so many of 1000 courses; 0: not known
	By       string         // who promises

	Instead *promise.Alternative // what is to be kept instead of the answer; nil: the answer
}

// AskBody asks for a date.
type AskBody struct {
	Product    string            `json:"product" doc:"a product of the plant"`
	Quantity   int               `json:"quantity" doc:"pieces, 1 to 1000"`
	Wish       string            `json:"wish" doc:"ship-by wished: a date (its cut-off is meant), a date and time, or RFC 3339"`
	Confidence float64           `json:"confidence,omitempty" doc:"share of possible courses in which the second date holds, 0.5 to 0.99; left out: 0.9"`
	Customer   string            `json:"customer,omitempty" doc:"who asks"`
	Kind       string            `json:"kind,omitempty" doc:"firm (late costs per day) or event (worthless when late); left out: firm"`
	Weight     int64             `json:"weight,omitempty" doc:"weight it would have as an order; left out: 1"`
	Hold       resources.Seconds `json:"hold_s,omitempty" doc:"how long its capacity would be kept unconfirmed, 300 s to 14 days; no work begins in that time; left out: 7200"`
}

// KeepBody keeps capacity for an answer.
type KeepBody struct {
	ShipBy resources.Tick `json:"ship_by,omitempty" doc:"shipment to promise; left out: the one at the asked confidence where it is known, else the earliest"`
	By     string         `json:"by,omitempty" doc:"who promises"`

	Alternative int `json:"alternative,omitempty" doc:"which of the alternatives is to be kept, 1 for the first that the answer lists: of the kinds loads, orders and replan, and solved again by the plan as it is now; left out: the answer itself"`
}

// KeptPromise is a promise whose capacity is kept.
type KeptPromise struct {
	Promise string         `json:"promise" doc:"number of the promise, and of the order it becomes"`
	ShipBy  resources.Tick `json:"ship_by" doc:"shipment promised"`
	Expires resources.Tick `json:"expires" doc:"until when its capacity is kept"`
	Seq     uint64         `json:"seq" doc:"its place in the log"`
}

// CloseBody confirms a promise or lets it go.
type CloseBody struct {
	ID       string `json:"id,omitempty" doc:"a text no other event has; the same sent again keeps it and counts once"`
	By       string `json:"by,omitempty" doc:"who says so"`
	Customer string `json:"customer,omitempty" doc:"when confirmed: who it is for, where that was not said before"`
	Why      string `json:"why,omitempty" doc:"why it is let go"`
}

func promisesModel(s *Server, _ echo.Context) (any, error) {
	return promise.Recorded(s.shop.Picture().State), nil
}

func promisePage(s *Server, c echo.Context) (any, error) {
	id := c.QueryParam("question")
	q := s.questions.find(id, s.shop.Picture())
	p := s.view().PromisePage(q, s.promiser != nil)
	p.Lost, p.Tries = id != "" && q == nil, s.trier != nil
	return p, nil
}

func questionModel(s *Server, c echo.Context) (any, error) {
	q, err := s.question(c)
	if err != nil {
		return nil, err
	}
	return *q, nil
}

// question is the one named in the path.
func (s *Server) question(c echo.Context) (*view.Question, error) {
	if q := s.questions.find(part(c, "question"), s.shop.Picture()); q != nil {
		return q, nil
	}
	return nil, fault(http.StatusNotFound, "not_found", "That question is not remembered.", "Ask again; the last "+strconv.Itoa(mostQuestions)+" are kept while the program runs.")
}

// askPromise answers when an asked order could leave, and begins the second look.
func (s *Server) askPromise(c echo.Context) error {
	var body AskBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	if s.promiser == nil {
		return fault(http.StatusNotFound, "not_found", "This shop answers no questions for a date.", "Use towpath promise.")
	}
	v := s.view()
	if v.Empty() != "" {
		return fault(http.StatusServiceUnavailable, "starting", v.Empty(), "Ask again in a moment.")
	}
	wish, ok := v.Picture.State.Plant.ReadShipBy(body.Wish)
	if !ok {
		return fault(http.StatusBadRequest, "bad_request", "wish: "+strconv.Quote(body.Wish)+" cannot be read as a date.", "Allowed: "+resources.ShipByForms+".")
	}
	if skipped := v.Picture.State.Plant.SkippedTime(body.Wish); skipped != "" {
		return fault(http.StatusBadRequest, "bad_request", "wish: "+strconv.Quote(body.Wish)+": "+skipped+".", "Ask for a time that they show.")
	}
	hold, err := promise.HoldOf(body.Hold)
	if err != nil {
		return promiseFault(err)
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
	defer cancel()
	a, err := s.promiser.Promise(ctx, promise.Ask{
		Product: body.Product, Quantity: body.Quantity, Wish: wish, Confidence: body.Confidence, Customer: body.Customer,
		Kind: body.Kind, Weight: body.Weight, From: v.Clock().Now + resources.Tick(hold),
	})
	if errors.Is(err, context.DeadlineExceeded) {
		return fault(http.StatusServiceUnavailable, "busy", "The shop found no answer in time.", "Ask again in a moment.")
	}
	if err != nil {
		return promiseFault(err)
	}
	return c.JSON(http.StatusOK, s.deepen(a, hold))
}

// deepen notes a question with its first answer and begins the second look.
func (s *Server) deepen(a *promise.Answer, hold resources.Seconds) *view.Question {
	ctx, cancel := context.WithCancel(s.life)
	id := s.questions.add(view.Question{State: "waiting", Hold: hold, Answer: a}, cancel)
	go func() {
		defer cancel()
		if !s.questions.enter(ctx, id) {
			return
		}
		defer s.questions.leave()
		var last *promise.Answer
		err := guarded(s.log, func() (err error) {
			last, err = s.promiser.Deepen(ctx, a, func(p promise.Progress) { s.questions.told(id, p) })
			return err
		})
		s.questions.ended(ctx, id, last, err)
		if err != nil && ctx.Err() == nil {
			s.log.Error("second look at an asked date", "err", err)
		}
	}()
	return s.questions.find(id, s.shop.Picture())
}

// stopPromise gives up the second look; what is known stays.
func (s *Server) stopPromise(c echo.Context) error {
	q, err := s.question(c)
	if err != nil {
		return err
	}
	s.questions.stop(q.ID)
	return c.JSON(http.StatusOK, s.questions.find(q.ID, s.shop.Picture()))
}

// keepPromise keeps the capacity of an answer.
func (s *Server) keepPromise(c echo.Context) error {
	var body KeepBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	q, err := s.question(c)
	if err != nil {
		return err
	}
	keep, err := keepOf(q, &body)
	if err != nil {
		return err
	}
	switch number, mine := s.questions.claim(q.ID); {
	case mine:
	case number != "":
		return fault(http.StatusConflict, "refused", "Capacity is kept for that question already, as promise "+number+".", "Confirm it, or let it go and ask again.")
	default:
		return fault(http.StatusConflict, "refused", "Somebody is keeping capacity for that question just now.", "Look again in a moment.")
	}
	number := ""
	defer func() { s.questions.kept(q.ID, number) }()
	ask := q.Answer.Ask
	ask.Order = "" // the shop gives it a number
	ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
	defer cancel()
	held, err := s.promiser.Keep(ctx, ask, keep)
	if errors.Is(err, context.DeadlineExceeded) {
		return fault(http.StatusServiceUnavailable, "busy", "The shop did not answer in time; the capacity may be kept all the same.", "Look at what was promised before you keep it again.")
	}
	if err != nil {
		return promiseFault(err)
	}
	number = held.Promise
	s.seen(ctx, held.Seq)
	return c.JSON(http.StatusOK, KeptPromise{Promise: held.Promise, ShipBy: held.ShipBy, Expires: held.Expires, Seq: held.Seq})
}

// keepOf is what is to be kept for a question.
func keepOf(q *view.Question, body *KeepBody) (Keep, error) {
	a, n := q.Answer, body.Alternative
	if n == 0 {
		by := cmp.Or(body.ShipBy, a.Offered())
		return Keep{For: q.Hold, ShipBy: by, PerMille: a.PerMille(by), By: body.By}, nil
	}
	known := 0
	if a.Otherwise != nil {
		known = len(a.Otherwise.Alternatives)
	}
	if n < 0 || n > known {
		return Keep{}, fault(http.StatusBadRequest, "bad_request", fmt.Sprintf("alternative: there is none of number %d.", n), fmt.Sprintf("The answer lists %d.", known))
	}
	x := &a.Otherwise.Alternatives[n-1]
	if !x.Keepable() {
		return Keep{}, fault(http.StatusBadRequest, "bad_request", "alternative: "+x.Words+" is more than another plan.",
			"Try its changes as a what-if, and adopt them there.")
	}
	by := cmp.Or(body.ShipBy, x.Promised(a))
	keep := Keep{For: q.Hold, ShipBy: by, By: body.By, Instead: x}
	if by >= x.Promised(a) {
		keep.PerMille = x.PerMille()
	}
	return keep, nil
}

// closePromise confirms a promise, or lets it go.
func closePromise(kind events.Kind) func(*Server, echo.Context) error {
	return func(s *Server, c echo.Context) error {
		var body CloseBody
		if err := readBody(c, &body); err != nil {
			return err
		}
		v := s.view()
		if v.Empty() != "" {
			return fault(http.StatusServiceUnavailable, "starting", v.Empty(), "Send it again in a moment.")
		}
		if body.ID == "" {
			body.ID = newID()
		}
		ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
		defer cancel()
		batch := []events.Event{{
			ID: body.ID, Kind: kind, Plant: v.PlantID(), By: body.By,
			Data: events.PromiseData{Promise: part(c, "promise"), Customer: body.Customer, Why: body.Why},
		}}
		now, _ := s.shop.Now()
		batch[0].At = now
		if err := events.Validate(batch[0]); err != nil {
			return err
		}
		return s.tell(ctx, c, batch)
	}
}

// promiseFault says what is wrong with a question, or why it has no answer.
func promiseFault(err error) error {
	var wrong *promise.Fault
	var never *scheduler.Infeasible
	var short *promise.Short
	switch {
	case errors.As(err, &wrong):
		return fault(http.StatusBadRequest, "bad_request", wrong.Error()+".", "Nothing was computed.")
	case errors.As(err, &never):
		return fault(http.StatusConflict, "refused", "It cannot be made: "+never.Error()+".", "Put that right, or ask for less.")
	case errors.As(err, &short):
		hint := short.Hint()
		return fault(http.StatusConflict, "refused", "It cannot be made: with it, "+short.Words+".", strings.ToUpper(hint[:1])+hint[1:]+".")
	case errors.Is(err, scheduler.ErrNothingPossible):
		return fault(http.StatusConflict, "refused", fmt.Sprintf("It cannot be fitted in: %v.", err), "Ask for less, or for a later date.")
	}
	return err
}
