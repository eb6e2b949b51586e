// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

// orderPlant has two products and a carrier at 16:00 from Monday to Friday,
// not on Friday 13 March 2026.
func orderPlant(t testing.TB) *resources.Plant {
	return &resources.Plant{
		Zone:     zoneOf(t, "Europe/Berlin"),
		Products: []resources.Product{{ID: "SHAFT-S"}, {ID: "SHAFT-L"}},
		Shipping: resources.Shipping{Days: weekdays, CutOff: 16 * resources.Hour, Closed: []string{"2026-03-13"}},
	}
}

func orderFile(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile("../testdata/orders/" + name)
	require.NoError(t, err)
	return text
}

func texts(findings []resources.Finding) []string {
	var list []string
	for _, f := range findings {
		list = append(list, f.String())
	}
	return list
}

func TestOrdersInEveryForm(t *testing.T) {
	p := orderPlant(t)
	at := func(text string) resources.Tick { return local(t, p.Zone, text) }
	want := []resources.OrderLine{
		{Order: "TL-1001", Line: "1", Customer: "Larkstone Rowers", Product: "SHAFT-S", Quantity: 12, Weight: 5, Kind: resources.Event,
			ShipBy: at("2026-03-14T16:00"), Due: at("2026-03-12T16:00"), EarliestStart: at("2026-03-02T00:00"),
			Note: "ends by the\ncustomer, \"left\" and right"},
		{Order: "TL-1001", Line: "2", Customer: "Larkstone Rowers", Product: "SHAFT-L", Quantity: 1, Weight: 1, Kind: resources.Event,
			ShipBy: at("2026-03-13T16:00"), Due: at("2026-03-12T16:00")},
		{Order: "TL-1002", Line: "1", Customer: "Six Fens Haulage", Product: "SHAFT-L", Quantity: 10000, Weight: 1,
			ShipBy: at("2026-03-20T09:30"), Due: at("2026-03-19T16:00"), EarliestStart: at("2026-03-02T06:30")},
		{Order: "TL-1003", Line: "A_2", Product: "SHAFT-S", Quantity: 3, Weight: 0,
			ShipBy: at("2026-03-29T12:00"), Due: at("2026-03-27T16:00"), Note: "Größe wie zuletzt"},
	}
	text := orderFile(t, "forms.csv")
	for name, form := range map[string][]byte{
		"CR LF":           text,
		"LF":              bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")),
		"byte order mark": append([]byte("\xEF\xBB\xBF"), text...),
		"no last newline": bytes.TrimRight(text, "\r\n"),
	} {
		lines, findings := resources.ReadOrders("forms.csv", form, p)
		require.Empty(t, texts(findings), name)
		require.Equal(t, want, lines, name)
	}
}

