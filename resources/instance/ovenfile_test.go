// SPDX-License-Identifier: Apache-2.0

package instance_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/resources/instance"
)

const small = `% two jobs, one oven
n=2; m=1; a=2; s=2; l=50;
setup_costs=[|1,2,
|3,4,
|0,0|];
setup_times=[|0,1,|2,0,|0,0|];
min_cap=[0]; max_cap=[10]; initState=[3];
m_a_s=[|0,20|]; m_a_e=[|20,40|];
eligible_machine=[{1},{1}];
earliest_start=[0,5]; latest_end=[8,12]; min_time=[4,6]; max_time=[9,6];
size=[5,6]; attribute=[1,2];
upper_bound_integer_objective=100;
mult_factor_total_runtime=2; mult_factor_finished_toolate=30;
mult_factor_total_setuptimes=0; mult_factor_total_setupcosts=5;
`

func TestReadDZN(t *testing.T) {
	o, findings := instance.ReadDZN("small.dzn", []byte(small))
	require.Empty(t, findings)
	require.Equal(t, []instance.OvenJob{
		{Eligible: []int{1}, Earliest: 0, Latest: 8, Min: 4, Max: 9, Size: 5, Attribute: 1},
		{Eligible: []int{1}, Earliest: 5, Latest: 12, Min: 6, Max: 6, Size: 6, Attribute: 2},
	}, o.Jobs)
	require.Equal(t, []instance.Oven{{Capacity: 10, Initial: 3, Open: []instance.Span{{0, 20}, {20, 40}}}}, o.Ovens)
	require.Equal(t, [][]int64{{1, 2}, {3, 4}, {0, 0}}, o.SetupCost)
	require.Equal(t, instance.OvenFactors{RunTime: 2, Late: 30, SetupCost: 5, Bound: 100}, o.Factors)
}

func TestReadDZNSaysWhatIsWrong(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"missing name":      {"size=[5,6];", "", "size: missing"},
		"cut short":         {small[strings.Index(small, "];\nupper"):], "", `attribute: the file is cut short; allowed: "," or "]"`},
		"cut in a number":   {small[strings.Index(small, "00;\nmult"):], "", `upper_bound_integer_objective: the file is cut short; allowed: ";"`},
		"cut in a comment":  {"% two jobs", "/* two jobs", "missing"},
		"no semicolon":      {"a=2;", "a=2", `";" after the value`},
		"word":              {"n=2", "n=two", "n: cannot be read; found \"two"},
		"twice":             {"l=50;", "l=50; l=51;", "a second value"},
		"short list":        {"size=[5,6]", "size=[5]", "size: wrong number of entries; found \"1 entries\""},
		"negative time":     {"min_time=[4,6]", "min_time=[4,-6]", "min_time[2]: out of range; found \"-6\""},
		"max below min":     {"max_time=[9,6]", "max_time=[9,5]", "max_time[2]"},
		"attribute unknown": {"attribute=[1,2]", "attribute=[1,3]", "attribute[2]: out of range; found \"3\"; allowed: 1 to 2"},
		"oven unknown":      {"[{1},{1}]", "[{1},{2}]", "eligible_machine[2]: out of range"},
		"no oven":           {"[{1},{1}]", "[{1},{}]", "eligible_machine[2]: an empty set"},
		"state unknown":     {"initState=[3]", "initState=[4]", "initState[1]: out of range"},
		"setup row missing": {"|2,0,|0,0|]", "|2,0|]", "setup_times: wrong number of rows"},
		"setup row short":   {"|2,0,|0,0|]", "|2,0,|0|]", "setup_times[3]: wrong number of entries"},
		"overlap":           {"m_a_s=[|0,20|]", "m_a_s=[|0,19|]", "m_a_s[1]: the oven is available twice at once"},
		"backwards":         {"m_a_e=[|20,40|]", "m_a_e=[|20,4|]", "m_a_e[1]: not a stretch of time"},
		"least load":        {"min_cap=[0]", "min_cap=[-1]", "min_cap[1]: out of range"},
		"fits no oven":      {"size=[5,6]", "size=[5,11]", "size[2]: nobody can run the job: it fits none of its ovens; found \"11\"; allowed: at most 10"},
		"too long":          {"min_time=[4,6]; max_time=[9,6]", "min_time=[4,21]; max_time=[9,21]", "min_time[2]: nobody can run the job: no oven is available for so long; found \"21\"; allowed: at most 20"},
		"too late":          {"earliest_start=[0,5]", "earliest_start=[0,35]", "min_time[2]: nobody can run the job"},
		"fraction":          {"n=2", "n=2.5", "n: cannot be read; found \"2.5"},
		"sets for numbers":  {"size=[5,6]", "size=[{5},{6}]", "size: not a list of numbers; found \"sets\""},
		"number for sets":   {"eligible_machine=[{1},{1}]", "eligible_machine=1", "eligible_machine: not a list of sets"},
		"ragged array2d":    {"[|0,20|]; m_a_e", "array2d(1..1,1..2,[0,20,40]); m_a_e", "m_a_s: cannot be read; found \"3 numbers\"; allowed: rows of 2"},
		"mixed list":        {"size=[5,6]", "size=[5,{6}]", "size[2]: cannot be read"},
		"huge range":        {"[{1},{1}]", "[{1},1..1000001]", "eligible_machine[2]: cannot be read"},
		"huge number":       {"size=[5,6]", "size=[5,99999999999999999999]", "size[2]: cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, small, c.old)
			o, findings := instance.ReadDZN("f.dzn", []byte(strings.Replace(small, c.old, c.new, 1)))
			require.Nil(t, o)
			require.NotEmpty(t, findings)
			require.Contains(t, findings[0].String(), c.want)
			require.True(t, strings.HasPrefix(findings[0].String(), "f.dzn:"))
		})
	}
}

