package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/testscript"

	"sealworthy/compare"
)

// TestScripts runs the verbs as a maker would type them: one topic a file.
func TestScripts(t *testing.T) {
	t.Parallel()
	big := keep(t, func(e env, dir string) (build, []string, error) {
		b, err := unpack(e, dir)
		return b, []string{"port beacon=overloaded output", "cabin windows=dark segment"}, err
	})
	small := keep(t, func(e env, dir string) (build, []string, error) {
		if err := os.CopyFS(dir, os.DirFS("testdata/plans/gig")); err != nil {
			return build{}, nil, err
		}
		b, err := openBuild(e, dir)
		return b, []string{"bow lamps=open branch"}, err
	})
	dir, files := "testdata/scripts", []string(nil)
	if raceEnabled {
		// Judging takes ten times as long then, and runs in one goroutine: only the
		// scripts in which something runs at once.
		dir, files = "", []string{"testdata/scripts/demo_memory.txtar", "testdata/scripts/measure.txtar",
			"testdata/scripts/rig.txtar", "testdata/scripts/told.txtar"}
	}
	testscript.Run(t, testscript.Params{
		Dir: dir, Files: files,
		Setup: func(e *testscript.Env) error {
			e.Setenv("SEALWORTHY_HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_RUNTIME_DIR", filepath.Join(e.WorkDir, "run"))
			e.Setenv("TZ", "UTC")
			e.Setenv("TERM", "xterm")
			e.Setenv("LANG", "C.UTF-8")
			return nil
		},
		Cmds: commands(recordCommands(), map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exits": exits,
			"json":  isJSON,
			"fits":  fits,
			// harmless FILE...: text of which all is to be seen: no control
			// characters, nothing that hides or turns a line round.
			"harmless": harmless,
			// bytes NAME TEXT: a variable with what TEXT stands for in Go's quotes.
			"bytes": func(ts *testscript.TestScript, neg bool, args []string) {
				s, err := strconv.Unquote(`"` + strings.ReplaceAll(args[1], `"`, `\"`) + `"`)
				ts.Check(err)
				ts.Setenv(args[0], s)
			},
			// holding FILE TEXT: FILE becomes TEXT.
			"holding": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(args[1]), 0o644))
			},
			// simulated DIR: a build that is there, with a test of all its closures
			// on record.
			"simulated": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(measureInto(ts.MkAbs(args[0]), func(e env, dir string) (build, []string, error) {
					b, err := openBuild(e, dir)
					return b, args[1:], err
				}))
			},
			// found NAME PATTERN: a variable with the one file of this pattern.
			"found": func(ts *testscript.TestScript, neg bool, args []string) { ts.Setenv(args[0], one(ts, args[1])) },
			// names FILE PATTERN COUNT: so many different texts in it match.
			"names": func(ts *testscript.TestScript, neg bool, args []string) {
				found := map[string]bool{}
				for _, x := range regexp.MustCompile(args[1]).FindAllString(ts.ReadFile(args[0]), -1) {
					found[x] = true
				}
				if fmt.Sprint(len(found)) != args[2] {
					ts.Fatalf("%s names %v, want %s", args[0], found, args[2])
				}
			},
			// files PATTERN COUNT: so many files match.
			"files": func(ts *testscript.TestScript, neg bool, args []string) {
				if m, err := filepath.Glob(ts.MkAbs(args[0])); err != nil || fmt.Sprint(len(m)) != args[1] {
					ts.Fatalf("%q match, want %s (%v)", m, args[1], err)
				}
			},
			// mode FILE 0600: the file has these permissions; where there are none
			// (Windows), every file does.
			"mode": func(ts *testscript.TestScript, neg bool, args []string) {
				info, err := os.Lstat(ts.MkAbs(args[0]))
				ts.Check(err)
				if got := fmt.Sprintf("%04o", info.Mode().Perm()); runtime.GOOS != "windows" && got != args[1] {
					ts.Fatalf("%s has mode %s, want %s", args[0], got, args[1])
				}
			},
			// measured DIR, measured-small DIR: a build with a test of all its
			// closures on record: the demo's with two faults, the gig's with one.
			"measured":       big,
			"measured-small": small,
			// append FILE TEXT: TEXT without a line end.
			"append": func(ts *testscript.TestScript, neg bool, args []string) {
				f, err := os.OpenFile(one(ts, args[0]), os.O_APPEND|os.O_WRONLY, 0)
				ts.Check(err)
				_, err = f.WriteString(args[1])
				ts.Check(err)
				ts.Check(f.Close())
			},
			// damage FILE OLD NEW: OLD becomes NEW in the last line that holds it.
			"damage": func(ts *testscript.TestScript, neg bool, args []string) {
				file := one(ts, args[0])
				b, err := os.ReadFile(file)
				ts.Check(err)
				i := bytes.LastIndex(b, []byte(args[1]))
				if i < 0 {
					ts.Fatalf("%s holds no %q", file, args[1])
				}
				b = append(append(append([]byte(nil), b[:i]...), args[2]...), b[i+len(args[1]):]...)
				ts.Check(os.WriteFile(file, b, 0o644))
			},
			// kept FILE TEXT: the one file of this pattern holds TEXT.
			"kept": func(ts *testscript.TestScript, neg bool, args []string) {
				if b, err := os.ReadFile(one(ts, args[0])); err != nil || !bytes.Contains(b, []byte(args[1])) {
					ts.Fatalf("%s holds no %s (%v)", args[0], args[1], err)
				}
			},
			// untouched FILES FILE: one of several files of this pattern is FILE.
			"untouched": func(ts *testscript.TestScript, neg bool, args []string) {
				all, err := filepath.Glob(ts.MkAbs(args[0]))
				ts.Check(err)
				same := 0
				for _, f := range all {
					b, err := os.ReadFile(f)
					ts.Check(err)
					if string(b) == ts.ReadFile(args[1]) {
						same++
					}
				}
				if same != 1 || len(all) < 2 {
					ts.Fatalf("%d of %d files are %s", same, len(all), args[1])
				}
			},
			// copied FILE COPY: a file given by a pattern, copied.
			"copied": func(ts *testscript.TestScript, neg bool, args []string) {
				b, err := os.ReadFile(one(ts, args[0]))
				ts.Check(err)
				ts.Check(os.WriteFile(ts.MkAbs(args[1]), b, 0o644))
			},
		}),
	})
}

