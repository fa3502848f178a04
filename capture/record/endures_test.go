package record

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestEndures: each row of the page names tests, and all of them are there.
func TestEndures(t *testing.T) {
	page, err := os.ReadFile("ENDURES.md")
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("*_test.go")
	if err != nil {
		t.Fatal(err)
	}
	var src strings.Builder
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		src.Write(b)
	}
	names := regexp.MustCompile(`\b(Test|Fuzz|Benchmark)\w+`)
	rows := 0
	for line := range strings.Lines(string(page)) {
		if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| ---") ||
			strings.HasPrefix(line, "| what befalls") {
			continue
		}
		rows++
		all := names.FindAllString(line, -1)
		if len(all) == 0 {
			t.Errorf("no test holds this row: %s", line)
		}
		for _, n := range all {
			if !strings.Contains(src.String(), "func "+n+"(") {
				t.Errorf("%s isn't there: %s", n, line)
			}
		}
	}
	if rows < 18 {
		t.Errorf("only %d rows", rows)
	}
}

// TestReadOnly: where nothing may be written no sitting begins, it is said why, and
// nothing is left behind; what is there is read all the same.
func TestReadOnly(t *testing.T) {
	for _, op := range []string{"create", "replace", "open", "sync", "sync folder", "write"} {
		m := shipOf(t, 3)
		before := m.Names()
		m.Fail = func(o, name string) error {
			if o == op {
				return &fs.PathError{Op: o, Path: name, Err: fs.ErrPermission}
			}
			return nil
		}
		o := opening()
		o.Now = start.Add(time.Hour)
		r, _, err := Begin(m, o)
		if err == nil { // it may begin, but nothing is called kept
			if _, err = r.Append(nth(1)); err == nil {
				err = r.Flush()
			}
			_ = r.Close() // its error is that of Flush
			if r.Kept() != 0 && op != "open" {
				t.Errorf("%s: %d lines are called kept", op, r.Kept())
			}
		}
		if op != "open" && !errors.Is(err, fs.ErrPermission) {
			t.Errorf("%s is refused: %v", op, err)
		}
		m.Fail = nil
		if f, err := ReadFS(m.Tree(ship)); err != nil || f.Damage != nil || f.Sittings[0].Lines != 5 {
			t.Errorf("%s: what is there isn't read: %v, %v", op, f.Damage, err)
		}
		if after := m.Names(); (op == "create" || op == "replace") && !slices.Equal(after, before) {
			t.Errorf("%s: %v, before %v", op, after, before)
		}
	}
}
