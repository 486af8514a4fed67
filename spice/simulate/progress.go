package simulate

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// reference is how far ngspice says that it is: the scale of the analysis, again and again in long ones.
var reference = regexp.MustCompile(`Reference value :\s*([-+0-9.e]+)\s*$`)

// progress returns a function that tells Runner.Progress what is done: the analyses whose files are there, and of the one
// that is running the part of its sweep that the simulator last spoke of. It never goes back.
func (r *Runner) progress(d *Deck, dir string, e *ear) func() {
	if r.Progress == nil {
		return func() {}
	}
	last := -1.0
	return func() {
		done := 0
		for done < len(d.Analyses) {
			outs := d.Analyses[done].outputs()
			if _, err := os.Lstat(filepath.Join(dir, outs[len(outs)-1].file)); err != nil {
				break
			}
			done++
		}
		now, what := 1.0, "reading waveforms"
		if done < len(d.Analyses) {
			a := &d.Analyses[done]
			at, from := e.reached()
			now = float64(done)
			if from == done {
				now += a.share(at)
			}
			now /= float64(len(d.Analyses))
			what = fmt.Sprintf("%s (%d of %d)", a.Name, done+1, len(d.Analyses))
		}
		if now > last {
			last = now
			r.Progress(now, what)
		}
	}
}

// share returns which part of its sweep an analysis has done where its scale is at that value, 0 to 1.
func (a *Analysis) share(at float64) float64 {
	end, ok := a.end()
	if !ok {
		return 0
	}
	part := (at - end.begin) / (end.value - end.begin)
	if end.logarithmic {
		part = math.Log(at/end.begin) / math.Log(end.value/end.begin)
	}
	if !(part > 0) {
		return 0
	}
	return min(part, 1)
}

// heardProgress takes note of how far the simulator says that it is.
func (e *ear) heardProgress(line string) {
	if strings.HasPrefix(line, "Doing analysis at TEMP") {
		e.mu.Lock()
		e.analysis++
		e.at = math.NaN()
		e.mu.Unlock()
		return
	}
	if !strings.Contains(line, "Reference value") {
		return
	}
	m := reference.FindStringSubmatch(line)
	if m == nil {
		return
	}
	if v, err := strconv.ParseFloat(m[1], 64); err == nil {
		e.mu.Lock()
		e.at = v
		e.mu.Unlock()
	}
}

// reached returns which analysis was last heard to begin, from 0, and the last value of its scale; NaN if none was heard.
func (e *ear) reached() (at float64, analysis int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.at, e.analysis - 1
}
