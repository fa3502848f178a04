//go:build !windows

package record

import (
	"errors"
	"os"
	"syscall"
)

// syncFolder makes a new name in dir last. Some file systems (network shares)
// answer that a folder can't be synced; there is nothing to do about it.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil
	}
	return errJoin(err, f.Close())
}

// renameOver renames in place of what is there.
func renameOver(from, to string) error { return os.Rename(from, to) }
