package capture_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// unguarded are the only functions that may start a goroutine other than through
// a guard or instruments.Go, and why.
var unguarded = map[string]string{
	"instruments/guarded.go Go":             "the guarded way itself: it catches panics",
	"instruments/clock/simulated.go Go":     "simulated time: no real output hangs on it",
	"instruments/clock/pace.go allows":      "simulated time: no real output hangs on it",
	"instruments/clock/wall.go Go":          "the clock's own way, for whoever catches panics himself",
	"capture/guard.go offOnce":              "a party of the clock; it catches panics itself",
	"capture/guard.go offFromOutside":       "a party of the clock; it catches panics itself",
	"cmd/sealworthy/rig_control.go operate": "a simulated bench in a process of its own: no real output hangs on it",
}

// starters are who starts goroutines under a guard, as they are called; o.Go is
// the Runner that a record is opened with.
var starters = []string{"instruments.Go", "guard.Go", "e.guard.Go", "s.guard.Go", "s.Guard.Go", "g.Go", "o.Go"}

// What lives while an output is on stands under the guard: nothing in capture,
// the record, the drivers, the clock and the faces starts a goroutine, or a
// timer's call, in any other way.
func TestGoroutinesStandUnderTheGuard(t *testing.T) {
	found := map[string]bool{}
	files := 0
	for _, room := range []string{"capture", "instruments", "cmd/sealworthy"} {
		root := filepath.Join("..", filepath.FromSlash(room))
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			rel := filepath.ToSlash(strings.TrimPrefix(path, ".."+string(filepath.Separator)))
			if d.IsDir() {
				// The rig and the suite are benches of tests.
				if slices.Contains([]string{"instruments/rig", "instruments/suite", "cmd/sealworthy/testdata"}, rel) {
					return filepath.SkipDir
				}
				return nil
			}
			if !strings.HasSuffix(rel, ".go") || strings.HasSuffix(rel, "_test.go") {
				return nil
			}
			files++
			for _, x := range startsIn(t, path) {
				where := rel + " " + x.function
				if found[where] = true; unguarded[where] == "" {
					t.Errorf("%s:%d: %s starts a goroutine beside the guard (%s): start it with Guard.Go or "+
						"instruments.Go", rel, x.line, x.function, x.how)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 80 {
		t.Errorf("only %d files were looked at", files)
	}
	for where := range unguarded {
		if !found[where] {
			t.Errorf("%s starts none any more: take it off the list", where)
		}
	}
}

type start struct {
	function, how string
	line          int
}

// startsIn finds what starts a goroutine in a file in a way that isn't guarded.
func startsIn(t *testing.T, path string) []start {
	t.Helper()
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	return startsOf(set, file)
}

func startsOf(set *token.FileSet, file *ast.File) (out []start) {
	for _, x := range file.Imports {
		if strings.Contains(x.Path.Value, "errgroup") {
			out = append(out, start{"import", x.Path.Value, set.Position(x.Pos()).Line})
		}
	}
	for _, d := range file.Decls {
		name := "var"
		if f, ok := d.(*ast.FuncDecl); ok {
			name = f.Name.Name
		}
		ast.Inspect(d, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				out = append(out, start{name, "go statement", set.Position(n.Pos()).Line})
			case *ast.SelectorExpr:
				how := spelled(n)
				if (n.Sel.Name == "Go" || n.Sel.Name == "AfterFunc") && !slices.Contains(starters, how) {
					out = append(out, start{name, how, set.Position(n.Pos()).Line})
				}
			}
			return true
		})
	}
	return out
}

// spelled is a selector as it is written.
func spelled(n ast.Expr) string {
	switch n := n.(type) {
	case *ast.SelectorExpr:
		return spelled(n.X) + "." + n.Sel.Name
	case *ast.Ident:
		return n.Name
	}
	return "…"
}

// The test above finds what it is to find.
func TestUnguardedStartsAreFound(t *testing.T) {
	for src, want := range map[string]int{
		"go f()":                                      1,
		"go func() { go f() }()":                      2,
		"var w sync.WaitGroup; w.Go(f)":               1,
		"time.AfterFunc(time.Second, f)":              1,
		"stop := context.AfterFunc(ctx, f); _ = stop": 1,
		"start := time.AfterFunc; _ = start":          1,
		"c.Go(f)":                                     1,
		"e.b.Clock.Go(f)":                             1,
		"guard.Go(f, nil); instruments.Go(f, nil)":    0,
	} {
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, "x.go", fmt.Sprintf("package x\nfunc y() {\n%s\n}\n", src),
			parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		if got := startsOf(set, file); len(got) != want {
			t.Errorf("%q: found %+v, want %d", src, got, want)
		}
	}
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "x.go", "package x\nimport \"golang.org/x/sync/errgroup\"\n",
		parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	if got := startsOf(set, file); len(got) != 1 {
		t.Errorf("an errgroup: found %+v", got)
	}
}
