package web_test

import (
	"context"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"ohmstead/internal/evidence"
)

// away takes the browser's network away, or gives it back.
func (b *tab) away(gone bool) {
	b.t.Helper()
	cut := network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{
		{Offline: gone, DownloadThroughput: -1, UploadThroughput: -1}}}
	b.run(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, cut)
		return chromedp.Void{}, err
	})
}

// golden runs a script over a golden file of testdata/bench; the script leaves
// what is wrong, as lines of text, in window.wrong.
func (b *tab) golden(file, script string) {
	b.t.Helper()
	src, err := os.ReadFile("../testdata/bench/" + file)
	if err != nil {
		b.t.Fatal(err)
	}
	text, err := json.Marshal(string(src))
	if err != nil {
		b.t.Fatal(err)
	}
	b.do(`window.wrong = null; import("/static/verdict.js").then((script) => { const golden = JSON.parse(` + string(text) + `); const wrong = []; ` +
		script + `; window.wrong = wrong.join("\n"); window.tried = String(wrong.tried); }).catch((e) => { window.wrong = "" + e })`)
	b.until(`window.wrong !== null`)
	if wrong := b.is(`window.wrong`); wrong != "" {
		b.t.Errorf("%s: the script answers otherwise than Go:\n%s", file, wrong)
	}
}

// What the page says without the network is what the server says with it.
func TestScriptAnswersAsGoDoes(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	b := h.browserAs(tobin, 1280)
	b.open("/bench")
	b.golden("typed.json", `for (const c of golden) {
		const v = script.parse(c.text, c.unit);
		const same = c.refused ? !!v.problem : c.over ? v.over === true : v.number === c.number && v.digit === c.digit && !v.over;
		if (!same) wrong.push(JSON.stringify(c) + " gives " + JSON.stringify(v));
	}`)
	b.golden("verdicts.json", `let left = 0;
	for (const c of golden.cases) {
		const check = golden.table.checks.find((k) => k.id === c.check);
		const v = script.parse(c.typed, check.unit);
		const got = v.problem ? "refused" : script.verdict(golden.table, check, v, { moving: c.moving, residue: c.residue });
		if (got === "" && c.coarse) left++;
		else if (got !== c.verdict) wrong.push(JSON.stringify(c) + " gives " + got);
	}
	if (left > golden.cases.length / 5) wrong.push(left + " verdicts are left to the server")`)
}

// benchTab is the pump board's bench in a browser, proven dead just now.
func benchTab(t *testing.T, width int64) (*house, *tab, func() []evidence.Reading) {
	t.Helper()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.clock.Store(0) // the browser goes by the clock on the wall
	h.proven(k)
	b := h.browserAs(tobin, width)
	b.open("/tickets/1/bench?check=r17")
	b.until(`document.documentElement.dataset.queue === "ready"`)
	return h, b, func() []evidence.Reading { return h.story(k).Readings }
}

// keyed presses the keys on the page with a finger, one tap each.
func (b *tab) keyed(keys ...string) {
	b.t.Helper()
	for _, k := range keys {
		b.do(`document.querySelector('[data-key="` + k + `"]').click()`)
	}
}

const atHand = `document.querySelector("#reading").elements.check.value`

func TestSixTapsAndThePageMovesOn(t *testing.T) {
	t.Parallel()
	_, b, stored := benchTab(t, 1280)
	b.keyed("5", ".", "6", "6", "k")
	if got := b.is(`document.getElementById("f-typed").value`); got != "5.66k" {
		t.Fatalf("five taps typed %q", got)
	}
	b.do(`document.querySelector("[data-store]").click()`) // the sixth
	b.until(`document.getElementById("said").textContent.includes("5.66 kΩ, not bad")`)
	b.until(atHand + ` !== "r17"`)
	b.until(`document.querySelectorAll("#tape .tape-line").length === 1 && document.getElementById("tape").textContent.includes("not bad")`)
	b.until(`!document.querySelector("#tape .waiting") && document.getElementById("queue").hidden`)
	for end := time.Now().Add(5 * time.Second); len(stored()) == 0 && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
	}
	rs := stored()
	if len(rs) != 1 || *rs[0].Value != 5660 || rs[0].DeviceSeq != 1 || rs[0].ID.Version() != 7 {
		t.Fatalf("stored: %+v", rs)
	}
	b.until(`document.querySelector("#table .expected-table").textContent.includes("5.66")`) // the server's view came in
	if got := b.is(`document.getElementById("f-typed").value`); got != "" {
		t.Errorf("the field still says %q", got)
	}
	// One tap agrees.
	b.do(`document.querySelector("button.agrees").click()`)
	b.until(`document.querySelectorAll("#tape .tape-line").length === 2`)
	// A keyboard types from anywhere, Enter stores.
	b.do(`document.activeElement.blur()`)
	was := b.is(atHand)
	b.press("OL")
	if got := b.is(`document.getElementById("f-typed").value`); got != "OL" {
		t.Errorf("the keyboard typed %q", got)
	}
	b.press("\r")
	b.until(atHand + ` !== "` + was + `"`)
	b.until(`!document.querySelector("#tape .waiting") && document.querySelectorAll("#tape .tape-line").length === 3`)
}

