package picture

import (
	"fmt"
	"math"
	"slices"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// Photo is a photograph that a Composer can show. It does not change.
type Photo struct {
	Name       string
	ToFrame    register.Map // px of the upright photograph to the frame: to nm, or, without a scale, to itself (see Own)
	FromFrame  register.Map
	Scaled     bool // the frame is in nm
	Registered bool // it lies where other photographs lie, and can be shown with them
	NmPerPx    float64

	pyramid *shot.Pyramid
	top     *shot.Pixels // the last level, which is always there
	levels  int
	stored  view.Affine // px of the upright photograph to those of the stored one
	width   float64     // of the upright one
	height  float64
}

// Own returns the map of a photograph that has neither a place nor a scale: one nm of the frame is one of its pixels, and
// the frame begins at its lower left corner, y up, as it does for one that has a scale.
func Own(height float64) register.Map {
	m, err := register.ParseMap(register.Similarity, []float64{1, 0, 0, 0, -1, height})
	if err != nil {
		panic("picture: " + err.Error()) // it can be undone
	}
	return m
}

// newPhoto prepares a photograph; tiles are kept in a cache. It reads one tile.
func newPhoto(l *dossier.Located, p *shot.Pyramid, c *shot.Cache) (*Photo, error) {
	p.Share(c)
	levels := shot.Levels(p.Width, p.Height)
	top, err := p.Tile(levels-1, 0, 0)
	if err != nil {
		return nil, fmt.Errorf("shot %q: %w", l.Name, err)
	}
	ph := &Photo{pyramid: p, top: top, levels: levels}
	w, h := float64(p.Width), float64(p.Height)
	ox, oy := p.Orientation.StoredPoint(0, 0, w, h)
	ax, ay := p.Orientation.StoredPoint(1, 0, w, h)
	bx, by := p.Orientation.StoredPoint(0, 1, w, h)
	ph.stored = view.Affine{ax - ox, bx - ox, ox, ay - oy, by - oy, oy}
	return ph.At(l)
}

// At returns the photograph at another place, for one that was registered or calibrated anew: what is kept of its tiles
// stays. l is the same shot.
func (p *Photo) At(l *dossier.Located) (*Photo, error) {
	q := *p
	q.Name, q.width, q.height = l.Name, l.Width, l.Height
	q.ToFrame, q.FromFrame, q.Scaled, q.Registered = l.ToFrame, l.FromFrame, l.ToFrame != nil, l.Registration != nil
	if !q.Scaled {
		q.ToFrame = Own(l.Height)
		var err error
		if q.FromFrame, err = q.ToFrame.Inverse(); err != nil {
			return nil, fmt.Errorf("shot %q: %w", l.Name, err)
		}
	}
	q.NmPerPx = register.Size(q.ToFrame, l.Middle())
	return &q, nil
}

// Box returns the box of the frame around the photograph.
func (p *Photo) Box() geom.Rect {
	l := dossier.Located{Width: p.width, Height: p.height, ToFrame: p.ToFrame}
	return l.Around(0, 0, p.width, p.height)
}

// way leads from px of a picture, by their row, to px of a level of the stored photograph, where centres of px are whole
// numbers. It is for one goroutine.
type way struct {
	straight bool
	affine   view.Affine
	table    *register.Table         // of a spline
	exact    func(geom.Vec) geom.Vec // for any place
}

// tableSide is that of the cells in which a spline is looked up, px: large ones, since splines that lay photographs on each other bend
// little from one px to the next. Where they do not, the cells are divided.
const tableSide = 64

// to returns the way from a view to a level.
func (p *Photo) to(v view.View, level int) *way {
	frame := v.Frame()
	k := 1 / float64(int(1)<<level)
	rest := view.Affine{k, 0, -0.5, 0, k, -0.5}
	rest = rest.After(&p.stored)
	if l, ok := p.FromFrame.(register.Linear); ok && l.Kind() != register.Projective {
		m := l.Coefficients()
		from := view.Affine(slices.Concat(m[0][:], m[1][:]))
		rest = rest.After(&from)
		return &way{straight: true, affine: rest.After(&frame)}
	}
	exact := func(s geom.Vec) geom.Vec { return rest.Apply(p.FromFrame.Apply(frame.Apply(s))) }
	if p.FromFrame.Kind() == register.Projective {
		return &way{exact: exact}
	}
	// A spline is looked up in a table, to a twentieth of a px of the level.
	return &way{table: &register.Table{Map: exact, Width: v.Width, Within: 0.05, Side: tableSide}, exact: exact}
}

// level returns the level for a view: the one whose pixels are at most as wide as the view's and more than half as wide, by
// the shorter side of the px in its middle, or where they are on the photograph; rows is how many rows of samples a row of
// px has. It is a coarser one where all that is seen would be more than so many bytes.
func (p *Photo) level(v view.View, rows int, most float64) int {
	w := p.to(v, 0)
	scale := math.Inf(1)
	for _, at := range [5][2]float64{{0.5, 0.5}, {0.1, 0.1}, {0.9, 0.1}, {0.1, 0.9}, {0.9, 0.9}} {
		x, y := at[0]*float64(v.Width), at[1]*float64(v.Height)
		o, a, b := w.place(x, y), w.place(x+1, y), w.place(x, y+1/float64(rows))
		s := min(math.Hypot(a.X-o.X, a.Y-o.Y), math.Hypot(b.X-o.X, b.Y-o.Y)*float64(rows))
		on := o.X > 0 && o.Y > 0 && o.X < float64(p.pyramid.Width) && o.Y < float64(p.pyramid.Height)
		if !math.IsNaN(s) && (on || at[0] == 0.5) {
			scale = min(scale, s)
		}
	}
	level := 0
	for level < p.levels-1 && scale >= 2 {
		level++
		scale /= 2
	}
	bytes := float64(shot.TileSide * shot.TileSide * p.pyramid.Channels * p.pyramid.Depth / 8)
	for ; level < p.levels-1; level++ {
		width, height := shot.LevelSize(p.pyramid.Width, p.pyramid.Height, level)
		across := min(scale*float64(v.Width), float64(width))/shot.TileSide + 1
		down := min(scale*float64(v.Height)*float64(rows), float64(height))/shot.TileSide + 1
		if across*down*bytes <= most {
			break
		}
		scale /= 2
	}
	return level
}

// place returns where a place of the picture lies.
func (w *way) place(x, y float64) geom.Vec {
	if w.straight {
		return w.affine.Apply(geom.Vec{X: x, Y: y})
	}
	return w.exact(geom.Vec{X: x, Y: y})
}
