package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// otherQuotes finds a name in quotes other than "": a value between single ones, one set into them by hand, and
// those of a typesetter.
var otherQuotes = regexp.MustCompile(`'%[-+# 0-9.]*[sqvdgf]|^'$|[ (:]'$|^'[ ,.:;?!)]|'\{\{|[“”„‘’«»]|&[lr][sd]quo;`)

// readsQuotes are files that take other quotes for plain ones, or write them for another reader than a person.
var readsQuotes = []string{"compare/plan/syntax.go", "compare/look/tokens.go", "plots/letters.go",
	"instruments/rig/bench.go"}

// Names of a maker's own stand in one kind of quotes, whoever says them: a sentence of the terminal, of a page or of
// the sheet is the same sentence.
func TestOneKindOfQuotes(t *testing.T) {
	t.Parallel()
	root := "../.."
	read := 0
	for _, part := range []string{"cmd", "plots", "compare", "capture", "instruments"} {
		must(t, filepath.WalkDir(filepath.Join(root, part), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			name, err := filepath.Rel(root, path)
			if err != nil || slices.Contains(readsQuotes, filepath.ToSlash(name)) {
				return err
			}
			var texts []string
			switch {
			case strings.HasSuffix(path, "_test.go"):
			case strings.HasSuffix(path, ".go"):
				texts, err = literals(path)
			case strings.HasSuffix(path, ".html"), strings.HasSuffix(path, ".txt") && strings.Contains(path, "topics"):
				var src []byte
				src, err = os.ReadFile(path)
				texts = strings.Split(string(src), "\n")
			}
			read += len(texts)
			for _, s := range texts {
				if otherQuotes.MatchString(s) {
					t.Errorf("%s: %q", name, s)
				}
			}
			return err
		}))
	}
	if read < 5000 {
		t.Errorf("only %d texts were read", read)
	}
}

// literals are the strings of a Go file.
func literals(path string) (out []string, err error) {
	f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if l, ok := n.(*ast.BasicLit); ok && l.Kind == token.STRING {
			s, e := strconv.Unquote(l.Value)
			if e != nil {
				err = e
			}
			out = append(out, s)
		}
		return true
	})
	return out, err
}
