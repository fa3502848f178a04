package record

import (
	"fmt"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// A step whose begin is missing is told once, however many lines there are of it.
func TestAMissingBeginIsSaidOnce(t *testing.T) {
	at := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	var rs []Record
	for range 3 {
		for _, k := range []capture.MarkKind{capture.MarkOn, capture.MarkSettled, capture.MarkPoint} {
			at = at.Add(time.Second)
			v := 0.01
			rs = append(rs, Record{Mark: &capture.Mark{Kind: k, At: at, StepID: "hull/bow"}},
				Record{Reading: &instruments.Reading{At: at, Value: &v}, Step: capture.StepRef{StepID: "hull/bow"}})
		}
	}
	f := Fold(rs)
	if len(f.Warnings) != 1 || len(f.Steps) != 0 {
		t.Errorf("%d warnings: %s", len(f.Warnings), fmt.Sprint(f.Warnings))
	}
}
