// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

// journal is a log in memory and a state kept up with it the way a program
// does: one by one, folding again when a void asks for it.
type journal struct {
	log []events.Event
	s   *scheduler.State
	// refused are the IDs refused when they came, or at the last fold.
	refused []string
}

func newJournal(t testing.TB) *journal {
	j := &journal{s: scheduler.NewState(nil)}
	require.NoError(t, j.add("plant", events.PlantDeclared, "", 0, events.PlantData{File: kilnFile(t)}))
	return j
}

func (j *journal) add(id string, kind events.Kind, station string, minute int, data any) error {
	e := events.Event{ID: id, Kind: kind, Plant: "lathe", Station: station, At: mins(minute), By: "ann", Data: data, Seq: uint64(len(j.log) + 1)}
	j.log = append(j.log, e)
	_, err := j.s.Apply(e)
	switch {
	case errors.Is(err, scheduler.ErrRebuild):
		var rejected []scheduler.Rejection
		j.s, rejected = scheduler.Fold(slices.Values(j.log))
		j.refused = nil
		for _, r := range rejected {
			j.refused = append(j.refused, r.Event.ID)
		}
		return nil
	case err != nil:
		j.refused = append(j.refused, id)
		j.s.Skip(e.Seq)
	}
	return err
}

// folds compares the state with a fold of the log from nothing, and with
// itself after a store.
func (j *journal) folds(t require.TestingT) {
	s, rejected := scheduler.Fold(slices.Values(j.log))
	require.Equal(t, s.Hash(), j.s.Hash(), "a fold of the log gives another state")
	var refused []string
	for _, r := range rejected {
		refused = append(refused, r.Event.ID)
	}
	require.Equal(t, j.refused, refused)
	back, err := scheduler.LoadEntities(j.s.Entities())
	require.NoError(t, err)
	require.Equal(t, j.s.Hash(), back.Hash(), "a store gives another state")
}

func (j *journal) void(id, target string) error {
	return j.add(id, events.EventVoided, "", 999, events.VoidData{Event: target})
}

