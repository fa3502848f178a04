package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// hostile texts: what a terminal would obey, what hides, what turns a line
// round, what is no UTF-8, what imitates the program's own marks.
var hostileTexts = []string{
	"\x1b]0;title\x07", "\x1b[2J\x1b[H", "\x1b[31m", "\x1b7\x1b8\x1b[3A", "\u009b2J\u0085\u0090", "\x00\b\x7f",
	"\r+ READY TO CLOSE",
	"\u202eYDAER\u202c\u2066\u2069", "\u2028\u2029\u200b\ufeff\u00ad", "\xff\x9b2J\xc3", "\U000e0041\U0010ffff",
	"\x1b" + strings.Repeat("A", leadLength-1) + "clearbelowm", "%s%d%!", "</title><script>", "\\u001b[2J",
}

// ownCodes are what the program itself sends, with the one that counts.
var ownCodes = func() *regexp.Regexp {
	any := []string{`\x1b\[[0-9]+A`}
	for _, s := range codes {
		any = append(any, regexp.QuoteMeta(s))
	}
	return regexp.MustCompile(strings.Join(any, "|"))
}()

// poisoned adds a text to every plain string below v.
func poisoned(v reflect.Value, add string) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			poisoned(v.Elem(), add)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && f.Name != "Unit" {
				poisoned(v.Field(i), add)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			poisoned(v.Index(i), add)
		}
	case reflect.String:
		if v.CanSet() && v.Type() == reflect.TypeFor[string]() {
			v.SetString(v.String() + add)
		}
	}
}

// The face on a terminal, with hostile text in every string of what it's told,
// asked and answered: the terminal gets the program's own codes and text.
func TestFaceWithHostileText(t *testing.T) {
	whats := []capture.EventKind{capture.Starting, capture.StepBegins, capture.OutputOn, capture.OutputOff,
		capture.RampStep, capture.Settling, capture.Sampling,
		capture.Trip, capture.DropSeen, capture.StepEnds, capture.Warning, capture.Told, capture.Paused, capture.Ended}
	kinds := []capture.QuestionKind{capture.AskClip, capture.AskPress, capture.AskLook, capture.AskUnderstood,
		capture.AskTouched, capture.AskWiggle, capture.AskAgain, capture.AskNumber, capture.AskSupply, capture.AskPlug}
	for _, add := range hostileTexts {
		for _, live := range []bool{true, false} {
			var out bytes.Buffer
			to := outletOf(&out)
			noTime := func() time.Time { return time.Time{} }
			keys := newKeyboard(noTime)
			f := &face{keys: keys, now: noTime, screen: screen{w: to, live: live, block: "#",
				size: func() (int, int) { return 80, 30 }}}
			if live {
				f.ink = ink{on: to}
			}
			event := func(what capture.EventKind) capture.Event {
				e := capture.Event{What: what, Text: "told", OutputOn: true, SetVolts: 12, LimitA: 0.1, Total: 3,
					Step:    &capture.Step{Feed: "bow", Kind: capture.Power, Pace: "slow", Groups: []string{"bow"}},
					Reading: &instruments.Reading{Unit: "A", Instrument: "meter", Status: instruments.Overload},
					Said: []capture.Said{{Group: "bow", Pace: "p", Verdict: "low", Measured: "1 mA",
						Expected: "2 mA", Causes: []string{"a", "b"}}}}
				poisoned(reflect.ValueOf(&e), add)
				return e
			}
			for _, what := range whats {
				f.show(event(what))
			}
			e := event(capture.StepEnds)
			e.Said = nil
			f.show(e)
			for _, k := range kinds {
				q := capture.Question{Kind: k, Text: "what now", Help: "so", Choices: []string{"done", "skip", "stop"},
					Places: []capture.Place{{Name: "keel", Kind: "joint"}}}
				poisoned(reflect.ValueOf(&q), add)
				ctx, cancel := context.WithCancel(context.Background())
				done := make(chan struct{})
				go func() {
					defer close(done)
					_, _ = f.Ask(ctx, session.Question{Question: q}) // what it gives is tested elsewhere
				}()
				keys.enter("?")
				keys.enter("x" + add)
				for waiting := true; waiting; { // until both were heard
					keys.mu.Lock()
					waiting = len(keys.lines) > 0
					keys.mu.Unlock()
					runtime.Gosched()
				}
				cancel()
				<-done
			}
			f.line("%s", add)
			f.wrapped("  ", add)
			if what := hides(ownCodes.ReplaceAllString(out.String(), "")); what != "" {
				t.Errorf("live %v, %q: the screen %s", live, add, what)
			}
			if !live && ownCodes.MatchString(strings.ReplaceAll(out.String(), "\a", "")) {
				t.Errorf("codes where there is no terminal: %q", out.String())
			}
		}
	}
}

// quotedText finds the texts of a TOML file.
var quotedText = regexp.MustCompile(`"[^"\n]*"`)

