// Package postgres is all of Ohmstead's SQL. One exported method of Store is one
// use case and one transaction; private functions take the transaction.
//
// Methods return errors of package fault for what a person can act on
// (Conflict, NotFound, Forbidden, Invalid) and otherwise wrap the driver's error
// once, with operation and key. Every method that changes something takes the
// staff.Actor who does it and checks the role. Whoever changes a ticket locks its
// row, raises its version and writes one journal entry.
package postgres
