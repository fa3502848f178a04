package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sealworthy/plots/plain"
)

// The program's own codes come out, in their places.
func TestOutletWritesItsOwnCodes(t *testing.T) {
	var b bytes.Buffer
	o := outletOf(&b)
	k := ink{on: o}
	fmt.Fprint(o, k.bad("! low"), " ", o.up(12), o.own(lineStart), o.own(bell), o.up(0))
	if want := "\x1b[1;31m! low\x1b[0m \x1b[12A\r\a"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
	if outletOf(o) != o {
		t.Error("an outlet of an outlet")
	}
}

// Text from outside can't make them: not by writing them, not by the shape of
// a mark, not by the mark of another outlet.
func TestOutletShowsForeignCodes(t *testing.T) {
	var b bytes.Buffer
	o := outletOf(&b)
	other := outletOf(&b)
	for in, want := range map[string]string{
		"\x1b[31mred\x1b[0m":                     `\u001b[31mred\u001b[0m`,
		"\x1b]0;title\x07\x1b[2J":                `\u001b]0;title\u0007\u001b[2J`,
		other.own(clearBelow):                    `\u001b` + other.lead[1:] + "clearbelowm",
		o.lead + "nothing" + string(markEnd):     `\u001b` + o.lead[1:] + "nothingm",
		o.lead + "up0m":                          `\u001b` + o.lead[1:] + "up0m",
		o.lead:                                   `\u001b` + o.lead[1:],
		"a\rb":                                   `a\u000db`,
		strings.Repeat("A", leadLength) + "good": strings.Repeat("A", leadLength) + "good",
	} {
		b.Reset()
		if n, err := o.Write([]byte(in)); n != len(in) || err != nil || b.String() != want {
			t.Errorf("%q came out as %q, want %q (%d, %v)", in, b.String(), want, n, err)
		}
	}
}

// What is cut and measured is what will be written.
func TestColumnsAreThoseWritten(t *testing.T) {
	var b bytes.Buffer
	o := outletOf(&b)
	k := ink{on: o}
	for s, want := range map[string]int{
		k.good("abc") + o.own(bell): 3, "\x1b[1m": 9, "\u202e": 6, "\xff": 4, "Größe": 5, "\U000e0041": 12,
	} {
		if got := columns(s); got != want {
			t.Errorf("columns(%q) = %d, want %d", s, got, want)
		}
	}
	// A text that imitates a mark is cut by the key.
	fake := outletOf(nil).own(loudInk) + "x"
	if got := o.cut(fake, 4); got != "" {
		t.Errorf("cut %q", got)
	}
	if got := o.cut(k.bad("OUTPUT ON 12.00 V"), 9); got != k.bad("OUTPUT ON") {
		t.Errorf("cut %q", got)
	}
}

// Whatever is written between own codes, no other control comes out.
func FuzzOutlet(f *testing.F) {
	f.Add("see", "\x1b[2J", "\r\n")
	f.Add("\x1b", "\x1bAAAAAAAAAAAAAAAAAAAAAAAAAAgoodm", "\u009b31m")
	f.Fuzz(func(t *testing.T, a, b, c string) {
		var out bytes.Buffer
		o := outletOf(&out)
		k := ink{on: o}
		fmt.Fprint(o, a, k.good(b), o.up(3), c, o.own(bell))
		want := plain.Clean(a) + "\x1b[32m" + plain.Clean(b) + "\x1b[0m\x1b[3A" + plain.Clean(c) + "\a"
		if got := out.String(); got != want {
			t.Fatalf("%q, want %q", got, want)
		}
		line := k.good(b) + a
		if s := o.cut(line, 7); columns(s) > 7 && !strings.Contains(a+b, "\x1b") {
			t.Fatalf("%q was cut to %q", line, s)
		}
	})
}

// outsideOutlet finds what writes to a terminal past the outlet.
var outsideOutlet = regexp.MustCompile(
	`^(os\.(Stdout|Stderr)|fmt\.Print(f|ln)?|log\..*|syscall\.(Stdout|Stderr)|flag\.(PrintDefaults|CommandLine))$`)

// No verb writes past the outlet: the streams of the process are named in main
// alone, which hands them to run, which makes outlets of them.
func TestNothingIsWrittenPastTheOutlet(t *testing.T) {
	set := token.NewFileSet()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			inMain := ok && f.Recv == nil && f.Name.Name == "main"
			ast.Inspect(d, func(n ast.Node) bool {
				what := ""
				switch n := n.(type) {
				case *ast.SelectorExpr:
					if x, ok := n.X.(*ast.Ident); ok {
						what = x.Name + "." + n.Sel.Name
					}
				case *ast.CallExpr:
					if x, ok := n.Fun.(*ast.Ident); ok && (x.Name == "print" || x.Name == "println") {
						t.Errorf("%s: %s", set.Position(n.Pos()), x.Name)
					}
				case *ast.BasicLit:
					if n.Kind == token.STRING && set.Position(n.Pos()).Filename != "outlet.go" &&
						regexp.MustCompile(`\\x1b|\\033|\\u001b|\\a|\\r[^\\]`).MatchString(n.Value) {
						t.Errorf("%s: %s: a code of its own has its name in outlet.go", set.Position(n.Pos()), n.Value)
					}
				}
				if outsideOutlet.MatchString(what) {
					found++
					if !inMain {
						t.Errorf("%s: %s writes past the outlet", set.Position(n.Pos()), what)
					}
				}
				return true
			})
		}
	}
	if found != 2 {
		t.Errorf("main hands over %d streams, want 2", found)
	}
}
