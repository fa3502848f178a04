package wire

import (
	"errors"
	"fmt"
	"path/filepath"

	"sealworthy/instruments"
	"sealworthy/instruments/hold"
)

// lockPort takes the right to a port against other processes of ours, or says who
// has it. The system's own exclusive access is not enough: its failure is ignored
// by the serial library, and root walks through it.
func lockPort(folder hold.Folder, path string) (release func() error, err error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // a by-id name and its ttyUSB are one port
	}
	release, err = folder.Take("port " + path)
	if errors.Is(err, hold.ErrHeld) {
		return nil, &instruments.PortError{Port: path, Op: "lock", Err: fmt.Errorf("%w: %w", ErrBusy, err),
			Hint: "end that one first, or choose another port"}
	}
	if err != nil {
		return nil, &instruments.PortError{Port: path, Op: "lock", Err: err, Hint: "see to the folder for locks"}
	}
	return release, nil
}
