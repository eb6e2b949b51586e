// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
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
// by an older program is made anew from the log. Where only things are added that
// no log had before, what was stored by an older form is taken as it is: a log may
// have let go of what it was made from. Form 4 added who is away.
const form, oldestForm = 4, 3

// declared is the entity of the plant.
type declared struct {
	File    string
	Adopted []resources.Adopted `json:",omitempty"`
	Events  []string            // that declared it and those before it
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
		return declared{s.PlantFile, s.Adopted, s.plants}
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
	case "absence":
		return some(s.Absences, name)
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
func (s *State) Entities() iter.Seq2[string, []byte] { return s.texts(s.keys) }

// Standing lists the same but for which events made it so: enough to plan and
// to play from, not to go on from.
func (s *State) Standing() iter.Seq2[string, []byte] { return s.texts(s.things) }

func (s *State) texts(keys func() []string) iter.Seq2[string, []byte] {
	return func(yield func(string, []byte) bool) {
		for _, key := range keys() {
			if text, ok := s.EncodeEntity(key); ok && !yield(key, text) {
				return
			}
		}
	}
}

func (s *State) keys() []string {
	keys := s.things()
	for _, m := range s.seen.marks() {
		keys = append(keys, keyEvent+m.text())
	}
	slices.Sort(keys)
	return keys
}

func (s *State) things() []string {
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
	add("absence/", sortedKeys(s.Absences))
	add(keyVoid, sortedKeys(s.voided))
	slices.Sort(keys)
	return keys
}
