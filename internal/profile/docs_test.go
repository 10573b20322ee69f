package profile

import (
	"fmt"
	"os"
	"strings"
	"testing"

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
