// SPDX-License-Identifier: Apache-2.0

package boltstore

import (
	"errors"
	"runtime"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/sync/errgroup"

	"towpath/scheduler"
)

// bundle is how many records a reader takes at a time.
const bundle = 4096

// pair is a record where it lies in the file: readable while its transaction
// is open.
type pair struct{ key, value []byte }

// readAll reads every record, on all processors, and adds them up: a year's
// store is hundreds of megabytes of text, and decoding it is nearly all the
// time of a start.
func readAll(entities *bolt.Bucket) ([]*scheduler.StoredPart, sum, error) {
	bundles := make(chan []pair, 4)
	readers := runtime.GOMAXPROCS(0)
	parts, sums := make([]*scheduler.StoredPart, readers), make([]sum, readers)
	var all errgroup.Group
	for i := range readers {
		all.Go(func() error {
			err := guard(func() error {
				parts[i] = scheduler.ReadEntities(func(yield func(string, []byte) bool) {
					for records := range bundles {
						for _, r := range records {
							sums[i].add(r.key, r.value)
							yield(string(r.key), r.value) // all of them: the sum needs them anyway
						}
					}
				})
				return nil
			})
			for range bundles { // whoever fails must not hold up the walk
			}
			return err
		})
	}
	walked := guard(func() error { return walk(entities, bundles) })
	close(bundles)
	err := errors.Join(walked, all.Wait())
	var total sum
	for _, s := range sums {
		total.plus(s)
	}
	return parts, total, err
}

// walk hands out the records as they lie.
func walk(entities *bolt.Bucket, bundles chan<- []pair) error {
	records := make([]pair, 0, bundle)
	err := entities.ForEach(func(k, v []byte) error {
		if records = append(records, pair{k, v}); len(records) == bundle {
			bundles <- records
			records = make([]pair, 0, bundle)
		}
		return nil
	})
	bundles <- records
	return err
}
