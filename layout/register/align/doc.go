// Package align lays two photographs of one die on each other that look different: metal here and dark gaps there,
// contrast reversed, parts missing, another magnification.
//
// In: two grey pictures (Image) and, if somebody set them, a few rough marks.
//
//  1. field.go      turns a picture into its edges: their direction, doubled so that a reversed contrast is the same, with
//     a length that saturates
//  2. direction.go  finds how the edges are turned, a quarter turn more or less; after that eight ways to lie are left
//  3. search.go     tries these with all scales and shifts at a coarse resolution, by Fourier transforms (fourier.go);
//     marks.go      leaves only what lies near the marks, and refuses in the end what they contradict
//  4. surface.go    says what each patch has in common with the other picture at small steps from where a map puts it,
//     by edges; classes.go says it by what pixels look like (shading.go, grid.go), once the pictures nearly lie on each
//     other, and learns from them which looks go together; it is sharper, and not misled by what only one of them shows
//  5. bend.go       finds the small map at which all patches together have most, uncertain.go how well that is known
//  6. refine.go     does that from coarse to fine
//     favour.go     tells where a map stays wherever it is put, since what is learnt favours the place where it was learnt
//  7. judge.go      compares the map with its rivals, patch by patch: other candidates, and itself shifted, turned or mirrored;
//     both.go       leaves of that what both pictures say, so that what only one of them shows speaks for no map
//
// Out: a map with its uncertainty and the confidence that it is the right one; or a refusal. A wrong map is worse than
// none: everything that is traced afterwards would lie on it.
package align
