package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"sealworthy/instruments/plainfile"
)

// Every file but the record is written and read here, in one of four ways:
// what the program makes anew each time (writeMade), what must not be there yet
// (writeNew), what belongs to the maker and is changed (writeEdited), and what nobody
// else may read (writeSecret).

// A file is written whole or not at all: into a temporary one of the same
// folder, synced, then renamed. A failed run leaves the old one. No link is
// followed to what is replaced but for a file that the maker keeps elsewhere.

// writeMade writes what the program makes anew each time: pages, pictures, what
// it has learned. A file that is there is replaced only when the program made it
// and nobody changed it since; it keeps its mode.
func writeMade(path string, write func(io.Writer) error) error {
	var buf bytes.Buffer
	if err := write(&buf); err != nil {
		return err
	}
	src, err := sealed(buf.Bytes())
	if err != nil {
		return err
	}
	old, err := placeFor(path)
	if err != nil {
		return err
	}
	if old == nil {
		return create(path, src)
	}
	return replace(path, old, src)
}

// placeFor looks whether something that the program makes may go to a name; nil:
// nothing is there yet. Before long work it's asked for, too.
func placeFor(path string) (fs.FileInfo, error) {
	if what := keptName(path); what != "" {
		return nil, withHint(fmt.Errorf("nothing was written: %s is the name of %s", path, what),
			"give it a name that ends in .html, or in the format of the picture")
	}
	old, err := lookAt(path)
	if err != nil {
		return nil, withHint(fmt.Errorf("nothing was written: %w", err), "give another name or another folder")
	}
	if old == nil {
		return nil, nil
	}
	if old.Mode()&0o200 == 0 {
		return nil, withHint(fmt.Errorf("nothing was written: %s is there and write-protected", path),
			"give another name or another folder")
	}
	have, err := readFile(path, mostOwnBytes)
	if err != nil {
		return nil, fmt.Errorf("nothing was written: %w", err)
	}
	if !isSealed(have) {
		return nil, withHint(fmt.Errorf("nothing was written: %s is there, and %w", path, errNotOurs),
			"give another name, or move that file away if it isn't needed")
	}
	return old, nil
}

// errNotOurs: a file stands where one of the program's own should go.
var errNotOurs = errors.New("it isn't as this program made it")

// keptName says what a file name is kept for that no page and no picture may
// have; "" if it's free.
func keptName(path string) string {
	name := strings.ToLower(filepath.Base(path))
	switch name {
	case planFile:
		return "the plan"
	case benchFile:
		return "the bench"
	case priorsFile, partsFile:
		return "what you say of faults and parts"
	}
	switch filepath.Ext(name) {
	case ".lp", ".lock", ".held":
		return "a record"
	}
	return ""
}

// writeNew writes a file that must not be there yet, not even as a link.
func writeNew(path string, src []byte) error {
	old, err := lookAt(path)
	if err == nil && old != nil {
		err = &fs.PathError{Op: "write", Path: path, Err: fs.ErrExist}
	}
	if err != nil {
		return err
	}
	return create(path, src)
}

// writeNewBy is writeNew for what is too long to be held.
func writeNewBy(path string, write func(io.Writer) error) error {
	if what := keptName(path); what != "" {
		return withHint(fmt.Errorf("nothing was written: %s is the name of %s", path, what), "give another name")
	}
	old, err := lookAt(path)
	if err == nil && old != nil {
		err = &fs.PathError{Op: "write", Path: path, Err: fs.ErrExist}
	}
	if err != nil {
		return err
	}
	return createBy(path, write)
}

// writeEdited replaces what the maker wrote by the same with a change in it. It
// must still be as it was read. A link leads to the file that is changed.
func writeEdited(path string, was, src []byte) error {
	to, err := filepath.EvalSymlinks(path)
	if err != nil {
		return err
	}
	info, err := lookAt(to)
	if err != nil {
		return err
	}
	if info == nil {
		return &fs.PathError{Op: "change", Path: path, Err: fs.ErrNotExist}
	}
	have, err := readFile(to, mostBytes)
	if err != nil {
		return err
	}
	if !bytes.Equal(have, was) {
		return withHint(fmt.Errorf("nothing was written: %s was changed by somebody else just now", path),
			"do it once more")
	}
	return replace(to, info, src)
}

// lookAt looks whether a plain file is there; nil: nothing is. Anything else at
// that name is an error: a folder, a link, a device.
func lookAt(path string) (fs.FileInfo, error) {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		dir := filepath.Dir(path)
		if d, err := os.Stat(dir); err != nil || !d.IsDir() {
			return nil, fmt.Errorf("there is no folder %s", dir)
		}
		return nil, nil
	case err != nil:
		return nil, err
	case info.Mode().Type() == 0:
		return info, nil
	}
	return nil, plainfile.Plain(path, info)
}

// create puts a new file to its name, under the mode that the user's mask
// leaves. What came to that name meanwhile stays.
func create(path string, src []byte) error { return createBy(path, writeBytes(src)) }

// createBy is create for what is too long to be held: it is written as it comes.
func createBy(path string, write func(io.Writer) error) error {
	return through(path, plainfile.Temporary, write, func(temp string) error {
		err := os.Link(temp, path) // unlike a rename it never replaces
		if err == nil {
			return os.Remove(temp)
		}
		if errors.Is(err, fs.ErrExist) {
			return err
		}
		if _, there := os.Lstat(path); there == nil { // a file system without links
			return &fs.PathError{Op: "write", Path: path, Err: fs.ErrExist}
		}
		return os.Rename(temp, path)
	})
}

