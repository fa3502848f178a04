package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/plan"
)

func TestFileNames(t *testing.T) {
	trace := func(feed, pace string) string { return pictureID("trace", feed, pace, "fitted") }
	for _, c := range []struct {
		ids  []string
		want []string // a name that ends in - is followed by digits
	}{
		{[]string{trace("cabin windows", ""), trace("port beacon", "slow")},
			[]string{"trace-cabin-windows-fitted", "trace-port-beacon-slow-fitted"}},
		{[]string{trace("bow 1", ""), trace("bow.1", ""), trace("bow 2", "")},
			[]string{"trace-bow-1-fitted-", "trace-bow-1-fitted-", "trace-bow-2-fitted"}},
		{[]string{trace("bow", "blink"), trace("bow blink", "")},
			[]string{"trace-bow-blink-fitted-", "trace-bow-blink-fitted-"}},
		{[]string{"Bow", "bow"}, []string{"Bow-", "bow-"}},
		{[]string{"caf\u00e9", "cafe\u0301"}, []string{"caf\u00e9-", "cafe\u0301-"}},
		{[]string{"Stra\u00dfe", "STRASSE"}, []string{"Stra\u00dfe-", "STRASSE-"}},
		{[]string{"con", "NUL", "com1", "constant"}, []string{"con-", "NUL-", "com1-", "constant"}},
		{[]string{"a.", "a ", "../a", `..\a`, "a:b"}, []string{"a--", "a--", "---a-", "---a-", "a-b"}},
		{[]string{"", "\x1b[2J", "\u202e"}, []string{"-", "--2J", "--"}},
	} {
		got := fileNames(c.ids)
		for i, id := range c.ids {
			want := regexp.QuoteMeta(c.want[i])
			if strings.HasSuffix(c.want[i], "-") {
				want += "[0-9a-f]{8}"
			}
			if !regexp.MustCompile("^" + want + "$").MatchString(got[id]) {
				t.Errorf("%q became %q, want %s", id, got[id], want)
			}
		}
	}
}

// No two names share a file, whatever they hold and whichever system keeps it;
// the same set gives the same files in any order, and a name that shares with
// nobody is none the worse for those that do.
func TestFileNamesNeverShared(t *testing.T) {
	part := rapid.OneOf(
		rapid.SampledFrom([]string{"bow", "Bow", "bow 1", "bow.1", "bow-1", "bow_1", "", "CON", "nul", "com¹", "a.",
			"a ", "..", "é", "e\u0301", "ß", "ss", "ſ", "K", "k", "fitted", "\x00"}),
		rapid.StringN(0, 80, 300),
		rapid.StringMatching(`[a-z]{1,3}(-[0-9a-f]{8})?`))
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) string {
			return pictureID(rapid.SliceOfN(part, 1, 3).Draw(t, "parts")...)
		}), 1, 24, rapid.ID).Draw(t, "ids")
		// What gets digits, and looks like that by itself.
		for id, name := range fileNames(ids) {
			if name != id && rapid.Bool().Draw(t, "imitate") && !slices.Contains(ids, name) {
				ids = append(ids, name)
			}
		}
		got := fileNames(ids)
		if len(got) != len(ids) {
			t.Fatalf("%d names for %d ids", len(got), len(ids))
		}
		taken := map[string]string{}
		for id, name := range got {
			key := oneForAll(name)
			if had, ok := taken[key]; ok {
				t.Fatalf("%q and %q share %q", had, id, name)
			}
			taken[key] = id
			if name == "" || len(name)+len(".html") > 255 || plan.ReservedFileName(name) ||
				strings.ContainsAny(name, `/\:*?"<>|. `) || filepath.Base(name) != name {
				t.Fatalf("%q became %q, no file name everywhere", id, name)
			}
		}
		slices.Reverse(ids)
		if again := fileNames(ids); !maps.Equal(got, again) {
			t.Fatalf("%v in another order: %v", got, again)
		}
	})
}

// filesOnly is what reads and writes files; files.go does it for all.
var filesOnly = regexp.MustCompile(
	`^(os\.(Create|CreateTemp|MkdirTemp|Mkdir|MkdirAll|OpenFile|Open|OpenInRoot|OpenRoot|ReadDir|ReadFile|WriteFile|Rename|Remove|RemoveAll|Link|Symlink|Chmod|Chown|Truncate|CopyFS)|ioutil\..*)$`)

// There is no second way to a file.
func TestFilesAreWrittenInOnePlace(t *testing.T) {
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	here := 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, src, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			s, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			x, ok := s.X.(*ast.Ident)
			if !ok || !filesOnly.MatchString(x.Name+"."+s.Sel.Name) {
				return true
			}
			if name == "files.go" {
				here++
			} else {
				t.Errorf("%s: %s.%s: files.go has a way for that", set.Position(n.Pos()), x.Name, s.Sel.Name)
			}
			return true
		})
	}
	if here == 0 {
		t.Error("files.go writes nothing")
	}
}
