//go:build !windows

package hold

import (
	"fmt"
	"io/fs"
	"os"
	"syscall"
)

// noFollow makes opening fail on a link.
const noFollow = syscall.O_NOFOLLOW

// ownedHere refuses what belongs to another user, or what others can write to.
func ownedHere(path string, info fs.FileInfo) error {
	if st, ok := info.Sys().(*syscall.Stat_t); ok && int(st.Uid) != os.Geteuid() {
		return fmt.Errorf("%s belongs to another user; locks need a folder of your own (set XDG_RUNTIME_DIR)", path)
	}
	if m := info.Mode().Perm(); m&0o022 != 0 {
		return fmt.Errorf("%s can be written by others (mode %o): chmod go-w it", path, m)
	}
	return nil
}
