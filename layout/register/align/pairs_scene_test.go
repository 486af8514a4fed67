package align

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// The generator of photographs: corpus cells, or made-up ones where the corpus is not there, are laid out in rows or as
// an array, and drawn as two photographs that look different, from two maps that are known.

// The layers of a scene, from the bottom up.
const (
	diffusion = iota
	poly
	contact
	metal
	layers
)

// block is a cell, or a whole scene: rings by layer, in nm.
type block struct {
	rings  [layers][]geom.Ring
	bounds geom.Rect
	array  geom.Rect  // of equal cells, if there is one
	pitch  geom.Point // of the array, across and down
}

func (b *block) add(layer int, r geom.Ring) {
	box := r.Bounds()
	if b.bounds.Empty() {
		b.bounds = box
	} else {
		b.bounds = b.bounds.Union(box)
	}
	b.rings[layer] = append(b.rings[layer], r)
}

// place copies a block, mirrored in either axis about its middle, with its lower left corner at (x, y).
func (b *block) place(c *block, x, y int, flipX, flipY bool) {
	w, h := c.bounds.Max.X-c.bounds.Min.X, c.bounds.Max.Y-c.bounds.Min.Y
	for layer, rings := range c.rings {
		for _, r := range rings {
			moved := make(geom.Ring, len(r))
			for i, p := range r {
				px, py := p.X-c.bounds.Min.X, p.Y-c.bounds.Min.Y
				if flipX {
					px = w - px
				}
				if flipY {
					py = h - py
				}
				moved[i] = geom.Point{X: x + px, Y: y + py}
			}
			b.add(layer, moved)
		}
	}
}

func (b *block) size() (w, h int) {
	return b.bounds.Max.X - b.bounds.Min.X, b.bounds.Max.Y - b.bounds.Min.Y
}

// cells are those of the corpus, or made-up ones.
var cells = sync.OnceValue(func() []*block {
	folder := os.Getenv("UNDERMETAL_CORPUS")
	var all []*block
	files, _ := filepath.Glob(filepath.Join(folder, "gf180mcu", "*.gds"))
	if st, err := stack.Load(filepath.Join(folder, "gf180mcu", "gf180mcu.stack.toml")); folder != "" && err == nil {
		for _, file := range files {
			f, err := os.Open(file)
			if err != nil {
				continue
			}
			lib, _, err := gds.Read(file, f, gds.ForStack(st))
			f.Close()
			if err == nil {
				all = append(all, corpusCell(lib))
			}
		}
	}
	if len(all) == 0 {
		rnd := rand.New(rand.NewPCG(1, 1))
		for range 60 {
			all = append(all, madeUpCell(rnd))
		}
	}
	return all
})

func corpusCell(lib *layout.Library) *block {
	b := &block{}
	for layer, name := range []string{"diffusion", "poly", "contact", "metal1"} {
		l, _ := lib.LayerNamed(name)
		for _, c := range lib.Cells {
			for _, s := range c.Shapes {
				if s.Layer == l {
					b.add(layer, s.Polygon[0])
				}
			}
		}
	}
	return b
}

// madeUpCell is two strips of diffusion with gates across, contacts, and metal over them.
func madeUpCell(rnd *rand.Rand) *block {
	b := &block{}
	gates := 1 + rnd.IntN(6)
	w := 1120*gates + 560
	box := func(layer, x0, y0, x1, y1 int) { b.add(layer, geom.Box(x0, y0, x1, y1).Ring()) }
	box(metal, 0, 0, w, 600)
	box(metal, 0, 3320, w, 3920)
	lower, upper := 500+rnd.IntN(500), 500+rnd.IntN(700)
	box(diffusion, 200, 800, w-200, 800+lower)
	box(diffusion, 200, 3100-upper, w-200, 3100)
	for g := range gates {
		x := 600 + 1120*g
		y0, y1 := 600, 3300
		if rnd.IntN(4) == 0 {
			y1 = 1900
		}
		box(poly, x, y0, x+500, y1)
		if rnd.IntN(2) == 0 {
			box(contact, x+130, 1850, x+370, 2090)
			box(metal, x-rnd.IntN(600), 1800, x+500+rnd.IntN(900), 2140)
		}
	}
	for g := range gates + 1 {
		x := 250 + 1120*g
		if rnd.IntN(3) > 0 {
			box(contact, x, 900, x+240, 1140)
			box(metal, x-40, 200+rnd.IntN(600), x+280, 1300+rnd.IntN(500))
		}
		if rnd.IntN(3) > 0 {
			box(contact, x, 2700, x+240, 2940)
			box(metal, x-40, 2200+rnd.IntN(400), x+280, 3000+rnd.IntN(600))
		}
	}
	return b
}

// rows fills a field with random cells in rows that share their supply lines.
func rows(rnd *rand.Rand, width, height int) *block {
	b, all := &block{}, cells()
	for y, row := 0, 0; y < height; row++ {
		high := 0
		for x := 0; x < width; {
			c := all[rnd.IntN(len(all))]
			w, h := c.size()
			b.place(c, x, y, rnd.IntN(2) == 0, row%2 == 1)
			x, high = x+w, max(high, h)
			if rnd.IntN(8) == 0 {
				x += rnd.IntN(3000)
			}
		}
		y += high - 600 // the supply lines of neighbours lie on each other
		if rnd.IntN(6) == 0 {
			y += 600 + rnd.IntN(4000)
		}
	}
	return b
}

// array fills the middle of a field with one cell, with a ring around and rows beside it.
func array(rnd *rand.Rand, width, height int) *block {
	b, all := &block{}, cells()
	c := all[rnd.IntN(len(all))]
	w, h := c.size()
	pitchX, pitchY := w+rnd.IntN(800), h+rnd.IntN(800)
	left, bottom := width/8+rnd.IntN(width/4), height/8+rnd.IntN(height/4)
	columns, lines := width*6/10/pitchX, height*6/10/pitchY
	for i := range columns {
		for j := range lines {
			b.place(c, left+i*pitchX, bottom+j*pitchY, false, false)
		}
	}
	right, top := left+columns*pitchX, bottom+lines*pitchY
	for k, g := range []int{1500, 4500} {
		for _, r := range [][4]int{{left - g - 1000, bottom - g - 1000, right + g + 1000, bottom - g}, {left - g - 1000, top + g, right + g + 1000, top + g + 1000},
			{left - g - 1000, bottom - g, left - g, top + g}, {right + g, bottom - g, right + g + 1000, top + g}} {
			b.add([]int{diffusion, metal}[k], geom.Box(r[0], r[1], r[2], r[3]).Ring())
		}
	}
	b.pitch = geom.Point{X: pitchX, Y: pitchY}
	b.array = geom.Rect{Min: geom.Point{X: left, Y: bottom}, Max: geom.Point{X: right, Y: top}}
	side := rows(rnd, max(1, width-right-12000), height)
	for layer, rings := range side.rings {
		for _, r := range rings {
			for i := range r {
				r[i].X += right + 8000
			}
			b.add(layer, r)
		}
	}
	below := rows(rnd, width, max(1, bottom-12000))
	for layer, rings := range below.rings {
		for _, r := range rings {
			b.add(layer, r)
		}
	}
	return b
}
