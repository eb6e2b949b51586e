// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"math"
	"slices"

	"towpath/events"
	"towpath/resources"
)

func mixState(m *MixRun) string {
	switch {
	case m == nil:
		return stateNone
	case m.Discarded:
		return "discarded"
	}
	return "made"
}

func (t *change) mixMade(d events.MixData) *Refusal {
	if r := t.sender(); r != nil {
		return r
	}
	about := "mix " + d.Mix
	mix := t.mixes.look(d.Mix)
	if m := mixLife.move(mixState(mix), events.MixMade, never); m.Refuse != "" {
		return refuse(m.Refuse, about, "give this one a name of its own", "there is such a mix, made at %s", t.s.clock(mix.Made))
	}
	if d.Mix == "" {
		return refuse(RefusedMalformed, "mix", "give it a name of its own", "the mix has no name")
	}
	name, grams := t.plannedMix(d)
	resin := t.plant.Resin(name)
	switch {
	case name == "":
		return refuse(RefusedMalformed, about, "say which", "the report names no resin")
	case resin == nil:
		return refuse(RefusedUnknown, about, "check the name", "the plant has no resin %q", name)
	case grams < 1:
		return refuse(RefusedMalformed, about, "give its mass", "%d g were reported", grams)
	}
	if resin.MaxMass > 0 && grams > resin.MaxMass {
		t.note(d.Mix, "%d g is more than the %d g one mix of %s may have: it may heat up by itself; follow the supplier's data sheet", grams, resin.MaxMass, resin.ID)
	}
	faults, r := t.weighed(d, resin)
	if r != nil {
		return r
	}
	run := &MixRun{
		ID: d.Mix, Resin: resin.ID, Grams: grams, Made: t.e.At, By: t.e.By, Event: t.e.ID,
		Expiry:  t.e.At + Tick(t.plant.MixLife(resin, t.e.At)),
		Weighed: len(d.Ingredients) > 0 && faults == "",
	}
	for _, l := range d.Lots {
		run.Lots = append(run.Lots, Lot{l.Material, l.Lot})
	}
	t.mixes.put(d.Mix, run)
	for _, l := range run.Lots {
		if faults == "" && t.batchIsHeld(l.key()) {
			faults = batchText(l.key()) + " is on hold"
			t.holdBatch(batchMix+d.Mix, faults)
			return nil
		}
	}
	if faults != "" {
		t.holdBatch(batchMix+d.Mix, "weigh check: "+faults)
	}
	return nil
}

// plannedMix is the resin and mass reported, or where nothing is said those
// of the plan's mix of that ID.
func (t *change) plannedMix(d events.MixData) (string, int64) {
	name, grams := d.Resin, d.Grams
	p := t.s.published()
	if p == nil || name != "" && grams != 0 {
		return name, grams
	}
	if w := p.mix(d.Mix); w != nil {
		if name == "" {
			name = w.Resin
		}
		if grams == 0 && name == w.Resin {
			grams = w.Grams
		}
	}
	return name, grams
}

// weighed is the weigh check: each ingredient against its share of the whole.
// It tells what is out of tolerance; a weight that is missing, or of something
// that does not belong in, is no result.
func (t *change) weighed(d events.MixData, resin *resources.Resin) (faults string, r *Refusal) {
	if len(d.Ingredients) == 0 {
		return "", nil
	}
	about := "mix " + d.Mix
	var parts, total float64
	names := make([]string, 0, len(resin.Ingredients))
	for _, in := range resin.Ingredients {
		names = append(names, in.Name)
		parts += in.Parts
		got, there := d.Ingredients[in.Name]
		if !there {
			return "", refuse(RefusedMalformed, about, "weigh "+list(names), "the weight of %s is missing", in.Name)
		}
		if got < 0 || math.IsNaN(got) || math.IsInf(got, 0) {
			return "", refuse(RefusedMalformed, about, "weigh again", "%g g of %s cannot be", got, in.Name)
		}
		total += got
	}
	for _, name := range sortedKeys(d.Ingredients) {
		if len(names) > 0 && !slices.Contains(names, name) {
			return "", refuse(RefusedMalformed, about, "it takes "+list(names), "%s does not belong in %s", name, resin.ID)
		}
	}
	if resin.IngredientsTol <= 0 {
		return "", nil
	}
	for _, in := range resin.Ingredients {
		want := total * in.Parts / parts
		if got := d.Ingredients[in.Name]; math.Abs(got-want) > resin.IngredientsTol*want {
			faults = joinWhy(faults, fmt.Sprintf("%.1f g of %s, %.1f g are right for this mix", got, in.Name, want))
		}
	}
	return faults, nil
}

func (t *change) mixDiscarded(d events.MixData) *Refusal {
	about := "mix " + d.Mix
	mix := t.mixes.look(d.Mix)
	if m := mixLife.move(mixState(mix), events.MixDiscarded, never); m.Refuse != "" {
		if mix == nil {
			return refuse(m.Refuse, about, "check the name", "there is no such mix")
		}
		return refuse(m.Refuse, about, "nothing to do", "it was discarded at %s already", t.s.clock(mix.Ended))
	}
	if t.e.At < mix.Made {
		return refuse(RefusedContradicts, about, "check the times", "it was made only at %s", t.s.clock(mix.Made))
	}
	mix = t.mixes.edit(d.Mix)
	mix.Discarded, mix.Ended, mix.Left, mix.EndEvent = true, t.e.At, d.Grams, t.e.ID
	if d.Grams == 0 {
		mix.Left = max(0, mix.Grams-mix.Drawn)
	}
	return nil
}
