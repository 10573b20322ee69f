// Package belief weighs hypotheses by evidence and says which test would tell
// them apart best. It knows probabilities, readings as numbers with a common
// covariance, and entropy; it knows no boards, parts or meters.
//
// The steps of a diagnosis, each usable alone:
//
//  1. Numbers.Score gives the likelihood of displayed numbers under one
//     hypothesis, any two of which may be slips (gauss.go);
//  2. Posterior turns priors and likelihoods into probabilities;
//  3. Study foresees tests that were not made: what each would tell about the
//     class that a hypothesis belongs to, in bits, alone or several together,
//     and whether two classes could be told apart at all (study.go).
//
// Choosing the next test by the entropy that it is expected to remove follows
// de Kleer and Williams, Diagnosing multiple faults, Artificial Intelligence 32
// (1987), 97–130.
package belief
