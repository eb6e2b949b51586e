// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// Keys of the entities a store keeps. The others are a prefix and a name:
// "line/ORDER/LINE", "piece/SERIAL", "load/ID", "mix/ID", "station/ID",
// "tool/UNIT", "batch/KEY", "void/ID" (what voids an event), "event/MARK" (the
// sequence of an applied or voided event; its ID's SHA-256, half of it, base64).
const (
	keyHead  = "head"  // sequence and latest instant
	keyPlant = "plant" // plant file
	keyPlan  = "plan"  // last published plan, packed
	keyVoid  = "void/"
	keyEvent = "event/"
)

func (s *State) touch(key string) {
	if s.changed == nil {
		s.changed = map[string]struct{}{}
	}
	s.changed[key] = struct{}{}
}

func (s *State) forgetChanged() { s.changed, s.fresh = nil, nil }

// TakeChanged lists the entities that changed since the last call, sorted, and
// begins anew. The head is always among them: every event moves it.
func (s *State) TakeChanged() []string {
	s.touch(keyHead)
	for _, m := range s.fresh {
		s.touch(keyEvent + m.text())
	}
	keys := sortedKeys(s.changed)
	s.forgetChanged()
	return keys
}

// head is the entity of what every event moves.
type head struct {
	Seq  uint64
	At   int64 // Tick, as a number: it must come back whatever it is
	Form int   // of all entities: what is kept of a thing

	Claimed uint64 `json:",omitempty"`
}

// form changes when other things are kept than before, so that a state stored
// by an older program is made anew from the log.
const form = 3

// declared is the entity of the plant.
type declared struct {
	File   string
	Events []string // that declared it and those before it
}

// witnessed is the entity of an event ID.
type witnessed struct{ Seq uint64 }

// voidedBy is the entity of an event that never happened.
type voidedBy struct{ Event string }

// Entity is what a key stands for, to be looked at; nil when it is no more.
func (s *State) Entity(key string) any {
	switch key {
	case keyHead:
		return head{s.Seq, int64(s.At), form, s.Claimed}
	case keyPlant:
		if s.Plant == nil {
			return nil
		}
		return declared{s.PlantFile, s.plants}
	case keyPlan:
		if s.Plan == nil {
			return nil
		}
		return s.Plan
	}
	prefix, name, _ := strings.Cut(key, "/")
	switch prefix {
	case "line":
		return some(s.Lines, name)
	case "piece":
		return some(s.Pieces, name)
	case "load":
		return some(s.Loads, name)
	case "mix":
		return some(s.Mixes, name)
	case "station":
		return some(s.Stations, name)
	case "tool":
		return some(s.Tools, name)
	case "batch":
		return some(s.Batches, name)
	case "void":
		if by, ok := s.voided[name]; ok {
			return voidedBy{by}
		}
	case "event":
		if m, ok := readMark(name); ok {
			if seq, ok := s.seen.at(m); ok {
				return witnessed{seq}
			}
		}
	}
	return nil
}

// some keeps a nil pointer from becoming an any that is not nil.
func some[V any](m map[string]*V, name string) any {
	if v := m[name]; v != nil {
		return v
	}
	return nil
}

// EncodeEntity writes an entity for a store: JSON, and the plan packed as in
// its event. False means that it is no more and its record is to be deleted.
func (s *State) EncodeEntity(key string) ([]byte, bool) {
	entity := s.Entity(key)
	if entity == nil {
		return nil, false
	}
	var text []byte
	var err error
	if key == keyPlan {
		text, _, err = s.published().packed()
	} else {
		text, err = json.Marshal(entity)
	}
	if err != nil {
		// Instants are checked on the way in, and nothing else can fail.
		panic(fmt.Sprintf("entity %s cannot be written: %v", key, err))
	}
	return text, true
}

// Entities lists every entity with its text, sorted by key.
func (s *State) Entities() iter.Seq2[string, []byte] {
	return func(yield func(string, []byte) bool) {
		for _, key := range s.keys() {
			if text, ok := s.EncodeEntity(key); ok && !yield(key, text) {
				return
			}
		}
	}
}

func (s *State) keys() []string {
	keys := []string{keyHead, keyPlan, keyPlant}
	add := func(prefix string, names []string) {
		for _, name := range names {
			keys = append(keys, prefix+name)
		}
	}
	add("line/", sortedKeys(s.Lines))
	add("piece/", sortedKeys(s.Pieces))
	add("load/", sortedKeys(s.Loads))
	add("mix/", sortedKeys(s.Mixes))
	add("station/", sortedKeys(s.Stations))
	add("tool/", sortedKeys(s.Tools))
	add("batch/", sortedKeys(s.Batches))
	add(keyVoid, sortedKeys(s.voided))
	for _, m := range s.seen.marks() {
		keys = append(keys, keyEvent+m.text())
	}
	slices.Sort(keys)
	return keys
}

