// SPDX-License-Identifier: Apache-2.0

package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Print the version of this program",
		Example: "  towpath version",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(c.OutOrStdout(), "towpath %s, %s\n", version(), runtime.Version())
			return err
		},
	}
}

// version is the module's version, or the revision it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return "development"
}

// programMark tells programs apart that might reckon otherwise: the sum of this
// one's file.
func programMark() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", trouble("", "this program's file: %v", err)
	}
	f, err := os.Open(path)
	if err != nil {
		return "", trouble("", "this program's file: %v", err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", trouble("", "this program's file: %v", err)
	}
	return fmt.Sprintf("%s %x", version(), h.Sum(nil)[:8]), nil
}
