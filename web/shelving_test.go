// SPDX-License-Identifier: Apache-2.0

package web

import (
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/web/view"
)

// slowShelf is a shelf that takes its time to keep something, as a disk does.
type slowShelf struct {
	kept    map[string]string // name by ID
	putting chan struct{}
	written chan struct{}
	dropped chan struct{}
}

func (f *slowShelf) Load() ([]view.WhatIf, error) { return nil, nil }

func (f *slowShelf) Put(x view.WhatIf) error {
	if f.putting != nil {
		f.putting <- struct{}{}
		<-f.written
	}
	f.kept[x.ID] = x.Name
	return nil
}

func (f *slowShelf) Drop(id string) error {
	delete(f.kept, id)
	close(f.dropped)
	return nil
}

// A set that is dropped while it is on its way to the shelf does not come back when
// the program is started anew.
func TestWhatIsDroppedStaysDropped(t *testing.T) {
	f := &slowShelf{kept: map[string]string{}, written: make(chan struct{}), dropped: make(chan struct{})}
	w := newWhatIfs(f, slog.New(slog.DiscardHandler))
	id := w.add(&tried{cancel: func() {}})
	require.Contains(t, f.kept, id)
	f.putting = make(chan struct{})
	ended := make(chan struct{}, 2)
	go func() { w.rename(id, "another"); ended <- struct{}{} }()
	<-f.putting
	go func() { w.drop(id); ended <- struct{}{} }()
	select {
	case <-f.dropped: // before the shelf has it
	case <-time.After(100 * time.Millisecond):
	}
	close(f.written)
	<-ended
	<-ended
	require.Empty(t, f.kept)
}
