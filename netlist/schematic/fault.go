package schematic

import "fmt"

// Faults lists what a drawing must not have: texts or symbols on each other, a wire through a symbol or a text that it does not end at,
// two nets that share more than a crossing.
func (d *Drawing) Faults() []string {
	var out []string
	for i, s := range d.Sheets {
		for _, f := range s.faults() {
			out = append(out, fmt.Sprintf("sheet %d: %s", i+1, f))
		}
	}
	return out
}

type room struct {
	what string
	box  Box
}

func (s *Sheet) faults() []string {
	var out []string
	var rooms []room
	pins := map[Point]int{} // symbol and net of a pin
	for i := range s.Symbols {
		y := &s.Symbols[i]
		rooms = append(rooms, room{fmt.Sprintf("symbol %d", i), y.Body})
		for _, t := range y.Text {
			rooms = append(rooms, room{fmt.Sprintf("text %q", t.S), t.Room})
		}
		for _, q := range y.Pins {
			pins[q.At] = int(q.Net)
		}
	}
	for _, f := range s.Flags {
		rooms = append(rooms, room{fmt.Sprintf("name %q", f.Text), f.Room})
	}
	for i := range rooms {
		for j := range i {
			if rooms[i].box.overlaps(rooms[j].box) {
				out = append(out, fmt.Sprintf("%s lies on %s", rooms[i].what, rooms[j].what))
			}
		}
	}
	type mark struct {
		net  int
		kind uint8 // 1 across, 2 up, 4 a corner, an end or a dot
	}
	marks := map[Point][]mark{}
	for _, w := range s.Wires {
		for i := 1; i < len(w.Points); i++ {
			way := between(w.Points[i-1], w.Points[i])
			for k, p := range way {
				m := mark{int(w.Net), 1}
				if w.Points[i-1].X == w.Points[i].X {
					m.kind = 2
				}
				if k == 0 || k == len(way)-1 {
					m.kind = 7
				}
				marks[p] = append(marks[p], m)
				n, pin := pins[p]
				for _, r := range rooms {
					if r.box.contains(p) && !pin {
						out = append(out, fmt.Sprintf("a wire goes through %s at %v", r.what, p))
					}
				}
				if pin && n != int(w.Net) {
					out = append(out, fmt.Sprintf("a wire goes over the pin of another net at %v", p))
				}
			}
		}
	}
	for _, q := range s.Dots {
		marks[q.At] = append(marks[q.At], mark{int(q.Net), 7})
	}
	for p, ms := range marks {
		for i := range ms {
			for j := range i {
				if ms[i].net != ms[j].net && ms[i].kind&ms[j].kind != 0 {
					out = append(out, fmt.Sprintf("two nets share more than a crossing at %v", p))
				}
			}
		}
	}
	return out
}