// inTOML writes a text as TOML may have it: escaped where it can, raw where not.
func inTOML(s string, raw bool) string {
	if raw {
		return s
	}
	b, err := json.Marshal(strings.ToValidUTF8(s, "?"))
	if err != nil {
		return s
	}
	return string(b[1 : len(b)-1])
}

// Hostile text in any text of any file that a maker writes, and in any argument:
// whatever a verb makes of it, what it says is to be seen, and so is its page.
func TestVerbsWithHostileText(t *testing.T) {
	kept := filepath.Join(t.TempDir(), "kept")
	must(t, measureInto(kept, func(e env, dir string) (build, []string, error) {
		must(t, os.CopyFS(dir, os.DirFS("testdata/plans/tender")))
		b, err := openBuild(e, dir)
		return b, []string{"stern light=open branch"}, err
	}))
	must(t, os.WriteFile(filepath.Join(kept, priorsFile), []byte("[faults]\n\"dark segment\" = \"0.1\"\n"), 0o644))
	book := "[part.\"stern lamp two\"]\nlike = \"warm white 3 mm\"\nsource = \"measured\"\n"
	verbs := [][]string{{"budget", "B"}, {"compare", "B", "--all"}, {"compare", "B", "--json"}, {"next", "B"},
		{"sheet", "B", "--into", "B/page.html"},
		{"sheet", "B", "--form", "delivery", "--into", "B/page.html", "--contact", "X", "--serial", "X"}, {"part"},
		{"ports", "--try", "X", "--profile", "X"},
		{"measure", "B", "--closure", "hull", "--accept", "cabin lamps", "--reason", "X"},
		{"compare", "B", "--closure", "X"}, {"X"}, {"check", "B"}, {"check", "B", "--json"},
		{"check", "B", "--answer", "X", "--say", "X"}, {"plot", "B", "--into", "B/p", "--closure", "hull"}}
	rapid.Check(t, func(rt *rapid.T) {
		dir := filepath.Join(t.TempDir(), "b")
		if err := os.CopyFS(dir, os.DirFS(kept)); err != nil {
			rt.Fatal(err)
		}
		defer os.RemoveAll(dir)
		add := rapid.OneOf(rapid.SampledFrom(hostileTexts), rapid.StringN(1, 12, -1)).Draw(rt, "text")
		home := filepath.Join(dir, "home")
		must(t, os.Mkdir(home, 0o755))
		must(t, os.WriteFile(filepath.Join(home, partsFile), []byte(book), 0o644))
		file := filepath.Join(dir, rapid.SampledFrom([]string{planFile, benchFile, "home/" + partsFile, priorsFile,
			"record", "none"}).Draw(rt, "file"))
		if m, _ := filepath.Glob(filepath.Join(dir, readingDir, "*.lp")); filepath.Base(file) == "record" {
			file = m[0]
		}
		if src, err := os.ReadFile(file); err == nil {
			texts := quotedText.FindAllIndex(src, -1)
			x := texts[rapid.IntRange(0, len(texts)-1).Draw(rt, "which")]
			with := inTOML(add, rapid.Bool().Draw(rt, "raw"))
			src = append(append(append([]byte(nil), src[:x[1]-1]...), with...), src[x[1]-1:]...)
			must(t, os.WriteFile(file, src, 0o644))
		}
		if file != filepath.Join(dir, priorsFile) { // it's wrong as it stands: a text for a number
			must(t, os.Remove(filepath.Join(dir, priorsFile)))
		}
		v := rapid.SampledFrom(verbs).Draw(rt, "verb")
		var args []string
		for _, a := range v {
			args = append(args, strings.ReplaceAll(strings.ReplaceAll(a, "X", "x"+add), "B", dir))
		}
		var stdout, stderr bytes.Buffer
		getenv := func(k string) string { return map[string]string{"SEALWORTHY_HOME": home}[k] }
		status := run(context.Background(), args, env{stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr,
			getenv: getenv, exit: func(int) {}})
		said := fmt.Sprintf("%q ended with %d", args, status)
		if what := hides(stdout.String()); what != "" {
			rt.Fatalf("%s: stdout %s", said, what)
		}
		if what := hides(stderr.String()); what != "" {
			rt.Fatalf("%s: stderr %s", said, what)
		}
		if strings.Contains(strings.Join(v, " "), "--json") && stdout.Len() > 0 {
			var x any
			if err := json.Unmarshal(stdout.Bytes(), &x); err != nil {
				rt.Fatalf("%s: %v", said, err)
			}
		}
		for _, pattern := range []string{"page.html", "p/*.svg"} {
			m, _ := filepath.Glob(filepath.Join(dir, pattern))
			for _, x := range m {
				if what := hides(string(mustRead(t, x))); what != "" {
					rt.Fatalf("%s: %s %s", said, x, what)
				}
			}
		}
	})
}
