package machine

import (
	"errors"
	"os"

	"sealworthy/capture/record"
)

// disk is the machine's file system with two ways to fail: a program that dies,
// after which nothing more reaches a file, and a disk that fills up.
type disk struct {
	record.OS
	dead bool
	full bool
	room int64 // bytes that may still be written once full
}

var (
	errDead = errors.New("the program died")
	errFull = errors.New("no space left on device")
)

func (d *disk) Create(name string) (record.File, error) {
	f, err := d.OS.Create(name)
	if err != nil {
		return nil, err
	}
	return diskFile{f, d}, nil
}

func (d *disk) Same(f record.File, name string) (bool, error) {
	return d.OS.Same(f.(diskFile).File, name)
}

// Replace is that of the machine without its syncs.
func (d *disk) Replace(name string, content []byte) error {
	if d.dead {
		return errDead
	}
	tmp := name + ".new"
	if err := os.WriteFile(tmp, content, 0o644); err != nil {
		return err
	}
	return os.Rename(tmp, name)
}

func (d *disk) SyncFolder(string) error { return nil }

type diskFile struct {
	record.File
	d *disk
}

func (f diskFile) WriteAt(p []byte, at int64) (int, error) {
	switch {
	case f.d.dead:
		return 0, errDead
	case f.d.full && int64(len(p)) > f.d.room:
		n, err := f.File.WriteAt(p[:f.d.room], at)
		f.d.room -= int64(n)
		if err == nil {
			err = errFull
		}
		return n, err
	}
	f.d.room -= int64(len(p))
	return f.File.WriteAt(p, at)
}

func (f diskFile) Truncate(n int64) error {
	if f.d.dead {
		return errDead
	}
	return f.File.Truncate(n)
}

func (f diskFile) Sync() error {
	if f.d.dead {
		return errDead
	}
	// A rig for tests: what a power cut leaves isn't tried here, so the disk itself
	// needn't be waited for.
	return nil
}
