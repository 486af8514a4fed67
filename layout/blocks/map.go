package blocks

import (
	"cmp"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// What the shares of a map are of.
const (
	Stated      = "stated"      // the outline of the die, as somebody stated it
	Photographs = "photographs" // what the photographs show, which may be less than the die, or more
	Unknown     = ""            // nobody knows: there are no shares
)

// Die is what shares are of.
type Die struct {
	Region []geom.Polygon // pieces that do not overlap
	From   string         // Stated, Photographs or Unknown
}

// Map is the block map of a die. Areas are in nm².
type Map struct {
	Die          Die
	DieNm2       float64
	Blocks       []Block   // by document, figure and sign, those of no diagram last, then by name
	NoRegion     []string  // names of blocks of a diagram of which nobody knows where they lie
	NoDiagram    []string  // names of regions that no diagram has
	UncoveredNm2 float64   // of the die, what no region covers; 0 where the die is unknown
	Overlaps     []Overlap // pairs of blocks that lie on each other, the largest first
	Elsewhere    []Support // what was recognised and lies in no region
}

// Block is a block with what follows from its region.
type Block struct {
	dossier.Block
	Pieces     []geom.Polygon // valid, and none overlaps another; none: no region
	Box        geom.Rect      // around them; empty without any
	AreaNm2    float64
	OutsideNm2 float64 // of that, outside of the die
	Share      float64 // of the die, 0 to 1; what lies outside does not count
	Support    []Support
}

// Overlap is what two blocks both cover.
type Overlap struct {
	A, B    string
	AreaNm2 float64
}

// New makes the map.
func New(all []dossier.Block, die Die, found []Suggestion) *Map {
	m := &Map{Die: die, DieNm2: area(die.Region)}
	for _, b := range all {
		x := Block{Block: b, Box: geom.EmptyRect()}
		x.Pieces = region.Clean(b.Polygon)
		for _, pg := range x.Pieces {
			x.Box = x.Box.Union(pg.Bounds())
		}
		x.AreaNm2 = area(x.Pieces)
		if die.From != Unknown {
			x.OutsideNm2 = area(outside(x.Pieces, die.Region))
			x.Share = share(x.AreaNm2-x.OutsideNm2, m.DieNm2)
		}
		m.Blocks = append(m.Blocks, x)
	}
	slices.SortStableFunc(m.Blocks, func(a, b Block) int { return compare(&a, &b) })
	var covered []geom.Polygon
	for i := range m.Blocks {
		b := &m.Blocks[i]
		covered = append(covered, b.Pieces...)
		switch {
		case len(b.Pieces) == 0:
			m.NoRegion = append(m.NoRegion, b.Name)
		case b.Document == "":
			m.NoDiagram = append(m.NoDiagram, b.Name)
		}
		for j := range i {
			m.overlap(&m.Blocks[j], b)
		}
	}
	slices.SortStableFunc(m.Overlaps, func(a, b Overlap) int { return cmp.Compare(b.AreaNm2, a.AreaNm2) })
	if die.From != Unknown {
		m.UncoveredNm2 = area(outside(die.Region, covered))
	}
	m.support(found)
	return m
}

// compare orders blocks as a reader of the diagram would look for them.
func compare(a, b *Block) int {
	if (a.Document == "") != (b.Document == "") {
		if a.Document == "" {
			return 1
		}
		return -1
	}
	return cmp.Or(compareNatural(a.Document, b.Document), compareNatural(a.Figure, b.Figure), compareNatural(a.Sign, b.Sign), compareNatural(a.Name, b.Name))
}

func (m *Map) overlap(a, b *Block) {
	if !a.Box.Overlaps(b.Box) {
		return
	}
	sum := 0.0
	for _, pg := range b.Pieces {
		_, in := region.Cut(pg, a.Pieces...)
		sum += area(in)
	}
	if sum > 0 {
		m.Overlaps = append(m.Overlaps, Overlap{a.Name, b.Name, sum})
	}
}

// outside returns what of some pieces lies outside of others.
func outside(pieces, others []geom.Polygon) (out []geom.Polygon) {
	for _, pg := range pieces {
		o, _ := region.Cut(pg, others...)
		out = append(out, o...)
	}
	return out
}

// area is that of valid polygons, none of which overlaps another.
func area(pgs []geom.Polygon) (sum float64) {
	for _, pg := range pgs {
		for _, r := range pg {
			sum += r.Area()
		}
	}
	return sum
}

func share(part, of float64) float64 {
	if of <= 0 {
		return 0
	}
	return part / of
}
