package main

import (
	"context"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/load"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
)

// heardFace keeps what it is shown.
type heardFace struct {
	alone
	said []string
}

func (f *heardFace) Show(e capture.Event) { f.said = append(f.said, e.Text) }

// A bench whose output is on as it is opened is switched off, and that is said
// once; the next one finds it off.
func TestBenchFoundOn(t *testing.T) {
	t.Parallel()
	b := gig(t)
	ctx, c := context.Background(), clock.NewSimulated(sittingBegan)
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	r, err := putUp(ctx, c, b.plan, cfg, nil, 3, load.Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Outside(func() { r.Close() })
	over := bench.Overrides{SupplyPort: r.Ports().Supply, MeterPort: r.Ports().Meter, RelaysPort: r.Ports().Relays}
	for i, want := range []int{0, 1, 0} {
		f := &heardFace{}
		bs, err := session.OpenBench(ctx, session.World{Clock: c, Open: r.Opener()}, b.plan, cfg, over, f)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.said) != want || want == 1 && f.said[0] != "The supply's output was on. It is off now." {
			t.Errorf("opened for the %d. time it said %q", i+1, f.said)
		}
		if r.Output().On {
			t.Errorf("opened for the %d. time, the output is on", i+1)
		}
		if i == 0 { // somebody leaves it on
			if err := bs.Supply.Set(ctx, 3, 0.02); err != nil {
				t.Fatal(err)
			}
			if err := bs.Supply.On(ctx); err != nil {
				t.Fatal(err)
			}
		}
		if err := bs.Close(); err != nil {
			t.Fatal(err)
		}
	}
}
