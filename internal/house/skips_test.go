package house

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// A test that lacks a browser, a database or an oracle may be skipped on a desk and
// must fail in CI, which would otherwise pass while testing nothing. So whoever
// skips asks for CI first; these are the reasons that hold there too.
var soundReasons = []string{
	"only root can change to another account",
	"the full simulation takes half a minute: run without -short",
}

// quietSkips lists the functions in a file that skip without asking for CI.
func quietSkips(name string, src []byte) ([]string, error) {
	f, err := parser.ParseFile(token.NewFileSet(), name, src, 0)
	if err != nil {
		return nil, err
	}
	var found []string
	for _, d := range f.Decls {
		if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil && skips(fn.Body) && !says(fn.Body, `"CI"`) {
			found = append(found, name+": "+fn.Name.Name)
		}
	}
	return found, nil
}

// skips says whether code skips a test for a reason that is not a sound one. A draw
// that a property sets aside is none: rapid fails a property that sets aside too many.
func skips(body ast.Node) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		if draw, ok := n.(*ast.FuncLit); ok && takesDraws(draw) {
			return false
		}
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		method, ok := call.Fun.(*ast.SelectorExpr)
		if !ok || !slices.Contains([]string{"Skip", "Skipf", "SkipNow"}, method.Sel.Name) {
			return true
		}
		sound := slices.ContainsFunc(soundReasons, func(reason string) bool { return says(call, `"`+reason+`"`) })
		found = found || !sound
		return true
	})
	return found
}

// takesDraws says whether a function is the body of a property: func(t *rapid.T).
func takesDraws(fn *ast.FuncLit) bool {
	return slices.ContainsFunc(fn.Type.Params.List, func(p *ast.Field) bool {
		star, ok := p.Type.(*ast.StarExpr)
		if !ok {
			return false
		}
		sel, ok := star.X.(*ast.SelectorExpr)
		return ok && sel.Sel.Name == "T" && fmt.Sprint(sel.X) == "rapid"
	})
}

// says says whether a literal occurs in code.
func says(n ast.Node, literal string) bool {
	found := false
	ast.Inspect(n, func(n ast.Node) bool {
		lit, ok := n.(*ast.BasicLit)
		found = found || ok && lit.Value == literal
		return true
	})
	return found
}

func TestNothingIsSkippedInCI(t *testing.T) {
	t.Parallel()
	root := os.DirFS(filepath.Join("..", ".."))
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(name) != ".go" {
			return err
		}
		if !strings.HasSuffix(name, "_test.go") && !strings.Contains(name, "pgtest/") {
			return nil
		}
		src, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		quiet, err := quietSkips(name, src)
		for _, q := range quiet {
			t.Errorf("%s skips without asking whether CI is \"true\"", q)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestQuietSkips(t *testing.T) {
	t.Parallel()
	for body, want := range map[string]int{
		`t.Skip("no browser")`:  1,
		`s.t.Skipf("no %s", x)`: 1,
		`t.SkipNow()`:           1,
		`if os.Getenv("CI") == "true" { t.Fatal("no browser") }; t.Skip("no browser")`: 0,
		`t.Skip("only root can change to another account")`:                            0,
		`t.Log("Skip")`: 0,
		`rapid.Check(t, func(t *rapid.T) { t.Skip("a draw of no use") })`: 0,
		`t.Run("x", func(t *testing.T) { t.Skip("no browser") })`:         1,
	} {
		got, err := quietSkips("a_test.go", []byte("package a\nfunc f() {\n"+body+"\n}"))
		if err != nil || len(got) != want {
			t.Errorf("%s: %d found (%v), want %d", body, len(got), err, want)
		}
	}
}
