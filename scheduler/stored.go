// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// LoadEntities is the state whose Entities these are, with the same Hash. It
// fails when an entity is missing that others need, or cannot be read; then
// the log is to be folded.
func LoadEntities(entities iter.Seq2[string, []byte]) (*State, error) {
	return JoinEntities(ReadEntities(entities))
}

// StoredPart is some of the entities of a state, read. Parts may be read side
// by side, as reading is most of the work.
type StoredPart struct {
	s     *State // without what the plant gives
	head  *head
	plant *declared
	plan  []byte
	marks []stamped
	err   error
}

// stamped is the mark of an event with its sequence.
type stamped struct {
	mark mark
	seq  uint64
}

// ReadEntities reads entities in any order. What is wrong with them is told by
// JoinEntities. It keeps nothing of the texts.
func ReadEntities(entities iter.Seq2[string, []byte]) *StoredPart {
	p := &StoredPart{s: NewState(nil)}
	for key, text := range entities {
		if name, ok := strings.CutPrefix(key, keyEvent); ok { // far more than of all others
			p.witnessed(name, text)
			continue
		}
		p.entity(key, text)
	}
	return p
}

// JoinEntities is the state whose entities the parts hold, each once.
func JoinEntities(parts ...*StoredPart) (*State, error) {
	var whole StoredPart
	n := 0
	for _, p := range parts {
		whole.err = errors.Join(whole.err, p.err)
		whole.head, whole.plant = either(whole.head, p.head), either(whole.plant, p.plant)
		if p.plan != nil {
			whole.plan = p.plan
		}
		n += len(p.marks)
	}
	if whole.err != nil {
		return nil, whole.err
	}
	s, err := whole.begin()
	if err != nil {
		return nil, err
	}
	s.seen = sized(n)
	for _, p := range parts {
		for _, m := range p.marks {
			s.seen.put(m.mark, m.seq)
		}
		join(s.Lines, p.s.Lines)
		join(s.Pieces, p.s.Pieces)
		join(s.Loads, p.s.Loads)
		join(s.Mixes, p.s.Mixes)
		join(s.Stations, p.s.Stations)
		join(s.Tools, p.s.Tools)
		join(s.Batches, p.s.Batches)
		join(s.Absences, p.s.Absences)
		maps.Copy(s.voided, p.s.voided)
	}
	if err := s.whole(); err != nil {
		return nil, err
	}
	return s, nil
}

func either[V any](a, b *V) *V {
	if a != nil {
		return a
	}
	return b
}

func join[V any](into, from map[string]*V) { maps.Copy(into, from) }

// begin is the state of what there is one of.
func (p *StoredPart) begin() (*State, error) {
	s := NewState(nil)
	if d := p.plant; d != nil {
		plant, findings := resources.ReadPlantWith(plantFileName, []byte(d.File), d.Adopted)
		if plant == nil {
			return nil, fmt.Errorf("stored plant: %s", tellFindings(findings))
		}
		s = NewState(plant)
		s.PlantFile, s.Adopted, s.plants = d.File, d.Adopted, d.Events
	}
	if h := p.head; h != nil {
		if h.Form < oldestForm || h.Form > form {
			return nil, fmt.Errorf("stored state: it keeps things by form %d, this program by form %d to %d", h.Form, oldestForm, form)
		}
		s.Seq, s.At, s.Claimed = h.Seq, resources.Tick(h.At), h.Claimed
	}
	if p.plan != nil {
		published, err := publish(p.plan)
		if err != nil {
			return nil, fmt.Errorf("stored plan: %w", err)
		}
		s.planned, s.Plan = published, published.plan
	}
	return s, nil
}

