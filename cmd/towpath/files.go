// SPDX-License-Identifier: Apache-2.0

package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"towpath/resources"
	"towpath/resources/xlsx"
	"towpath/scheduler"
)

// Largest files read. A plant or a season of orders is a thousand times
// smaller; more than this is a mistake in the file name.
const (
	maxPlantFile  = 16 << 20
	maxOrdersFile = 64 << 20
	maxPlanFile   = 512 << 20
)

// readFile reads a whole file of at most limit bytes.
func readFile(path string, limit int64) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, usage("check the path; it is read from the present directory", "%s: no such file", path)
	case err != nil:
		return nil, usage("", "%s: %v", path, errors.Unwrap(err))
	case info.IsDir():
		return nil, usage("give the file, not its directory", "%s is a directory", path)
	case info.Size() > limit:
		return nil, tooLarge(path, limit)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, usage("", "%s: %v", path, errors.Unwrap(err))
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, usage("", "%s: %v", path, err)
	}
	if int64(len(text)) > limit {
		return nil, tooLarge(path, limit)
	}
	return text, nil
}

func tooLarge(path string, limit int64) error {
	return usage("is it the right file?", "%s: larger than the %d MiB that such a file may have", path, limit>>20)
}

// inputs are the files most commands begin with.
type inputs struct {
	plantPath    string
	ordersPath   string
	forecastPath string

	plantText []byte
	plant     *resources.Plant
	lines     []resources.OrderLine
	forecast  *resources.Forecast
	found     []resources.Finding
}

// readPlant reads the plant; findings are collected, not printed.
func (in *inputs) readPlant() error {
	text, err := readFile(in.plantPath, maxPlantFile)
	if err != nil {
		return err
	}
	in.plantText = text
	plant, found := resources.ReadPlant(in.plantPath, text)
	in.plant, in.found = plant, append(in.found, found...)
	return nil
}

// readOrders reads the orders against the plant, which must have been read.
func (in *inputs) readOrders() error {
	text, err := readFile(in.ordersPath, maxOrdersFile)
	if err != nil {
		return err
	}
	lines, found, err := parseOrders(in.ordersPath, text, in.plant)
	if err != nil {
		return err
	}
	in.lines, in.found = lines, append(in.found, found...)
	return in.readSupply()
}

// readSupply warns of materials that the orders want more of than the plant has.
func (in *inputs) readSupply() error {
	if in.failed() > 0 {
		return nil
	}
	state, err := scheduler.StateOf(in.plant, in.lines)
	if err != nil {
		return trouble("", "%v", err)
	}
	for _, x := range scheduler.Shortages(state) {
		in.found = append(in.found, resources.Finding{
			Severity: resources.Warning, File: in.plantPath, Field: "materials[" + x.Material + "]",
			Text: x.Words(in.plant), Hint: "enter a receipt, or cancel what need not be made",
		})
	}
	return nil
}

// parseOrders tells a workbook from CSV by what it begins with, not by its
// name.
func parseOrders(path string, text []byte, plant *resources.Plant) ([]resources.OrderLine, []resources.Finding, error) {
	if strings.HasPrefix(string(text[:min(len(text), 4)]), "PK\x03\x04") {
		lines, found := xlsx.ReadOrders(path, text, plant)
		return lines, found, nil
	}
	if strings.EqualFold(filepath.Ext(path), ".xlsx") {
		return nil, nil, usage("save it as .xlsx again, or as .csv", "%s: named like a workbook but not one", path)
	}
	lines, found := resources.ReadOrders(path, text, plant)
	return lines, found, nil
}

// readForecast reads the forecast against the plant, which must have been read.
func (in *inputs) readForecast() error {
	text, err := readFile(in.forecastPath, maxOrdersFile)
	if err != nil {
		return err
	}
	var found []resources.Finding
	switch {
	case strings.HasPrefix(string(text[:min(len(text), 4)]), "PK\x03\x04"):
		in.forecast, found = xlsx.ReadForecast(in.forecastPath, text, in.plant)
	case strings.EqualFold(filepath.Ext(in.forecastPath), ".xlsx"):
		return usage("save it as .xlsx again, or as .csv", "%s: named like a workbook but not one", in.forecastPath)
	default:
		in.forecast, found = resources.ReadForecast(in.forecastPath, text, in.plant)
	}
	in.found = append(in.found, found...)
	return nil
}

// failed counts the errors among the findings.
func (in *inputs) failed() int {
	n := 0
	for _, f := range in.found {
		if f.Severity == resources.Error {
			n++
		}
	}
	return n
}

// read reads the files for a command that wants to go on; it prints what was
// found, and answers a fault when there are errors. The paths of orders
// and forecast may be empty.
func (in *inputs) read(errs io.Writer) error {
	if err := in.readPlant(); err != nil {
		return err
	}
	if in.plant != nil && in.ordersPath != "" {
		if err := in.readOrders(); err != nil {
			return err
		}
	}
	if in.plant != nil && in.forecastPath != "" {
		if err := in.readForecast(); err != nil {
			return err
		}
	}
	for _, f := range in.found {
		fmt.Fprintln(errs, f.String())
	}
	if n := in.failed(); n > 0 {
		return trouble("every mistake is listed above; put them right, then try again", "%s in the files; nothing was done", plural(n, "error"))
	}
	return nil
}

// writeWhole writes a file wholly or not at all.
func writeWhole(path string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return usage("does the folder exist, and may you write there?", "write %s: %v", path, err)
	}
	defer os.Remove(f.Name()) // gone already when all went well
	_, err = f.Write(text)
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return trouble("", "write %s: %v", path, err)
	}
	return nil
}

// plural writes a count with its noun.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
