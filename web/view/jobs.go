// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// JobStatus is how far a job is.
type JobStatus string

// A job is planned, perhaps closed (a load that takes no more), then running,
// perhaps paused, then done.
const (
	JobPlanned JobStatus = "planned"
	JobClosed  JobStatus = "closed"
	JobRunning JobStatus = "running"
	JobPaused  JobStatus = "paused"
	JobDone    JobStatus = "done"
)

// JobKind tells what a station does at a stretch.
type JobKind string

// One operation of one piece, a load of several, or mixing resin.
const (
	PieceJob JobKind = "piece"
	LoadJob  JobKind = "load"
	MixJob   JobKind = "mix"
)

// Job is one thing a station does from changeover to end. Planned times are
// the plan's; once reported, Start and End are as reported.
type Job struct {
	ID       string         `json:"id" doc:"load, mix, or piece and operation joined by a slash"`
	Kind     JobKind        `json:"kind" doc:"a piece's operation, a load, or a mix" enum:"job_kind"`
	Title    string         `json:"title" doc:"what is done"`
	Station  string         `json:"station" doc:"where"`
	Place    int            `json:"place" doc:"place on the station, from 1; 0: the whole station"`
	Status   JobStatus      `json:"status" doc:"how far it is" enum:"job_status"`
	Setup    resources.Tick `json:"setup" doc:"start of the changeover"`
	Start    resources.Tick `json:"start" doc:"start of loading"`
	Run      resources.Tick `json:"run" doc:"start of the run"`
	RunEnd   resources.Tick `json:"run_end" doc:"end of the run"`
	Unload   resources.Tick `json:"unload" doc:"start of unloading"`
	End      resources.Tick `json:"end" doc:"end of unloading"`
	Recipe   string         `json:"recipe" doc:"cure recipe; empty: none"`
	Mix      string         `json:"mix" doc:"mix the resin is drawn from; empty: none"`
	Resin    string         `json:"resin" doc:"of a mix job: the resin system"`
	Grams    int64          `json:"grams" doc:"of a mix job: mass to mix, grams"`
	Expiry   resources.Tick `json:"expiry" doc:"of a mix job: end of the pot life"`
	Standing Standing       `json:"standing" doc:"worst standing of the orders in it" enum:"standing"`
	Pieces   []JobPiece     `json:"pieces" doc:"pieces worked on; of a mix job: that draw from it"`
}

// JobPiece is a piece in a job.
type JobPiece struct {
	Piece     string         `json:"piece" doc:"serial"`
	Operation string         `json:"operation" doc:"operation's ID in the routing"`
	Order     string         `json:"order" doc:"order number"`
	Product   string         `json:"product" doc:"product's ID"`
	Sample    bool           `json:"sample" doc:"made to be destroyed in a test"`
	Held      bool           `json:"held" doc:"on hold"`
	Tools     []string       `json:"tools" doc:"marks of the tool units it takes here"`
	Due       resources.Tick `json:"due" doc:"last cut-off that keeps the order's date"`
	Standing  Standing       `json:"standing" doc:"standing of the order" enum:"standing"`
}

// Subject is what a job is about, short: the serial, or the load or mix with
// the number of its pieces.
func (j *Job) Subject() string {
	switch {
	case j.Kind == PieceJob:
		return j.Pieces[0].Piece
	case j.Kind == MixJob:
		return j.ID
	}
	return j.ID + " · " + Count(len(j.Pieces), "piece")
}

// Flag is what a person at the job should know of its orders: that one is late
// or lost, or that a piece in it is on hold. Empty: nothing.
func (j *Job) Flag() Standing {
	flag := Cancelled
	for i := range j.Pieces {
		if f := j.Pieces[i].Flag(); f != "" {
			flag = worse(flag, f)
		}
	}
	if flag == Cancelled {
		return ""
	}
	return flag
}

// Flag is that of the piece alone.
func (p *JobPiece) Flag() Standing {
	switch {
	case p.Held:
		return Held
	case p.Standing == Late || p.Standing == Lost:
		return p.Standing
	}
	return ""
}

