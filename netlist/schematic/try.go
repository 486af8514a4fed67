package schematic

import (
	"context"
	"math/rand/v2"
)

// What a drawn sheet costs beside what its placement does, in grid units of wire.
const (
	drawnBend  = 4
	drawnCross = 10
	drawnName  = 40  // a name instead of a wire, because there was no way
	drawnInner = 0.5 // a port's name that is not on the rim, per unit
	drawnUp    = 4   // a port's name above or below
)

// effort is how many placements are drawn to choose the best from, and how many moves are then tried on it. Large drawings get one.
func (s *sheet) effort() (starts, moves int) {
	switch n := len(s.parts); {
	case s.opt.Plain || n > 60:
		return 1, 0
	case n > 16:
		return 3, 15
	}
	return 6, 100
}

// draw places parts, lays wires, and keeps the best of several drawings.
func (s *sheet) draw(ctx context.Context) (*Sheet, error) {
	starts, moves := s.effort()
	var best *Sheet
	var least float64
	var kept []*annealer
	var seats [][]savedSeat
	for start := range starts {
		var as []*annealer
		for _, b := range s.bands {
			if a := s.anneal(b, uint64(start+1)); a != nil {
				as = append(as, a)
			}
		}
		out, cost, err := s.drawn(ctx, as)
		if err != nil {
			return nil, err
		}
		if best == nil || cost < least {
			best, least, kept, seats = out, cost, as, nil
			for _, a := range as {
				seats = append(seats, a.save())
			}
		}
	}
	if len(kept) == 0 || moves == 0 {
		return best, nil
	}
	for i, a := range kept {
		a.restore(seats[i])
	}
	rng := rand.New(rand.NewPCG(7, uint64(len(s.parts))))
	for range moves {
		a := kept[rng.IntN(len(kept))]
		before := a.cost()
		undo := a.move(rng)
		if undo == nil {
			continue
		}
		if a.cost() > before+3*drawnCross { // hopeless
			undo()
			continue
		}
		out, cost, err := s.drawn(ctx, kept)
		if err != nil {
			return nil, err
		}
		if cost < least {
			best, least = out, cost
		} else {
			undo()
		}
	}
	return best, nil
}

// drawn draws what the parts stand for now, and tells what that costs.
func (s *sheet) drawn(ctx context.Context, as []*annealer) (*Sheet, float64, error) {
	out, forced, err := s.lay(ctx)
	if err != nil {
		return nil, 0, err
	}
	f := (&Drawing{Sheets: []*Sheet{out}}).Figures()
	cost := float64(f.Wire+drawnBend*f.Bends+drawnCross*f.Crossings+drawnName*forced) + float64(f.Area)/50
	for _, a := range as {
		cost += a.cost()
	}
	for _, g := range out.Flags {
		if g.Kind != PortFlag {
			continue
		}
		switch g.Side {
		case Left:
			cost += drawnInner * float64(g.Room.Min.X-out.Size.Min.X-margin)
		case Right:
			cost += drawnInner * float64(out.Size.Max.X-margin-g.Room.Max.X)
		default:
			cost += drawnUp
		}
	}
	return out, cost, nil
}

// lay makes places of rows and columns and lays the wires. What finds no way gets more room between columns first, then names; forced
// counts these.
func (s *sheet) lay(ctx context.Context) (out *Sheet, forced int, err error) {
	s.gap = leastGap
	clear(s.named)
	for n, pins := range s.on {
		s.named[n] = pins < 2 || !s.wired(n)
	}
	for try := 0; ; try++ {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		s.out = &Sheet{}
		if err := s.place(); err != nil {
			return nil, 0, err
		}
		failed := s.route()
		if len(failed) == 0 {
			failed = s.nameNetsDrawn()
		}
		if len(failed) == 0 {
			s.out.Size = bounds(s.out)
			return s.out, forced, nil
		}
		if s.gap < mostGap && try < mostTries/3 {
			s.gap++
			continue
		}
		if try > mostTries { // names everywhere always find room
			for n := range s.on {
				s.named[n] = true
			}
		}
		for _, n := range failed {
			s.named[n] = true
			forced++
		}
	}
}