func TestReadDZNWarnsOfUnknownNames(t *testing.T) {
	o, findings := instance.ReadDZN("f.dzn", []byte(small+"colour=3;\n"))
	require.NotNil(t, o)
	require.Len(t, findings, 1)
	require.Equal(t, resources.Warning, findings[0].Severity)
	require.Equal(t, "colour", findings[0].Field)
}

// What is no dzn file at all is one finding.
func TestReadDZNOfJunk(t *testing.T) {
	for text, want := range map[string]string{
		"": "f.dzn: error: the file is empty", " \n": "f.dzn: error: the file is empty",
		"\x00\x01": "f.dzn: error: this is not text", "n=\xff": "f.dzn: error: this is not text",
	} {
		o, findings := instance.ReadDZN("f.dzn", []byte(text))
		require.Nil(t, o)
		require.Len(t, findings, 1)
		require.Contains(t, findings[0].String(), want)
	}
}

// Order, layout, comments and ways to write lists do not matter.
func TestReadDZNInOtherWords(t *testing.T) {
	want, findings := instance.ReadDZN("f.dzn", []byte(small))
	require.Empty(t, findings)
	parts := strings.SplitAfter(strings.SplitN(small, "\n", 2)[1], ";")
	slices.Reverse(parts)
	text := "\ufeff" + strings.Join(parts, "/* a\ncomment; n=7; */\n") + "% the end"
	for old, other := range map[string]string{
		"[{1},{1}]": "[ 1..1 ,\r\n { 1 , 1 } , ]", "size=[5,6]": "size = array1d( 1..2 , [5,\n6] )",
		"[|0,20|]; m_a_e=[|20,40|]": "array2d(1..1, 1..2, [0,20]); m_a_e=[|20, 40,|]", "[0,5]": "[+0, % zero\n5]",
		"|0,0|]": "|0,0,|]",
	} {
		text = strings.ReplaceAll(text, old, other)
	}
	got, findings := instance.ReadDZN("f.dzn", []byte(text))
	require.Empty(t, findings)
	require.Equal(t, want, got)
}

// A file cut short anywhere is never taken for a whole one, except behind its
// last semicolon.
func TestReadDZNCutAnywhere(t *testing.T) {
	whole := strings.LastIndex(small, ";")
	for n := range whole {
		o, findings := instance.ReadDZN("f.dzn", []byte(small[:n]))
		require.Nil(t, o, small[:n])
		require.NotEmpty(t, findings)
	}
}

func TestReadDZNWarnsOfALeastLoad(t *testing.T) {
	o, findings := instance.ReadDZN("f.dzn", []byte(strings.Replace(small, "min_cap=[0]", "min_cap=[3]", 1)))
	require.NotNil(t, o)
	require.Len(t, findings, 1)
	require.Equal(t, resources.Warning, findings[0].Severity)
	require.Equal(t, "min_cap", findings[0].Field)
}

func TestReadDZNReportsEveryFault(t *testing.T) {
	text := strings.Replace(small, "size=[5,6]", "size=[-5,-6]", 1)
	text = strings.Replace(text, "max_cap=[10]", "max_cap=[10,10]", 1)
	text = strings.Replace(text, "m=1;", "m=one;", 1)                // form
	text = strings.Replace(text, "[9,6]", "[3,6]", 1)                // two values that do not go together
	text = strings.Replace(text, "setup_times=[", "setup_times=", 1) // form
	_, findings := instance.ReadDZN("f.dzn", []byte(text))
	var fields []string
	for _, f := range findings {
		require.Positive(t, f.Line, f)
		fields = append(fields, f.Field)
	}
	require.Equal(t, []string{"m", "setup_times", "max_time[1]", "size[1]", "size[2]"}, fields)
}

