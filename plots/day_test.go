package plots

import (
	"testing"
	"time"
)

// A day is that of all times on a page, whatever the machine's zone is.
func TestDayIsThatOfThePage(t *testing.T) {
	t.Parallel()
	east := time.FixedZone("east", 10*3600)
	if got := day(time.Date(2026, 11, 28, 3, 0, 0, 0, east)); got != "27 November 2026" {
		t.Errorf("it's the %s", got)
	}
}
