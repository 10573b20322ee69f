package web_test

import (
	"net/http"
	"net/url"
	"testing"
)

// The page is a plain form that anybody signed in may use; what cannot be read
// comes back with what was typed.
func TestMarking(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	for _, name := range []string{mirela, tobin} {
		v := h.as(name)
		v.get("/marking").wants(http.StatusOK).says("What does the print say?", "What can be read")
		v.get("/marking?text=103").wants(http.StatusOK).says("reads in 2 ways", "10 kΩ", "10 nF", "usually ±5 %", "a resistor or a capacitor")
	}
	v := h.as(tobin)
	v.get("/marking?text="+url.QueryEscape("brown black black red brown")).wants(http.StatusOK).says("10 kΩ", "±1 %", "120 Ω", "At which end")
	v.get("/marking?text="+url.QueryEscape(`97C"><evil>`)).wants(http.StatusUnprocessableEntity).says("cannot be read", "Expected:").clean("marking")
	v.get("/marking?text=97C").wants(http.StatusUnprocessableEntity).says("EIA-96 counts from 01 to 96")
	v.get("/marking?text=+").wants(http.StatusOK).says("What can be read")
}
