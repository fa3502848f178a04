package record

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
)

// FS is what a record needs of a file system. Names are paths of the machine.
type FS interface {
	// Tree shows a folder for reading; a folder that isn't there is empty.
	Tree(dir string) fs.FS
	// Create makes a file that must not be there, with the folder it lies in.
	Create(name string) (File, error)
	// Open opens a file that is there for reading and writing.
	Open(name string) (File, error)
	// Replace writes a file whole or not at all, in place of what is there.
	Replace(name string, content []byte) error
	// Rename gives a file another name in its folder; it replaces nothing.
	Rename(from, to string) error
	// SyncFolder makes the names in the folder of name last.
	SyncFolder(name string) error
	// Same reports whether f is the file that has this name now.
	Same(f File, name string) (bool, error)
	// Lock takes the right to write to the record in dir, or fails with an error
	// that wraps ErrInUse. It doesn't wait.
	Lock(dir string) (unlock func() error, err error)
}

// File is an open file of an FS. It is an alias, so that a file system for tests
// needn't import this package.
type File = interface {
	io.ReaderAt
	io.WriterAt
	// Size is how long it is, bytes.
	Size() (int64, error)
	// Truncate cuts it to size bytes, from its begin.
	Truncate(size int64) error
	// Sync returns once what was written outlasts a loss of power; an error: it may not.
	Sync() error
	Close() error
}

// ErrInUse says that another process writes to the record.
var ErrInUse = errors.New("another test of this build is running")

// Warning is a thing found in a file that a reader should know and that ended nothing.
type Warning struct {
	File string `json:"file,omitempty"` // relative to the build's folder, with slashes
	Line int    `json:"line,omitempty"` // from 1; 0: the file as a whole
	What string `json:"what"`           // in plain words
}

func (w Warning) String() string {
	switch {
	case w.File != "" && w.Line > 0:
		return fmt.Sprintf("%s:%d: %s", w.File, w.Line, w.What)
	case w.File != "":
		return fmt.Sprintf("%s: %s", w.File, w.What)
	case w.Line > 0:
		return fmt.Sprintf("line %d: %s", w.Line, w.What)
	}
	return w.What
}
