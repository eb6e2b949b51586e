// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"cmp"
	"maps"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Job is one operation, or one load, as it was done on a station.
type Job struct {
	Station  string
	Members  []scheduler.Member // of a load; one otherwise
	Span     resources.Interval // from its start to its end
	Took     resources.Seconds  // of that, without pauses, stops and, where it may pause, hours the station was closed
	Standard resources.Seconds  // what the plant says it takes
	ops      []opOf             // each operation of a product in it, once
}

// opOf is an operation of a product.
type opOf struct{ product, operation string }

// done collects the jobs whose start and end somebody reported, by station
// and start. Work that had to be done again counts as well.
func done(s *scheduler.State, stops []Stop) []Job {
	loads := map[string]*Job{}
	var jobs []*Job
	for _, serial := range slices.Sorted(maps.Keys(s.Pieces)) {
		p := s.Pieces[serial]
		product := s.Plant.Product(p.Product)
		if product == nil {
			continue
		}
		for _, list := range [][]scheduler.OpState{p.Earlier, p.Ops} {
			for i := range list {
				o := &list[i]
				op := product.Operation(o.Operation)
				if op == nil || o.Status != scheduler.Done || o.StartGuessed || o.EndGuessed || o.Ended <= o.Started || s.Plant.Station(o.Station) == nil {
					continue
				}
				j := loads[o.Load]
				if o.Load == "" || j == nil {
					j = &Job{Station: o.Station, Span: resources.Interval{Start: o.Started, End: o.Ended}}
					j.Took = resources.Seconds(o.Ended-o.Started) - o.PausedFor
					jobs = append(jobs, j)
					if o.Load != "" {
						loads[o.Load] = j
					}
				}
				j.Members = append(j.Members, scheduler.Member{Piece: serial, Operation: o.Operation})
				if x := (opOf{product.ID, op.ID}); !slices.Contains(j.ops, x) {
					j.ops = append(j.ops, x)
				}
			}
		}
	}
	out := make([]Job, 0, len(jobs))
	for _, j := range jobs {
		j.finish(s, stops)
		out = append(out, *j)
	}
	slices.SortStableFunc(out, func(a, b Job) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Span.Start, b.Span.Start))
	})
	return out
}

// finish works out how long a job took and should have.
func (j *Job) finish(s *scheduler.State, stops []Stop) {
	st := s.Plant.Station(j.Station)
	var load, loadEach, run, unload, unloadEach resources.Seconds
	pauses := true
	for _, m := range j.Members {
		op := s.Plant.Product(s.Pieces[m.Piece].Product).Operation(m.Operation)
		load, unload = max(load, op.Load), max(unload, op.Unload)
		loadEach, unloadEach = loadEach+op.LoadEach, unloadEach+op.UnloadEach
		run = max(run, s.Plant.RunTime(op, st))
		pauses = pauses && op.MayPause
	}
	j.Standard = load + loadEach + run + unload + unloadEach
	j.Took -= stopped(stops, j.Station, j.Span)
	if c := s.Plant.Calendar(st.Calendar); pauses && c != nil {
		if open, err := c.Windows(s.Plant.Zone, j.Span.Start, j.Span.End); err == nil {
			j.Took -= resources.Seconds(j.Span.End - j.Span.Start)
			for _, w := range open {
				j.Took += resources.Seconds(w.End - w.Start)
			}
		}
	}
}