// commands puts the commands of scripts together.
func commands(all ...map[string]func(*testscript.TestScript, bool, []string)) map[string]func(*testscript.TestScript,
	bool, []string) {
	out := map[string]func(*testscript.TestScript, bool, []string){}
	for _, m := range all {
		maps.Copy(out, m)
	}
	return out
}

// keep measures a build once, over memory ports in simulated time, and makes
// the script command that gives a copy of it.
func keep(t *testing.T, make func(e env, dir string) (b build, faults []string,
	err error)) func(*testscript.TestScript, bool, []string) {
	var once sync.Once
	var err error
	dir := filepath.Join(t.TempDir(), "kept")
	return func(ts *testscript.TestScript, neg bool, args []string) {
		if neg || len(args) != 1 {
			ts.Fatalf("usage: measured DIR")
		}
		once.Do(func() { err = measureInto(dir, make) })
		ts.Check(err)
		ts.Check(os.CopyFS(ts.MkAbs(args[0]), os.DirFS(dir)))
	}
}

func measureInto(dir string, make func(e env, dir string) (build, []string, error)) error {
	e := env{stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
	b, names, err := make(e, dir)
	if err != nil {
		return err
	}
	faults, err := parseFaults(b.plan, names, 1)
	if err != nil {
		return err
	}
	cfg, err := b.readBench()
	if err != nil {
		return err
	}
	return simulate(context.Background(), e, b, cfg, faults, 1, true, compare.Fitted)
}

// one is the file that a pattern stands for.
func one(ts *testscript.TestScript, pattern string) string {
	m, err := filepath.Glob(ts.MkAbs(pattern))
	ts.Check(err)
	if len(m) != 1 {
		ts.Fatalf("%d files match %s", len(m), pattern)
	}
	return m[0]
}

// exits STATUS WORD...: the command ends with this very status.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND ARG...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		x, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = x.ExitCode()
	}
	if got != want {
		ts.Fatalf("%q ended with %d, want %d", args[1:], got, want)
	}
}

// json FILE [PATH=VALUE]...: the file (or stdout) is one output that keeps to its schema,
// or a schema, and holds these; a path is keys and numbers with dots between.
func isJSON(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: json FILE [PATH=VALUE]...")
	}
	var v any
	d := json.NewDecoder(strings.NewReader(ts.ReadFile(args[0])))
	if err := d.Decode(&v); err != nil {
		ts.Fatalf("%s is no JSON: %v", args[0], err)
	}
	if _, err := d.Token(); err != io.EOF {
		ts.Fatalf("%s holds more than one JSON value", args[0])
	}
	if err := conforms(v); err != nil {
		ts.Fatalf("%s: %v", args[0], err)
	}
	for _, a := range args[1:] {
		path, want, _ := strings.Cut(a, "=")
		x := v
		for _, k := range strings.Split(path, ".") {
			switch y := x.(type) {
			case map[string]any:
				x = y[k]
			case []any:
				i, err := strconv.Atoi(k)
				if err != nil || i >= len(y) {
					ts.Fatalf("%s: no %s in a list of %d", args[0], path, len(y))
				}
				x = y[i]
			default:
				x = nil
			}
		}
		if b, _ := json.Marshal(x); strings.Trim(string(b), `"`) != want {
			ts.Fatalf("%s: %s is %s, want %s", args[0], path, b, want)
		}
	}
}

func harmless(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: harmless FILE...")
	}
	for _, a := range args {
		if what := hides(ts.ReadFile(a)); what != "" {
			ts.Fatalf("%s %s", a, what)
		}
	}
}

// hides says what of a text isn't to be seen; "" when all is.
func hides(text string) string {
	if !utf8.ValidString(text) {
		return "is no UTF-8"
	}
	for i, r := range text {
		if r != '\n' && r != '\t' && !unicode.IsGraphic(r) {
			return fmt.Sprintf("holds %U after %q", r, text[max(0, i-40):i])
		}
	}
	return ""
}

// fits FILE...: no line is wider than 80 columns, but for one that holds a path
// into the test's own folder; and there are no escape codes.
func fits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: fits FILE...")
	}
	for _, a := range args {
		text := ts.ReadFile(a)
		if strings.ContainsAny(text, "\x1b\a\r") {
			ts.Fatalf("%s holds control codes: %q", a, text)
		}
		for _, l := range strings.Split(text, "\n") {
			if columns(l) > width && !strings.Contains(l, ts.Getenv("WORK")) {
				ts.Fatalf("%s: %d columns: %s", a, columns(l), l)
			}
		}
	}
}
