package wire

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/gofrs/flock"

	"sealworthy/instruments"
)

// portLock keeps a second process of ours off a port. The system's own
// exclusive access is not enough: its failure is ignored by the serial library,
// and root walks through it.
type portLock struct {
	lock *flock.Flock
	who  string // a file beside the lock that says who holds it
}

// lockPort takes the advisory lock of the port at path, or says who holds it.
// The lock is the system's own, so it goes when the process ends in any way.
func lockPort(folder, path string) (*portLock, error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // a by-id name and its ttyUSB are one port
	}
	base := filepath.Join(folder, "sealworthy-port-"+fileName(path))
	l := &portLock{lock: flock.New(base+".lock", flock.SetPermissions(0o666)), who: base + ".holder"}
	ok, err := l.lock.TryLock()
	if err != nil {
		if errors.Is(err, os.ErrPermission) {
			err = fmt.Errorf("%w: its lock belongs to another user: %w", ErrBusy, err)
		}
		return nil, &instruments.PortError{Port: path, Op: "lock", Err: err, Hint: "see who owns " + base + ".lock"}
	}
	if !ok {
		holder := "another run of this program"
		if b, err := os.ReadFile(l.who); err == nil && len(b) > 0 {
			holder = strings.TrimSpace(string(b))
		}
		return nil, &instruments.PortError{Port: path, Op: "lock", Err: fmt.Errorf("%w by %s", ErrBusy, holder), Hint: "end that one first, or choose another port"}
	}
	// A note only; failing to write it changes nothing.
	_ = os.WriteFile(l.who, []byte("process "+strconv.Itoa(os.Getpid())+" ("+filepath.Base(os.Args[0])+")\n"), 0o666)
	return l, nil
}

func (l *portLock) release() {
	_ = os.Remove(l.who)
	_ = l.lock.Unlock() // the file stays: removing it would let two lock at once
}

// fileName makes a path into a name that any file system takes.
func fileName(path string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '.':
			return r
		}
		return '_'
	}, path)
}
