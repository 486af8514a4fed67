//go:build unix

package question

import (
	"context"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
)

// BenchmarkQuestions extracts the published SRAM macro alone, then with Facts and asks all questions, by turns, file not included.
// All times are of the processor, which other work on the machine disturbs least, and the median of all rounds, since a machine is
// faster in some rounds than in others. extra/plain is what Facts, questions with roles, and outlines with their solutions take beside the extraction alone.
func BenchmarkQuestions(b *testing.B) {
	st := loadStack(b, published(b, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	lib := drawing(b, published(b, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	spent := func() time.Duration {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	var plain, facts, ask, tell, outlines, solve []float64 // by round, seconds
	var start time.Duration
	begin := func() {
		runtime.GC() // what came before leaves nothing to collect
		start = spent()
	}
	end := func(to *[]float64) { *to = append(*to, (spent() - start).Seconds()) }
	for b.Loop() {
		begin()
		if _, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1}); err != nil {
			b.Fatal(err)
		}
		end(&plain)
		begin()
		res, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1, Facts: true})
		if err != nil {
			b.Fatal(err)
		}
		end(&facts)
		begin()
		mustAsk(b, res, st, nil, Options{})
		end(&ask)
		begin()
		mustTell(b, res, st, nil, Options{})
		end(&tell)
		begin()
		if res, err = extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1, Outlines: true}); err != nil {
			b.Fatal(err)
		}
		end(&outlines)
		begin()
		if _, err := measure.Solve(context.Background(), res, measure.SolveOptions{}); err != nil {
			b.Fatal(err)
		}
		end(&solve)
	}
	median := func(of func(round int) float64) float64 {
		all := make([]float64, len(plain))
		for i := range all {
			all[i] = of(i)
		}
		slices.Sort(all)
		return all[len(all)/2]
	}
	b.ReportMetric(median(func(i int) float64 { return plain[i] }), "plain-s")
	b.ReportMetric(median(func(i int) float64 { return facts[i] - plain[i] }), "facts-s")
	b.ReportMetric(median(func(i int) float64 { return ask[i] }), "questions-s")
	b.ReportMetric(median(func(i int) float64 { return tell[i] - ask[i] }), "roles-s")
	b.ReportMetric(median(func(i int) float64 { return outlines[i] - plain[i] + solve[i] }), "solving-s")
	b.ReportMetric(median(func(i int) float64 {
		return (facts[i] - plain[i] + tell[i] + outlines[i] - plain[i] + solve[i]) / plain[i]
	}), "extra/plain")
	least := slices.Min(plain) // what else the machine did is in it least
	b.ReportMetric((slices.Min(facts)-least+slices.Min(tell)+slices.Min(outlines)-least+slices.Min(solve))/least, "least-extra/plain")
}
