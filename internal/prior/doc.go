// Package prior says how often parts fail, and how, before anything is measured:
// published failure rates and mode shares as data with their sources, and the
// weight of a fault that follows from them.
//
// It knows kinds of part and modes; it does not know readings or circuits. Its
// figures only order what was not measured yet: rankings must not hinge on which
// of the tables is used, and a test of the analysis holds them to that.
package prior
