package record

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/instruments/plainfile"
)

// Ext is the extension of a record.
const Ext = ".lp"

// nameTime is the time in a file's name, UTC, without the colons that Windows refuses.
const nameTime = "20060102T150405Z"

// Stages are the stages of a test in the order in which a model passes them.
func Stages() []string { return []string{"loose", "fitted", "closed", "delivered", "returned"} }

// NewName gives the name of the file of a sitting that starts at t, without a
// folder: 20261125T064500Z-loose.lp.
func NewName(t time.Time, stage string) (string, error) {
	if t.IsZero() || !slices.Contains(Stages(), stage) {
		return "", fmt.Errorf("stage %q: it is one of %s", stage, strings.Join(Stages(), ", "))
	}
	return t.UTC().Format(nameTime) + "-" + stage + Ext, nil
}

// Sitting is one file of readings.
type Sitting struct {
	Path  string    `json:"path"`
	At    time.Time `json:"at"` // when it started
	Stage string    `json:"stage"`
}

// ParseName gives start and stage from a file's name; ok is false for a name
// that NewName doesn't make.
func ParseName(name string) (s Sitting, ok bool) {
	base, isRecord := strings.CutSuffix(filepath.Base(name), Ext)
	at, stage, found := strings.Cut(base, "-")
	t, err := time.Parse(nameTime, at)
	if !isRecord || !found || err != nil || !slices.Contains(Stages(), stage) {
		return Sitting{}, false
	}
	// The parser of times takes more than the format says, as fractions of a second.
	if same, err := NewName(t, stage); err != nil || same != filepath.Base(name) {
		return Sitting{}, false
	}
	return Sitting{Path: name, At: t, Stage: stage}, true
}

// ListSittings lists the files of readings in dir, oldest first. A folder that
// isn't there holds none. Other names are left out; one that ends in .lp but
// isn't a sitting's is a warning.
func ListSittings(dir string) ([]Sitting, []Warning, error) {
	entries, err := os.ReadDir(dir)
	if os.IsNotExist(err) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	var out []Sitting
	var warn []Warning
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if e.IsDir() || filepath.Ext(e.Name()) != Ext {
			continue
		}
		s, ok := ParseName(path)
		if !ok {
			warn = append(warn, Warning{File: path, What: "not read: its name is not like 20261125T064500Z-loose.lp"})
			continue
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Sitting) int { return a.At.Compare(b.At) })
	return out, warn, nil
}

// Read folds the sittings in order. A file that can't be read to its end ends it.
func Read(sittings []Sitting) (Folded, error) {
	var f Folder
	for _, s := range sittings {
		if err := f.readFile(s.Path); err != nil {
			return f.Folded(), err
		}
	}
	return f.Folded(), nil
}

// readFile adds the records of a file. A step doesn't go on in another file.
func (f *Folder) readFile(path string) (err error) {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if err := plainfile.Plain(path, info); err != nil { // a pipe would be waited for, a device never ends
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { err = errJoin(err, file.Close()) }()
	before := len(f.f.Warnings)
	warn, err := Scan(file, func(r Record) error { f.Add(r); return nil })
	f.flushStrays()
	f.interrupt(noEnd)
	f.f.Warnings = append(f.f.Warnings, warn...)
	for i := range f.f.Warnings[before:] {
		f.f.Warnings[before+i].File = path
	}
	if err != nil {
		return &fs.PathError{Op: "read", Path: path, Err: err}
	}
	return nil
}
