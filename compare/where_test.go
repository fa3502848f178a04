package compare

import (
	"testing"
	"time"

	"sealworthy/capture"
)

// When a test broke off is told by its reader's clock.
func TestWhenIsTheReadersTime(t *testing.T) {
	f := Finding{record: &capture.StepRecord{Began: time.Date(2026, 11, 27, 23, 30, 0, 0, time.UTC)}}
	f = brokenOff(nil, f, time.FixedZone("CET", 3600))
	if want := "the test of 2026-11-28 00:30 CET broke off in it"; len(f.Notes) != 1 || f.Notes[0] != want {
		t.Errorf("%q, want %q", f.Notes, want)
	}
}
