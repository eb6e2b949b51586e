// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"towpath/events"
	"towpath/resources"
	"towpath/web/view"
)

// maxReports is how many facts one request may report.
const maxReports = 100

// ReportBody is what POST /api/report takes, unless it is a CloudEvent.
type ReportBody struct {
	By      string         `json:"by,omitempty" doc:"who reports; may be empty"`
	Reports []ReportedFact `json:"reports" doc:"facts, all believed or none"`
}

// ReportedFact is one fact. Its instant is now unless At says otherwise.
type ReportedFact struct {
	ID      string          `json:"id,omitempty" doc:"a text no other event has; the same fact sent again keeps it and counts once"`
	Kind    events.Kind     `json:"kind" doc:"kind of event, e.g. operation.started"`
	Station string          `json:"station,omitempty" doc:"reporting station; most kinds need it"`
	At      resources.Tick  `json:"at,omitempty" doc:"when it happened, RFC 3339; left out: now"`
	Data    json.RawMessage `json:"data" doc:"payload of the kind"`
}

// ReportAnswer is what became of a believed report.
type ReportAnswer struct {
	Seq    uint64         `json:"seq" doc:"place of the last fact in the log"`
	Repeat bool           `json:"repeat" doc:"true: these very facts were known already"`
	Said   string         `json:"said" doc:"what was recorded, in words"`
	At     resources.Tick `json:"at" doc:"the shop's instant of the answer"`
	Notes  []view.LogNote `json:"notes" doc:"what the engine says about it"`
}

// report takes facts from a page or a program.
func (s *Server) report(c echo.Context) error {
	v := s.view()
	if v.Empty() != "" {
		return fault(http.StatusServiceUnavailable, "starting", v.Empty(), "Send the report again in a moment.")
	}
	body, err := io.ReadAll(c.Request().Body)
	if err != nil {
		return err
	}
	batch, err := s.readReports(c.Request().Header.Get("Content-Type"), body, v.PlantID())
	if err != nil {
		return err
	}
	for i := range batch {
		if k := batch[i].Kind; k == events.PlanPublished || k == events.PlantDeclared {
			return fault(http.StatusUnprocessableEntity, "bad_request", fmt.Sprintf("%s cannot be reported here.", k), "Plans come from the planning loop, plants from the program's start.")
		}
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
	defer cancel()
	return s.tell(ctx, c, batch)
}

// tell tells the shop facts and answers what became of them.
func (s *Server) tell(ctx context.Context, c echo.Context, batch []events.Event) error {
	out, err := s.shop.Report(ctx, batch...)
	if err != nil {
		return err
	}
	s.seen(ctx, out.Seq)
	now, _ := s.shop.Now()
	answer := ReportAnswer{Seq: out.Seq, Repeat: out.Repeat, At: now, Said: said(batch), Notes: []view.LogNote{}}
	for _, n := range out.Notes {
		answer.Notes = append(answer.Notes, view.LogNote{Seq: out.Seq, At: now, About: n.About, Text: n.Text})
	}
	return c.JSON(http.StatusOK, answer)
}

// said names what was recorded.
func said(batch []events.Event) string {
	text := ""
	for i := range batch {
		if i > 0 {
			text += "; "
		}
		text += view.EventWord(batch[i].Kind) + ": " + events.About(batch[i])
	}
	return text
}

func (s *Server) readReports(contentType string, body []byte, plant string) ([]events.Event, error) {
	media, _, err := mime.ParseMediaType(contentType)
	if err != nil {
		media = ""
	}
	switch media {
	case "application/cloudevents+json":
		e, err := events.Decode(body)
		if err != nil {
			return nil, err
		}
		return []events.Event{e}, nil
	case "application/cloudevents-batch+json":
		return readBatch(body)
	case "application/json":
		return s.readBody(body, plant)
	}
	return nil, fault(http.StatusUnsupportedMediaType, "bad_request", "The report's content type is not one that is read here.",
		"Send application/json, application/cloudevents+json or application/cloudevents-batch+json.")
}

func readBatch(body []byte) ([]events.Event, error) {
	var list []json.RawMessage
	if err := json.Unmarshal(body, &list); err != nil {
		return nil, fault(http.StatusBadRequest, "bad_request", "The batch is not a JSON array of events.", "")
	}
	if err := bounded(len(list)); err != nil {
		return nil, err
	}
	out := make([]events.Event, 0, len(list))
	for i, text := range list {
		e, err := events.Decode(text)
		if err != nil {
			return nil, fmt.Errorf("event %d: %w", i+1, err)
		}
		out = append(out, e)
	}
	return out, nil
}

func bounded(n int) error {
	if n < 1 || n > maxReports {
		return fault(http.StatusUnprocessableEntity, "bad_request", fmt.Sprintf("The request reports %d facts; 1 to %d are taken.", n, maxReports), "")
	}
	return nil
}

// readBody makes events of the short form. Each goes through the events
// codec, so that both forms are read equally strictly.
func (s *Server) readBody(body []byte, plant string) ([]events.Event, error) {
	var b ReportBody
	if err := strictly(body, &b); err != nil {
		return nil, fault(http.StatusBadRequest, "bad_request", "The report is not the JSON that is read here: "+bodyFault(err)+".", "See /api/openapi.yaml for its form.")
	}
	if err := bounded(len(b.Reports)); err != nil {
		return nil, err
	}
	now, _ := s.shop.Now()
	out := make([]events.Event, 0, len(b.Reports))
	for i := range b.Reports {
		e, err := decodeFact(&b.Reports[i], b.By, plant, now)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, nil
}

func decodeFact(f *ReportedFact, by, plant string, now resources.Tick) (events.Event, error) {
	id := f.ID
	if id == "" {
		id = newID()
	}
	at := f.At
	if at == 0 {
		at = now
	}
	envelope := map[string]any{
		"specversion": "1.0", "id": id, "type": events.Type(f.Kind), "time": time.Unix(int64(at), 0).UTC().Format(time.RFC3339),
		"source": events.Source(events.Event{Plant: plant, Station: f.Station}), "data": f.Data,
	}
	if by != "" {
		envelope["by"] = by
	}
	text, err := json.Marshal(envelope)
	if err != nil {
		return events.Event{}, fault(http.StatusBadRequest, "bad_request", "The report's data is not JSON.", "")
	}
	return events.Decode(text)
}

// newID is a fresh event ID.
func newID() string {
	var b [16]byte
	rand.Read(b[:]) //nolint:errcheck // it never fails
	return hex.EncodeToString(b[:])
}
