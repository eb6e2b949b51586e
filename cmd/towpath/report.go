// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler/runner"
)

// reportOptions are the flags of all reports; each verb shows those it uses.
type reportOptions struct {
	nats, server, plant string
	id, by, at          string
	wait                time.Duration

	station, piece, operation   string
	place                       int
	mix, resin, load, unit, why string
	tools, members, values      []string
	grams                       int64
	until, started, setup, gate string
	crew, calendar, from        string
	absence                     string
	people                      int
	pass, fail                  bool
	measures, lots, ingredients []string
	decide, material            string
	lot                         string
	event, order, line          string
	replaces                    string
}

// verb is one thing to report.
type verb struct {
	name    string
	kind    events.Kind
	short   string
	flags   []string // that it uses
	needs   []string // of these
	example string
	data    func(*reportOptions) (any, error)
}

func newReport() *cobra.Command {
	c := &cobra.Command{
		Use:   "report VERB (--server URL | --nats URL --plant ID) …",
		Short: "Report a fact from a station or an office",
		Long: `report tells a running shop that something has happened. With --server it goes
through the web server, which answers at once whether it was believed. With
--nats it is published on the message bus, where it is kept even while the
server is down; whether it was believed is then seen on the log page.

A demo's clock runs fast, so report to a demo with --server and without --at.`,
		Example: `  towpath report start --server http://127.0.0.1:8080 --station W1 --piece A-1-01 --operation wind
  towpath report finish --nats nats://127.0.0.1:4222 --plant shop --station W1 --piece A-1-01 --operation wind
  towpath report start --server http://127.0.0.1:8080 --station W1 --piece A-1-02 --operation wind --replaces 6f1c…
  towpath report void --server http://127.0.0.1:8080 --event 6f1c… --reason "wrong piece"
  towpath report down --server http://127.0.0.1:8080 --station OV1 --why "heater fault" --until 2026-03-02T18:00`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	for _, v := range verbs() {
		c.AddCommand(newVerb(v))
	}
	return c
}

func newVerb(v verb) *cobra.Command {
	o := &reportOptions{}
	c := &cobra.Command{
		Use:     v.name,
		Short:   v.short,
		Example: "  towpath report " + v.name + " --server http://127.0.0.1:8080 " + v.example,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if (o.nats == "") == (o.server == "") {
				return usage("--server http://127.0.0.1:8080 for a demo or serve on this machine", "give either --server or --nats")
			}
			if err := required(c, v.needs...); err != nil {
				return err
			}
			return report(c, v, o)
		},
	}
	f := c.Flags()
	f.StringVar(&o.server, "server", "", "web address of the running shop")
	f.StringVar(&o.nats, "nats", "", "address of the message bus")
	f.StringVar(&o.plant, "plant", "", "the plant's ID; required with --nats")
	f.StringVar(&o.id, "id", "", "ID of the event; sending the same ID again counts once (default: a new one)")
	f.StringVar(&o.by, "by", "", "who reports")
	if v.kind != events.EventVoided {
		f.StringVar(&o.replaces, "replaces", "", "ID of a wrong report that this one replaces: it is voided in the same step")
	}
	f.StringVar(&o.at, "at", "", "when it happened, RFC 3339 or local to this machine (default: now)")
	f.DurationVar(&o.wait, "timeout", 10*time.Second, "how long to wait for the answer")
	for _, name := range v.flags {
		o.flag(c, name)
	}
	return c
}

