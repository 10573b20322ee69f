// Package spicetest asks an independent circuit simulator for tests: ngspice, in
// batch mode. It writes circuits in the simulator's language by the laws of the
// formats, runs many in one process, and reads what it prints.
//
// It knows nothing of how this project solves a circuit, and only tests use it.
package spicetest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Simulator is the path of ngspice.
type Simulator string

// Find finds the simulator. Without it the test fails in CI and says otherwise
// that it did not run.
func Find(t testing.TB) Simulator {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ngspice is missing; in CI the comparison must run")
		}
		t.Skip("ngspice is not installed: the comparison with an independent simulator did not run")
	}
	return Simulator(path)
}

// Task is a circuit and what is asked of it, in turn.
type Task struct {
	Deck    *Deck
	Options string // beside the usual ones
	Asks    []Ask
}

// Ask is one analysis: what changes before, as in "R3 = 100", what to solve, as
// in "op" or "ac lin 1 50 50", and what to print of it.
type Ask struct {
	Alter []string
	Solve string
	Print []string // expressions, or "all"
}

// Answer is what was printed, by expression. It is nil where the simulator found
// no solution.
type Answer map[string]complex128

// options: the temperature at which kT/q is 25.85 mV, tolerances well below ours.
const options = ".options temp=26.8269 tnom=26.8269 gmin=1e-14 abstol=1e-14 vntol=1e-9 reltol=1e-6 itl1=300"

// Run puts tasks to one process of the simulator and gives their answers, as many
// as each asked for.
func (s Simulator) Run(t testing.TB, tasks []Task) [][]Answer {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var control strings.Builder
	// Without the last line it would look for an operating point by waiting in time
	// for one, which may take minutes.
	control.WriteString("* tasks\nR1 1 0 1\n.control\nset numdgt=12\noptran 0 1 1 0 0 0\n")
	for i, task := range tasks {
		deck := fmt.Sprintf("c%d.cir", i)
		write(deck, fmt.Sprintf("* task %d\n%s%s %s\n.end\n", i, task.Deck, options, task.Options))
		fmt.Fprintf(&control, "source %s\n", deck)
		for k, ask := range task.Asks {
			for _, a := range ask.Alter {
				fmt.Fprintf(&control, "alter %s\n", a)
			}
			// What is left of an older solution must not pass for this one.
			fmt.Fprintf(&control, "destroy all\n%s\necho answer %d %d\n", ask.Solve, i, k)
			for n, p := range ask.Print {
				if p == "all" {
					control.WriteString("print all\n")
				} else {
					fmt.Fprintf(&control, "let asked%d = %s\nprint asked%d\n", n, p, n)
				}
			}
			control.WriteString("echo end\n")
		}
		control.WriteString("remcirc\n")
	}
	control.WriteString("quit\n.endc\n.end\n")
	write("main.cir", control.String())
	var out bytes.Buffer
	cmd := exec.Command(string(s), "-b", "main.cir")
	cmd.Stdout, cmd.Dir = &out, dir // its complaints would break into the lines
	if err := cmd.Run(); err != nil {
		t.Logf("simulator: %v", err) // it also ends so when one task had no solution
	}
	return read(out.String(), tasks)
}

// read finds the answers in what the simulator printed.
func read(out string, tasks []Task) [][]Answer {
	answers := make([][]Answer, len(tasks))
	for i, task := range tasks {
		answers[i] = make([]Answer, len(task.Asks))
	}
	var at Answer
	var asked []string
	for line := range strings.Lines(out) {
		var i, k int
		if n, _ := fmt.Sscanf(line, "answer %d %d", &i, &k); n == 2 {
			at, asked = Answer{}, tasks[i].Asks[k].Print
			answers[i][k] = at
			continue
		}
		name, value, ok := strings.Cut(line, " = ")
		if v, err := number(value); ok && err == nil && at != nil {
			if nth, err := strconv.Atoi(strings.TrimPrefix(name, "asked")); err == nil {
				name = asked[nth]
			}
			at[strings.TrimSpace(name)] = v
		}
		if strings.HasPrefix(line, "end") {
			at = nil
		}
	}
	for i := range answers {
		for k, a := range answers[i] {
			if len(a) == 0 {
				answers[i][k] = nil
			}
		}
	}
	return answers
}

// number reads "1.5" or "1.5,-0.2", a complex one.
func number(text string) (complex128, error) {
	re, im, two := strings.Cut(strings.TrimSpace(text), ",")
	x, err := strconv.ParseFloat(re, 64)
	if err != nil || !two {
		return complex(x, 0), err
	}
	y, err := strconv.ParseFloat(strings.TrimSpace(im), 64)
	return complex(x, y), err
}
