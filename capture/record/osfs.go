package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sealworthy/instruments/hold"
	"sealworthy/instruments/plainfile"
)

// OS is the machine's file system.
type OS struct {
	Locks hold.Folder // where the right to write to a build is taken
}

var _ FS = OS{}

// Tree implements FS.
func (OS) Tree(dir string) fs.FS { return os.DirFS(dir) }

// Create implements FS. The file is not opened for appending: Windows then
// refuses to truncate it, and the lock leaves one writer anyway.
func (OS) Create(name string) (File, error) {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

// Open implements FS.
func (OS) Open(name string) (File, error) {
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

// Replace implements FS: a temporary file in the same folder, synced, closed
// (Windows renames no open file), renamed, and the folder synced.
func (o OS) Replace(name string, content []byte) (err error) {
	dir := filepath.Dir(name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f, err := plainfile.Temporary(dir)
	if err != nil {
		return err
	}
	tmp := f.Name()
	defer func() {
		if err != nil {
			err = errJoin(err, os.Remove(tmp))
		}
	}()
	if _, err = f.Write(content); err == nil {
		err = f.Sync()
	}
	if err = errJoin(err, f.Close()); err != nil {
		return err
	}
	if was, serr := os.Stat(name); serr == nil {
		if err = os.Chmod(tmp, was.Mode().Perm()); err != nil {
			return err
		}
	}
	if err = renameOver(tmp, name); err != nil {
		return err
	}
	return o.SyncFolder(name)
}

// Rename implements FS.
func (OS) Rename(from, to string) error {
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: errJoin(fs.ErrExist, err)}
	}
	return os.Rename(from, to)
}

// SyncFolder implements FS. It does nothing on Windows, which can't sync a folder.
func (OS) SyncFolder(name string) error { return syncFolder(filepath.Dir(name)) }

// Same implements FS.
func (OS) Same(f File, name string) (bool, error) {
	of, ok := f.(osFile)
	if !ok {
		return false, fmt.Errorf("%s: not a file of this file system", name)
	}
	mine, err := of.Stat()
	if err != nil {
		return false, err
	}
	there, err := os.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil && os.SameFile(mine, there), err
}

// Lock implements FS: for the folder itself, by whatever name it is reached.
func (o OS) Lock(dir string) (func() error, error) {
	real, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if r, err := filepath.EvalSymlinks(real); err == nil {
		real = r
	}
	release, err := o.Locks.Take("build " + real)
	if errors.Is(err, hold.ErrHeld) {
		return nil, fmt.Errorf("%w: %w", ErrInUse, err)
	}
	return release, err
}

type osFile struct{ *os.File }

// Size implements File.
func (f osFile) Size() (int64, error) {
	s, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return s.Size(), nil
}
