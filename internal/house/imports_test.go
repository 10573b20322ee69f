package house

import (
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "ohmstead"

// room is one package and the packages of the house that it may import. A pure
// room knows neither HTTP nor SQL nor other processes, and only pure rooms.
type room struct {
	pure bool
	may  string
}

// rooms is the plan of the house: arrows point down only. A new package, or a new
// arrow, is a decision: enter it here, and say why where it is not obvious.
var rooms = map[string]room{
	// Kinds of error, values with units, files with positions: everybody's.
	"internal/fault":    {pure: true},
	"internal/quantity": {pure: true, may: "internal/fault"},
	"internal/written":  {pure: true, may: "internal/fault internal/quantity"},
	"internal/marking":  {pure: true, may: "internal/quantity"},

	// The engine. It knows no customers, tickets or money.
	"internal/circuit":   {pure: true, may: "internal/quantity internal/fault"},
	"internal/meter":     {pure: true, may: "internal/circuit internal/fault internal/quantity internal/written"},
	"internal/profile":   {pure: true, may: "internal/circuit internal/fault internal/meter internal/quantity internal/written"},
	"internal/belief":    {pure: true}, // probabilities only
	"internal/goodboard": {pure: true}, // numbers only
	"internal/prior":     {pure: true, may: "internal/profile"},
	"internal/analysis":  {pure: true, may: "internal/belief internal/circuit internal/fault internal/meter internal/prior internal/profile internal/quantity internal/written"},
	"profiles":           {pure: true},

	// An independent simulator to compare the engine with. It knows nothing of it.
	"internal/circuit/spicetest": {},
	// The same for whole boards with a meter on them, drawn by the formats alone.
	"internal/profile/boardtest": {may: "internal/circuit/spicetest internal/meter internal/profile"},

	// Boards made up by the hundred to hold the engine to; run prints what came out.
	"internal/simulation":     {pure: true, may: "internal/analysis internal/circuit internal/meter internal/prior internal/profile internal/quantity"},
	"internal/simulation/run": {may: "internal/meter internal/profile internal/simulation profiles"},

	// The shop. It knows no circuits.
	"internal/staff":          {pure: true, may: "internal/fault"},
	"internal/evidence":       {pure: true, may: "internal/fault internal/quantity internal/staff"},
	"internal/quote":          {pure: true, may: "internal/fault internal/staff"},
	"internal/shop/journal":   {pure: true, may: "internal/fault"},
	"internal/shop":           {pure: true, may: "internal/evidence internal/fault internal/quote internal/shop/journal internal/staff"},
	"internal/shop/past":      {pure: true, may: "internal/quote internal/shop"},
	"internal/quote/estimate": {pure: true, may: "internal/evidence internal/fault internal/quote internal/shop"},
	"internal/password":       {pure: true, may: "internal/fault"},

	// Where shop and engine meet.
	"internal/bench": {pure: true, may: "internal/analysis internal/evidence internal/fault internal/goodboard internal/meter internal/profile internal/quantity internal/shop internal/shop/journal internal/shop/past internal/staff"},
	"internal/demo": {pure: true, may: "internal/analysis internal/bench internal/circuit internal/evidence internal/fault internal/meter internal/profile " +
		"internal/quantity internal/quote internal/quote/estimate internal/shop internal/staff"},

	// Storage: the shop's rules and no engine, so that what it derives can change
	// without touching what was read.
	"migrations":               {},
	"internal/pgserver":        {may: "internal/fault"},
	"internal/pgserver/pgtest": {may: "internal/pgserver migrations"},
	"internal/postgres":        {may: "internal/evidence internal/fault internal/quote internal/shop internal/shop/journal internal/shop/past internal/staff"},

	// Pages: from blocks to pages to the server, never back, and never to storage.
	"web/static": {},
	"web/ui":     {may: "internal/quantity"},
	"web/page": {may: "internal/analysis internal/bench internal/evidence internal/fault internal/marking internal/meter internal/profile internal/quantity internal/quote " +
		"internal/quote/estimate internal/shop internal/shop/journal internal/shop/past internal/staff web/static web/ui"},
	"web": {may: "internal/analysis internal/bench internal/evidence internal/fault internal/marking internal/meter internal/password internal/profile internal/quantity " +
		"internal/quote internal/quote/estimate internal/shop internal/shop/journal internal/shop/past internal/staff web/page web/static web/ui"},

	// The one package that sees everything that is used in earnest.
	"cmd/ohmstead": {may: "*"},

	"internal/house": {},
}

// impure are the packages, with all below them, that a pure room does not know.
var impure = []string{
	"net", "database/sql", "os/exec", "os/signal", "syscall", "html/template",
	"github.com/jackc", "github.com/golang-migrate", "github.com/go-chi", "github.com/a-h/templ", "github.com/chromedp",
}

// harmless are the exceptions: the grammar of addresses, and the interface by which
// a decimal gives itself to any store.
var harmless = []string{"net/mail", "net/netip", "net/url", "database/sql/driver"}

// imported are the imports of one package, each with a file that has it.
type imported struct {
	code  map[string]string
	tests map[string]string
}

// built is the house as it stands, by package.
type built map[string]imported

// add enters the imports of one file.
func (b built) add(name string, src []byte) error {
	f, err := parser.ParseFile(token.NewFileSet(), name, src, parser.ImportsOnly)
	if err != nil {
		return err
	}
	dir := path.Dir(name)
	if b[dir].code == nil {
		b[dir] = imported{map[string]string{}, map[string]string{}}
	}
	into := b[dir].code
	if strings.HasSuffix(name, "_test.go") {
		into = b[dir].tests
	}
	for _, spec := range f.Imports {
		what, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return err
		}
		into[what] = name
	}
	return nil
}

