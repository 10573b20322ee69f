// Command run repairs simulated boards and reports how often the analysis is
// right; it is for those who change the analysis.
//
//	go run ./internal/simulation/run -n 50 -faults 1,2,3 -slips 0.02 -fixed 0.2 -markdown
//
// The same flags give the same boards and the same report, on any number of
// processors; what the machine needed for it goes to standard error.
package main

import (
	"flag"
	"fmt"
	"log"
	"os"
	"runtime"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/simulation"
	"ohmstead/profiles"
)

// drawn is the word for a number of faults that is itself drawn.
const drawn = "drawn"

// options are the flags.
type options struct {
	profiles, faults  string
	batch             simulation.Batch
	markdown, verbose bool
}

func main() {
	log.SetFlags(0)
	var o options
	flag.StringVar(&o.profiles, "profiles", "", "ids of shipped profiles, separated by commas; empty: all")
	flag.IntVar(&o.batch.Boards, "n", 50, "boards of each profile and number of faults")
	flag.StringVar(&o.faults, "faults", "1", "planted on each board: a list such as 1,2,3; drawn: as many as boards are supposed to have")
	flag.Uint64Var(&o.batch.Seed, "seed", 1, "of the first board")
	flag.BoolVar(&o.batch.World.Mismatched, "mismatched", false, "boards that are not as the analysis supposes")
	flag.BoolVar(&o.batch.World.Codes, "codes", false, "look first what the board shows")
	flag.Float64Var(&o.batch.World.Slips, "slips", 0, "the probability that a reading is a slip")
	flag.BoolVar(&o.batch.World.Twice, "twice", false, "make a reading that no good board shows a second time at once")
	flag.Float64Var(&o.batch.Fixed, "fixed", 0, "for this share of the boards, read them in the profile's order too")
	flag.IntVar(&o.batch.Every, "every", 0, "in place of drawn faults: every single fault of the profile, or every so manieth; lists those not found")
	flag.BoolVar(&o.markdown, "markdown", false, "write the totals as Markdown, with the calibration")
	flag.BoolVar(&o.verbose, "v", false, "one line a board")
	flag.Parse()
	if err := run(o); err != nil {
		log.Fatal(err)
	}
}

func run(o options) error {
	lib := profile.NewLibrary(profiles.Files, "profiles")
	ids, err := lib.IDs()
	if err != nil {
		return err
	}
	if o.profiles != "" {
		ids = strings.Split(o.profiles, ",")
	}
	batches, err := o.batches()
	if err != nil {
		return err
	}
	totals := make([]*simulation.Report, len(batches))
	for k, b := range batches {
		totals[k] = &simulation.Report{Title: title(b)}
	}
	for _, id := range ids {
		p, err := lib.Load(id)
		if err != nil {
			return err
		}
		t, err := simulation.NewTechnician(p, meter.Default())
		if err != nil {
			return err
		}
		o.profile(t, batches, totals)
	}
	o.totals(totals)
	return nil
}

// batches gives one batch for each number of faults that is asked for.
func (o *options) batches() ([]simulation.Batch, error) {
	if o.batch.Every > 0 {
		return []simulation.Batch{o.batch}, nil
	}
	var out []simulation.Batch
	for _, word := range strings.Split(o.faults, ",") {
		b := o.batch
		n, err := strconv.Atoi(word)
		switch {
		case word == drawn:
			b.Faults = simulation.Drawn
		case err != nil || n < 0 || n > 3:
			return nil, fmt.Errorf("-faults %s: want numbers from 0 to 3, or %s", o.faults, drawn)
		default:
			b.Faults = n
		}
		out = append(out, b)
	}
	return out, nil
}

func title(b simulation.Batch) string {
	switch {
	case b.Every > 0:
		return "every single fault"
	case b.Faults == simulation.Drawn:
		return "a drawn number of faults"
	case b.Faults == 1:
		return "1 fault"
	}
	return fmt.Sprintf("%d faults", b.Faults)
}

// profile runs the boards of one profile.
func (o *options) profile(t *simulation.Technician, batches []simulation.Batch, totals []*simulation.Report) {
	start := time.Now()
	bound := t.Bound()
	fmt.Println(t.Profile.ID)
	for k, batch := range batches {
		report := &simulation.Report{Title: title(batch)}
		var b *simulation.Bound
		if batch.Faults == 1 || batch.Every > 0 {
			b = &bound
		}
		repairs := t.Run(batch)
		for _, r := range repairs {
			report.Add(r, b)
			totals[k].Add(r, b)
			if o.verbose {
				fmt.Println(t.Profile.ID, r)
			}
		}
		simulation.Text(os.Stdout, report)
		if batch.Every > 0 {
			fmt.Println()
			simulation.Misses(os.Stdout, t.Profile.ID, repairs)
		}
	}
	n, spent := t.Weighings()
	took := time.Since(start).Seconds()
	fmt.Fprintf(os.Stderr, "%s: %.1f s; %d weighings of %.0f ms, %.0f %% of the time\n", t.Profile.ID, took, n,
		spent.Seconds()*1000/float64(max(n, 1)), 100*spent.Seconds()/took/float64(runtime.GOMAXPROCS(0)))
}

// totals writes the figures of all profiles together.
func (o *options) totals(totals []*simulation.Report) {
	if !o.markdown {
		fmt.Println("all profiles")
		simulation.Text(os.Stdout, totals...)
		return
	}
	fmt.Println()
	simulation.Markdown(os.Stdout, totals...)
	for _, r := range totals {
		first, midway := r.Calibrations()
		for _, c := range []struct {
			when string
			simulation.Calibration
		}{{"at the first conclusion", first}, {"after half of the readings until then", midway}} {
			fmt.Printf("\n%s, %s (mean distance %.3f):\n\n", r.Title, c.when, c.Gap())
			c.Markdown(os.Stdout)
		}
	}
}
