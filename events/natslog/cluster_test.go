// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

// cluster is three brokers that keep each other's streams, in this process.
func cluster(t *testing.T) []*server.Server {
	t.Helper()
	var routes []*url.URL
	var ports []int
	for range 3 {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		defer l.Close()
		port := l.Addr().(*net.TCPAddr).Port
		at, err := url.Parse(fmt.Sprintf("nats://127.0.0.1:%d", port))
		require.NoError(t, err)
		routes, ports = append(routes, at), append(ports, port)
		require.NoError(t, l.Close())
	}
	var list []*server.Server
	for i, port := range ports {
		s, err := server.NewServer(&server.Options{
			ServerName: fmt.Sprintf("broker-%d", i+1), Host: "127.0.0.1", Port: server.RANDOM_PORT, NoSigs: true, NoLog: true,
			JetStream: true, StoreDir: t.TempDir(), SyncAlways: true, MaxPayload: natslog.MaxPayload,
			Cluster: server.ClusterOpts{Name: "towpath", Host: "127.0.0.1", Port: port}, Routes: routes,
		})
		require.NoError(t, err)
		s.Start()
		t.Cleanup(func() { s.Shutdown(); s.WaitForShutdown() })
		list = append(list, s)
	}
	for _, s := range list {
		require.True(t, s.ReadyForConnections(30*time.Second))
	}
	require.Eventually(t, func() bool {
		led := false
		for _, s := range list {
			led = led || s.JetStreamIsLeader()
		}
		return led && list[0].NumRoutes() > 0
	}, time.Minute, 20*time.Millisecond, "the cluster has a leader")
	return list
}

// A log on a cluster has the copies asked for, keeps them when a program that asks
// for none opens it, tells who comes second, and outlives the loss of a broker,
// and so does the lease.
func TestACopiedLogOutlivesABroker(t *testing.T) {
	list := cluster(t)
	var urls []string
	for _, s := range list {
		urls = append(urls, s.ClientURL())
	}
	all := strings.Join(urls, ",")
	conf := natslog.Config{Plant: "demo", URL: all, Replicas: 3, Term: 2 * time.Second}
	var one *natslog.Log
	require.Eventually(t, func() bool {
		l, err := natslog.Open(t.Context(), conf)
		one = l
		return err == nil
	}, time.Minute, 100*time.Millisecond, "the cluster knows its brokers")
	t.Cleanup(one.Close)
	conf.Replicas = 0
	two := openWith(t, conf)
	js, err := jetstream.New(two.Conn())
	require.NoError(t, err)
	for _, name := range []string{"TOWPATH_demo", "TOWPATH_demo_REJECTED"} {
		stream, err := js.Stream(t.Context(), name)
		require.NoError(t, err)
		require.Equal(t, 3, stream.CachedInfo().Config.Replicas, name)
	}
	_, err = one.Append(t.Context(), numbered("a", 0, 3), 0)
	require.NoError(t, err)
	_, err = two.Append(t.Context(), numbered("b", 0, 3), 0)
	require.ErrorIs(t, err, natslog.ErrConflict, "of a replicated stream too")
	x, _ := keep(t, two, "two")
	soon(t, x, "it is free")

	// Not the one that leads the whole cluster: to choose another takes long.
	gone := slices.IndexFunc(list, func(s *server.Server) bool { return !s.JetStreamIsLeader() })
	list[gone].Shutdown()
	list[gone].WaitForShutdown()
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		last, err := two.Last(ctx)
		if err != nil {
			return false
		}
		_, err = two.Append(ctx, numbered("c", 0, 3), last)
		return err == nil
	}, time.Minute, 100*time.Millisecond, "the others go on")
	require.Len(t, readAll(t, two), 6)
	soon(t, x, "it is kept, or taken again")
}
