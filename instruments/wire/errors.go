package wire

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"go.bug.st/serial"

	"sealworthy/instruments"
)

// Why a port can't be opened.
var (
	ErrNoSuchPort = errors.New("there is no such port")
	ErrBusy       = errors.New("the port is in use")
	ErrNotAllowed = errors.New("you may not use this port")
	ErrNotSerial  = errors.New("this is not a serial port")
	ErrLine       = errors.New("the port can't be set as asked")
)

// openError turns what the library says on any system into one of ours with a
// hint. The library differs: a missing port is a bare ENOENT on Linux and
// PortNotFound on Windows, "access denied" on Windows is PortBusy, and its code
// zero is PortBusy too (go.bug.st/serial v1.8.0, serial_unix.go, serial_windows.go).
func openError(system, name string, err error) error {
	kind := ErrNotSerial
	var pe *serial.PortError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		kind = ErrNoSuchPort
	case errors.Is(err, fs.ErrPermission):
		kind = ErrNotAllowed
	case errors.As(err, &pe):
		switch pe.Code() {
		case serial.PortBusy:
			kind = ErrBusy
		case serial.PortNotFound:
			kind = ErrNoSuchPort
		case serial.PermissionDenied:
			kind = ErrNotAllowed
		case serial.InvalidSpeed, serial.InvalidDataBits, serial.InvalidParity, serial.InvalidStopBits:
			kind = ErrLine
		}
	}
	return &instruments.PortError{Port: name, Op: "open", Err: fmt.Errorf("%w: %w", kind, err),
		Hint: openHint(system, name, kind)}
}

// openHint says what to do, by system.
func openHint(system, name string, kind error) string {
	switch kind {
	case ErrNoSuchPort:
		switch system {
		case "windows":
			return "is the cable in? Windows calls serial ports COM3, COM4 and so on; the device manager lists them"
		case "darwin":
			return "is the cable in? macOS calls serial ports /dev/cu.usbserial… or /dev/cu.usbmodem…"
		}
		return "is the cable in? The number of a ttyUSB or ttyACM port can change when it is plugged in again; a " +
			"name under /dev/serial/by-id doesn't"
	case ErrBusy:
		if system == "linux" && strings.Contains(name, "ttyACM") {
			return "close other programs that use it. Within about 15 seconds of plugging in, the modem manager may " +
				"hold it: wait, or set ID_MM_DEVICE_IGNORE=1 for the device in a udev rule"
		}
		return "close other programs that use it, such as a terminal or the maker's own software"
	case ErrNotAllowed:
		switch system {
		case "windows":
			return "close other programs that use it"
		case "linux":
			return "add yourself to the port's group and log in again: ls -l " + name +
				" shows the group, often dialout or uucp"
		}
		return "ls -l " + name + " shows who may use it"
	case ErrLine:
		return "check baud, data bits, parity and stop bits against the instrument's manual; some adapters don't " +
			"know every speed"
	}
	return "choose another port"
}
