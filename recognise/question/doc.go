// Package question asks where a drawing has more than one plausible reading, with evidence and odds.
//
// In: a circuit with what extraction saw beside it (extract.Facts), the stack, findings of netlist/check. Out: questions, the
// worst first.
//
//  1. view.go      what the kinds share: the shortest feature, which nets are supplies, where contacts were traced; grid.go
//     finds neighbours and likes
//  2. one file a kind drafts a question wherever there may be one, and looks: plate.go with look.go, ties.go and silicon.go (transistor
//     or capacitor), polarity.go, photodiode.go, floating.go, joints.go (contacts, gaps, supplies, bodies), family.go (sizes),
//     resistor.go with necks.go. What cannot be seen is left out, and is no evidence
//  3. verdict.go   finds the user's answers
//  4. fold.go      makes one draft of those in the same place of the same cell, or, by form.go, of the same shape
//     around.go and around_wires.go ask recognition about what the rest leaves open, in each reading (recognise.Around)
//  5. weights.go   looks up what each observation says, in weights.txt; odds.go adds it up, and finds the next look
//  6. ask.go       names, sorts and leaves out what is decided
//  7. lead.go      finds the leading readings that extraction follows, anchor.go where answers are kept
//  8. told.go      tells roles beside questions: protection.go, dummy.go, and fill.go, which part of its unit cell takes light
//
// # Odds
//
// A reading's weight is its prior and the weights of what was seen, all in decibans, 10·log10 P(seen given reading), added up:
// Bayes' rule, for observations that are independent given the reading. Those that are not share a group, and of each group
// one is weighed, the strongest. Probabilities are the weights normalised; a reading's odds are those against all others.
//
// Groups are not quite independent either, and what is strongest is no random choice. So where weights were counted, what an
// outcome is worth when it is weighed is fitted: the weights are taken that make the readings of all drawings counted most
// likely (count_test.go). They still add up, and say for each outcome what it adds beside all others.
//
// The next look is the observation not made that promises most: the mutual information, in bits, of its outcome and the
// reading under the odds as they are. One that strips or etches something must promise four times as much as one that only traces.
//
// # Where the weights come from
//
// Those of transistor or capacitor were counted on drawings of testdata/ambiguous, seeds 0 to 35,999, as hands of all degrees of
// care trace them, one in four also without contacts (TestCount); TestCalibration holds them against seeds that were not counted. So
// they are those of large gates that are hard to tell, of our own drawing, of which half are capacitors; for small gates between source
// and drain "plain" makes up for that. All others are judgement, and the table says so line by line. The prior is the user's to
// change (Options.Prior).
//
// Time n log n in channels and regions, as long as not everything has one size and lies in one place.
package question
