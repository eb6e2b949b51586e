// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

func TestParseDuration(t *testing.T) {
	for text, want := range map[string]resources.Seconds{
		"45m": 2700, "45 min": 2700, "6h 30m": 23400, "6h30m": 23400, "90s": 90, "2d": 172800, "1w": 604800,
		"1.5 h": 5400, "0.1h": 360, "0": 0, "0m": 0, "-30m": -1800, "-1h 30m": -5400, " 5m ": 300,
		"0.001 s": 1, "1.5s": 2, // rounded up
	} {
		got, err := resources.ParseDuration(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{
		"", "45", "m", "45 x", "h6", "6h 30", "6h -30m", "--5m", "1e3m", ".5h", "1.h", "30 years", "9999999999999s",
		"999999w", "600w 600w", "٣m", "5m\x00",
	} {
		_, err := resources.ParseDuration(text)
		require.Error(t, err, text)
	}
}

func TestDurationTextReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := resources.Seconds(rapid.Int64Range(-600_000_000, 600_000_000).Draw(t, "seconds"))
		got, err := resources.ParseDuration(resources.SpanText(s))
		require.NoError(t, err)
		require.Equal(t, s, got)
	})
}

func TestParseWholeUnits(t *testing.T) {
	tests := []struct {
		parse func(string) (int64, error)
		good  map[string]int64
		bad   []string
	}{
		{
			resources.ParseMass, map[string]int64{"2.5 kg": 2500, "300g": 300, "0.001 kg": 1, "1 t": 1_000_000},
			[]string{"2.5", "0.5 g", "-1 kg", "1 lb", "kg", "1 kg 5 g"},
		},
		{
			resources.ParsePower, map[string]int64{"18 kW": 18000, "2500W": 2500, "0.5 kW": 500},
			[]string{"18", "18 kWh", "0.5 W", "-1 kW", "18 kw"},
		},
		{
			resources.ParseLength, map[string]int64{"1200 mm": 1200, "1.2 m": 1200, "12 cm": 120},
			[]string{"1200", "1.2345 m", "-3 mm", "3 in"},
		},
	}
	for _, test := range tests {
		for text, want := range test.good {
			got, err := test.parse(text)
			require.NoError(t, err, text)
			require.Equal(t, want, got, text)
		}
		for _, text := range test.bad {
			_, err := test.parse(text)
			require.Error(t, err, text)
		}
	}
}

func TestParseFractions(t *testing.T) {
	tests := []struct {
		parse func(string) (float64, error)
		good  map[string]float64
		bad   []string
	}{
		{resources.ParseTemperature, map[string]float64{"80 C": 80, "-5.5 °C": -5.5}, []string{"80", "80 F", "-300 C", "80 K"}},
		{resources.ParseDifference, map[string]float64{"10 C": 10, "3 K": 3}, []string{"10", "-3 K"}},
		{resources.ParseRate, map[string]float64{"1.5 C/min": 1.5, "90 C/h": 1.5, "1 °C / min": 1}, []string{"1.5", "0 C/min", "1 C/s", "-1 C/min"}},
		{resources.ParsePercent, map[string]float64{"95 %": 0.95, "97%": 0.97, "0 %": 0, "99.5 %": 0.995}, []string{"95", "101 %", "-1 %", "0.95"}},
	}
	for _, test := range tests {
		for text, want := range test.good {
			got, err := test.parse(text)
			require.NoError(t, err, text)
			require.Equal(t, want, got, text)
		}
		for _, text := range test.bad {
			_, err := test.parse(text)
			require.Error(t, err, text)
		}
	}
}

func TestParseQuantity(t *testing.T) {
	milli, unit, err := resources.ParseQuantity("260.5 m")
	require.NoError(t, err)
	require.Equal(t, int64(260_500), milli)
	require.Equal(t, "m", unit)
	for _, text := range []string{"260", "m", "-1 m", "0.0001 m", "9999999999999 m"} {
		_, _, err := resources.ParseQuantity(text)
		require.Error(t, err, text)
	}
}

func TestSuggest(t *testing.T) {
	names := []string{"winding", "mixing", "W1", "W2", "early"}
	for misspelt, want := range map[string]string{
		"widing": "winding", "WINDING": "winding", "wniding": "winding", "earyl": "early", "w3": "W1", "zebra": "", "": "",
	} {
		require.Equal(t, want, resources.Suggest(misspelt, names), misspelt)
	}
}
