package record

import (
	"go/format"
	"os"
	"strings"
	"testing"
)

// TestPage: the page and the package's own words are the same text, as gofmt
// leaves it.
func TestPage(t *testing.T) {
	src, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	if done, err := format.Source(src); err != nil || string(done) != string(src) {
		t.Fatalf("doc.go isn't formatted: %v", err)
	}
	var text strings.Builder
	for line := range strings.Lines(string(src)) {
		words, comment := strings.CutPrefix(line, "//")
		if !comment {
			break
		}
		text.WriteString(strings.TrimPrefix(words, " "))
	}
	if text.String() != Page() {
		a, b := strings.Split(text.String(), "\n"), strings.Split(Page(), "\n")
		for i := range a {
			if i >= len(b) || a[i] != b[i] {
				t.Fatalf("line %d differs: doc.go has %q, FORMAT.md %q", i+1, a[i], b[min(i, len(b)-1)])
			}
		}
		t.Fatal("the page goes on where doc.go ends")
	}
	for _, said := range []string{headCheck[:7], HeadFile, FilesDir, TornSuffix} {
		if !strings.Contains(Page(), strings.Trim(said, `"`)) {
			t.Errorf("the page doesn't say %q", said)
		}
	}
}
