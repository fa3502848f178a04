package capture

import (
	"context"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

// One reading of a steady feed that lies far from all others is measured again;
// what happens twice stays, and is said. What blinks, and the whole model on for
// long, aren't.
func TestReadingThatStoodAlone(t *testing.T) {
	for _, c := range []struct {
		name  string
		drops int // attempts in which one reading drops
		as    func(s *Step)
		marks string
		warns string
	}{
		{"none", 0, func(*Step) {}, "begin on settled end", ""},
		{"once", 1, func(*Step) {}, "begin on settled redone begin on settled end",
			"measured again: one reading stood alone"},
		{"twice", 2, func(*Step) {}, "begin on settled redone begin on settled end",
			"it happened twice, so a contact may open for a moment"},
		{"on a board", 1, func(s *Step) { s.Board = "beacon" }, "begin on settled end", ""},
		{"the whole model", 1, func(s *Step) { s.Kind = Whole }, "begin on settled end", ""},
	} {
		b := newBench(t, led)
		bb := b.Bench()
		bb.Meter = &dropping{fakeMeter: &fakeMeter{b, "meter A"}, attempts: c.drops}
		s := ledStep("1", "nav lights")
		c.as(&s)
		rec, r := runOne(t, b, bb, s, &face{})
		warned := strings.Join(rec.Warnings, "; ")
		if r.kinds() != c.marks || rec.Outcome != Measured || !strings.Contains(warned, c.warns) || c.warns == "" &&
			strings.Contains(warned, "alone") {
			t.Errorf("%s: marks %q, %s, %q", c.name, r.kinds(), rec.Outcome, rec.Warnings)
		}
	}
}

// dropping reads a tenth once in each of the first attempts, in the trace.
type dropping struct {
	*fakeMeter
	attempts int
	since    time.Time
	n, read  int
}

func (d *dropping) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	r, err := d.fakeMeter.Read(ctx, q)
	if !d.b.since.Equal(d.since) {
		d.since, d.read = d.b.since, 0
		d.n++
	}
	if d.read++; err == nil && d.n <= d.attempts && d.read == 25 {
		low := *r.Value / 10
		r.Value = &low
	}
	return r, err
}
