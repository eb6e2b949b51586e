// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func TestForecastInBothForms(t *testing.T) {
	p := orderPlant(t)
	at := func(text string) resources.Tick { return local(t, p.Zone, text) }
	week := func(n int) resources.Week { return resources.Week{Year: 2026, Number: n} }
	// The carrier does not come on Friday of week 11.
	long := "product,week,quantity,event,ship_by\nSHAFT-S,2026-W11,4,,\nSHAFT-S,2026W12,2,Regatta,2026-03-18\nSHAFT-L,2026-W11,0,,\nSHAFT-L,2026-W12,7,,\n"
	f, found := resources.ReadForecast("f.csv", []byte(long), p)
	require.Empty(t, texts(found))
	require.Equal(t, &resources.Forecast{First: week(11), Last: week(12), Lines: []resources.ForecastLine{
		{Product: "SHAFT-S", Week: week(11), Quantity: 4, Due: at("2026-03-12T16:00"), Row: 2},
		{Product: "SHAFT-S", Week: week(12), Quantity: 2, Event: "Regatta", Due: at("2026-03-18T16:00"), Row: 3},
		{Product: "SHAFT-L", Week: week(11), Due: at("2026-03-12T16:00"), Row: 4},
		{Product: "SHAFT-L", Week: week(12), Quantity: 7, Due: at("2026-03-20T16:00"), Row: 5},
	}}, f)
	require.Equal(t, []string{"SHAFT-S", "SHAFT-L"}, f.Products())
	require.Equal(t, []resources.Week{week(11), week(12)}, f.Weeks())
	require.Equal(t, resources.Event, f.Lines[1].Kind())

	wide := "Product,2026-W11,2026-W12\nSHAFT-S,4,2\nSHAFT-L,0,7\n"
	g, found := resources.ReadForecast("f.csv", []byte(wide), p)
	require.Empty(t, texts(found))
	require.Len(t, g.Lines, 4)
	require.Equal(t, f.Lines[3].Due, g.Lines[3].Due)
	require.Equal(t, 3, g.Lines[3].Row)
}

func TestForecastMistakesAreToldAllAtOnce(t *testing.T) {
	p := orderPlant(t)
	for _, c := range []struct{ name, text, want string }{
		{"long", "product,week,quantity,colour\nSHAFT-X,2026-W11,4\nSHAFT-S,2026-W54,3\nSHAFT-S,,3\nSHAFT-S,2026-W12,-2\nSHAFT-S,2026-W12,\nSHAFT-L,2026-W12,1.5\n", `f.csv:1: error: colour: unknown column; allowed: product, week, quantity, event, ship_by, or product, event and weeks like 2026-W10
f.csv:2: error: product: the plant makes no such product; found "SHAFT-X"; allowed: SHAFT-S, SHAFT-L; did you mean SHAFT-S?
f.csv:3: error: week: cannot be read; found "2026-W54"; allowed: an ISO 8601 week like 2026-W11; a year has 52 or 53
f.csv:4: error: week: is missing; allowed: a week like 2026-W11
f.csv:5: error: quantity: is negative; found "-2"; allowed: a whole number from 0 to 10000
f.csv:6: error: quantity: is empty; allowed: a whole number from 0 to 10000; write 0 when nothing is expected
f.csv:6: error: week: SHAFT-S in 2026-W12 is there already, on line 5 of the file; add the two up, or name different events
f.csv:7: error: quantity: is no whole number; found "1.5"; allowed: a whole number from 0 to 10000; write it in digits only
`},
		{"a missing week", "product,week,quantity\nSHAFT-S,2026-W10,1\nSHAFT-L,2026-W10,1\nSHAFT-L,2026-W11,1\nSHAFT-S,2026-W14,1\nSHAFT-L,2026-W12,1\nSHAFT-L,2026-W13,1\n", `f.csv:2: error: week: SHAFT-S has nothing for 2026-W11 to 2026-W13; add a row for each week; write 0 when nothing is expected
f.csv:3: error: week: SHAFT-L has nothing for 2026-W14; add a row for each week; write 0 when nothing is expected
`},
		{"wide", "product,2026-W11,2026-W13,2026-W12,quantity\nSHAFT-S,-1,,3,\nSHAFT-L,1,2,3,4\n", `f.csv:1: error: quantity: the column cannot stand beside columns of weeks; keep the one or the others
f.csv:1: error: column C: the forecast has nothing for 2026-W12; found "2026-W13"; add the column; write 0 where nothing is expected
f.csv:1: error: column D: the week comes after 2026-W13; found "2026-W12"; put each week once, in their order
f.csv:2: error: column B, 2026-W11: is negative; found "-1"; allowed: a whole number from 0 to 10000
f.csv:2: error: column C, 2026-W13: is empty; allowed: a whole number from 0 to 10000; write 0 when nothing is expected
`},
		{"another week", "product,week,quantity,ship_by\nSHAFT-S,2026-W11,1,2026-03-17\n", "f.csv:2: error: ship_by: is not in the week 2026-W11; found \"2026-03-17\"; allowed: a date of that week\n"},
		{"no header", "SHAFT-S,4\n", "f.csv:1: error: the first row does not name the columns; found \"SHAFT-S,4\"; allowed: product, week, quantity, event, ship_by, or product, event and weeks like 2026-W10; put a row with the columns' names on top\n"},
		{"empty", "", "f.csv: error: the file is empty; allowed: a row with the columns product, week, quantity, event, ship_by\n"},
		{"a mistaken year", "product,week,quantity\nSHAFT-S,2026-W11,1\nSHAFT-S,2206-W11,1\n", "f.csv: error: the forecast spans 9393 weeks; allowed: at most 106; look for a mistaken year\n"},
	} {
		f, found := resources.ReadForecast("f.csv", []byte(c.text), p)
		require.Nil(t, f, c.name)
		got := ""
		for _, x := range found {
			got += x.String() + "\n"
		}
		require.Equal(t, c.want, got, c.name)
	}
}

func TestTheDemoForecastIsRead(t *testing.T) {
	text, err := os.ReadFile(demoPlant)
	require.NoError(t, err)
	plant, _ := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, plant)
	text, err = os.ReadFile("../testdata/demo/forecast.csv")
	require.NoError(t, err)
	f, found := resources.ReadForecast("forecast.csv", text, plant)
	require.Empty(t, texts(found))
	require.Len(t, f.Weeks(), 26)
	require.Len(t, f.Products(), 6)
}

func FuzzReadForecast(f *testing.F) {
	p := orderPlant(f)
	f.Add([]byte("product,week,quantity,event,ship_by\nSHAFT-S,2026-W11,4,,\nSHAFT-S,2026W12,2,Regatta,2026-03-18\n"))
	f.Add([]byte("product,2026-W11,2026-W12\nSHAFT-S,-4,2\nSHAFT-Q,,7\n"))
	f.Add([]byte("product,0001-W01,9999-W52\nSHAFT-S,4,2\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, found := resources.ReadForecast("f.csv", text, p)
		if resources.HasErrors(found) != (got == nil) {
			t.Fatalf("forecast %v with %v", got, texts(found))
		}
		if got == nil {
			return
		}
		for _, l := range got.Lines {
			if p.Product(l.Product) == nil || l.Quantity < 0 || l.Due == 0 && l.Week.Year > 1971 {
				t.Fatalf("%+v", l)
			}
		}
	})
}
