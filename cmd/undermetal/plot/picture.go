package plot

import (
	"bytes"
	"html"
	"image/color"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The size of a picture: 7.5 inches wide, and as high as its panels.
const (
	pictureWidth = 540 * vg.Length(1) // points
	panelHeight  = 180 * vg.Length(1) // at least: the names of many lines need more
	nameHeight   = 13.5 * vg.Length(1)
	titleHeight  = 24 * vg.Length(1)
	margin       = 8 * vg.Length(1)
	pngDPI       = 144
)

var typeface = font.Font{Typeface: "Liberation", Variant: "Sans"}

// SVG writes a figure as SVG, its text as text in the reader's own sans-serif font.
func SVG(w io.Writer, f *Figure) error {
	if err := f.check(); err != nil {
		return err
	}
	c := vgsvg.New(pictureWidth, f.height())
	f.draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	// A quotation mark stands in no text of the file, so that this is found in styles only.
	svg := bytes.ReplaceAll(b.Bytes(), []byte(`style="font-family:Liberation Sans;`), []byte(`style="font-family:Helvetica,Arial,sans-serif;`))
	if title := text(f.Title); title != "" { // what a screen reader says
		head, rest, _ := bytes.Cut(svg, []byte(">\n<g"))
		svg = append(append(append([]byte{}, head...), (">\n<title>"+html.EscapeString(title)+"</title>\n<g")...), rest...)
	}
	_, err := w.Write(svg)
	return err
}

// PNG writes a figure as PNG, 144 pixels an inch.
func PNG(w io.Writer, f *Figure) error {
	if err := f.check(); err != nil {
		return err
	}
	c := vgimg.NewWith(vgimg.UseWH(pictureWidth, f.height()), vgimg.UseDPI(pngDPI))
	f.draw(draw.New(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

func (f *Figure) height() vg.Length {
	panel := panelHeight
	for _, p := range f.Panels {
		panel = max(panel, vg.Length(len(p.Series)+2)*nameHeight)
	}
	h := 2*margin + vg.Length(len(f.Panels))*panel
	if text(f.Title) != "" {
		h += titleHeight
	}
	return h
}

// draw draws the title, the panels below each other with their axes in line, and beside each what its lines are.
func (f *Figure) draw(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	c = draw.Crop(c, margin, -margin, margin, -margin)
	plots := make([][]*plot.Plot, len(f.Panels))
	legends := make([]plot.Legend, len(f.Panels))
	var width vg.Length
	for i := range f.Panels {
		p, l := f.Panels[i].picture()
		plots[i], legends[i] = []*plot.Plot{p}, l
		r := l.Rectangle(c)
		width = max(width, r.Max.X-r.Min.X)
	}
	if title := text(f.Title); title != "" {
		style := plots[0][0].Title.TextStyle
		style.Font = font.From(typeface, 12)
		c.FillText(style, vg.Point{X: c.Center().X, Y: c.Max.Y}, title)
		c = draw.Crop(c, 0, 0, 0, -titleHeight)
	}
	width = min(width, (c.Max.X-c.Min.X)/3) // long names go on under the line's end rather than leave no room for it
	areas := plot.Align(plots, draw.Tiles{Rows: len(plots), Cols: 1, PadY: 6}, draw.Crop(c, 0, -width-10, 0, 0))
	for i := range plots {
		area := areas[i][0]
		plots[i][0].Draw(area)
		beside := c
		beside.Min = vg.Point{X: c.Max.X - width, Y: area.Min.Y}
		beside.Max = vg.Point{X: c.Max.X, Y: area.Max.Y - 4}
		legends[i].Draw(beside)
	}
}

// picture makes the library's plot of a panel, and its legend.
func (p *Panel) picture() (*plot.Plot, plot.Legend) {
	out := plot.New()
	out.Title.Text = text(p.Title)
	out.Title.TextStyle.Font = font.From(typeface, 11)
	x, y := p.ranges()
	x, y = x.widened(p.X.Log, 0), y.widened(p.Y.Log, 0.04)
	dress(&out.X, &p.X, x, 8)
	dress(&out.Y, &p.Y, y, 5)
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = color.Gray{0xdd}, color.Gray{0xdd}
	out.Add(grid)

	legend := plot.NewLegend()
	legend.Top, legend.Left = true, true
	legend.TextStyle.Font = font.From(typeface, 9)
	legend.ThumbnailWidth = 30
	legend.Padding = 3
	for i, s := range p.Series {
		style, shape := look(i)
		var first plot.Thumbnailer
		var all []plot.Thumbnailer
		for _, run := range p.lines(s, x) {
			line := &plotter.Line{XYs: points(run), LineStyle: style}
			out.Add(line)
			if first == nil {
				first = line
				all = append(all, line)
			}
			if shape != nil || len(run) == 1 { // a single point is no line
				marks := &plotter.Scatter{XYs: points(some(run, 12)), GlyphStyle: draw.GlyphStyle{Color: style.Color, Radius: 2.5, Shape: shape}}
				if shape == nil {
					marks.Shape = draw.CircleGlyph{}
				}
				out.Add(marks)
				if len(all) == 1 {
					all = append(all, marks)
				}
			}
		}
		if name := text(s.Name); name != "" && len(all) > 0 {
			legend.Add(shortened(name), all...)
		}
	}
	out.X.Min, out.X.Max, out.Y.Min, out.Y.Max = x.min, x.max, y.min, y.max
	return out, legend
}

// dress gives an axis its range, ticks, label and fonts.
func dress(out *plot.Axis, a *Axis, s span, n int) {
	sc := a.scaleOf(s, n)
	out.Label.Text = sc.label
	out.Label.TextStyle.Font = font.From(typeface, 10)
	out.Tick.Label.Font = font.From(typeface, 9)
	out.Padding = 0
	ticks := make(plot.ConstantTicks, len(sc.ticks))
	for i, t := range sc.ticks {
		ticks[i] = plot.Tick{Value: t.value, Label: t.label}
	}
	out.Tick.Marker = ticks
	if a.Log {
		out.Scale = plot.LogScale{}
	}
}

func points(run []point) plotter.XYs {
	out := make(plotter.XYs, len(run))
	for i, p := range run {
		out[i].X, out[i].Y = p.x, p.y
	}
	return out
}

// some returns about n of the points, evenly spread.
func some(run []point, n int) []point {
	var out []point
	for i := 0; i < len(run); i += max(1, len(run)/n) {
		out = append(out, run[i])
	}
	return out
}

// shortened returns a name of at most 28 letters, its middle left out.
func shortened(name string) string {
	if r := []rune(name); len(r) > 28 {
		return string(r[:16]) + "…" + string(r[len(r)-11:])
	}
	return name
}
