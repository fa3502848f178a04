package plan

import (
	"os"
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
	// Every key of the language is spoken of.
	for _, keys := range [][]string{topKeys, groupKeys, wireKeys, boardKeys, paceKeys[:5], holdKinds, behaviours, sources, keysOf(PartLoad), {"must_hold", "test_ohms", "ohms_tolerance"}} {
		for _, k := range keys {
			if !strings.Contains(string(doc), k) && k != "source" {
				t.Errorf("the doc doesn't speak of %q", k)
			}
		}
	}
}