// The published example of the cost (see testdata/bench/README.md for the
// source): a batch lies in one availability interval, also where two touch.
func TestOvenRules(t *testing.T) {
	o, _ := instance.ReadDZN("small.dzn", []byte(small))
	good := instance.OvenSolution{Batches: []instance.OvenBatch{
		{Machine: 1, Start: 0, Duration: 4, Jobs: []int{1}},
		{Machine: 1, Start: 5, Duration: 6, Jobs: []int{2}},
	}}
	cost, err := o.Score(good)
	require.NoError(t, err)
	require.Equal(t, instance.OvenCost{RunTime: 10, SetupTime: 1, SetupCost: 2, Cost: 30, Bound: 100}, cost)
	for name, c := range map[string]struct {
		change func(b []instance.OvenBatch) []instance.OvenBatch
		want   string
	}{
		"across a seam": {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Start = 18; return b }, "one availability interval"},
		"no set-up":     {func(b []instance.OvenBatch) []instance.OvenBatch { b[0].Duration = 5; return b }, "no time for the set-up"},
		"too short":     {func(b []instance.OvenBatch) []instance.OvenBatch { b[0].Duration = 3; return b }, "needs longer"},
		"too long":      {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Duration = 7; return b }, "may not stay so long"},
		"too early":     {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Start = 4; return b }, "is not there yet"},
		"missing":       {func(b []instance.OvenBatch) []instance.OvenBatch { return b[:1] }, "job 2 is in 0 batches"},
		"twice":         {func(b []instance.OvenBatch) []instance.OvenBatch { b[0].Jobs = []int{1, 1}; return b }, "job 1 is in 2 batches"},
		"too much":      {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Jobs = []int{1, 2}; return b[1:] }, "size 11"},
		"attributes":    {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Jobs = []int{1, 2}; return b[1:] }, "another attribute"},
		"no such job":   {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Jobs = []int{3}; return b }, "job 3 does not exist"},
		"no such oven":  {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Machine = 2; return b }, "machine 2 does not exist"},
		"empty":         {func(b []instance.OvenBatch) []instance.OvenBatch { b[1].Jobs = nil; return b }, "is empty"},
	} {
		t.Run(name, func(t *testing.T) {
			bad := c.change([]instance.OvenBatch{good.Batches[0], good.Batches[1]})
			_, err := o.Score(instance.OvenSolution{Batches: bad})
			require.ErrorContains(t, err, c.want)
		})
	}
	late := []instance.OvenBatch{good.Batches[0], {Machine: 1, Start: 6, Duration: 6, Jobs: []int{2}}}
	cost, err = o.Score(instance.OvenSolution{Batches: late})
	require.NoError(t, err)
	require.Zero(t, cost.Late, "a batch that ends at the latest end is in time")
	late[1].Start = 7
	cost, err = o.Score(instance.OvenSolution{Batches: late})
	require.NoError(t, err)
	require.Equal(t, int64(1), cost.Late)
}

func TestReadBenchOvens(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(bench, "ovens", "*.dzn"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		o, findings := instance.ReadDZN(file, text)
		require.Empty(t, findings, file)
		require.Len(t, o.Case().Lines, len(o.Jobs))
	}
}

// The published bounds follow from the weights of use case 3 and the data (see
// testdata/bench/README.md): bound = jobs × (sum of the factors, each times its
// greatest value of one job).
func TestReadBenchOvensBounds(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(bench, "ovens", "uc3-001.dzn"))
	require.NoError(t, err)
	o, _ := instance.ReadDZN("uc3-001.dzn", text)
	var run, cost int64
	for _, j := range o.Jobs {
		run += j.Min
	}
	for _, row := range o.SetupCost {
		for _, c := range row {
			cost = max(cost, c)
		}
	}
	n := int64(len(o.Jobs))
	mean := (run + n - 1) / n
	f := o.Factors
	require.Equal(t, f.Bound, n*(f.RunTime*mean+f.Late+f.SetupCost*cost))
}

func FuzzReadDZN(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("n=1;m=1;a=1;eligible_machine=[1..1];"))
	f.Add([]byte("x=[|1,2|3,4|];y=[{1,2},3..4];z=[];% end"))
	f.Add([]byte("n=[|"))
	f.Fuzz(func(t *testing.T, text []byte) {
		o, findings := instance.ReadDZN("fuzz", text)
		require.Equal(t, o == nil, resources.HasErrors(findings), "%v", findings)
		if o == nil {
			return
		}
		c := o.Case()
		require.Len(t, c.Lines, len(o.Jobs))
		for _, line := range c.Lines {
			require.NotNil(t, c.Plant.Product(line.Product))
		}
	})
}
