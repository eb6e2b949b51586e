// SPDX-License-Identifier: Apache-2.0

package instance_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/resources/instance"
)

const bench = "../../testdata/bench"

func TestReadJobShop(t *testing.T) {
	shop, findings := instance.ReadJobShop("two.txt", []byte("# a comment\n\n2 2\n0 3 1 4\n1 5 0 0\n"))
	require.Empty(t, findings)
	require.Equal(t, "two.txt", shop.Name)
	require.Equal(t, 2, shop.Machines)
	require.Equal(t, [][]instance.Step{
		{{Options: []instance.Option{{Machine: 0, Time: 3}}}, {Options: []instance.Option{{Machine: 1, Time: 4}}}},
		{{Options: []instance.Option{{Machine: 1, Time: 5}}}, {Options: []instance.Option{{Machine: 0, Time: 0}}}},
	}, shop.Jobs)
}

func TestReadJobShopSaysWhatIsWrong(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":            {"", `f: error: the file is empty`},
		"header short":     {"2\n", `f:1: error: first line: 1 numbers`},
		"header word":      {"two 2\n", `f:1: error: jobs: not allowed here; found "two"`},
		"no jobs":          {"0 2\n", `f:1: error: jobs: not allowed here; found "0"; allowed: a whole number from 1`},
		"cut short":        {"2 2\n0 3 1 4\n", `error: job 1: the file is cut short after 1 jobs`},
		"too many":         {"1 2\n0 3 1 4\n0 1 1 1\n", `f:3: error: job 1: more jobs than announced`},
		"wrong count":      {"1 2\n0 3 1\n", `f:2: error: job 0: 3 numbers; allowed: 4 numbers`},
		"negative time":    {"1 2\n0 3 1 -4\n", `f:2: error: job 0, step 1, time: not allowed here; found "-4"`},
		"machine too high": {"1 2\n0 3 2 4\n", `f:2: error: job 0, step 1, machine: not allowed here; found "2"; allowed: a whole number from 0 to 1`},
		"machines":         {"1 1000000000\n", `f:1: error: machines: not allowed here`},
		"huge":             {"1 1\n0 99999999999999999999\n", `job 0, step 0, time`},
		"not text":         {"1 1\n0 \xff\n", `this is not text`},
		"binary":           {"1 1\n0 1\x00\n", `this is not text`},
		"only comments":    {"# 1 1\n# 0 1\n", `the file is empty`},
		"cut in a line":    {"2 2\n0 3 1 4\n1 5\n", `f:3: error: job 1: 2 numbers; allowed: 4 numbers`},
	} {
		t.Run(name, func(t *testing.T) {
			shop, findings := instance.ReadJobShop("f", []byte(c.text))
			require.Nil(t, shop)
			require.NotEmpty(t, findings)
			require.Contains(t, findings[0].String()+" "+findings[len(findings)-1].String(), firstOf(c.want))
		})
	}
}

// firstOf lets a table leave the file and line to findings without one.
func firstOf(s string) string {
	if len(s) > 9 && s[:9] == "f: error:" {
		return s[9:]
	}
	return s
}

// Comments, empty lines and white space do not matter, nor do line ends where
// there are not as many lines as jobs.
func TestReadJobShopInOtherWords(t *testing.T) {
	want, findings := instance.ReadJobShop("f", []byte("2 2\n0 3 1 4\n1 5 0 0\n"))
	require.Empty(t, findings)
	for _, text := range []string{
		"\ufeff#+++\r\n# instance f\r\n\r\n 2\t2 # jobs, machines\r\n\r\n0 3   1 4\r\n\t1 5 0 0 # last\r\n\r\n",
		"2 2\n0 3\n1 4\n1 5\n0 0\n",
		"2 2\n0 3 1 4 1 5 0 0",
	} {
		shop, findings := instance.ReadJobShop("f", []byte(text))
		require.Empty(t, findings)
		require.Equal(t, want, shop)
	}
}

func TestReadJobShopWarnsOfAMachineTwice(t *testing.T) {
	shop, findings := instance.ReadJobShop("f", []byte("1 2\n0 3 0 4\n"))
	require.NotNil(t, shop)
	require.Len(t, findings, 1)
	require.Equal(t, `f:2: warning: job 0, step 1, machine: the job comes to a machine again, after step 0; found "0"`, findings[0].String())
}

func TestReadJobShopReportsEveryFault(t *testing.T) {
	_, findings := instance.ReadJobShop("f", []byte("2 2\n0 3 5 -4\n0 x 1 1\n"))
	require.Len(t, findings, 3)
}

func TestReadFlexibleShop(t *testing.T) {
	shop, findings := instance.ReadFlexibleShop("flex", []byte("1 3 1.5\n2 2 1 25 3 37 1 2 4\n"))
	require.Empty(t, findings)
	require.Equal(t, [][]instance.Step{{
		{Options: []instance.Option{{Machine: 0, Time: 25}, {Machine: 2, Time: 37}}},
		{Options: []instance.Option{{Machine: 1, Time: 4}}},
	}}, shop.Jobs)
	for name, text := range map[string]string{
		"steps cut short":   "1 3\n2 1 1 5\n",
		"machines short":    "1 3\n1 2 1 5\n",
		"line goes on":      "1 3\n1 1 1 5 9\n",
		"too many machines": "1 3\n1 4 1 1 2 1 3 1 3 1\n",
		"machine 0":         "1 3\n1 1 0 5\n",
		"mean is a word":    "1 3 x\n1 1 1 5\n",
	} {
		t.Run(name, func(t *testing.T) {
			shop, findings := instance.ReadFlexibleShop("flex", []byte(text))
			require.Nil(t, shop)
			require.Len(t, findings, 1)
			require.Positive(t, findings[0].Line)
		})
	}
}

func TestReadBenchShops(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(bench, "jobshop", "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		shop, findings := instance.ReadJobShop(file, text)
		require.Empty(t, findings, file)
		c, err := shop.Makespan()
		require.NoError(t, err)
		require.Len(t, c.Lines, len(shop.Jobs))
	}
}

func FuzzReadJobShop(f *testing.F) {
	f.Add([]byte("2 2\n0 3 1 4\n1 5 0 0\n"), false)
	f.Add([]byte("1 3 1.5\n2 2 1 25 3 37 1 2 4\n"), true)
	f.Add([]byte("# x\n1 1\n0 -1"), false)
	f.Add([]byte("1000000000 1000000000\n"), false)
	f.Fuzz(func(t *testing.T, text []byte, flexible bool) {
		read := instance.ReadJobShop
		if flexible {
			read = instance.ReadFlexibleShop
		}
		shop, findings := read("fuzz", text)
		require.Equal(t, shop == nil, resources.HasErrors(findings), "%v", findings)
		if shop == nil || shop.Machines > 1000 {
			return
		}
		c, err := shop.Makespan()
		require.NoError(t, err)
		for i := range c.Plant.Products {
			for _, op := range c.Plant.Products[i].Routing {
				for _, id := range op.Stations {
					require.NotNil(t, c.Plant.Station(id))
				}
			}
		}
	})
}
