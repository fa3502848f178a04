//go:build !windows && !darwin

package main

import (
	"cmp"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// clicked: the program was started by a double click: on a desktop, with no terminal,
// and with nothing that reads what it says, as a script would.
func clicked(getenv func(string) string, streams ...*os.File) bool {
	if getenv("DISPLAY") == "" && getenv("WAYLAND_DISPLAY") == "" {
		return false
	}
	for _, f := range streams {
		info, err := f.Stat()
		if err != nil || isTerminal(f) || info.Mode()&fs.ModeNamedPipe != 0 {
			return false
		}
	}
	return true
}

// documents is the maker's folder of documents, as the desktop has it: in the file
// user-dirs.dirs of his settings (freedesktop.org, xdg-user-dirs), else Documents if it's
// there, else his home.
func documents(getenv func(string) string) (string, error) {
	home, err := os.UserHomeDir()
	if err != nil {
		return "", err
	}
	settings := cmp.Or(getenv("XDG_CONFIG_HOME"), filepath.Join(home, ".config"))
	if src, err := readFile(filepath.Join(settings, "user-dirs.dirs"), mostBytes); err == nil {
		if dir := documentsSaid(string(src), home); dir != "" {
			return dir, nil
		}
	}
	if info, err := os.Stat(filepath.Join(home, "Documents")); err == nil && info.IsDir() {
		return filepath.Join(home, "Documents"), nil
	}
	return home, nil
}

// documentsSaid is the folder that a text of user-dirs.dirs says, "": none.
func documentsSaid(text, home string) string {
	for l := range strings.Lines(text) {
		said, ok := strings.CutPrefix(strings.TrimSpace(l), "XDG_DOCUMENTS_DIR=")
		if !ok {
			continue
		}
		said = strings.Trim(said, `"`)
		if rest, ok := strings.CutPrefix(said, "$HOME"); ok {
			said = home + rest
		}
		if filepath.IsAbs(said) {
			return filepath.Clean(said)
		}
	}
	return ""
}
