package main

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Each module that is asked for by name has a line for contributors with why, its licence, how large
// it is and how it's kept up, and nothing else has one.
func TestDependenciesAreListed(t *testing.T) {
	t.Parallel()
	mod, err := os.ReadFile("../../go.mod")
	must(t, err)
	var asked []string
	for _, m := range regexp.MustCompile(`(?m)^\t(\S+) v\S+$`).FindAllStringSubmatch(string(mod), -1) {
		asked = append(asked, m[1])
	}
	if len(asked) < 10 {
		t.Fatalf("only %q in go.mod", asked)
	}
	page, err := os.ReadFile("../../DEVELOPERS.md")
	must(t, err)
	_, table, _ := strings.Cut(string(page), "| module |")
	var listed []string
	for line := range strings.Lines(table) {
		cells := strings.Split(strings.Trim(line, "|\n "), "|")
		name := strings.TrimSpace(cells[0])
		if len(cells) == 1 || name == "why" || strings.HasPrefix(name, "---") {
			continue
		}
		listed = append(listed, name)
		for i, want := range []string{`.`, `.{10,}`, `BSD|MIT|Apache|MPL`, `^[0-9]*\.?[0-9]+$`,
			`^20[0-9]{2}-[01][0-9]`} {
			if i >= len(cells) || !regexp.MustCompile(want).MatchString(strings.TrimSpace(cells[i])) {
				t.Errorf("%s: column %d of %q isn't as %s", name, i+1, cells, want)
			}
		}
	}
	slices.Sort(asked)
	slices.Sort(listed)
	if !slices.Equal(asked, listed) {
		t.Errorf("go.mod asks for\n%q, listed are\n%q", asked, listed)
	}
}
