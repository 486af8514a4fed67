// Package desk is the state of the workbench: what the user looks at, draws, and has found out, and what keys, mouse and
// command line do to it. It knows no terminal: whoever has one gives it events and shows what it says.
//
// In: an open dossier, a picture.Composer for its photographs, events. Out: a scene for the composer, lines, a list, a page,
// a command line, as plain values; edits of the dossier, each one transaction, on the disk when the event has been dealt with.
//
//  1. desk.go     the Desk: open, close, messages; event.go, show.go, options.go: what goes in and out; held.go: an open
//     dossier for the verbs of the command
//  2. bind.go     keys and what they do: one table, from which the key page is made; bindings.go the table
//  3. store.go    every edit goes through here; undo; work.go: what goes on in the background, handed over by Take
//  4. eye.go      where one looks and where the cursor is; photos.go, layers.go, scene.go
//  5. tools.go    what is drawn corner by corner; snap.go; shapes.go: the edits; select.go, carry.go, change.go: what is done
//     to shapes that are there; inside.go: drawing in a placed cell
//  6. pairs.go    control points and fits; beside.go: how both photographs are seen; accept.go: registering, one edit
//  7. live.go     the circuit as it is now: nets and what they cover, devices, findings, questions; checking.go: what
//     photographs say to them; nets.go: the lit net
//  8. lists.go, rows.go, rows_kept.go  what is listed beside the picture; ask.go: a question in full, and its answer
//  9. prompt.go   the command line; verbs*.go its own verbs, and run.go those of the command; obey.go: lines without a terminal
//  10. mouse.go, acts.go, lines.go, words.go, help.go, walk.go
//
// The stations go with the job: look, register, trace, ask, name, hand over. Most keys do the same in all of them.
package desk
