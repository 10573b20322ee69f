package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// diagnosed runs the command.
func diagnosed(stdin string, args ...string) (status int, stdout, stderr string) {
	var out, errs bytes.Buffer
	status = runDiagnose(args, strings.NewReader(stdin), &out, &errs)
	return status, out.String(), errs.String()
}

const benchProfile = `format: ohmstead/board-profile/1
id: bench
title: Divider
ground: gnd
parts:
  R1: {kind: resistor, pins: [v5, n], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [n, gnd], value: 10k, tolerance: 1 %}
states:
  live: {hazard: none, sources: [{name: v5, plus: v5, minus: gnd, volts: 5}]}
checks:
  - {id: k1, state: cold, measure: resistance, across: R1}
  - {id: k2, state: cold, measure: resistance, across: R2}
  - {id: k3, state: live, measure: dc_volts, red: n}
indications:
  - {code: 7, shows: seven, limits: [{state: live, node: n, below: 2 V}]}
`

// files writes files into a directory of their own and gives their paths.
func files(t *testing.T, contents map[string]string) func(name string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range contents {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return func(name string) string { return filepath.Join(dir, name) }
}

// The object that the format describes: its keys, the order of the rows, what is
// null.
func TestDiagnoseJSON(t *testing.T) {
	t.Parallel()
	at := files(t, map[string]string{
		"bench.yaml": benchProfile,
		"r.csv":      "check,reading,fitted\nk3,OL,\nk1,\"10,1k\",\n,,R2\nk2,-,\nk1,10.0k,\n",
	})
	status, stdout, stderr := diagnosed("", "--profile", at("bench.yaml"), "--readings", at("r.csv"), "--json")
	if status != exitOK || stderr != "" {
		t.Fatalf("status %d: %s", status, stderr)
	}
	var got struct {
		Profile string
		Table   []map[string]json.RawMessage
		Rest    map[string]json.RawMessage `json:"-"`
	}
	if err := json.Unmarshal([]byte(stdout), &got); err != nil {
		t.Fatal(err)
	}
	if got.Profile != "bench" {
		t.Errorf("profile %q", got.Profile)
	}
	var rows []string
	for _, row := range got.Table {
		var c struct {
			ID string `json:"id"`
		}
		if err := json.Unmarshal(row["check"], &c); err != nil {
			t.Fatal(err)
		}
		rows = append(rows, c.ID+" "+string(row["actual"])+" "+string(row["over_range"]))
		for _, key := range []string{"expected", "can_tell", "verdict", "why"} {
			if _, ok := row[key]; !ok {
				t.Errorf("row %s has no %s", c.ID, key)
			}
		}
	}
	if d := cmp.Diff([]string{"k3 null true", "k1 10100 false", "k1 10000 false"}, rows); d != "" {
		t.Error(d)
	}
	if err := json.Unmarshal([]byte(stdout), &got.Rest); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"table", "suspects", "next"} {
		if !strings.HasPrefix(string(got.Rest[key]), "[") {
			t.Errorf("%s is %s, not a list", key, got.Rest[key])
		}
	}
	var conclusion struct {
		Status string
		Parts  []string
		Why    string
	}
	if err := json.Unmarshal(got.Rest["conclusion"], &conclusion); err != nil {
		t.Fatal(err)
	}
	if conclusion.Status == "" || conclusion.Parts == nil || conclusion.Why == "" {
		t.Errorf("conclusion %+v", conclusion)
	}
}

// Without readings the table is every check of the profile, not read.
func TestDiagnoseUnread(t *testing.T) {
	t.Parallel()
	at := files(t, map[string]string{"bench.yaml": benchProfile})
	status, stdout, stderr := diagnosed("", "--profile", at("bench.yaml"), "--json")
	if status != exitOK {
		t.Fatalf("status %d: %s", status, stderr)
	}
	var got struct {
		Table []struct {
			Check   struct{ ID string }
			Actual  *float64
			Verdict *string
		}
	}
	if err := json.Unmarshal([]byte(stdout), &got); err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, row := range got.Table {
		ids = append(ids, row.Check.ID)
		if row.Actual != nil || row.Verdict != nil {
			t.Errorf("%s was not read and has %v, %v", row.Check.ID, row.Actual, row.Verdict)
		}
	}
	if d := cmp.Diff([]string{"k1", "k2", "k3"}, ids); d != "" {
		t.Error(d)
	}
}

func TestDiagnoseForAPerson(t *testing.T) {
	t.Parallel()
	at := files(t, map[string]string{"bench.yaml": benchProfile, "r.csv": "check,reading\nk1,41.3k\n"})
	status, stdout, stderr := diagnosed("", "--profile", at("bench.yaml"), "--readings", at("r.csv"))
	if status != exitOK {
		t.Fatalf("status %d: %s", status, stderr)
	}
	for _, want := range []string{"Divider (bench)", "generic 6000-count handheld", "across R1", "41.3k", "So far: "} {
		if !strings.Contains(stdout, want) {
			t.Errorf("%q is missing in\n%s", want, stdout)
		}
	}
	if strings.Contains(stdout, "\x1b") {
		t.Errorf("colour without a terminal:\n%s", stdout)
	}
}

