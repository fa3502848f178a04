package main

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestWhatDevelopersNames: every folder, file, test and variable that DEVELOPERS.md names is
// there, and every room of the tree stands in its list.
func TestWhatDevelopersNames(t *testing.T) {
	root := filepath.Join("..", "..")
	src, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	rooms := map[string]bool{} // folders with Go files that aren't tests
	var code strings.Builder
	err = filepath.WalkDir(root, func(at string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(root, at)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		if d.IsDir() {
			if d.Name() == ".git" {
				return fs.SkipDir
			}
			files = append(files, name)
			return nil
		}
		files = append(files, name)
		if strings.HasSuffix(name, ".go") || strings.HasPrefix(name, ".ci/") {
			b, err := os.ReadFile(at)
			if err != nil {
				return err
			}
			code.Write(b)
		}
		if strings.HasSuffix(name, ".go") && !strings.HasSuffix(name, "_test.go") {
			rooms[path.Dir(name)] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	there := func(name string) bool {
		for _, f := range files {
			if f == name || strings.HasSuffix(f, "/"+name) {
				return true
			}
		}
		return false
	}

	text := string(src)
	_, list, _ := strings.Cut(text, "```\n")
	list, rest, ok := strings.Cut(list, "```")
	if !ok {
		t.Fatal("there is no list of rooms")
	}
	above := []string{}
	named := list
	for line := range strings.Lines(list) {
		blanks := len(line) - len(strings.TrimLeft(line, " "))
		if strings.TrimSpace(line) == "" || blanks > 4 {
			continue // a description goes on
		}
		above = append(above[:blanks/2:blanks/2], strings.Fields(line)[0])
		room := path.Join(above...)
		if i, err := os.Stat(filepath.Join(root, filepath.FromSlash(room))); err != nil || !i.IsDir() {
			t.Errorf("the list has the room %s, which isn't there", room)
		}
		delete(rooms, room)
	}
	for room := range rooms {
		if !regexp.MustCompile(`\b`+path.Base(room)+`\b`).MatchString(named) && !strings.HasPrefix(room, "testdata/") {
			t.Errorf("the room %s isn't in the list", room)
		}
	}

	rest, _, _ = strings.Cut(rest, "## Dependencies")
	for _, name := range regexp.MustCompile(`[\w./*-]*[\w*]\.(go|md|py|toml)\b|\.ci/\w+`).FindAllString(rest, -1) {
		if name = strings.TrimPrefix(name, "./"); !strings.Contains(name, "*") && !there(name) && name != "bench.toml" {
			t.Errorf("there is no file %s", name)
		}
	}
	for _, name := range regexp.MustCompile(`(?:\./)?\b(?:capture|compare|cmd|instruments|plots|page|session)/[\w/]+[\w]`).FindAllString(rest, -1) {
		if name = strings.TrimPrefix(name, "./"); !there(name) && !there(name+".go") &&
			!strings.Contains(rest, name+".") {
			t.Errorf("there is no %s", name)
		}
	}
	for _, name := range regexp.MustCompile(`SEALWORTHY_[A-Z_]+`).FindAllString(rest, -1) {
		if !strings.Contains(code.String(), name) {
			t.Errorf("nothing reads %s", name)
		}
	}
	for _, m := range regexp.MustCompile(`-run\s+(\w+)`).FindAllStringSubmatch(rest, -1) {
		name := strings.TrimPrefix(m[1], "Test")
		if !regexp.MustCompile(`func Test\w*` + name).MatchString(code.String()) {
			t.Errorf("no test is called %s", m[1])
		}
	}
	for _, m := range regexp.MustCompile(`\b(?:session|plan|capture|instruments|clock)\.([A-Z]\w+)`).FindAllStringSubmatch(rest, -1) {
		if !regexp.MustCompile(`(?:func (?:\([^)]*\) )?|type |\t)` + m[1] + `\b`).MatchString(code.String()) {
			t.Errorf("nothing is called %s", m[0])
		}
	}
}
