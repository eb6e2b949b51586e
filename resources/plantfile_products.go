// SPDX-License-Identifier: Apache-2.0

package resources

import "go.yaml.in/yaml/v3"

func readProduct(o *object, units map[string]string) Product {
	o.need("routing")
	p := Product{
		ID: o.id(), Name: o.text("name"), Dimensions: o.sizes("dimensions"),
		Samples: o.count("samples", 0, 0, mostPieces),
	}
	o.one("starts", "starts", func(o *object) {
		o.need("yield", "confidence")
		p.Starts = &StartRule{Yield: o.yield("yield"), Confidence: o.percent("confidence")}
		if c := p.Starts.Confidence; o.has("confidence") && (c <= 0 || c >= 1) {
			o.bad("confidence", o.values["confidence"], "a share above 0 % and below 100 %: no number of pieces is certain")
		}
	})
	o.each("routing", "operation", func(o *object) {
		before := ""
		if n := len(p.Routing); n > 0 {
			before = p.Routing[n-1].ID
		}
		p.Routing = append(p.Routing, readOperation(o, before, units))
	})
	return p
}

// readOperation reads one step; before is the operation above it.
func readOperation(o *object, before string, units map[string]string) Operation {
	op := Operation{
		ID: o.id(), Name: o.text("name"), Per: Per(o.word("per", "tube", "shaft", "sample")),
		SkipSample: o.flag("skip_sample"), Stations: o.texts("stations"),
		Load: o.duration("load", 0), LoadEach: o.duration("load_each", 0),
		Run: o.duration("run", 0), RunAt: o.durations("run_at"), MaxRun: o.duration("max_run", 0),
		Unload: o.duration("unload", 0), UnloadEach: o.duration("unload_each", 0),
		MayPause: o.flag("may_pause"), WaitInside: o.flag("wait_inside"),
		Recipe: o.text("recipe"), Tau: o.duration("tau", 0), Size: o.sizes("size"),
		Attributes: o.attributes("attributes"), Split: o.count("split", 0, 1, mostPieces),
		Gate: o.text("gate"), Cautions: o.texts("cautions"),
	}
	o.need("stations")
	if op.Name == "" {
		op.Name = op.ID
	}
	op.Yield, op.SecondPass = o.yield("yield"), o.percent("second_pass")
	op.Spread = o.spread("spread")
	if !o.has("run") && !o.has("run_at") && !o.has("recipe") && !o.has("load") && !o.has("load_each") && !o.has("unload") && !o.has("unload_each") {
		o.r.report(Finding{Line: o.r.lineOf(o.path), Field: o.path, Text: "takes no time", Allowed: "run:, run_at:, recipe:, load: or unload:"})
	}
	o.each("needs", "need", func(o *object) { op.Needs = append(op.Needs, readNeeds(o)...) })
	op.After = readAfter(o, before)
	o.each("takes", "take", func(o *object) {
		o.need("tool", "until")
		op.Takes = append(op.Takes, Take{Tool: o.text("tool"), Until: o.text("until")})
	})
	o.each("draws", "draw", func(o *object) {
		o.need("material", "quantity")
		material := o.text("material")
		op.Draws = append(op.Draws, Draw{Material: material, Quantity: o.quantity("quantity", units[material])})
	})
	o.one("rule", "rule", func(o *object) { op.Rule = readRule(o) })
	o.one("mix", "mix", func(o *object) {
		o.need("resin", "mass")
		op.Mix = &MixDraw{Resin: o.text("resin"), Grams: o.mass("mass")}
	})
	return op
}

var partWords = []string{"setup", "load", "run", "unload"}

// readNeeds makes one Need for each part that the entry names.
func readNeeds(o *object) []Need {
	o.need("parts", "skill")
	skill, share := o.text("skill"), o.people("people")
	var needs []Need
	for _, it := range o.items("parts", "parts", true) {
		text, _ := scalarText(it.node)
		part := -1
		for i, w := range partWords {
			if w == text && Part(i) != PartSetup {
				part = i
			}
		}
		if part < 0 {
			o.r.report(Finding{
				Line: it.node.Line, Field: it.path, Text: "is not a part of an operation", Found: describe(it.node),
				Allowed: "load, run, unload", Hint: hint(text, partWords[1:]),
			})
			continue
		}
		needs = append(needs, Need{Part: Part(part), Skill: skill, Share: share})
	}
	return needs
}

// readAfter reads the operations that come before. Nothing said means the
// operation above; an empty list means none.
func readAfter(o *object, before string) []Link {
	given := o.has("after")
	items := o.items("after", "after", true)
	if !given && before != "" {
		return []Link{{Operation: before}}
	}
	var links []Link
	for _, it := range items {
		if follow(it.node).Kind != yaml.MappingNode {
			text, ok := scalarText(it.node)
			if !ok || text == "" {
				o.r.report(Finding{
					Line: it.node.Line, Field: it.path, Text: "cannot be read", Found: describe(it.node),
					Allowed: "the id of an operation, or operation: with min: and max:",
				})
				continue
			}
			o.r.lines[it.path] = it.node.Line
			links = append(links, Link{Operation: text})
			continue
		}
		links = append(links, readLink(o.r.object("link", it.path, it.node)))
	}
	if o.r.keys != nil {
		readLink(o.r.object("link", o.at("after"), nil))
	}
	return links
}

func readLink(o *object) Link {
	o.need("operation")
	l := Link{Operation: o.text("operation"), FromStart: o.word("from", "end", "start") == 1, Min: o.wait("min"), Max: o.wait("max")}
	l.HasMax = o.has("max")
	if l.HasMax && l.Max < l.Min {
		o.bad("max", o.values["max"], "at least as long as min")
	}
	o.done()
	return l
}
