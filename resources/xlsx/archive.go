// SPDX-License-Identifier: Apache-2.0

package xlsx

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"strings"
)

// Limits that keep a small file from unpacking to more than a shop's orders
// can be. Parts the library turns into trees in memory get less than those it
// reads as a stream.
const (
	maxPacked   = 16 << 20
	maxUnpacked = 64 << 20
	maxTree     = 8 << 20
	maxParts    = 2000
)

var (
	errNotWorkbook = errors.New("the file is no workbook; save it as .xlsx, or as CSV and name it .csv")
	errOldWorkbook = errors.New("the file is a workbook of the old .xls kind, or protected by a password; save it as .xlsx without a password")
	errUnpacked    = fmt.Errorf("the workbook is too large: it unpacks to more than %d MiB; take out what is not orders", maxUnpacked>>20)
)

// checkArchive looks at the table of contents before anything is unpacked. The
// sizes told there can be lies; the zip reader stops at them.
func checkArchive(text []byte) error {
	switch {
	case len(text) > maxPacked:
		return fmt.Errorf("the workbook is too large: %d bytes, at most %d are read", len(text), maxPacked)
	case bytes.HasPrefix(text, []byte{0xD0, 0xCF, 0x11, 0xE0}):
		return errOldWorkbook
	}
	archive, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		return errNotWorkbook
	}
	if len(archive.File) > maxParts {
		return fmt.Errorf("the workbook has %d parts; at most %d are read", len(archive.File), maxParts)
	}
	var total uint64
	for _, f := range archive.File {
		name := strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))
		stream := strings.HasPrefix(name, "xl/worksheets/sheet")
		if !stream && f.UncompressedSize64 > maxTree && isXML(name) {
			return fmt.Errorf("the workbook is too large: its part %s unpacks to more than %d MiB", name, maxTree>>20)
		}
		if f.UncompressedSize64 > maxUnpacked {
			return errUnpacked
		}
		if total += f.UncompressedSize64; total > maxUnpacked {
			return errUnpacked
		}
	}
	return nil
}

// isXML takes everything but pictures for XML.
func isXML(name string) bool { return !strings.HasPrefix(name, "xl/media/") }
