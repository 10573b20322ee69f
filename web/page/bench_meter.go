package page

import "ohmstead/web/ui"

// MeterChoice says which meter is in hand: what a good board reads depends on it.
type MeterChoice struct {
	Action  string
	Name    string // "M-1, handheld 6000"
	Options []ui.Option
	Chosen  string // of the options
	Warning string // its calibration has run out
}

// meterChoice makes it; without meters of the shop's own there is no choice.
func meterChoice(in BenchInput) MeterChoice {
	c := MeterChoice{Action: BenchAddress(in.Story.Ticket.Number) + "/meter"}
	if in.Meter != nil {
		c.Name = in.Meter.Name
	}
	if len(in.Instruments) > 0 {
		c.Options = append(c.Options, ui.Option{Label: "a generic 6000-count handheld"})
	}
	for _, i := range in.Instruments {
		c.Options = append(c.Options, ui.Option{Value: i.ID.String(), Label: i.Name + ", " + i.MeterName})
	}
	if i := in.Instrument; i != nil {
		c.Chosen, c.Name = i.ID.String(), i.Name+", "+i.MeterName
		if i.CalibratedUntil != nil && i.CalibratedUntil.Before(in.Locale.Today(in.Now)) {
			c.Warning = "The calibration of " + i.Name + " ran out on " + in.Locale.Day(*i.CalibratedUntil) + " " + i.CalibratedUntil.Format("2006") + "."
		}
	}
	return c
}

// meterNames names the meters by the version of their description.
func meterNames(in BenchInput) map[string]string {
	names := map[string]string{}
	for _, i := range in.Instruments {
		names[i.MeterVersionID.String()] = i.Name
	}
	return names
}
