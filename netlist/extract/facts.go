package extract

import (
	"sync"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// Facts is what extraction saw of the drawing beside the circuit: what there is to argue with where a structure has more
// than one reading. It is told where Options.Facts asks for it.
type Facts struct {
	Regions  []Region  // in the order of place
	Channels []Channel // every crossing of gate and diffusion, in the order of place
	Nets     int       // how many nets Region.NetID counts

	drawn []Drawn         // by channel: what covers Channel.At
	paths func() []string // by region, once somebody has asked
}

// RegionKind says what a region is.
type RegionKind uint8

// The kinds of region that are told of.
const (
	JunctionRegion RegionKind = iota + 1 // diffusion that is no channel: source, drain, tap, photodiode, guard ring
	GateRegion                           // a connected part of a gate layer, crossing and all
	WellRegion
	PadRegion // an opening in the passivation; its net is that of the metal under it, as of Pad
)

// RegionID is an index into Facts.Regions.
type RegionID int32

// NoRegion stands for none.
const NoRegion RegionID = -1

// Region is a connected part of a layer.
type Region struct {
	Kind            RegionKind
	Layer           layout.Layer
	Net             netlist.Net // NoNet where the circuit does without it
	NetID           int         // a number that all regions of one net share, from 0, whether the circuit keeps it or not
	Area, Perimeter float64     // nm², nm; of a junction as AS and PS count it: without taps and diodes in it and without borders with channels
	Contacts        int         // contacts that land on it from above, each shape of a contact layer counted once
	ContactArea     float64     // nm²
	TapArea         float64     // nm², the part of a junction that ties a well or the substrate
	DiodeArea       float64     // nm², the part of a junction that a [[diode]] rule, or a verdict, makes a device of
	Channels        int         // crossings that it borders on, or of a gate: that it makes
	Well            RegionID    // of a junction: the well that most of it lies in, or NoRegion
	Open            bool        // reaches the rim of the traced area of its layer
	Box             geom.Rect
	At              geom.Point // its lowest, then leftmost corner
	Within          geom.Point // a point within, away from its edges: to anchor a verdict at
}

// Channel is one connected crossing of gate and diffusion.
type Channel struct {
	Device          int          // index in Circuit.Devices, the first where it makes several; -1: it has no source or drain, and makes none
	DeviceCount     int          // how many devices it makes or is part of, from Device on
	Layer           layout.Layer // of the gate
	Diffusion       layout.Layer // that most of it lies on
	Gate            RegionID
	Well            RegionID // the well that most of it lies in, or NoRegion
	Edges           []Edge   // its borders with sources and drains, one for each region
	Area, Perimeter float64  // nm², nm
	Straight        bool     // source and drain face each other as the equal, parallel sides of a rectangle: W and L are exact
	Box             geom.Rect
	At              geom.Point // a point within, away from its edges
	Path, Cell      string     // the instance whose drawing makes its gate, empty for the top cell, and the name of its cell
}

// Devices returns the numbers in Circuit.Devices of what the channel makes, ascending.
func (c *Channel) Devices() []int {
	if c.Device < 0 {
		return nil
	}
	out := make([]int, c.DeviceCount)
	for k := range out {
		out[k] = c.Device + k
	}
	return out
}

// Edge is the border of a channel with one source or drain region.
type Edge struct {
	Region    RegionID
	Length    float64 // nm
	Stretches int     // into how many unbroken stretches it falls
}

// findDrawn finds what channels are drawn as, and in which instances.
func (f *Facts) findDrawn(flat *layout.Flat) {
	places := make([]layout.Place, len(f.Channels))
	for i := range f.Channels {
		places[i] = layout.Place{Layer: f.Channels[i].Layer, At: f.Channels[i].At}
		f.Channels[i].Cell = flat.Top().Name
	}
	f.drawn = make([]Drawn, len(places))
	flat.FirstAt(places, func(k int, s *layout.Shape, t geom.Transform, in layout.Instance) {
		f.drawn[k] = Drawn{s, inverse(t, places[k].At), in.Path}
		f.Channels[k].Path, f.Channels[k].Cell = in.Path, in.Cell.Name
	})
	f.paths = sync.OnceValue(func() []string {
		places := make([]layout.Place, len(f.Regions))
		for i := range f.Regions {
			places[i] = layout.Place{Layer: f.Regions[i].Layer, At: f.Regions[i].Within}
		}
		return flat.PathsAt(places)
	})
}

// DrawnAs returns what Result.Drawn says of the place of a channel.
func (f *Facts) DrawnAs(channel int) Drawn { return f.drawn[channel] }

// Path returns the instance that a region is drawn in, empty for the top cell. Few are asked about, and of many drawings none: all are found
// with the first.
func (f *Facts) Path(region RegionID) string { return f.paths()[region] }
