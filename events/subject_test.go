// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
)

func TestSubjects(t *testing.T) {
	var got []string
	for _, e := range samples() {
		got = append(got, events.Subject(e))
	}
	require.Equal(t, strings.Fields(`
		towpath.Demo%20shop.plant.declared
		towpath.Demo%20shop.order.2601.added
		towpath.Demo%20shop.order.2601.changed
		towpath.Demo%20shop.order.2601.cancelled
		towpath.Demo%20shop.station.W1.operation.started
		towpath.Demo%20shop.station.W1.operation.paused
		towpath.Demo%20shop.station.W1.operation.resumed
		towpath.Demo%20shop.station.W1.operation.finished
		towpath.Demo%20shop.station.OV%2E1.load.closed
		towpath.Demo%20shop.station.OV%2E1.load.started
		towpath.Demo%20shop.station.OV%2E1.load.finished
		towpath.Demo%20shop.station.mix%20room.mix.made
		towpath.Demo%20shop.station.mix%20room.mix.discarded
		towpath.Demo%20shop.station.W1.down
		towpath.Demo%20shop.station.W1.up
		towpath.Demo%20shop.tool.M-76-2.out
		towpath.Demo%20shop.station.W1.tool.in
		towpath.Demo%20shop.station.TEST.piece.scrapped
		towpath.Demo%20shop.piece.2601-1-01.held
		towpath.Demo%20shop.piece.2601-1-01.released
		towpath.Demo%20shop.batch.held
		towpath.Demo%20shop.batch.released
		towpath.Demo%20shop.station.TEST.result.recorded
		towpath.Demo%20shop.plan.published
		towpath.Demo%20shop.event.voided
		towpath.Demo%20shop.promise.P-12.reserved
		towpath.Demo%20shop.promise.P-12.confirmed
		towpath.Demo%20shop.promise.P-12.released
		towpath.Demo%20shop.promise.P-12.expired
		towpath.Demo%20shop.crew.winders.absent
		towpath.Demo%20shop.station.W1.crew.present
	`), got)
}

// A subject's tokens may not be empty nor hold '.', '*', '>' or white space,
// and a source must be a URI-reference (RFC 3986), whatever a thing is called.
func TestAnyNameMakesAProperSubjectAndSource(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anyEvent(t)
		for _, token := range strings.Split(events.Subject(e), ".") {
			require.NotEmpty(t, token)
			require.False(t, strings.ContainsAny(token, "*> \t\r\n"), token)
		}
		u, err := url.Parse(events.Source(e))
		require.NoError(t, err)
		require.Equal(t, events.Source(e), u.EscapedPath())
	})
}

func TestTokenIsReversible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "name")
		back, ok := events.Name(events.Token(s))
		require.True(t, ok)
		require.Equal(t, s, back)
	})
	// Others need not write what RFC 3986, section 2.3, leaves unreserved as %XX.
	for _, plain := range []string{"a.b", "a~b", "%61.%7e"} {
		back, ok := events.Name(plain)
		require.True(t, ok, plain)
		require.Equal(t, strings.NewReplacer("%61", "a", "%7e", "~").Replace(plain), back)
	}
	for _, bad := range []string{"%", "%1", "%zz", "a b", "a/b", "a*"} {
		_, ok := events.Name(bad)
		require.False(t, ok, bad)
	}
}
