package plan

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The plan in the package's doc must be one.
func TestThePlanInTheDocParses(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	var src strings.Builder
	for _, l := range strings.Split(strings.ReplaceAll(string(doc), "\r\n", "\n"), "\n") {
		if code, is := strings.CutPrefix(l, "//\t"); is {
			src.WriteString(code)
		}
		src.WriteString("\n")
	}
	p, problems := Parse("doc.go", []byte(src.String()))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	if len(p.Groups) != 5 || len(p.Warnings) > 0 {
		t.Errorf("%d groups, warnings %v", len(p.Groups), p.Warnings)
	}
	// Every key of the language is spoken of, and every word of a choice.
	for _, k := range Keys() {
		if !spoken(string(doc), k.Name) {
			t.Errorf("the doc doesn't speak of %q", k.Name)
		}
	}
	for _, w := range slices.Concat(holdKinds, behaviours, sources) {
		if !spoken(string(doc), w) {
			t.Errorf("the doc doesn't speak of %q", w)
		}
	}
}

func spoken(doc, word string) bool {
	return regexp.MustCompile(`\b` + regexp.QuoteMeta(word) + `\b`).MatchString(doc)
}
