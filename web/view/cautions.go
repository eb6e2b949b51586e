// SPDX-License-Identifier: Apache-2.0

package view

import (
	"slices"
	"strings"

	"towpath/resources"
)

// Deference is the sentence under every list of cautions.
const Deference = "Towpath only plans; it controls no machine. The suppliers' data sheets, the site's own procedures, " +
	"local codes and qualified people decide how work is done. Never skip a cure, a cool down, a guard or a hold to keep a time shown here."

// A caution is shown where work of its sort is done. Trade practice, no
// source; the plant file can add to them for each operation.
var cautionTexts = []struct {
	sort string // what the station or its work is about
	text string
}{
	{"resin", "Mixed resin heats itself: keep mixes small, leave none standing in the pot, and take a pot that warms or smokes outdoors on a metal tray."},
	{"resin", "Uncured epoxy and hardener on the skin can cause lasting allergy: gloves, eye protection, ventilation; wash off at once, not with solvent."},
	{"oven", "Oven, racks and mandrels are hot: open only at the recipe's safe temperature, and wear heat gloves."},
	{"oven", "Check extraction and over-temperature cut-out before an unattended cure."},
	{"mandrel", "Mandrels are heavy and may be hot; keep hands clear of the puller and of turning parts."},
	{"winding", "Keep hands, sleeves and hair away from turning mandrels and running tow."},
	{"torsion", "A shaft under torque can burst: close the guard, and stay out until the load is off."},
	{"balancing", "Run the balancer only with its guard closed and nothing loose on the shaft."},
	{"dust", "Cutting and grinding carbon makes dust that harms lungs and skin and conducts electricity: wet cutting or extraction, mask, no compressed air."},
	{"imaging", "Polishing wheels catch loose clothing; mounting resin is uncured epoxy."},
}

// Sorts by words that occur in the kind or name of a station. Kinds are the
// plant file's own, so this only helps where it speaks plainly.
var cautionWords = map[string][]string{
	"resin":     {"mix", "resin", "bond", "wind", "adhesive"},
	"oven":      {"oven", "cure", "curing"},
	"mandrel":   {"extract", "puller", "mandrel"},
	"winding":   {"wind", "lathe", "rotis"},
	"torsion":   {"tors", "proof", "test"},
	"balancing": {"balanc"},
	"dust":      {"cut", "saw", "finish", "grind", "prep", "machin"},
	"imaging":   {"imag", "polish", "micros"},
}

// cautions lists what applies to a station and the jobs shown on its page.
func (v *View) cautions(st *resources.Station, jobs []*Job) []string {
	sorts := map[string]bool{}
	about := strings.ToLower(st.Kind + " " + st.Name)
	for sort, words := range cautionWords {
		sorts[sort] = slices.ContainsFunc(words, func(w string) bool { return strings.Contains(about, w) })
	}
	sorts["oven"] = sorts["oven"] || len(st.Recipes) > 0
	for i := range v.plant.Resins {
		sorts["resin"] = sorts["resin"] || v.plant.Resins[i].Station == st.ID
	}
	out := []string{}
	for _, j := range jobs {
		for i := range j.Pieces {
			op := v.operation(j.Pieces[i].Piece, j.Pieces[i].Operation)
			if op == nil || j.Kind == MixJob {
				continue
			}
			sorts["resin"] = sorts["resin"] || op.Mix != nil
			for _, c := range op.Cautions {
				out = appendNew(out, c)
			}
		}
	}
	for _, c := range cautionTexts {
		if sorts[c.sort] {
			out = appendNew(out, c.text)
		}
	}
	return out
}
