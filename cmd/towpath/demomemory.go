// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"time"

	"towpath/resources"
	"towpath/testdata/demo"
)

// memory is what a demo keeps besides its log, so that it can go on later.
type memory struct {
	Seed  uint64         `json:"seed"`
	Days  int            `json:"days"`  // by which the season is moved
	Clock resources.Tick `json:"clock"` // of the shop
}

func memoryFile(dir string) string { return filepath.Join(dir, "demo.json") }

// recall is the memory in a folder, or a new one.
func recall(dir string, seed uint64, now time.Time) (*memory, error) {
	text, err := os.ReadFile(memoryFile(dir))
	if errors.Is(err, os.ErrNotExist) {
		plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
		if plant == nil {
			return nil, trouble("", "the demo plant cannot be read: %v", found)
		}
		return &memory{Seed: seed, Days: weeksTo(plant.StartsAt, now, plant.Zone)}, nil
	}
	var m memory
	if err == nil {
		err = json.Unmarshal(text, &m)
	}
	if err != nil {
		return nil, trouble("it is no folder of a demo, or it was damaged; give another with --data", "%s: %v", memoryFile(dir), err)
	}
	return &m, nil
}

// keep writes the memory wholly or not at all.
func (m *memory) keep(dir string, now resources.Tick) error {
	m.Clock = now
	text, err := json.Marshal(m)
	if err != nil {
		return err
	}
	return writeWhole(memoryFile(dir), text)
}
