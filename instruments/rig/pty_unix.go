//go:build !windows

package rig

import (
	"errors"
	"os"
	"sync"
	"sync/atomic"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// PseudoTerminals tells whether this system has them; without, use memory ports.
const PseudoTerminals = true

// newPseudo opens a pseudo terminal in raw mode, without echo. The rig is its
// master. It keeps the slave open too: else the master would hang up whenever
// the driver closes, and the modes would be lost.
func newPseudo() (*pseudo, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, err
	}
	fd := int(slave.Fd())
	if _, err := term.MakeRaw(fd); err != nil {
		return nil, errors.Join(err, master.Close(), slave.Close())
	}
	return &pseudo{ReadWriteCloser: &ends{master: master, slave: slave, fd: fd}, name: slave.Name()}, nil
}

// ends are both ends of a pseudo terminal.
type ends struct {
	master, slave *os.File
	fd            int // of slave; Fd would set its mode each time

	closing atomic.Bool

	mu     sync.Mutex // keeps the descriptor from being closed under an ioctl
	closed bool
}

// control does something with the slave's descriptor while it is open.
func (e *ends) control(f func(fd int)) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if !e.closed {
		f(e.fd)
	}
}

// Read takes what the driver sent. It also takes back the driver's exclusive
// access: a driver that was killed can't, and would lock the next one out.
func (e *ends) Read(b []byte) (int, error) {
	n, err := e.master.Read(b)
	if e.closing.Load() {
		return 0, os.ErrClosed
	}
	if n > 0 {
		e.control(func(fd int) { _ = unix.IoctlSetInt(fd, unix.TIOCNXCL, 0) })
	}
	return n, err
}

// Write gives bytes to the driver. Nobody listens when many lie unread: then
// they are lost, as on a cable with nothing at its end. The terminal would
// block the instrument when it is full.
func (e *ends) Write(b []byte) (int, error) {
	waiting := 0
	e.control(func(fd int) { waiting = unread(fd) })
	if waiting > 2048 {
		return len(b), nil
	}
	return e.master.Write(b)
}

// Close hangs up: the driver's reads fail from now on. The pty library leaves
// the master in blocking mode, where closing doesn't end a read (os.File); a
// byte from the slave does.
func (e *ends) Close() error {
	e.closing.Store(true)
	_, werr := e.slave.Write([]byte{0})
	err := errors.Join(werr, e.master.Close())
	e.mu.Lock()
	defer e.mu.Unlock()
	e.closed = true
	return errors.Join(err, e.slave.Close())
}
