package web_test

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
)

// topOf is how far below the top of the screen an element stands.
func (b *tab) topOf(selector string) float64 {
	b.t.Helper()
	top, err := strconv.ParseFloat(b.is(fmt.Sprintf(`String(document.querySelector(%q).getBoundingClientRect().top)`, selector)), 64)
	if err != nil {
		b.t.Fatal(err)
	}
	return top
}

// weighed waits until so many readings are on the tape and their suspects are there.
func (b *tab) weighed(n int) {
	b.t.Helper()
	b.until(fmt.Sprintf(`document.querySelectorAll("#tape .tape-line:not(.waiting)").length === %d &&
		!!document.querySelector("#suspects .suspects") && !document.getElementById("pending")`, n))
}

// A reading that comes in, from here or from another device, makes everything anew
// and moves nothing: the keys stay under the finger, what is being typed and what
// was opened stay as they are, where they are.
func TestNothingJumpsWhenAReadingComesIn(t *testing.T) {
	t.Parallel()
	for _, width := range []int64{1280, 400} {
		t.Run(strconv.FormatInt(width, 10), func(t *testing.T) {
			t.Parallel()
			h, b, stored := benchTab(t, width)
			b.do(`document.querySelector("[data-store]").scrollIntoView({ block: "center" })`)
			keys := b.topOf("[data-store]")
			b.keyed("5", ".", "6", "6", "k")
			b.do(`document.querySelector("[data-store]").focus(); document.querySelector("[data-store]").click()`)
			b.until(atHand + ` !== "r17"`)
			if got := b.topOf("[data-store]"); math.Abs(got-keys) > 1.5 {
				t.Errorf("on to the next check the keys move from %.0f to %.0f", keys, got)
			}
			b.weighed(1)
			if got := b.topOf("[data-store]"); math.Abs(got-keys) > 1.5 {
				t.Errorf("with the suspects the keys move from %.0f to %.0f", keys, got)
			}

			b.do(`document.getElementById("rule-out").open = true`)
			b.do(`document.getElementById("mark-finding").open = true`)
			b.do(`{ const f = document.querySelector("[name=findings_words]"); f.value = "half a sen"; f.scrollIntoView({ block: "center" }); f.focus({ preventScroll: true }) }`)
			field := b.topOf("[name=findings_words]")
			volts := 119_900.0
			r := evidence.Reading{ID: uuid.Must(uuid.NewV7()), CheckKey: "r16", State: "cold", Measure: "resistance", Across: "R16", Typed: "119.9k", Value: &volts, TakenAt: h.now()}
			if _, err := h.store.StoreReadings(t.Context(), h.people[ansa].Actor(), stored()[0].TicketID, []evidence.Reading{r}); err != nil {
				t.Fatal(err)
			}
			b.do(`document.dispatchEvent(new Event("visibilitychange"))`) // the page asks whether it is still right
			b.weighed(2)
			if got := b.topOf("[name=findings_words]"); math.Abs(got-field) > 1.5 {
				t.Errorf("with a reading from elsewhere the field moves from %.0f to %.0f", field, got)
			}
			if got := b.is(`document.activeElement.name + ": " + document.activeElement.value`); got != "findings_words: half a sen" {
				t.Errorf("in the field with the focus: %q", got)
			}
			if b.is(`String(document.getElementById("rule-out").open)`) != "true" {
				t.Error("what was opened is closed")
			}
		})
	}
}

// A reading just stored stands on the tape with its unit, before the server has
// answered.
func TestANewLineHasItsUnit(t *testing.T) {
	t.Parallel()
	_, b, _ := benchTab(t, 400)
	b.away(true)
	b.do(`document.getElementById("f-typed").value = "5k66"`)
	b.do(`document.querySelector("[data-store]").click()`)
	b.until(`!!document.querySelector("#tape .waiting")`)
	if got := b.is(`document.querySelector("#tape .waiting .tape-value").textContent.replace(/\s+/g, " ").trim()`); got != "5.66 kΩ" {
		t.Errorf("the tape says %q", got)
	}
	b.away(false)
}

// Another of the proposed readings is taken with one press, without loading the page.
func TestTakingAnother(t *testing.T) {
	t.Parallel()
	_, b, _ := benchTab(t, 400)
	b.do(`document.getElementById("f-typed").value = "41k"`)
	b.do(`document.querySelector("[data-store]").click()`)
	b.weighed(1)
	b.do(`window.same = "this page"`)
	b.do(`document.getElementById("next-others").open = true`)
	other := b.is(`[...document.querySelectorAll("#next-others [data-card]")].map((c) => c.dataset.card).find((id) => document.querySelector('template[data-check="' + id + '"]')?.dataset.bar === "")`)
	b.do(`document.querySelector('#next [data-take="` + other + `"]').click()`)
	b.until(atHand + ` === "` + other + `"`)
	if got := b.is(`window.same + ", " + document.querySelector('#next [data-card="` + other + `"] .taken').hidden`); got != "this page, false" {
		t.Errorf("%q", got)
	}
}
