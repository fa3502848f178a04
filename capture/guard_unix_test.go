//go:build unix

package capture

import (
	"context"
	"errors"
	"syscall"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

// The process's own signals, as they come from outside.
func TestRealSignals(t *testing.T) {
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP} {
		g := NewGuard(clock.Wall{})
		s := &stubborn{}
		s.isOn.Store(true)
		g.Register("supply", s)
		ctx, cancel := g.Context(context.Background())
		stop := g.Notify()
		if err := syscall.Kill(syscall.Getpid(), sig); err != nil {
			t.Fatal(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(10 * time.Second):
			t.Fatalf("%v was not heeded", sig)
		}
		var se *SignalError
		if !errors.As(context.Cause(ctx), &se) || se.Signal != sig {
			t.Errorf("cause %v, want %v", context.Cause(ctx), sig)
		}
		for range 1000 {
			if !s.isOn.Load() {
				break
			}
			time.Sleep(time.Millisecond)
		}
		if s.isOn.Load() {
			t.Errorf("%v left the output on", sig)
		}
		stop()
		cancel()
	}
}