// witnessed reads what is stored of an event's ID. The usual text is read
// without a decoder: a year has millions of them.
func (p *StoredPart) witnessed(name string, text []byte) {
	m, ok := readMark(name)
	var w witnessed
	digits, whole := bytes.CutSuffix(bytes.TrimPrefix(text, []byte(`{"Seq":`)), []byte("}"))
	seq, err := strconv.ParseUint(string(digits), 10, 64)
	if !whole || err != nil {
		err = json.Unmarshal(text, &w)
		seq = w.Seq
	}
	switch {
	case err != nil:
		p.err = errors.Join(p.err, fmt.Errorf("stored %s%s: %w", keyEvent, name, err))
	case !ok:
		p.err = errors.Join(p.err, fmt.Errorf("stored %s%s: it is no mark of an event", keyEvent, name))
	default:
		p.marks = append(p.marks, stamped{m, seq})
	}
}

func (p *StoredPart) entity(key string, text []byte) {
	prefix, name, named := strings.Cut(key, "/")
	switch {
	case key == keyHead:
		p.head = readInto[head](p, key, text)
	case key == keyPlant:
		p.plant = readInto[declared](p, key, text)
	case key == keyPlan:
		p.plan = slices.Clone(text)
	case !named:
		p.err = errors.Join(p.err, fmt.Errorf("stored %s: unknown kind of entity", key))
	default:
		p.thing(key, prefix, name, text)
	}
}

func (p *StoredPart) thing(key, prefix, name string, text []byte) {
	switch prefix {
	case "void":
		if v := readInto[voidedBy](p, key, text); v != nil {
			p.s.voided[name] = v.Event
		}
	case "line":
		loadInto(p, p.s.Lines, key, name, text)
	case "piece":
		loadInto(p, p.s.Pieces, key, name, text)
	case "load":
		loadInto(p, p.s.Loads, key, name, text)
	case "mix":
		loadInto(p, p.s.Mixes, key, name, text)
	case "station":
		loadInto(p, p.s.Stations, key, name, text)
	case "tool":
		loadInto(p, p.s.Tools, key, name, text)
	case "batch":
		loadInto(p, p.s.Batches, key, name, text)
	case "absence":
		loadInto(p, p.s.Absences, key, name, text)
	default:
		p.err = errors.Join(p.err, fmt.Errorf("stored %s: unknown kind of entity", key))
	}
}

func loadInto[V any](p *StoredPart, m map[string]*V, key, name string, text []byte) {
	if v := readInto[V](p, key, text); v != nil {
		m[name] = v
	}
}

// readInto is nil when the text cannot be read.
func readInto[V any](p *StoredPart, key string, text []byte) *V {
	var v V
	if err := json.Unmarshal(text, &v); err != nil {
		p.err = errors.Join(p.err, fmt.Errorf("stored %s: %w", key, err))
		return nil
	}
	return &v
}

// whole asks whether everything is there that other things name.
func (s *State) whole() error {
	if s.Plant == nil && len(s.Lines)+len(s.Pieces)+len(s.Stations)+len(s.Tools) > 0 {
		return errors.New("stored state: the plant is missing")
	}
	for _, key := range sortedKeys(s.Lines) {
		for _, serial := range s.Lines[key].Pieces {
			if s.Pieces[serial] == nil {
				return fmt.Errorf("stored state: piece %s of order %s is missing", serial, key)
			}
		}
	}
	for _, serial := range sortedKeys(s.Pieces) {
		p := s.Pieces[serial]
		product := s.Plant.Product(p.Product)
		if product == nil {
			return fmt.Errorf("stored state: product %s of piece %s is missing", p.Product, serial)
		}
		for _, o := range p.Ops {
			if o.Index < 0 || o.Index >= len(product.Routing) || product.Routing[o.Index].ID != o.Operation {
				return fmt.Errorf("stored state: piece %s passes %s, which its product lacks", serial, o.Operation)
			}
			if o.Load != "" && s.Loads[o.Load] == nil {
				return fmt.Errorf("stored state: load %s of piece %s is missing", o.Load, serial)
			}
		}
	}
	return nil
}
