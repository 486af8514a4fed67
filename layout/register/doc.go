// Package register says where a photograph's pixels lie on the die, and how long things are there.
//
// A photograph knows pixels, y downward; the frame knows nanometres, y up. What joins them is a map, fitted to control
// points: places that are known in both. The same fit joins two photographs with each other.
//
// In: control points (Point), the kind of map, and what the targets are (ToFrame, ToShot).
//
//  1. degenerate.go  refuses points that do not determine such a map, and names them
//  2. fit.go         centres and scales both sides, so that the numbers are near 1; calls the solver; sums up the residuals
//  3. linear.go      similarity and affine: one least-squares problem by singular value decomposition
//  4. projective.go  projective: a linear start, then Levenberg–Marquardt on the residuals in the target
//  5. spline.go      thin-plate spline: goes through all points; inverse.go undoes it by Newton iteration
//  6. outlier.go     which points do not go with the others, each judged by the map fitted without it
//
// Out: a Fit with its Map. map.go and chain.go have what all maps can do: Apply, Jacobian, Inverse, Compose, and Parameters, which
// ParseMap reads back. table.go stands for a map that takes long to ask, pixel by pixel. ruler.go measures lengths and
// pitches through a map, with their uncertainty.
//
// What is minimised is the sum of squares of fitted minus given, in the target. Points may be weighted by the
// uncertainty of their marks. Nothing is drawn at random: the same points give the same map.
package register
