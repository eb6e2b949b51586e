// SPDX-License-Identifier: Apache-2.0

package resources

import "fmt"

var partNames = [NumParts]string{"setup", "load", "run", "unload"}

// String is the part's name as files write it.
func (p Part) String() string {
	if p < NumParts {
		return partNames[p]
	}
	return fmt.Sprintf("part %d", uint8(p))
}

// MarshalText writes the part's name.
func (p Part) MarshalText() ([]byte, error) {
	if p >= NumParts {
		return nil, fmt.Errorf("there is no part %d of an operation", uint8(p))
	}
	return []byte(partNames[p]), nil
}

// UnmarshalText reads what MarshalText writes.
func (p *Part) UnmarshalText(text []byte) error {
	for i, name := range partNames {
		if string(text) == name {
			*p = Part(i)
			return nil
		}
	}
	return fmt.Errorf("part %q: want setup, load, run or unload", text)
}
