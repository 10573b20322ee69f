// Package house holds no code, only the tests that keep the rules of the house:
// who may know whom.
package house
