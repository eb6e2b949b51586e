// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/segmentio/encoding/json" // every report of a busy shop publishes a plan: a third of the time of encoding/json

	"towpath/events"
)

// maxPlanText bounds an unpacked plan, so that a small malicious event cannot
// fill the memory: about a million operations.
const maxPlanText = 512 << 20

// publication is a published plan with ways to find things in it. It is never
// changed, so clones share it.
type publication struct {
	plan  *Plan
	gzip  []byte   // as it was published; nil for a plan that came otherwise
	sum   [32]byte // of the packed text
	works map[Member]int32
	loads map[string]int32
	mixes map[string]int32
}

func index(plan *Plan) *publication {
	p := &publication{
		plan:  plan,
		works: make(map[Member]int32, len(plan.Work)),
		loads: make(map[string]int32, len(plan.Loads)),
		mixes: make(map[string]int32, len(plan.Mixes)),
	}
	for i := range plan.Work {
		p.works[Member{plan.Work[i].Piece, plan.Work[i].Operation}] = int32(i)
	}
	for i := range plan.Loads {
		p.loads[plan.Loads[i].ID] = int32(i)
	}
	for i := range plan.Mixes {
		p.mixes[plan.Mixes[i].ID] = int32(i)
	}
	return p
}

func (p *publication) work(piece, operation string) *Work {
	if i, ok := p.works[Member{piece, operation}]; ok {
		return &p.plan.Work[i]
	}
	return nil
}

func (p *publication) load(id string) *Load {
	if i, ok := p.loads[id]; ok {
		return &p.plan.Loads[i]
	}
	return nil
}

func (p *publication) mix(id string) *Mix {
	if i, ok := p.mixes[id]; ok {
		return &p.plan.Mixes[i]
	}
	return nil
}

// published is the last published plan with its index; nil before the first.
func (s *State) published() *publication {
	if s.Plan == nil {
		return nil
	}
	if s.planned == nil || s.planned.plan != s.Plan {
		s.planned = index(s.Plan) // somebody put a plan there without an event
	}
	return s.planned
}

// packed is the plan as the text of its event, with its SHA-256.
func (p *publication) packed() ([]byte, [32]byte, error) {
	if p.gzip != nil {
		return p.gzip, p.sum, nil
	}
	text, err := PackPlan(p.plan)
	return text, sha256.Sum256(text), err
}

// PackPlan writes a plan as plan.published carries it: gzip-compressed JSON,
// the same bytes for equal plans.
func PackPlan(p *Plan) ([]byte, error) {
	text, err := json.Marshal(p)
	if err != nil {
		return nil, fmt.Errorf("write plan: %w", err)
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b) // its header holds no time, so the bytes depend on the plan alone
	if _, err = z.Write(text); err == nil {
		err = z.Close()
	}
	if err != nil {
		return nil, fmt.Errorf("pack plan: %w", err)
	}
	return b.Bytes(), nil
}

// UnpackPlan reads what PackPlan writes.
func UnpackPlan(text []byte) (*Plan, error) {
	z, err := gzip.NewReader(bytes.NewReader(text))
	if err != nil {
		return nil, fmt.Errorf("unpack plan: %w", err)
	}
	raw, err := io.ReadAll(io.LimitReader(z, maxPlanText+1))
	if err != nil {
		return nil, fmt.Errorf("unpack plan: %w", err)
	}
	if len(raw) > maxPlanText {
		return nil, errors.New("unpack plan: it is larger than any plan")
	}
	var p *Plan
	if err := json.Unmarshal(raw, &p); err != nil {
		return nil, fmt.Errorf("read plan: %w", err)
	}
	if p == nil {
		return nil, errors.New("read plan: there is none")
	}
	return p, nil
}

func publish(text []byte) (*publication, error) {
	plan, err := UnpackPlan(text)
	if err != nil {
		return nil, err
	}
	p := index(plan)
	p.gzip, p.sum = text, sha256.Sum256(text)
	return p, nil
}

func (t *change) planPublished(d events.PlanData) *Refusal {
	about := fmt.Sprintf("plan %d", d.Version)
	if d.Version < 1 {
		return refuse(RefusedMalformed, about, "count from 1", "a plan needs a version")
	}
	if t.s.Plan != nil && d.Version <= t.s.Plan.Version {
		return refuse(RefusedStale, about, "make a plan from the state as it is now", "plan %d is published already", t.s.Plan.Version)
	}
	p, err := publish(d.Gzip)
	if err != nil {
		return refuse(RefusedMalformed, about, "", "%v", err)
	}
	if p.plan.Version != d.Version {
		return refuse(RefusedMalformed, about, "", "the plan inside is version %d", p.plan.Version)
	}
	t.plan = p
	t.note("plan", "version %d: %d operations, %d loads, %d mixes", d.Version, len(p.plan.Work), len(p.plan.Loads), len(p.plan.Mixes))
	return nil
}
