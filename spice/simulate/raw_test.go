package simulate_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"undermetal/spice/simulate"
)

// doubles are values as a raw file holds them.
func doubles(values ...float64) string {
	var b []byte
	for _, v := range values {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return string(b)
}

func head(flags string, points int, end string, variables ...string) string {
	s := fmt.Sprintf("Title: t\nDate: today\nPlotname: P\nFlags: %s\nNo. Variables: %d\nNo. Points: %d\nVariables:\n", flags, len(variables), points)
	for i, v := range variables {
		s += fmt.Sprintf("\t%d\t%s\n", i, v)
	}
	return s + end + ":\n"
}

// TestReadRaw reads files that were put together by hand, as the format is described.
func TestReadRaw(t *testing.T) {
	real := simulate.Plot{Title: "P", Vectors: []simulate.Vector{
		{Name: "time", Type: "time", Re: []float64{0, 1, 2}}, {Name: "short", Type: "notype", Re: []float64{7, -8}}}}
	complexPlot := simulate.Plot{Title: "P", Complex: true, Vectors: []simulate.Vector{
		{Name: "frequency", Type: "frequency", Re: []float64{1, 10}, Im: []float64{0, 0}},
		{Name: "v(a)", Type: "voltage", Re: []float64{0.5, 0.25}, Im: []float64{-1, 1e-3}}}}
	padded := head("real", 3, "Binary", "time time", "short notype dims=2") + doubles(0, 7, 1, -8, 2, 0)
	unpadded := head("real unpadded", 3, "Binary", "time time", "short notype dims=2") + doubles(0, 7, 1, -8, 2)
	complexFile := head("complex", 2, "Binary", "frequency frequency grid=3", "V(A) voltage") + doubles(1, 0, .5, -1, 10, 0, .25, 1e-3)
	for _, tc := range []struct {
		name, file string
		want       []simulate.Plot
	}{
		{"padded", padded, []simulate.Plot{real}},
		{"unpadded", unpadded, []simulate.Plot{real}},
		{"complex", complexFile, []simulate.Plot{complexPlot}},
		{"several", padded + complexFile + unpadded, []simulate.Plot{real, complexPlot, real}},
		{"text", head("real", 3, "Values", "time time", "short notype dims=2") + " 0\t0\n\t7\n\n 1\t1.0e+00\n\t-8\n\n 2\t2\n\t0\n\n", []simulate.Plot{real}},
		{"text, unpadded", head("real unpadded", 3, "Values", "time time", "short notype dims=2") + "0 0 7 1 1 -8 2 2\n", []simulate.Plot{real}},
		{"text, complex, CR LF", strings.ReplaceAll(head("complex padded", 2, "Values", "frequency frequency", "v(a) voltage")+
			"0\t1,0\n\t.5,-1\n\n1\t10,0\n\t.25,1e-3\n", "\n", "\r\n"), []simulate.Plot{complexPlot}},
		{"text and binary", head("real", 3, "Values", "time time", "short notype dims=2") + "0 0 7 1 1 -8 2 2 0\n" + complexFile, []simulate.Plot{real, complexPlot}},
		{"first variable beside its key", strings.Replace(padded, "Variables:\n\t0", "Variables: 0", 1), []simulate.Plot{real}},
	} {
		got, err := simulate.ReadRaw(strings.NewReader(tc.file), int64(len(tc.file)))
		if err != nil || !reflect.DeepEqual(got, tc.want) {
			t.Errorf("%s: %v\ngot  %+v\nwant %+v", tc.name, err, got, tc.want)
		}
		if _, err := simulate.ReadRaw(strings.NewReader(tc.file), int64(len(tc.file))-1); err == nil {
			t.Errorf("%s: longer than its limit, and nothing said", tc.name)
		}
		// Cut anywhere, it must not look whole.
		for n := range len(tc.file) {
			got, err := simulate.ReadRaw(strings.NewReader(tc.file[:n]), 0)
			whole := len(got) > 0 && reflect.DeepEqual(got[len(got)-1], tc.want[len(got)-1])
			if err == nil && !whole {
				t.Errorf("%s: cut after %d of %d bytes, and read as %+v", tc.name, n, len(tc.file), got)
				break
			}
		}
	}
}

func TestReadRawRefuses(t *testing.T) {
	good := head("real", 1, "Binary", "v(a) voltage") + doubles(1)
	for _, tc := range []struct{ name, file, says string }{
		{"nothing", "", "empty"},
		{"blank lines", "\n\n  \n", "empty"},
		{"no raw file", "<html>\n", "no line of a head"},
		{"no points", strings.Replace(good, "Points: 1", "Points: 0", 1), "its writer may have been ended"},
		{"points below 0", strings.Replace(good, "Points: 1", "Points: -1", 1), "number of points"},
		{"points that no file holds", strings.Replace(good, "Points: 1", "Points: 2147483647", 1), "the file ends"},
		{"no variables", strings.Replace(good, "Variables: 1", "Variables: 0", 1), "number of variables"},
		{"fewer variables", strings.Replace(good, "Variables: 1", "Variables: 2", 1), "variable 1"},
		{"a flag", strings.Replace(good, "real", "float32", 1), `unknown flag "float32"`},
		{"dimensions", strings.Replace(good, "voltage", "voltage dims=65536,65536", 1), "dimensions"},
		{"an index", strings.Replace(good, "\t0\t", "\t1\t", 1), "another index"},
		{"a long line", "Title: " + strings.Repeat("x", 1<<17) + "\n" + good, "longer than 65,536 bytes"},
		{"something behind", good + "more", "plot 2"},
		{"a word for a value", head("real", 1, "Values", "v(a) voltage") + "0 abc\n", `"abc" is no value`},
		{"a point left out", head("real", 2, "Values", "v(a) voltage") + "0 1\n2 1\n", `"2"`},
		{"half a complex value", head("complex", 1, "Values", "v(a) voltage") + "0 1\n", "no complex value"},
		{"points that take no byte", head("real unpadded", math.MaxInt32, "Binary", "v(a) voltage dims=1") + doubles(1), "longest vector has 1"},
		{"head only", head("real", 1, "", "v(a) voltage"), "head"},
	} {
		if _, err := simulate.ReadRaw(strings.NewReader(tc.file), 0); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: %v, want %q", tc.name, err, tc.says)
		}
	}
	got, err := simulate.ReadRaw(strings.NewReader(head("real", 3, "Values", "v(a) voltage")+"0 -nan 1 inf 2 1e999\n"), 0)
	if err != nil || !math.IsNaN(got[0].Vectors[0].Re[0]) || !math.IsInf(got[0].Vectors[0].Re[1], 1) || !math.IsInf(got[0].Vectors[0].Re[2], 1) {
		t.Errorf("nan, inf: %v, %v", got, err)
	}
}

