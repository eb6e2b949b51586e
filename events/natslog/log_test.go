// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"bytes"
	"context"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/events/natslog"
)

func TestAppendedEventsComeBackInOrder(t *testing.T) {
	l := open(t, t.TempDir())
	var sent []events.Event
	for i, n := range []int{1, 2, 1000, 2345} { // alone, a batch, a full batch, three batches
		batch := numbered(string(rune('a'+i)), 0, n)
		got, err := l.Append(t.Context(), batch, uint64(len(sent)))
		require.NoError(t, err)
		sent = append(sent, batch...)
		require.EqualValues(t, len(sent), got.Last)
		require.Len(t, got.Seqs, n)
		require.EqualValues(t, len(sent)-n+1, got.Seqs[0])
		require.NotContains(t, got.Duplicates, true)
	}
	all := readAll(t, l)
	require.Len(t, all, len(sent))
	for i, e := range all {
		require.NoError(t, e.Err)
		want := sent[i]
		want.Seq = uint64(i + 1)
		require.Equal(t, want, e.Event)
		require.False(t, e.Stored.IsZero())
	}
}

func TestAppendNothing(t *testing.T) {
	l := open(t, t.TempDir())
	got, err := l.Append(t.Context(), nil, natslog.AnyLast)
	require.NoError(t, err)
	require.Zero(t, got.Last)
}

func TestConflictStoresNothing(t *testing.T) {
	l := open(t, t.TempDir())
	_, err := l.Append(t.Context(), numbered("a", 0, 3), 0)
	require.NoError(t, err)
	for _, n := range []int{1, 2, 1500} {
		for _, expected := range []uint64{0, 2, 4, 1 << 40} {
			_, err = l.Append(t.Context(), numbered("b", 0, n), expected)
			require.ErrorIs(t, err, natslog.ErrConflict)
		}
	}
	require.Len(t, readAll(t, l), 3)
	got, err := l.Append(t.Context(), numbered("b", 0, 2), 3)
	require.NoError(t, err)
	require.EqualValues(t, 5, got.Last)
}

func TestRepeatsInsideTheWindowAreAnsweredAsSuch(t *testing.T) {
	l := open(t, t.TempDir())
	first, err := l.Append(t.Context(), numbered("a", 0, 4), 0)
	require.NoError(t, err)

	again, err := l.Append(t.Context(), numbered("a", 0, 4), natslog.AnyLast)
	require.NoError(t, err)
	require.Equal(t, first.Seqs, again.Seqs)
	require.Equal(t, []bool{true, true, true, true}, again.Duplicates)
	require.EqualValues(t, 4, again.Last)

	// Known ones beside new ones; the expected sequence still counts.
	mixed := append(numbered("b", 0, 2), numbered("a", 2, 3)...) // b0 b1 a2 a3 a4
	_, err = l.Append(t.Context(), mixed, 3)
	require.ErrorIs(t, err, natslog.ErrConflict)
	got, err := l.Append(t.Context(), mixed, 4)
	require.NoError(t, err)
	require.Equal(t, []uint64{5, 6, 3, 4, 7}, got.Seqs)
	require.Equal(t, []bool{false, false, true, true, false}, got.Duplicates)
	require.EqualValues(t, 7, got.Last)

	one, err := l.Append(t.Context(), numbered("a", 1, 1), 0)
	require.NoError(t, err, "a repeat is no conflict")
	require.Equal(t, natslog.Appended{Last: 2, Seqs: []uint64{2}, Duplicates: []bool{true}}, one)
	require.Len(t, readAll(t, l), 7)
}

func TestOneIDTwiceInABatchIsRefused(t *testing.T) {
	l := open(t, t.TempDir())
	_, err := l.Append(t.Context(), append(numbered("a", 0, 2), numbered("a", 1, 1)...), natslog.AnyLast)
	require.ErrorContains(t, err, "event 3 of the batch has the id of event 2")
	bad := numbered("a", 0, 2)
	bad[1].At = 0
	_, err = l.Append(t.Context(), bad, natslog.AnyLast)
	require.ErrorIs(t, err, events.ErrMissing)
	require.Empty(t, readAll(t, l))
}