func TestDiagnoseInputs(t *testing.T) {
	t.Parallel()
	at := files(t, map[string]string{
		"bench.yaml": benchProfile,
		"child.yaml": "format: ohmstead/board-profile/1\nid: child\nbased_on: bench\nparts: {R1: {value: 22k}}\n",
		"bad.yaml":   "format: ohmstead/board-profile/1\nid: bad\ntitle: x\ncolour: red\n",
		"bad.csv":    "check,reading\nk1,5 V\n",
		"meter.yaml": "format: ohmstead/meter/1\n",
	})
	bench := at("bench.yaml")
	for _, c := range []struct {
		name, stdin string
		args        []string
		status      int
		stderr      string // part of it
	}{
		{"a shipped profile by id", "", []string{"--profile", "sedge-f", "--json"}, 0, ""},
		{"a profile from standard input", benchProfile, []string{"--profile", "-", "--json"}, 0, ""},
		{"one based on a shipped one", "format: ohmstead/board-profile/1\nid: x\nbased_on: sedge-d\n", []string{"--profile", "-", "--json"}, 0, ""},
		{"one based on its neighbour", "", []string{"--profile", at("child.yaml"), "--json"}, 0, ""},
		{"readings from standard input", "check,reading\nk1,10k\n", []string{"--profile", bench, "--readings", "-"}, 0, ""},
		{"a shipped meter by id", "", []string{"--profile", bench, "--meter", "handheld-low-ohms"}, 0, ""},
		{"a known code", "", []string{"--profile", bench, "--code", "7"}, 0, ""},
		{"nothing shown", "", []string{"--profile", bench, "--code", "none"}, 0, ""},
		{"help", "", []string{"--help"}, 0, "--readings FILE"},

		{"no profile", "", nil, 2, "say which board: --profile"},
		{"a flag that there is not", "", []string{"--board", "x"}, 2, "flag provided but not defined"},
		{"a loose word", "", []string{"--profile", bench, "r.csv"}, 2, `"r.csv" is not understood`},
		{"an unknown id", "", []string{"--profile", "sedge-x"}, 2, `no file and no shipped profile "sedge-x"; shipped are `},
		{"an unknown path", "", []string{"--profile", at("no.yaml")}, 2, "no such file"},
		{"a wrong profile", "", []string{"--profile", at("bad.yaml")}, 2, `bad.yaml:4:1: "colour": an unknown key`},
		{"wrong readings", "", []string{"--profile", bench, "--readings", at("bad.csv")}, 2, `bad.csv:2:4: "5 V": a wrong unit`},
		{"no readings there", "", []string{"--profile", bench, "--readings", at("no.csv")}, 2, "no such file"},
		{"a wrong meter", "", []string{"--profile", bench, "--meter", at("meter.yaml")}, 2, "meter.yaml:1:1: name is missing"},
		{"no meter there", "", []string{"--profile", bench, "--meter", "no-such-meter"}, 2, "no such file"},
		{"an unknown code", "", []string{"--profile", bench, "--code", "9"}, 2, `"9"`},
		{"an empty code", "", []string{"--profile", bench, "--code", ""}, 2, "--code is empty"},
		{"standard input twice", "", []string{"--profile", "-", "--readings", "-"}, 2, "standard input"},
	} {
		status, stdout, stderr := diagnosed(c.stdin, c.args...)
		if status != c.status || !strings.Contains(stderr, c.stderr) {
			t.Errorf("%s: status %d, want %d; standard error %q, want %q in it", c.name, status, c.status, stderr, c.stderr)
		}
		if status != exitOK && stdout != "" {
			t.Errorf("%s: standard output %q beside an error", c.name, stdout)
		}
	}
}

// The same question has the same answer, to the byte: which processor solved what
// in which order, and from where, does not show.
func TestDiagnoseTheSameAgain(t *testing.T) {
	t.Parallel()
	readings := "check,reading\nbr1-minus-l,0.57\nr13,845k\nr82,10k\nadv-supply,0.60\nr64,680\nrails-adv,3.27\nlive-bus,385.1\nlive-v5,5.00\n"
	var first string
	for i := range 3 {
		status, stdout, stderr := diagnosed(readings, "--profile", "packhorse-a", "--readings", "-", "--json")
		if status != exitOK {
			t.Fatal(stderr)
		}
		if i == 0 {
			first = stdout
		}
		if d := cmp.Diff(first, stdout); d != "" {
			t.Fatalf("run %d answers otherwise:\n%s", i+1, d)
		}
	}
}