func TestWrongDigitsStayInTheField(t *testing.T) {
	t.Parallel()
	_, b, stored := benchTab(t, 1280)
	b.do(`document.getElementById("f-typed").value = "6.78x"`)
	b.do(`document.querySelector("[data-store]").click()`)
	b.until(`document.getElementById("typed-problem").textContent.includes("6.78x")`)
	if got := b.is(`document.getElementById("f-typed").value`); got != "6.78x" {
		t.Errorf("the field says %q", got)
	}
	if n := len(stored()); n != 0 {
		t.Errorf("%d readings are stored", n)
	}
}

// Without the network readings are kept on the tablet, judged by the table that
// came with the page, survive a reload, and are sent once when it is back.
func TestReadingsWaitForTheNetwork(t *testing.T) {
	t.Parallel()
	_, b, stored := benchTab(t, 400)
	b.away(true)
	for _, typed := range []string{"5.66k", "41k"} {
		b.do(`document.getElementById("f-typed").value = "` + typed + `"`)
		was := b.is(atHand)
		b.do(`document.querySelector("[data-store]").click()`)
		b.until(atHand + ` !== "` + was + `"`)
	}
	b.until(`document.querySelectorAll("#tape .waiting").length === 2`)
	tape := b.is(`document.getElementById("tape").textContent.replace(/\s+/g, " ")`)
	for _, want := range []string{"stored here, not sent yet", "not bad", "bad"} {
		if !strings.Contains(tape, want) {
			t.Errorf("the tape without network says %q, not %q", tape, want)
		}
	}
	b.until(`document.getElementById("queue").textContent.includes("2 readings stored on this device")`)
	if n := len(stored()); n != 0 {
		t.Fatalf("%d readings came through a cut wire", n)
	}
	b.away(false)
	b.open("/tickets/1/bench?check=r17") // a reload: what waits is still there, and goes out
	b.until(`document.documentElement.dataset.queue === "ready"`)
	b.until(`document.getElementById("queue").hidden && document.querySelectorAll("#tape .tape-line").length === 2`)
	rs := stored()
	if len(rs) != 2 || rs[0].Typed != "5.66k" || rs[1].Typed != "41k" || rs[0].DeviceSeq+1 != rs[1].DeviceSeq {
		t.Errorf("stored: %+v", rs)
	}
	if got := b.is(`String(document.documentElement.scrollWidth)`); got != "400" {
		t.Errorf("the page is %s wide on a screen of 400", got)
	}
}

func TestSignedOutLosesNothing(t *testing.T) {
	t.Parallel()
	h, b, stored := benchTab(t, 1280)
	if err := h.store.EndSessionsOf(t.Context(), h.people[ansa].Actor(), h.people[tobin].ID); err != nil {
		t.Fatal(err)
	}
	b.do(`document.getElementById("f-typed").value = "5.66k"`)
	b.do(`document.querySelector("[data-store]").click()`)
	b.until(`document.getElementById("queue").textContent.includes("You are signed out. 1 reading stored on this device")`)
	b.signIn(tobin)
	b.open("/tickets/1/bench")
	b.until(`document.getElementById("queue").hidden && document.querySelectorAll("#tape .tape-line").length === 1`)
	if rs := stored(); len(rs) != 1 || rs[0].Typed != "5.66k" {
		t.Errorf("stored: %+v", rs)
	}
}

// The keys are as large as a finger with flux on it needs, and nothing on the
// page calls a board proven when the reading is too old.
func TestKeysAndEdge(t *testing.T) {
	t.Parallel()
	_, b, _ := benchTab(t, 400)
	small := b.is(`[...document.querySelectorAll(".keypad button, .press, .agrees")].filter((k) => !k.hidden && k.getClientRects().length)
		.filter((k) => { const r = k.getBoundingClientRect(); return r.width < 56.6 || r.height < 56.6; }).map((k) => k.textContent.trim()).join(", ")`)
	if small != "" {
		t.Errorf("keys smaller than 15 mm: %s", small)
	}
	if got := b.is(`document.getElementById("edge-words").textContent`); got != "READ 0.03 V, 0 min ago" {
		t.Errorf("the edge says %q", got)
	}
	b.until(`!document.getElementById("pending")`) // while suspects come, the server is asked and tells the true time
	b.do(`document.getElementById("edge").dataset.lapses = String(Date.now() - 1)`)
	b.until(`document.getElementById("edge-words").textContent === "UNPROVEN" && document.getElementById("edge").classList.contains("unproven")`)
	b.until(`document.getElementById("fallen") !== null`)
}
