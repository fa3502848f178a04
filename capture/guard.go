package capture

import (
	"sealworthy/instruments/clock"
)

// Guard switches every registered supply off on each way out.
type Guard struct {
	c clock.Clock
}

// NewGuard makes a guard that takes its deadlines from c.
func NewGuard(c clock.Clock) *Guard { return &Guard{c: c} }
