package plan

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the .want files anew")

// Whole wrong plans, with all that the program says about them.
func TestWrongPlans(t *testing.T) {
	files, err := filepath.Glob("../../testdata/plans/errors/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatal("no wrong plans")
	}
	for _, name := range files {
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		_, problems := Parse(filepath.Base(name), src)
		if len(problems) == 0 {
			t.Errorf("%s was taken", name)
		}
		got := problemsText(problems)
		want := strings.TrimSuffix(name, ".toml") + ".want"
		if *update {
			if err := os.WriteFile(want, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		text, err := os.ReadFile(want)
		if err != nil {
			t.Fatal(err)
		}
		if got != strings.ReplaceAll(string(text), "\r\n", "\n") {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, text)
		}
	}
}