// FuzzReadRaw: no panic; memory goes with the file; and what was read reads back equal from text that is written by
// other code than the reader's.
func FuzzReadRaw(f *testing.F) {
	f.Add([]byte(head("real", 3, "Binary", "time time", "short notype dims=2") + doubles(0, 7, 1, -8, 2, 0)))
	f.Add([]byte(head("real unpadded", 3, "Binary", "time time", "short notype dims=2") + doubles(0, 7, 1, -8, 2)))
	f.Add([]byte(head("complex", 2, "Binary", "f frequency", "v(a) voltage") + doubles(1, 0, .5, -1, 10, 0, .25, 1e-3)))
	f.Add([]byte(head("complex", 1, "Values", "f frequency", "v(a) voltage") + "0\t1,0\n\t.5,-1\n\n" + goodRawText))
	f.Add([]byte(head("real unpadded", math.MaxInt32, "Binary", "v(a) voltage dims=1") + doubles(1)))
	f.Add([]byte(head("real", math.MaxInt32, "Values", "v voltage") + "0 nan 1 -inf\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		plots, err := simulate.ReadRaw(bytes.NewReader(data), 0)
		runtime.ReadMemStats(&after)
		// 64 kB of buffer, a long line; a value of 2 bytes of text becomes 16 in slices that double.
		if took := after.TotalAlloc - before.TotalAlloc; took > 1<<20+uint64(200*len(data)) {
			t.Fatalf("%d bytes took %d", len(data), took)
		}
		if err != nil {
			return
		}
		text := asText(plots)
		again, err := simulate.ReadRaw(strings.NewReader(text), 0)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if a, b := asText(again), text; a != b {
			t.Fatalf("%s\nbecame\n%s", b, a)
		}
	})
}

const goodRawText = "Title: t\nPlotname: Operating Point\nFlags: real\nNo. Variables: 1\nNo. Points: 1\nVariables:\n\t0\tv(a)\tvoltage\nValues:\n 0\t2.5\n"

// asText writes plots as a raw file of text, shorter vectors unpadded.
func asText(plots []simulate.Plot) string {
	var b strings.Builder
	for _, p := range plots {
		points := 0
		for _, v := range p.Vectors {
			points = max(points, len(v.Re))
		}
		flags := "real unpadded"
		if p.Complex {
			flags = "complex unpadded"
		}
		fmt.Fprintf(&b, "Plotname: %s\nFlags: %s\nNo. Variables: %d\nNo. Points: %d\nVariables:\n", p.Title, flags, len(p.Vectors), points)
		for i, v := range p.Vectors {
			fmt.Fprintf(&b, "\t%d\t%s\t%s dims=%d\n", i, v.Name, v.Type, len(v.Re))
		}
		b.WriteString("Values:\n")
		for i := range points {
			fmt.Fprintf(&b, "%d", i)
			for _, v := range p.Vectors {
				if i < len(v.Re) {
					fmt.Fprintf(&b, "\t%v", v.Re[i])
					if p.Complex {
						fmt.Fprintf(&b, ",%v", v.Im[i])
					}
				}
			}
			b.WriteString("\n")
		}
	}
	return b.String()
}
