//go:build unix

package belief

import (
	"syscall"
	"time"
)

// cpu is the processor time that this process has used: on a busy machine the
// only time worth comparing.
func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
