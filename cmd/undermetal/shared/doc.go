// Package shared is what the command and the rooms below it both need, so that it stands once: neither prints here, nor knows a terminal.
//
//   - over.go     what was traced over which photograph, and the tolerance that follows for checks
//   - answer.go   how answers to a question are kept in a dossier, and taken back
//   - figures.go  figures without rounding errors
//   - while.go    a writer that ends with a context
//
// Where a photograph's rim lies, and how well its scale is known, is the dossier's matter (dossier.Located.Outline,
// dossier.Dossier.ScaleSigma); where answers belong, the question's (question.Question.Anchors).
package shared
