//go:build !unix

package belief

import "time"

var began = time.Now()

// cpu is wall time where processor time can't be had.
func cpu() time.Duration { return time.Since(began) }
