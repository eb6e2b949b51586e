// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"math"

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
	t.weighed(d, resin)
	t.mixes.put(d.Mix, &MixRun{
		ID: d.Mix, Resin: resin.ID, Grams: grams, Made: t.e.At,
		Expiry: t.e.At + Tick(t.plant.MixLife(resin, t.e.At)),
	})
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
func (t *change) weighed(d events.MixData, resin *resources.Resin) {
	if resin.IngredientsTol <= 0 || len(d.Ingredients) == 0 {
		return
	}
	var parts, total float64
	for _, in := range resin.Ingredients {
		parts += in.Parts
		total += d.Ingredients[in.Name]
	}
	for _, in := range resin.Ingredients {
		want := total * in.Parts / parts
		if got := d.Ingredients[in.Name]; math.Abs(got-want) > resin.IngredientsTol*want {
			t.note(d.Mix, "weigh check: %.1f g of %s, %.1f g are right for this mix; do not use it before somebody has looked", got, in.Name, want)
		}
	}
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
	mix.Discarded, mix.Ended, mix.Left = true, t.e.At, d.Grams
	if d.Grams == 0 {
		mix.Left = max(0, mix.Grams-mix.Drawn)
	}
	return nil
}
