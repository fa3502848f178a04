package record

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/gofrs/flock"
)

// OS is the machine's file system.
type OS struct{}

var _ FS = OS{}

// Open implements FS. The file is not opened for appending: Windows then
// refuses to truncate it, and the lock leaves one writer anyway.
func (OS) Open(name string) (File, error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

// SyncFolder implements FS. It does nothing on Windows, which can't sync a folder.
func (OS) SyncFolder(name string) error { return syncFolder(filepath.Dir(name)) }

// Lock implements FS. NAME.lock is locked; who holds it stands in NAME.held,
// since Windows lets nobody read a locked file. Both names stay when the
// program dies, the lock doesn't. NAME.lock is never removed: a process that
// waits on a removed file would hold a lock that nobody else sees.
func (OS) Lock(name string) (func() error, error) {
	l := flock.New(name + ".lock")
	got, err := l.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock %s: %w", name, err)
	}
	held := name + ".held"
	if !got {
		who, err := os.ReadFile(held)
		if err != nil || len(who) == 0 {
			return nil, fmt.Errorf("%s: %w", name, ErrInUse)
		}
		return nil, fmt.Errorf("%s: %w (%s)", name, ErrInUse, who)
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	who := fmt.Sprintf("%s, process %d on %s", filepath.Base(os.Args[0]), os.Getpid(), host)
	if err := os.WriteFile(held, []byte(who), 0o666); err != nil {
		return nil, fmt.Errorf("write who holds %s: %w", name, errJoin(err, l.Unlock()))
	}
	return func() error {
		return errJoin(os.Remove(held), l.Unlock())
	}, nil
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
