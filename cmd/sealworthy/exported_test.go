package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// saidElsewhere are methods of which an interface of the standard library says all.
var saidElsewhere = []string{"Error", "Unwrap", "Is", "String", "Write", "Read", "Close", "Len", "Less", "Swap",
	"ServeHTTP"}

// Each name that another room can use has a comment: what it is, its units and errors.
func TestExportedNamesHaveComments(t *testing.T) {
	names := 0
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
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if names < 1000 {
		t.Errorf("only %d names were found", names)
	}
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
