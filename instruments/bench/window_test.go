package bench_test

import (
	"context"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// A window that was measured stands in every reading, in place of the profile's.
func TestMeasuredWindowStandsInReadings(t *testing.T) {
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	b, err := rig.New(ctx, c, resistors{"cabin": 470, "mast": 1200}, rig.Options{Seed: 7, MemoryPorts: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	cfg := bench.Default()
	cfg.Meter.WindowMs = 212
	x, err := bench.Open(ctx, c, b.Opener(), cfg, bench.Overrides{MeterPort: b.Ports().Meter})
	if err != nil {
		t.Fatal(err)
	}
	defer x.Close()
	r, err := x.Meter.Read(ctx, instruments.Current)
	if err != nil || r.Window != 212*time.Millisecond {
		t.Errorf("a reading's window is %v, %v", r.Window, err)
	}
}
