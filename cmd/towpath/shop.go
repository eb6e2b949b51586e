// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sync/errgroup"

	"towpath/events/natslog"
	"towpath/resources"
	"towpath/scheduler/runner"
	"towpath/scheduler/runner/helping"
	"towpath/web"
	"towpath/web/shelf"
)

// shopConfig is what a running shop is made of.
type shopConfig struct {
	dir    string // data folder
	nats   string // external broker; empty: embedded
	copies int    // of the log on its cluster; 0: as it is
	bus    string // where the embedded broker listens
	mqtt   string // where it listens for MQTT; empty: nowhere
	addr   string // where the web server listens
	plant  *resources.Plant
	text   []byte // of the plant file
	lines  []resources.OrderLine
	season *resources.Forecast // nil: none
	clock  runner.Clock
	seed   uint64
	budget time.Duration
	keep   resources.Seconds // of history; 0: all
	real   bool              // the shop's clock is the log's
	logger *slog.Logger
}

// openedShop is a shop with everything it holds open.
type openedShop struct {
	conf     shopConfig
	store    closableStore
	shelf    *shelf.Shelf
	log      *natslog.Log
	lease    *natslog.Lease
	runner   *runner.Runner
	site     *web.Server
	listener net.Listener
}

// closableStore is a store with a file to close.
type closableStore interface {
	runner.Store
	io.Closer
}

// openShop opens data, bus and address. Close it.
func openShop(ctx context.Context, conf shopConfig) (_ *openedShop, err error) {
	s := &openedShop{conf: conf}
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	if err = os.MkdirAll(conf.dir, 0o750); err != nil {
		return nil, usage("", "data folder: %v", err)
	}
	if s.listener, err = listen(conf.addr); err != nil {
		return nil, err
	}
	s.log, err = natslog.Open(ctx, natslog.Config{
		Plant: conf.plant.ID, Dir: filepath.Join(conf.dir, "log"), URL: conf.nats, Listen: conf.bus, MQTT: conf.mqtt, Replicas: conf.copies, Logger: conf.logger,
	})
	if err != nil {
		return nil, busTrouble(conf, err)
	}
	if s.lease, err = s.log.Lease(ctx, whoPlans(conf.dir)); err != nil {
		return nil, busTrouble(conf, err)
	}
	if s.store, err = openStore(conf.dir, s.log.Identity(), conf.logger); err != nil {
		return nil, err
	}
	if s.shelf, err = shelf.Open(conf.dir); err != nil {
		return nil, usage("", "%v", err)
	}
	program, err := programMark()
	if err != nil {
		conf.logger.Warn("no other machine can help", "err", err)
	}
	desk := helping.NewDesk(s.log.Talk(), program, conf.logger)
	s.runner, err = runner.New(runner.Options{
		Log: busLog{s.log}, Store: s.store, Clock: conf.clock, Planner: runner.Engine{},
		Logger: conf.logger, Seed: conf.seed, Budget: conf.budget, Along: desk.Search, Keep: conf.keep, TrustStored: conf.real, Leads: s.lease.Held,
	})
	if err != nil {
		return nil, err
	}
	s.site, err = web.New(web.Options{
		Shop: &webShop{runner: s.runner, clock: conf.clock}, Season: webSeason{conf.season}, Saver: webSaver{}, Chances: webChances{desk}, Promise: webPromiser{runner: s.runner, seed: conf.seed},
		Trier: webTrier{runner: s.runner, seed: conf.seed, budget: conf.budget}, Shelf: s.shelf, History: webHistory{s.log}, Logger: conf.logger, Version: version(),
	})
	return s, err
}

// whoPlans names a program by its machine and its data folder, which no other has.
func whoPlans(dir string) string {
	if whole, err := filepath.Abs(dir); err == nil {
		dir = whole
	}
	return machine() + ":" + dir
}

// machine is this one's name.
func machine() string {
	host, err := os.Hostname()
	if err != nil {
		return "unknown machine"
	}
	return host
}

func listen(addr string) (net.Listener, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, usage("another program may be there; choose another with --addr, e.g. --addr 127.0.0.1:0 for any free port", "cannot listen on %s: %v", addr, err)
	}
	return l, nil
}

func busTrouble(conf shopConfig, err error) error {
	switch {
	case errors.Is(err, natslog.ErrInUse):
		return inUse(conf.dir)
	case errors.Is(err, natslog.ErrConfig):
		return usage("", "%v", err)
	case conf.nats != "":
		return trouble("is a NATS server with JetStream running there?", "%v", err)
	}
	return trouble("if the port is taken, choose another with --bus or --mqtt", "%v", err)
}

func inUse(dir string) error {
	return trouble("stop it first, or give another folder with --data", "the data folder %s is in use by another towpath", dir)
}

// close gives everything back, in the opposite order.
func (s *openedShop) close() {
	if s.shelf != nil {
		if err := s.shelf.Close(); err != nil {
			s.conf.logger.Error("close what was tried", "err", err)
		}
	}
	if s.store != nil {
		if err := s.store.Close(); err != nil {
			s.conf.logger.Error("close store", "err", err)
		}
	}
	if s.log != nil {
		s.log.Close()
	}
	if s.listener != nil {
		_ = s.listener.Close() // the web server has usually closed it
	}
}

// run works until ctx ends or something fails. Once the state has caught up
// and the files are in it, it calls then; what that returns ends the shop.
func (s *openedShop) run(ctx context.Context, then func(context.Context) error) error {
	all, ctx := errgroup.WithContext(ctx)
	all.Go(func() error { s.lease.Keep(ctx); return nil })
	all.Go(func() error { return s.runner.Run(ctx) })
	all.Go(func() error { return s.site.Serve(ctx, s.listener) })
	all.Go(func() error {
		select {
		case <-s.runner.Ready():
		case <-ctx.Done():
			return nil
		}
		if err := s.declare(ctx); err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return err
		}
		return then(ctx)
	})
	err := all.Wait()
	var f *fault
	if err != nil && !errors.As(err, &f) {
		err = trouble("what was acknowledged is safe in the data folder", "%v", err)
	}
	return err
}

// address is where a browser finds the shop.
func (s *openedShop) address() string {
	a, ok := s.listener.Addr().(*net.TCPAddr)
	if ok && a.IP.IsUnspecified() {
		return fmt.Sprintf("http://127.0.0.1:%d", a.Port)
	}
	return "http://" + s.listener.Addr().String()
}

// warnOpen tells when others than this machine can reach an address.
func warnOpen(errs io.Writer, what, addr string) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil || host == "localhost" {
		return
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		return
	}
	fmt.Fprintf(errs, "towpath: warning: there is no login; whoever reaches %s %s can read and report\n", what, addr)
}
