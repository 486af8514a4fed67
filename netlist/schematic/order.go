package schematic

import (
	"slices"

	"undermetal/netlist"
)

// band is a row of blocks on a sheet.
type band struct {
	parts []*part
	rows  int
}

// sheetParts are the bands of one sheet, from above.
type sheetParts []*band

func (s sheetParts) all() []*part {
	var out []*part
	for _, b := range s {
		out = append(out, b.parts...)
	}
	return out
}

const bandColumns = 14

// order puts blocks in the order of the signal, and deals them to bands and sheets.
func (p *plan) order() []sheetParts {
	var sheets []sheetParts
	var now sheetParts
	var b *band
	symbols, columns := 0, 0
	for _, i := range p.signalOrder() {
		block := p.blocks[i]
		wide := columnsOf(block)
		if b != nil && (columns+wide > bandColumns || len(b.parts) > 0 && hasBox(block) != hasBox(b.parts)) {
			b = nil
		}
		if b == nil {
			if symbols >= p.opt.PerSheet {
				sheets = append(sheets, now)
				now, symbols = nil, 0
			}
			b = &band{}
			now = append(now, b)
			columns = 0
		}
		b.parts = append(b.parts, block...)
		columns += wide
		symbols += len(block)
	}
	if len(now) > 0 {
		sheets = append(sheets, now)
	}
	for _, s := range sheets {
		for _, b := range s {
			b.settle()
		}
	}
	for _, s := range sheets {
		seen := map[netlist.Net]bool{}
		for _, k := range s.all() {
			k.nets(func(n netlist.Net) {
				if !seen[n] {
					seen[n] = true
					p.sheets[n]++
				}
			})
		}
	}
	return sheets
}

// settle moves blocks of fewer rows so that their p halves are up and all else is down.
func (b *band) settle() {
	last := map[int]int{}
	for _, k := range b.parts {
		b.rows = max(b.rows, k.row+1)
		last[k.block] = max(last[k.block], k.row)
	}
	for _, k := range b.parts {
		if gap := b.rows - 1 - last[k.block]; gap > 0 && k.kind != netlist.PMOS && k.shape != BoxShape && !k.sideways {
			k.row += gap
		}
	}
}

func hasBox(b []*part) bool {
	return slices.ContainsFunc(b, func(k *part) bool { return k.shape == BoxShape })
}

// columnsOf estimates how many columns a block takes.
func columnsOf(b []*part) int {
	in := map[int]int{}
	most := 0
	for _, k := range b {
		in[k.row]++
		most = max(most, in[k.row])
	}
	return most
}

// signalOrder returns the blocks so that as few signals as may be run backwards: each time the block with the fewest inputs that still
// lack their source, and of those the one that the last blocks drive most.
func (p *plan) signalOrder() []int {
	driver := make([][]int, len(p.c.Nets)) // blocks with a channel on the net
	for i, b := range p.blocks {
		for _, k := range b {
			ends := func(n netlist.Net) {
				if !p.rail(n) && !slices.Contains(driver[n], i) && len(driver[n]) < mostEnds {
					driver[n] = append(driver[n], i)
				}
			}
			if k.shape == BoxShape {
				for _, pin := range k.pins {
					if pin.Side == Right {
						ends(pin.Net)
					}
				}
			} else {
				p.eachEnd(k, ends)
			}
		}
	}
	waits := make([]int, len(p.blocks)) // how many drivers are not placed yet
	drives := make([][]int, len(p.blocks))
	for i, b := range p.blocks {
		seen := map[int]bool{i: true}
		for _, k := range b {
			inputs := func(n netlist.Net) {
				if n == netlist.NoNet || p.rail(n) || !p.wired(n) {
					return
				}
				for _, d := range driver[n] {
					if !seen[d] {
						seen[d] = true
						waits[i]++
						drives[d] = append(drives[d], i)
					}
				}
			}
			inputs(k.gate)
			for _, pin := range k.pins {
				if pin.Side == Left {
					inputs(pin.Net)
				}
			}
		}
	}
	// A queue by waits, kept simple: buckets of candidates.
	placed := make([]bool, len(p.blocks))
	heat := make([]float64, len(p.blocks))
	var out []int
	h := newHeap(len(p.blocks), func(a, b int) bool {
		if waits[a] != waits[b] {
			return waits[a] < waits[b]
		}
		if heat[a] != heat[b] {
			return heat[a] > heat[b]
		}
		return a < b
	})
	for h.len() > 0 {
		i := h.pop()
		placed[i] = true
		out = append(out, i)
		for _, j := range drives[i] {
			if !placed[j] {
				waits[j]--
				heat[j] = float64(len(out))
				h.fix(j)
			}
		}
	}
	return out
}
