package capture_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
)

// ptyBed is a bench behind pseudo terminals whose instruments are found again
// by who they are, wherever the system put them. list names the ports that a
// system would list.
type ptyBed struct {
	bed
	list   func() []string
	opened []string // what was opened again, by its new name
}

func newPtyBed(t *testing.T, m rig.Load, o rig.Options) *ptyBed {
	t.Helper()
	if !rig.PseudoTerminals {
		t.Skip("no pseudo terminals on this system; memory ports are tested beside it")
	}
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC))
	o.Seed, o.Buttons = 3, []string{"beacon"}
	r, err := rig.New(ctx, c, m, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Outside(func() { r.Close() }) })
	p := r.Ports()
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter, RelaysPort: p.Relays}
	x, err := bench.Open(ctx, c, r.Opener(), bench.Default(), over)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.Close() })
	b := &ptyBed{bed: bed{c: c, r: r, o: capture.Options{Stage: "loose"}}}
	b.list = func() []string {
		// What is in use is left out, what is not ours is in.
		return slices.DeleteFunc([]string{"/dev/null/none", r.Ports().Meter, r.Ports().Relays, r.Ports().Supply},
			func(s string) bool { return s == "" })
	}
	b.b = capture.Bench{Clock: c, Supply: x.Supply, Meter: x.Meter, Relays: x.Relays,
		Channels: map[string]int{"cabin": 1, "beacon": 2}, Buttons: map[string]int{"beacon": 3}}
	find := func(ctx context.Context, name, which string) (*bench.Connected, error) {
		pr, err := profile.Load(name, "")
		if err != nil {
			return nil, err
		}
		err = errors.New("no port is left to look at")
		for _, port := range b.list() {
			var y *bench.Connected
			if y, err = bench.Connect(ctx, c, r.Opener(), port, pr); err != nil {
				continue
			}
			t.Cleanup(func() { y.Port.Close() })
			if y.Identity != x.Identities[which] {
				continue
			}
			b.opened = append(b.opened, port)
			return y, nil
		}
		return nil, err
	}
	b.b.ReopenMeter = func(ctx context.Context) (instruments.Meter, error) {
		y, err := find(ctx, "scpi meter", "meter")
		if err != nil {
			return nil, err
		}
		return y.Meter, nil
	}
	b.b.ReopenSupply = func(ctx context.Context) (instruments.Supply, error) {
		y, err := find(ctx, "scpi supply", "supply")
		if err != nil {
			return nil, err
		}
		return y.Supply, nil
	}
	b.b.ReopenRelays = func(ctx context.Context) (instruments.Relays, error) {
		y, err := find(ctx, "scpi relays", "relays")
		if err != nil {
			return nil, err
		}
		return y.Relays, nil
	}
	return b
}

// Each instrument in turn is pulled in mid-test and comes back under another
// name: it is found by its identity, and the step is measured whole.
func TestFoundUnderAnotherName(t *testing.T) {
	for _, which := range []string{rig.Meter, rig.Supply} {
		t.Run(which, func(t *testing.T) {
			b := newPtyBed(t, &model{}, rig.Options{})
			b.o.Rand = dice()
			ports := map[string]string{rig.Meter: b.r.Ports().Meter, rig.Supply: b.r.Ports().Supply}
			n, name, asked := 0, "", 0
			f := &hands{show: func(e capture.Event) {
				if e.What == capture.Sampling {
					if n++; n == 25 {
						if err := b.r.Unplug(which); err != nil {
							t.Error(err)
						}
						if which == rig.Supply { // else the test would end: nobody can switch it off
							name = b.back(t, which)
						}
					}
				}
			}}
			f.ask = func(q capture.Question) (capture.Answer, error) {
				if asked++; asked > 10 {
					return capture.Answer{Choice: "stop"}, nil
				}
				if q.Kind == capture.AskPlug && name == "" {
					if b.r.Output().On {
						t.Error("paused with the output on")
					}
					name = b.back(t, which)
				}
				return capture.Plainest(q), nil
			}
			recs, err := capture.Run(context.Background(), b.b, list{cabin()}, f, &lines{}, b.o)
			if err != nil {
				t.Fatal(err)
			}
			b.mustOff(t)
			if name == "" || name == ports[which] || !slices.Contains(b.opened, name) {
				t.Errorf("was %s, came back as %s, opened %q", ports[which], name, b.opened)
			}
			w := strings.Join(recs[0].Warnings, " ")
			if len(recs) != 1 || recs[0].Outcome != capture.Measured ||
				len(recs[0].Trace("meter", instruments.Current)) < 15 {
				t.Errorf("%s %s, %q", recs[0].Outcome, recs[0].Reason, w)
			}
			if !strings.Contains(w, "measured again") || strings.Contains(w, "can't") {
				t.Errorf("warnings %q", w)
			}
		})
	}
}

