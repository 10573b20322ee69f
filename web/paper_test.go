package web_test

import (
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"ohmstead/internal/shop"
)

// printer is a browser that prints as a person's browser would.
type printer struct {
	t       *testing.T
	v       *visitor
	browser context.Context
}

// newPrinter starts a browser in which the visitor is signed in. Without one, or
// without pdftotext, the test is skipped; with CI=true it fails.
func newPrinter(t *testing.T, v *visitor) *printer {
	t.Helper()
	for _, tools := range [][]string{{"chromium", "chromium-browser", "google-chrome"}, {"pdftotext"}} {
		if !anyInstalled(tools) {
			if os.Getenv("CI") == "true" {
				t.Fatalf("CI=true, but none of %v is installed", tools)
			}
			t.Skipf("none of %v is installed", tools)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx, chromedp.WithAllocatorOptions(chromedp.Flag("headless", true), chromedp.Flag("no-sandbox", true)))
	t.Cleanup(cancel)
	u, err := url.Parse(v.h.server.URL)
	if err != nil {
		t.Fatal(err)
	}
	session := v.client.Jar.Cookies(u)[0]
	set := fmt.Sprintf("document.cookie = %q", session.Name+"="+session.Value+"; path=/")
	if err := chromedp.Do(ctx, chromedp.Navigate(v.h.server.URL+"/healthz")); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[string](set)); err != nil {
		t.Fatal(err)
	}
	return &printer{t: t, v: v, browser: ctx}
}

func anyInstalled(names []string) bool {
	for _, n := range names {
		if _, err := exec.LookPath(n); err == nil {
			return true
		}
	}
	return false
}

// print prints a page and gives the text of each sheet, white space folded.
func (p *printer) print(path string, size chromedp.PaperSize) []string {
	p.t.Helper()
	if err := chromedp.Do(p.browser, chromedp.Navigate(p.v.h.server.URL+path)); err != nil {
		p.t.Fatal(err)
	}
	pdf, err := chromedp.Run(p.browser, chromedp.PrintToPDF(chromedp.PDFPaper(size)))
	if err != nil {
		p.t.Fatal(err)
	}
	if dir := os.Getenv("PAPER_DIR"); dir != "" { // to look at them
		name := strings.ReplaceAll(strings.Trim(path, "/"), "/", "-") + fmt.Sprintf("-%.0f.pdf", size.Height*10)
		if err := os.WriteFile(filepath.Join(dir, name), pdf, 0o600); err != nil {
			p.t.Fatal(err)
		}
	}
	cmd := exec.CommandContext(p.t.Context(), "pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	text, err := cmd.Output()
	if err != nil {
		p.t.Fatal(err)
	}
	var sheets []string
	for _, s := range strings.Split(strings.TrimSuffix(string(text), "\f"), "\f") {
		sheets = append(sheets, strings.Join(strings.Fields(s), " "))
	}
	return sheets
}

// onPaper fails unless the text stands on the sheet.
func onPaper(t *testing.T, sheet string, texts ...string) {
	t.Helper()
	for _, want := range texts {
		if !strings.Contains(sheet, want) {
			t.Errorf("the paper does not say %q; it says:\n%s", want, sheet)
		}
	}
}

// noScreen fails when something of the screen was printed.
func noScreen(t *testing.T, sheet string) {
	t.Helper()
	for _, screen := range []string{"Counter", "Board families", "Sign out", "Find", "Back to", "Print this", "To the content", "http"} {
		if strings.Contains(sheet, screen) {
			t.Errorf("the paper shows %q of the screen:\n%s", screen, sheet)
		}
	}
}

var paperSizes = map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter}

func TestPrintedQuote(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.quoted(k)
	p := newPrinter(t, h.as(mirela))
	for name, size := range paperSizes {
		sheets := p.print(quoteAt(k)+"/1", size)
		if len(sheets) != 1 {
			t.Errorf("%s: %d sheets", name, len(sheets))
		}
		onPaper(t, sheets[0], "Lantern Quay Board Works", "Quernhithe", "Quote 1", "Brook Farm", "DIVIDER 1, serial DV-7",
			"six chips 120k 6 0.10 20 % 0.60", "Replace R13 (open) 0.75 h 54.00 20 % 40.50",
			"Without tax 41.10", "Tax 20 % on 41.10 8.22", "Total EUR, tax included 49.32", "Name and signature", "1/1")
		noScreen(t, sheets[0])
	}
}

// The frozen lines of an ordinary job fit one sheet of either size.
func TestPrintedSlip(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.quoted(k)
	h.moved(k, shop.ToHandOver, "")
	v := h.as(mirela)
	v.post(handOverAt(k), typedHandOver(h, k)).wants(303)
	p := newPrinter(t, v)
	for name, size := range paperSizes {
		sheets := p.print(ticketAt(k)+"/slip/1?done=yes", size)
		if len(sheets) != 1 {
			t.Errorf("%s: %d sheets", name, len(sheets))
		}
		onPaper(t, sheets[0], "Hand-over slip 1", "Handed over repaired to Mrs Brook.", "R13: open, cracked end cap", "R13: 10k 1 % 0603",
			"A good board reads", "10.01", "4.86", "Draught switch", "Guarantee on the repair until", "tested alone", "Name and signature", "€49.32", "1/1")
		noScreen(t, sheets[0])
	}
}

// A quote of many lines goes over two sheets: the head of the table stands on
// both, the total and the signature stay together on the last.
func TestALongQuoteGoesOverTheSheet(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	var rows [][5]string
	for i := range 60 {
		rows = append(rows, [5]string{"part", fmt.Sprintf("part number %d", i+1), "1", "1.50", "S 20"})
	}
	h.as(tobin).post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "send", rows...)).leadsTo(quoteAt(k) + "?done=sent")
	sheets := newPrinter(t, h.as(mirela)).print(quoteAt(k)+"/1", chromedp.PaperA4)
	if len(sheets) < 2 {
		t.Fatalf("%d sheets", len(sheets))
	}
	for i, s := range sheets {
		onPaper(t, s, fmt.Sprintf("%d/%d", i+1, len(sheets)))
		noScreen(t, s)
	}
	onPaper(t, sheets[0], "What for Quantity", "part number 1 ")
	onPaper(t, sheets[1], "What for Quantity")
	onPaper(t, sheets[len(sheets)-1], "Without tax 90.00", "Total EUR, tax included 108.00", "Name and signature") // 60 × 1.50 = 90.00 and 20 %
	if strings.Contains(strings.Join(sheets[:len(sheets)-1], " "), "Total EUR") {
		t.Error("the total stands on a sheet before the last")
	}
}
