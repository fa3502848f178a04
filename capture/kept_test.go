package capture

import (
	"context"
	"errors"
	"strings"
	"testing"
)

// A record that can't be kept pauses the test with the output off; once that is
// mended the step is measured again, or the next one goes on. Who stops, and
// where nobody is there, ends it with the error.
func TestRecordThatCantBeKeptPauses(t *testing.T) {
	for _, c := range []struct {
		name   string
		full   func(r *record, b *bench, n int) error // by syncs so far
		answer string
		asked  int
		err    error
		marks  string
	}{
		{"after the step, mended", func(_ *record, _ *bench, n int) error {
			if n >= 2 && n <= 3 {
				return errDiskFull
			}
			return nil
		}, "done", 2, nil, "begin on settled end begin on settled end"},
		{"before the output goes on, mended", func(_ *record, _ *bench, n int) error {
			if n == 1 {
				return errDiskFull
			}
			return nil
		}, "done", 1, nil, "begin on settled end begin on settled end"},
		{"stopped", func(_ *record, _ *bench, n int) error { return errDiskFull }, "stop", 1, errDiskFull,
			"begin end"},
		{"never mended", func(_ *record, _ *bench, n int) error { return errDiskFull }, "done", keptTries, errDiskFull,
			"begin end"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, r := newBench(t, led), &record{}
			r.onSync = func(n int) error { return c.full(r, b, n) }
			f := &face{answer: func(q Question) (Answer, error) {
				if q.Kind == AskPlug {
					if b.outputOn() || !strings.HasPrefix(q.Text,
						"the record can't be kept: no space left on device. The output is off.") {
						t.Errorf("asked %q, output on %v", q.Text, b.outputOn())
					}
					return Answer{Choice: c.answer}, nil
				}
				return plainest(q), nil
			}}
			g := &guide{steps: []Step{ledStep("1", "nav lights"), ledStep("2", "cabin")}}
			_, err := Run(context.Background(), b.Bench(), g, f, r, seeded())
			if !errors.Is(err, c.err) || r.kinds() != c.marks || len(f.questions(AskPlug)) != c.asked {
				t.Errorf("%v, marks %q, asked %d times", err, r.kinds(), len(f.questions(AskPlug)))
			}
			b.mustOff()
		})
	}
	// In the middle of the readings.
	b, r := newBench(t, led), &record{}
	r.failAt = 15
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskPlug {
			t.Errorf("asked %q, though the record can be synced", q.Text)
		}
		return plainest(q), nil
	}}
	r.onFail = func() { r.failAt = 0 } // it was full for a moment
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, f, r,
		seeded())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured ||
		r.kinds() != "begin on settled redone begin on settled end" {
		t.Errorf("%+v, %v, marks %q", outcomes(recs), err, r.kinds())
	}
	b.mustOff()
}
