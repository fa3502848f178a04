package record

import (
	"testing"
	"time"
	"unsafe"
)

// shifted is what time.Now would give at the same moment had the wall clock been
// set by so much: the wall part moves, the reading of the clock that only goes
// forward stays. There is no other way to make such a time: Add moves both. With
// that reading, wall holds the seconds since 1885 in 33 bits above 30 bits of
// nanoseconds (comment on type Time in Go's time.go).
func shifted(t time.Time, by time.Duration) time.Time {
	wall := (*uint64)(unsafe.Pointer(&t))
	*wall += uint64(int64(by/time.Second)) << 30
	return t
}

func TestShifted(t *testing.T) {
	now := time.Now()
	set := shifted(now, -time.Hour)
	if set.Sub(now) != 0 || now.Round(0).Sub(set.Round(0)) != time.Hour {
		t.Fatalf("%s apart by the steady clock, %s by the wall's", set.Sub(now), now.Round(0).Sub(set.Round(0)))
	}
}
