// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// openEnd is how long a stop with no known end is taken to last, as the
// planner does.
const openEnd = 8 * resources.Hour

// hours is when a station is there.
type hours struct {
	always     bool
	unattended bool
	open       []resources.Interval // without stops
	stops      []resources.Interval
}

// calendars lays out each calendar once.
type calendars struct {
	plant    *resources.Plant
	from, to Tick
	windows  map[string][]resources.Interval
}

func (c *calendars) of(id string) ([]resources.Interval, error) {
	if w, ok := c.windows[id]; ok {
		return w, nil
	}
	w := []resources.Interval{{Start: c.from, End: c.to}}
	if id != "" {
		var err error
		if w, err = c.plant.Calendar(id).Windows(c.plant.Zone, c.from, c.to); err != nil {
			return nil, fmt.Errorf("calendar %s: %w", id, err)
		}
	}
	c.windows[id] = w
	return w, nil
}

func (c *calendars) station(st *resources.Station, state *scheduler.StationState) (hours, error) {
	h := hours{always: st.Calendar == "", unattended: st.Unattended}
	open, err := c.of(st.Calendar)
	if err != nil {
		return h, err
	}
	if h.stops, err = st.PlannedStops(c.plant.Zone, c.from, c.to); err != nil {
		return h, err
	}
	if state != nil && state.Down {
		until := state.Until
		if until <= c.from {
			until = c.from + Tick(openEnd)
		}
		h.stops = append([]resources.Interval{{Start: c.from, End: until}}, h.stops...)
	}
	h.always = h.always && len(h.stops) == 0
	h.open = without(open, h.stops)
	return h, nil
}

// without cuts stretches out of sorted windows.
func without(open, cuts []resources.Interval) []resources.Interval {
	for _, cut := range cuts {
		var rest []resources.Interval
		for _, w := range open {
			if w.End <= cut.Start || w.Start >= cut.End {
				rest = append(rest, w)
				continue
			}
			if w.Start < cut.Start {
				rest = append(rest, resources.Interval{Start: w.Start, End: cut.Start})
			}
			if w.End > cut.End {
				rest = append(rest, resources.Interval{Start: cut.End, End: w.End})
			}
		}
		open = rest
	}
	return open
}

// there is the hours of each week in which a station can be at work. One that
// may run unattended goes on for a run that begins as it closes.
func (h *hours) there(g *grid, places int, run Seconds) []float64 {
	windows := h.open
	if h.unattended && run > 0 {
		windows = nil
		for _, w := range h.open {
			w.End += Tick(run)
			if n := len(windows); n > 0 && windows[n-1].End >= w.Start {
				windows[n-1].End = max(windows[n-1].End, w.End)
				continue
			}
			windows = append(windows, w)
		}
		windows = without(windows, h.stops)
	}
	out := make([]float64, len(g.weeks))
	for _, w := range windows {
		g.spread(out, w.Start, w.End, float64(places))
	}
	return out
}

// job is the stretches of one operation on a station.
type job struct {
	load, run, unload Seconds
	pauses            bool // the run stops with the station and goes on
	waits             bool // the run may be over before it is unloaded
}

func (j job) total() Seconds { return j.load + j.run + j.unload }

// latest is the last start with which a job is over by an instant; false when
// it is before all that is laid out.
func (h *hours) latest(j job, by Tick) (Tick, bool) {
	switch {
	case h.always:
		return by - Tick(j.total()), true
	case j.pauses:
		return h.latestPaused(j.total(), by)
	case h.unattended && j.run > 0:
		return h.latestUnattended(j, by)
	}
	return fitLate(h.open, j.total(), by)
}

// latestPaused counts open hours backwards.
func (h *hours) latestPaused(work Seconds, by Tick) (Tick, bool) {
	i := lastBefore(h.open, by)
	for ; i >= 0; i-- {
		end := min(by, h.open[i].End)
		if part := Seconds(end - h.open[i].Start); part < work {
			work -= part
			continue
		}
		return end - Tick(work), true
	}
	return 0, false
}

// latestUnattended needs open hours for loading and unloading only.
func (h *hours) latestUnattended(j job, by Tick) (Tick, bool) {
	for range 200 {
		unload, ok := fitLate(h.open, j.unload, by)
		if !ok {
			return 0, false
		}
		load, ok := fitLate(h.open, j.load, unload-Tick(j.run))
		if !ok {
			return 0, false
		}
		over := load + Tick(j.load+j.run)
		if stop := crossed(h.stops, load, over); stop != nil {
			by = min(by-1, max(stop.Start+Tick(j.unload), load))
			continue
		}
		if j.waits || over == unload {
			return load, true
		}
		by = over + Tick(j.unload) // unloaded at once: as late as loading allows
		if again, ok := fitLate(h.open, j.unload, by); ok && again == over {
			return load, true
		}
	}
	return 0, false
}

func crossed(stops []resources.Interval, from, to Tick) *resources.Interval {
	for i := range stops {
		if stops[i].Start < to && stops[i].End > from {
			return &stops[i]
		}
	}
	return nil
}

// earliest is the first start of a job not before an instant, by open hours
// alone.
func (h *hours) earliest(j job, from Tick) Tick {
	need := j.total()
	if h.always {
		return from
	}
	if j.pauses || h.unattended {
		need = max(j.load, 1)
	}
	at, _ := slices.BinarySearchFunc(h.open, from, func(w resources.Interval, t Tick) int { return cmp.Compare(w.End, t+1) })
	for ; at < len(h.open); at++ {
		if start := max(from, h.open[at].Start); start+Tick(need) <= h.open[at].End {
			return start
		}
	}
	return from
}

// fitLate is the last start of a stretch that lies in one window and is over
// by an instant.
func fitLate(open []resources.Interval, length Seconds, by Tick) (Tick, bool) {
	for i := lastBefore(open, by); i >= 0; i-- {
		if start := min(by, open[i].End) - Tick(length); start >= open[i].Start {
			return start, true
		}
	}
	return 0, false
}

// lastBefore is the last window that starts before an instant, -1 if none.
func lastBefore(open []resources.Interval, t Tick) int {
	i, _ := slices.BinarySearchFunc(open, t, func(w resources.Interval, t Tick) int { return cmp.Compare(w.Start, t) })
	return i - 1
}
