// Package graphics sends real pixels to terminals that can show them.
//
// In: an *image.RGBA.
//
//  1. detect.go   what to ask a terminal, and what its answer means; nothing is sent or read here
//  2. sixel.go    a picture as sixels, by palette.go in 256 colours at most
//  3. kitty.go    a picture by the kitty graphics protocol, in all its colours
//
// Out: bytes for the terminal. They draw from the cursor on; where that is, and what else the terminal is being sent
// meanwhile, is for the caller to look after: ESC 7 before and ESC 8 behind bring it back.
package graphics
