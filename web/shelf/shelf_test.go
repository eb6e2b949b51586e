// SPDX-License-Identifier: Apache-2.0

package shelf_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"towpath/web/shelf"
	"towpath/web/view"
)

func named(id, name string) view.WhatIf {
	return view.WhatIf{WhatIfBrief: view.WhatIfBrief{ID: id, Name: name}}
}

func names(t *testing.T, s *shelf.Shelf) (list []string) {
	t.Helper()
	all, err := s.Load()
	require.NoError(t, err)
	for _, x := range all {
		list = append(list, x.Name)
	}
	return list
}

func TestSetsKeepTheirOrder(t *testing.T) {
	dir := t.TempDir()
	s, err := shelf.Open(dir)
	require.NoError(t, err)
	for _, x := range []view.WhatIf{named("z", "first"), named("a", "second"), named("m", "third"), named("z", "first, renamed")} {
		require.NoError(t, s.Put(x))
	}
	require.NoError(t, s.Drop("m"))
	require.NoError(t, s.Drop("nobody"))
	require.NoError(t, s.Close())

	s, err = shelf.Open(dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.Equal(t, []string{"first, renamed", "second"}, names(t, s))
	require.NoError(t, s.Put(named("b", "fourth")))
	require.Equal(t, []string{"first, renamed", "second", "fourth"}, names(t, s))
}

func TestOneBadSetCostsNoOther(t *testing.T) {
	dir := t.TempDir()
	s, err := shelf.Open(dir)
	require.NoError(t, err)
	require.NoError(t, s.Put(named("a", "good")))
	require.NoError(t, s.Close())
	db, err := bolt.Open(filepath.Join(dir, shelf.FileName), 0o640, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error { return tx.Bucket([]byte("whatifs")).Put([]byte("bad"), []byte("{")) }))
	require.NoError(t, db.Close())

	s, err = shelf.Open(dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	list, err := s.Load()
	require.ErrorContains(t, err, "set bad")
	require.Len(t, list, 1)
}

func TestAFileThatIsNoneIsSaid(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, shelf.FileName)
	require.NoError(t, os.WriteFile(path, []byte("not a store"), 0o600))
	_, err := shelf.Open(dir)
	require.ErrorContains(t, err, path)
	require.ErrorContains(t, err, "put the file aside")
}
