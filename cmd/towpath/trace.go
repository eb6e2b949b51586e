// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/boltstore"
	"towpath/scheduler/runner"
	"towpath/web/view"
)

type traceOptions struct {
	server, data             string
	mix, load, material, lot string
	json                     bool
	wait                     time.Duration
}

func newTrace() *cobra.Command {
	var o traceOptions
	c := &cobra.Command{
		Use:   "trace (SERIAL | --mix MIX | --load LOAD | --material MATERIAL --lot LOT) (--server URL | --data DIR)",
		Short: "What went into a piece, or every piece made from a mix, a load or a lot",
		Long: `trace answers two questions. For a serial: its mix, lots, winder, mandrel, load
with recipe, ring sample, bond, fixture and results, who and when, and the event
behind each fact. For a mix, a load or a lot that was found to be bad: every piece
it went into, with its state, order and customer.

It asks a running shop with --server, or reads a data folder whose server is
stopped with --data.`,
		Example: `  towpath trace A-1-01 --server http://127.0.0.1:8080
  towpath trace --mix M-7 --server http://127.0.0.1:8080
  towpath trace --material tow --lot T-0481 --data ./data --json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return trace(c, &o, args) },
	}
	f := c.Flags()
	f.StringVar(&o.server, "server", "", "web address of the running shop")
	f.StringVar(&o.data, "data", "", "data folder of a shop that is stopped")
	f.StringVar(&o.mix, "mix", "", "a mix of resin")
	f.StringVar(&o.load, "load", "", "a load of an oven or another batch station")
	f.StringVar(&o.material, "material", "", "the material of the lot")
	f.StringVar(&o.lot, "lot", "", "a supplier's lot")
	f.BoolVar(&o.json, "json", false, "print one JSON object")
	f.DurationVar(&o.wait, "timeout", 10*time.Second, "how long to wait for the server's answer")
	return c
}

// asked is what to look up and as what.
func (o *traceOptions) asked(args []string) (text, kind string, err error) {
	given := 0
	for _, x := range []string{strings.Join(args, ""), o.mix, o.load, o.lot} {
		if x != "" {
			given++
		}
	}
	if given != 1 || (o.lot == "") != (o.material == "") {
		return "", "", usage("towpath trace --help shows examples", "give one of: a serial, --mix, --load, or --material with --lot")
	}
	d := events.BatchData{Mix: o.mix, Load: o.load, Material: o.material, Lot: o.lot}
	if len(args) == 1 {
		return args[0], "piece", nil
	}
	kind, text, _ = strings.Cut(scheduler.BatchKey(d), "/")
	return text, kind, nil
}

func trace(c *cobra.Command, o *traceOptions, args []string) error {
	text, kind, err := o.asked(args)
	if err != nil {
		return err
	}
	if (o.server == "") == (o.data == "") {
		return usage("--server http://127.0.0.1:8080 for a running shop, --data DIR for one that is stopped", "give either --server or --data")
	}
	var sheet view.TraceSheet
	zone := time.Local
	if o.server != "" {
		err = o.ask(c.Context(), text, kind, &sheet)
	} else {
		sheet, zone, err = o.read(text, kind)
	}
	switch {
	case err != nil:
		return err
	case sheet.Kind == "":
		return trouble("check the name", "there is no %s %s", kind, text)
	case o.json:
		out := json.NewEncoder(c.OutOrStdout())
		out.SetIndent("", "  ")
		return out.Encode(sheet)
	}
	printTrace(c.OutOrStdout(), &sheet, zone)
	return nil
}

// ask gets the answer from a running shop.
func (o *traceOptions) ask(ctx context.Context, text, kind string, into *view.TraceSheet) error {
	body, err := askServer(ctx, o.server, "/api/trace", url.Values{"q": {text}, "as": {kind}}, o.wait)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(body, into); err != nil {
		return trouble("is it a towpath server?", "%s answered something else: %v", o.server, err)
	}
	return nil
}

// read gets the answer from a data folder: the state as it was last saved.
func (o *traceOptions) read(text, kind string) (view.TraceSheet, *time.Location, error) {
	state, err := storedState(o.data)
	if err != nil {
		return view.TraceSheet{}, nil, err
	}
	v := view.New(&view.Picture{State: state, Now: state.At})
	zone := time.Local
	if state.Plant != nil {
		zone = state.Plant.Zone
	}
	return v.TraceSheet(text, kind), zone, nil
}

// storedState is the state in the data folder of a shop that is stopped, as it
// was last saved.
func storedState(dir string) (*scheduler.State, error) {
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err != nil {
		return nil, usage("give the folder that serve or demo was given with --data", "%s holds no saved state", dir)
	}
	store, err := openStore(dir, "", slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, err
	}
	defer store.Close()
	state, err := store.Load()
	switch {
	case errors.Is(err, runner.ErrNoState):
		return nil, trouble("start towpath serve on it once, then stop it", "%s has no state to read: %v", dir, err)
	case err != nil:
		return nil, trouble("", "%v", err)
	}
	return state, nil
}

// traceWriter writes a trace for people.
type traceWriter struct {
	out  io.Writer
	zone *time.Location
}

func printTrace(out io.Writer, t *view.TraceSheet, zone *time.Location) {
	w := traceWriter{out, zone}
	if t.Piece != nil {
		w.piece(t.Piece)
		return
	}
	w.used(t.Used)
}

func (w traceWriter) line(format string, args ...any) {
	fmt.Fprintln(w.out, strings.TrimRight(fmt.Sprintf(format, args...), " "))
}

func (w traceWriter) when(at resources.Tick) string {
	if at == 0 {
		return ""
	}
	return time.Unix(int64(at), 0).In(w.zone).Format("2006-01-02 15:04")
}

// told is when, who and which event.
func (w traceWriter) told(t scheduler.Told) string {
	who := ""
	if t.By != "" {
		who = " " + t.By
	}
	if t.Event == "" {
		return w.when(t.At) + who + " (implied)"
	}
	return fmt.Sprintf("%s%s (no. %d, %s)", w.when(t.At), who, t.Seq, t.Event)
}

func (w traceWriter) piece(p *scheduler.Trace) {
	w.line("%s: %s, order %s line %s %s, %s %s", p.Serial, p.Product, p.Order, p.Line, p.Customer, p.State, p.Why)
	if p.Tube != "" {
		w.line("  cut from %s", p.Tube)
	}
	if len(p.Shafts) > 0 {
		w.line("  cut into %s", strings.Join(p.Shafts, ", "))
	}
	if p.Replaces != "" {
		w.line("  made for %s", p.Replaces)
	}
	if len(p.Steps)+len(p.Results) == 0 {
		w.line("  nothing has been done on it yet")
		return
	}
	w.line("work")
	for i := range p.Steps {
		s := &p.Steps[i]
		with := strings.Join(s.Tools, " ")
		for _, x := range [][2]string{{"mix", s.Mix}, {"load", s.Load}, {"lot", strings.Join(s.Lots, ", ")}} {
			if x[1] != "" {
				with += " " + x[0] + " " + x[1]
			}
		}
		again := ""
		if s.Again {
			again = ", done again later"
		}
		w.line("  %-10s %-14s %s%s", s.Station, s.Operation, strings.TrimSpace(with), again)
		w.line("    from %s", w.told(s.Started))
		if s.Ended.At != 0 {
			w.line("    to   %s", w.told(s.Ended))
		}
	}
	for i := range p.Mixes {
		w.mix(&p.Mixes[i])
	}
	for i := range p.Loads {
		w.load(&p.Loads[i])
	}
	if len(p.Results) > 0 {
		w.line("results")
	}
	for i := range p.Results {
		r := &p.Results[i]
		w.line("  %-10s %-8s %s %s %s", r.Gate, r.Decision, strings.Join(r.Values, ", "), r.Why, w.told(r.Told))
	}
}

func (w traceWriter) mix(m *scheduler.TraceMix) {
	w.line("mix %s: %s, %d g, made %s, good until %s, lots %s %s", m.Mix, m.Resin, m.Grams, w.told(m.Made), w.when(m.Expiry), strings.Join(m.Lots, ", "), m.Held)
}

func (w traceWriter) load(l *scheduler.TraceLoad) {
	w.line("load %s: %s, recipe %s, %d pieces, %s to %s %s", l.Load, l.Station, l.Recipe, l.Members, w.told(l.Started), w.told(l.Ended), l.Held)
}

func (w traceWriter) used(u *scheduler.Used) {
	state := "not on hold"
	if u.Held {
		state = "on hold since " + w.told(u.Hold) + " " + u.Why
	}
	w.line("%s: %s; %s", u.Name, state, plural(len(u.Pieces), "piece"))
	if u.Mix != nil {
		w.mix(u.Mix)
	}
	if u.Load != nil {
		w.load(u.Load)
	}
	if len(u.Mixes) > 0 {
		w.line("in mixes %s", strings.Join(u.Mixes, ", "))
	}
	for i := range u.Pieces {
		p := &u.Pieces[i]
		w.line("  %-14s %-9s %-8s order %s %s, %s %s", p.Serial, p.State, p.Product, p.Order, p.Customer, p.Operation, w.told(p.Told))
	}
}
