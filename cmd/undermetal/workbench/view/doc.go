// Package view says which part of the die a screen shows: what lies where on it, and how it is moved.
//
// In: a place of the frame in the middle, a scale, a turn, the size of the picture.
//
//  1. view.go    a View, and the way from the frame to the screen and back
//  2. move.go    pan, zoom about a place of the screen, turn, fit a box; each returns another View
//  3. limits.go  how far out, how far in, and how far away from the die they may lead
//
// Out: plain values; nothing is drawn here and nothing is kept. Places of the screen are in px from its upper left corner,
// x right, y down, (0, 0) the outer corner of the first px, whose centre is (0.5, 0.5). Places of the frame are in nm, y up;
// for a photograph without a scale they are its own pixels (see picture.Own), and all lengths with them.
package view