// moveBeside gives a file a name of its own beside the one that it had, which is free then.
func moveBeside(path string) (to string, err error) {
	for n := 1; ; n++ {
		to = fmt.Sprintf("%s.%d", path, n)
		err := os.Link(path, to) // unlike a rename it never replaces
		switch _, there := os.Lstat(to); {
		case err == nil:
			err = os.Remove(path)
		case there == nil:
			continue
		case errors.Is(there, fs.ErrNotExist): // a file system without links
			err = os.Rename(path, to)
		}
		if err != nil {
			return "", err
		}
		syncFolder(filepath.Dir(path))
		return to, nil
	}
}

// replace puts a file into the place of another, with its mode.
func replace(path string, old fs.FileInfo, src []byte) error {
	return through(path, plainfile.Temporary, writeBytes(src), func(temp string) error {
		if err := os.Chmod(temp, old.Mode().Perm()); err != nil {
			return err
		}
		if now, err := os.Lstat(path); err != nil || !os.SameFile(now, old) {
			return fmt.Errorf("nothing was written: %s was changed by somebody else just now", path)
		}
		return os.Rename(temp, path)
	})
}

// writeSecret writes what nobody but the maker may read, from its first byte on; one
// that is there is replaced.
func writeSecret(path string, src []byte) error {
	private := func(dir string) (*os.File, error) { return os.CreateTemp(dir, ".sealworthy-*") } // mode 0600
	return through(path, private, writeBytes(src), func(temp string) error { return os.Rename(temp, path) })
}

// readSecret reads what writeSecret wrote. open: others may read it, too; on Windows
// the folder's own rights say that, not a mode.
func readSecret(path string) (src []byte, open bool, err error) {
	if src, err = readFile(path, mostBytes); err != nil {
		return nil, false, err
	}
	info, err := os.Stat(path)
	return src, err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0, err
}

// through writes a temporary file beside path and hands it on.
func through(path string, temporary func(dir string) (*os.File, error), write func(io.Writer) error,
	put func(temp string) error) (err error) {
	dir := filepath.Dir(path)
	f, err := temporary(dir)
	if err != nil {
		return noWriting(dir, err)
	}
	name := f.Name()
	defer func() {
		if err != nil {
			os.Remove(name)
		}
	}()
	if err = write(f); err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil { // closed before the rename: Windows!
		err = e
	}
	if err != nil {
		return err
	}
	if err := put(name); err != nil {
		return err
	}
	syncFolder(dir)
	return nil
}

// syncFolder makes sure that a new name outlives a power cut; where folders
// can't be synced (Windows) the system does it by itself.
func syncFolder(dir string) {
	if runtime.GOOS == "windows" {
		return
	}
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync() // the file itself is synced: nothing more can be done
		_ = d.Close()
	}
}

func noWriting(dir string, err error) error {
	if errors.Is(err, fs.ErrPermission) {
		return withHint(fmt.Errorf("nothing may be written into %s: %w", dir, fs.ErrPermission),
			"give another folder, or allow it")
	}
	return err
}

// makeFolder makes a folder and those above it, where they aren't there.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return withHint(fmt.Errorf("%s is there and no folder", dir), "give another name")
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return noWriting(filepath.Dir(dir), err)
	}
	return nil
}

// Most that is read of a file: of what a maker writes, and of what the program
// made. More is no plan, no bench, no page.
const (
	mostBytes    = plainfile.MostBytes
	mostOwnBytes = 256 << 20
)

// readFile reads a plain file, following a link to one, up to so many bytes.
func readFile(path string, most int64) ([]byte, error) {
	return plainfile.Read(path, most)
}

// temporaryFolder makes a folder of its own for a build that nobody named.
func temporaryFolder(name string) (string, error) { return os.MkdirTemp("", name+"-") }

// writeJSON prints what a verb found for programs: one of outputs, indented, with its
// format.
func writeJSON(w io.Writer, v any) error {
	src, err := asPrinted(v)
	if err != nil {
		return err
	}
	return writeIndented(w, src)
}

func writeIndented(w io.Writer, src []byte) error {
	var b bytes.Buffer
	if err := json.Indent(&b, bytes.TrimSpace(src), "", "  "); err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err := w.Write(b.Bytes())
	return err
}

// writeBytes writes what is there already.
func writeBytes(src []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(slices.Clip(src)); return err }
}

// writeOnce writes a file that the program brings along; the same again is no
// harm, another one of that name stays.
func writeOnce(path string, src []byte) error {
	if have, err := readFile(path, mostBytes); err == nil && bytes.Equal(have, src) {
		return nil
	}
	return writeNew(path, src)
}

// filesIn gives the files of a folder that end so, in the order of their names;
// none where there is no folder. The folder's name is no pattern.
func filesIn(dir, ext string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var out []string
	for _, x := range entries {
		if filepath.Ext(x.Name()) == ext {
			out = append(out, filepath.Join(dir, x.Name()))
		}
	}
	return out, nil
}

// inFolder lists what a folder holds, by name.
func inFolder(dir string) ([]fs.DirEntry, error) { return os.ReadDir(dir) }

// lookedUp is what the system tells of what a path names, without reading it.
func lookedUp(path string) (fs.FileInfo, error) { return os.Stat(path) }

// changedAt is when what a path names was changed last; zero: it isn't there.
func changedAt(path string) time.Time {
	info, err := os.Stat(path)
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

// openToRead opens a file that may be long; whoever opened it closes it.
func openToRead(path string) (*os.File, error) { return os.Open(path) }

// removeOwn takes a file away that the program made for itself; one that isn't there is
// no error.
func removeOwn(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// removeTemporary takes a folder away that temporaryFolder made, with all in it.
func removeTemporary(dir string) { _ = os.RemoveAll(dir) } // what stays there is the system's to clear
