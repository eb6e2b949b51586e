// SPDX-License-Identifier: Apache-2.0

package boltstore

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// sum adds up the hashes of all records, lane by lane modulo 2⁶⁴, so that it
// follows a change without a look at the rest. It finds damage, not malice.
type sum [4]uint64

func hash(key, value []byte) sum {
	h := sha256.New()
	_, _ = h.Write(binary.BigEndian.AppendUint32(nil, uint32(len(key)))) // where the key ends
	_, _ = h.Write(key)
	_, _ = h.Write(value)
	var one sum
	digest := h.Sum(nil)
	for i := range one {
		one[i] = binary.BigEndian.Uint64(digest[8*i:])
	}
	return one
}

func (s *sum) add(key, value []byte) { s.plus(hash(key, value)) }

func (s *sum) plus(other sum) {
	for i, lane := range other {
		s[i] += lane
	}
}

// drop takes away the record stored under a key, if there is one.
func (s *sum) drop(b *bolt.Bucket, key []byte) error {
	if b == nil {
		return fmt.Errorf("%w: bucket entities is missing", ErrDamaged)
	}
	value := b.Get(key)
	if value == nil {
		return nil
	}
	for i, lane := range hash(key, value) {
		s[i] -= lane
	}
	return nil
}

func (s *sum) read(text []byte) error {
	if text == nil {
		*s = sum{}
		return nil
	}
	if len(text) != 32 {
		return fmt.Errorf("%w: a sum of %d bytes", ErrDamaged, len(text))
	}
	for i := range s {
		s[i] = binary.BigEndian.Uint64(text[8*i:])
	}
	return nil
}

func (s *sum) bytes() string {
	var b []byte
	for _, lane := range s {
		b = binary.BigEndian.AppendUint64(b, lane)
	}
	return string(b)
}
