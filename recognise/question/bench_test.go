//go:build unix

package question

import (
	"context"
	"syscall"
	"testing"
	"time"

	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
)

// BenchmarkQuestions extracts the published SRAM macro alone, then with Facts and asks all questions, by turns, file not included.
// All times are of the processor, which other work on the machine disturbs least, and the shortest of all rounds. extra/plain is what
// Facts, questions with roles, and outlines with their solutions take beside the extraction alone.
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
	least := func(best *time.Duration, since time.Duration) {
		if t := spent() - since; *best == 0 || t < *best {
			*best = t
		}
	}
	var plain, facts, ask, tell, outlines, solve time.Duration
	for b.Loop() {
		start := spent()
		if _, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1}); err != nil {
			b.Fatal(err)
		}
		least(&plain, start)
		start = spent()
		res, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1, Facts: true})
		if err != nil {
			b.Fatal(err)
		}
		least(&facts, start)
		start = spent()
		mustAsk(b, res, st, nil, Options{})
		least(&ask, start)
		start = spent()
		mustTell(b, res, st, nil, Options{})
		least(&tell, start)
		start = spent()
		if res, err = extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Workers: 1, Outlines: true}); err != nil {
			b.Fatal(err)
		}
		least(&outlines, start)
		start = spent()
		if _, err := measure.Solve(context.Background(), res, measure.SolveOptions{}); err != nil {
			b.Fatal(err)
		}
		least(&solve, start)
	}
	b.ReportMetric(plain.Seconds(), "plain-s")
	b.ReportMetric((facts - plain).Seconds(), "facts-s")
	b.ReportMetric(ask.Seconds(), "questions-s")
	b.ReportMetric((tell - ask).Seconds(), "roles-s")
	b.ReportMetric((outlines - plain + solve).Seconds(), "solving-s")
	b.ReportMetric((facts-plain+tell+outlines-plain+solve).Seconds()/plain.Seconds(), "extra/plain")
}
