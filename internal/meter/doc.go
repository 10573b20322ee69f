// Package meter knows the instrument: what it puts into a circuit, what it then
// displays, and how uncertain that is.
//
// A Meter is read from a file (Load) or is one of the shipped ones (Default).
// The package does not know boards, checks or verdicts.
package meter
