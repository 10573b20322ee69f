// Command run repairs simulated boards and reports how often the analysis is
// right; it is for those who change the analysis.
//
//	go run ./internal/simulation/run -n 100 -faults 1
package main

import (
	"flag"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"strings"
	"time"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/simulation"
	"ohmstead/profiles"
)

func main() {
	ids := flag.String("profiles", "", "ids of shipped profiles, separated by commas; empty: all")
	n := flag.Int("n", 50, "boards of each profile")
	faults := flag.Int("faults", 1, "planted on each")
	seed := flag.Uint64("seed", 1, "of the first board")
	mismatched := flag.Bool("mismatched", false, "boards that are not as the analysis supposes")
	codes := flag.Bool("codes", false, "look first what the board shows")
	every := flag.Int("every", 0, "in place of drawn faults: every single fault of the profile, or every so manieth")
	verbose := flag.Bool("v", false, "one line a board")
	flag.Parse()

	lib := profile.NewLibrary(profiles.Files, "profiles")
	all, err := lib.IDs()
	if err != nil {
		log.Fatal(err)
	}
	if *ids != "" {
		all = strings.Split(*ids, ",")
	}
	world := simulation.World{Mismatched: *mismatched, Codes: *codes}
	var total simulation.Report
	for _, id := range all {
		p, err := lib.Load(id)
		if err != nil {
			log.Fatal(err)
		}
		t, err := simulation.NewTechnician(p, meter.Default())
		if err != nil {
			log.Fatal(err)
		}
		var report simulation.Report
		start := time.Now()
		take := func(r *simulation.Repair) {
			report.Add(r)
			total.Add(r)
			if *verbose {
				fmt.Println(id, r)
			}
		}
		if *every > 0 {
			for i, d := range t.Every(rand.New(rand.NewPCG(*seed, 11))) {
				if i%*every == 0 {
					take(t.Repair(world, rand.New(rand.NewPCG(*seed+uint64(i), 7)), d))
				}
			}
		} else {
			for i := range *n {
				take(t.RepairDrawn(world, rand.New(rand.NewPCG(*seed+uint64(i), 7)), *faults))
			}
		}
		fmt.Printf("%s (%.1f s)\n", id, time.Since(start).Seconds())
		report.Write(os.Stdout)
	}
	fmt.Println("all profiles")
	total.Write(os.Stdout)
}
