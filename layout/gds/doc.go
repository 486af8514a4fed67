// Package gds reads and writes GDSII stream files.
//
// A stream is a chain of records, each at most 64 KiB: a library with its units, in it cells, in them elements. Read
// takes a stream and a Map (which layer/datatype pair is which layer) and gives a layout.Library with its hierarchy
// kept, and a Report of what was left out; Write does the reverse, byte for byte the same on every run.
//
//   - record.go     the record table; the scanner, which hands out one record at a time and checks its form
//   - real8.go      the format's 8-byte real numbers
//   - grid.go       database units to nanometres, exactly or not at all
//   - read.go       library and cells: order of records, names, layers
//   - hierarchy.go  cells that are missing, cells that contain themselves
//   - element.go    one element: its records, and the shape, label or placement that becomes of it
//   - map.go        which layer a pair is, from a stack
//   - report.go     what was left out, with the first place of each kind
//   - write.go      the writer
//   - slit.go       polygons of several rings as single boundaries
//   - error.go      Error: file, byte, cell, what is wrong, what to do
//
// What is read:
//   - BOUNDARY and BOX are polygons; the closing point may be missing. PATH is made a polygon (see layout/pen). An
//     element that covers nothing, such as a path of no width, is left out and counted.
//   - A negative WIDTH ("absolute": not magnified with the cell) counts as its absolute value and is magnified with
//     the cell like any other shape; the report counts them. So are the STRANS flags for absolute magnification and
//     angle taken as relative ones.
//   - SREF and AREF are placements. An AREF keeps its counts; its extents lead from the first member to the last
//     and need not be whole nanometres.
//   - TEXT is a label; only its place and string count. NODE, properties, and records about the library as a whole
//     (fonts, generations …) are passed over. Records inside an element may come in any order.
//   - Several XY records in one BOUNDARY or PATH are taken as one list: other writers split long lists so.
//   - Names and texts keep printable UTF-8; any other byte becomes '?'.
//
// Written are cells with shapes, labels and placements. The format has no place for traced areas and for the names
// of placements; a polygon of several rings may become several boundaries that cover the same.
//
// Memory goes with the bytes read, never with a number that is written in them.
package gds
