// Package library holds the patterns: known circuits of a few devices, kept as SPICE subcircuits.
package library
