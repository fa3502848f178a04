package record

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"time"
)

// Attach keeps the name and digest of a file that lies beside the chain, in the
// build's folder: a photo, what concerns a client. The file isn't copied.
func (r *Recorder) Attach(tree fs.FS, name string, at time.Time) error {
	d, err := digest(tree, name)
	if err != nil {
		return err
	}
	_, err = r.Append(Record{File: &Attached{Name: name, Bytes: d.Bytes, SHA256: d.SHA256, At: at, Stage: r.o.Stage}})
	return err
}

// FileState is how a file beside the chain was found.
type FileState string

// How a file can be found.
const (
	FileThere   FileState = "as it was"
	FileGone    FileState = "not there" // which harms nothing
	FileChanged FileState = "changed"
)

// StateOf compares a file with what was kept of it.
func StateOf(tree fs.FS, a Attached) (FileState, error) {
	f, err := tree.Open(a.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return FileGone, nil
	}
	if err != nil {
		return "", err
	}
	defer f.Close() // read only: nothing to lose
	h := sha256.New()
	// One byte more than it had tells that it grew; there is no need to read on.
	n, err := io.Copy(h, io.LimitReader(f, a.Bytes+1))
	if err != nil {
		return "", &fs.PathError{Op: "read", Path: a.Name, Err: err}
	}
	if n != a.Bytes || hex.EncodeToString(h.Sum(nil)) != a.SHA256 {
		return FileChanged, nil
	}
	return FileThere, nil
}
