// Package dossier keeps one die under study in one SQLite file: photographs with their pyramids, calibrations and
// registrations, the stack, everything that was traced, verdicts, notes, the block map, and every edit so that it can
// be undone. What can be computed from these is not kept.
//
//  1. schema.go    the tables, and the steps by which older files become new ones
//  2. file.go      create, open, close; a file is checked before it is trusted
//  3. holder.go    one opener may edit, all others read; they are told who holds the dossier
//  4. edit.go      an edit is one transaction, on the disk when the call returns, and one entry of the journal
//  5. journal.go   triggers write down every row that an edit touches, as data; undo puts the old rows back
//  6. shots.go, bias.go, registration.go, pictures.go, drawing.go, marks.go   what is kept, as plain Go values
//  7. locate.go    where a shot lies in the frame; scale.go: where the frame has its scale from, and what grows with it;
//     move.go      what moves with a shot that is registered; lay.go: one laid on another
//  8. library.go   the drawing as the engine takes it
//  9. check.go     what a dossier must obey, and making it smaller
//
// In and out: values of Go; layers by name, lengths in nm, places in the frame or in a cell.
//
// The pyramid of a photograph is written before its shot exists, in transactions of its own and outside the journal: a
// shot that appears has all its tiles. Removing a shot leaves its pyramid until Compact, so that it can be undone.
package dossier
