package record

import (
	"errors"
	"os"
	"runtime"
	"syscall"
)

// syncFolder does nothing: Windows has no way to sync a folder.
func syncFolder(string) error { return nil }

// sharingViolation is what a rename gives while somebody reads the file that it
// replaces: ERROR_SHARING_VIOLATION of winerror.h. Access denied is given, too.
const sharingViolation = syscall.Errno(32)

// renameOver renames in place of what is there, and tries again for as long as a
// reader of a few kilobytes may have it open.
func renameOver(from, to string) (err error) {
	for range 200 {
		err = os.Rename(from, to)
		if !errors.Is(err, sharingViolation) && !errors.Is(err, syscall.ERROR_ACCESS_DENIED) {
			return err
		}
		runtime.Gosched()
	}
	return err
}
