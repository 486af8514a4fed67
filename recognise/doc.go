// Package recognise says what groups of devices of a circuit are.
package recognise
