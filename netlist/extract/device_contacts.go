package extract

import "undermetal/netlist"

// DeviceContacts is how many contacts lie on the regions that a device is made of, each region counted once.
type DeviceContacts struct {
	Known               bool // the device is made of channels
	Drain, Gate, Source int  // of a capacitor Gate are those of its upper plate, Drain those of its lower one
}

// Contacts returns, for each device of a circuit, which must be the one that f was told with, the contacts of what its channels
// border on. Where source and drain are one net they are all drain's, as in Structure. Contacts of a source that two transistors share
// are counted for both.
func (f *Facts) Contacts(c *netlist.Circuit) []DeviceContacts {
	out := make([]DeviceContacts, len(c.Devices))
	gates, rims := make([][]RegionID, len(c.Devices)), make([][]RegionID, len(c.Devices)) // that were counted
	first := func(of *[]RegionID, r RegionID) bool {
		for _, s := range *of {
			if s == r {
				return false
			}
		}
		*of = append(*of, r)
		return true
	}
	for i := range f.Channels {
		ch := &f.Channels[i]
		for k := range ch.DeviceCount {
			n := ch.Device + k
			d, o := &c.Devices[n], &out[n]
			o.Known = true
			if first(&gates[n], ch.Gate) {
				o.Gate += f.Regions[ch.Gate].Contacts
			}
			for _, e := range ch.Edges {
				r := &f.Regions[e.Region]
				switch {
				case d.Kind == netlist.Capacitor || r.Net == d.Terminals[netlist.Drain]:
					if first(&rims[n], e.Region) {
						o.Drain += r.Contacts
					}
				case r.Net == d.Terminals[netlist.Source]:
					if first(&rims[n], e.Region) {
						o.Source += r.Contacts
					}
				}
			}
		}
	}
	return out
}
