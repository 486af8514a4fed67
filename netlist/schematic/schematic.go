package schematic

import (
	"context"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"

	"undermetal/netlist"
)

// Role says what a net is for, as far as drawing it goes.
type Role uint8

// The roles. A net without a role is told by its name and by what it is joined to.
const (
	NoRole Role = iota
	Supply
	Ground
	Input
	Output
	Bias // a net that many share and nobody needs to see as a wire: names instead
)

// Group is devices that belong together, as recognition names them.
type Group struct {
	Name    string
	Devices []int32
	Missing []Missing
}

// Array is many equal cells in rows and columns, which becomes one box. Devices are all that it is made of, Unit those of the one cell
// that is drawn beside it. Nets are those that lead in: they get pins where anything else on the drawing has them, and are named below.
type Array struct {
	Name          string
	Rows, Columns int
	Devices, Unit []int32
	Nets          []netlist.Net
}

// Look is what tells symbols of one kind apart.
type Look uint8

// The looks.
const (
	NoLook     Look = iota
	Photodiode      // a diode that light falls on
	PChannel        // a JFET, or a MOS transistor whose kind does not say it
	PNP             // a bipolar transistor
	Depletion       // a MOS transistor that conducts without a gate voltage: its channel is drawn through
)

// Missing is a piece of a group that should be there and was not seen.
type Missing struct {
	Kind     netlist.Kind
	Nets     []netlist.Net // as its terminals; NoNet where it is not known
	Name     string
	Question string // that it raises
}

// Options are what a caller may say of a circuit.
type Options struct {
	Title  string
	Roles  map[netlist.Net]Role
	Groups []Group
	Arrays []Array
	// Label returns the lines of text beside a device, at most three: its name, W/L. Nil: its name or number, W/L in µm.
	Label func(device int) []string
	// Look returns what the kind does not say of how a device looks. May be nil.
	Look func(device int) Look
	// InnerNames puts the names also of nets that are drawn as one wire, are no ports and need none.
	InnerNames bool
	// Describe returns what is known of a device for whoever looks closer: its id and its place on the die. May be nil.
	Describe func(device int) (id, place string)
	// PerSheet is how many symbols a sheet takes; 0: 48.
	PerSheet int
	// Plain leaves the parts of each row in the order of the circuit, to see what placing them is worth.
	Plain bool
}

const defaultPerSheet = 48

// Draw draws a circuit. Instances become boxes. It is an error if a device has no net on a terminal, or ctx ends.
func Draw(ctx context.Context, c *netlist.Circuit, opt Options) (*Drawing, error) {
	if opt.PerSheet <= 0 {
		opt.PerSheet = defaultPerSheet
	}
	p, err := newPlan(c, opt)
	if err != nil {
		return nil, err
	}
	p.settleRows()
	d := &Drawing{Title: printable(opt.Title), Names: p.names, BulkN: p.bulk[netlist.NMOS], BulkP: p.bulk[netlist.PMOS]}
	if d.BulkN != netlist.NoNet {
		d.BulkNName = p.names[d.BulkN]
	}
	if d.BulkP != netlist.NoNet {
		d.BulkPName = p.names[d.BulkP]
	}
	if grounds := p.groundNets(); len(grounds) == 1 {
		d.GroundName = p.names[grounds[0]]
	}
	sheets := p.order()
	d.Sheets = make([]*Sheet, len(sheets))
	eg, ctx := errgroup.WithContext(ctx)
	eg.SetLimit(runtime.GOMAXPROCS(0))
	for i, parts := range sheets {
		eg.Go(func() (err error) {
			if d.Sheets[i], err = p.newSheet(parts).draw(ctx); err != nil {
				err = fmt.Errorf("sheet %d: %w", i+1, err)
			}
			return err
		})
	}
	if err := eg.Wait(); err != nil {
		return nil, err
	}
	return d, nil
}
