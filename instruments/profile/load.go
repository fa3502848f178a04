package profile

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"

	"sealworthy/instruments/plainfile"
)

//go:embed builtin/*.toml
var builtin embed.FS

// ErrUnknown is a profile that is neither built in nor in the maker's folder.
var ErrUnknown = errors.New("no such profile")

// Entry is one line of a list of profiles.
type Entry struct {
	Name    string `json:"name"`
	Kind    Kind   `json:"kind"`
	Speaks  Speaks `json:"speaks"`
	About   string `json:"about"`    // in one line, what it is for
	BuiltIn bool   `json:"built_in"` // else it lies in the maker's folder
}

// Load gives the profile called name: NAME.toml in the maker's own folder
// first, then the built-in one. An empty folder means that there is none.
func Load(name, folder string) (*Profile, error) {
	if name == "" || name != filepath.Base(name) || strings.ContainsAny(name, `/\`) {
		return nil, fmt.Errorf("profile %q: a profile is named without a folder", name)
	}
	file, src, err := find(name, folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, unknown(name, folder)
	}
	if err != nil {
		return nil, fmt.Errorf("profile %q: %w", name, err)
	}
	p, err := Parse(file, src)
	if err != nil {
		return nil, err
	}
	p.Name = name
	return p, nil
}

func unknown(name, folder string) error {
	return fmt.Errorf("profile %q: %w; there are: %s", name, ErrUnknown, strings.Join(names(folder), ", "))
}

func find(name, folder string) (file string, src []byte, err error) {
	if folder != "" {
		file = filepath.Join(folder, name+".toml")
		src, err = plainfile.Read(file, plainfile.MostBytes)
		if !errors.Is(err, fs.ErrNotExist) {
			return file, src, err
		}
	}
	file = path.Join("builtin", name+".toml")
	src, err = builtin.ReadFile(file)
	return file, src, err
}

// List gives every profile that can be loaded. A file of the maker's folder
// that doesn't parse is an error beside the list of those that do.
func List(folder string) ([]Entry, error) {
	var out []Entry
	var bad []error
	for _, name := range names(folder) {
		p, err := Load(name, folder)
		if err != nil {
			bad = append(bad, err)
			continue
		}
		out = append(out, Entry{name, p.Kind, p.Speaks, p.About, strings.HasPrefix(p.File, "builtin/")})
	}
	return out, errors.Join(bad...)
}

func names(folder string) []string {
	seen := map[string]bool{}
	add := func(entries []fs.DirEntry) {
		for _, e := range entries {
			if n, ok := strings.CutSuffix(e.Name(), ".toml"); ok && !e.IsDir() {
				seen[n] = true
			}
		}
	}
	if entries, err := builtin.ReadDir("builtin"); err == nil {
		add(entries)
	}
	if folder != "" {
		if entries, err := os.ReadDir(folder); err == nil {
			add(entries)
		}
	}
	out := make([]string, 0, len(seen))
	for n := range seen {
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}