func TestRepeatAfterReopeningIsRecognised(t *testing.T) {
	dir := t.TempDir()
	l := open(t, dir)
	_, err := l.Append(t.Context(), numbered("a", 0, 1200), 0)
	require.NoError(t, err)
	identity := l.Identity()
	l.Close()

	l = open(t, dir)
	require.Equal(t, identity, l.Identity())
	got, err := l.Append(t.Context(), numbered("a", 1100, 200), natslog.AnyLast)
	require.NoError(t, err)
	require.EqualValues(t, 1300, got.Last)
	require.Len(t, readAll(t, l), 1300)
}

// Outside the window the broker forgets; then the folded log must know.
func TestRepeatOutsideTheWindowIsStoredAgain(t *testing.T) {
	l := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir(), Listen: natslog.InProcess, Window: 100 * time.Millisecond})
	_, err := l.Append(t.Context(), numbered("a", 0, 1), 0)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		got, err := l.Append(t.Context(), numbered("a", 0, 1), natslog.AnyLast)
		return err == nil && !got.Duplicates[0]
	}, 30*time.Second, 50*time.Millisecond)
	all := readAll(t, l)
	require.Len(t, all, 2)
	require.Equal(t, all[0].Event.ID, all[1].Event.ID)
}

// Whatever a station publishes is stored and handed on, understood or not.
func TestRubbishIsHandedOnWithItsReason(t *testing.T) {
	l := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir()})
	nc, err := nats.Connect(l.URL())
	require.NoError(t, err)
	defer nc.Close()
	js, err := jetstream.New(nc)
	require.NoError(t, err)
	good, err := events.Encode(event("x"))
	require.NoError(t, err)
	subject := events.Subject(event("x"))
	put := func(subject string, body []byte) {
		_, err := js.Publish(t.Context(), subject, body)
		require.NoError(t, err)
	}
	put(subject, []byte("{ broken"))
	put(subject, nil)
	put(subject, []byte{0xff, 0xfe, 0})
	put(subject, good)
	put("towpath.demo.station.W2.operation.started", good) // W1's event under W2's name
	put("towpath.demo.nonsense", nil)
	put(subject, bytes.Repeat([]byte("x"), 2<<20))
	require.NoError(t, nc.Publish(subject, good), "a plain publish, without JetStream")
	require.NoError(t, nc.Flush())
	require.Eventually(t, func() bool { last, err := l.Last(t.Context()); return err == nil && last == 8 }, 10*time.Second, 10*time.Millisecond)

	all := readAll(t, l)
	require.Len(t, all, 8)
	for i, want := range []error{
		events.ErrSyntax, events.ErrSyntax, events.ErrText, nil, events.ErrContradiction, events.ErrSyntax, events.ErrSyntax, nil,
	} {
		if want == nil {
			require.NoError(t, all[i].Err)
			require.Equal(t, "x", all[i].Event.ID)
			continue
		}
		require.ErrorIs(t, all[i].Err, want, "message %d", i+1)
	}
}

func TestRejectsAreKeptOnce(t *testing.T) {
	dir := t.TempDir()
	l := open(t, dir)
	nc := l.Conn()
	body := "{ broken \xff " + strings.Repeat("ä", 20_000)
	_, err := nc.Request("towpath.demo.station.W1.down", []byte(body), 10*time.Second)
	require.NoError(t, err)
	_, err = l.Append(t.Context(), []events.Event{event("late")}, 1)
	require.NoError(t, err)

	for range 2 {
		for _, e := range readAll(t, l) {
			r := natslog.Reject{Seq: e.Seq, Reason: "piece 2601-1-late does not exist"}
			if e.Err != nil {
				r.Reason = e.Err.Error()
			} else {
				r.ID, r.Kind, r.At, r.About = e.Event.ID, e.Event.Kind, e.Event.At, events.About(e.Event)
			}
			require.NoError(t, l.Reject(t.Context(), r))
		}
		l.Close()
		l = open(t, dir) // the second time after a restart, as in a replay
	}
	list, err := l.Rejects(t.Context(), 10)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.EqualValues(t, 2, list[0].Seq)
	require.Equal(t, "late", list[0].ID)
	require.Contains(t, list[0].Reason, "does not exist")
	require.EqualValues(t, 1, list[1].Seq)
	require.Contains(t, list[1].Reason, "UTF-8")
	require.Equal(t, len(body), list[1].Size)
	require.Equal(t, "towpath.demo.station.W1.down", list[1].Subject)
	require.True(t, strings.HasPrefix(list[1].Raw, "{ broken \uFFFD ä"), list[1].Raw)
	require.Less(t, len(list[1].Raw), 9000)

	newest, err := l.Rejects(t.Context(), 1)
	require.NoError(t, err)
	require.Equal(t, list[:1], newest)
	require.Error(t, l.Reject(t.Context(), natslog.Reject{Seq: 99, Reason: "no such message"}))
	require.Len(t, readAll(t, l), 2, "rejects are no events")
}

