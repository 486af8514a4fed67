package schematic

import (
	"fmt"
	"slices"
	"strings"
)

// frameGroups puts a frame around each group that has nothing else between its parts, and room for its name; of others a note tells.
// Texts and symbols must have been noted in g.
func (s *sheet) frameGroups(g *grid) {
	members := make([][]int, len(s.opt.Groups))
	for i, k := range s.order {
		if at, ok := s.groupOf(k); ok {
			members[at] = append(members[at], i)
		}
	}
	for at, of := range members {
		name := headed(s.opt.Groups[at].Name)
		if len(of) == 0 || name == "" {
			continue
		}
		box := s.rooms[of[0]]
		for _, i := range of {
			box = box.union(s.rooms[i])
		}
		clean := true
		for i := range s.rooms {
			clean = clean && (slices.Contains(of, i) || !s.rooms[i].overlaps(box))
		}
		for i := range s.out.Frames {
			clean = clean && !s.out.Frames[i].Caption.Room.overlaps(box)
		}
		caption, ok := captionFor(g, box, name)
		if !clean || !ok {
			var names []string
			for _, i := range of {
				if t := s.out.Symbols[i].Text; len(t) > 0 {
					names = append(names, t[0].S)
				}
			}
			s.out.Notes = append(s.out.Notes, fmt.Sprintf("%s: %s", name, strings.Join(names, ", ")))
			continue
		}
		g.block(caption.Room)
		s.out.Frames = append(s.out.Frames, Frame{box, of, caption})
	}
}

// captionFor finds a place for a group's name, above its frame or below.
func captionFor(g *grid, b Box, name string) (Text, bool) {
	for _, y := range [...]int{b.Min.Y - 1, b.Max.Y + 1} {
		for x := b.Min.X; x <= b.Max.X; x++ {
			if t := beside(name, Point{x, y}, Right); g.empty(t.Room) {
				return t, true
			}
		}
	}
	return Text{}, false
}

// straddles reports whether a box lies on the line of a frame.
func (s *sheet) straddles(b Box) bool {
	for i := range s.out.Frames {
		if f := s.out.Frames[i].Box; f.overlaps(b) && !(f.contains(b.Min) && f.contains(b.Max)) {
			return true
		}
	}
	return false
}

// empty reports whether nothing is noted in a box that lies on the grid.
func (g *grid) empty(b Box) bool {
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		for x := b.Min.X; x <= b.Max.X; x++ {
			if !g.inside(Point{x, y}) || g.node[g.index(Point{x, y})] != free {
				return false
			}
		}
	}
	return true
}

// block notes that a box is taken, and reports whether it was empty.
func (g *grid) block(b Box) bool {
	if !g.empty(b) {
		return false
	}
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		for x := b.Min.X; x <= b.Max.X; x++ {
			g.node[g.index(Point{x, y})] = blocked
		}
	}
	return true
}
