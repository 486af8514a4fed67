package schematic

// Figures tell how good a drawing is.
type Figures struct {
	Crossings int // places at which wires of two nets cross
	Bends     int
	Wire      int // grid units
	Names     int // flags
	Area      int // square grid units of all sheets
}

// Figures counts what readers stumble over.
func (d *Drawing) Figures() Figures {
	var f Figures
	for _, s := range d.Sheets {
		across, up := map[Point]bool{}, map[Point]bool{}
		for _, w := range s.Wires {
			f.Bends += len(w.Points) - 2
			for i := 1; i < len(w.Points); i++ {
				way := between(w.Points[i-1], w.Points[i])
				f.Wire += len(way) - 1
				for k := 1; k < len(way)-1; k++ {
					if way[0].Y == way[1].Y {
						across[way[k]] = true
					} else {
						up[way[k]] = true
					}
				}
			}
		}
		for _, q := range s.Dots {
			delete(across, q.At)
		}
		for p := range across {
			if up[p] {
				f.Crossings++
			}
		}
		f.Names += len(s.Flags)
		f.Area += (s.Size.Max.X - s.Size.Min.X) * (s.Size.Max.Y - s.Size.Min.Y)
	}
	return f
}
