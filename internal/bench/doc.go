// Package bench is where shop and engine meet: what somebody keys in at the
// bench becomes a reading (Entry), the readings of a ticket become a judgement
// (Model.Judge), and the gate before cold work and the rules before hot work
// decide what may be measured now (Model.Bar).
//
// It knows profiles, meters, the engine, and evidence as the shop keeps it. It
// does not know storage, HTTP or how a page looks.
package bench
