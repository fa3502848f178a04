//go:build !windows

package rig

import (
	"errors"
	"os"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// newPseudo opens a pseudo terminal in raw mode, without echo. The rig is its
// master. It keeps the slave open too: else the master would hang up whenever
// the driver closes, and the modes would be lost.
func newPseudo() (*pseudo, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, err
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		return nil, errors.Join(err, master.Close(), slave.Close())
	}
	return &pseudo{ReadWriteCloser: &ends{master: master, slave: slave}, name: slave.Name()}, nil
}

type ends struct{ master, slave *os.File }

// Read takes what the driver sent. It also takes back the driver's exclusive
// access: a driver that was killed can't, and would lock the next one out.
func (e *ends) Read(b []byte) (int, error) {
	n, err := e.master.Read(b)
	if n > 0 {
		_ = unix.IoctlSetInt(int(e.slave.Fd()), unix.TIOCNXCL, 0)
	}
	return n, err
}

// Write gives bytes to the driver. Nobody listens when many lie unread: then
// they are lost, as on a cable with nothing at its end. The terminal would
// block the instrument when it is full.
func (e *ends) Write(b []byte) (int, error) {
	if unread(int(e.slave.Fd())) > 2048 {
		return len(b), nil
	}
	return e.master.Write(b)
}

// Close hangs up: the driver's reads fail from now on.
func (e *ends) Close() error { return errors.Join(e.master.Close(), e.slave.Close()) }