// Overdue is how long ago a planned job should have started or a running one
// ended; 0 when it is not late.
func (j *Job) Overdue(now resources.Tick) resources.Seconds {
	switch j.Status {
	case JobPlanned, JobClosed:
		return resources.Seconds(max(0, now-j.Start))
	case JobRunning, JobPaused:
		return resources.Seconds(max(0, now-j.End))
	}
	return 0
}

// buildJobs groups reported and planned operations into jobs.
func (v *View) buildJobs() {
	groups := map[string]*Job{}
	for _, serial := range v.serials {
		piece := v.piece(serial)
		for i := range piece.Ops {
			v.addOperation(groups, piece, &piece.Ops[i])
		}
	}
	v.addMixes()
	for _, j := range v.jobs {
		v.finishJob(j)
	}
	slices.SortStableFunc(v.jobs, func(a, b *Job) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Place, b.Place), compareNatural(a.ID, b.ID))
	})
	for _, j := range v.jobs {
		v.station[j.Station] = append(v.station[j.Station], j)
	}
}

func (v *View) addOperation(groups map[string]*Job, piece *scheduler.Piece, op *scheduler.OpState) {
	key := member{Piece: piece.Serial, Operation: op.Operation}
	w := v.works[key]
	if op.Status == scheduler.Planned && (w == nil || piece.Scrapped) {
		return
	}
	station, place, load, mix, tools := op.Station, op.Place, op.Load, op.Mix, op.Tools
	if w != nil && op.Status == scheduler.Planned {
		station, place, load = w.Station, w.Place, cmp.Or(load, w.Load)
	}
	if w != nil && w.Station == station {
		place, mix = cmp.Or(place, w.Place), cmp.Or(mix, w.Mix)
		if len(tools) == 0 {
			tools = w.Tools
		}
	}
	if station == "" {
		return
	}
	var j *Job
	if load != "" {
		j = groups[station+"\x00"+load]
	}
	if j == nil {
		j = &Job{Kind: PieceJob, ID: piece.Serial + "/" + op.Operation, Station: station, Place: place, Mix: mix}
		v.setTimes(j, op, w)
		if load != "" {
			j.Kind, j.ID, j.Place = LoadJob, load, 0
			groups[station+"\x00"+load] = j
		}
		v.jobs = append(v.jobs, j)
	}
	v.jobOf[key] = j
	j.Pieces = append(j.Pieces, JobPiece{
		Piece: piece.Serial, Operation: op.Operation, Order: piece.Order, Product: piece.Product, Sample: piece.Sample,
		Held: piece.Held, Tools: append([]string{}, tools...), Standing: v.standingOf(piece.Order), Due: v.dueOf(piece),
	})
}

func statusOf(s scheduler.Status) JobStatus {
	switch s {
	case scheduler.Started:
		return JobRunning
	case scheduler.Paused:
		return JobPaused
	case scheduler.Done:
		return JobDone
	}
	return JobPlanned
}

// setTimes takes planned times, then puts reported ones in their place.
func (v *View) setTimes(j *Job, op *scheduler.OpState, w *scheduler.Work) {
	if w != nil {
		j.Setup, j.Start, j.Run, j.RunEnd, j.Unload, j.End = w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End
	}
	j.Status = statusOf(op.Status)
	if op.Status != scheduler.Planned {
		shift := op.Started - j.Start
		if j.Start == 0 {
			j.Setup, j.Run, j.RunEnd, j.Unload, j.End = op.Started, op.Started, op.Started, op.Started, op.Started
		} else if w.Status == scheduler.Planned {
			// The plan has not taken in the start yet: it moves as a whole.
			j.Setup, j.Run, j.RunEnd, j.Unload, j.End = j.Setup+shift, j.Run+shift, j.RunEnd+shift, j.Unload+shift, j.End+shift
		}
		j.Start = op.Started
	}
	if op.Status == scheduler.Done {
		j.End = op.Ended
		j.Run, j.RunEnd, j.Unload = min(j.Run, j.End), min(j.RunEnd, j.End), min(j.Unload, j.End)
	}
}

