package plot

import (
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"

	"github.com/guptarohit/asciigraph"
	"github.com/rivo/uniseg"
)

// signs are what the lines of the second, third … series of a panel are made of; the first is a drawn line.
var signs = []string{"*", "o", "+", "x", "#", "%", "@", "=", "~", "^"}

// Text writes a figure as text of at most width columns, each panel with height lines for its lines, and axes, names and a
// title besides; no colours. Where lines lie upon each other, the last is seen. Widths below 40 and heights below 3
// are taken as these.
func Text(w io.Writer, f *Figure, width, height int) error {
	if err := f.check(); err != nil {
		return err
	}
	width, height = max(width, 40), max(height, 3)
	var b strings.Builder
	if title := text(f.Title); title != "" {
		b.WriteString(fit(title, width) + "\n\n")
	}
	for i := range f.Panels {
		if i > 0 {
			b.WriteByte('\n')
		}
		f.Panels[i].text(&b, width, height)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (p *Panel) text(b *strings.Builder, width, height int) {
	xr, yr := p.ranges()
	x, y := xr.widened(p.X.Log, 0), yr.widened(p.Y.Log, 0)
	xs, ys := p.X.scaleOf(x, 4), p.Y.scaleOf(y, height)
	_, factor := prefix(text(p.Y.Unit), math.Max(math.Abs(y.min), math.Abs(y.max)))
	_, xFactor := prefix(text(p.X.Unit), math.Max(math.Abs(x.min), math.Abs(x.max)))

	// Lines are told by what they are made of.
	heading := ys.label
	if title := text(p.Title); title != "" {
		heading = title + ": " + heading
	}
	b.WriteString(fit(heading, width) + "\n")
	names := ""
	for i, s := range p.Series {
		entry := "─ " + text(s.Name)
		if i > 0 {
			entry = signs[(i-1)%len(signs)] + " " + text(s.Name)
		}
		if names != "" && uniseg.StringWidth(lastLine(names))+3+uniseg.StringWidth(entry) > width {
			names += "\n"
		} else if names != "" {
			names += "   "
		}
		names += fit(entry, width)
	}
	b.WriteString(names + "\n")

	low, high := p.Y.along(y.min), p.Y.along(y.max)
	if !p.Y.Log {
		low, high = low/factor, high/factor
	}
	low, high, rows, decimals := lattice(low, high, height)
	yLabel := func(v float64) string {
		if p.Y.Log {
			return short(math.Pow(10, v), text(p.Y.Unit))
		}
		return tickText(v, decimals)
	}
	labels := 0
	for i := 0; i <= rows; i++ {
		labels = max(labels, uniseg.StringWidth(yLabel(low+(high-low)*float64(i)/float64(rows))))
	}
	n := width - labels - 4
	var data [][]float64
	var chars []asciigraph.CharSet
	for i, s := range p.Series {
		column := p.sampled(s, x, n)
		for j := range column {
			if !p.Y.Log {
				column[j] /= factor
			}
		}
		data = append(data, column)
		set := asciigraph.DefaultCharSet
		if i > 0 {
			set = asciigraph.CreateCharSet(signs[(i-1)%len(signs)])
		}
		chars = append(chars, set)
	}
	graph := asciigraph.PlotMany(data, asciigraph.Height(rows), asciigraph.Offset(2), asciigraph.LowerBound(low), asciigraph.UpperBound(high),
		asciigraph.SeriesChars(chars...), asciigraph.YAxisValueFormatter(func(v float64) string {
			return fmt.Sprintf("%*s", labels, yLabel(v))
		}), asciigraph.XAxisRange(p.X.along(x.min), p.X.along(x.max)), asciigraph.XAxisTickCount(p.marks(x, xFactor, n)),
		asciigraph.XAxisValueFormatter(func(v float64) string {
			if p.X.Log {
				return short(math.Pow(10, v), text(p.X.Unit))
			}
			return strings.Replace(fmt.Sprintf("%.4g", v/xFactor), "-", "−", 1)
		}))
	for line := range strings.SplitSeq(graph, "\n") {
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	if xs.label != "" {
		b.WriteString(strings.Repeat(" ", max(0, (width-uniseg.StringWidth(xs.label))/2)) + fit(xs.label, width) + "\n")
	}
}

// lattice widens a range so that it is cut into at most n rows of 1, 2, 2.5 or 5 times a power of ten, the ends among their
// multiples. decimals is how many the multiples have.
func lattice(low, high float64, n int) (from, to float64, rows, decimals int) {
	power := math.Pow(10, math.Floor(math.Log10((high-low)/float64(n))))
	for ; ; power *= 10 {
		for _, m := range []float64{1, 2, 2.5, 5} {
			st := m * power
			from, to := math.Floor(low/st+1e-6), math.Ceil(high/st-1e-6)
			if rows := int(to - from); rows >= 1 && rows <= n {
				decimals = int(math.Ceil(-math.Log10(power) - 1e-9))
				if m == 2.5 {
					decimals++
				}
				return from * st, to * st, rows, max(0, decimals)
			}
		}
	}
}

// marks returns how many ticks the x axis gets in n columns: as many as have short numbers.
func (p *Panel) marks(x span, factor float64, n int) int {
	low, high := p.X.along(x.min), p.X.along(x.max)
	if !p.X.Log {
		low, high = low/factor, high/factor
	}
	for _, k := range []int{6, 5, 7, 4, 3} {
		st := (high - low) / float64(k-1)
		digits := strconv.FormatFloat(st, 'e', 2, 64)
		if rounded, err := strconv.ParseFloat(digits, 64); k*12 <= n && err == nil && math.Abs(rounded-st) <= 1e-9*math.Abs(st) &&
			(!p.X.Log || st == math.Trunc(st)) {
			return k
		}
	}
	return 2
}

// sampled returns a value for each of n columns, as the y axis goes: of several points in a column the one that is farthest
// from the value before it, so that peaks are seen; between points it follows the line. NaN where there is none.
func (p *Panel) sampled(s Series, x span, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	column := p.X.columns(x, n)
	last := math.NaN()
	for _, run := range p.lines(s, x) {
		for i := range run {
			c, v := column(run[i].x), p.Y.along(run[i].y)
			if math.IsNaN(out[c]) || math.Abs(v-last) > math.Abs(out[c]-last) {
				out[c] = v
			}
			if i+1 < len(run) && column(run[i+1].x) != c {
				last = out[c]
			}
		}
		if !sort.SliceIsSorted(run, func(i, j int) bool { return run[i].x < run[j].x }) {
			continue
		}
		low, high := p.X.along(x.min), p.X.along(x.max)
		for c := column(run[0].x); c <= column(run[len(run)-1].x); c++ {
			if !math.IsNaN(out[c]) {
				continue
			}
			at := low + (high-low)*(float64(c)+0.5)/float64(n)
			k := sort.Search(len(run), func(k int) bool { return p.X.along(run[k].x) >= at })
			if k > 0 && k < len(run) {
				a, b := run[k-1], run[k]
				t := (at - p.X.along(a.x)) / (p.X.along(b.x) - p.X.along(a.x))
				out[c] = p.Y.along(a.y) + t*(p.Y.along(b.y)-p.Y.along(a.y))
			}
		}
	}
	return out
}

func fit(s string, width int) string {
	if uniseg.StringWidth(s) <= width {
		return s
	}
	cut, state := "", -1
	for rest := s; rest != ""; {
		var cluster string
		cluster, rest, _, state = uniseg.FirstGraphemeClusterInString(rest, state)
		if uniseg.StringWidth(cut+cluster) >= width {
			break
		}
		cut += cluster
	}
	return cut + "…"
}

func lastLine(s string) string { return s[strings.LastIndexByte(s, '\n')+1:] }
