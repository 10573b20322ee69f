// Package circuit solves small electrical networks as they are met on a control
// board: resistors, junctions, op-amps, regulators, supplies with limits.
//
// It knows nodes, elements and their laws; it does not know parts, tolerances,
// meters or what a reading means.
//
// # Method
//
// The unknowns are the node volts and the currents of elements that fix a volt
// (sources, op-amp outputs, regulators): modified nodal analysis. A Solver
//
//  1. sorts the nodes into islands, between which no current can flow, gives
//     each island a datum (Circuit.Datum, else its first node) and finds the
//     groups of nodes that resistors hold together (topology.go);
//  2. stamps the resistors once and, in each step of Newton's method, every bent
//     element at its present point (work.go, newton.go), factors the matrix by
//     sparse LU, planned with partial pivoting and followed for as long as the
//     pivots serve (plan.go, lu.go), and takes the new point, held back where a
//     junction would run away (junction.go);
//  3. elements with corners (limits of a supply, a saturated op-amp, a switching
//     transistor) are in one of a few conditions, each linear, and change to a
//     neighbouring one until all agree with the solution;
//  4. if that does not settle, starts anew with conductances beside every
//     junction that shrink to nothing, then with sources that grow from nothing;
//  5. if that fails too, returns an *Unsolved that names nodes and residual.
//
// A group that only reverse junctions hold has its own equation, the sum over
// its nodes, in which the currents inside the group are never written down, so a
// leakage of 1e-14 S is not lost beside a shunt of 1000 S. The volts of such a
// group still mean nothing: Levels tells them as an interval between the
// junctions that would catch it, never as a number.
//
// The derivative of a voltage by every parameter takes one more solve, with the
// transposed factors (adjoint.go). Sinusoidal solutions about the operating
// point are in ac.go, the charging of capacitors in settle.go.
package circuit
