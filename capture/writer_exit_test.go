package capture_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/capture/record/recordtest"
)

// What goes wrong in the record's own writer while the output is on, on a bench
// that reads and by a real recorder: the output is off at the end, and the error
// says why.
func TestWriterOfTheRecordDies(t *testing.T) {
	errGone := errors.New("the drive was pulled")
	for _, c := range []struct {
		name  string
		fail  func() error
		check func(err error) bool
	}{
		{"it panics", func() error { panic("a page is missing") }, func(err error) bool {
			var p *capture.PanicError
			return errors.As(err, &p)
		}},
		{"the disk refuses", func() error { return errGone }, func(err error) bool { return errors.Is(err, errGone) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBed(t, &model{})
			disk := recordtest.NewMemory()
			guard := capture.NewGuard(b.c)
			r, _, err := record.Begin(disk,
				record.Opening{Dir: "build", Build: "Brackwater", Stage: "fitted", What: record.ForTest,
					Now: b.c.Now(), Simulated: true, Random: random{}, Go: guard.Go})
			if err != nil {
				t.Fatal(err)
			}
			reached := false
			disk.Locked(func() {
				disk.Fail = func(op, _ string) error {
					if op == "write" && b.r.Output().On {
						reached = true
						return c.fail()
					}
					return nil
				}
			})
			s := cabin()
			s.For = time.Hour // it ends by itself only if nothing is noticed
			b.o.Guard = guard
			_, err = capture.Run(context.Background(), b.b, list{s}, capture.Unattended{}, record.Keep(r), b.o)
			b.mustOff(t)
			if !reached || !c.check(err) {
				t.Errorf("reached %v, error %v", reached, err)
			}
			_ = r.Close() // what couldn't be kept is lost with it
		})
	}
}

// random gives the same bytes always.
type random struct{}

func (random) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(i)
	}
	return len(p), nil
}
