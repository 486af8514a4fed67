package geojson

import (
	"encoding/json"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// feature is what has been read of one.
type feature struct {
	kind     string
	geometry *geometry
	layer    string
	hasLayer bool
	label    string
	name     string // counts where there is no label
	path     string
	ends     string
	width    float64 // µm
	hasWidth bool
	traced   bool
	stated   layout.Stated
	bare     bool // a geometry by itself, which is all of the file
}

// geometry is a geometry, or several.
type geometry struct {
	kind   string
	coords *coords
	parts  []*geometry
}

// maxNested bounds how deep collections of geometries lie in each other.
const maxNested = 8

// featureMember reads the value of a member of a feature.
func (r *reader) featureMember(f *feature, key string) (err error) {
	switch key {
	case "geometry":
		f.geometry, err = r.geometry(0)
		return err
	case "properties":
		return r.properties(f)
	}
	return r.skip()
}

func (r *reader) geometry(nested int) (*geometry, error) {
	t, err := r.token()
	if err != nil || t == nil {
		return nil, err
	}
	if t != json.Delim('{') {
		return nil, r.fail(correct, "a geometry must be an object; found %s", what(t))
	}
	g := &geometry{}
	return g, r.members(func(key string) (err error) {
		if key == "type" {
			g.kind, _, err = r.text()
			return err
		}
		if done, err := r.geometryMember(g, key, nested); done {
			return err
		}
		return r.skip()
	})
}

// geometryMember reads the value of a member that says where a geometry lies; done is false where it is another.
func (r *reader) geometryMember(g *geometry, key string, nested int) (done bool, err error) {
	switch key {
	case "coordinates":
		g.coords, err = r.coordinates()
	case "geometries":
		err = r.geometries(g, nested)
	default:
		return false, nil
	}
	return true, err
}

func (r *reader) geometries(g *geometry, nested int) error {
	t, err := r.token()
	if err != nil {
		return err
	}
	if t != json.Delim('[') {
		return r.fail(correct, "geometries must be a list; found %s", what(t))
	}
	if nested == maxNested {
		return r.fail(correct, "more than %d collections of geometries inside of each other", maxNested)
	}
	for r.in.More() {
		part, err := r.geometry(nested + 1)
		if err != nil {
			return err
		}
		if part != nil {
			g.parts = append(g.parts, part)
		}
	}
	_, err = r.token()
	return err
}

func (r *reader) properties(f *feature) error {
	t, err := r.token()
	if err != nil || t == nil {
		return err
	}
	if t != json.Delim('{') {
		return r.fail(correct, "properties must be an object or null; found %s", what(t))
	}
	return r.members(func(key string) error {
		v, err := r.value()
		if err != nil {
			return err
		}
		s, _ := v.(string)
		switch key {
		case "layer":
			f.layer, f.hasLayer = s, s != ""
			if v != nil && s == "" {
				return r.fail(correct, "the property layer must be a name; found %s", what(v))
			}
		case "label":
			f.label = s
		case "name":
			f.name = s
		case "path":
			f.path = s
		case "ends":
			f.ends = s
		case "traced":
			f.traced = v == true
		case "width":
			f.width, f.hasWidth = v.(float64)
		case "sigma_nm":
			f.stated.SigmaNm, f.stated.HasSigma = v.(float64)
			if v != nil && !(f.stated.HasSigma && f.stated.SigmaNm >= 0) {
				return r.fail("correct it, or leave it out", "the property sigma_nm must be the standard uncertainty of the edges in nm, 0 or more; found %s", what(v))
			}
		case "shot":
			if f.stated.Shot = s; v != nil && s == "" {
				r.note("properties \"shot\" that are not the name of a photograph, which do not count")
			}
		}
		return nil
	})
}

// finish makes of a feature what it is.
func (r *reader) finish(f *feature) error {
	if f.geometry == nil {
		r.note("features without a geometry, left out")
		return nil
	}
	name := f.layer
	if !f.hasLayer {
		name = r.o.Default
	} else if to, ok := r.o.Rename[name]; ok {
		r.renamed[name] = true
		if to == "" {
			r.note("features of layers that were to be left out")
			return nil
		}
		name = to
	}
	layer, ok, err := r.named(name)
	if err != nil {
		return err
	}
	if !ok {
		r.leave(f.layer)
		return nil
	}
	return r.draw(f, f.geometry, layer)
}

// depths are how deep the positions of each kind lie.
var depths = map[string]int{"Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2, "Polygon": 2, "MultiPolygon": 3}

func (r *reader) draw(f *feature, g *geometry, layer layout.Layer) error {
	if g.kind == "GeometryCollection" {
		for _, part := range g.parts {
			if err := r.draw(f, part, layer); err != nil {
				return err
			}
		}
		return nil
	}
	depth, ok := depths[g.kind]
	if !ok {
		return r.fail(correct, "a geometry of type %.40q; there are Point, LineString, Polygon, these with Multi before, and GeometryCollection", g.kind)
	}
	if g.coords == nil {
		r.note("geometries without a position, left out")
		return nil
	}
	if g.coords.depth != depth {
		return r.fail(correct, "coordinates of a %s that lie in %d lists, not %d", g.kind, g.coords.depth, depth)
	}
	switch g.kind {
	case "Point", "MultiPoint":
		return r.labels(f, g.coords, layer)
	case "LineString", "MultiLineString":
		return r.wires(f, g.coords, layer)
	}
	return r.polygon(f, g.coords, layer)
}

// labels puts a label at every point. One that lies in an instance is put into a cell of its own, placed under that name.
func (r *reader) labels(f *feature, c *coords, layer layout.Layer) error {
	label := f.label
	if label == "" {
		label = f.name
	}
	if label == "" {
		r.note("points without a property \"label\", left out")
		return nil
	}
	cell := r.cell
	if f.path != "" {
		cell = r.paths[f.path]
		if cell == nil {
			cell = &layout.Cell{Name: "labels of " + f.path}
			r.paths[f.path] = cell
			r.lib.Cells = append(r.lib.Cells, cell)
			r.cell.Placements = append(r.cell.Placements, layout.Placement{Name: f.path, Cell: cell, Transform: geom.Identity, Columns: 1, Rows: 1})
		}
	}
	for _, p := range c.points {
		cell.Labels = append(cell.Labels, layout.Label{Layer: layer, At: p, Text: label})
	}
	r.counts[layer].Labels += len(c.points)
	return nil
}

func (r *reader) wires(f *feature, c *coords, layer layout.Layer) error {
	nm := f.width * 1000
	if !f.hasWidth || !(nm > 0 && nm <= 2*geom.Limit) {
		remedy := "give it a property \"width\" in µm, or draw a polygon"
		if f.bare {
			remedy = "make it the geometry of a Feature with a property \"width\" in µm, or draw a polygon"
		}
		return r.fail(remedy, "a line without a width in µm above 0")
	}
	ends, ok := map[string]pen.Ends{"": pen.Flush, "flush": pen.Flush, "round": pen.Round, "half": pen.Half}[f.ends]
	if !ok {
		return r.fail(correct, "a line with ends %.40q; there are flush, round and half", f.ends)
	}
	width := geom.RoundHalfUp(nm)
	for k := range c.lists {
		line := pen.DistinctNeighbours(slices.Clone(c.list(k)))
		var pg geom.Polygon
		if width > 0 {
			var inFrame bool
			if pg, inFrame = r.stroker.Outline(pen.Stroke{Line: line, Width: width, Ends: ends}, nil); !inFrame {
				return r.fail(moveNearer, "a line of width %.3f µm reaches outside the frame of ±%.3f µm", f.width, geom.Limit/1e3)
			}
		}
		if pg == nil {
			r.note("lines that cover nothing, left out")
			continue
		}
		r.add(f, layout.Shape{Layer: layer, Polygon: pg})
		r.counts[layer].Wires++
	}
	return nil
}

// polygon makes one shape of a Polygon or MultiPolygon: outer rings counterclockwise, holes clockwise.
func (r *reader) polygon(f *feature, c *coords, layer layout.Layer) error {
	var pg geom.Polygon
	for g := range c.groups {
		from, to := c.group(g)
		var outer geom.Rect
		for k := from; k < to; k++ {
			ring, err := r.ring(c.list(k))
			if err != nil {
				return err
			}
			if !pen.Covers(ring) {
				r.note("rings that cover nothing, left out")
				if k == from {
					break // with its holes
				}
				continue
			}
			if sense := ring.Sense(); sense != 0 && (sense > 0) != (k == from) {
				slices.Reverse(ring[1:]) // it begins where it began
			}
			if b := ring.Bounds(); k == from {
				outer = b
			} else if outer.Union(b) != outer {
				r.note("holes that reach beyond their outer ring, which count as drawn there")
			}
			pg = append(pg, ring)
		}
	}
	switch s := (layout.Shape{Layer: layer, Polygon: pg}); {
	case len(pg) == 0:
	case f.traced:
		r.lib.Traced = append(r.lib.Traced, s)
		r.counts[layer].Areas++
	default:
		r.add(f, s)
		r.counts[layer].Polygons++
	}
	return nil
}

// add adds a shape with what the feature says of it.
func (r *reader) add(f *feature, s layout.Shape) {
	r.stated.Set(r.cell, len(r.cell.Shapes), f.stated)
	r.cell.Shapes = append(r.cell.Shapes, s)
}

// ring checks a ring by RFC 7946, section 3.1.6, and returns it without the position that closes it.
func (r *reader) ring(points []geom.Point) (geom.Ring, error) {
	um := func(p geom.Point) (x, y float64) { return float64(p.X) / 1e3, float64(p.Y) / 1e3 }
	x, y := um(points[0])
	if n := len(points); n < 4 {
		return nil, r.fail(correct, "a ring of %d positions at (%.3f, %.3f) µm; a ring has four or more, the last one like the first", n, x, y)
	} else if points[0] != points[n-1] {
		u, v := um(points[n-1])
		return nil, r.fail("repeat its first position at its end", "a ring that is not closed: it begins at (%.3f, %.3f) µm and ends at (%.3f, %.3f)", x, y, u, v)
	}
	return pen.ClosedOutline(slices.Clone(points)), nil
}