func TestOrderMistakesAreToldAllAtOnce(t *testing.T) {
	lines, findings := resources.ReadOrders("mistakes.csv", orderFile(t, "mistakes.csv"), orderPlant(t))
	require.Nil(t, lines)
	const when = "a date like 2026-03-14, with a time like 2026-03-14 16:00 in the plant's zone, or RFC 3339 like 2026-03-14T16:00:00+01:00; years 1971 to 2199"
	const kinds = "firm (late costs per day) or event (worthless when late)"
	require.Equal(t, []string{
		`mistakes.csv:1: error: Colour: unknown column; allowed: order, line, customer, product, quantity, ship_by, weight, kind, earliest_start, note`,
		`mistakes.csv:3: error: line: order TL-1 already has a line 1, on line 2 of the file; give each line of an order its own number`,
		`mistakes.csv:4: error: product: the plant makes no such product; found "SHAFT-X"; allowed: SHAFT-S, SHAFT-L; did you mean SHAFT-S?`,
		`mistakes.csv:4: error: quantity: is out of range; found "0"; allowed: a whole number from 1 to 10000`,
		`mistakes.csv:4: error: ship_by: cannot be read as a date; found "14.03.2026"; allowed: ` + when,
		`mistakes.csv:5: error: order: is empty; allowed: letters, digits, - and _, at most 40`,
		`mistakes.csv:5: error: line: cannot be read; found "1-2"; allowed: letters, digits and _, at most 40, like 1`,
		`mistakes.csv:5: error: product: is empty; allowed: SHAFT-S, SHAFT-L`,
		`mistakes.csv:5: error: quantity: is no whole number; found "1.5"; allowed: a whole number from 1 to 10000; write it in digits only`,
		`mistakes.csv:5: error: weight: is no whole number; found "heavy"; allowed: a whole number from 0 to 1000000; write it in digits only`,
		`mistakes.csv:5: error: kind: cannot be read; found "rush"; allowed: ` + kinds,
		`mistakes.csv:5: error: ship_by: is empty; allowed: ` + when,
		`mistakes.csv:6: error: order: cannot be read; found "TL/3"; allowed: letters, digits, - and _, at most 40`,
		`mistakes.csv:6: error: quantity: is out of range; found "10001"; allowed: a whole number from 1 to 10000`,
		`mistakes.csv:6: error: weight: is out of range; found "-1"; allowed: a whole number from 0 to 1000000`,
		`mistakes.csv:6: error: ship_by: cannot be read as a date; found "2026-02-30"; allowed: ` + when,
		`mistakes.csv:7: error: there is a value without a column; found "with commas"; put text with commas in quotation marks, or name the column in the first row`,
		`mistakes.csv:7: error: quantity: is no whole number; found "+5"; allowed: a whole number from 1 to 10000; write it in digits only`,
		`mistakes.csv:7: error: ship_by: cannot be read as a date; found "2026-03-14 25:00"; allowed: ` + when,
		`mistakes.csv:8: error: a quotation mark is out of place or missing on line 8; allowed: CSV as in RFC 4180; put the whole field in quotation marks, and double those inside it: "a ""b"" c"`,
		`mistakes.csv:9: error: quantity: is empty; allowed: a whole number from 1 to 10000`,
		`mistakes.csv:9: error: kind: cannot be read; found "evnt"; allowed: ` + kinds + `; did you mean event?`,
		`mistakes.csv:9: error: ship_by: cannot be read as a date; found "1899-12-31"; allowed: ` + when,
	}, texts(findings))
}

func TestOrderFilesThatAreNoneAtAll(t *testing.T) {
	const header = "order,product,quantity,ship_by\n"
	for name, c := range map[string]struct{ text, say string }{
		"empty":             {"", "the file is empty"},
		"only a mark":       {"\xEF\xBB\xBF", "the file is empty"},
		"blank rows":        {"\n,,\n \n", "the file is empty"},
		"no header":         {"TL-1,SHAFT-S,1,2026-03-14\n", "the first row does not name the columns"},
		"semicolons":        {"order;product;quantity;ship_by\nTL-1;SHAFT-S;1;2026-03-14\n", "separated by semicolons"},
		"tabs":              {"order\tproduct\tquantity\tship_by\n", "separated by tabs"},
		"UTF-16":            {"\xFF\xFEo\x00r\x00", "the file is in UTF-16"},
		"UTF-16 BE":         {"\xFE\xFF\x00o\x00r", "the file is in UTF-16"},
		"Latin-1":           {header + "TL-1,SHAFT-S,1,2026-03-14\nTL-2,Gr\xF6\xDFe,1,2026-03-14\n", `:3: error: the file is not in UTF-8; found "byte 0xF6"`},
		"NUL":               {header + "TL-1,\x00,1,2026-03-14\n", ":2: error: the file holds a NUL byte"},
		"workbook":          {"PK\x03\x04", "not CSV"},
		"old line ends":     {"order,product\rTL-1,SHAFT-S", "carriage return alone"},
		"missing columns":   {"order,line\nTL-1,1\n", "product: the column is missing"},
		"column twice":      {"order,product,quantity,ship_by,Ship-By\n", "ship_by: the column is there twice"},
		"misspelt column":   {"order,product,qantity,ship_by\n", "qantity: unknown column; allowed: order, line, customer, product, quantity, ship_by, weight, kind, earliest_start, note; did you mean quantity?"},
		"open quotation":    {header + "TL-1,\"SHAFT-S,1,2026-03-14\nTL-2,SHAFT-S,1,2026-03-14\n", "a quotation mark is out of place or missing"},
		"too many commas":   {header + strings.Repeat(",", 6000), ":2: error: the line has far too many commas"},
		"too large":         {strings.Repeat("x", resources.MaxOrderBytes+1), "the file is too large"},
		"too many lines":    {header + strings.Repeat("a,b,1,2026-03-14\n", resources.MaxOrderLines+1), "more findings are not shown"},
		"control character": {"order,product,quantity,ship_by,note\nTL-1,SHAFT-S,1,2026-03-14,\a\n", "note: holds the character U+0007"},
		"damaged text":      {"order,product,quantity,ship_by,customer\nTL-1,SHAFT-S,1,2026-03-14,Gr\uFFFD\uFFFDe\n", "customer: holds the character U+FFFD"},
		"long note":         {"order,product,quantity,ship_by,note\nTL-1,SHAFT-S,1,2026-03-14," + strings.Repeat("x", 5000), "note: is 5000 bytes long"},
	} {
		lines, findings := resources.ReadOrders("orders.csv", []byte(c.text), orderPlant(t))
		require.Nil(t, lines, name)
		require.True(t, resources.HasErrors(findings), name)
		require.Contains(t, strings.Join(texts(findings), "\n"), c.say, name)
		require.Less(t, len(findings), 600, name)
	}
}

