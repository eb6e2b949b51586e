// SPDX-License-Identifier: Apache-2.0

package view

// Word is an entry of the glossary.
type Word struct {
	Name    string
	Meaning string
}

// Words is the glossary of the help page: the trade's terms as this program
// uses them.
func Words() []Word {
	return []Word{
		{"plant", "Everything that does not change when an order arrives: stations, crews, tools, recipes, resins, products, calendars."},
		{"station", "A place where work happens: mix room, winder, oven, bench, bond cell, tester, balancer, packing."},
		{"operation", "One step of a product's routing."},
		{"piece", "One physical tube or shaft, with its serial, on its way through the routing. Cutting can make several shafts of one tube."},
		{"order, order line", "What a customer wants of one product by one date. A firm line that is late costs more each day; an event line is worthless after its date."},
		{"due", "The last carrier cut-off that still keeps the customer's date."},
		{"predicted", "When the plan expects the last operation to end."},
		{"slack", "Due minus predicted: what may still go wrong before the date is missed."},
		{"chance", "In how many of a hundred histories, with times that vary, breakdowns, absences and failures, an order makes its date when the plan is kept. Its interval says how well that is known."},
		{"promise", "A shipment somebody was told. Its capacity is kept for a stated time; confirmed, it is an order with that date; else it is let go."},
		{"what if", "A set of changes tried on a copy of the shop and compared with the shop as it is. Adopted, its changes become facts; until then nothing changes."},
		{"load", "Pieces that share one run of an oven or another batch station. All start together and all leave together."},
		{"recipe", "A cure cycle: ramps, dwells, cool down, safe opening temperature. Times computed here are for planning only."},
		{"wet hold", "How long a wound tube may wait before it must be in the oven."},
		{"mix", "One batch of mixed resin. It has a mass and a pot life, and is thrown away when either is over."},
		{"pot life", "How long mixed resin can be used. It is shorter in a warm room."},
		{"tool", "A mandrel or a bond fixture: held from one operation to a later one, then cleaned and coated before it is free again."},
		{"changeover", "Work on a station between two jobs that differ: another resin, tow, mandrel size, recipe. It depends on the order of jobs."},
		{"crew, skill", "People with the same skills and a calendar. An attended part of an operation needs somebody with the skill on shift."},
		{"away", "So many people of a crew are not there for a time that is known or not. The plan counts without them; who is expected back counts again by themselves."},
		{"gate", "An operation that ends with a verdict: ring sample, cure chart, proof test. A failed piece goes on hold until somebody decides."},
		{"hold", "A piece that must not go on. Its order has no date until it is released, scrapped or made again."},
		{"frozen window", "The next stretch of each station's line, which a new plan leaves alone."},
		{"plan", "Times and resources for every operation of every open piece, with a version. Facts make a new one; nothing reported is ever moved."},
		{"alert", "Something on the floor that wants a person: what, who, and by when. It goes by itself when its cause is gone."},
		{"event", "A fact that happened. It is never changed, only taken back by a later one."},
		{"not believed", "A report that cannot be true with what is known: it is kept with its reason and changes nothing."},
	}
}
