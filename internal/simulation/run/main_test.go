package main

import (
	"strings"
	"testing"
)

// What -faults takes, and what its columns are called.
func TestBatches(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		faults string
		every  int
		want   string // the titles; an error's text when it starts with "-"
	}{
		{"1", 0, "1 fault"},
		{"0,1,2,3", 0, "0 faults; 1 fault; 2 faults; 3 faults"},
		{"drawn", 0, "a drawn number of faults"},
		{"2", 5, "every single fault"},
		{"4", 0, "-faults 4: want numbers from 0 to 3, or drawn"},
		{"-1", 0, "-faults -1: want numbers from 0 to 3, or drawn"},
		{"one", 0, "-faults one: want numbers from 0 to 3, or drawn"},
	} {
		o := options{faults: c.faults}
		o.batch.Every = c.every
		batches, err := o.batches()
		var titles []string
		for _, b := range batches {
			titles = append(titles, title(b))
		}
		got := strings.Join(titles, "; ")
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// A profile that is not there is an error, not a report.
func TestUnknownProfile(t *testing.T) {
	t.Parallel()
	if err := run(options{profiles: "no-such-board", faults: "1"}); err == nil {
		t.Error("no error")
	}
}
