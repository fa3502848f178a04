// Package hold takes the right to use something (a port, a build) against other
// runs of this program. The rights are the system's own file locks, so they go
// when the process ends in any way.
//
// They lie in a folder of the user's own, that nobody else can write to: in one
// for everybody's temporary files another user could put a link there before,
// and make this program write where the link leads.
package hold

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/gofrs/flock"
)

// ErrHeld says that another process has it. The error that wraps it tells which.
var ErrHeld = errors.New("it is in use")

// Folder is where rights are taken.
type Folder struct {
	Path string // made with mode 0700 when it isn't there
	Who  string // tells others who holds what is taken here: "sealworthy, process 7 on bench"
}

// User gives the folder for the user's rights: in XDG_RUNTIME_DIR, else in the
// user's folder for caches, else, where neither is known, one of the user's own
// among the temporary files. getenv is os.Getenv, or a test's own.
func User(getenv func(string) string) Folder {
	f := Folder{Who: thisProcess()}
	if d := getenv("XDG_RUNTIME_DIR"); filepath.IsAbs(d) {
		f.Path = filepath.Join(d, "sealworthy", "locks")
	} else if d, err := os.UserCacheDir(); err == nil {
		f.Path = filepath.Join(d, "sealworthy", "locks")
	} else {
		f.Path = filepath.Join(os.TempDir(), fmt.Sprintf("sealworthy-%d", os.Geteuid()), "locks")
	}
	return f
}

// thisProcess tells others who holds what is taken.
func thisProcess() string {
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	return fmt.Sprintf("%s, process %d on %s", filepath.Base(os.Args[0]), os.Getpid(), host)
}

// Take takes the right to what is called name, or fails with an error that
// wraps ErrHeld. It doesn't wait. The files stay when they are let go of, since
// a process that waits on a removed file would hold a lock that nobody else sees.
func (f Folder) Take(name string) (release func() error, err error) {
	if err := f.ready(); err != nil {
		return nil, err
	}
	sum := sha256.Sum256([]byte(name))
	base := filepath.Join(f.Path, hex.EncodeToString(sum[:12]))
	for _, file := range []string{base + ".lock", base + ".held"} {
		if err := mustBeOurs(file, false); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	l := flock.New(base+".lock", flock.SetFlag(os.O_CREATE|os.O_RDWR|noFollow), flock.SetPermissions(0o600))
	got, err := l.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock %s: %w", name, err)
	}
	held := base + ".held"
	if !got {
		who, err := os.ReadFile(held)
		if err != nil || len(who) == 0 {
			return nil, fmt.Errorf("%s: %w", name, ErrHeld)
		}
		return nil, fmt.Errorf("%s: %w (%s)", name, ErrHeld, strings.TrimSpace(string(who)))
	}
	// Windows lets nobody read a locked file, so who holds it stands in another.
	if err := writeOwn(held, f.Who); err != nil {
		return nil, errors.Join(fmt.Errorf("write who holds %s: %w", name, err), l.Unlock())
	}
	return func() error {
		err := os.Remove(held)
		if errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
		return errors.Join(err, l.Unlock())
	}, nil
}

// ready makes the folder, and refuses one that isn't the user's alone.
func (f Folder) ready() error {
	if f.Path == "" {
		return errors.New("no folder for locks is known")
	}
	err := os.MkdirAll(filepath.Dir(f.Path), 0o700)
	if err == nil {
		err = os.Mkdir(f.Path, 0o700)
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("the folder for locks: %w (set XDG_RUNTIME_DIR to a folder of your own)", err)
	}
	// What lies above needn't be the user's, but nobody else may move what's below:
	// the folder itself and the one that it lies in are looked at.
	return errors.Join(mustBeOurs(filepath.Dir(f.Path), true), mustBeOurs(f.Path, true))
}

// mustBeOurs refuses a link, another kind of file, and what others may write to.
func mustBeOurs(path string, folder bool) error {
	info, err := os.Lstat(path)
	switch {
	case err != nil:
		return err
	case info.Mode()&fs.ModeSymlink != 0:
		return fmt.Errorf("%s is a link; locks follow none (remove it)", path)
	case info.IsDir() != folder || !folder && !info.Mode().IsRegular():
		return fmt.Errorf("%s is not what this program made (remove it)", path)
	}
	return ownedHere(path, info)
}

// writeOwn writes a file that wasn't there a moment ago.
func writeOwn(path, text string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}
