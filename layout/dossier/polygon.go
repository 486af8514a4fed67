package dossier

import (
	"encoding/binary"
	"errors"
	"fmt"

	"undermetal/layout/geom"
)

// packPolygon writes a polygon as the number of rings, then of each ring the number of points and the points, each as
// its way from the one before, x before y; all as varints, ways as signed ones. The first point's way is from (0, 0).
func packPolygon(pg geom.Polygon) []byte {
	b := binary.AppendUvarint(nil, uint64(len(pg)))
	last := geom.Point{}
	for _, r := range pg {
		b = binary.AppendUvarint(b, uint64(len(r)))
		for _, p := range r {
			b = binary.AppendVarint(b, int64(p.X-last.X))
			b = binary.AppendVarint(b, int64(p.Y-last.Y))
			last = p
		}
	}
	return b
}

var errPolygon = errors.New("a polygon that is damaged")

// unpackPolygon is the inverse of packPolygon. It allocates in proportion to b.
func unpackPolygon(b []byte) (geom.Polygon, error) {
	count := func() (int, error) {
		n, size := binary.Uvarint(b)
		if size <= 0 || n > uint64(len(b)) {
			return 0, errPolygon
		}
		b = b[size:]
		return int(n), nil
	}
	way := func() (int, error) {
		n, size := binary.Varint(b)
		if size <= 0 || n > 1<<32 || n < -1<<32 {
			return 0, errPolygon
		}
		b = b[size:]
		return int(n), nil
	}
	rings, err := count()
	if err != nil {
		return nil, err
	}
	pg := geom.Polygon{}
	at := geom.Point{}
	for range rings {
		points, err := count()
		if err != nil {
			return nil, err
		}
		ring := geom.Ring{}
		for range points {
			dx, err1 := way()
			dy, err2 := way()
			at = at.Add(geom.Point{X: dx, Y: dy})
			if err1 != nil || err2 != nil || !at.InFrame() {
				return nil, errPolygon
			}
			ring = append(ring, at)
		}
		pg = append(pg, ring)
	}
	if len(b) > 0 {
		return nil, errPolygon
	}
	return pg, checkPolygon(pg)
}

// checkPolygon returns an error where a polygon is none.
func checkPolygon(pg geom.Polygon) error {
	if len(pg) == 0 {
		return errors.New("a polygon without rings")
	}
	for _, r := range pg {
		if len(r) < 3 {
			return fmt.Errorf("a ring of %d points: three at least", len(r))
		}
		for _, p := range r {
			if err := checkPoint(p); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkPoint(p geom.Point) error {
	if !p.InFrame() {
		return fmt.Errorf("(%g, %g) µm lies outside the frame, which reaches to ±2³⁰ nm (1.07 m)", float64(p.X)/1000, float64(p.Y)/1000)
	}
	return nil
}
