// SPDX-License-Identifier: Apache-2.0

package helping

import (
	"bytes"
	"compress/gzip"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"time"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

// Subjects are outside those of the log, so that nothing of this becomes an event.
const (
	subjectOffer = "towpath-work.offer"
	subjectJob   = "towpath-work.job." // and the job's name
)

// offer says that there is a job.
type offer struct {
	Program string // that it is for
	Job     string
}

// ask is what a helper says to the desk of a job.
type ask struct {
	Helper string
	Join   bool       // for the job itself; else for a share of it
	Played *risk.Part // what became of the last share
	Found  *solved    // the same
	Failed string     // why there is none
}

// solved is what a search found.
type solved struct {
	Plan       scheduler.Plan
	Cost       search.Cost
	Iterations int64
	Optimal    bool
}

// answer is what the desk says to that.
type answer struct {
	Job   *job // to one that joins
	Over  bool // there is no more to do
	Share share
}

// share is some of a job: histories, or a search with a seed.
type share struct {
	From, To int
	Seed     uint64
	Time     time.Duration // of the search, from when this is read
}

// job is what a helper has to know to do shares of it; one of the two.
type job struct {
	Search *searching
	Play   *playing
}

type searching struct {
	Problem scheduler.Problem
	From    *scheduler.Plan
}

// playing is a shop whose plan is to be played with a seed.
type playing struct {
	Things map[string][]byte // what is true there, as State.Standing has it
	Now    resources.Tick
	Seed   uint64
}

// mostRead bounds what a message may become when it is unpacked.
const mostRead = 1 << 30

// pack writes a message.
func pack(v any) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	if err := gob.NewEncoder(z).Encode(v); err != nil {
		return nil, fmt.Errorf("write %T: %w", v, err)
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// unpack reads a message that anybody may have written.
func unpack(data []byte, v any) error {
	return runner.Guarded(func() error { return read(data, v) })
}

func read(data []byte, v any) error {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return fmt.Errorf("read %T: %w", v, err)
	}
	text := &io.LimitedReader{R: z, N: mostRead}
	if err := gob.NewDecoder(text).Decode(v); err != nil {
		if text.N == 0 {
			err = errors.New("it is too long")
		}
		return fmt.Errorf("read %T: %w", v, err)
	}
	return nil
}
