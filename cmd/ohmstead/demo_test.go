package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// demoRun is a demo running in this process.
type demoRun struct {
	url, secret string
	said        string
	end         func() int
}

func startDemo(t *testing.T, args ...string) demoRun {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	out, in := io.Pipe()
	ended := make(chan int, 1)
	var errs strings.Builder
	go func() {
		ended <- run(ctx, console{
			args:   append([]string{"demo"}, args...),
			getenv: func(string) string { return "" },
			stdin:  strings.NewReader(""), stdout: in, stderr: &errs,
		})
		in.Close()
	}()
	d := demoRun{end: sync.OnceValue(func() int { cancel(); return <-ended })}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		line := strings.TrimSpace(lines.Text())
		d.said += line + "\n"
		if strings.HasPrefix(line, "http://") {
			d.url = line
		}
		if _, after, ok := strings.Cut(line, "password  "); ok {
			d.secret, _, _ = strings.Cut(after, "  as")
		}
		if strings.HasPrefix(line, "Ctrl-C") {
			return d
		}
	}
	code := d.end()
	if strings.Contains(errs.String(), "no usable PostgreSQL") && os.Getenv("CI") != "true" {
		t.Skip(errs.String())
	}
	t.Fatalf("the demo ended with %d: %s", code, &errs)
	return d
}

// The address and the password that the demo prints open the shop, and nothing is
// left of it afterwards. What killed demos have left goes as well. It changes
// TMPDIR, so it runs alone.
func TestDemo(t *testing.T) {
	tmp := filepath.Dir(dataFor(t))
	t.Setenv("TMPDIR", tmp)
	stale := filepath.Join(tmp, demoDirs+"1")
	if err := os.MkdirAll(filepath.Join(stale, "postgres"), 0o711); err != nil {
		t.Fatal(err)
	}
	long := time.Now().Add(-time.Hour)
	if err := os.Chtimes(stale, long, long); err != nil {
		t.Fatal(err)
	}
	d := startDemo(t)
	defer d.end()
	if _, err := os.Stat(stale); err == nil {
		t.Error("a stale demo directory was not removed")
	}
	for _, want := range []string{"front desk", "technician", "owner"} {
		if !strings.Contains(d.said, want) {
			t.Errorf("no %s among those who can sign in:\n%s", want, d.said)
		}
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar, Timeout: 20 * time.Second}
	r, err := browser.PostForm(d.url+"/sign-in", url.Values{"name": {"Mirela"}, "password": {d.secret}})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	page, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != http.StatusOK || r.Request.URL.Path != "/counter" || !strings.Contains(string(page), "Lantern Quay Board Works") {
		t.Errorf("signing in as printed leads to %s, %d", r.Request.URL, r.StatusCode)
	}

	// A second one beside it takes the next port and leaves the first alone.
	_, port, _ := strings.Cut(strings.TrimPrefix(d.url, "http://"), ":")
	if err := os.Chtimes(onlyDir(t, tmp), long, long); err != nil {
		t.Fatal(err)
	}
	beside := startDemo(t, "--listen", fmt.Sprintf("127.0.0.1:%s", port), "--password", "eight copper cats")
	defer beside.end()
	if beside.url == d.url || beside.secret != "eight copper cats" {
		t.Errorf("the second demo is at %s with password %q", beside.url, beside.secret)
	}
	if status, _, _ := get(t, d.url+"/healthz"); status != http.StatusOK {
		t.Errorf("the first demo answers %d after the second has begun", status)
	}
	for _, run := range []demoRun{beside, d} {
		if code := run.end(); code != exitOK {
			t.Errorf("exit code %d", code)
		}
	}
	if left, _ := os.ReadDir(tmp); len(left) > 0 {
		t.Errorf("%s is left behind", left[0].Name())
	}
}

// onlyDir is the one directory in dir.
func onlyDir(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 {
		t.Fatalf("%d entries in %s (%v)", len(entries), dir, err)
	}
	return filepath.Join(dir, entries[0].Name())
}