// A quotation mark that is not closed takes in all that follows: it is the one mistake.
func TestAnUnclosedQuotationMarkIsOneFinding(t *testing.T) {
	_, findings := resources.ReadOrders("orders.csv", []byte("order,product,quantity,ship_by\nTL-1,\"SHAFT-S,1,2026-03-09\nTL-2,SHAFT-S,1,2026-03-09\n"), orderPlant(t))
	require.Len(t, findings, 1, texts(findings))
	require.Contains(t, findings[0].String(), "orders.csv:2: error: a quotation mark is out of place or missing")
	_, findings = resources.ReadForecast("f.csv", []byte("product,week,quantity\n\"SHAFT-S,2026-W10,1\n"), orderPlant(t))
	require.Len(t, findings, 1, texts(findings))
	_, findings = resources.ReadForecast("f.csv", []byte("product,week,quantity\nSHAFT-S,2026-W10,1\nSHAFT-S,2026-W11,\"1\"2\nSHAFT-S,2026-W12,1\n"), orderPlant(t))
	require.Len(t, findings, 1, texts(findings), "the week of the broken row is not missing")
}

func TestOrderWarningsLoadTheLines(t *testing.T) {
	p := orderPlant(t)
	lines, findings := resources.ReadOrders("orders.csv", []byte("order,product,quantity,ship_by,earliest_start\nTL-1,SHAFT-S,1,2026-03-09 12:00,2026-03-07\n"), p)
	require.Len(t, lines, 1)
	require.Equal(t, []string{`orders.csv:2: warning: earliest_start: is not before the line is due, 2026-03-06 16:00; found "2026-03-07"`}, texts(findings))
	lines, findings = resources.ReadOrders("orders.csv", []byte("order,product,quantity,ship_by\n"), p)
	require.Empty(t, lines)
	require.Equal(t, []string{"orders.csv: warning: the file has no order lines"}, texts(findings))
	// Warnings without number stay warnings, and never hide an error.
	var text strings.Builder
	text.WriteString("order,product,quantity,ship_by,earliest_start\n")
	for i := range 900 {
		fmt.Fprintf(&text, "TL-%d,SHAFT-S,1,2026-03-09 12:00,2026-03-07\n", i)
	}
	lines, findings = resources.ReadOrders("orders.csv", []byte(text.String()), p)
	require.Len(t, lines, 900)
	require.False(t, resources.HasErrors(findings))
	require.Equal(t, "orders.csv: warning: 400 more findings are not shown", findings[len(findings)-1].String())
	lines, findings = resources.ReadOrders("orders.csv", []byte(text.String()+"TL-900,SHAFT-S,none,2026-03-14\n"), p)
	require.Nil(t, lines)
	require.Contains(t, findings[0].String(), "orders.csv:902: error: quantity")
}

