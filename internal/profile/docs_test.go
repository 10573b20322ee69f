package profile

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/written"
)

// The page for people who write profiles tells the truth: its example loads
// without a doubt, and its limits are the limits.
func TestDocs(t *testing.T) {
	t.Parallel()
	src, err := os.ReadFile("../../docs/files.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(src)
	_, example, _ := strings.Cut(page, "```yaml\n")
	example, _, _ = strings.Cut(example, "```")
	p, err := Load("demo-sense.yaml", []byte(example), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Warnings) > 0 || len(p.Checks) != 4 || p.Indications[0].Code != "2" {
		t.Errorf("%v %+v", written.Errors(p.Warnings), p)
	}
	page = strings.Join(strings.Fields(page), " ")
	for _, limit := range []string{
		fmt.Sprintf("%d KiB a file", written.MaxBytes>>10), fmt.Sprintf("%d values with aliases", written.MaxNodes),
		fmt.Sprintf("%d levels", written.MaxDepth), fmt.Sprintf("%d characters a text", written.MaxText),
		fmt.Sprintf("%d parts, %d points, %d states with %d sources", maxParts, maxPoints, maxStates, maxSources),
		fmt.Sprintf("%d checks, %d blocks with %d places a path, %d indications with %d limits", maxChecks, maxBlocks, maxPath, maxIndications, maxLimits),
		fmt.Sprintf("up to %d deep", maxParents), fmt.Sprintf("first %d errors", written.MaxErrors),
	} {
		if !strings.Contains(page, limit) {
			t.Errorf("the page does not say %q", limit)
		}
	}
}

// The page about computing lists the ways in which each kind fails, all and no
// others, in the order of the table.
func TestDocsModes(t *testing.T) {
	t.Parallel()
	src, err := os.ReadFile("../../docs/how-it-computes.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(src), "## How parts fail\n")
	section, _, _ = strings.Cut(section, "\n\n`high`")
	told := map[Kind][]Mode{}
	for line := range strings.Lines(section) {
		cells := strings.Split(line, "|")
		if len(cells) != 4 || !strings.Contains(cells[2], "`") {
			continue
		}
		var ways []Mode
		for i, word := range strings.Split(cells[2], "`") {
			if i%2 == 1 {
				ways = append(ways, Mode(word))
			}
		}
		for kind := range strings.SplitSeq(cells[1], ",") {
			told[Kind(strings.TrimSpace(kind))] = ways
		}
	}
	if d := cmp.Diff(modes, told); d != "" {
		t.Errorf("(-table +page):\n%s", d)
	}
}
