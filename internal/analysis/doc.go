// Package analysis says what readings mean: what a healthy board of a profile
// reads at every check with a given meter (Expectation), whether a reading is
// all right (Verdict), which parts are suspect, which check to make next and
// whether that is enough to conclude.
//
// Everything follows from one idea: a board profile is a circuit, so the meter
// can be put into it and solved, healthy or with a fault, at nominal values or
// anywhere within tolerance. There is no second rule book beside that model.
//
// The package does not know customers, tickets, screens or storage. A Model is
// one profile seen through one meter; it keeps what it has computed and is safe
// for concurrent use. Diagnose is the shortest way in.
package analysis