// readHouse parses the imports of all files, for every operating system.
func readHouse(t *testing.T) built {
	t.Helper()
	root := os.DirFS(filepath.Join("..", ".."))
	house := built{}
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if base := d.Name(); d.IsDir() && name != "." && (base == "testdata" || base[0] == '.' || base[0] == '_') {
			return fs.SkipDir
		}
		if d.IsDir() || path.Ext(name) != ".go" {
			return nil
		}
		src, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		return house.add(name, src)
	})
	if err != nil {
		t.Fatal(err)
	}
	return house
}

// breaches lists what the house does against its plan, in words.
func breaches(plan map[string]room, house built) []string {
	var all []string
	for _, name := range slices.Sorted(maps.Keys(house)) {
		r, planned := plan[name]
		if !planned {
			all = append(all, name+" is not in the plan")
			continue
		}
		for what, file := range house[name].code {
			if why := r.forbids(plan, what); why != "" {
				all = append(all, file+" imports "+what+": "+why)
			}
		}
		for what, file := range house[name].tests {
			if name == "web/page" && what == module+"/web" {
				all = append(all, file+" imports "+what+": not even in a test")
			}
		}
	}
	for name := range plan {
		if _, exists := house[name]; !exists {
			all = append(all, name+" is in the plan and does not exist")
		}
	}
	slices.Sort(all)
	return all
}

// forbids says why a room may not import a package, "" when it may.
func (r room) forbids(plan map[string]room, what string) string {
	inner, ours := strings.CutPrefix(what, module+"/")
	if !ours {
		for _, p := range impure {
			if r.pure && !slices.Contains(harmless, what) && (what == p || strings.HasPrefix(what, p+"/")) {
				return "a pure package knows nothing of it"
			}
		}
		return ""
	}
	switch {
	case strings.HasSuffix(inner, "test") && !slices.Contains(strings.Fields(r.may), inner): // see TestPlan
		return "it is for tests only"
	case r.may != "*" && !slices.Contains(strings.Fields(r.may), inner):
		return "no arrow of the plan goes there"
	case r.pure && !plan[inner].pure:
		return "a pure package imports pure packages only"
	}
	return ""
}

func TestImports(t *testing.T) {
	t.Parallel()
	for _, breach := range breaches(rooms, readHouse(t)) {
		t.Error(breach)
	}
}

// Only cmd may see everything, and storage and pages never see each other: the
// plan itself must not allow it.
func TestPlan(t *testing.T) {
	t.Parallel()
	for name, r := range rooms {
		may := strings.Fields(r.may)
		if r.may == "*" && !strings.HasPrefix(name, "cmd/") {
			t.Errorf("%s sees everything", name)
		}
		for _, other := range may {
			if _, exists := rooms[other]; !exists && other != "*" {
				t.Errorf("%s may import %s, which is not in the plan", name, other)
			}
			if strings.HasSuffix(other, "test") && !strings.HasSuffix(name, "test") {
				t.Errorf("%s may import %s: only tests and what is for tests may", name, other)
			}
			if other == "internal/postgres" || other == "web" || strings.HasPrefix(other, "cmd/") {
				t.Errorf("%s may import %s: only cmd may", name, other)
			}
		}
	}
}

// The rules must be able to fail: small houses that break one each.
func TestBreaches(t *testing.T) {
	t.Parallel()
	plan := map[string]room{
		"a":        {pure: true},
		"b":        {pure: true, may: "a"},
		"web":      {may: "a"},
		"web/page": {may: "a"},
		"dbtest":   {may: "a"},
	}
	sound := map[string]string{
		"a/a.go":        `package a; import "fmt"`,
		"b/b.go":        `package b; import "ohmstead/a"`,
		"web/page/p.go": `package page`,
		"web/w.go":      `package web; import ("net/http"; "ohmstead/a")`,
		"dbtest/d.go":   `package dbtest`,
		"b/b_test.go":   `package b; import "ohmstead/dbtest"`,
	}
	for name, c := range map[string]struct{ file, src, want string }{
		"sound":            {"a/more.go", `package a; import "strings"`, ""},
		"upwards":          {"a/bad.go", `package a; import "ohmstead/b"`, "no arrow"},
		"HTTP":             {"a/bad.go", `package a; import "net/http"`, "pure package knows nothing"},
		"SQL":              {"b/bad.go", `package b; import "github.com/jackc/pgx/v5"`, "pure package knows nothing"},
		"other system":     {"a/bad_windows.go", `package a; import "os/exec"`, "pure package knows nothing"},
		"test code":        {"web/bad.go", `package web; import "ohmstead/dbtest"`, "for tests only"},
		"pages to storage": {"web/bad.go", `package web; import "ohmstead/internal/postgres"`, "no arrow"},
		"not in the plan":  {"attic/a.go", `package attic`, "attic is not in the plan"},
		"harmless":         {"a/more.go", `package a; import "net/mail"`, ""},
		"page to server":   {"web/page/bad_test.go", `package page; import "ohmstead/web"`, "not even in a test"},
	} {
		house := built{}
		for file, src := range sound {
			if err := house.add(file, []byte(src)); err != nil {
				t.Fatal(err)
			}
		}
		if err := house.add(c.file, []byte(c.src)); err != nil {
			t.Fatal(err)
		}
		got := breaches(plan, house)
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.Contains(got[0], c.want)) {
			t.Errorf("%s: want %q, got %q", name, c.want, got)
		}
	}
}
