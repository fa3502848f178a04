package record

import (
	"errors"
	"fmt"
	"io"
)

// FS is what a recorder needs of a file system.
type FS interface {
	// Open opens a file for reading and writing; it makes one that isn't there.
	Open(name string) (File, error)
	// SyncFolder makes the names in the folder of name last.
	SyncFolder(name string) error
	// Lock takes the right to write name, or fails with an error that wraps
	// ErrInUse. It doesn't wait.
	Lock(name string) (unlock func() error, err error)
}

// File is an open file of an FS.
type File interface {
	io.ReaderAt
	io.WriterAt
	Size() (int64, error)
	Truncate(size int64) error
	Sync() error
	Close() error
}

// ErrInUse says that another process writes to the file.
var ErrInUse = errors.New("another process is writing to it")

// Warning is a thing found in a file that a reader should know and that ended nothing.
type Warning struct {
	File string `json:"file,omitempty"`
	Line int    `json:"line,omitempty"` // from 1; 0: the file as a whole
	What string `json:"what"`
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
