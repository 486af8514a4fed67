package simulate

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// lack is something that a plot must have and has not; name is the vector's, if it is about one.
type lack struct{ text, name string }

// lacks says what of an analysis is missing in its plot: vectors, values that are numbers, the end of the sweep. ngspice
// may end with status 0 and a plot of half a sweep.
func lacks(a *Analysis, o *output, p *Plot) []lack {
	var all []lack
	points := len(p.Vectors[0].Re)
	for _, name := range o.save {
		v := p.Vector(name)
		switch {
		case v == nil:
			all = append(all, lack{"it gave no " + name, name})
		case len(v.Re) != points:
			all = append(all, lack{fmt.Sprintf("%s has %d points where there are %d", name, len(v.Re), points), name})
		case !finite(v.Re) || !finite(v.Im):
			all = append(all, lack{name + " has a value that is no number", name})
		}
	}
	scale := p.Vectors[0].Re
	if !finite(scale) {
		return append(all, lack{text: "its scale has a value that is no number"})
	}
	if end, ok := a.end(); ok && o.kind != totals {
		// The last point may miss the end by rounding, and that of a sweep in steps by a part of a step.
		last := scale[len(scale)-1]
		if math.Abs(last-end.value) > end.slack {
			all = append(all, lack{text: fmt.Sprintf("it ended at %g instead of %g", last, end.value)})
		}
	}
	return all
}

func finite(values []float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// sweepEnd is where a sweep begins and must end, and by how much its last point may miss that.
type sweepEnd struct {
	begin, value, slack float64
	logarithmic         bool
}

// end returns where the sweep of an analysis ends, if its command says so in plain numbers.
func (a *Analysis) end() (sweepEnd, bool) {
	words := strings.Fields(strings.ToLower(a.Command))
	value := func(i int) float64 {
		if i < 0 || i >= len(words) {
			return math.NaN()
		}
		return spiceNumber(words[i])
	}
	var s sweepEnd
	switch words[0] {
	case "tran": // tran step stop …
		stop := value(2)
		s = sweepEnd{0, stop, 1e-6 * stop, false}
	case "dc": // dc source start stop step [source2 …]
		start, stop, step := value(2), value(3), value(4)
		s = sweepEnd{start, stop, 1.001 * math.Abs(step), false}
	case "ac": // ac dec|oct|lin n start stop
		s = frequencies(words[1:], value(3), value(4))
	case "noise": // noise v(out) source dec|oct|lin n start stop
		if len(words) > 3 {
			s = frequencies(words[3:], value(5), value(6))
		}
	}
	return s, words[0] != "op" && s.value != 0 && !math.IsNaN(s.value+s.slack+s.begin)
}

// frequencies is the sweep "dec n start stop". In steps of a part of a decade, the last one may lie one step below the end.
func frequencies(words []string, start, stop float64) sweepEnd {
	s := sweepEnd{start, stop, 1e-6 * stop, words[0] != "lin"}
	if n := spiceNumber(words[min(1, len(words)-1)]); s.logarithmic && n >= 1 {
		base := 10.0
		if words[0] == "oct" {
			base = 2
		}
		s.slack = stop * (math.Pow(base, 1.001/n) - 1)
	}
	return s
}

// exponentD is Fortran's way to write an exponent, which SPICE takes, too.
var exponentD = regexp.MustCompile(`^([-+]?[0-9.]+)d([-+]?[0-9])`)

// spiceNumber reads a number as SPICE does: "1.5", "10n", "1meg", "3.3V". NaN where it is none.
func spiceNumber(s string) float64 {
	s = exponentD.ReplaceAllString(strings.ToLower(s), "${1}e$2")
	end := len(s)
	for end > 0 {
		if _, err := strconv.ParseFloat(s[:end], 64); err == nil && !strings.ContainsAny(s[:end], "xpin_") {
			break
		}
		end--
	}
	v, err := strconv.ParseFloat(s[:end], 64)
	if err != nil {
		return math.NaN()
	}
	rest := s[end:]
	switch {
	case strings.HasPrefix(rest, "meg"):
		return v * 1e6
	case strings.HasPrefix(rest, "mil"):
		return v * 25.4e-6
	case rest == "":
		return v
	}
	if k := strings.IndexByte("tgkmunpfa", rest[0]); k >= 0 {
		return v * []float64{1e12, 1e9, 1e3, 1e-3, 1e-6, 1e-9, 1e-12, 1e-15, 1e-18}[k]
	}
	return v
}