// LoadEntities is the state whose Entities these are, with the same Hash. It
// fails when an entity is missing that others need, or cannot be read; then
// the log is to be folded.
func LoadEntities(entities iter.Seq2[string, []byte]) (*State, error) {
	l := &loading{all: map[string][]byte{}}
	for key, text := range entities {
		if name, ok := strings.CutPrefix(key, keyEvent); ok { // far more than of all others
			l.witnessed(name, text)
			continue
		}
		l.all[key] = slices.Clone(text)
	}
	l.plant()
	if l.err != nil {
		return nil, l.err
	}
	l.s.seen = l.seen
	for _, key := range sortedKeys(l.all) {
		l.entity(key)
	}
	l.plan()
	if l.err == nil {
		l.err = l.whole()
	}
	if l.err != nil {
		return nil, l.err
	}
	return l.s, nil
}

// loading is a state on its way out of a store.
type loading struct {
	s    *State
	all  map[string][]byte // but event IDs
	seen record
	err  error
}

// witnessed reads what is stored of an event's ID. The usual text is read
// without a decoder: a year has millions of them.
func (l *loading) witnessed(name string, text []byte) {
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
		l.err = errors.Join(l.err, fmt.Errorf("stored %s%s: %w", keyEvent, name, err))
	case !ok:
		l.err = errors.Join(l.err, fmt.Errorf("stored %s%s: it is no mark of an event", keyEvent, name))
	default:
		l.seen.put(m, seq)
	}
}

func (l *loading) read(key string, into any) bool {
	text, ok := l.all[key]
	if !ok || l.err != nil {
		return false
	}
	if err := json.Unmarshal(text, into); err != nil {
		l.err = fmt.Errorf("stored %s: %w", key, err)
	}
	return l.err == nil
}

func (l *loading) plant() {
	var d declared
	l.s = NewState(nil)
	if !l.read(keyPlant, &d) {
		return
	}
	plant, findings := resources.ReadPlant(plantFileName, []byte(d.File))
	if plant == nil {
		l.err = fmt.Errorf("stored plant: %s", tellFindings(findings))
		return
	}
	l.s = NewState(plant)
	l.s.PlantFile, l.s.plants = d.File, d.Events
}

func (l *loading) plan() {
	text, ok := l.all[keyPlan]
	if !ok || l.err != nil {
		return
	}
	p, err := publish(text)
	if err != nil {
		l.err = fmt.Errorf("stored plan: %w", err)
		return
	}
	l.s.planned, l.s.Plan = p, p.plan
}

func (l *loading) entity(key string) {
	prefix, name, named := strings.Cut(key, "/")
	switch {
	case key == keyHead:
		var h head
		if l.read(key, &h) && h.Form != form {
			l.err = fmt.Errorf("stored state: it keeps things by form %d, this program by form %d", h.Form, form)
		}
		l.s.Seq, l.s.At, l.s.Claimed = h.Seq, resources.Tick(h.At), h.Claimed
	case key == keyPlant || key == keyPlan:
	case !named:
		l.err = errors.Join(l.err, fmt.Errorf("stored %s: unknown kind of entity", key))
	default:
		l.thing(key, prefix, name)
	}
}

func (l *loading) thing(key, prefix, name string) {
	switch prefix {
	case "void":
		var v voidedBy
		if l.read(key, &v) {
			l.s.voided[name] = v.Event
		}
	case "line":
		loadInto(l, l.s.Lines, key, name)
	case "piece":
		loadInto(l, l.s.Pieces, key, name)
	case "load":
		loadInto(l, l.s.Loads, key, name)
	case "mix":
		loadInto(l, l.s.Mixes, key, name)
	case "station":
		loadInto(l, l.s.Stations, key, name)
	case "tool":
		loadInto(l, l.s.Tools, key, name)
	case "batch":
		loadInto(l, l.s.Batches, key, name)
	default:
		l.err = errors.Join(l.err, fmt.Errorf("stored %s: unknown kind of entity", key))
	}
}

func loadInto[V any](l *loading, m map[string]*V, key, name string) {
	var v V
	if l.read(key, &v) {
		m[name] = &v
	}
}

// whole asks whether everything is there that other things name.
func (l *loading) whole() error {
	s := l.s
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
