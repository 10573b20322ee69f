package bench

import (
	"fmt"
	"sync"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
)

// Meters are the meters that readings may have been taken with, by the version
// of their description. A reading without a version was taken with the built-in
// default.
type Meters map[uuid.UUID]*meter.Meter

// MetersOf reads the descriptions of the shop's meters. One that cannot be read
// is left out and named in the error, which is of kind fault.Invalid; the others
// are there.
func MetersOf(list []evidence.Instrument) (Meters, error) {
	ms := Meters{}
	var trouble error
	for _, in := range list {
		m, err := meter.Load(in.Name, in.MeterYAML)
		if err != nil {
			trouble = fault.Wrap(err, fault.Invalid, "The description of the meter %s cannot be read.", in.Name)
			continue
		}
		ms[in.MeterVersionID] = m
	}
	return ms, trouble
}

// DefaultMeter is the meter that is assumed when none was chosen.
var DefaultMeter = sync.OnceValue(meter.Default)

// Of gives the meter of a version, nil when it is not known.
func (ms Meters) Of(version *uuid.UUID) *meter.Meter {
	if version == nil {
		return DefaultMeter()
	}
	return ms[*version]
}

// digest tells meters apart by everything that their description says.
func digest(m *meter.Meter) string { return fmt.Sprintf("%+v", *m) }