func TestVoidedEventsNeverHappened(t *testing.T) {
	begin := func(t *testing.T) *journal {
		j := newJournal(t)
		require.NoError(t, j.add("order", events.OrderAdded, "", 0, ordered("A", "TUBE", 2)))
		require.NoError(t, j.add("start", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind")))
		return j
	}
	without := func(t *testing.T, ids ...string) *scheduler.State {
		j := begin(t)
		log := slices.DeleteFunc(slices.Clone(j.log), func(e events.Event) bool { return slices.Contains(ids, e.ID) })
		s, rejected := scheduler.Fold(slices.Values(log))
		require.Empty(t, rejected)
		return s
	}
	t.Run("a start", func(t *testing.T) {
		j := begin(t)
		require.NoError(t, j.void("v", "start"))
		require.Equal(t, without(t, "start").Pieces, j.s.Pieces)
		require.Equal(t, without(t, "start").Tools, j.s.Tools)
		require.Error(t, j.add("start", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind")), "its ID is used up")
		require.NoError(t, j.add("start-2", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind")))
		j.folds(t)
	})
	t.Run("what came after falls with it", func(t *testing.T) {
		j := begin(t)
		require.NoError(t, j.void("v", "order"))
		require.Empty(t, j.s.Pieces)
		require.Equal(t, []string{"start"}, j.refused)
		j.folds(t)
	})
	t.Run("a void is voided", func(t *testing.T) {
		j := begin(t)
		require.NoError(t, j.void("v", "start"))
		require.NoError(t, j.void("w", "v"))
		require.Equal(t, without(t).Pieces, j.s.Pieces)
		j.folds(t)
		require.NoError(t, j.void("x", "w"))
		require.Equal(t, without(t, "start").Pieces, j.s.Pieces)
		j.folds(t)
	})
	t.Run("refused voids", func(t *testing.T) {
		j := begin(t)
		require.Error(t, j.void("u", "nothing"))
		require.Error(t, j.void("p", "plant"))
		require.Error(t, j.void("s", "s"))
		require.NoError(t, j.void("v", "start"))
		require.ErrorContains(t, j.void("w", "start"), "voided already, by v; to bring it back, void v")
		require.Error(t, j.add("bad", events.OperationStarted, "W1", 10, pieceOp("Z", "wind")))
		require.ErrorContains(t, j.void("x", "bad"), "what was refused needs no void")
		j.folds(t)
	})
	t.Run("the second of two voids takes over", func(t *testing.T) {
		j := begin(t)
		require.NoError(t, j.void("v", "start"))
		require.Error(t, j.void("w", "start"))
		require.NoError(t, j.void("x", "v"))
		require.Equal(t, without(t, "start").Pieces, j.s.Pieces, "w stands")
		j.folds(t)
	})
	t.Run("sent again after it was refused", func(t *testing.T) {
		j := newJournal(t)
		start := func() error {
			return j.add("start", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind"))
		}
		require.Error(t, start())
		require.Error(t, j.void("v", "start"))
		require.NoError(t, j.add("order", events.OrderAdded, "", 0, ordered("A", "TUBE", 2)))
		require.NoError(t, start())
		j.folds(t)
		require.NoError(t, j.void("v", "start"))
		require.Equal(t, without(t, "start").Pieces, j.s.Pieces)
		j.folds(t)
	})
}

// One ID for two voids, each of which is in order only without the other: the
// fold must choose and end.
func TestFoldEndsOnAParadox(t *testing.T) {
	j := newJournal(t)
	require.NoError(t, j.add("order", events.OrderAdded, "", 0, ordered("A", "TUBE", 2)))
	require.NoError(t, j.add("start", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind")))
	require.NoError(t, j.void("u", "start"))
	require.Error(t, j.void("v", "start"), "it is void already")
	require.NoError(t, j.void("v", "u"))
	j.folds(t)
}

// TestStoreFollowsChanges keeps a store as an adapter does, from the changed
// entities alone, and opens it again.
func TestStoreFollowsChanges(t *testing.T) {
	f := newFloor(t)
	store := map[string][]byte{}
	follow := func() {
		keys := f.s.TakeChanged()
		require.True(t, slices.IsSorted(keys))
		for _, key := range keys {
			if text, ok := f.s.EncodeEntity(key); ok {
				store[key] = text
			} else {
				delete(store, key)
			}
		}
		back, err := scheduler.LoadEntities(maps.All(store))
		require.NoError(t, err)
		require.Equal(t, f.s.Hash(), back.Hash())
		require.Equal(t, maps.Collect(f.s.Entities()), store)
	}
	follow()
	f.order("A", "TUBE", 3)
	follow()
	f.ok("", events.OrderChanged, 1, ordered("A", "TUBE", 2))
	follow()
	f.publish(&scheduler.Plan{Version: 1, Work: []scheduler.Work{{Piece: "A-1-01", Operation: "wind", Station: "W1"}}})
	follow()
	f.start("W1", "A-1-01", "wind", 10)
	changed := f.s.Clone()
	changed.TakeChanged()
	require.Equal(t, []string{"head"}, changed.TakeChanged(), "a clone has changes of its own")
	require.Contains(t, f.s.Entity("piece/A-1-01").(*scheduler.Piece).Ops[0].Tools, "M-1")
	follow()
	_, err := f.s.Apply(events.Event{ID: "pause", Kind: events.OperationPaused, Station: "W1", At: mins(20), Data: pieceOp("A-1-01", "wind")})
	require.NoError(t, err)
	sum := sha256.Sum256([]byte("pause"))
	keys := []string{"event/" + base64.RawURLEncoding.EncodeToString(sum[:16]), "head", "piece/A-1-01"}
	require.Equal(t, keys, f.s.TakeChanged())
	f.s.Skip(90) // refused events were in between
	f.n = 100
	for _, key := range keys {
		store[key], _ = f.s.EncodeEntity(key)
	}
	f.finish("W1", "A-1-01", "wind", 70)
	follow()
	f.load(events.LoadClosed, "L", 80, "A-1-01")
	follow()
	f.ok("", events.PieceScrapped, 90, events.PieceData{Piece: "A-1-01"})
	follow()
	require.Equal(t, []string{"head"}, f.s.TakeChanged())
	_, ok := f.s.EncodeEntity("load/L")
	require.False(t, ok)
	require.Nil(t, f.s.Entity("piece/none"))
	require.Nil(t, f.s.Entity("nonsense"))
}

func TestDamagedStoreIsRefused(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	f.start("W1", "A-1-01", "wind", 10)
	f.finish("W1", "A-1-01", "wind", 70)
	f.load(events.LoadClosed, "L", 80, "A-1-01")
	whole := maps.Collect(f.s.Entities())
	for _, lost := range []string{"plant", "piece/A-1-01", "load/L"} {
		store := maps.Clone(whole)
		delete(store, lost)
		_, err := scheduler.LoadEntities(maps.All(store))
		require.Error(t, err, "without %s", lost)
	}
	for key := range whole {
		store := maps.Clone(whole)
		store[key] = []byte("{")
		_, err := scheduler.LoadEntities(maps.All(store))
		require.Error(t, err, "with a damaged %s", key)
	}
	store := maps.Clone(whole)
	store["ghost/1"] = []byte("{}")
	_, err := scheduler.LoadEntities(maps.All(store))
	require.Error(t, err)
}

// What a program of an older form stored is taken where nothing in it has another
// meaning now; of a later one, or of one in which something had, it is refused.
func TestAStoreOfAnOlderForm(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 1)
	whole := maps.Collect(f.s.Entities())
	for form, taken := range map[int]bool{2: false, 3: true, 4: true, 5: false} {
		store := maps.Clone(whole)
		store["head"] = regexp.MustCompile(`"Form":\d+`).ReplaceAll(store["head"], fmt.Appendf(nil, `"Form":%d`, form))
		back, err := scheduler.LoadEntities(maps.All(store))
		if taken {
			require.NoError(t, err)
			require.Equal(t, f.s.Hash(), back.Hash())
		} else {
			require.ErrorContains(t, err, fmt.Sprintf("keeps things by form %d, this program by form 3 to 4", form))
		}
	}
}

// TestHashSeesEveryField changes each exported field of each entity, wherever
// it lies, and demands another hash.
func TestHashSeesEveryField(t *testing.T) {
	fresh := func() *scheduler.State {
		f := newFloor(t)
		f.order("A", "TUBE", 1)
		f.ok("", events.PromiseReserved, 1, reserve(60))
		f.ok("MIX", events.MixMade, 1, events.MixData{Mix: "x", Resin: "A", Grams: 900})
		f.start("W1", "A-1-01", "wind", 10)
		f.finish("W1", "A-1-01", "wind", 70)
		f.load(events.LoadClosed, "L", 80, "A-1-01")
		f.ok("", events.BatchHeld, 90, events.BatchData{Material: "tow", Lot: "9"})
		f.ok("", events.CrewAbsent, 90, events.AbsentData{Crew: "all", People: 1})
		f.publish(&scheduler.Plan{Version: 1})
		f.s.Pieces["A-1-01"].Detained = []scheduler.Detention{{By: "A-1-01"}}
		return f.s
	}
	same := fresh().Hash()
	require.Equal(t, same, fresh().Hash())
	count := 0
	for _, entity := range []func(*scheduler.State) any{
		func(s *scheduler.State) any { return s.Lines["A/1"] },
		func(s *scheduler.State) any { return s.Lines["B/1"] },
		func(s *scheduler.State) any { return s.Pieces["A-1-01"] },
		func(s *scheduler.State) any { return s.Loads["L"] },
		func(s *scheduler.State) any { return s.Mixes["x"] },
		func(s *scheduler.State) any { return s.Stations["W1"] },
		func(s *scheduler.State) any { return s.Tools["M-1"] },
		func(s *scheduler.State) any { return s.Batches[keys(s.Batches)[0]] },
		func(s *scheduler.State) any { return s.Absences[keys(s.Absences)[0]] },
	} {
		for n := 0; ; n++ {
			s := fresh()
			left := n
			name := bump(reflect.ValueOf(entity(s)).Elem(), "", &left)
			if name == "" {
				break
			}
			count++
			require.NotEqual(t, same, s.Hash(), "%T%s is not part of the hash", entity(s), name)
			require.NotEqual(t, same, s.Facts())
		}
	}
	require.Greater(t, count, 80)
	for name, change := range map[string]func(*scheduler.State){
		"Seq":       func(s *scheduler.State) { s.Seq++ },
		"Claimed":   func(s *scheduler.State) { s.Claimed++ },
		"At":        func(s *scheduler.State) { s.At++ },
		"PlantFile": func(s *scheduler.State) { s.PlantFile += " " },
		"Plan":      func(s *scheduler.State) { s.Plan = &scheduler.Plan{Version: 2} },
		"no plan":   func(s *scheduler.State) { s.Plan = nil },
		"a piece":   func(s *scheduler.State) { delete(s.Pieces, "A-1-01") },
		"an event": func(s *scheduler.State) {
			_, _ = s.Apply(events.Event{ID: "new", At: s.At, Kind: events.StationDown, Station: "T1", Data: events.StationData{}})
		},
	} {
		s := fresh()
		change(s)
		require.NotEqual(t, same, s.Hash(), name)
	}
}

// bump changes the n-th plain value inside v and names it; empty when there
// are fewer.
func bump(v reflect.Value, path string, n *int) string {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if name := bump(v.Field(i), path+"."+v.Type().Field(i).Name, n); name != "" {
				return name
			}
		}
		return ""
	case reflect.Pointer:
		if !v.IsNil() {
			if name := bump(v.Elem(), path, n); name != "" {
				return name
			}
		}
	case reflect.Slice:
		if v.Len() > 0 {
			if name := bump(v.Index(0), path+"[0]", n); name != "" {
				return name
			}
		}
	}
	if *n > 0 {
		*n--
		return ""
	}
	*n = -1
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Int, reflect.Int64:
		v.SetInt(v.Int() + 1)
	case reflect.Uint8:
		v.SetUint(v.Uint() ^ 1)
	case reflect.String:
		v.SetString(v.String() + "'")
	case reflect.Slice:
		v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
	case reflect.Pointer:
		if v.IsNil() {
			v.Set(reflect.New(v.Type().Elem()))
		} else {
			v.SetZero()
		}
	case reflect.Map:
		m := reflect.MakeMap(v.Type())
		m.SetMapIndex(reflect.ValueOf("new"), reflect.Zero(v.Type().Elem()))
		v.Set(m)
	default:
		panic("what is a " + v.Kind().String() + " at " + path + "?")
	}
	return path
}

func TestClonesAreIndependent(t *testing.T) {
	f := newFloor(t)
	f.order("A", "TUBE", 2)
	f.start("W1", "A-1-01", "wind", 10)
	c := f.s.Clone()
	before := c.Hash()
	require.Equal(t, f.s.Hash(), before)
	f.finish("W1", "A-1-01", "wind", 70)
	f.ok("", events.PieceScrapped, 80, events.PieceData{Piece: "A-1-02"})
	require.Equal(t, before, c.Hash())
	other := &floor{t: t, s: c, n: 50}
	other.ok("", events.PieceHeld, 90, events.PieceData{Piece: "A-1-01"})
	require.False(t, f.s.Pieces["A-1-01"].Held)
	for i := range 40 { // IDs stay known over generations of clones
		c = c.Clone()
		g := &floor{t: t, s: c, n: 100 + i}
		g.ok("T1", events.StationDown, 100+i, events.StationData{Why: strings.Repeat("x", i)})
		g.n--
		g.no(scheduler.RefusedRepeated, "T1", events.StationUp, 100+i, events.StationData{})
	}
	seq, ok := c.Applied("e1")
	require.True(t, ok)
	require.Equal(t, uint64(1), seq)
	_, ok = f.s.Applied("e101")
	require.False(t, ok)
}
