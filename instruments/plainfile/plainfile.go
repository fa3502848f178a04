// Package plainfile reads what a person has written: a plain file, of a size
// that a person writes; and makes the temporary files by which others are
// replaced whole. A folder, a pipe or a device at that name is an error
// at once, instead of a wait without end or all of the memory.
package plainfile

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// MostBytes is the most that a plan, a bench, a profile or the like may have.
const MostBytes = 4 << 20

// ErrTooLarge and ErrNotPlain say why a file that is there isn't read.
var (
	ErrTooLarge = errors.New("larger than anything that belongs there")
	ErrNotPlain = errors.New("no plain file")
)

// Read reads a plain file of up to so many bytes. A link to one is followed.
// Its error names the path.
func Read(path string, most int64) ([]byte, error) {
	return read(path, most, os.Stat, func(name string) (fs.File, error) { return os.Open(name) })
}

// ReadIn is Read in a tree of files.
func ReadIn(tree fs.FS, name string, most int64) ([]byte, error) {
	return read(name, most, func(name string) (fs.FileInfo, error) { return fs.Stat(tree, name) }, tree.Open)
}

func read(path string, most int64, stat func(string) (fs.FileInfo, error), open func(string) (fs.File, error)) ([]byte,
	error) {
	info, err := stat(path)
	if err != nil {
		return nil, err
	}
	if err := Plain(path, info); err != nil { // before it's opened: a pipe would wait for its other end
		return nil, err
	}
	f, err := open(path)
	if err != nil {
		return nil, err
	}
	src, err := io.ReadAll(io.LimitReader(f, most+1))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if int64(len(src)) > most {
		return nil, fmt.Errorf("%s is %w: more than %d kB", path, ErrTooLarge, most>>10)
	}
	return src, nil
}

// Temporary makes a new file in a folder, to be written, synced, closed and then
// renamed to its name. Its mode is that of any new file, as the user's mask has
// it; os.CreateTemp would keep it from the user's group.
func Temporary(dir string) (*os.File, error) {
	for range 100 {
		f, err := os.OpenFile(filepath.Join(dir, ".sealworthy-"+rand.Text()[:12]), os.O_RDWR|os.O_CREATE|os.O_EXCL,
			0o666)
		if !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, fmt.Errorf("no free name for a temporary file in %s", dir)
}

// Plain says what a name stands for where it's no plain file.
func Plain(path string, info fs.FileInfo) error {
	if info.Mode().Type() == 0 {
		return nil
	}
	return fmt.Errorf("%s is %s, %w", path, kind(info.Mode().Type()), ErrNotPlain)
}

func kind(t fs.FileMode) string {
	switch {
	case t&fs.ModeDir != 0:
		return "a folder"
	case t&fs.ModeSymlink != 0:
		return "a link to another place"
	case t&fs.ModeNamedPipe != 0:
		return "a pipe"
	case t&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}
