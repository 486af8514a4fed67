package plot

import (
	"math"
	"strconv"
	"strings"
)

// span is a range of values. Without any, min is +Inf.
type span struct{ min, max float64 }

func nothing() span { return span{math.Inf(1), math.Inf(-1)} }

func (s *span) add(v float64) { s.min, s.max = math.Min(s.min, v), math.Max(s.max, v) }

// ranges returns what the series of a panel cover along both axes, of points that both axes show.
func (p *Panel) ranges() (x, y span) {
	x, y = nothing(), nothing()
	for _, s := range p.Series {
		for i := range s.X {
			if p.X.shows(s.X[i]) && p.Y.shows(s.Y[i]) {
				x.add(s.X[i])
				y.add(s.Y[i])
			}
		}
	}
	return x, y
}

// widened returns the range with some room, or made a range where it is a single value.
func (s span) widened(log bool, part float64) span {
	if log {
		a, b := math.Log10(s.min), math.Log10(s.max)
		room := part * (b - a)
		if b-a < 1e-9 {
			room = 0.5
		}
		return span{math.Pow(10, a-room), math.Pow(10, b+room)}
	}
	size := math.Max(math.Abs(s.min), math.Abs(s.max))
	room := part * (s.max - s.min)
	switch {
	case size == 0:
		room = 1
	case s.max-s.min < 1e-9*size: // noise in the last digits is no waveform
		room = 0.05 * size
	}
	return span{s.min - room, s.max + room}
}

// prefixes are those of the SI that stand for powers of a thousand, from 1e-18 to 1e18.
var prefixes = []string{"a", "f", "p", "n", "µ", "m", "", "k", "M", "G", "T", "P", "E"}

// prefixed says whether a unit may have a prefix: not what is no unit or a logarithm, nor a square, whose prefix is squared, too.
func prefixed(unit string) bool {
	return unit != "" && unit != "dB" && unit != "°" && unit != "%" && !strings.ContainsAny(strings.SplitN(unit, "/", 2)[0], "²³^")
}

// prefix returns the SI prefix for values up to size, and what it stands for.
func prefix(unit string, size float64) (sign string, factor float64) {
	if !prefixed(unit) || size == 0 || math.IsInf(size, 0) || math.IsNaN(size) {
		return "", 1
	}
	// A value of 999.9996 m is 1, not 1000 m; values are shown to four or five digits.
	k := int(math.Floor((math.Log10(size)+1e-6)/3)) + 6
	k = min(max(k, 0), len(prefixes)-1)
	return prefixes[k], math.Pow10(3 * (k - 6))
}

// step returns the least of 1, 2 and 5 times a power of ten that cuts the range into at most n parts.
func step(s span, n int) float64 {
	raw := (s.max - s.min) / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// tick is a place on an axis; without a label it is a minor one.
type tick struct {
	value float64
	label string
}

// scale is how an axis is shown: its label with unit and prefix, and ticks for a range.
type scale struct {
	label string
	ticks []tick
}

// scaleOf makes the scale of an axis that covers a range, with at most n parts.
func (a *Axis) scaleOf(s span, n int) scale {
	unit := text(a.Unit)
	if a.Log {
		return scale{named(text(a.Label), unit), logTicks(s, unit, n)}
	}
	sign, factor := prefix(unit, math.Max(math.Abs(s.min), math.Abs(s.max)))
	st := step(s, n)
	decimals := max(0, int(math.Ceil(-math.Log10(st/factor)-1e-9)))
	var ticks []tick
	for i := math.Ceil(s.min/st - 1e-9); i*st <= s.max+1e-9*st && len(ticks) <= 2*n+2; i++ {
		v := i * st
		ticks = append(ticks, tick{v, tickText(v/factor, decimals)})
	}
	return scale{named(text(a.Label), sign+unit), ticks}
}

// tickText writes a tick's number: with decimals, or with a power of ten where it would be long.
func tickText(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if v != 0 && (math.Abs(v) >= 1e6 || decimals > 6) {
		s = strconv.FormatFloat(v, 'g', 4, 64)
	}
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
		if decimals > 6 {
			s = "0"
		}
	}
	return strings.Replace(s, "-", "−", 1)
}

// logTicks are at the decades, each with its own prefix, and without label at 2 to 9 times a decade. Of more than n and two
// decades only every third has a label, where the prefixes change.
func logTicks(s span, unit string, n int) []tick {
	first, last := int(math.Floor(math.Log10(s.min)+1e-9)), int(math.Floor(math.Log10(s.max)+1e-9))
	every := 1
	if last-first > n+2 {
		every = 3
	}
	var ticks []tick
	for d := first; d <= last; d++ {
		for m := 1; m <= 9; m++ {
			v := float64(m) * math.Pow10(d)
			if v < s.min*(1-1e-9) || v > s.max*(1+1e-9) {
				continue
			}
			label := ""
			if m == 1 && d%every == 0 || last-first <= 1 && (m == 2 || m == 5) {
				label = short(v, unit)
			}
			ticks = append(ticks, tick{v, label})
		}
	}
	return ticks
}

// short writes a value with its prefix: "10k"; of what takes none "1e+04".
func short(v float64, unit string) string {
	sign, factor := prefix(unit, math.Abs(v))
	return strings.Replace(strconv.FormatFloat(v/factor, 'g', 4, 64), "-", "−", 1) + sign
}

func named(label, unit string) string {
	switch {
	case unit == "":
		return label
	case label == "":
		return unit
	}
	return label + " (" + unit + ")"
}
