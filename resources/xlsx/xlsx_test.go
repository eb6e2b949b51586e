// SPDX-License-Identifier: Apache-2.0

package xlsx_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"hash/crc32"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the tests must not depend on the machine's zones

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"towpath/resources"
	"towpath/resources/xlsx"
)

// part is one file of a workbook written by hand, so that reading is tested
// against the format and not against the library that writes it.
type part struct{ name, text string }

const (
	contentTypes = `<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>`
	rootRels     = `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`
	bookRels     = `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/><Relationship Id="r3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/></Relationships>`
	book         = `<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">%s<sheets><sheet name="Season" sheetId="1" r:id="r1"/></sheets></workbook>`
	sheet        = `<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>%s</sheetData></worksheet>`
	// Cell formats 0 to 6: general, built-in date, a date with a text and a
	// colour, a number with thousands, text, a number with units that look like
	// a date, an elapsed time.
	styles = `<?xml version="1.0"?><styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><numFmts count="3"><numFmt numFmtId="164" formatCode="[Red]dd.mm.yyyy\ hh:mm&quot; h&quot;"/><numFmt numFmtId="165" formatCode="#,##0.00&quot; days&quot;\s"/><numFmt numFmtId="22" formatCode="0.0"/></numFmts><cellXfs count="7"><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="3"/><xf numFmtId="49"/><xf numFmtId="165"/><xf numFmtId="22"/></cellXfs></styleSheet>`
)

func pack(t testing.TB, parts ...part) []byte {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, p := range parts {
		f, err := w.Create(p.name)
		require.NoError(t, err)
		_, err = f.Write([]byte(p.text))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

// workbook packs rows of a sheet, as XML, with shared strings.
func workbook(t testing.TB, properties, rows string, shared ...string) []byte {
	var sst strings.Builder
	sst.WriteString(`<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">`)
	for _, s := range shared {
		fmt.Fprintf(&sst, "<si><t>%s</t></si>", s)
	}
	sst.WriteString("</sst>")
	return pack(t, part{"[Content_Types].xml", contentTypes}, part{"_rels/.rels", rootRels},
		part{"xl/workbook.xml", fmt.Sprintf(book, properties)}, part{"xl/_rels/workbook.xml.rels", bookRels},
		part{"xl/styles.xml", styles}, part{"xl/sharedStrings.xml", sst.String()},
		part{"xl/worksheets/sheet1.xml", fmt.Sprintf(sheet, rows)})
}

// Serial 46095 is 14 March 2026: day 1 is 1 January 1900 and 29 February 1900
// is counted though it never was (ISO/IEC 29500-1, 18.17.4.1).
func TestRowsOfEveryKindOfCell(t *testing.T) {
	text := workbook(t, "", `
		<row r="2"><c r="A2" t="s"><v>0</v></c><c r="C2" t="inlineStr"><is><t>in line</t></is></c></row>
		<row r="3"><c r="A3"><v>12</v></c><c r="B3" s="3"><v>10000</v></c><c r="C3" s="5"><v>46095</v></c><c r="D3"><v>0.1</v></c><c r="E3" s="6"><v>46095.5</v></c></row>
		<row r="4"><c r="A4" s="1"><v>46095</v></c><c r="B4" s="2"><v>46095.6666666667</v></c><c r="C4" s="2"><v>46095</v></c><c r="D4" s="1"><v>46095.25</v></c></row>
		<row r="6"><c r="A6" s="2" t="s"><v>1</v></c><c r="B6" t="b"><v>1</v></c><c r="C6"><f>1+2</f><v>3</v></c><c r="D6" t="e"><v>#REF!</v></c><c r="E6" t="str"><f>"a"</f><v>a</v></c><c r="F6" s="4"><v>007</v></c><c r="Z6"/></row>`,
		"shared", "2026-03-14 00:00")
	rows, err := xlsx.Rows(text, "orders")
	require.NoError(t, err)
	require.Equal(t, [][]string{
		nil,
		{"shared", "", "in line"},
		{"12", "10000", "46095", "0.1", "46095.5"},
		{"2026-03-14", "2026-03-14 16:00", "2026-03-14", "2026-03-14 06:00"},
		nil,
		{"2026-03-14 00:00", "TRUE", "3", "#REF!", "a", "7"},
	}, rows)
}

// Workbooks that count from 1904 are 1462 days behind.
func TestRowsOfAWorkbookCountingFrom1904(t *testing.T) {
	text := workbook(t, `<workbookPr date1904="1"/>`, `<row r="1"><c r="A1" s="1"><v>44633</v></c></row>`)
	rows, err := xlsx.Rows(text, "orders")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"2026-03-14"}}, rows)
}

func plant(t testing.TB) *resources.Plant {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	return &resources.Plant{Zone: zone, Products: []resources.Product{{ID: "SHAFT-S"}},
		Shipping: resources.Shipping{CutOff: 16 * resources.Hour}}
}