func TestFollowWaitsForWhatComes(t *testing.T) {
	l := open(t, t.TempDir())
	_, err := l.Append(t.Context(), numbered("a", 0, 5), 0)
	require.NoError(t, err)
	feed, err := l.Follow(t.Context(), 3)
	require.NoError(t, err)
	group, err := feed.Next(t.Context())
	require.NoError(t, err)
	require.Len(t, group, 2)
	require.EqualValues(t, 4, group[0].Seq)

	short, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	_, err = feed.Next(short)
	require.ErrorIs(t, err, context.DeadlineExceeded)

	done := make(chan error, 1)
	go func() {
		group, err := feed.Next(context.Background())
		if err == nil && (len(group) == 0 || group[0].Seq != 6) {
			err = errors.New("not the sixth")
		}
		done <- err
	}()
	_, err = l.Append(t.Context(), numbered("b", 0, 1), 5)
	require.NoError(t, err)
	require.NoError(t, <-done)

	go func() { _, err := feed.Next(context.Background()); done <- err }()
	feed.Close()
	require.ErrorIs(t, <-done, natslog.ErrClosed)
}

// A reader that is up to date gets only what is new.
func TestFollowFromTheEnd(t *testing.T) {
	l := open(t, t.TempDir())
	_, err := l.Append(t.Context(), numbered("a", 0, 5), 0)
	require.NoError(t, err)
	feed, err := l.Follow(t.Context(), 5)
	require.NoError(t, err)
	defer feed.Close()
	_, err = l.Append(t.Context(), numbered("b", 0, 3), 5)
	require.NoError(t, err)
	group, err := feed.Next(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 6, group[0].Seq)
}

func TestClosingTheLogEndsItsFeeds(t *testing.T) {
	l := open(t, t.TempDir())
	feed, err := l.Follow(t.Context(), 0)
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() { _, err := feed.Next(context.Background()); done <- err }()
	l.Close()
	l.Close()
	require.ErrorIs(t, <-done, natslog.ErrClosed)
	require.Error(t, l.Health(t.Context()))
	_, err = l.Append(t.Context(), numbered("a", 0, 2), natslog.AnyLast)
	require.ErrorIs(t, err, natslog.ErrClosed)
}

// Plans are large: a replay over more of them than is read ahead must not
// stall. Most here are rubbish of that size, which is quicker to refuse.
func TestLargeMessagesPass(t *testing.T) {
	l := open(t, t.TempDir())
	big := bytes.Repeat([]byte("x"), events.MaxLarge)
	for range 6 {
		_, err := l.Conn().Request("towpath.demo.plan.published", big, time.Minute)
		require.NoError(t, err)
	}
	plan := event("plan")
	plan.Kind, plan.Station = events.PlanPublished, ""
	plan.Data = events.PlanData{Version: 1, Gzip: bytes.Repeat([]byte{7}, 6_000_000)}
	_, err := l.Append(t.Context(), append(numbered("a", 0, 3), plan), 6)
	require.NoError(t, err)
	all := readAll(t, l)
	require.Len(t, all, 10)
	for i, e := range all {
		require.Equal(t, i < 6, e.Err != nil, "message %d", i+1)
	}
	require.Equal(t, plan.Data, all[9].Event.Data)
}

