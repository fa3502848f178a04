//go:build unix

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// elsewhere are the command lines of README and of help that need a bench, a person, a
// server, a network or what came back, and the test that runs such a one with the same
// verb and flags.
var elsewhere = map[string]string{
	"sealworthy new brackwater --ask":                                     "testdata/scripts/new_ask.txtar",
	"sealworthy bench":                                                    "firstready_test.go",
	"sealworthy send":                                                     "testdata/scripts/send.txtar",
	"sealworthy measure":                                                  "testdata/scripts/measure.txtar",
	"sealworthy page":                                                     "page_browser_test.go",
	"sealworthy page brackwater":                                          "page_browser_test.go",
	"sealworthy page --listen":                                            "listen_process_test.go",
	"sealworthy page --listen=192.0.2.7":                                  "listen_process_test.go",
	"sealworthy page --listen=192.0.2.7:8443":                             "listen_process_test.go",
	"sealworthy next --do":                                                "next_test.go",
	"sealworthy next brackwater --do":                                     "next_test.go",
	`sealworthy ports --try PORT --profile "scpi meter"`:                  "testdata/scripts/ports.txtar",
	"sealworthy measure brackwater --closure deckhouse":                   "firstready_test.go",
	`sealworthy measure brackwater --redo "cabin windows"`:                "testdata/scripts/measure.txtar",
	`sealworthy part "window strip" --like "strip warm white 12 V"`:       "part_test.go",
	`sealworthy rig brackwater --fault "cabin windows=dark segment"`:      "testdata/scripts/rig.txtar",
	"sealworthy measure brackwater --supply-by-hand --typed-meter":        "testdata/scripts/measure.txtar",
	"sealworthy send brackwater --to https://server:8086 --database shop": "testdata/scripts/send.txtar",
	"sealworthy photo brackwater deck.jpg --closure deckhouse":            "photo_test.go",
	"sealworthy soak brackwater --for 4h":                                 "stopping_test.go",
	"sealworthy measure brackwater --tick ballast --closure hull":         "testdata/scripts/earned.txtar",
}

// withoutPorts are those that ask for the instruments' ports, and go no further here.
var withoutPorts = []string{"sealworthy keep", "sealworthy keep brackwater --adapter",
	`sealworthy return brackwater --adapter "not sent" --unattended`}

// remark is what README says beside a command.
var remark = regexp.MustCompile(`\s+#.*$`)

// linesToRun are the command lines that README and the topics of help show by
// themselves, each once and in their order.
func linesToRun(t *testing.T) (out []string) {
	t.Helper()
	readme, err := os.ReadFile("../../README.md")
	must(t, err)
	var lines []string
	for _, m := range fence.FindAllStringSubmatch(string(readme), -1) {
		lines = append(lines, strings.Split(m[1], "\n")...)
	}
	for _, m := range inline.FindAllStringSubmatch(fence.ReplaceAllString(string(readme), ""), -1) {
		lines = append(lines, strings.Join(strings.Fields(m[1]), " "))
	}
	for _, l := range append(lines, topicLines()...) {
		l = strings.Replace(strings.TrimSpace(remark.ReplaceAllString(l, "")), "go run ./cmd/sealworthy",
			"sealworthy", 1)
		verb := strings.Fields(l + " . .")[1]
		if _, ok := verbNamed(verb); (ok && strings.HasPrefix(l, "sealworthy ")) || l == "sealworthy" {
			if !slices.Contains(out, l) {
				out = append(out, l)
			}
		}
	}
	return out
}

// asTyped parts a command line as a shell does: quotes keep words together.
func asTyped(line string) (out []string) {
	for _, w := range regexp.MustCompile(`"[^"]*"|\S+`).FindAllString(line, -1) {
		out = append(out, strings.Trim(w, `"`))
	}
	return out
}

// Each command line that README and the topics of help show does what it says, beside a
// copy of the demo, or it's named above with the test that runs one like it.
func TestCommandsInWordsRun(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("many processes: runs without -short")
	}
	lines := linesToRun(t)
	if len(lines) < 40 {
		t.Fatalf("only %d command lines: %q", len(lines), lines)
	}
	home := t.TempDir()
	runs := func(dir, line string) (int, string) {
		t.Helper()
		cmd := exec.CommandContext(t.Context(), "sealworthy", asTyped(line)[1:]...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "SEALWORTHY_HOME="+home, "LANG=C.UTF-8")
		var errs bytes.Buffer
		cmd.Stderr = &errs
		err := cmd.Run()
		var ended *exec.ExitError
		if err != nil && !errors.As(err, &ended) {
			t.Fatalf("%s: %v", line, err)
		}
		return cmd.ProcessState.ExitCode(), errs.String()
	}
	// A verdict is a status of its own; what fails or isn't understood is none.
	goes := func(status int) bool {
		return status == exitReady || status == exitKeepOpen || status == exitNotReady
	}
	measured, returned := t.TempDir(), t.TempDir()
	for dir, demo := range map[string]string{measured: "sealworthy demo", returned: "sealworthy demo return"} {
		if s, errs := runs(dir, demo+" --seed 1 --into brackwater"); !goes(s) {
			t.Fatalf("%s: status %d: %s", demo, s, errs)
		}
	}
	for _, l := range lines {
		if _, ok := elsewhere[l]; ok || l == "sealworthy demo" || l == "sealworthy demo return" {
			continue // these two were just run
		}
		beside := t.TempDir() // one's answers are none of the next one's
		from := measured
		if strings.HasPrefix(l, "sealworthy return") || strings.Contains(l, "--form re") {
			from = returned
		}
		must(t, os.CopyFS(beside, os.DirFS(from)))
		dir := beside
		if !strings.Contains(l, "brackwater") && !strings.Contains(l, "FOLDER") {
			dir = filepath.Join(beside, "brackwater") // "here, verbs need no name"
		}
		s, errs := runs(dir, strings.NewReplacer("FOLDER", ".", "KEY", "awg").Replace(l))
		switch {
		case slices.Contains(withoutPorts, l):
			if s != exitFailure || !strings.Contains(errs, "--supply") {
				t.Errorf("%s: status %d: it doesn't ask for ports: %s", l, s, errs)
			}
		case !goes(s):
			t.Errorf("%s: status %d: %s", l, s, errs)
		}
	}
	for l, file := range elsewhere {
		if !slices.Contains(lines, l) {
			t.Errorf("%s: neither README nor help shows it", l)
		}
		src, err := os.ReadFile(file)
		must(t, err)
		for _, w := range append(flagWord.FindAllString(l, -1), asTyped(l)[1]) {
			if !strings.Contains(string(src), w) {
				t.Errorf("%s: nothing in %s runs it with %s", l, file, w)
			}
		}
	}
}