// A time that the clocks go forward over is said to be moved.
func TestATimeThatTheClocksSkip(t *testing.T) {
	p := orderPlant(t)
	const header = "order,product,quantity,ship_by,earliest_start\n"
	lines, findings := resources.ReadOrders("orders.csv", []byte(header+"TL-1,SHAFT-S,1,2026-03-29 02:30,\nTL-2,SHAFT-S,1,2026-04-09,2026-03-29T02:00:30\n"), p)
	require.Len(t, lines, 2)
	require.Equal(t, local(t, p.Zone, "2026-03-29T03:30"), lines[0].ShipBy)
	require.Equal(t, []string{
		`orders.csv:2: warning: ship_by: the clocks go forward over this time, to 2026-03-29 03:30; found "2026-03-29 02:30"`,
		`orders.csv:3: warning: earliest_start: the clocks go forward over this time, to 2026-03-29 03:00; found "2026-03-29T02:00:30"`,
	}, texts(findings))
	_, findings = resources.ReadOrders("orders.csv", []byte(header+"TL-1,SHAFT-S,1,2026-03-29 01:59,\nTL-2,SHAFT-S,1,2026-10-25 02:30,2026-03-29 03:00\nTL-3,SHAFT-S,1,2026-03-29T02:30:00+01:00,\n"), p)
	require.Empty(t, texts(findings), "also where a time comes twice")

	demo, open := readDemo(t)
	text := "name: x\nchanges: [{down: {station: W1, from: 2026-03-29 01:30, for: 1h}}]\n"
	set, findings := resources.ReadChanges("c.yaml", []byte(text), demo, open, demo.StartsAt)
	require.NotNil(t, set)
	require.Equal(t, []string{`c.yaml:2: warning: changes[0].down.from: the clocks go forward over this time, to 2026-03-29 02:30; found "2026-03-29 01:30"`}, texts(findings))
}

// What cannot be seen must not make a name look like another. Joiners are part of
// how some scripts are spelt.
func TestTextsThatMislead(t *testing.T) {
	for c, ok := range map[rune]bool{
		'\u200C': true, '\u200D': true, 'é': true, 'ש': true, '\u0301': true,
		'\u061C': false, '\u200B': false, '\u200E': false, '\u202E': false, '\u2060': false, '\u2066': false, '\u2069': false, '\uFEFF': false,
	} {
		name := "Ada" + string(c) + "Six"
		text := "order,customer,product,quantity,ship_by\nTL-1," + name + ",SHAFT-S,1,2026-03-09\n"
		_, findings := resources.ReadOrders("orders.csv", []byte(text), orderPlant(t))
		require.Equal(t, ok, len(findings) == 0, "%U", c)
		require.Equal(t, ok, resources.IsSetName(name), "%U", c)
		if !ok {
			require.Contains(t, findings[0].String(), fmt.Sprintf("orders.csv:2: error: customer: holds the character %U, which is no text", c))
		}
	}
}

// A date alone ends with the cut-off, or the day itself when there is none.
func TestShipByADateAlone(t *testing.T) {
	p := orderPlant(t)
	p.Shipping = resources.Shipping{}
	text := []byte("order,product,quantity,ship_by\nTL-1,SHAFT-S,1,2026-03-29\n")
	lines, findings := resources.ReadOrders("orders.csv", text, p)
	require.Empty(t, findings)
	require.Equal(t, local(t, p.Zone, "2026-03-30T00:00")-1, lines[0].Due, "23 hours after it began: the clocks change")
	require.Equal(t, lines[0].Due, lines[0].ShipBy)
}

func TestOrderRowsGiveTheirNumbers(t *testing.T) {
	rows := [][]string{nil, {"", "Order", "PRODUCT", "Quantity", "ship by"}, nil, {"", "TL-1", "SHAFT-S", "1", "2026-03-14"}, {"x", "TL-2", "SHAFT-S"}}
	lines, findings := resources.ReadOrderRows("orders.xlsx", rows, orderPlant(t))
	require.Nil(t, lines)
	require.Equal(t, []int{5, 5, 5}, []int{findings[0].Line, findings[1].Line, findings[2].Line})
	lines, findings = resources.ReadOrderRows("orders.xlsx", rows[:4], orderPlant(t))
	require.Empty(t, texts(findings))
	require.Len(t, lines, 1)
}