// flag adds one of the flags that only some verbs have.
func (o *reportOptions) flag(c *cobra.Command, name string) {
	f := c.Flags()
	text := map[string]struct {
		into  *string
		usage string
	}{
		"station":   {&o.station, "the station"},
		"piece":     {&o.piece, "serial of the piece"},
		"operation": {&o.operation, "operation of the routing"},
		"mix":       {&o.mix, "the mix"},
		"resin":     {&o.resin, "the resin system"},
		"load":      {&o.load, "the load"},
		"unit":      {&o.unit, "mark of the tool"},
		"why":       {&o.why, "the reason, in words"},
		"until":     {&o.until, "expected end, RFC 3339 or local to this machine"},
		"crew":      {&o.crew, "the crew"},
		"calendar":  {&o.calendar, "calendar of the shift they belong to, where the crew has several"},
		"from":      {&o.from, "when they go, RFC 3339 or local to this machine (default: now)"},
		"absence":   {&o.absence, "ID of the report that they are away; present: left out, all of the crew who are away"},
		"setup":     {&o.setup, "when the changeover for it began, where there was one"},
		"started":   {&o.started, "when it started, when the start was not reported"},
		"gate":      {&o.gate, "kind of result, e.g. ring or proof"},
		"decide":    {&o.decide, "what a person decides in place of the rule: pass, rework, remake or hold; needs --by and --why"},
		"material":  {&o.material, "the material of the lot"},
		"lot":       {&o.lot, "the supplier's lot"},
		"event":     {&o.event, "ID of the event that never happened"},
		"order":     {&o.order, "the order"},
		"line":      {&o.line, "its line; empty: the whole order"},
	}
	if t, ok := text[name]; ok {
		f.StringVar(t.into, name, "", t.usage)
		if name == "why" {
			f.StringVar(t.into, "reason", "", "the same as --why")
		}
		return
	}
	switch name {
	case "place":
		f.IntVar(&o.place, name, 0, "place on the station, from 1")
	case "people":
		f.IntVar(&o.people, name, 1, "how many of them")
	case "tool":
		f.StringArrayVar(&o.tools, name, nil, "mark of a tool taken; repeat for several")
	case "member":
		f.StringArrayVar(&o.members, name, nil, "PIECE/OPERATION in the load; repeat for each")
	case "value":
		f.StringArrayVar(&o.values, name, nil, "measured value, e.g. torque_nm=412.5; repeat for several")
	case "measure":
		f.StringArrayVar(&o.measures, name, nil, "what was read, with its unit, e.g. \"torque=0 400 800 N·m\"; repeat for each quantity")
	case "use-lot":
		f.StringArrayVar(&o.lots, name, nil, "MATERIAL=LOT that was used; repeat for several")
	case "ingredient":
		f.StringArrayVar(&o.ingredients, name, nil, "weighed grams, e.g. resin=1513.6; repeat for each")
	case "grams":
		f.Int64Var(&o.grams, name, 0, "mass mixed, grams")
	case "pass":
		f.BoolVar(&o.pass, name, false, "the piece passes")
	case "fail":
		f.BoolVar(&o.fail, name, false, "the piece fails")
	}
}

// event builds the fact.
func (o *reportOptions) toEvent(v verb) (events.Event, error) {
	data, err := v.data(o)
	if err != nil {
		return events.Event{}, err
	}
	e := events.Event{ID: o.id, Kind: v.kind, Plant: o.plant, Station: o.station, By: o.by, Data: data}
	if e.ID == "" {
		e.ID = runner.NewID()
	}
	if o.at != "" {
		if e.At, err = parseMoment("at", o.at, time.Local); err != nil {
			return events.Event{}, err
		}
	}
	return e, nil
}

// batch is the fact, after the void of the one it replaces.
func (o *reportOptions) batch(e events.Event) []events.Event {
	if o.replaces == "" {
		return []events.Event{e}
	}
	// Its ID follows from that of the fact, so that sending both again with
	// --id counts once.
	return []events.Event{{
		ID: "void-for-" + e.ID, Kind: events.EventVoided, Plant: e.Plant, At: e.At, By: e.By,
		Data: events.VoidData{Event: o.replaces, Why: cmp.Or(o.why, "replaced by "+e.ID)},
	}, e}
}

func report(c *cobra.Command, v verb, o *reportOptions) error {
	e, err := o.toEvent(v)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(c.Context(), o.wait)
	defer cancel()
	var said string
	if o.server != "" {
		said, err = reportToServer(ctx, o.server, o.batch(e)...)
	} else {
		said, err = reportToBus(ctx, o, o.batch(e)...)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(c.OutOrStdout(), said)
	return err
}

// momentFlag reads an optional instant.
func momentFlag(name, text string) (resources.Tick, error) {
	if text == "" {
		return 0, nil
	}
	return parseMoment(name, text, time.Local)
}
