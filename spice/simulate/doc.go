// Package simulate runs a SPICE simulator (ngspice, in batch) on a deck and reads its waveforms.
//
// In: a Deck, which is a circuit as text, analyses, what each must give, and which recovered device each of the simulator's
// names is.
//  1. safe.go, command.go   the last gate: a body can do nothing but describe a circuit, commands are on a list
//  2. text.go               the whole deck, the same text that a user keeps and runs by hand
//  3. find.go               the simulator, or how to install one
//  4. process.go            a private folder, a group of processes, limits of time, bytes and memory; process_*.go by system
//  5. output.go             any amount of output: lines are heard, head and tail kept
//  6. complain.go           lines to complaints, with the recovered device and its place; progress.go: how far it is
//  7. raw.go, raw_values.go raw files to plots
//  8. whole.go, conclude.go is everything there that must be, and if not, why not
//
// Out: a Result, and an error unless all of it is to be believed. An exit status of 0 proves nothing: ngspice-39 gives it after
// analyses that were aborted, and for resistors that it made up. So every vector that was asked for must be there, with
// values that are numbers, up to the end of its sweep, in a file that was not there before; and nothing fatal may
// have been said on either output.
//
// Nothing is left behind: the folder is removed and the group killed when Run returns, also by a panic, an end of time or
// the context's; on Linux the simulator dies even with a program that is killed, but then the folder stays. A simulator that
// starts programs in groups of their own is not followed. Nothing here knows package spice, so that its tests can use this.
// Tests that need ngspice get it from simulatetest.
package simulate
