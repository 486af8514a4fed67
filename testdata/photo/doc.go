// Package photo renders photographs of drawings, and traces them with a hand's inaccuracy.
//
// In: rings on layers, in nm, and how a photograph shows each layer.
//
//   - camera.go   where a photograph shows a place
//   - photo.go    what it looks like; blur.go: out of focus
//   - trace.go    an outline whose edges are off, each by itself
//
// Out: grey pictures, the same at every call. A picture is made band by band, so that memory and time go with its size, and
// the bands change nothing in it. What is drawn is known to others: see testdata/pixel and testdata/kiln.
package photo
