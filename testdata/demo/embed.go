// SPDX-License-Identifier: Apache-2.0

// Package demo carries the demo plant, its season of orders and its forecast, so that the
// program can show them without a file. The shop and everybody in it are
// invented.
package demo

import _ "embed"

// Plant is the text of plant.yaml, Orders that of orders.csv, Forecast that of
// forecast.csv.
var (
	//go:embed plant.yaml
	Plant []byte
	//go:embed orders.csv
	Orders []byte
	//go:embed forecast.csv
	Forecast []byte
)