// The lines may stand in another sheet than the one that is read.
func TestAMistakeNamesTheSheetThatWasRead(t *testing.T) {
	said := func(cells []any, more ...string) (orders, forecast string) {
		f := excelize.NewFile()
		require.NoError(t, f.SetSheetRow("Sheet1", "A1", &cells))
		for _, name := range more {
			_, err := f.NewSheet(name)
			require.NoError(t, err)
		}
		var out bytes.Buffer
		require.NoError(t, f.Write(&out))
		_, found := xlsx.ReadOrders("o.xlsx", out.Bytes(), plant(t))
		require.Len(t, found, 1)
		_, other := xlsx.ReadForecast("f.xlsx", out.Bytes(), plant(t))
		require.Len(t, other, 1)
		return found[0].String(), other[0].String()
	}
	const read = `the first sheet, "Sheet1", was read, as no sheet is named `
	orders, forecast := said(nil, "May")
	require.Contains(t, orders, `o.xlsx: error: the sheet "Sheet1" is empty; allowed: a row with the columns order, line`)
	require.Contains(t, orders, read+"orders: give the right one that name, or put it first")
	require.Contains(t, forecast, `f.xlsx: error: the sheet "Sheet1" is empty`)
	require.Contains(t, forecast, read+"forecast")
	orders, forecast = said([]any{"our", "notes"}, "May")
	require.Contains(t, orders, "the first row does not name the columns")
	require.Contains(t, orders, read+"orders")
	require.Contains(t, forecast, read+"forecast")
	orders, _ = said(nil)
	require.Contains(t, orders, `the sheet "Sheet1" is empty`)
	require.NotContains(t, orders, "was read", "there is no other")
	orders, _ = said(nil, "Orders")
	require.Contains(t, orders, `the sheet "Orders" is empty`)
	require.NotContains(t, orders, "was read", "it is the one meant")
}

func TestOrdersFromTheSheetNamedOrders(t *testing.T) {
	f := excelize.NewFile()
	require.NoError(t, f.SetSheetRow("Sheet1", "A1", &[]any{"not", "these"}))
	_, err := f.NewSheet("ORDERS")
	require.NoError(t, err)
	require.NoError(t, f.SetSheetRow("ORDERS", "A1", &[]any{"Order", "Line", "Product", "Quantity", "Ship by", "Earliest start"}))
	require.NoError(t, f.SetSheetRow("ORDERS", "A2", &[]any{1001, 1, "SHAFT-S", 12, time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 2, 6, 30, 0, 0, time.UTC)}))
	require.NoError(t, f.SetSheetRow("ORDERS", "A3", &[]any{1001, 2, "SHAFT-S", 1, "2026-03-14T12:00:00+01:00"}))
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	p := plant(t)
	lines, findings := xlsx.ReadOrders("orders.xlsx", out.Bytes(), p)
	require.Empty(t, findings)
	at := func(month time.Month, day, hour, minute int) resources.Tick {
		return resources.Tick(time.Date(2026, month, day, hour, minute, 0, 0, p.Zone).Unix())
	}
	require.Equal(t, []resources.OrderLine{
		{Order: "1001", Line: "1", Product: "SHAFT-S", Quantity: 12, Weight: 1, ShipBy: at(3, 14, 16, 0), Due: at(3, 14, 16, 0), EarliestStart: at(3, 2, 6, 30)},
		{Order: "1001", Line: "2", Product: "SHAFT-S", Quantity: 1, Weight: 1, ShipBy: at(3, 14, 12, 0), Due: at(3, 13, 16, 0)},
	}, lines)
}

func TestOrderFindingsGiveTheRow(t *testing.T) {
	text := workbook(t, "", `<row r="3"><c t="s"><v>0</v></c><c t="s"><v>1</v></c><c t="s"><v>2</v></c><c t="s"><v>3</v></c></row>
		<row r="7"><c><v>1</v></c><c t="s"><v>4</v></c><c><v>1.5</v></c><c><v>46095</v></c></row>`,
		"order", "product", "quantity", "ship_by", "SHAFT-T")
	lines, findings := xlsx.ReadOrders("orders.xlsx", text, plant(t))
	require.Nil(t, lines)
	var got []string
	for _, f := range findings {
		got = append(got, f.String()[:min(70, len(f.String()))])
	}
	require.Equal(t, []string{
		`orders.xlsx:7: error: product: the plant makes no such product; found `,
		`orders.xlsx:7: error: quantity: is no whole number; found "1.5"; allow`,
		`orders.xlsx:7: error: ship_by: cannot be read as a date; found "46095"`,
	}, got, "a bare number is no date")
}

// lying packs a part whose directory entry tells a smaller size than it has.
func lying(t testing.TB, name string, content []byte, told uint64) []byte {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	f, err := w.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Store, CRC32: crc32.ChecksumIEEE(content),
		CompressedSize64: uint64(len(content)), UncompressedSize64: told})
	require.NoError(t, err)
	_, err = f.Write(content)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return out.Bytes()
}