func TestOneFolderOneProcess(t *testing.T) {
	dir := t.TempDir()
	l := open(t, dir)
	_, err := natslog.Open(t.Context(), natslog.Config{Plant: "demo", Dir: dir, Listen: natslog.InProcess})
	require.ErrorIs(t, err, natslog.ErrInUse)
	require.NoError(t, l.Health(t.Context()))
	l.Close()
	open(t, dir)
}

func TestListensOnLoopbackUnlessTold(t *testing.T) {
	l := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir()})
	host, _, err := net.SplitHostPort(strings.TrimPrefix(l.URL(), "nats://"))
	require.NoError(t, err)
	require.True(t, net.ParseIP(host).IsLoopback())
	require.Empty(t, open(t, t.TempDir()).URL())
}

func TestConfigErrorsSayWhatToDo(t *testing.T) {
	for says, c := range map[string]natslog.Config{
		"give the plant's name": {Dir: "x"},
		"give a folder":         {Plant: "demo"},
		"want host:port":        {Plant: "demo", Dir: "x", Listen: "everywhere"},
		"replicas":              {Plant: "demo", Dir: "x", Replicas: 9},
	} {
		_, err := natslog.Open(t.Context(), c)
		require.ErrorIs(t, err, natslog.ErrConfig)
		require.ErrorContains(t, err, says)
	}
	_, err := natslog.Open(t.Context(), natslog.Config{Plant: "demo", URL: "nats://127.0.0.1:1"})
	require.ErrorIs(t, err, natslog.ErrUnavailable)
}

func TestPortTakenIsSaid(t *testing.T) {
	other, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer other.Close()
	_, err = natslog.Open(t.Context(), natslog.Config{Plant: "demo", Dir: t.TempDir(), Listen: other.Addr().String()})
	require.ErrorContains(t, err, other.Addr().String())
}

// An external broker, here one of the same version in this process.
func TestExternalBroker(t *testing.T) {
	start := func(o server.Options) *server.Server {
		o.Host, o.Port, o.NoSigs, o.NoLog = "127.0.0.1", server.RANDOM_PORT, true, true
		s, err := server.NewServer(&o)
		require.NoError(t, err)
		s.Start()
		t.Cleanup(func() { s.Shutdown(); s.WaitForShutdown() })
		require.True(t, s.ReadyForConnections(10*time.Second))
		return s
	}
	s := start(server.Options{JetStream: true, StoreDir: t.TempDir(), SyncAlways: true, MaxPayload: natslog.MaxPayload})
	one := openWith(t, natslog.Config{Plant: "demo", URL: s.ClientURL()})
	two := openWith(t, natslog.Config{Plant: "demo", URL: s.ClientURL()})
	_, err := one.Append(t.Context(), numbered("a", 0, 3), 0)
	require.NoError(t, err)
	_, err = two.Append(t.Context(), numbered("b", 0, 3), 0)
	require.ErrorIs(t, err, natslog.ErrConflict, "two leaders: the second loses")
	require.Len(t, readAll(t, two), 3)
	require.NoError(t, two.Health(t.Context()))

	_, err = natslog.Open(t.Context(), natslog.Config{Plant: "demo", URL: start(server.Options{MaxPayload: natslog.MaxPayload}).ClientURL()})
	require.ErrorIs(t, err, natslog.ErrOldBroker, "no JetStream")
	_, err = natslog.Open(t.Context(), natslog.Config{Plant: "demo", URL: start(server.Options{}).ClientURL()})
	require.ErrorContains(t, err, "max_payload")
}

func TestTwoPlantsShareABrokerButNoLog(t *testing.T) {
	a := openWith(t, natslog.Config{Plant: "Demo shop. No 1", Dir: t.TempDir()})
	b := openWith(t, natslog.Config{Plant: "other", URL: a.URL()})
	e := event("x")
	e.Plant = "other"
	_, err := b.Append(t.Context(), []events.Event{e}, 0)
	require.NoError(t, err)
	last, err := a.Last(t.Context())
	require.NoError(t, err)
	require.Zero(t, last)
	e.Plant = "Demo shop. No 1"
	_, err = a.Append(t.Context(), []events.Event{e}, 0)
	require.NoError(t, err)
	require.Len(t, readAll(t, a), 1)
}
