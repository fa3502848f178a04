package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
)

// recordCommands do to a record what befalls one. Each takes a pattern, and the
// file of the latest sitting of those that fit.
func recordCommands() map[string]func(*testscript.TestScript, bool, []string) {
	return map[string]func(*testscript.TestScript, bool, []string){
		// cpdir DIR COPY: all of a folder.
		"cpdir": func(ts *testscript.TestScript, neg bool, args []string) {
			ts.Check(os.CopyFS(ts.MkAbs(args[1]), os.DirFS(ts.MkAbs(args[0]))))
		},
		// damage-latest FILES OLD NEW: OLD becomes NEW in the last line that holds it.
		"damage-latest": func(ts *testscript.TestScript, neg bool, args []string) {
			file, b := latest(ts, args[0])
			i := bytes.LastIndex(b, []byte(args[1]))
			if i < 0 {
				ts.Fatalf("%s holds no %s", file, args[1])
			}
			ts.Check(os.WriteFile(file, append(append(bytes.Clone(b[:i]), args[2]...), b[i+len(args[1]):]...), 0o644))
		},
		// deleteline-latest FILES TEXT: the last line that holds TEXT goes.
		"deleteline-latest": func(ts *testscript.TestScript, neg bool, args []string) {
			file, b := latest(ts, args[0])
			lines := bytes.SplitAfter(b, []byte("\n"))
			for i := len(lines) - 1; i >= 0; i-- {
				if bytes.Contains(lines[i], []byte(args[1])) {
					ts.Check(os.WriteFile(file, bytes.Join(append(lines[:i:i], lines[i+1:]...), nil), 0o644))
					return
				}
			}
			ts.Fatalf("%s holds no %s", file, args[1])
		},
		"remove-latest": func(ts *testscript.TestScript, neg bool, args []string) {
			file, _ := latest(ts, args[0])
			ts.Check(os.Remove(file))
		},
		"copied-latest": func(ts *testscript.TestScript, neg bool, args []string) {
			_, b := latest(ts, args[0])
			ts.Check(os.WriteFile(ts.MkAbs(args[1]), b, 0o644))
		},
		// newer FILE: a head as a later version of the program would write it.
		"newer": func(ts *testscript.TestScript, neg bool, args []string) {
			b, err := os.ReadFile(ts.MkAbs(args[0]))
			ts.Check(err)
			b = bytes.Replace(b, []byte(`"version": 1`), []byte(`"version": 2`), 1)
			b = b[:bytes.LastIndex(b, []byte(`"check"`))]
			sum := sha256.Sum256(b)
			b = append(b, `"check": "`+hex.EncodeToString(sum[:8])+"\"\n}\n"...)
			ts.Check(os.WriteFile(ts.MkAbs(args[0]), b, 0o644))
		},
	}
}

var sittingTag = regexp.MustCompile(`,sitting=(\d+)`)

// latest is the file of a pattern whose lines name the highest sitting.
func latest(ts *testscript.TestScript, pattern string) (file string, content []byte) {
	files, err := filepath.Glob(ts.MkAbs(pattern))
	ts.Check(err)
	highest := 0
	for _, f := range files {
		b, err := os.ReadFile(f)
		ts.Check(err)
		m := sittingTag.FindSubmatch(b)
		if m == nil {
			continue
		}
		if n, err := strconv.Atoi(string(m[1])); err == nil && n > highest {
			highest, file, content = n, f, b
		}
	}
	if highest == 0 {
		ts.Fatalf("no sitting fits %s", pattern)
	}
	return file, content
}

// TestCheckEscapes: what stands in a damaged line, in the name of a file and in an
// answer can't tell the terminal anything.
func TestCheckEscapes(t *testing.T) {
	t.Parallel()
	b := gig(t)
	sit(t, b, session.Sitting{Stage: "fitted", Closure: "locker", Seed: 3}, sittingBegan)
	files, err := filepath.Glob(filepath.Join(b.dir, readingDir, "*.lp"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	src, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	src = bytes.Replace(src, []byte(`status="ok"`), []byte("status=\"\x1b]0;title\a\x9b2J\""), 1)
	if err := os.WriteFile(files[0], src, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.dir, readingDir, "x\x1b[2J.lp"), []byte("no record\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"check", b.dir}, {"check", b.dir, "--answer", "all", "--say", "a \x1b[31mslip"},
		{"compare", b.dir}} {
		var out, words bytes.Buffer
		status := run(t.Context(), args, env{stdin: strings.NewReader(""), stdout: &out, stderr: &words,
			getenv: func(string) string { return "" }})
		if text := out.String() + words.String(); strings.ContainsAny(text, "\x1b\a\r") ||
			strings.Contains(text, "\x9b") || status == exitFailure {
			t.Errorf("%q: status %d, %q", args, status, text)
		}
	}
}

// TestPlanCorrected: a correction of the plan by the program is a line, too.
func TestPlanCorrected(t *testing.T) {
	t.Parallel()
	b := gig(t)
	was := b.plan.Revision
	b, err := changePlan(quiet(), b, `group."bow lamps".lights[0].count = 2`)
	if err != nil {
		t.Fatal(err)
	}
	f, err := record.ReadDir(b.dir)
	if err != nil || f.Damage != nil || len(f.Notes) != 1 || f.Notes[0].Name != "plan corrected" ||
		f.Sittings[0].PlanRevision != b.plan.Revision ||
		!strings.Contains(f.Notes[0].Text, was) || !strings.Contains(f.Notes[0].Text, "count = 2") {
		t.Errorf("%v, %+v, %+v", err, f.Notes, f.Sittings)
	}
}
