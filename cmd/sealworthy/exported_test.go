package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// saidElsewhere are methods of which an interface of the standard library says all.
var saidElsewhere = []string{"Error", "Unwrap", "Is", "String", "Write", "Read", "Close", "Len", "Less", "Swap",
	"ServeHTTP"}

// Each name that another room can use has a comment: what it is, its units and errors.
func TestExportedNamesHaveComments(t *testing.T) {
	names, fields := 0, 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && strings.HasPrefix(d.Name(), ".") && d.Name() != ".." {
			if err == nil {
				err = filepath.SkipDir
			}
			return err
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, path, nil, parser.ParseComments)
		if err != nil || f.Name.Name == "main" {
			return err
		}
		for _, x := range exportedIn(f) {
			if names++; !x.said {
				t.Errorf("%s: %s has no comment", set.Position(x.at), x.name)
			}
		}
		for _, x := range fieldsIn(f) {
			if fields++; !x.said {
				t.Errorf("%s: the field %s has no comment, and its name doesn't say all", set.Position(x.at), x.name)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if names < 1000 || fields < 2000 {
		t.Errorf("only %d names and %d fields were found", names, fields)
	}
}

// What says all by its name is told from what doesn't.
func TestFieldsThatSayAll(t *testing.T) {
	const src = `package x

// T is one thing. Both Left and Right are lengths, m.
type T struct {
	DrawA       float64
	DrawU       float64
	Amps        float64
	RoomC       *float64
	At          time.Time
	Until       time.Time
	Group       string
	Groups      []string
	Pos         plan.Pos
	Verdict     ClosureVerdict
	Causes      []Cause
	Faults      []Cause
	Left, Right float64
	Seen        int // of Total
	Total       int
	N           int
	inside      int
	More        struct{ Deep bool }
}
`
	f, err := parser.ParseFile(token.NewFileSet(), "x.go", src, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	var unsaid []string
	for _, x := range fieldsIn(f) {
		if !x.said {
			unsaid = append(unsaid, x.name)
		}
	}
	if got, want := strings.Join(unsaid, " "), "T.Amps T.Until T.Groups T.Faults T.N T.More T.Deep"; got != want {
		t.Errorf("unsaid are %s, want %s", got, want)
	}
}

// Fields whose names say all: what is measured with its unit behind it, the names of a
// plan's own words, and what is called as its type is, which says it there.
var (
	withUnit  = regexp.MustCompile(`^[A-Z][a-zA-Z0-9]*[a-z](V|A|W|Ohm|Ohms|S|MM|Mm|C|F|H|Hz|Amps|Volts|Watts)$`)
	planWords = []string{"Name", "Build", "Group", "Closure", "Board", "Joint", "Pace", "Stage"}
	// with these a sentence begins that is of something else
	commonWords = []string{"On", "At", "For", "Of"}
)

func saysAll(name, of string, st *ast.StructType) bool {
	last := of[strings.LastIndexAny(of, "]*.")+1:]
	value, isU := strings.CutSuffix(name, "U")
	switch {
	case slices.Contains([]string{"float64", "*float64", "[]float64"}, of):
		// The standard uncertainty stands beside its value.
		return withUnit.MatchString(name) || isU && value != "" &&
			slices.ContainsFunc([]string{"", "A", "S", "V", "Ohm"},
				func(unit string) bool { return hasField(st, value+unit) })
	case of == "time.Time":
		return name == "At"
	case of == "string":
		return slices.Contains(planWords, name)
	}
	return ast.IsExported(last) && (strings.HasSuffix(last, name) || strings.HasPrefix(of, "[]") && last+"s" == name)
}

func hasField(st *ast.StructType, name string) bool {
	return slices.ContainsFunc(st.Fields.List, func(f *ast.Field) bool {
		return slices.ContainsFunc(f.Names, func(n *ast.Ident) bool { return n.Name == name })
	})
}

// saidOf: the comment names the field.
func saidOf(name string, c *ast.CommentGroup) bool {
	return c != nil && len(name) > 1 && !slices.Contains(commonWords, name) &&
		regexp.MustCompile(`\b`+name+`\b`).MatchString(c.Text())
}

// fieldsIn are the fields that other packages can use. A field is said by a comment of
// its own, by one of its type or of a neighbour that names it, or by its name.
func fieldsIn(f *ast.File) (out []exportedName) {
	var in func(of string, st *ast.StructType, docs ...*ast.CommentGroup)
	in = func(of string, st *ast.StructType, docs ...*ast.CommentGroup) {
		for _, x := range st.Fields.List {
			docs = append(docs, x.Doc, x.Comment)
		}
		for _, x := range st.Fields.List {
			for _, n := range x.Names {
				if n.IsExported() {
					said := x.Doc != nil || x.Comment != nil || saysAll(n.Name, types.ExprString(x.Type), st) ||
						slices.ContainsFunc(docs, func(c *ast.CommentGroup) bool { return saidOf(n.Name, c) })
					out = append(out, exportedName{of + "." + n.Name, n.Pos(), said})
				}
			}
			if deeper, ok := x.Type.(*ast.StructType); ok {
				in(of, deeper)
			}
		}
	}
	for _, d := range f.Decls {
		if g, ok := d.(*ast.GenDecl); ok {
			for _, s := range g.Specs {
				if ts, ok := s.(*ast.TypeSpec); ok && ts.Name.IsExported() {
					if st, ok := ts.Type.(*ast.StructType); ok {
						in(ts.Name.Name, st, g.Doc, ts.Doc)
					}
				}
			}
		}
	}
	return out
}

// exportedName is a name that other packages can use.
type exportedName struct {
	name string
	at   token.Pos
	said bool
}

func exportedIn(f *ast.File) (out []exportedName) {
	add := func(id *ast.Ident, comments ...*ast.CommentGroup) {
		if id.IsExported() {
			out = append(out, exportedName{id.Name, id.Pos(),
				slices.ContainsFunc(comments, func(c *ast.CommentGroup) bool { return c != nil })})
		}
	}
	for _, d := range f.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Recv == nil || ofExported(d.Recv.List[0].Type) && !slices.Contains(saidElsewhere, d.Name.Name) {
				add(d.Name, d.Doc)
			}
		case *ast.GenDecl:
			for _, s := range d.Specs {
				switch s := s.(type) {
				case *ast.TypeSpec:
					add(s.Name, d.Doc, s.Doc, s.Comment)
					if x, ok := s.Type.(*ast.InterfaceType); ok && s.Name.IsExported() {
						out = append(out, methodsIn(s.Name.Name, x, d.Doc, s.Doc)...)
					}
				case *ast.ValueSpec:
					for _, n := range s.Names {
						add(n, d.Doc, s.Doc, s.Comment)
					}
				}
			}
		}
	}
	return out
}

// methodsIn are the methods of an interface. One is said by a comment of its own, by that of
// its interface where it is the only one or is named there.
func methodsIn(of string, x *ast.InterfaceType, docs ...*ast.CommentGroup) (out []exportedName) {
	alone := len(x.Methods.List) == 1
	for _, m := range x.Methods.List {
		for _, n := range m.Names {
			if !n.IsExported() || slices.Contains(saidElsewhere, n.Name) {
				continue
			}
			said := m.Doc != nil || m.Comment != nil || slices.ContainsFunc(docs, func(c *ast.CommentGroup) bool {
				return c != nil && (alone || saidOf(n.Name, c))
			})
			out = append(out, exportedName{of + "." + n.Name, n.Pos(), said})
		}
	}
	return out
}

// ofExported: the type of a receiver is one that other packages can name.
func ofExported(x ast.Expr) bool {
	switch x := x.(type) {
	case *ast.StarExpr:
		return ofExported(x.X)
	case *ast.IndexExpr:
		return ofExported(x.X)
	case *ast.Ident:
		return x.IsExported()
	}
	return false
}
