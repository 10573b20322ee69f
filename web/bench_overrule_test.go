package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
)

// suspects is what the page says once it has weighed the readings.
func (v *visitor) suspects() string {
	v.h.t.Helper()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		got := v.get("/tickets/1/bench").part("suspects")
		if !strings.Contains(got, "being worked out") || time.Now().After(end) {
			return got
		}
	}
}

// Somebody who knows better rules a part out, with a reason; it stands there with
// the name, is no suspect, and can be taken back.
func TestRulingOut(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check=r17"), "r17", "41.3k")).wants(http.StatusSeeOther)
	if got := v.suspects(); !strings.Contains(got, "R17") {
		t.Fatalf("41.3 k where 6.8 k belongs, and the suspects are %q", got)
	}
	id := newKey()
	form := url.Values{"id": {id}, "check": {"r17"}, "key": {"R17"}, "part": {"R17"}, "reason": {" "}}
	v.post("/tickets/1/bench/overrule", form).wants(http.StatusUnprocessableEntity).says("Say how you know")
	form.Set("reason", "lifted: it reads 6.8 k")
	for range 2 { // sent twice it is stored once
		v.post("/tickets/1/bench/overrule", form).leadsTo("/tickets/1/bench?check=r17#suspects")
	}
	st := h.story(k)
	if len(st.Overrules) != 1 || st.Overrules[0].PersonID != h.people[tobin].ID {
		t.Fatalf("%+v", st.Overrules)
	}
	got := v.suspects()
	if !strings.Contains(got, "R17 ruled out by Tobin") || !strings.Contains(got, "lifted: it reads 6.8 k") || strings.Contains(got, "R17 high") {
		t.Errorf("ruled out, the page says %q", got)
	}
	back := "/tickets/1/bench/overrules/" + st.Overrules[0].ID.String() + "/withdraw"
	v.post(back, url.Values{"reason": {""}, "check": {"r17"}}).wants(http.StatusUnprocessableEntity)
	v.post(back, url.Values{"reason": {"it was R18"}, "check": {"r17"}}).wants(http.StatusSeeOther)
	if got := v.suspects(); strings.Contains(got, "ruled out by") || !strings.Contains(got, "R17 high") {
		t.Errorf("taken back, the page says %q", got)
	}
	v.get("/tickets/1").says("Tobin ruled R17 out as the cause", "Tobin took back an overruling")
}

// Another verdict on a reading stands beside the profile's, and the reading is not
// weighed any more.
func TestAnotherVerdict(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check=r17"), "r17", "41.3k")).wants(http.StatusSeeOther)
	at := "/tickets/1/readings/" + h.story(k).Readings[0].ID.String() + "/overrule"
	v.post(at, url.Values{"id": {newKey()}, "verdict": {"perhaps"}, "reason": {"x"}}).wants(http.StatusUnprocessableEntity).says("Say whether the reading is bad or not bad.")
	v.post(at, url.Values{"id": {newKey()}, "verdict": {"not_bad"}, "reason": {"a later type has 39 k"}}).wants(http.StatusSeeOther)
	v.post(at, url.Values{"id": {newKey()}, "verdict": {"bad"}, "reason": {"no, it is"}}).wants(http.StatusConflict)
	got := v.get("/tickets/1/bench").part("tape")
	if !strings.Contains(got, "not bad") || !strings.Contains(got, "Tobin says not bad: a later type has 39 k.") || !strings.Contains(got, "The profile would say bad.") {
		t.Errorf("the tape says %q", got)
	}
	if got := v.suspects(); strings.Contains(got, "R17 high") {
		t.Errorf("the reading is still weighed: %q", got)
	}
}

// Who decides on another cause than the readings say gives a reason; who agrees
// presses one button.
func TestDecidingOtherwiseNeedsAReason(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	for _, c := range [][2]string{{"r12", "807k"}, {"r13", "119.9k"}, {"r12", "807k"}} {
		h.later(time.Second)
		v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check="+c[0]), c[0], c[1])).wants(http.StatusSeeOther)
	}
	if got := v.suspects(); !strings.Contains(got, "Found: R12.") {
		t.Fatalf("the suspects are %q", got)
	}
	other := url.Values{"id": {newKey()}, "check": {"r12"}, "findings_part": {"R18"}, "findings_mode": {"open"}}
	v.post("/tickets/1/bench/findings", other).wants(http.StatusUnprocessableEntity).says("The readings say R12. Say why you decide on R18")
	v.post("/tickets/1/bench/findings", with(other, "findings_words", "its cap is cracked")).leadsTo("/tickets/1/bench?check=r12#findings")
	agree := url.Values{"id": {newKey()}, "check": {"r12"}, "findings_part": {"R12"}, "findings_mode": {"open"}}
	v.post("/tickets/1/bench/findings", agree).leadsTo("/tickets/1/bench?check=r12#findings")
	if got := v.suspects(); !strings.Contains(got, "R12 stands confirmed by Tobin") {
		t.Errorf("%q", got)
	}
}
