package recognise

import (
	"encoding/binary"
	"math"
)

// mostMet is how many different surroundings are remembered: a memory has few, and each may hold some tens of fits.
const mostMet = 256

// likeness writes all that full fits hang on: what devices there are, on which nets of the part, and what is known of these. In placements
// of one cell it is the same where their devices come in the same order. L counts since channels nearly of one L are one part; other sizes,
// names and places do not.
func (l *local) likeness(beyond []int32) string {
	var b []byte
	models := map[string]uint64{}
	for i := range l.c.Devices {
		d := &l.c.Devices[i]
		model, known := models[d.Model]
		if !known {
			model = uint64(len(models))
			models[d.Model] = model
		}
		b = binary.AppendUvarint(append(b, byte(d.Kind)), model)
		for _, n := range ends(d) {
			b = binary.AppendUvarint(b, uint64(n))
		}
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(d.L))
	}
	port := make([]byte, len(l.net))
	for _, n := range l.c.Ports { // whatever is open is one
		port[n] = 1
	}
	b = append(b, 0xff) // no device begins so
	for n := range l.net {
		b = append(b, byte(l.rails[n]), port[n], byte(beyond[n])) // aroundStubs at most
	}
	return string(b)
}