// Lines written as CSV are read as they were.
func TestOrdersSurviveCSV(t *testing.T) {
	p := orderPlant(t)
	rapid.Check(t, func(t *rapid.T) {
		rows := [][]string{{"note", "order", "line", "product", "quantity", "ship_by", "kind", "weight", "customer"}}
		var want []resources.OrderLine
		for i := range rapid.IntRange(1, 8).Draw(t, "lines") {
			line := resources.OrderLine{
				Order: rapid.StringMatching(`[A-Z0-9_-]{1,12}`).Draw(t, "order"), Line: fmt.Sprint(i),
				Product:  rapid.SampledFrom([]string{"SHAFT-S", "SHAFT-L"}).Draw(t, "product"),
				Quantity: rapid.IntRange(1, 10000).Draw(t, "quantity"), Weight: rapid.Int64Range(0, 1e6).Draw(t, "weight"),
				Kind:     rapid.SampledFrom([]resources.OrderKind{resources.Firm, resources.Event}).Draw(t, "kind"),
				ShipBy:   resources.Tick(rapid.Int64Range(1e9, 2e9).Draw(t, "ship by")),
				Customer: strings.TrimSpace(rapid.StringMatching(`[a-zäöü ",;']{0,20}`).Draw(t, "customer")),
				Note:     strings.TrimSpace(rapid.StringMatching(`[a-zäöü ",;\n']{0,40}`).Draw(t, "note")),
			}
			line.Due = p.Due(line.ShipBy)
			want = append(want, line)
			kind := map[resources.OrderKind]string{resources.Firm: "firm", resources.Event: "event"}[line.Kind]
			rows = append(rows, []string{line.Note, line.Order, line.Line, line.Product, fmt.Sprint(line.Quantity),
				time.Unix(int64(line.ShipBy), 0).UTC().Format(time.RFC3339), kind, fmt.Sprint(line.Weight), line.Customer})
		}
		var out bytes.Buffer
		require.NoError(t, csv.NewWriter(&out).WriteAll(rows))
		got, findings := resources.ReadOrders("orders.csv", out.Bytes(), p)
		require.Empty(t, texts(findings))
		require.Equal(t, want, got)
		got, findings = resources.ReadOrderRows("orders.xlsx", rows, p)
		require.Empty(t, texts(findings))
		require.Equal(t, want, got)
	})
}

func FuzzReadOrders(f *testing.F) {
	f.Add(orderFile(f, "forms.csv"))
	f.Add(orderFile(f, "mistakes.csv"))
	f.Add([]byte("order;product\n1;2"))
	f.Add([]byte("\xEF\xBB\xBForder,product,quantity,ship_by\r\n\"a\",\"SHAFT-S\",\"1\",\"2026-03-14\""))
	p := orderPlant(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		lines, findings := resources.ReadOrders("fuzz.csv", text, p)
		if resources.HasErrors(findings) {
			require.Nil(t, lines)
			return
		}
		seen := map[string]bool{}
		for _, line := range lines {
			require.NotNil(t, p.Product(line.Product))
			require.True(t, line.Quantity >= 1 && line.Quantity <= 10000)
			require.LessOrEqual(t, line.Due, line.ShipBy)
			require.False(t, seen[line.Order+"-"+line.Line])
			seen[line.Order+"-"+line.Line] = true
		}
	})
}

func BenchmarkReadOrders5000Lines(b *testing.B) {
	var text bytes.Buffer
	text.WriteString("order,line,customer,product,quantity,ship_by,weight,kind,earliest_start,note\n")
	for i := range 5000 {
		fmt.Fprintf(&text, "TL-%d,%d,Six Fens Haulage,SHAFT-S,%d,2026-%02d-%02d 12:00,3,event,2026-01-05,\"ends, both\"\n", i/3, i%3, 1+i%20, 3+i%9, 1+i%28)
	}
	p := orderPlant(b)
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		lines, findings := resources.ReadOrders("orders.csv", text.Bytes(), p)
		if len(lines) != 5000 {
			b.Fatal(findings)
		}
	}
}
