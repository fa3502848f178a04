// Package plainfile reads what a person has written: a plain file, of a size
// that a person writes. A folder, a pipe or a device at that name is an error
// at once, instead of a wait without end or all of the memory.
package plainfile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
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
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if err := Plain(path, info); err != nil { // before it's opened: a pipe would wait for its other end
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	src, err := io.ReadAll(io.LimitReader(f, most+1))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if int64(len(src)) > most {
		return nil, fmt.Errorf("%s is %w: more than %d MB", path, ErrTooLarge, most>>20)
	}
	return src, nil
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
