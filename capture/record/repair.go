package record

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// RepairedSuffix is added to a file's name for a copy of what is sound in it. The copy is
// no record: nothing reads it as one, and put in the place of the damaged file it is one
// with lines that can't be read.
const RepairedSuffix = ".repaired"

// mostCopies of one file are made.
const mostCopies = 99

// Repaired is what became of one damaged file.
type Repaired struct {
	From  string   `json:"from"`           // relative to the build's folder, with slashes
	Into  string   `json:"into,omitempty"` // empty: no copy was made
	Lines int      `json:"lines"`          // that are sound, and stand in the copy
	Left  []string `json:"left_out"`       // the names of the damage that was left out
	Why   string   `json:"why,omitempty"`  // no copy was made
}

// Repair writes beside each damaged file of the chain a copy of its lines that are sound,
// byte for byte, with a remark where something was left out. Nothing that is there is
// changed or overwritten: what is damaged stays so, and caps what is said of the build.
func Repair(fsys FS, dir, program string, now time.Time) (done []Repaired, err error) {
	unlock, err := fsys.Lock(dir)
	if err != nil {
		return nil, err
	}
	defer func() { err = errJoin(err, unlock()) }()
	tree := fsys.Tree(dir)
	r := reading{tree: tree}
	if err := r.survey(); err != nil {
		return nil, err
	}
	// What is sound goes nowhere the first time.
	r.each = func(Kept) error { return nil }
	if err := r.files(); err != nil {
		return nil, err
	}
	damaged := map[string][]string{}
	var order []string
	for _, d := range r.damage {
		if d.File != HeadFile && damaged[d.File] == nil {
			order = append(order, d.File)
		}
		damaged[d.File] = append(damaged[d.File], d.Name)
	}
	for _, file := range order {
		x := Repaired{From: file, Left: damaged[file]}
		i := slices.IndexFunc(r.all, func(f listed) bool { return f.path() == file })
		switch {
		case i < 0:
			x.Why = "it is missing"
		case !r.all[i].chained || r.all[i].build != r.head.Build || r.head.number(r.all[i].sitting) == nil:
			x.Why = "it is not of this chain"
		default:
			c := copying{fs: fsys, dir: dir, file: r.all[i], build: r.head.Build, program: program, now: now}
			if x.Into, x.Lines, err = c.write(*r.head.number(r.all[i].sitting)); err != nil {
				return done, err
			}
		}
		done = append(done, x)
	}
	return done, nil
}

// copying makes the copy of one file.
type copying struct {
	fs             FS
	dir            string
	file           listed
	build, program string
	now            time.Time
}

// write writes the copy under a name that nobody takes for one, and names it when it is
// whole and on the disk.
func (c copying) write(s HeadSitting) (into string, lines int, err error) {
	tree := c.fs.Tree(c.dir)
	into, err = c.free(tree)
	if err != nil {
		return "", 0, err
	}
	name := filepath.Join(c.dir, filepath.FromSlash(into))
	file, err := c.fs.Create(name + newSuffix)
	if err != nil {
		return "", 0, err
	}
	lines, err = c.fill(tree, s, file)
	if err == nil {
		err = file.Sync()
	}
	if err = errJoin(err, file.Close()); err == nil {
		err = c.fs.Rename(name+newSuffix, name)
	}
	if err == nil {
		err = c.fs.SyncFolder(name)
	}
	if err != nil {
		return "", 0, fmt.Errorf("the copy %s: %w", into, err)
	}
	return into, lines, nil
}

// free is a name that is nobody's.
func (c copying) free(tree fs.FS) (string, error) {
	for n := 1; n <= mostCopies; n++ {
		name := c.file.path() + RepairedSuffix
		if n > 1 {
			name += strconv.Itoa(n)
		}
		taken := false
		for _, x := range []string{name, name + newSuffix} {
			_, err := fs.Stat(tree, x)
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
			taken = taken || err == nil
		}
		if !taken {
			return name, nil
		}
	}
	return "", fmt.Errorf("%s has %d repaired copies: take some away", c.file.path(), mostCopies)
}

// fill goes through the file once more. A remark of line protocol begins with #.
func (c copying) fill(tree fs.FS, s HeadSitting, file File) (lines int, err error) {
	w := bufio.NewWriter(io.NewOffsetWriter(file, 0))
	remark := func(text string) {
		quoted := strconv.QuoteToASCII(text)
		fmt.Fprintf(w, "# %s\n", quoted[1:len(quoted)-1]) // its error comes back with Flush
	}
	remark(fmt.Sprintf("A repaired copy of %s, made %s by %s.", c.file.path(), c.now.UTC().Format(time.RFC3339),
		strings.TrimSpace(c.program)))
	remark("It is no record and no verdict rests on it. What is damaged is left out, with a remark where it stood.")
	r := reading{tree: tree, head: Head{Build: c.build}}
	told := 0
	left := func() {
		for ; told < len(r.damage); told++ {
			remark("left out: " + r.damage[told].Name + ": " + r.damage[told].What)
		}
	}
	r.each = func(k Kept) error {
		left()
		lines++
		if _, err := w.Write(k.Text); err != nil {
			return err
		}
		return w.WriteByte('\n')
	}
	if err := r.sitting(s, c.file); err != nil {
		return lines, err
	}
	left()
	return lines, w.Flush()
}
