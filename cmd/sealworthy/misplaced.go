package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// misplacedPlan says what to do where a folder has no plan, but something that was
// meant as one: a file whose ending an editor hid, or a build one folder below. "":
// there is neither.
func misplacedPlan(dir string) string {
	entries, err := inFolder(dir)
	if err != nil {
		return ""
	}
	var below []string
	for _, x := range entries {
		name := x.Name()
		if x.IsDir() {
			if _, err := os.Stat(filepath.Join(dir, name, planFile)); err == nil {
				below = append(below, filepath.Join(dir, name))
			}
			continue
		}
		if meantAsPlan(name) {
			return fmt.Sprintf("%s is there: rename it to %s (an editor or the desktop may hide its ending)",
				filepath.Join(dir, name), planFile)
		}
	}
	if len(below) == 1 {
		return "a build is one folder below: " + quoted(below[0])
	}
	if len(below) > 1 {
		return "builds are one folder below: " + strings.Join(below, ", ")
	}
	return ""
}

// meantAsPlan: what editors, downloads and desktops make of plan.toml.
func meantAsPlan(name string) bool {
	name = strings.ToLower(name)
	return slices.Contains([]string{"plan", "plan.txt", "plan.tml", "plan.toml", "plan.toml.toml", "plan.toml.txt",
		"plan.toml.rtf",
		"plan.rtf", "plan (1).toml", "plan(1).toml", "plan copy.toml", "plan - copy.toml"}, name)
}
