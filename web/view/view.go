// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"maps"
	"slices"
	"sync"

	"towpath/resources"
	"towpath/scheduler"
)

// View is a picture with the lists that several pages need. It is built once
// per picture and then only read, so pages may share it.
type View struct {
	Picture *Picture
	plant   *resources.Plant
	zone    Clock

	serials  []string                   // of all pieces, sorted
	works    map[member]*scheduler.Work // the plan's, by piece and operation
	loads    map[string]*scheduler.Load // the plan's
	jobs     []*Job                     // all, by start
	station  map[string][]*Job          // by station, by start
	jobOf    map[member]*Job            // by piece and operation
	children map[string][]string        // shafts by tube, sorted
	orders   []*Order                   // by due date
	order    map[string]*Order          // by number
	product  map[string]*resources.Product
	final    map[string]map[string]bool // product → operations that complete a line
	why      *sync.Map                  // chains computed so far, by order
	lack     map[member]string          // operations that wait for a material, and which
}

type member = scheduler.Member

// New builds the lists of a picture. A picture without a state gives a view
// of an empty shop.
func New(p *Picture) *View {
	v := &View{
		Picture: p, works: map[member]*scheduler.Work{}, loads: map[string]*scheduler.Load{},
		station: map[string][]*Job{}, jobOf: map[member]*Job{}, children: map[string][]string{},
		order: map[string]*Order{}, product: map[string]*resources.Product{}, final: map[string]map[string]bool{}, why: &sync.Map{},
	}
	v.zone.Now = p.Now
	if p.State == nil || p.State.Plant == nil {
		v.plant = &resources.Plant{}
		return v
	}
	v.plant = p.State.Plant
	v.zone.Zone = v.plant.Zone
	v.lack = scheduler.Lacking(p.State)
	for i := range v.plant.Products {
		product := &v.plant.Products[i]
		v.product[product.ID] = product
		v.final[product.ID] = completing(product)
	}
	v.serials = slices.Sorted(maps.Keys(p.State.Pieces))
	for _, serial := range v.serials {
		if parent := p.State.Pieces[serial].Parent; parent != "" {
			v.children[parent] = append(v.children[parent], serial)
		}
	}
	if p.Plan != nil {
		for i := range p.Plan.Work {
			w := &p.Plan.Work[i]
			v.works[member{Piece: w.Piece, Operation: w.Operation}] = w
		}
		for i := range p.Plan.Loads {
			v.loads[p.Plan.Loads[i].ID] = &p.Plan.Loads[i]
		}
	}
	v.buildOrders()
	v.buildJobs()
	return v
}

// At is the view's clock moved to another instant, for pages that are drawn
// later than the picture was taken.
func (v *View) At(now resources.Tick) *View {
	c := *v
	c.zone.Now = max(now, v.Picture.Now)
	return &c
}

// Clock writes instants in the plant's zone.
func (v *View) Clock() Clock { return v.zone }

// Plant is the plant's name; empty before one was declared.
func (v *View) Plant() string { return cmp.Or(v.plant.Name, v.plant.ID) }

// PlantID is the plant's short name, as events carry it.
func (v *View) PlantID() string { return v.plant.ID }

// Empty says in words why there is nothing to show yet; empty when there is.
func (v *View) Empty() string {
	switch {
	case v.Picture.Starting:
		return "Towpath is reading its log. This takes a moment after a start."
	case len(v.plant.Stations) == 0:
		return "No plant has been declared yet. Start the program with a plant file, or send a plant.declared event."
	}
	return ""
}

func (v *View) piece(serial string) *scheduler.Piece {
	if v.Picture.State == nil {
		return nil
	}
	return v.Picture.State.Pieces[serial]
}

// operation finds what the routing says about a piece's operation.
func (v *View) operation(serial, id string) *resources.Operation {
	piece := v.piece(serial)
	if piece == nil || v.product[piece.Product] == nil {
		return nil
	}
	return v.product[piece.Product].Operation(id)
}

func opState(piece *scheduler.Piece, id string) *scheduler.OpState {
	for i := range piece.Ops {
		if piece.Ops[i].Operation == id {
			return &piece.Ops[i]
		}
	}
	return nil
}

// span is when a piece is or was at an operation: as reported where there is a
// report, else as planned. Both are 0 when neither is known.
func (v *View) span(serial, operation string) (start, end resources.Tick) {
	if w := v.works[member{Piece: serial, Operation: operation}]; w != nil {
		start, end = w.Start, w.End
	}
	if piece := v.piece(serial); piece != nil {
		if op := opState(piece, operation); op != nil {
			if op.Started != 0 {
				start = op.Started
			}
			if op.Status == scheduler.Done {
				end = op.Ended
			}
		}
	}
	return start, end
}

// completing lists the operations whose end completes a line: those that
// nothing follows on the customer's pieces, except when they are only there to
// give a tool back. It follows scheduler.MeasureOrders; a test compares them.
func completing(p *resources.Product) map[string]bool {
	followed, gives := map[string]bool{}, map[string]bool{}
	for i := range p.Routing {
		if p.Routing[i].Per != resources.PerSample {
			for _, link := range p.Routing[i].After {
				followed[link.Operation] = true
			}
		}
		for _, take := range p.Routing[i].Takes {
			if take.Until != p.Routing[i].ID {
				gives[take.Until] = true
			}
		}
	}
	last, main := map[string]bool{}, map[string]bool{}
	for i := range p.Routing {
		id := p.Routing[i].ID
		if !followed[id] && p.Routing[i].Per != resources.PerSample {
			last[id] = true
			if !gives[id] {
				main[id] = true
			}
		}
	}
	if len(main) == 0 {
		return last
	}
	return main
}
