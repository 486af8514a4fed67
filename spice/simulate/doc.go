// Package simulate runs a SPICE simulator (ngspice, in batch) on a deck and reads its waveforms.
package simulate