func (b *ptyBed) back(t *testing.T, which string) string {
	name, err := b.r.Replug(which, true)
	if err != nil {
		t.Error(err)
	}
	return name
}

// A relay board that resets when its port opens has moved its relays: the step
// that was under way begins anew, and every feed is on when it is measured. The
// output is never held over it, even if the maker chose so.
func TestRelayBoardResetsWhenItComesBack(t *testing.T) {
	b := newPtyBed(t, &model{}, rig.Options{Relays: rig.RelayOptions{ResetOnOpen: true}})
	b.o.Rand, b.o.HoldWhenLost = dice(), true
	n := 0
	f := &hands{show: func(e capture.Event) {
		// In the middle of the button's relay work: the board is at its voltage.
		if e.Step != nil && e.Step.Pace == "fast" && e.What == capture.RampStep {
			if n++; n == len(e.Step.Ramp) {
				if err := b.r.Unplug(rig.Relays); err != nil {
					t.Error(err)
				}
			}
		}
	}}
	asked := 0
	f.ask = func(q capture.Question) (capture.Answer, error) {
		if q.Kind == capture.AskPlug {
			asked++
			if b.r.Output().On {
				t.Error("held on while the relays are away")
			}
			b.back(t, rig.Relays)
			// As opening the port does: all contacts are open now.
		}
		return capture.Plainest(q), nil
	}
	recs, err := capture.Run(context.Background(), b.b, list{cabin(), beacon("3", "fast", 1)}, f, &lines{}, b.o)
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff(t)
	if asked != 1 || len(recs) != 2 || recs[1].Outcome != capture.Measured {
		t.Fatalf("asked %d times, %d records, %s %s", asked, len(recs), recs[len(recs)-1].Outcome,
			recs[len(recs)-1].Reason)
	}
	lit := 0
	for _, x := range recs[1].Trace("meter", instruments.Current) {
		if v, ok := x.Float(); ok && v > 0.009 {
			lit++
		}
	}
	if lit < 10 {
		t.Errorf("lit in %d readings: the relay of the feed stayed open", lit)
	}
}

// A board that was reset behind the driver's back is asked what is closed before
// each change, so that what it is told is what there is.
func TestResetRelaysAreReadBack(t *testing.T) {
	ctx := context.Background()
	b := newPtyBed(t, &model{}, rig.Options{Relays: rig.RelayOptions{ResetOnOpen: true}})
	if err := b.b.Relays.Close(ctx, 1, 2); err != nil {
		t.Fatal(err)
	}
	// Another program opens the port for a moment.
	if err := b.r.Unplug(rig.Relays); err != nil {
		t.Fatal(err)
	}
	b.back(t, rig.Relays)
	again, err := b.b.ReopenRelays(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if on := b.r.Connected(); len(on) != 0 {
		t.Fatalf("after the reset %q are on", on)
	}
	for _, x := range []struct {
		channels []int
		want     []string
	}{{[]int{1, 2}, []string{"cabin", "beacon"}}, {[]int{2}, []string{"beacon"}}, {nil, nil}} {
		if err := again.Close(ctx, x.channels...); err != nil || !slices.Equal(b.r.Connected(), x.want) {
			t.Errorf("told %v, on are %q, %v", x.channels, b.r.Connected(), err)
		}
	}
}
