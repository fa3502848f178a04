package rig

import "golang.org/x/sys/unix"

// unread counts what lies in the terminal for the driver.
func unread(slave int) int {
	n, err := unix.IoctlGetInt(slave, unix.TIOCINQ)
	if err != nil {
		return 0
	}
	return n
}