func TestWorkbooksThatAreRefused(t *testing.T) {
	big := strings.Repeat(" ", 9<<20)
	wide := `<row r="1"><c r="XFD1"><v>1</v></c></row>`
	deep := `<row r="1"><c><v>1</v></c></row><row r="1048576"><c><v>1</v></c></row>`
	var many []part
	for i := range 2001 {
		many = append(many, part{fmt.Sprint("p", i), ""})
	}
	type refused struct {
		text []byte
		say  string
	}
	cases := map[string]refused{
		"nothing":             {nil, "no workbook"},
		"CSV":                 {[]byte("order,product\n"), "no workbook"},
		"old or protected":    {[]byte("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1"), "without a password"},
		"too large":           {make([]byte, 17<<20), "at most 16777216 are read"},
		"another archive":     {pack(t, part{"a.txt", "a"}), "the workbook"},
		"many parts":          {pack(t, many...), "2001 parts"},
		"a tree that unpacks": {pack(t, part{"xl/sharedStrings.xml", big}), "xl/sharedstrings.xml unpacks to more than 8 MiB"},
		"lying":               {lying(t, "xl/workbook.xml", []byte(big), 10), "the workbook"},
		"a value far right":   {workbook(t, "", wide), "right of column 200"},
		"a value far down":    {workbook(t, "", deep), "more than 101000 rows"},
		"row beyond all":      {workbook(t, "", `<row r="1048577"><c><v>1</v></c></row>`), "row"},
		"no such column":      {workbook(t, "", `<row r="1"><c r="ZZZZ1"><v>1</v></c></row>`), "row 1 of the sheet"},
	}
	if !testing.Short() { // 64 MiB take their time
		cases["bomb"] = refused{pack(t, part{"xl/worksheets/sheet1.xml", strings.Repeat(big, 8)}), "unpacks to more than 64 MiB"}
		cases["bomb in parts"] = refused{pack(t, part{"xl/worksheets/sheet1.xml", strings.Repeat(big, 4)}, part{"xl/worksheets/sheet2.xml", strings.Repeat(big, 4)}), "unpacks to more than 64 MiB"}
	}
	for name, c := range cases {
		rows, err := xlsx.Rows(c.text, "orders")
		require.Nil(t, rows, name)
		require.ErrorContains(t, err, c.say, name)
		lines, findings := xlsx.ReadOrders("orders.xlsx", c.text, plant(t))
		require.Nil(t, lines, name)
		require.True(t, resources.HasErrors(findings), name)
	}
}

func FuzzXLSX(f *testing.F) {
	f.Add(workbook(f, "", `<row r="1"><c t="s"><v>0</v></c><c s="1"><v>46095</v></c></row>`, "order"))
	f.Add(workbook(f, `<workbookPr date1904="1"/>`, `<row r="3"><c r="C3" s="2"><v>1e300</v></c></row>`))
	f.Add(pack(f, part{"xl/workbook.xml", "<workbook/>"}))
	f.Add([]byte("PK\x05\x06"))
	p := plant(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		lines, findings := xlsx.ReadOrders("fuzz.xlsx", text, p)
		if resources.HasErrors(findings) {
			require.Nil(t, lines)
		}
	})
}

// FuzzSheet reaches further in: the workbook is sound, its sheet and styles
// are not.
func FuzzSheet(f *testing.F) {
	f.Add(`<row r="1"><c t="s" s="1"><v>0</v></c></row>`, styles)
	f.Add(`<row r="2"><c r="B2" s="2"><v>-1</v></c><c t="d"><v>2026-03-14T00:00:00Z</v></c></row>`, styles)
	f.Add(`<row><c s="-1"><f>A1</f></c></row>`, `<styleSheet><cellXfs><xf numFmtId="14"/></cellXfs></styleSheet>`)
	f.Fuzz(func(t *testing.T, rows, styles string) {
		text := pack(t, part{"xl/workbook.xml", fmt.Sprintf(book, "")}, part{"xl/_rels/workbook.xml.rels", bookRels},
			part{"xl/styles.xml", styles}, part{"xl/worksheets/sheet1.xml", fmt.Sprintf(sheet, rows)})
		got, err := xlsx.Rows(text, "orders")
		if err != nil {
			require.Nil(t, got)
		}
		for _, row := range got {
			require.LessOrEqual(t, len(row), 200)
		}
	})
}

func BenchmarkReadOrders5000Rows(b *testing.B) {
	f := excelize.NewFile()
	header := []any{"order", "line", "customer", "product", "quantity", "ship_by"}
	if err := f.SetSheetRow("Sheet1", "A1", &header); err != nil {
		b.Fatal(err)
	}
	for i := range 5000 {
		row := []any{fmt.Sprint("TL-", i), 1, "Six Fens Haulage", "SHAFT-S", 1 + i%9, time.Date(2026, 3, 1+i%28, 0, 0, 0, 0, time.UTC)}
		if err := f.SetSheetRow("Sheet1", fmt.Sprint("A", i+2), &row); err != nil {
			b.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		b.Fatal(err)
	}
	p := plant(b)
	b.ReportAllocs()
	for b.Loop() {
		if lines, findings := xlsx.ReadOrders("orders.xlsx", out.Bytes(), p); len(lines) != 5000 {
			b.Fatal(findings)
		}
	}
}
