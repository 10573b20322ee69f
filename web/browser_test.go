package web_test

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"ohmstead/internal/staff"
)

// tab is a page of a real browser in which somebody has signed in.
type tab struct {
	t    *testing.T
	h    *house
	ctx  context.Context
	keys int // pressed so far
}

// browserAs opens a browser, width pixels wide. Without one the test is skipped
// on a desk and fails in CI.
func (h *house) browserAs(name string, width int64) *tab {
	h.t.Helper()
	path := chromium()
	if path == "" {
		if os.Getenv("CI") == "true" {
			h.t.Fatal("no chromium is installed")
		}
		h.t.Skip("no chromium is installed: what scripts do in a page is not tried")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox)
	ctx, stop := chromedp.NewExecAllocator(h.t.Context(), options...)
	h.t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	h.t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 90*time.Second)
	h.t.Cleanup(stop)
	b := &tab{t: h.t, h: h, ctx: ctx}
	b.run(chromedp.EmulateViewport(width, 800))
	b.signIn(name)
	return b
}

func chromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func (b *tab) signIn(name string) {
	b.t.Helper()
	token := staff.NewToken()
	if _, err := b.h.store.StartSession(b.t.Context(), b.h.people[name].ID, staff.TokenHash(token), nil); err != nil {
		b.t.Fatal(err)
	}
	u, err := url.Parse(b.h.server.URL)
	if err != nil {
		b.t.Fatal(err)
	}
	b.run(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, network.SetCookie, network.SetCookieParams{Name: "ohmstead", Value: token, Domain: u.Hostname()})
		return chromedp.Void{}, err
	})
}

func (b *tab) run(a chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if _, err := chromedp.Run(b.ctx, a); err != nil {
		b.t.Fatal(err)
	}
}

// open goes to an address. A page that is on its way somewhere by itself may
// call that off once.
func (b *tab) open(path string) {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Navigate(b.h.server.URL+path))
	if err != nil && strings.Contains(err.Error(), "ERR_ABORTED") {
		_, err = chromedp.Run(b.ctx, chromedp.Navigate(b.h.server.URL+path))
	}
	if err != nil {
		b.t.Fatalf("%s: %v", path, err)
	}
}

// press presses keys one after the other where the cursor stands, and counts
// them. Each goes down together with its text, as on a keyboard: a page that
// handles the key does not get the text as well.
func (b *tab) press(keys string) {
	b.t.Helper()
	for _, r := range keys {
		events := kb.Encode(r)
		down, up := *events[0], *events[len(events)-1]
		down.Type = input.DispatchKeyEventTypeKeyDown
		if len(events) == 3 {
			down.Text, down.UnmodifiedText = events[1].Text, events[1].UnmodifiedText
		}
		b.run(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
			_, err := cdp.Call(ctx, t, input.DispatchKeyEvent, down)
			if err == nil {
				_, err = cdp.Call(ctx, t, input.DispatchKeyEvent, up)
			}
			return chromedp.Void{}, err
		})
		b.keys++
	}
}

// until waits for a condition of the page, in script; the page may change
// meanwhile.
func (b *tab) until(condition string) {
	b.t.Helper()
	var err error
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		met := false
		if met, err = chromedp.Run(b.ctx, chromedp.Evaluate[bool](condition)); met {
			return
		}
	}
	b.t.Fatalf("waited in vain for %s: %v", condition, err)
}

// is gives the value of an expression of the page, in script.
func (b *tab) is(expression string) string {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// do runs a line of script in the page.
func (b *tab) do(script string) {
	b.t.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[any](script+`; null`)); err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
}
