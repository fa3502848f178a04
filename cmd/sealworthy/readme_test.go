package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

var (
	fence    = regexp.MustCompile("(?ms)^```\n(.*?)^```$")
	inline   = regexp.MustCompile("`([^`]+)`")
	flagWord = regexp.MustCompile(`--[a-z][a-z-]*`)
)

// otherCommands are those of the system that help shows.
var otherCommands = []string{"sha256sum", "shasum", "certutil", "chmod", "sudo", "scp", "ssh", ".ci/release",
	"go install", "cd"}

// helpOf is what "sealworthy VERB -h" prints.
func helpOf(t *testing.T, verb string) string {
	t.Helper()
	var out, errs bytes.Buffer
	status := run(context.Background(), []string{verb, "-h"},
		env{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }})
	if status != exitReady || errs.Len() > 0 {
		t.Fatalf("%s -h: %d %s", verb, status, &errs)
	}
	return out.String()
}

// flagsOf are the flags that a verb declares, not those that its words mention.
func flagsOf(t *testing.T, verb string) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for _, l := range strings.Split(helpOf(t, verb), "\n") {
		if f := flagWord.FindString(l); strings.HasPrefix(l, "  --"+strings.TrimPrefix(f, "--")) && f != "" {
			out[f] = true
		}
	}
	return out
}

// Every command line that README and the pages of help show can be typed: its
// verb is there, and each of its flags.
func TestCommandsInWordsExist(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	text := string(readme)
	if n := strings.Count(text, "\n"); n > 70 {
		t.Errorf("README has %d lines: it is one screen, the rest is the program's own help", n)
	}
	known := map[string]map[string]bool{}
	all := map[string]bool{}
	for _, v := range verbNames() {
		known[v] = flagsOf(t, v)
		for f := range known[v] {
			all[f] = true
		}
	}
	var lines []string
	for _, m := range fence.FindAllStringSubmatch(text, -1) {
		lines = append(lines, strings.Split(strings.ReplaceAll(m[1], "\\\n", " "), "\n")...)
	}
	for _, m := range inline.FindAllStringSubmatch(fence.ReplaceAllString(text, ""), -1) {
		lines = append(lines, strings.Join(strings.Fields(m[1]), " "))
	}
	lines = append(lines, strings.Split(usage, "\n")...)
	lines = append(lines, topicLines()...)
	for _, v := range verbNames() {
		lines = append(lines, strings.Split(helpOf(t, v), "\n")...)
	}
	shown := map[string]bool{}
	for _, l := range lines {
		l = strings.TrimSpace(strings.Replace(l, "go run ./cmd/sealworthy ", "sealworthy ", 1))
		rest, ok := strings.CutPrefix(l, "sealworthy ")
		if strings.HasPrefix(l, "go run ./instruments/") {
			continue // another command, with flags of its own
		}
		if slices.ContainsFunc(otherCommands, func(c string) bool { return strings.HasPrefix(l, c+" ") }) {
			continue
		}
		if !ok {
			for _, f := range flagWord.FindAllString(l, -1) {
				if !all[f] {
					t.Errorf("%q: no verb has the flag %s", l, f)
				}
			}
			continue
		}
		rest = strings.TrimSpace(rest)
		verb, _, _ := strings.Cut(rest, " ")
		if strings.HasPrefix(verb, "#") {
			continue // the program alone, and what is said of it
		}
		if _, ok := verbNamed(verb); !ok {
			if verb != "measures" && verb != "VERB" { // a sentence
				t.Errorf("%q: there is no verb %q", l, verb)
			}
			continue
		}
		shown[verb] = true
		rest, _, _ = strings.Cut(rest, " -- ") // what stands behind it is another command's
		for _, f := range flagWord.FindAllString(rest, -1) {
			if !known[verb][f] {
				t.Errorf("%q: %s has no flag %s", l, verb, f)
			}
		}
	}
	for _, v := range verbNames() {
		if !shown[v] || !strings.Contains(usage, "sealworthy "+v+" ") {
			t.Errorf("%s is nowhere shown", v)
		}
	}
}

// What README says of a new build holds for the plan that "new" writes.
func TestReadmeFitsTheStarter(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse(planFile, plan.Starter("brackwater"))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	readme = append(readme, strings.Join(topicLines(), "\n")...)
	faults := regexp.MustCompile(`--fault "([^"]+)"`).FindAllStringSubmatch(string(readme), -1)
	closures := regexp.MustCompile(`--closure (\w+)`).FindAllStringSubmatch(string(readme), -1)
	if len(faults) == 0 || len(closures) == 0 {
		t.Fatal("README shows no fault or no closure")
	}
	for _, f := range faults {
		if _, err := parseFaults(p, []string{f[1]}, 1); err != nil {
			t.Errorf("--fault %q: %v", f[1], err)
		}
	}
	for _, c := range closures {
		if _, err := toldLook(p, c[1], "all right"); err != nil {
			t.Errorf("--closure %s: %v", c[1], err)
		}
	}
}

// A flag's value is called by what the maker gives, not by how the program holds it.
func TestPlaceholdersAreAMakersWords(t *testing.T) {
	for _, v := range verbNames() {
		for name, f := range flagsTaken(context.Background(), quiet(), v) {
			if isSwitch(f) {
				continue
			}
			value, _ := flag.UnquoteUsage(f)
			switch p := placeholder(value); p {
			case "", "STRING", "LONG", "VALUE", "INT", "UINT", "FLOAT", "DURATION", "MANY", "WORDS":
				t.Errorf("%s --%s takes a %q", v, name, p)
			}
		}
	}
}

// topicLines are all lines of the topics of help.
func topicLines() []string {
	var out []string
	for _, name := range topicNames() {
		text, _ := topic(name)
		out = append(out, strings.Split(text, "\n")...)
	}
	return out
}

// Each topic is listed, is there, and it and each verb's help fit the width.
func TestTopicsArePrinted(t *testing.T) {
	files, err := topicFiles.ReadDir("topics")
	if err != nil || len(files) != len(topicNames()) {
		t.Fatalf("%d files, %d topics, %v", len(files), len(topicNames()), err)
	}
	var said bytes.Buffer
	if s := run(context.Background(), []string{"help", "help"}, env{stdout: &said, stderr: &said}); s != exitReady {
		t.Errorf("help help: %d", s)
	}
	for _, name := range topicNames() {
		listed := strings.Contains(usage, name) && strings.Contains(said.String(), name)
		if _, ok := topic(name); !ok || !listed {
			t.Errorf("%s: there %v, listed %v", name, ok, listed)
		}
	}
	for _, name := range append(topicNames(), verbNames()...) {
		var out bytes.Buffer
		e := env{stdout: &out, stderr: &out, getenv: func(string) string { return "" }}
		if status := run(context.Background(), []string{"help", name}, e); status != exitReady {
			t.Errorf("help %s: %d", name, status)
		}
		for _, l := range strings.Split(out.String(), "\n") {
			if n := len([]rune(l)); n > width {
				t.Errorf("help %s: %d columns: %s", name, n, l)
			}
		}
		for _, l := range strings.Split(strings.TrimSpace(out.String()), "\n") {
			if strings.HasSuffix(l, " ") {
				t.Errorf("help %s: a blank at the end of %q", name, l)
			}
		}
	}
}