func (v *View) dueOf(piece *scheduler.Piece) resources.Tick {
	if l := v.Picture.State.Lines[scheduler.LineKey(piece.Order, piece.Line)]; l != nil {
		return l.Due
	}
	return 0
}

// finishJob fills what follows from the members.
func (v *View) finishJob(j *Job) {
	j.Standing = Cancelled
	names := []string{}
	for i := range j.Pieces {
		p := &j.Pieces[i]
		j.Standing = worse(j.Standing, p.Standing)
		op := v.operation(p.Piece, p.Operation)
		if op == nil {
			continue
		}
		j.Recipe = cmp.Or(j.Recipe, op.Recipe)
		if name := cmp.Or(op.Name, op.ID); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if j.Kind == MixJob {
		return
	}
	j.Title = strings.Join(names, ", ")
	if j.Kind == LoadJob {
		if l := v.loads[j.ID]; l != nil && l.Recipe != "" {
			j.Recipe = l.Recipe
		}
		if run := v.Picture.State.Loads[j.ID]; run != nil && run.Status == scheduler.Planned && j.Status == JobPlanned {
			j.Status = JobClosed
		}
	}
}

// addMixes makes jobs of mixes made and mixes to make.
func (v *View) addMixes() {
	planned := map[string]*scheduler.Mix{}
	if p := v.Picture.Plan; p != nil {
		for i := range p.Mixes {
			m := &p.Mixes[i]
			planned[m.ID] = m
			v.addMix(m)
		}
	}
	made := make([]string, 0, len(v.Picture.State.Mixes))
	for id := range v.Picture.State.Mixes {
		made = append(made, id)
	}
	slices.Sort(made)
	for _, id := range made {
		if planned[id] != nil {
			continue
		}
		m := v.Picture.State.Mixes[id]
		mix := scheduler.Mix{ID: id, Resin: m.Resin, Start: m.Made, End: m.Made, Expiry: m.Expiry, Grams: m.Grams, Place: 1}
		if r := v.plant.Resin(m.Resin); r != nil {
			mix.Station, mix.Start = r.Station, m.Made-resources.Tick(r.Mixing)
		}
		v.addMix(&mix)
	}
}

func (v *View) addMix(m *scheduler.Mix) {
	name := m.Resin
	if r := v.plant.Resin(m.Resin); r != nil {
		name = cmp.Or(r.Name, r.ID)
	}
	j := &Job{
		ID: m.ID, Kind: MixJob, Title: "Mix " + name, Station: m.Station, Place: m.Place, Status: JobPlanned,
		Setup: m.Start, Start: m.Start, Run: m.Start, RunEnd: m.End, Unload: m.End, End: m.End,
		Resin: m.Resin, Grams: m.Grams, Expiry: m.Expiry,
	}
	if run := v.Picture.State.Mixes[m.ID]; run != nil {
		j.Status, j.End, j.Expiry, j.Grams = JobDone, run.Made, run.Expiry, run.Grams
		j.RunEnd, j.Unload, j.Start = j.End, j.End, min(j.Start, j.End)
	}
	for _, u := range m.Users {
		piece := v.piece(u.Piece)
		if piece == nil {
			continue
		}
		j.Pieces = append(j.Pieces, JobPiece{
			Piece: u.Piece, Operation: u.Operation, Order: piece.Order, Product: piece.Product, Sample: piece.Sample,
			Held: piece.Held, Tools: []string{}, Standing: v.standingOf(piece.Order), Due: v.dueOf(piece),
		})
	}
	if j.Pieces == nil {
		j.Pieces = []JobPiece{}
	}
	v.jobs = append(v.jobs, j)
}

// now and next of a station: what runs, in order of place, and what is
// planned, in order of start.
func (v *View) lineOf(station string) (now, next []*Job) {
	for _, j := range v.station[station] {
		switch j.Status {
		case JobRunning, JobPaused:
			now = append(now, j)
		case JobPlanned, JobClosed:
			next = append(next, j)
		}
	}
	slices.SortStableFunc(now, func(a, b *Job) int { return cmp.Compare(a.Place, b.Place) })
	return now, next
}
