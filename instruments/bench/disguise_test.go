package bench_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
)

// The rig isn't taken for a real instrument by a profile that doesn't ask who is
// there, or asks something else, whatever the port is called.
func TestTheRigIsNotDisguised(t *testing.T) {
	if !rig.PseudoTerminals {
		t.Skip("no pseudo terminals here; in memory only simulated time runs")
	}
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	b, err := rig.New(ctx, c, resistors{"cabin": 470, "mast": 1200}, rig.Options{Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	link := filepath.Join(t.TempDir(), "meter")
	if err := os.Symlink(b.Ports().Meter, link); err != nil {
		t.Fatal(err)
	}
	for name, identity := range map[string]profile.Identity{
		"nothing":        {},
		"something else": {Ask: profile.Point{Send: "SYST:VERS?"}},
	} {
		p, err := profile.Load("scpi meter", "")
		if err != nil {
			t.Fatal(err)
		}
		p.Identity = identity
		x, err := bench.Connect(ctx, c, b.Opener(), b.Ports().Meter, p)
		if !errors.Is(err, bench.ErrSimulated) {
			t.Errorf("asks %s: %v, %+v", name, err, x)
		}
		if err == nil {
			x.Port.Close()
		}
	}
	p, err := profile.Load("scpi meter", "")
	if err != nil {
		t.Fatal(err)
	}
	x, err := bench.Connect(ctx, c, b.Opener(), b.Ports().Meter, p)
	if err != nil {
		t.Fatal(err)
	}
	x.Port.Close()
	if !bench.IsPseudo(link) || bench.IsPseudo("/dev/ttyUSB0") || bench.IsPseudo("COM3") {
		t.Error("pseudo terminals aren't told from others")
	}
}
