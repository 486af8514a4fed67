// Package workbench puts a desk.Desk on a terminal. It is the only package of the workbench that knows one.
//
// In: an open dossier, and what the terminal can show.
//
//  1. terminal.go   the terminal's device: guarded writing, what was pasted taken out of the keys, a way out where it hangs
//  2. detect.go     asks the terminal what it can show, before the screen begins
//  3. layout.go     who gets which cells: head, picture, list, foot
//  4. events.go     keys and mouse as the desk knows them
//  5. render.go     draws pictures in a goroutine of its own, always the latest scene
//  6. text.go       head, list, foot, command line, pages, in cells
//  7. paint.go      block characters under the text, only those that have changed, without tcell
//  8. pixels.go     or real pixels, by sixels or the kitty protocol
//  9. loop.go       waits for what happens, and shows what has changed
//  10. guard.go     a process that puts the terminal right if this one ends otherwise than it should
//
// All of the desk is in one goroutine, the loop's. It never waits for a picture, for a tile or for an extraction: these come
// as events. It asks for 60 pictures a second at most, puts each on the screen when it comes, and writes only what has changed.
package workbench
