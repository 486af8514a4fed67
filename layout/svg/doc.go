// Package svg reads drawings that were made in a vector editor over a photograph, and writes drawings that a browser
// shows and that come back as they went.
//
// In: XML, also compressed (packed.go). Parse makes a Document of it, in the drawing's own units; whoever called looks at its size and its pictures,
// decides where on the die it lies (pen.Place: a scale, or a photograph's registration) and asks Document.Library for the
// shapes.
//
//   - parse.go    elements, entities, character sets; element.go: what an element says of its place; node.go: the tree;
//     images.go: the pictures in it
//   - scan.go, path.go, matrix.go, length.go, colour.go, css.go   what stands in attributes and style sheets
//   - library.go  goes through the elements; style.go: what is inherited; layers.go: which layer it is
//   - draw.go     outlines and wires; evenodd.go, evenodd_sides.go: the other fill rule; text.go: labels
//   - cells.go    what use refers to: cells that stay cells, everything else is drawn where it is used
//   - report.go   what was left out or taken differently; error.go: file, line, element, what is wrong, what to do
//   - write.go    the writer; write_check.go: what cannot be written, found before anything is
//
// What is read:
//   - path with all commands, polygon, polyline, rect, circle, ellipse, line; groups, nested svg, symbol and use, with all
//     transforms; colours, strokes, fill-rule, display and visibility from attributes, style, and style sheets with simple
//     selectors. A mistake in path data is an error, where a browser would draw what stands before it.
//   - What is filled is a polygon, each path one (its parts that lie apart are several). What has a stroke and no fill is a
//     wire; a stroke around a fill does not count. A fill or stroke with an alpha or an opacity of 0
//     is none, any other is opaque; what is hidden is left out.
//   - text is a label at its anchor, without the blanks around it. image is told to the caller (Document.Images),
//     also where it comes by way of use.
//   - Units are those of the outermost viewBox; where there is none they are px, 96 to an inch. Lengths with a unit are
//     converted by that.
//   - Clip paths, masks, filters, patterns, gradients, markers, dashes and animations are not understood; what has them is
//     taken without, and the report says so.
//
// Curves are cut into chords after they have been mapped to the frame, so the tolerance is in nm; ellipses stay ellipses
// until then. Straight edges bend where the map does.
//
// Written are all cells with shapes, labels and placements, and the traced areas, in µm with y downward: data- attributes
// say what is what, how large a unit is, and how uncertain the edges of a shape are. Read without a Place such a drawing comes back whole, also after an editor
// has saved it again, as far as that keeps those attributes.
//
// Memory goes with the bytes read; what use refers to again and again is bounded.
package svg
