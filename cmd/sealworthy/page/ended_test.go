package page

import (
	"errors"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// A test that was stopped needs no words of its own, but where not all is kept.
func TestAStopHidesNoLostLine(t *testing.T) {
	full := &record.NotKeptError{Path: "r.lp", Lines: 3, Err: errors.New("the disk is full")}
	for _, c := range []struct {
		err  error
		says string
	}{
		{capture.ErrStopped, ""}, {errors.Join(capture.ErrStopped, full), "3 lines not on disk yet"},
		{errors.Join(capture.ErrStopping, &record.GoneError{Path: "r.lp"}), "is not kept"},
	} {
		w := newWatch(time.Now, missedAfter)
		b := &bench{watch: w, now: time.Now, done: make(chan struct{})}
		b.ended(session.NewDesk(false, instruments.Go, w), Result{Status: 1, Err: c.err})
		over := w.state.Over
		if over == nil || (over.Text == "") != (c.says == "") || !strings.Contains(over.Text, c.says) {
			t.Errorf("%v: %+v", c.err, over)
		}
	}
}
