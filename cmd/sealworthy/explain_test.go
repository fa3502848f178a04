package main

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
)

// Whatever is listed can be explained, by its name alone and with its table.
func TestExplainFindsWhatItLists(t *testing.T) {
	_, all := explanations("")
	for _, x := range all {
		for _, word := range []string{x.Name, x.Table + "." + x.Name} {
			var out, errs bytes.Buffer
			e := env{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }}
			if status := run(context.Background(), []string{"explain", word}, e); status != exitReady {
				t.Fatalf("explain %s: %d %s", word, status, &errs)
			}
			if !strings.Contains(out.String(), x.Name) {
				t.Errorf("explain %s:\n%s", word, &out)
			}
			for _, l := range strings.Split(out.String(), "\n") {
				if n := len([]rune(l)); n > width && !strings.HasPrefix(l, "  example") {
					t.Errorf("explain %s: %d columns: %s", word, n, l)
				}
			}
		}
	}
	if n := len(all); n < 200 {
		t.Error(fmt.Sprint(n, " keys"))
	}
}
