package words

import (
	"testing"
	"time"
)

// Times are those of their reader's clock, with its zone; a day can be another one than in UTC.
func TestTimesAreOfTheirReadersClock(t *testing.T) {
	at, there := time.Date(2026, 11, 27, 23, 30, 5, 0, time.UTC), time.FixedZone("CET", 3600)
	for _, x := range [][2]string{
		{Minute(at, there), "2026-11-28 00:30 CET"}, {Minute(at, nil), "2026-11-27 23:30 UTC"},
		{ToSecond(at, there), "2026-11-28 00:30:05 CET"}, {Clock(at, there), "00:30 CET"},
		{ClockSecond(at, there), "00:30:05 CET"}, {Day(at, there), "2026-11-28"}, {Day(at, nil), "2026-11-27"},
		{PaperDay(at, there), "28 November 2026"}, {PaperDay(time.Time{}, there), ""},
		{PaperMinute(at, there), "28 November 2026, 00:30 CET"},
	} {
		if x[0] != x[1] {
			t.Errorf("%q, want %q", x[0], x[1])
		}
	}
}
