// Package blocks is the block map: regions of the die, named after the blocks of a block diagram.
//
// In: the blocks that a dossier keeps, what the die is, and what recognition takes groups of devices for. Out: of each block its
// pieces, area and share of the die, and what of recognition's lies in it; which blocks of a diagram have no region, which regions
// no diagram has, what of the die has no name, and what has two.
//
//  1. map.go      areas and shares, overlaps; natural.go: the order
//  2. support.go  what was recognised inside a region, told by name and number
//  3. set.go      the edits, for command and workbench alike
//
// Areas are those of exact unions: what two pieces of a block both cover counts once. Where regions are slanted their borders are
// rounded to the nm first (layout/region). The order of blocks, suggestions and pieces changes nothing but the order of what is told.
package blocks
